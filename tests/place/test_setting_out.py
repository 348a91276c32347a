"""Places can be set out with a tape: whole steps from two walls, on the proof's own places.

Steps of 5 mm and 1/8 in: what a tape and a joiner's rule show (common practice, no source [C]).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import Loudspeaker, Microphone
from wellheard.geometry.setting_out import places_near, ties_of
from wellheard.place import candidates
from wellheard.place.devices import place_devices
from wellheard.place.sounding import loudspeakers
from wellheard.place.spaces import Spaces
from wellheard.place.writing import placed_room
from wellheard.predict.evidence import Point
from wellheard.predict.housings import depth_in_wall, loudspeaker_box
from wellheard.predict.scene import Scene, build
from wellheard.room.document import Room

MILLIMETRES_5 = 0.005
EIGHTH_INCH = 0.0254 / 8
OFF_GRID = [[0.013, 0.007], [6.437, 0.007], [6.437, 4.391], [0.013, 4.391]]
FAN = [[0, 0], [6.4, 0.0], [7.9, 4.6], [-1.1, 4.6]]
"""Straight at the front and at the back, splayed at both sides."""
LEANING = [
    (6.0 * u * math.cos(0.4) - 4.0 * v * math.sin(0.4), 6.0 * u * math.sin(0.4) + 4.0 * v * 0.92)
    for u, v in ((0, 0), (1, 0), (1, 1), (0, 1))
]
PICTURE = {"kind": "display", "wall": "east", "centre": [2.111, 1.413], "size": [1.2, 0.7]}


def whole(metres: float, step: float) -> bool:
    return abs(metres / step - round(metres / step)) < 1e-4


def product_of(catalogue: Catalogue, name: str) -> Microphone:
    found = catalogue.product(name)
    assert isinstance(found, Microphone)
    return found


def from_line(at: tuple[float, float], start: list[float], end: list[float]) -> float:
    """Distance of a point from a line by the textbook: cross product over length."""
    (ax, ay), (bx, by) = start, end
    return abs((bx - ax) * (ay - at[1]) - (ax - at[0]) * (by - ay)) / math.hypot(bx - ax, by - ay)


def steps_from_walls(outline: Any, at: Point, step: float) -> int:
    """From how many walls, on lines that cross, a place is whole steps away."""
    corners = [list(map(float, one)) for one in outline]
    lines = [(a, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)]
    on = [line for line in lines if whole(from_line(at[:2], *line), step)]
    ways = {round(math.degrees(math.atan2(b[1] - a[1], b[0] - a[0])) % 180, 3) for a, b in on}
    return len(ways)


@pytest.mark.parametrize("outline", [OFF_GRID, FAN, LEANING])
@pytest.mark.parametrize("ceiling", ["tiles", "hard"])
def test_every_place_is_whole_steps_from_two_walls(
    outline: list[list[float]],
    ceiling: str,
    scene_of: Callable[..., Scene],
    catalogue: Catalogue,
) -> None:
    space = {
        "outline": outline,
        "walls": ["south", "east", "north", "west"],
        "height": 3.137,
        "ceiling": {"kind": ceiling, "module": 0.6, "origin": [0.213, 0.087], "rotation_deg": 7},
    }
    scene = scene_of({"space": space, "people": {"seats": {"s1": {"at": [3, 2]}}}})
    found = candidates.microphones(scene, (product_of(catalogue, "ceiling-head-3"),))
    assert len(found.allowed) > 20
    for one in found.allowed:
        assert steps_from_walls(outline, one.at, MILLIMETRES_5) >= 2
        assert one.drop is not None
        assert whole(one.drop, MILLIMETRES_5)
        assert one.at[2] == pytest.approx(3.137 - one.drop)


def test_in_feet_the_step_is_an_eighth_of_an_inch_for_drops_too(
    room_of: Callable[..., Room], catalogue: Catalogue
) -> None:
    """Drops of a product in round metric lengths are cut to the eighth."""
    document = room_of({"units": "m"}).model_dump(mode="json", by_alias=True)
    document["units"] = "ft"
    document["space"]["outline"] = [["0 ft", 0], ["20 ft", 0], ["20 ft", "14 ft"], [0, "14 ft"]]
    document["space"]["height"] = "10 ft"
    document["space"]["ceiling"] = {"kind": "tiles", "module": "600 mm", "origin": ["40 mm", 0]}
    document["people"]["seats"] = {"s1": {"at": ["5 ft", "5 ft"], "facing": 0}}
    scene = build(Room.model_validate(document), catalogue)
    found = candidates.microphones(scene, (product_of(catalogue, "ceiling-head-3"),))
    drops = {round((one.drop or 0.0) / EIGHTH_INCH, 6) for one in found.allowed}
    # 0.15 m is 5.906 in, 0.35 m 13.780 in, 0.6 m 23.622 in: 47, 110 and 189 eighths.
    assert {0.0, 47.0, 110.0} <= drops
    for one in found.allowed:
        assert whole(one.at[0], EIGHTH_INCH)
        assert whole(one.at[1], EIGHTH_INCH)


def test_a_place_that_rounding_would_spoil_is_rounded_the_other_way(
    scene_of: Callable[..., Scene], catalogue: Catalogue
) -> None:
    """Tile centres 0.5008 m from the north wall: 0.5 m is the least, so 0.4958 would not do."""
    outline = [[0, 0], [6, 0], [6, 4.0008 + 0.003], [0, 4.0008 + 0.003]]
    scene = scene_of(
        {
            "space": {
                "outline": outline,
                "ceiling": {"kind": "tiles", "module": 0.6, "origin": [0, 0.003]},
            },
            "choices": {"max_drop": 0},
        }
    )
    # Centres at 0.303 + 0.6 k: the last whole tile's is at 3.303; 4.0038 − 3.303 = 0.7008.
    found = candidates.microphones(scene, (product_of(catalogue, "ceiling-head-3"),))
    assert {round(one.at[1], 6) for one in found.allowed} == {0.905, 1.505, 2.105, 2.705, 3.305}
    strict = scene_of(
        {
            "space": {
                "outline": outline,
                "ceiling": {"kind": "tiles", "module": 0.6, "origin": [0, 0.003]},
            },
            "choices": {"max_drop": 0},
            "targets": {
                "house_rules": {"microphone-near-wall": {"limit": 0.7, "because": "a test"}}
            },
        }
    )
    kept = candidates.microphones(strict, (product_of(catalogue, "ceiling-head-3"),))
    # 3.305 would be 0.6988 m from the north wall; 3.300 is 0.7038 m.
    assert max(round(one.at[1], 6) for one in kept.allowed) == 3.3


@pytest.mark.parametrize("name", ["wall-8", "display-pair", "wall-5-active"])
def test_what_is_on_a_wall_never_comes_into_it(
    name: str, scene_of: Callable[..., Scene], catalogue: Catalogue
) -> None:
    space = {"outline": OFF_GRID, "walls": ["south", "east", "north", "west"]}
    scene = scene_of(
        {
            "space": space,
            "furniture": {"picture": PICTURE},
            "choices": {"allow": [name], "mounting": ["wall", "front"]},
        }
    )
    found = catalogue.product(name)
    assert isinstance(found, Loudspeaker)
    options = loudspeakers(Spaces.of(scene), (found,))
    assert options.allowed
    for one in options.allowed:
        assert depth_in_wall(scene.room, loudspeaker_box("", found, one.at)) < 1e-6
        assert whole(one.at[0] - 0.013, MILLIMETRES_5)
        assert whole(one.at[1] - 0.007, MILLIMETRES_5)
        assert whole(one.at[2], MILLIMETRES_5)


@pytest.mark.parametrize("seed", range(12))
def test_what_is_proposed_is_written_to_the_nanometre(
    seed: int, crowded_room: Callable[[int], Room], catalogue: Catalogue
) -> None:
    """Distances typed in again by hand give the document's own places."""
    room = crowded_room(seed)
    outline = room.space.outline
    written = placed_room(room, catalogue, place_devices(build(room, catalogue), time_limit=5.0))
    for name, device in written.devices.items():
        if device.at is None or name in room.devices:
            continue
        ties = ties_of(outline, device.at[:2], MILLIMETRES_5)
        first, second = (
            MILLIMETRES_5 * round(d / MILLIMETRES_5) for d in ties.distances(device.at[:2])
        )
        assert math.dist(ties.place(first, second), device.at[:2]) < 1e-9


@pytest.mark.parametrize("seed", range(20))
def test_a_place_in_any_room_is_rounded_by_two_steps_at_most(seed: int) -> None:
    """Two lines of steps that cross at 30° are at most half a step over its sine away."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(4, 8))
    turns = np.sort(rng.uniform(0, 2 * math.pi, count))
    radius = rng.uniform(3.0, 6.0, count)
    outline = tuple(
        (float(r * math.cos(t)), float(r * math.sin(t))) for r, t in zip(radius, turns, strict=True)
    )
    at = (float(rng.uniform(-0.5, 0.5)), float(rng.uniform(-0.5, 0.5)))
    for step in (MILLIMETRES_5, EIGHTH_INCH):
        near = places_near(outline, at, step)
        ties = ties_of(outline, near[0], step)
        assert all(whole(d, step) for d in ties.distances(near[0]))
        assert 1 <= len(near) <= 4
        assert math.dist(near[0], at) <= 2 * step
