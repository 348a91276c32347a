"""Sight on a plan against shapely, and shortest ways against hand calculation."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse.csgraph import dijkstra

from wellheard.arrays import Array
from wellheard.geometry.sight import bent_path, clear_line, corners_into_room, off_walls

Ring: TypeAlias = Sequence[tuple[float, float]]

L_SHAPE = [(0, 0), (8, 0), (8, 4), (5, 4), (5, 9), (0, 9)]
U_SHAPE = [(0, 0), (9, 0), (9, 6), (6, 6), (6, 2), (3, 2), (3, 6), (0, 6)]
SQUARE_COLUMN = [(3, 3), (5, 3), (5, 5), (3, 5)]


def _walls(outline: Ring, *columns: Ring) -> Array:
    rings = [np.array(outline, dtype=float), *(np.array(c, dtype=float)[::-1] for c in columns)]
    return np.concatenate([np.hstack([ring, np.roll(ring, -1, axis=0)]) for ring in rings])


@pytest.mark.parametrize(
    ("outline", "columns"),
    [
        (L_SHAPE, []),
        (U_SHAPE, []),
        ([(0, 0), (9, 0), (9, 8), (0, 8)], [SQUARE_COLUMN]),
        ([(0, 0), (9, 1), (7, 8), (4, 5), (1, 8)], [[(3, 1), (4, 1.5), (3.5, 2.5)]]),
    ],
)
def test_random_points_see_each_other_where_shapely_finds_the_line_inside(
    outline: Ring, columns: Sequence[Ring]
) -> None:
    room = shapely.Polygon(outline, columns)
    rng = np.random.default_rng(7)
    points = rng.uniform(0, 9, (400, 2))
    points = points[shapely.contains_xy(room, points)]
    a, b = points[: len(points) // 2], points[len(points) // 2 :][: len(points) // 2]
    lines = shapely.linestrings(np.stack([a, b], axis=1))
    inside = np.asarray(shapely.covers(room, lines))
    assert 0 < inside.sum() < len(inside)
    assert (clear_line(_walls(outline, *columns), a, b) == inside).all()


@pytest.mark.parametrize(
    ("a", "b", "clear"),
    [
        ((0.5, 3), (8.5, 3), True),  # along a face of the column
        ((2, 4), (4, 6), True),  # touches its corner at (3, 5)
        ((1, 1), (7, 7), False),  # its diagonal
        ((4, 3), (4, 5), False),  # from face to face, through it
        ((3, 3), (5, 3), True),  # corner to corner along a face
        ((3, 3), (5, 5), False),  # corner to corner through it
        ((3, 4), (0, 4), True),  # from a face outwards, to a wall
        ((0, 0), (9, 8), False),
        ((0, 0), (0, 8), True),  # along a wall
    ],
)
def test_touching_is_clear_and_crossing_is_not(
    a: tuple[float, float], b: tuple[float, float], clear: bool
) -> None:
    # By eye on squared paper: column 3–5 by 3–5 in a room of 9 by 8.
    walls = _walls([(0, 0), (9, 0), (9, 8), (0, 8)], SQUARE_COLUMN)
    assert bool(clear_line(walls, np.array(a, float), np.array(b, float))) is clear
    assert bool(clear_line(walls, np.array(b, float), np.array(a, float))) is clear


@given(
    st.lists(st.tuples(st.integers(0, 16), st.integers(0, 16)), min_size=2, max_size=2),
)
def test_sight_is_the_same_from_both_ends_on_a_grid_with_many_touching_lines(
    pair: list[tuple[int, int]],
) -> None:
    a, b = (np.array(one) / 2 for one in pair)
    walls = _walls([(0, 0), (8, 0), (8, 8), (0, 8)], SQUARE_COLUMN, [(1, 6), (2, 6), (2, 7)])
    assert clear_line(walls, a, b) == clear_line(walls, b, a)


def test_a_point_in_a_corner_moves_off_both_walls() -> None:
    walls = _walls(L_SHAPE)
    corners = np.array(L_SHAPE, dtype=float)
    moved = off_walls(walls, corners)
    assert (np.linalg.norm(moved - corners, axis=1) > 0.9e-5).all()
    assert shapely.contains_xy(shapely.Polygon(L_SHAPE), moved).all()


def test_a_point_in_an_acute_corner_moves_inside() -> None:
    outline: Ring = [(0, 0), (10, 0), (10, 1)]
    moved = off_walls(_walls(outline), np.zeros(2))
    assert shapely.contains_xy(shapely.Polygon(outline), *moved)


def test_only_corners_that_reach_into_the_room_bend_ways() -> None:
    assert corners_into_room(_walls(L_SHAPE)).tolist() == [[5, 4]]
    assert sorted(corners_into_room(_walls(U_SHAPE)).tolist()) == [[3, 2], [6, 2]]
    walls = _walls([(0, 0), (9, 0), (9, 8), (0, 8)], SQUARE_COLUMN)
    assert sorted(map(tuple, corners_into_room(walls).tolist())) == sorted(SQUARE_COLUMN)


@pytest.mark.parametrize(
    ("outline", "a", "b", "length", "bends"),
    [
        # 3-4-5 triangles: (2, 8) → (5, 4) is 5, (5, 4) → (8, 0) is 5, straight √(6² + 8²) = 10
        # would be along the line itself; from (8, 3) it is √10.
        (L_SHAPE, (2, 8), (8, 3), 5 + np.sqrt(10), 1),
        (L_SHAPE, (1, 1), (7, 1), 6, 0),
        # Over the foot of the U: √(1² + 3²) on both sides and 3 between.
        (U_SHAPE, (2, 5), (7, 5), 2 * np.sqrt(10) + 3, 2),
        (U_SHAPE, (2, 5), (8, 1), np.sqrt(10) + np.sqrt(26), 1),
    ],
)
def test_the_shortest_way_is_what_a_taut_string_measures(
    outline: Ring,
    a: tuple[float, float],
    b: tuple[float, float],
    length: float,
    bends: int,
) -> None:
    way = bent_path(_walls(outline), np.array(a, float), np.array(b, float))
    assert way.length == pytest.approx(length, abs=5e-5)
    assert way.bends == bends
    straight = np.hypot(a[0] - b[0], a[1] - b[1])
    assert way.detour == pytest.approx(length - straight, abs=5e-5)


def test_a_string_round_a_column_takes_the_nearer_side() -> None:
    walls = _walls([(0, 0), (9, 0), (9, 8), (0, 8)], SQUARE_COLUMN)
    way = bent_path(walls, np.array([2.0, 3.5]), np.array([6.0, 3.5]))
    # Below: √(1 + .25) twice and 2 along the face; above 2·√(1 + 2.25) + 2.
    assert way.length == pytest.approx(2 * np.sqrt(1.25) + 2, abs=5e-5)
    assert way.bends == 2


def test_more_than_two_bends_are_no_way() -> None:
    # A snail: from the entrance to the core round three corners.
    snail = [(0, 0), (10, 0), (10, 8), (2, 8), (2, 4), (6, 4), (6, 5), (3, 5), (3, 7), (9, 7)]
    snail += [(9, 1), (0, 1)]
    way = bent_path(_walls(snail), np.array([0.2, 0.5]), np.array([5.5, 4.5]))
    assert way.bends == -1
    assert np.isinf(way.length)
    assert np.isinf(way.detour)


def test_ways_come_in_the_shape_of_their_points() -> None:
    talkers = np.array([[1.0, 1.0], [2.0, 8.0], [4.0, 8.0]])
    microphones = np.array([[7.0, 1.0], [6.0, 3.0]])
    way = bent_path(_walls(L_SHAPE), talkers[:, None], microphones)
    assert way.length.shape == way.bends.shape == (3, 2)
    back = bent_path(_walls(L_SHAPE), microphones, talkers[:, None])
    assert way.length == pytest.approx(back.length)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000))
def test_ways_are_the_shortest_of_a_visibility_graph(seed: int) -> None:
    # Lines of sight by shapely, shortest ways by scipy: Dijkstra over all corners.
    rng = np.random.default_rng(seed)
    turn = np.sort(rng.uniform(0, 2 * np.pi, 9))
    reach = rng.uniform(1.0, 6.0, 9)
    star = np.stack([reach * np.cos(turn), reach * np.sin(turn)], axis=1)
    if np.diff(np.append(turn, turn[0] + 2 * np.pi)).max() > 3.0:
        return  # the centre is outside
    walls = np.hstack([star, np.roll(star, -1, axis=0)])
    points = star * rng.uniform(0.1, 0.95, (9, 1))
    way = bent_path(walls, points[:, None], points)

    room = shapely.Polygon(star).buffer(1e-7)
    knots = np.concatenate([points, star])
    length = np.linalg.norm(knots[:, None] - knots, axis=-1)
    lines = shapely.linestrings(np.stack(np.broadcast_arrays(knots[:, None], knots), axis=2))
    graph = np.where(shapely.covers(room, lines), length, 0.0)
    shortest, before = dijkstra(graph, directed=False, return_predecessors=True)
    for i, j in np.ndindex(9, 9):
        bends, at = -1, j
        while at != i:
            bends, at = bends + 1, before[i, at]
        if bends <= 2:
            assert way.length[i, j] == pytest.approx(shortest[i, j], abs=1e-4)
        else:
            assert way.length[i, j] > shortest[i, j] - 1e-4
