"""Rooms of a folder: found, made and named; no title is ever a path."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.workflow.shelf.rooms import TEXT, keys
from wellheard.errors import InputError, UsageError
from wellheard.forms import source
from wellheard.room import codec
from wellheard.workflow import shelf as shelves
from wellheard.workflow.shelf import Shelf

# The list --------------------------------------------------------------------------------------


def test_a_card_says_what_a_room_is_called_and_whose_it_is(shelf: Shelf) -> None:
    moor, tide = shelf.rooms()
    assert (tide.name, tide.key, tide.title) == ("tide.room.yaml", "tide", "Tide Room")
    assert tide.subtitle == "Saltmarsh Library, Quay House · 7"
    assert (moor.name, moor.title) == ("sub/moor.room.yaml", "Moor Room")
    assert moor.key.startswith("sub-moor~")
    assert not tide.problems
    assert shelf.note == ""


def test_what_cannot_be_read_is_listed_with_its_problem_in_one_line(
    shelf: Shelf, folder: Path, tmp_path: Path
) -> None:
    (folder / "broken.room.yaml").write_text(TEXT.replace("2.7", "tall"))
    (folder / "empty.room.yaml").write_text("")
    (tmp_path / "outside.room.yaml").write_text(TEXT)
    (folder / "out.room.yaml").symlink_to(tmp_path / "outside.room.yaml")
    (folder / "x\x1b[2J.room.yaml").write_text("nonsense")
    cards = {card.name: card for card in shelf.rooms()}
    assert len(cards) == 6
    for name in ("broken", "empty", "out", "x\x1b[2J"):
        card = cards[f"{name}.room.yaml"]
        assert card.problems
        assert "\n" not in str(card.problems[0])
        assert str(card.problems[0]).isprintable()
        assert card.title.isprintable()
        with pytest.raises(InputError):
            shelf.desk(card.key)
    assert cards["broken.room.yaml"].problems[0].line == 4
    assert cards["out.room.yaml"].problems[0].what == "a link out of this folder"


def test_a_card_is_read_again_only_when_its_file_has_changed(
    shelf: Shelf, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    read: list[str] = []
    look = source.read_file

    def reading(path: Path, *, what: str) -> bytes:
        read.append(path.name)
        return look(path, what=what)

    monkeypatch.setattr(shelves, "read_file", reading)
    shelf.rooms()
    shelf.rooms()
    assert sorted(read) == ["moor.room.yaml", "tide.room.yaml"]
    (folder / "tide.room.yaml").write_text(TEXT.replace("Tide", "Fell and Tide"))
    assert {c.title for c in shelf.rooms()} == {"Moor Room", "Fell and Tide Room"}
    assert len(read) == 3


@pytest.mark.parametrize(
    "key",
    [
        "",
        ".",
        "..",
        "tide.room.yaml",
        "../tide",
        "/etc/passwd",
        "sub/moor",
        "TIDE",
        "tide\0",
        "a" * 9999,
    ],
)
def test_a_key_is_looked_up_and_never_a_path(shelf: Shelf, key: str) -> None:
    with pytest.raises(KeyError):
        shelf.desk(key)
    with pytest.raises(KeyError):
        shelf.delete(key)


def test_a_room_that_has_just_come_has_a_desk(shelf: Shelf, folder: Path) -> None:
    (folder / "fell.room.yaml").write_text(TEXT)
    assert shelf.desk("fell").name == "fell.room.yaml"


def test_two_keys_of_one_file_share_a_desk(shelf: Shelf, folder: Path) -> None:
    (folder / "link.room.yaml").symlink_to("tide.room.yaml")
    assert shelf.desk("link") is shelf.desk("tide")


def test_two_shelves_of_one_folder_share_its_desks(shelf: Shelf, folder: Path) -> None:
    other = Shelf(folder.parent / "rooms" / "sub" / "..", watch=False)
    desk = shelf.desk("tide")
    assert other.desk("tide") is desk
    other.close()
    shelf.rename("tide", "Fell Room")
    assert desk.state.loaded.room.title == "Fell Room"


def test_more_rooms_than_are_shown_are_told(
    shelf: Shelf, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from wellheard.store import listing

    monkeypatch.setattr(listing, "MOST_ROOMS", 1)
    assert len(shelf.rooms()) == 1
    assert "open a folder that has fewer" in shelf.note


@pytest.mark.parametrize("what", ["gone", "file", "protected"])
def test_a_folder_that_is_none_or_cannot_be_written_to_is_told(
    tmp_path: Path, what: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "rooms"
    if what == "file":
        path.write_text("x")
    elif what == "protected":
        path.mkdir()
        monkeypatch.setattr(os, "access", lambda *_, **__: False)
    said = {
        "gone": "is not there; name a folder",
        "file": "is no folder; name the folder",
        "protected": "cannot be written to; let it be written, or copy the rooms",
    }
    with pytest.raises(InputError, match=said[what]):
        Shelf(path, watch=False)


# Rooms made and named --------------------------------------------------------------------------


def test_a_new_room_is_whole_and_opens(shelf: Shelf, folder: Path) -> None:
    key = shelf.new(size=("21 ft", "4.6", "9 ft 2 in"), seats=8, unit="m", title="  Ferry   Room ")
    assert key == "ferry-room"
    room = codec.read(folder / "ferry-room.room.yaml")
    assert room.title == "Ferry Room"
    assert room.space.outline[2] == pytest.approx((21 * 0.3048, 4.6))
    assert room.space.height == pytest.approx(110 * 0.0254)
    assert len(shelf.desk(key).state.loaded.room.people.seats) == 8


@pytest.mark.parametrize(
    ("size", "seats", "said"),
    [
        (("6,4", "4.6", "2.75"), 8, "length: .*write the decimal point as in 6.4"),
        (("6.4", "wide", "2.75"), 8, "width: 'wide' is no length"),
        (("6.4", "4.6", ""), 8, "height: '' is no length"),
        (("6.4", "4.6", "nan"), 8, "height: nan is no length"),
        (("6.4", "4.6", "1"), 8, "1 m in height"),
        (("6.4", "4.6", "2.75"), 1, "1 seats at one table"),
        (("2", "2", "2.75"), 20, "do not fit"),
    ],
)
def test_a_room_that_makes_no_sense_is_refused(
    shelf: Shelf, folder: Path, size: tuple[str, str, str], seats: int, said: str
) -> None:
    before = sorted(folder.iterdir())
    with pytest.raises((InputError, UsageError), match=said):
        shelf.new(size=size, seats=seats, unit="m", title="Ferry Room")
    assert sorted(folder.iterdir()) == before


def test_a_name_that_is_taken_is_counted_on(shelf: Shelf, folder: Path) -> None:
    size = ("6.4", "4.6", "2.75")
    made = [shelf.new(size=size, seats=4, unit="m", title="Tide") for _ in range(2)]
    assert made == ["tide-2", "tide-3"]
    assert (folder / "tide.room.yaml").read_text() == TEXT


REFUSED = ["", "   ", "\0", "a\x1b[2J", "\u202eedis", "x" * 10_000, "\ud800"]


@pytest.mark.parametrize("title", REFUSED)
def test_a_title_that_is_not_seen_as_it_is_or_too_long_is_refused(shelf: Shelf, title: str) -> None:
    with pytest.raises(InputError, match="title: ") as caught:
        shelf.new(size=("6.4", "4.6", "2.75"), seats=4, unit="m", title=title)
    assert len(str(caught.value)) < 400
    assert str(caught.value).isprintable()
    with pytest.raises(InputError, match="title: "):
        shelf.rename("tide", title)


@pytest.mark.parametrize(
    "title",
    [
        "../../x",
        "/etc/passwd",
        "..",
        "C:\\x",
        "<script>alert(1)</script>",
        "‏חדר ישיבות",
        "🎙️ Room",
        "- {a: b} # c",
        "x" * 200,
        "con",
        ".wellheard",
        "=1+1",
    ],
)
def test_a_hostile_title_is_text_and_nothing_else(
    shelf: Shelf, folder: Path, tmp_path: Path, title: str
) -> None:
    outside = sorted(tmp_path.iterdir())
    key = shelf.new(size=("6.4", "4.6", "2.75"), seats=4, unit="m", title=title)
    [card] = [card for card in shelf.rooms() if card.key == key]
    assert card.title == " ".join(title.split())
    assert card.path.parent == folder
    shelf.rename("tide", title)
    assert codec.read(folder / "tide.room.yaml").title == card.title
    assert sorted(tmp_path.iterdir()) == outside
    shelf.delete(key)
    assert shelf.undo_delete() == key


def test_a_copy_has_its_own_name_and_history_beside_what_it_copies(
    shelf: Shelf, folder: Path
) -> None:
    key = keys(shelf)["sub/moor.room.yaml"]
    copy = shelf.duplicate(key)
    assert {c.key: c.title for c in shelf.rooms()}[copy] == "Moor Room (copy)"
    assert (folder / "sub" / "moor-room-copy.room.yaml").exists()
    assert shelf.desk(copy).state.undo == ""
    long = shelf.new(size=("6.4", "4.6", "2.75"), seats=4, unit="m", title="x" * 200)
    assert len(shelf.desk(shelf.duplicate(long)).state.loaded.room.title) == 200


def test_a_room_that_cannot_be_read_is_not_copied(shelf: Shelf, folder: Path) -> None:
    (folder / "broken.room.yaml").write_text("nonsense")
    with pytest.raises(InputError):
        shelf.duplicate("broken")


def test_renaming_changes_the_title_and_can_be_undone(shelf: Shelf, folder: Path) -> None:
    shelf.rename("tide", "Fell Room")
    assert (folder / "tide.room.yaml").read_text() == TEXT.replace("Tide", "Fell")
    desk = shelf.desk("tide")
    assert desk.state.undo == "rename the room"
    desk.undo(key="u")
    assert (folder / "tide.room.yaml").read_text() == TEXT


def test_every_example_can_be_taken(shelf: Shelf) -> None:
    made = [shelf.from_example(name) for name in shelf.examples()]
    assert "ten-seats" in made
    assert shelf.from_example("ten-seats") == "ten-seats-2"
    cards = {card.key: card for card in shelf.rooms()}
    assert all(not cards[key].problems for key in made)
    for name in ("..", "../examples/ten-seats", ""):
        with pytest.raises(KeyError):
            shelf.from_example(name)
