"""Operations at the drawing board: what they change, what they leave, what they refuse."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from wellheard.errors import DocumentError
from wellheard.room import amend, codec, moving
from wellheard.room.codec import Document
from wellheard.room.document import Room
from wellheard.room.operations import Applied, OperationError, apply

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*/*.room.yaml"))
DOCUMENTS = {path.parent.name: codec.load(path) for path in EXAMPLES}


def did(document: Document, *operations: dict[str, Any], unit: Any = "m") -> tuple[Applied, str]:
    """What operations make of a document, and the text of it, which reads back equal."""
    done = apply(document.room, operations, unit=unit)
    text = codec.edit(document, done.room)
    assert codec.parse(text) == done.room
    return done, text


def refused(room: Room, *operations: Any, unit: Any = "m") -> OperationError:
    with pytest.raises(OperationError) as error:
        apply(room, operations, unit=unit)
    assert error.value.where
    assert error.value.what
    assert error.value.allowed
    assert len(error.value.problems) == 1
    return error.value


@pytest.fixture(params=DOCUMENTS)
def document(request: pytest.FixtureRequest) -> Document:
    return DOCUMENTS[request.param]


def everything(room: Room) -> list[str]:
    """Paths of what may be moved about on the plan, two or three of what there is a lot of."""
    return [
        *(f"people.seats.{k}" for k in list(room.people.seats)[:2]),
        *(f"people.standing.{k}" for k in room.people.standing),
        *(f"furniture.{k}" for k in list(room.furniture)[:3]),
        *(f"devices.{k}" for k, d in room.devices.items() if d.at and not d.locked),
        *(f"overhead.{k}" for k in room.overhead),
        *(f"noise.sources.{k}" for k in room.noise.sources),
        *(f"equipment.{k}" for k in room.equipment),
        *(f"space.obstacles.{k}" for k in room.space.obstacles),
        *(f"space.finishes.patches.{k}" for k in room.space.finishes.patches),
        *(f"partitions.{k}" for k in room.partitions),
    ]


def test_there_and_back_is_the_same_room(document: Document) -> None:
    room = document.room
    for path in everything(room):
        there = apply(room, [{"do": "move", "items": [path], "by": [0.35, -0.2]}], unit="m")
        back = [{"do": "move", "items": [path], "by": [-0.35, 0.2]}]
        assert apply(there.room, back, unit="m").room == room, path
        assert all(t == path or t.startswith(f"{path}.") for t in there.touched), path


@pytest.mark.parametrize("name", [n for n, d in DOCUMENTS.items() if d.room.units == "m"])
def test_a_seat_moved_there_and_back_leaves_the_text_as_it_was(name: str) -> None:
    document = DOCUMENTS[name]
    for seat in list(document.room.people.seats)[:5]:
        path = f"people.seats.{seat}"
        _, text = did(document, {"do": "move", "items": [path], "by": [0.05, 0.0]})
        moved = codec.parse_document(text)
        assert text != document.text
        _, text = did(moved, {"do": "move", "items": [path], "by": [-0.05, 0.0]})
        # Whole metres come back as decimals say them: 3 and 3.0 are one length.
        assert codec.parse(text) == document.room
        changed = [
            (a, b)
            for a, b in zip(text.splitlines(), document.text.splitlines(), strict=True)
            if a != b
        ]
        assert all(a.replace(".0", "") == b.replace(".0", "") for a, b in changed)


HOSTILE: list[Any] = [
    {"path": "__class__", "set": 1},
    {"path": "people.__class__.__name__", "set": "x"},
    {"path": "people.seats.s1.model_fields", "set": 1},
    {"path": "people.seats.s1.model_copy", "remove": True},
    {"path": "", "set": 1},
    {"path": None, "set": 1},
    {"path": ["people"], "set": 1},
    {"path": "a." * 5000, "set": 1},
    {"path": "people..seats", "set": 1},
    {"path": "people.seats.s1.at", "set": [1, float("nan")]},
    {"path": "people.seats.s1.at", "set": [1, float("inf")]},
    {"path": "people.seats.s1.at", "set": [1]},
    {"path": "people.seats.s1.at", "set": "here"},
    {"path": "people.seats.s1.at.7", "set": 1},
    {"path": "people.seats.s1.at.99999999999999999999", "set": 1},
    {"path": "people.seats.s1.at.²", "set": 1},
    {"path": "people.seats.s1.at", "set": [1, 2], "typed": "1"},
    {"path": "people.seats.s1.at"},
    {"path": "people.seats.s1.at", "remove": True},
    {"path": "people.seats.s1.at.0.0", "set": 1},
    {"path": "space.height", "typed": "tall"},
    {"path": "space.height", "typed": "2,75"},
    {"path": "space.height", "typed": 3},
    {"path": "space.height", "remove": True},
    {"path": "space.height", "set": 1e308},
    {"path": "space.height", "set": 10**400},
    {"path": "units", "set": "yd"},
    {"path": "title", "set": {"a": [[[[[[[[[[[[[[[1]]]]]]]]]]]]]]]}},
    {"path": "people.seats", "set": [[0]] * 50000},
    {"path": "people.seats.Not An Id", "set": {"at": [1, 1]}},
    {"path": "noise.background.dba", "set": 30},
    {"path": "people.assistive_listening.kind", "set": 30},
    {"do": "fly"},
    {"do": None},
    {"do": "__init__"},
    {"do": ["move"]},
    {"do": "move", "items": ["people.seats.s1"]},
    {"do": "move", "items": ["people.seats.s1"], "by": [1, 2, 3]},
    {"do": "move", "items": ["people.seats.s1"], "by": [float("nan"), 0]},
    {"do": "move", "items": ["people.seats.s1"], "by": [True, 0]},
    {"do": "move", "items": ["people.seats.s1"], "by": [10**400, 0]},
    {"do": "move", "items": ["people.seats.nobody"], "by": [1, 2]},
    {"do": "move", "items": ["people.seats"], "by": [1, 2]},
    {"do": "move", "items": ["space.outline.99"], "by": [1, 2]},
    {"do": "move", "items": ["space.walls.99"], "by": [1, 2]},
    {"do": "move", "items": ["space.walls.x"], "by": [1, 2]},
    {"do": "move", "items": [7], "by": [1, 2]},
    {"do": "move", "items": [], "by": [1, 2]},
    {"do": "move", "items": "people.seats.s1", "by": [1, 2]},
    {"do": "copy", "items": ["space.outline.0"], "by": [1, 2]},
    {"do": "remove", "items": ["space.walls.0"]},
    {"do": "turn", "items": ["people.seats.s1"], "by_deg": float("inf")},
    {"do": "turn", "items": ["people.seats.s1"], "by_deg": "15"},
    {"do": "turn", "items": ["people.seats.s1"], "by_deg": 15, "of": 1},
    {"do": "add", "kind": "dragon", "at": [1, 1]},
    {"do": "add", "kind": "seat", "at": None},
    {"do": "add", "kind": "microphone", "at": [1, 1], "product": "no-such-thing"},
    {"do": "add", "kind": "microphone", "at": [1, 1], "product": {"a": 1}},
    {"do": "seats-around", "table": "nothing", "count": 4},
    {"do": "seats-around", "table": "table", "count": 0},
    {"do": "seats-around", "table": "table", "count": 10**9},
    {"do": "seats-around", "table": "picture", "count": 2},
    {"do": "corner-move", "corner": -1, "to": [0, 0]},
    {"do": "corner-move", "corner": 0, "to": [4, 4]},
    {"do": "corner-remove", "corner": True},
    {"do": "corner-add", "wall": 77, "at": [0, 0]},
    {"do": "wall-length", "wall": 0, "typed": "0"},
    {"do": "wall-length", "wall": 0, "typed": "-3 m"},
    {"do": "wall-length", "wall": 0, "typed": "1e400"},
    {},
    7,
    None,
    "move",
    [],
]


@pytest.mark.parametrize("operation", HOSTILE, ids=lambda o: repr(o)[:60])
def test_what_cannot_be_done_is_refused_in_words(operation: Any) -> None:
    refused(DOCUMENTS["huddle-four"].room, operation)


def test_a_change_of_ten_thousand_operations_is_refused() -> None:
    room = DOCUMENTS["huddle-four"].room
    with pytest.raises(OperationError):
        apply(room, [{"path": "title", "set": "x"}] * 10_000, unit="m")
    with pytest.raises(OperationError):
        apply(room, {"path": "title"}, unit="m")  # type: ignore[arg-type]


def test_a_refused_operation_refuses_those_before_it() -> None:
    room = DOCUMENTS["huddle-four"].room
    refused(room, {"path": "title", "set": "Other"}, {"do": "fly"})
    assert room.title == "Snug Room"


# Locks ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "operation",
    [
        {"do": "move", "items": ["devices.old-head"], "by": [0.1, 0]},
        {"do": "turn", "items": ["devices.old-head"], "by_deg": 15},
        {"do": "remove", "items": ["devices.old-head"]},
        {"path": "devices.old-head", "remove": True},
        {"path": "devices.old-head.at", "set": [1, 1, 2]},
        {"path": "devices.old-head.at.2", "typed": "2 m"},
        {"path": "devices.old-head.drop", "typed": "0"},
    ],
)
def test_what_is_locked_stays_where_it_is(operation: dict[str, Any]) -> None:
    error = refused(DOCUMENTS["glass-fan"].room, operation)
    assert (error.what, error.allowed) == ("old-head is locked", "unlock it first")


def test_what_was_locked_moves_once_it_is_unlocked() -> None:
    done, _ = did(
        DOCUMENTS["glass-fan"],
        {"path": "devices.old-head.locked", "set": False},
        {"do": "move", "items": ["devices.old-head"], "by": [0.1, 0]},
    )
    assert done.room.devices["old-head"].at == (4.3, 2.4, 2.65)


# What goes takes with it what would point nowhere --------------------------------------------


def test_a_document_stays_valid_whatever_one_thing_is_taken_away(document: Document) -> None:
    for path in everything(document.room):
        done = apply(document.room, [{"do": "remove", "items": [path]}], unit="m")
        assert amend.steps_of(path)[-1] not in amend.entries_of(
            done.room, moving.item_at(document.room, path).collection
        )
        text = codec.edit(document, done.room)
        if path.startswith("furniture.picture-"):  # those of its space have no other one
            with pytest.raises(DocumentError, match="faces a display, like [95] more"):
                codec.parse(text)
        else:
            assert codec.parse(text) == done.room


def test_what_a_rack_housed_stands_where_the_rack_stood() -> None:
    done, _ = did(DOCUMENTS["huddle-four"], {"do": "remove", "items": ["equipment.rack"]})
    mixer = done.room.devices["mixer"]
    assert (mixer.equipment, mixer.at) == (None, (0.2, 2.8, 0.4))


def test_nobody_faces_a_display_that_has_gone() -> None:
    done, _ = did(DOCUMENTS["training-forty"], {"do": "remove", "items": ["furniture.picture"]})
    assert done.room.people.seats["r1-1"].facing == ("across",)


def test_a_partition_leaves_the_arrangements_that_name_it() -> None:
    done, _ = did(DOCUMENTS["two-in-one"], {"path": "partitions.fold", "remove": True})
    assert not done.room.arrangements


def test_copies_are_new_ones_and_leave_the_text_as_it_was_when_they_go(document: Document) -> None:
    room = document.room
    for path in everything(room):
        step = [0.0, 0.0] if path.startswith(("space.finishes", "partitions")) else [0.1, 0.1]
        copied = apply(room, [{"do": "copy", "items": [path], "by": step}], unit="m")
        (fresh,) = copied.created
        assert fresh not in everything(room)
        text = codec.edit(document, copied.room)
        try:
            again = codec.parse_document(text)
        except DocumentError:
            continue  # two in one place, or one beyond the wall
        gone = apply(again.room, [{"do": "remove", "items": [fresh]}], unit="m")
        assert codec.edit(again, gone.room) == document.text, path


def test_a_copy_of_an_owned_device_is_neither_owned_nor_locked() -> None:
    done, _ = did(
        DOCUMENTS["glass-fan"], {"do": "copy", "items": ["devices.old-head"], "by": [1, 0]}
    )
    assert done.created == ("devices.old-head-2",)
    copy = done.room.devices["old-head-2"]
    assert (copy.locked, copy.owned, copy.at) == (False, False, (5.2, 2.4, 2.65))
