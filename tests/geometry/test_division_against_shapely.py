"""Cells of a cut polygon against a general-purpose geometry library (GEOS through shapely 2)."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely.ops import polygonize, unary_union

from wellheard.geometry.division import Point, divide

Line = tuple[Point, Point]
BOX: list[Point] = [(0, 0), (6, 0), (6, 4), (0, 4)]
L_SHAPE: list[Point] = [(0, 0), (7.2, 0), (7.2, 3.1), (3.3, 3.1), (3.3, 6.4), (0, 6.4)]
U_SHAPE: list[Point] = [(0, 0), (9, 0), (9, 6), (7, 6), (7, 2), (2, 2), (2, 6), (0, 6)]
CUTS: list[tuple[list[Point], list[Line]]] = [
    (BOX, [((2, 0), (2, 4))]),
    (BOX, [((2, 0), (3.5, 4)), ((0, 2.5), (6, 1.25))]),
    (BOX, [((2, 0), (2, 4)), ((2, 1.3), (6, 1.3)), ((4.5, 1.3), (4.5, 4))]),
    (BOX, [((2, 0), (2, 2)), ((2, 2), (0, 2))]),
    (BOX, [((0, 0), (6, 4))]),
    (L_SHAPE, [((3.3, 3.1), (3.3, 0))]),
    (L_SHAPE, [((3.3, 3.1), (0, 3.1)), ((3.3, 3.1), (3.3, 0))]),
    (L_SHAPE, [((3.3, 3.1), (0, 0))]),
    (U_SHAPE, [((0, 2), (2, 2)), ((7, 2), (9, 2)), ((4.5, 0), (4.5, 2))]),
    (U_SHAPE, [((0, 2), (9, 2))]),
]


def theirs(outline: Sequence[Point], lines: Sequence[Line]) -> list[shapely.Polygon]:
    ring = shapely.Polygon(outline).exterior
    return list(polygonize(unary_union([ring, *map(shapely.LineString, lines)])))


@pytest.mark.parametrize(("outline", "lines"), CUTS)
def test_the_cells_are_those_that_shapely_finds(outline: list[Point], lines: list[Line]) -> None:
    found = divide(outline, lines, tolerance=1e-3)
    expected = theirs(outline, lines)
    assert found.idle == ()
    assert len(found.cells) == len(expected)
    for cell in found.cells:
        mine = shapely.Polygon(cell.corners)
        assert mine.is_valid
        assert mine.exterior.is_ccw
        assert min(mine.symmetric_difference(one).area for one in expected) < 1e-9


@pytest.mark.parametrize(("outline", "lines"), CUTS)
def test_every_edge_lies_on_the_side_or_line_it_is_named_after(
    outline: list[Point], lines: list[Line]
) -> None:
    sides = [*zip(outline, [*outline[1:], outline[0]], strict=True), *lines]
    for cell in divide(outline, lines, tolerance=1e-3).cells:
        ends = [*cell.corners[1:], cell.corners[0]]
        for start, end, owner in zip(cell.corners, ends, cell.owners, strict=True):
            line = shapely.LineString(sides[owner])
            assert line.distance(shapely.Point(start)) < 1e-9
            assert line.distance(shapely.Point(end)) < 1e-9


@given(
    st.tuples(st.floats(0.3, 5.7), st.floats(0.3, 5.7)),
    st.tuples(st.floats(0.3, 3.7), st.floats(0.3, 3.7)),
)
def test_areas_of_two_crossing_cuts_add_up(x: Point, y: Point) -> None:
    lines: list[Line] = [((x[0], 0), (x[1], 4)), ((0, y[0]), (6, y[1]))]
    cells = divide(BOX, lines, tolerance=1e-3).cells
    assert len(cells) == 4
    assert math.isclose(sum(shapely.Polygon(c.corners).area for c in cells), 24, rel_tol=1e-12)


@given(st.floats(0.01, 5.99), st.floats(-9e-4, 9e-4), st.floats(-9e-4, 9e-4))
def test_ends_within_the_tolerance_reach_the_side(at: float, low: float, high: float) -> None:
    found = divide(BOX, [((at, low), (at, 4 + high))], tolerance=1e-3)
    assert found.idle == ()
    assert [len(cell.corners) for cell in found.cells] == [4, 4]


@pytest.mark.parametrize(
    "lines",
    [
        [((2, 0), (2, 3.9))],
        [((1, 0), (3, 0))],
        [((1, 1), (2, 1)), ((2, 1), (2, 2)), ((2, 2), (1, 1))],
    ],
)
def test_what_ends_in_mid_air_lies_in_a_side_or_reaches_none_is_idle(lines: list[Line]) -> None:
    assert divide(BOX, lines, tolerance=1e-3).idle == tuple(range(len(lines)))


def test_of_two_lines_on_each_other_one_is_idle() -> None:
    assert divide(BOX, [((2, 0), (2, 4)), ((2, 4), (2, 0))], tolerance=1e-3).idle == (1,)


def test_cells_go_by_lowest_x_then_lowest_y() -> None:
    cells = divide(BOX, [((2, 0), (2, 4)), ((0, 2), (6, 2))], tolerance=1e-3).cells
    corners = [(min(x for x, _ in c.corners), min(y for _, y in c.corners)) for c in cells]
    assert corners == [(0, 0), (0, 2), (2, 0), (2, 2)]


def test_a_piece_of_a_side_begins_where_its_line_leaves_off() -> None:
    west, east = divide(BOX, [((2, 0), (2, 4))], tolerance=1e-3).cells
    assert west.owners == (0, 4, 2, 3)
    assert east.corners == ((2, 0), (6, 0), (6, 4), (2, 4))
    assert east.owners == (0, 1, 2, 4)
