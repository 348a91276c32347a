"""Maps for a screen: bands cover what they say, lines lie on their level, labels in their gaps."""

from __future__ import annotations

import math
import re
from typing import Any

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Polygon

from wellheard.arrays import Array
from wellheard.drawings.livemap import BEYOND, QUICK, LiveMap, live_map
from wellheard.drawings.view import FieldMap, FieldPiece

ROOM = ((0.0, 0.0), (6.0, 0.0), (6.0, 4.0), (0.0, 4.0))
ELL = ((0.0, 0.0), (6.0, 0.0), (6.0, 2.0), (3.0, 2.0), (3.0, 4.0), (0.0, 4.0))


def hill(x: Array, y: Array) -> Array:
    """Highest near the middle, by a smooth formula that can be worked out anywhere."""
    return 0.70 - 0.012 * (x - 2.6) ** 2 - 0.02 * (y - 1.7) ** 2 + 0.004 * x * np.sin(y)


def piece(
    outline: tuple[tuple[float, float], ...] = ROOM,
    *,
    form: Any = hill,
    target: float | None = 0.62,
    cell: float = 0.2,
    higher: bool = True,
) -> FieldPiece:
    corners = np.array(outline)
    (x0, y0), (x1, y1) = corners.min(axis=0), corners.max(axis=0)
    x = np.arange(x0 + cell / 2, x1, cell)
    y = np.arange(y0 + cell / 2, y1, cell)
    grid_x, grid_y = np.meshgrid(x, y)
    values = form(grid_x, grid_y)
    values[~shapely.contains_xy(Polygon(outline), grid_x, grid_y)] = np.nan
    return FieldPiece(
        FieldMap(values, x, y, "STI", "", target, 0.01, 2, higher_is_better=higher), outline
    )


def subpaths(d: str) -> list[Array]:
    assert "nan" not in d
    assert "inf" not in d
    found = []
    for part in re.findall(r"M([^MZ]*)Z?", d):
        numbers = [float(text) for text in part.split()]
        assert len(numbers) % 2 == 0
        found.append(np.array(numbers).reshape(-1, 2))
    return found


def area_of(d: str) -> Any:
    """What the even-odd rule fills."""
    shape: Any = Polygon()
    for ring in subpaths(d):
        shape = shape.symmetric_difference(shapely.make_valid(Polygon(ring)))
    return shape


def fine_share(outline: tuple[tuple[float, float], ...], level: float, form: Any = hill) -> float:
    axis = np.linspace(0.01, 5.99, 400)
    x, y = np.meshgrid(axis, axis * 4 / 6)
    inside = shapely.contains_xy(Polygon(outline), x, y)
    return float((form(x, y)[inside] >= level).mean())


def everything(found: LiveMap) -> list[str]:
    return [*(d for _, d in found.bands), *(one.d for one in found.lines), found.hachures]


@pytest.mark.parametrize("outline", [ROOM, ELL])
@pytest.mark.parametrize("cells", [110, QUICK])
def test_a_band_covers_the_share_of_the_room_at_or_above_its_level(
    outline: Any, cells: int
) -> None:
    found = live_map([piece(outline)], cells=cells)
    room = Polygon(outline)
    assert len(found.levels.values) >= 5
    for level, (_, d) in zip(found.levels.values, found.bands[1:], strict=True):
        share = area_of(d).intersection(room).area / room.area
        assert share == pytest.approx(fine_share(outline, level), abs=0.02)


def test_the_first_band_is_everywhere_and_beyond_the_walls() -> None:
    found = live_map([piece()])
    assert area_of(found.bands[0][1]).bounds == pytest.approx(
        (-BEYOND, -BEYOND, 6 + BEYOND, 4 + BEYOND)
    )
    for one in found.lines:
        for line in subpaths(one.d):
            assert (line >= -BEYOND - 1e-9).all()


def test_lines_lie_on_their_level() -> None:
    # the formula is known everywhere; its slope is at most about 0.1 per metre, so that lines off
    # by 2 cm are off by 0.002; between the last samples and the wall it is drawn on straight
    found = live_map([piece()], labelled=False)
    sampled = Polygon(ROOM).buffer(-0.2)
    for one in found.lines:
        for line in subpaths(one.d):
            inside = shapely.contains_xy(sampled, *line.T)
            np.testing.assert_allclose(hill(*line[inside].T), one.level, atol=0.002)


def test_lines_do_not_run_along_the_border_of_the_grid() -> None:
    found = live_map([piece()])
    border = Polygon(
        [(-BEYOND, -BEYOND), (6 + BEYOND, -BEYOND), (6 + BEYOND, 4 + BEYOND), (-BEYOND, 4 + BEYOND)]
    ).exterior.buffer(1e-4)
    lines = [LineString(line) for one in found.lines for line in subpaths(one.d)]
    assert len(lines) > 5
    for line in lines:
        assert line.intersection(border).length < 0.05  # a rounded corner, never a side


def test_hachures_point_to_where_the_promise_is_missed() -> None:
    for higher in (True, False):
        found = live_map([piece(higher=higher)])
        strokes = subpaths(found.hachures)
        assert len(strokes) > 10
        for foot, tip in strokes:
            assert (hill(*tip) < hill(*foot)) == higher


@pytest.mark.parametrize("target", [0.62, 0.5, None])
def test_every_band_that_occurs_has_a_tint_of_its_own_over_the_whole_scale(
    target: float | None,
) -> None:
    found = live_map([piece(target=target)])
    room = Polygon(ROOM)
    shapes = [area_of(d).intersection(room) for _, d in found.bands]
    shown = [
        tint
        for (tint, _), here, above in zip(
            found.bands, shapes, [*shapes[1:], Polygon()], strict=True
        )
        if here.difference(above).area > 0.02
    ]
    assert shown == sorted(set(shown))
    assert (shown[0], shown[-1]) == (0, 10)


def test_where_less_is_better_the_tints_run_the_other_way() -> None:
    tints = [tint for tint, _ in live_map([piece(higher=False)]).bands]
    assert tints == sorted(tints, reverse=True)


def test_labels_stand_in_gaps_of_their_lines_and_off_what_must_stay_clear() -> None:
    keep_off = [((2.6, 1.0), 0.6), ((4.0, 2.0), 0.4)]
    found = live_map([piece()], keep_off=keep_off)
    whole = live_map([piece()], labelled=False)
    assert found.labels
    assert sum(label.promise for label in found.labels) == 1
    for label in found.labels:
        level = float(label.words.removeprefix("promise "))
        gap = next(one for one in found.lines if one.level == pytest.approx(level))
        full = next(one for one in whole.lines if one.level == pytest.approx(level))
        middle = np.array(label.at)
        near = min(LineString(line).distance(shapely.Point(middle)) for line in subpaths(full.d))
        away = min(LineString(line).distance(shapely.Point(middle)) for line in subpaths(gap.d))
        assert near < 0.1  # on its line
        assert away > 0.4 * label.width  # which leaves it room
        assert -90 < label.angle_deg <= 90
        for point, radius in keep_off:
            assert math.dist(label.at, point) > radius
        assert gap.index or gap.promise
        for other in found.lines:
            if other.level != gap.level:
                for line in subpaths(other.d):
                    assert LineString(line).distance(shapely.Point(middle)) > 0.03


def test_levels_that_are_given_are_kept() -> None:
    first = live_map([piece()])
    moved = live_map([piece(form=lambda x, y: hill(x, y) - 0.03)], levels=first.levels)
    assert moved.levels is first.levels
    assert [one.level for one in moved.lines] == [one.level for one in first.lines]
    assert [tint for tint, _ in moved.bands] == [tint for tint, _ in first.bands]


def test_spaces_behind_closed_partitions_are_cut_at_their_own_walls() -> None:
    west = ((0.0, 0.0), (2.5, 0.0), (2.5, 4.0), (0.0, 4.0))
    east = ((2.5, 0.0), (6.0, 0.0), (6.0, 4.0), (2.5, 4.0))
    steps = [
        piece(west, form=lambda x, y: 0.60 + 0.01 * x + 0 * y),
        piece(east, form=lambda x, y: 0.66 + 0.01 * y + 0 * x),
    ]
    found = live_map(steps)
    for level, (_, d) in zip(found.levels.values, found.bands[1:], strict=True):
        shape = area_of(d)
        for one in steps:
            own = Polygon(one.outline)
            share = float((one.field.values >= level).mean())
            assert shape.intersection(own).area / own.area == pytest.approx(share, abs=0.04)
        assert shape.difference(Polygon(ROOM)).area < 1e-6


def test_a_field_of_one_value_and_one_with_holes_make_finite_paths() -> None:
    flat = piece(form=lambda x, y: 0.65 + 0 * x * y)
    holes = piece()
    holes.field.values[3:9, 4:20] = np.nan
    for one in (flat, holes):
        for d in everything(live_map([one])):
            subpaths(d)
