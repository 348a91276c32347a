"""The document's room as rays and images meet it."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from wellheard.acoustics.enclosure import Enclosure
from wellheard.catalog.catalogue import Catalogue
from wellheard.geometry.polygons import edge_lengths, polygon_area
from wellheard.predict import enclosures
from wellheard.predict.surfaces import object_area, objects, surfaces
from wellheard.room.document import Room

RoomOf = Callable[..., Room]

FULL = {
    "space": {
        "outline": [[0, 0], [8, 0], [8, 3], [5, 3], [5, 6], [0, 6]],
        "walls": "absent",
        "height": 2.8,
        "finishes": {
            "floor": "carpet-tile",
            "ceiling": "ceiling-mineral-tile",
            "walls": "plasterboard",
            "patches": {
                "board": {
                    "wall": "w0",
                    "from": 1,
                    "to": 3,
                    "bottom": 0.9,
                    "top": 2.1,
                    "finish": "fabric-panel",
                }
            },
        },
        "obstacles": {
            "column": {"outline": [[2, 4], [2.4, 4], [2.4, 4.4], [2, 4.4]], "finish": "concrete"},
            "low-wall": {
                "outline": [[6, 1], [6.2, 1], [6.2, 2], [6, 2]],
                "height": 1.2,
                "finish": "concrete",
            },
        },
    },
    "furniture": {
        "table": {"kind": "table", "outline": [[1, 1], [4, 1], [4, 2], [1, 2]], "height": 0.74}
    },
    "people": {
        "seats": {"s1": {"at": [1.5, 0.7]}, "s2": {"at": [3.5, 0.7]}},
        "standing": {"presenter": {"outline": [[3, 3], [4, 3], [4, 4], [3, 4]], "height": 1.6}},
        "occupancy": 0.5,
    },
}


@pytest.fixture(scope="module")
def full(room_of: RoomOf) -> Room:
    return room_of(FULL)


@pytest.fixture(scope="module")
def found(full: Room, catalogue: Catalogue) -> Enclosure:
    return enclosures.enclosure(full, catalogue)


def test_what_reaches_the_ceiling_is_a_column_and_what_does_not_is_a_prism(
    found: Enclosure,
) -> None:
    assert len(found.columns) == 1
    tops = {found.names[one.surface]: one.top for one in found.objects}
    assert tops["low-wall"] == 1.2
    assert tops["table"] == 0.74
    assert set(tops) == {"low-wall", "table", "s1", "s2", "presenter"}


def test_every_body_ends_below_its_mouth(full: Room, found: Enclosure) -> None:
    tops = {found.names[one.surface]: one.top for one in found.objects}
    for name, seat in full.people.seats.items():
        assert tops[name] < seat.height
    assert tops["presenter"] < full.people.standing["presenter"].height


def test_the_absorbing_area_is_that_of_the_statistical_models(
    full: Room, found: Enclosure, catalogue: Catalogue
) -> None:
    # The same finishes on the same areas (Sabine's sum of areas times absorption), counted once
    # over plan and heights here, once surface by surface there. What stands hides a little floor.
    plain = sum(
        row.area * np.minimum(np.asarray(row.absorption), 0.99) for row in surfaces(full, catalogue)
    ) + object_area(objects(full, catalogue, occupancy=0.5))
    walls = (found.wall_lengths * found.height) @ found.wall_absorption
    flat = found.floor_area * (found.absorption[0] + found.absorption[1])
    bodies = sum(_faces(one) * found.absorption[one.surface] for one in found.objects)
    np.testing.assert_allclose(walls + flat + bodies, plain, rtol=0.02)


def test_occupancy_changes_what_absorbs_and_never_the_geometry(
    full: Room, catalogue: Catalogue
) -> None:
    taken, empty = (enclosures.enclosure(full, catalogue, occupancy=o) for o in (1.0, 0.0))
    assert taken.path_key == empty.path_key
    seat = taken.names.index("s1")
    # ISO 354 figures of the catalogue: a sitter absorbs more than the chair alone.
    assert np.all(taken.absorption[seat, 2:] > empty.absorption[seat, 2:])
    assert np.all(empty.absorption[taken.names.index("presenter")] == 0.0)


def test_a_patch_takes_its_share_of_its_wall(found: Enclosure) -> None:
    board = found.patches[0]
    share = 2.0 * 1.2 / (8.0 * 2.8)
    own, patch = found.absorption[2], found.absorption[board.surface]
    np.testing.assert_allclose(found.wall_absorption[0], (1 - share) * own + share * patch)


def _faces(prism: object) -> float:
    outline = np.asarray(prism.outline)  # type: ignore[attr-defined]
    height = prism.top - prism.bottom  # type: ignore[attr-defined]
    return 2 * abs(polygon_area(outline)) + float(edge_lengths(outline).sum()) * height
