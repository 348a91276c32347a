"""Operations at the drawing board: what they change, what they leave, what they refuse."""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wellheard.errors import DocumentError
from wellheard.room import amend, codec, moving
from wellheard.room.codec import Document
from wellheard.room.document import Room
from wellheard.room.operations import Applied, OperationError, apply, changed_paths

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
        # What is on a wall stops at its ends; a step of 0.1 m stays between them.
        there = apply(room, [{"do": "move", "items": [path], "by": [0.1, -0.05]}], unit="m")
        back = [{"do": "move", "items": [path], "by": [-0.1, 0.05]}]
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
        assert path.rpartition(".")[2] not in amend.entries_of(
            done.room, moving.item_at(document.room, path).collection
        )
        text = codec.edit(document, done.room)
        if path.startswith("furniture.picture-"):  # those of its space have no other one
            with pytest.raises(DocumentError, match=r"faces a display, like [95] more"):
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


def test_a_display_takes_its_cables_along_when_it_goes() -> None:
    text = codec.edit(DOCUMENTS["both-ways"], DOCUMENTS["both-ways"].room)
    cable = "links:\n  shown: {from: computer.hdmi-out-1, to: picture.hdmi-1}\n"
    document = codec.parse_document(text.replace("links:\n", cable))
    assert "shown" in document.room.links
    done, _ = did(document, {"do": "remove", "items": ["furniture.picture"]})
    assert [*done.room.links] == [name for name in document.room.links if name != "shown"]


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


def test_a_door_slides_along_its_wall_and_stops_at_its_ends() -> None:
    # The north wall runs from east to west, 3.6 m; the door is 0.1 to 1.0 m from its start.
    for by, start in (([0.5, 3.0], 0.0), ([-0.5, 0.0], 0.6), ([-9.0, 0.0], 2.7)):
        move = {"do": "move", "items": ["space.finishes.patches.door"], "by": by}
        done, _ = did(DOCUMENTS["huddle-four"], move)
        door = done.room.space.finishes.wall_patches["door"]
        assert (door.from_, door.to) == pytest.approx((start, start + 0.9))


# Typed values --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("path", "typed", "unit", "field"),
    [
        ("space.height", "9", "ft", 2.7432),
        ("space.height", "2.75", "m", 2.75),
        ("space.height", "8 ft 6 1/2 in", "m", 2.6035),
        ("people.seats.s1.at", "1.2, 0.7", "m", (1.2, 0.7)),
        ("people.seats.s1.at.1", "2 ft", "m", 0.6096),
        ("people.seats.s1.facing", "display, −90", "m", ("display", -90.0)),
        ("people.occupancy", "50 %", "m", 0.5),
        ("people.effort", "raised", "m", "raised"),
        ("noise.sources.vent.dba_at_1m", "31.5", "m", 31.5),
        ("targets.direct_to_reverberant_db", "−4.5", "m", -4.5),
        ("targets.sti_inbound", "none", "m", None),
        ("targets.sti_inbound", "", "m", 0.6),
        ("choices.new_holes", "no", "m", False),
        (
            "choices.allow",
            "ceiling-head-2, ceiling-head-6",
            "m",
            ("ceiling-head-2", "ceiling-head-6"),
        ),
        ("space.finishes.floor", "vinyl-floor", "m", "vinyl-floor"),
        ("space.finishes.walls.north", "concrete", "m", "concrete"),
        ("space.ceiling.air_return", "", "m", None),
        ("title", "Café ½", "ft", "Café ½"),
        ("basis.noise.background", "measured", "m", "measured"),
    ],
)
def test_what_is_typed_is_read_as_people_write_it(
    path: str, typed: str, unit: Any, field: Any
) -> None:
    done, _ = did(DOCUMENTS["huddle-four"], {"path": path, "typed": typed}, unit=unit)
    found: Any = amend.value_at(done.room, path)
    assert found == (pytest.approx(field) if isinstance(field, float) else field)


def test_one_finish_of_all_walls_becomes_one_for_each_when_one_differs() -> None:
    done, _ = did(
        DOCUMENTS["training-forty"], {"path": "space.finishes.walls.north", "set": "concrete"}
    )
    walls = done.room.space.finishes.walls
    assert walls == {
        **dict.fromkeys(("south", "east", "west"), "plasterboard"),
        "north": "concrete",
    }


def test_a_device_is_placed_or_housed_and_the_newer_counts() -> None:
    placed, _ = did(DOCUMENTS["huddle-four"], {"path": "devices.mixer.at", "set": [1, 1, 0.4]})
    assert placed.room.devices["mixer"].equipment is None
    housed = apply(
        placed.room, [{"path": "devices.mixer.equipment", "typed": "table-box"}], unit="m"
    ).room.devices["mixer"]
    assert (housed.at, housed.equipment) == (None, "table-box")


def test_in_a_document_in_feet_untouched_lines_stay_to_the_byte() -> None:
    document = DOCUMENTS["ten-seats"]
    for operations, lines in (
        ([{"do": "move", "items": ["people.seats.s3"], "by": [0.0254, 0]}], ["s3:"]),
        ([{"do": "move", "items": ["furniture.table"], "by": [0, 0.3048]}], ["outline: [[4 ft 7"]),
        ([{"path": "space.height", "typed": "9 ft 6 in"}], ["height: 9 ft"]),
        ([{"do": "turn", "items": ["overhead.troffer-sw"], "by_deg": 90}], ["troffer-sw"]),
        ([{"path": "far_end.one_way_delay_ms", "set": 120}], ["far_end"]),
    ):
        _, text = did(document, *operations)
        before, after = document.text.splitlines(), text.splitlines()
        assert len(before) == len(after)
        different = [a for a, b in zip(before, after, strict=True) if a != b]
        assert len(different) == len(lines)
        assert all(word in line for word, line in zip(lines, different, strict=True))
        # An inch stays an inch: nothing turns into metres.
        assert " m," not in text
        assert " m]" not in text


# Whatever is done ----------------------------------------------------------------------------

_COORDINATE = st.floats(-3, 12, allow_nan=False)
_POINT = st.lists(_COORDINATE, min_size=2, max_size=2)


@st.composite
def _deed(draw: st.DrawFn, room: Room) -> dict[str, Any]:
    items = st.lists(st.sampled_from(everything(room)), min_size=1, max_size=3)
    corner = st.integers(0, 7)
    do = draw(
        st.sampled_from(
            (
                *("move", "copy", "remove", "turn", "corner-move", "corner-add"),
                *("corner-remove", "wall-length", "seats-around", "set", "typed", "unset"),
            )
        )
    )
    if do in ("move", "copy"):
        return {"do": do, "items": draw(items), "by": draw(_POINT)}
    if do == "remove":
        return {"do": do, "items": draw(items)}
    if do == "turn":
        return {"do": do, "items": draw(items), "by_deg": draw(st.floats(-720, 720))}
    if do == "corner-move":
        return {"do": do, "corner": draw(corner), "to": draw(_POINT)}
    if do == "corner-add":
        return {"do": do, "wall": draw(corner), "at": draw(_POINT)}
    if do == "corner-remove":
        return {"do": do, "corner": draw(corner)}
    if do == "wall-length":
        return {"do": do, "wall": draw(corner), "typed": f"{draw(st.floats(0, 15)):.3f}"}
    if do == "seats-around":
        table = draw(st.sampled_from([*room.furniture]))
        return {"do": do, "table": table, "count": draw(st.integers(1, 12))}
    path = draw(st.sampled_from(sorted(paths_of(room))))
    if do == "unset":
        return {"path": path, "remove": True}
    if do == "typed":
        text = st.sampled_from(["2.1", "7 ft 3 in", "", "none", "-1", "yes", "across", "60 %"])
        return {"path": path, "typed": draw(text)}
    value = st.recursive(
        st.one_of(st.none(), st.booleans(), st.floats(), st.integers(), st.text(max_size=8)),
        lambda inner: st.one_of(
            st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=5), inner, max_size=2)
        ),
        max_leaves=5,
    )
    return {"path": path, "set": draw(value)}


def paths_of(room: Room) -> frozenset[str]:
    """Every leaf that the document gives: what it differs in from an empty room."""
    empty = codec.from_data(
        {
            "wellheard": 1,
            "space": {"outline": [[0, 0], [2, 0], [2, 2]], "height": 2},
            "people": {"seats": {"x": {"at": [1.5, 0.5]}}},
        }
    )
    return changed_paths(empty, room) - {f"people.seats.x.{n}" for n in ("at", "height", "facing")}


@pytest.mark.parametrize("name", DOCUMENTS)
@settings(max_examples=25, deadline=None)
@given(data=st.data())
def test_any_sequence_is_refused_in_words_or_makes_a_document(
    name: str, data: st.DataObject
) -> None:
    document = DOCUMENTS[name]
    operations = data.draw(st.lists(_deed(document.room), min_size=1, max_size=5))
    try:
        done = apply(document.room, operations, unit=data.draw(st.sampled_from(["m", "ft"])))
    except OperationError:
        return
    text = codec.edit(document, done.room)
    with contextlib.suppress(DocumentError):
        assert codec.parse(text) == done.room
    assert set(done.touched) == changed_paths(document.room, done.room)
