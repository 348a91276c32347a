"""A room that divides against the same spaces written by hand, and what must stay true of it."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.predict import ledger
from wellheard.predict.evidence import Evidence, Outbound
from wellheard.predict.parts import (
    PartEvidence,
    badness,
    build_parts,
    evidence_of_parts,
    leading,
    over_all,
)
from wellheard.room.document import Room

RoomOf = Callable[..., Room]
WALL = "plasterboard"

WHOLE: dict[str, Any] = {
    "space": {"outline": [[0, 0], [10, 0], [10, 4.5], [0, 4.5]]},
    "furniture": {
        "west": {"kind": "table", "outline": [[1.5, 1.8], [3.5, 1.8], [3.5, 2.8], [1.5, 2.8]]},
        "east": {"kind": "table", "outline": [[6.5, 1.8], [8.5, 1.8], [8.5, 2.8], [6.5, 2.8]]},
    },
    "people": {
        "occupancy": 0.7,
        "seats": {
            "s1": "absent",
            "w1": {"at": [1.8, 1.4]},
            "w2": {"at": [3.2, 3.2]},
            "e1": {"at": [6.8, 1.4]},
            "e2": {"at": [8.2, 3.2]},
        },
    },
    "noise": {"sources": {"vent": {"kind": "air-outlet", "at": [2.4, 0.6, 2.7], "dba_at_1m": 31}}},
    "devices": {
        "m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [2.5, 2.1, 2.7]},
        "m2": {"kind": "microphone", "product": "ceiling-head-6", "at": [7.5, 2.1, 2.4]},
    },
}
FOLD: dict[str, Any] = {
    "partitions": {"fold": {"from": [5, 0], "to": [5, 4.5], "finish": WALL}},
    "arrangements": {"joined": {"open": ["fold"]}, "split": {"closed": ["fold"]}},
}


def half(x0: float, keep: str, device: str) -> dict[str, Any]:
    """One half of the room as drawn by hand, with the partition as a wall like the rest."""
    seats = {k: v for k, v in WHOLE["people"]["seats"].items() if k[0] == keep[0]}
    return {
        "space": {"outline": [[x0, 0], [x0 + 5, 0], [x0 + 5, 4.5], [x0, 4.5]]},
        "furniture": {keep: WHOLE["furniture"][keep]},
        "people": {"occupancy": 0.7, "seats": {"s1": "absent", **seats}},
        "noise": WHOLE["noise"] if keep == "west" else {},
        "devices": {device: WHOLE["devices"][device]},
    }


@pytest.fixture(scope="module")
def found(room_of: RoomOf, catalogue: Catalogue) -> dict[str, Evidence]:
    scenes = build_parts(room_of(WHOLE | FOLD), catalogue)
    return {one.part.name: one.evidence for one in evidence_of_parts(scenes)}


def same(one: Outbound, other: Outbound) -> None:
    assert one.talker.id == other.talker.id
    assert one.path.microphone == other.path.microphone
    assert one.state == other.state
    for a, b in (
        (one.path.sti, other.path.sti),
        (one.path.direct_to_reverberant_db, other.path.direct_to_reverberant_db),
        (one.path.speech_to_noise_db, other.path.speech_to_noise_db),
        (one.path.speech_level_dba, other.path.speech_level_dba),
        (one.path.noise_level_dba, other.path.noise_level_dba),
        (one.chance, other.chance),
    ):
        assert a == pytest.approx(b, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(
    ("name", "x0", "keep", "device"), [("split.a", 0, "west", "m1"), ("split.b", 5, "east", "m2")]
)
def test_half_of_a_divided_room_is_that_half_drawn_by_hand(
    found: dict[str, Evidence],
    room_of: RoomOf,
    catalogue: Catalogue,
    name: str,
    x0: float,
    keep: str,
    device: str,
) -> None:
    part = found[name]
    drawn = ledger.predict(room_of(half(x0, keep, device)), catalogue, assumptions=False)
    assert part.reverberation.volume == pytest.approx(drawn.reverberation.volume)
    assert part.reverberation.surface == pytest.approx(drawn.reverberation.surface)
    np.testing.assert_allclose(part.reverberation.time, drawn.reverberation.time, rtol=1e-12)
    np.testing.assert_allclose(part.reverberation.eyring, drawn.reverberation.eyring, rtol=1e-12)
    assert part.noise.dba == pytest.approx(drawn.noise.dba, rel=1e-12)
    assert len(part.outbound) == len(drawn.outbound) == 2
    for one, other in zip(part.outbound, drawn.outbound, strict=True):
        same(one, other)


def test_an_open_partition_changes_nothing(
    found: dict[str, Evidence], room_of: RoomOf, catalogue: Catalogue
) -> None:
    plain = ledger.predict(room_of(WHOLE), catalogue, assumptions=False)
    assert found["joined"].reverberation == plain.reverberation
    assert found["joined"].noise == plain.noise
    assert found["joined"].outbound == plain.outbound


def test_volumes_of_the_spaces_add_up_and_the_partition_counts_on_both_sides(
    found: dict[str, Evidence],
) -> None:
    joined, a, b = (found[n].reverberation for n in ("joined", "split.a", "split.b"))
    assert a.volume + b.volume == pytest.approx(joined.volume)
    assert a.surface + b.surface == pytest.approx(joined.surface + 2 * 4.5 * 2.7)


def test_the_direct_sound_is_the_same_and_the_reverberant_goes_by_the_absorption_of_the_space(
    found: dict[str, Evidence],
) -> None:
    """16π/A after Kuttruff: of a ratio A and openness are left, to within 1.5 dB.

    Late reflections alone come from everywhere; early ones find other walls.
    """
    joined, split = found["joined"], found["split.b"]
    one, other = joined.path("e1", "m2"), split.path("e1", "m2")
    assert one.direct_db == pytest.approx(other.direct_db, abs=1e-9)
    opened = 10 * math.log10(1 + 10**-1.5)  # two microphones are open in the joined room
    for k in range(7):
        t1, t2 = joined.reverberation.level_time[k], split.reverberation.level_time[k]
        area = 10 * math.log10(
            (split.reverberation.volume / t2) / (joined.reverberation.volume / t1)
        )
        assert one.reverberant_db[k] - other.reverberant_db[k] == pytest.approx(
            area + opened, abs=1.5
        )
        assert one.late_db[k] - other.late_db[k] == pytest.approx(area + opened, abs=1.5)


def test_nobody_is_heard_through_a_closed_partition(found: dict[str, Evidence]) -> None:
    assert [m.id for m in found["joined"].microphones] == ["m1", "m2"]
    assert [m.id for m in found["split.a"].microphones] == ["m1"]
    assert [m.id for m in found["split.b"].microphones] == ["m2"]
    assert found["split.a"].open_microphones == 1.0


def whole(room: Room, catalogue: Catalogue) -> tuple[Evidence, tuple[PartEvidence, ...]]:
    parts = evidence_of_parts(build_parts(room, catalogue))
    return over_all(room, catalogue, parts), parts


def test_the_ledger_over_all_has_each_talker_once_in_its_worst_arrangement(
    room_of: RoomOf, catalogue: Catalogue
) -> None:
    room = room_of(WHOLE | FOLD)
    answer, parts = whole(room, catalogue)
    assert [o.talker.id for o in answer.outbound] == list(room.people.seats)
    for row in answer.outbound:
        each = {
            one.part.name: badness(o)
            for one in parts
            for o in one.evidence.outbound
            if o.talker.id == row.talker.id
        }
        assert len(each) == 2
        assert each[row.arrangement] == min(each.values()) == badness(row)
        assert {p.microphone for p in answer.paths if p.talker == row.talker.id} == {
            m.id
            for one in parts
            if one.part.name == row.arrangement
            for m in one.evidence.microphones
        }
    first = leading(parts)
    worst = answer.worst()
    assert worst is not None
    assert worst.arrangement == first.part.name
    assert answer.reverberation == first.evidence.reverberation
    assert answer.assumptions == first.evidence.assumptions != ()
    unsaid = {"partitions": {"fold": {"from": [5, 0], "to": [5, 4.5]}}}
    added = whole(room_of(WHOLE | FOLD | unsaid), catalogue)[0].assumptions
    assert [a.text for a in added if a.path == "partitions.fold.finish"] == [
        "No finish is given for partition fold: wood-panel is taken."
    ]
    assert [m.id for m in answer.microphones] == ["m1", "m2"]
    assert answer.room is room


def test_who_has_no_microphone_in_some_arrangement_has_no_row(
    room_of: RoomOf, catalogue: Catalogue
) -> None:
    alone = WHOLE | {"devices": {"m1": WHOLE["devices"]["m1"]}} | FOLD
    answer, parts = whole(room_of(alone), catalogue)
    assert [bool(one.evidence.outbound) for one in parts] == [True, True, False]
    assert [o.talker.id for o in answer.outbound] == ["w1", "w2"]
    assert [t.id for t in answer.talkers] == ["w1", "w2", "e1", "e2"]
    assert leading(parts).part.name in ("joined", "split.a")


def test_no_partition_turns_a_microphone(room_of: RoomOf, catalogue: Catalogue) -> None:
    """A bar that looks at the middle of all talkers does so when the room is divided, too."""
    bar = {"kind": "microphone", "product": "front-bar", "at": [0.1, 2.25, 1.0]}
    room = room_of(WHOLE | {"devices": {**WHOLE["devices"], "bar": bar}} | FOLD)
    aims = {
        one.part.name: next(m.aim_deg for m in one.evidence.microphones if m.id == "bar")
        for one in evidence_of_parts(build_parts(room, catalogue))
        if one.part.name != "split.b"
    }
    assert len(set(aims.values())) == 1, aims


def test_the_points_of_a_standing_area_that_a_partition_crosses_are_counted_on_both_sides(
    room_of: RoomOf, catalogue: Catalogue
) -> None:
    stage = {"outline": [[4.2, 0.5], [5.8, 0.5], [5.8, 1.3], [4.2, 1.3]], "facing": 90}
    people = {**WHOLE["people"], "standing": {"stage": stage}}
    answer, parts = whole(room_of(WHOLE | {"people": people} | FOLD), catalogue)
    names = [t.id for t in answer.talkers if t.kind == "standing"]
    assert names == [f"stage.{i + 1}" for i in range(len(names))]
    for one in parts:
        xs = [t.at[0] for t in one.evidence.talkers if t.kind == "standing"]
        low, high = {"joined": (4.2, 5.8), "split.a": (4.2, 5.0), "split.b": (5.0, 5.8)}[
            one.part.name
        ]
        assert [min(xs), max(xs)] == pytest.approx([low, high])
        assert one.evidence.reverberation.objects[2].count == 1.0


def test_a_room_without_arrangements_is_its_only_scene(
    room_of: RoomOf, catalogue: Catalogue
) -> None:
    (only,) = build_parts(room_of(WHOLE), catalogue)
    assert only.part.name == ""
    assert only.scene.room == room_of(WHOLE)
