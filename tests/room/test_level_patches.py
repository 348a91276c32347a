"""Patches of ceiling and floor in the document: read, refused, written, moved, cut, predicted."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from wellheard.acoustics.enclosure import CEILING, FLOOR
from wellheard.acoustics.rays import trace
from wellheard.catalog.catalogue import Catalogue
from wellheard.errors import DocumentError
from wellheard.predict.enclosures import enclosure
from wellheard.predict.surfaces import surfaces
from wellheard.room import codec
from wellheard.room.divide import parts
from wellheard.room.document import Room
from wellheard.room.finishes import LevelPatch, Patch
from wellheard.room.operations import apply

TEXT = """\
wellheard: 1
space:
  outline: [[0, 0], [6, 0], [6, 4], [0, 4]]
  walls: [south, east, north, west]
  height: 2.7
  finishes:
    walls: plasterboard
    patches:
      window: {wall: south, from: 1, to: 3, bottom: 0.9, top: 2.1, finish: window-glass-ordinary}
      raft: {surface: ceiling, outline: [[1, 1], [4, 1], [4, 3], [1, 3]], finish: FINISH}
      rug: {surface: floor, outline: [[0, 0], [2, 0], [2, 4], [0, 4]], finish: carpet-tile}
people:
  seats: {s1: {at: [1, 1]}, s2: {at: [5, 1]}}
"""
FINISH = "rockwool-50mm-40kgm3"
FULL = TEXT.replace("FINISH", FINISH)


def test_old_and_new_patches_stand_beside_each_other_and_are_written_as_read() -> None:
    room = codec.parse(FULL)
    assert isinstance(room.space.finishes.patches["window"], Patch)
    assert isinstance(room.space.finishes.patches["raft"], LevelPatch)
    assert list(room.space.finishes.wall_patches) == ["window"]
    assert list(room.space.finishes.level_patches) == ["raft", "rug"]
    assert codec.parse(codec.dump(room)) == room


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("surface: ceiling", "surface: roof", "ceiling or floor"),
        ("[4, 1], [4, 3]", "[9, 1], [9, 3]", "the patch leaves the room by 3.00 m"),
        ("rug: {surface: floor", "rug: {surface: ceiling", "overlaps patch raft"),
        ("surface: ceiling, outline", "surface: ceiling, wall: south, outline", "unknown field"),
        ("surface: ceiling, ", "", "unknown field"),
    ],
)
def test_what_contradicts_the_room_is_refused_by_name(old: str, new: str, said: str) -> None:
    with pytest.raises(DocumentError) as refused:
        codec.parse(FULL.replace(old, new))
    assert said in str(refused.value)


def test_areas_add_up_to_the_plan() -> None:
    # By hand: 6 × 4 = 24 m²; raft 3 × 2 = 6, rug 2 × 4 = 8.
    rows = {row.name: row.area for row in surfaces(codec.parse(FULL), Catalogue.shipped())}
    assert rows["ceiling: raft"] == pytest.approx(6.0)
    assert rows["ceiling"] == pytest.approx(18.0)
    assert rows["floor: rug"] == pytest.approx(8.0)
    assert rows["floor"] == pytest.approx(16.0)


def test_a_column_through_a_patch_takes_its_area_from_it() -> None:
    column = "  obstacles: {c: {outline: [[3, 2], [4, 2], [4, 2.5], [3, 2.5]]}}\n"
    text = FULL.replace("people:", f"{column}people:")
    rows = {row.name: row.area for row in surfaces(codec.parse(text), Catalogue.shipped())}
    # By hand: the column stands wholly under the raft and takes 1 × 0.5 m of it.
    assert rows["ceiling: raft"] == pytest.approx(5.5)
    assert rows["ceiling"] == pytest.approx(18.0)


def test_rays_meet_the_patch_where_it_is_and_as_often_as_its_area_says() -> None:
    room = codec.parse(FULL)
    found = enclosure(room, Catalogue.shipped())
    flights = trace(found, rays=2000, length=200.0)
    raft, rug = found.names.index("raft"), found.names.index("rug")
    at = flights.points[flights.surface == raft]
    assert np.all((at[:, 0] >= 1) & (at[:, 0] <= 4) & (at[:, 1] >= 1) & (at[:, 1] <= 3))
    assert np.allclose(at[:, 2], 2.7, atol=1e-5)
    assert np.all(flights.points[flights.surface == rug][:, 0] <= 2 + 1e-6)
    bare = flights.points[flights.surface == CEILING]
    assert not np.any((bare[:, 0] > 1) & (bare[:, 0] < 4) & (bare[:, 1] > 1) & (bare[:, 1] < 3))
    # In a room without furniture every surface is met in proportion to its area (Kuttruff, Room
    # Acoustics, diffuse field): 6 of 24 m².
    share = len(at) / (len(at) + len(bare))
    assert share == pytest.approx(6 / 24, abs=0.02)


def test_the_mean_of_a_level_surface_is_by_area() -> None:
    found = enclosure(codec.parse(FULL), Catalogue.shipped())
    own = found.absorption
    raft, rug = found.names.index("raft"), found.names.index("rug")
    by_hand = 0.75 * own[CEILING] + 0.25 * own[raft], (16 * own[FLOOR] + 8 * own[rug]) / 24
    np.testing.assert_allclose(found.level_absorption[CEILING], by_hand[0])
    np.testing.assert_allclose(found.level_absorption[FLOOR], by_hand[1])


def test_a_patch_over_all_of_a_ceiling_is_that_ceiling() -> None:
    from wellheard.predict import reverberation

    plain = FULL.split("    patches:")[0] + FULL[FULL.index("people:") :]
    whole = plain.replace(
        "people:",
        "    patches:\n      all: {surface: ceiling, outline: [[0, 0], [6, 0], [6, 4], [0, 4]], "
        f"finish: {FINISH}}}\npeople:",
    )
    stated = plain.replace(
        "    walls: plasterboard", f"    walls: plasterboard\n    ceiling: {FINISH}"
    )
    catalogue = Catalogue.shipped()
    as_patch, as_finish = (
        reverberation.predict(codec.parse(text), catalogue) for text in (whole, stated)
    )
    np.testing.assert_allclose(as_patch.time, as_finish.time, rtol=1e-9)
    np.testing.assert_allclose(as_patch.eyring, as_finish.eyring, rtol=1e-9)


def test_a_room_elsewhere_on_the_sheet_keeps_its_decay() -> None:
    """Both are the same room, the second 10 m off and turned by a quarter."""
    from wellheard.predict import reverberation

    room = codec.parse(FULL)

    def turned(outline: Any) -> tuple[tuple[float, float], ...]:
        return tuple((10.0 - y, 10.0 + x) for x, y in outline)

    space = room.space
    patches = {
        key: one.model_copy(update={"outline": turned(one.outline)})
        if isinstance(one, LevelPatch)
        else one
        for key, one in space.finishes.patches.items()
    }
    there = room.model_copy(
        update={
            "space": space.model_copy(
                update={
                    "outline": turned(space.outline),
                    "finishes": space.finishes.model_copy(update={"patches": patches}),
                }
            ),
            "people": room.people.model_copy(
                update={
                    "seats": {
                        key: seat.model_copy(update={"at": turned([seat.at])[0]})
                        for key, seat in room.people.seats.items()
                    }
                }
            ),
        }
    )
    catalogue = Catalogue.shipped()
    np.testing.assert_allclose(
        reverberation.predict(there, catalogue).time,
        reverberation.predict(room, catalogue).time,
        rtol=1e-6,
    )


def test_patches_move_and_go_as_anything_with_an_outline() -> None:
    room = codec.parse(FULL)
    path = "space.finishes.patches.raft"
    moved = apply(room, [{"do": "move", "items": [path], "by": [1, 0.5]}], unit="m").room
    assert moved.space.finishes.level_patches["raft"].outline[0] == (2.0, 1.5)
    gone = apply(room, [{"do": "remove", "items": [path]}], unit="m").room
    assert list(gone.space.finishes.patches) == ["window", "rug"]


def test_a_partition_cuts_what_lies_on_both_sides_of_it() -> None:
    text = FULL + (
        "partitions: {fold: {from: [3, 0], to: [3, 4]}}\narrangements: {split: {closed: [fold]}}\n"
    )
    a, b = (part.room.space.finishes for part in parts(codec.parse(text)))

    def wide(found: Any) -> tuple[float, float]:
        xs = [x for x, _ in found.level_patches["raft"].outline]
        return min(xs), max(xs)

    assert wide(a) == (1.0, 3.0)
    assert wide(b) == (3.0, 4.0)
    assert "rug" in a.patches
    assert "rug" not in b.patches


def test_finishes_of_patches_are_told_with_their_area() -> None:
    from wellheard.workflow.finishing import surface_rows
    from wellheard.workflow.load import load_text

    rows = {row.path: row for row in surface_rows(load_text(FULL, "here.room.yaml"))}
    raft = rows["space.finishes.patches.raft.finish"]
    assert raft.name == "raft, on the ceiling"
    assert raft.area == pytest.approx(6.0)
    room = codec.parse(FULL)
    assert isinstance(room, Room)
