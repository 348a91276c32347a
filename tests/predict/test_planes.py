"""Planes through rooms: where their points are, and which of them are in the air."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from shapely import contains_xy
from shapely.geometry import LineString, Polygon

from wellheard.errors import InputError
from wellheard.predict.planes import (
    CLEARANCE,
    MOST_POINTS,
    POINTS,
    Plane,
    free,
    level_plane,
    section_plane,
    spans,
)
from wellheard.room.document import Room

RoomOf = Callable[[dict[str, Any]], Room]

ELL = [[0.0, 0.0], [8.0, 0.0], [8.0, 4.2], [4.6, 4.2], [4.6, 7.0], [0.0, 7.0]]
HEIGHT = 2.8


@pytest.fixture
def ell(room_of: RoomOf) -> Room:
    return room_of(
        {
            "space": {
                "outline": ELL,
                "height": HEIGHT,
                "obstacles": {
                    "column": {"outline": [[2.0, 3.0], [2.5, 3.0], [2.5, 3.5], [2.0, 3.5]]},
                    "plinth": {
                        "outline": [[6.0, 1.0], [7.0, 1.0], [7.0, 2.0], [6.0, 2.0]],
                        "height": 1.0,
                    },
                },
            },
            "furniture": {
                "sideboard": {
                    "kind": "cupboard",
                    "outline": [[0.2, 0.2], [0.7, 0.2], [0.7, 1.8], [0.2, 1.8]],
                    "height": 1.4,
                },
            },
            "people": {"seats": {"s1": {"at": [3.0, 1.0], "facing": 90}}},
        }
    )


@pytest.mark.parametrize("size", [(3.0, 3.0), (11.3, 2.2), (0.9, 7.7), (30.0, 21.0)])
def test_points_are_even_cells_middle_by_middle_and_about_as_many_as_said(
    size: tuple[float, float],
) -> None:
    along, up = Plane((1.0, 2.0, 0.5), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0), size).grid()
    for axis, side in ((along, size[0]), (up, size[1])):
        step = side / len(axis)
        np.testing.assert_allclose(np.diff(axis), step)
        assert axis[0] == pytest.approx(step / 2)
        assert axis[-1] == pytest.approx(side - step / 2)
    assert len(along) * len(up) <= 1.2 * POINTS


@pytest.mark.parametrize("spacing", [0.07, 0.31, 0.5])
def test_neighbours_are_never_farther_apart_than_asked(spacing: float) -> None:
    plane = Plane((0.0, 0.0, 1.2), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (6.13, 4.4))
    for axis in plane.grid(spacing):
        assert np.diff(axis).max() <= spacing + 1e-9


def test_points_lie_where_the_two_directions_lead() -> None:
    turn = math.radians(30)
    across = (math.cos(turn), math.sin(turn), 0.0)
    plane = Plane((1.0, 2.0, 0.3), across, (0.0, 0.0, 1.0), (4.0, 2.0))
    x, y, z = plane.points(np.array([2.0]), np.array([0.5]))[0, 0].tolist()
    # Two metres at 30° from the corner: cos 30° = √3/2, sin 30° = ½.
    assert (x, y, z) == pytest.approx((1.0 + math.sqrt(3), 3.0, 0.8))


def test_air_is_what_another_library_has_inside_and_outside_of_what_is_solid(ell: Room) -> None:
    rng = np.random.default_rng(7)
    points = rng.uniform((-1, -1, -0.5), (9, 8, 3.3), (4000, 3))
    found = free(ell, points)
    x, y, z = points.T
    wanted = contains_xy(Polygon(ELL).buffer(-CLEARANCE), x, y)
    wanted &= (z > CLEARANCE) & (z < HEIGHT - CLEARANCE)
    solid = [
        ([[2.0, 3.0], [2.5, 3.0], [2.5, 3.5], [2.0, 3.5]], HEIGHT),
        ([[6.0, 1.0], [7.0, 1.0], [7.0, 2.0], [6.0, 2.0]], 1.0),
        ([[0.2, 0.2], [0.7, 0.2], [0.7, 1.8], [0.2, 1.8]], 1.4),
    ]
    for outline, top in solid:
        wanted &= ~(contains_xy(Polygon(outline), x, y) & (z <= top))
    np.testing.assert_array_equal(found, wanted)
    assert 0.2 < found.mean() < 0.8


def test_a_section_is_in_the_room_where_another_library_says(ell: Room) -> None:
    ends = [(-1.0, 6.0), (9.0, 5.5), (3.0, -2.0), (7.5, 3.9), (2.2, 8.0), (0.0, 0.0)]
    for start, end in itertools.permutations(ends, 2):
        met = Polygon(ELL).intersection(LineString((start, end)))
        if met.length < 0.05:
            continue
        plane = section_plane(ell, start, end)
        assert plane.is_upright
        assert sum(b - a for a, b in spans(ell, plane)) == pytest.approx(met.length, abs=1e-6)
        assert plane.size == pytest.approx((math.dist(start, end), HEIGHT))


def test_a_plan_is_level_over_the_whole_room_and_starts_at_its_corner(ell: Room) -> None:
    plane = level_plane(ell, 1.6)
    assert plane.is_level
    assert not plane.is_upright
    assert plane.origin == (0.0, 0.0, 1.6)
    assert plane.size == (8.0, 7.0)


@pytest.mark.parametrize(
    ("plane", "says"),
    [
        (((0, 0, 0), (1, 0, 0), (0, 0, 1), (0.0, 2.0)), "has no surface"),
        (((0, 0, 0), (1, 0, 0), (0, 0, 1), (2.0, math.nan)), "finite metres"),
        (((0, 0, 0), (2, 0, 0), (0, 0, 1), (2.0, 2.0)), "unit vectors at right angles"),
        (((0, 0, 0), (1, 0, 0), (0.8, 0, 0.6), (2.0, 2.0)), "unit vectors at right angles"),
    ],
)
def test_what_is_no_rectangle_is_refused(plane: Any, says: str) -> None:
    with pytest.raises(InputError, match=says):
        Plane(*plane)


@pytest.mark.parametrize("height", [-0.2, 0.0, HEIGHT, 9.0, math.inf, math.nan])
def test_a_plan_above_the_ceiling_or_under_the_floor_is_refused(ell: Room, height: float) -> None:
    with pytest.raises(InputError, match=r"not in the room; between the floor and .* 2\.80 m"):
        level_plane(ell, height)


def test_a_section_that_misses_the_room_or_has_no_length_is_refused(ell: Room) -> None:
    with pytest.raises(InputError, match=r"outside the room; the plan runs .* to 8\.00 m, 7\.00 m"):
        section_plane(ell, (6.0, 6.0), (9.0, 7.0))
    with pytest.raises(InputError, match="has no length"):
        section_plane(ell, (1.0, 1.0), (1.0, 1.0))


@pytest.mark.parametrize("unit", ["m", "ft"])
def test_too_many_points_are_refused_with_a_spacing_that_is_allowed(unit: Any) -> None:
    plane = Plane((0, 0, 1.2), (1, 0, 0), (0, 1, 0), (23.7, 11.3))
    with pytest.raises(InputError, match=f"at most {MOST_POINTS:,} are computed") as refused:
        plane.grid(0.02, unit=unit)
    said = str(refused.value).partition("computed: ")[2].removesuffix(" apart or more")
    if unit == "m":
        spacing = float(said.removesuffix(" m"))
    else:
        whole, half = (
            said.removesuffix('"').replace("½", " ½").split(" ")
            if "½" in said
            else (
                said.removesuffix('"'),
                "",
            )
        )
        spacing = (float(whole) + (0.5 if half else 0.0)) * 0.0254
    along, up = plane.grid(spacing, unit=unit)
    assert 0.8 * MOST_POINTS < len(along) * len(up) <= MOST_POINTS


@pytest.mark.parametrize("spacing", [0.0, -1.0, 3.0, math.nan])
def test_a_spacing_that_makes_no_map_is_refused(spacing: float) -> None:
    plane = Plane((0, 0, 1.2), (1, 0, 0), (0, 1, 0), (6.0, 4.0))
    with pytest.raises(InputError, match=r"make no map of 6\.00 m × 4\.00 m; .* at most 2\.00 m"):
        plane.grid(spacing)
