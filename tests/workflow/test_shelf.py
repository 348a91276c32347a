"""Rooms of a folder: found, made, named, taken away and brought back; no title is ever a path."""

from __future__ import annotations

import os
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from wellheard.errors import InputError, UsageError
from wellheard.forms import source
from wellheard.room import codec
from wellheard.store import trash
from wellheard.workflow import shelf as shelves
from wellheard.workflow.products import FOLDER_VARIABLE
from wellheard.workflow.shelf import Shelf

TEXT = """\
wellheard: 1
title: Tide Room
project: {number: "7", client: Saltmarsh Library, site: Quay House}
space: {outline: [[0, 0], [6, 0], [6, 4.5], [0, 4.5]], height: 2.7}
people: {seats: {s1: {at: [2, 2]}}}
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    found = tmp_path / "rooms"
    (found / "sub").mkdir(parents=True)
    (found / "tide.room.yaml").write_text(TEXT)
    (found / "sub" / "moor.room.yaml").write_text(TEXT.replace("Tide", "Moor"))
    return found


@pytest.fixture
def own_catalogue(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where the user's own products are, none yet."""
    folder = tmp_path / "own"
    monkeypatch.setenv(FOLDER_VARIABLE, str(folder))
    return folder


@pytest.fixture
def shelf(folder: Path) -> Iterator[Shelf]:
    opened = Shelf(folder, watch=False)
    yield opened
    opened.close()


def keys(shelf: Shelf) -> dict[str, str]:
    return {card.name: card.key for card in shelf.rooms()}


def until(true: Callable[[], bool]) -> None:
    """Wait for what another thread does; a wait that is too long fails."""
    end = time.monotonic() + 30
    while not true():
        assert time.monotonic() < end
        time.sleep(0.01)


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


# Products -----------------------------------------------------------------------------------------


RAIL = """\
wellheard-products: 1
accessories: {our-rail: {name: Our rail, price: %d, currency: EUR}}
"""


def test_products_that_change_are_taken_up_by_rooms_that_are_open(
    own_catalogue: Path, shelf: Shelf
) -> None:
    desk = shelf.desk("tide")
    told: list[int] = []
    desk.subscribe(lambda state: told.append(state.version))
    before = desk.state
    for price in (12, 15):
        own_catalogue.mkdir(exist_ok=True)
        (own_catalogue / "ours.products.yaml").write_text(RAIL % price)
        shelf.look()
        found = {a.id: a.price for a in desk.state.loaded.catalogue.accessories}
        assert found["our-rail"] == price
    # Pages ask anew by the version; the text, and what undo would take back, stay.
    assert told == sorted(set(told))
    assert len(told) == 2
    assert told[0] > before.version
    assert desk.state.loaded.document.text == before.loaded.document.text
    assert (desk.state.undo, desk.state.problems) == ("", ())
    shelf.look()
    assert len(told) == 2


def test_products_that_cannot_be_read_leave_an_open_room_as_it_is(
    own_catalogue: Path, shelf: Shelf
) -> None:
    desk = shelf.desk("tide")
    before = desk.state
    own_catalogue.mkdir(exist_ok=True)
    (own_catalogue / "torn.products.yaml").write_text("wellheard-products: 1\nmicrophones: {x: {}}")
    shelf.look()
    assert desk.state == before


def test_a_room_that_lacked_a_product_is_listed_once_it_is_there(
    own_catalogue: Path, shelf: Shelf, folder: Path
) -> None:
    octaves = ", ".join(f"{125 * 2**n}: 0.1" for n in range(7))
    text = TEXT.replace("height: 2.7", "height: 2.7, finishes: {floor: ours}")
    (folder / "fell.room.yaml").write_text(text)
    shelf.look()
    assert [c.name for c in shelf.rooms() if c.problems] == ["fell.room.yaml"]
    own_catalogue.mkdir(exist_ok=True)
    (own_catalogue / "ours.products.yaml").write_text(
        "wellheard-products: 1\n"
        f"finishes: {{ours: {{name: Ours, source: our own test, absorption: {{{octaves}}}}}}}\n"
    )
    shelf.look()
    assert not [c.name for c in shelf.rooms() if c.problems]


# Taken away and brought back -------------------------------------------------------------------


def test_a_deleted_room_comes_back_with_its_history_after_a_restart(
    shelf: Shelf, folder: Path
) -> None:
    shelf.rename("tide", "Fell Room")
    text = (folder / "tide.room.yaml").read_text()
    desk = shelf.desk("tide")
    shelf.delete("tide")
    assert not (folder / "tide.room.yaml").exists()
    assert [p.read_text() for p in (folder / trash.TRASH).iterdir()] == [text]
    assert shelf.last_deleted() == "Fell Room"
    assert "is no longer there" in desk.state.problems[0].what
    with pytest.raises(KeyError):
        shelf.desk("tide")
    shelf.close()
    again = Shelf(folder, watch=False)
    assert again.undo_delete() == "tide"
    assert (again.last_deleted(), again.undo_delete()) == ("", None)
    assert (folder / "tide.room.yaml").read_text() == text
    assert again.desk("tide").state.undo == "rename the room"
    again.desk("tide").undo(key="u")
    assert (folder / "tide.room.yaml").read_text() == TEXT
    again.close()


def test_the_open_desk_of_a_room_that_comes_back_goes_on(shelf: Shelf) -> None:
    desk = shelf.desk("tide")
    shelf.delete("tide")
    shelf.undo_delete()
    assert desk.state.problems == ()
    shelf.rename("tide", "Fell Room")
    assert desk.state.loaded.room.title == "Fell Room"


def test_a_room_comes_back_under_another_name_where_its_own_is_taken(
    shelf: Shelf, folder: Path
) -> None:
    shelf.rename("tide", "Fell Room")
    desk = shelf.desk("tide")
    shelf.delete("tide")
    (folder / "tide.room.yaml").write_text(TEXT.replace("Tide", "New"))
    shelf.look()
    # Another document: nothing of the deleted one can be undone in it.
    assert desk.state.loaded.room.title == "New Room"
    assert desk.state.undo == ""
    assert shelf.undo_delete() == "tide-2"
    assert shelf.desk("tide-2").state.loaded.room.title == "Fell Room"
    assert shelf.desk("tide-2").state.undo == "rename the room"
    assert desk.state.loaded.room.title == "New Room"
    assert shelf.desk("tide") is desk


def test_several_come_back_the_last_first_even_if_their_folder_is_gone(
    shelf: Shelf, folder: Path
) -> None:
    shelf.delete(keys(shelf)["sub/moor.room.yaml"])
    shelf.delete("tide")
    (folder / "sub").rmdir()
    assert shelf.last_deleted() == "Tide Room"
    assert shelf.undo_delete() == "tide"
    assert shelf.last_deleted() == "Moor Room"
    assert shelf.undo_delete() == "moor"
    assert {c.title for c in shelf.rooms()} == {"Tide Room", "Moor Room"}


def test_what_was_taken_out_of_the_trash_by_hand_is_not_offered(shelf: Shelf, folder: Path) -> None:
    shelf.delete("tide")
    for path in (folder / trash.TRASH).iterdir():
        path.unlink()
    assert shelf.last_deleted() == ""
    assert shelf.undo_delete() is None


def test_deleting_a_link_leaves_what_it_leads_to(shelf: Shelf, folder: Path) -> None:
    (folder / "link.room.yaml").symlink_to("tide.room.yaml")
    shelf.delete("link")
    assert (folder / "tide.room.yaml").read_text() == TEXT
    assert shelf.undo_delete() == "link"
    assert (folder / "link.room.yaml").readlink() == Path("tide.room.yaml")


@pytest.mark.parametrize("step", ["delete", "undo"])
def test_a_move_that_fails_leaves_the_room_where_it_was(
    shelf: Shelf, folder: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    shelf.rename("tide", "Fell Room")
    if step == "undo":
        shelf.delete("tide")

    def refused(*_: object, **__: object) -> None:
        raise OSError(30, "Read-only file system")

    monkeypatch.setattr(os, "rename", refused)
    monkeypatch.setattr(os, "link", refused)
    with pytest.raises(InputError, match="Read-only file system"):
        shelf.delete("tide") if step == "delete" else shelf.undo_delete()
    monkeypatch.undo()
    if step == "undo":
        assert shelf.undo_delete() == "tide"
    assert shelf.desk("tide").state.undo == "rename the room"


def test_nobody_saves_into_a_room_while_it_is_moved(
    shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    held: list[bool] = []

    def other_process_waits() -> bool:
        other = sqlite3.connect(shelf._journal.path, timeout=0, isolation_level=None)
        try:
            other.execute("BEGIN IMMEDIATE")
        except sqlite3.OperationalError:
            return True
        finally:
            other.close()
        return False

    for name in ("into_trash", "out_of_trash"):
        move = getattr(trash, name)

        def moving(*arguments: object, move: Callable[..., object] = move) -> object:
            held.append(other_process_waits())
            return move(*arguments)

        monkeypatch.setattr(trash, name, moving)
    shelf.delete("tide")
    shelf.undo_delete()
    assert held == [True, True]


def test_nothing_goes_into_a_trash_that_is_a_link(
    shelf: Shelf, folder: Path, tmp_path: Path
) -> None:
    (folder / trash.TRASH).symlink_to(tmp_path)
    with pytest.raises(InputError, match="is a link"):
        shelf.delete("tide")
    assert (folder / "tide.room.yaml").read_text() == TEXT


# The watcher -----------------------------------------------------------------------------------


def test_what_others_do_in_the_folder_is_noticed_and_told(folder: Path) -> None:
    shelf = Shelf(folder)
    changed = threading.Event()
    stop = shelf.subscribe(changed.set)
    desk = shelf.desk("tide")
    states: list[str] = []
    desk.subscribe(lambda state: states.append(state.loaded.room.title))
    (folder / "tide.room.yaml").write_text(TEXT.replace("Tide", "Fell"))
    until(lambda: states == ["Fell Room"])
    until(changed.is_set)
    changed.clear()
    (folder / "fen.room.yaml").write_text(TEXT)
    until(changed.is_set)
    assert "fen" in keys(shelf).values()
    changed.clear()
    (folder / "fen.room.yaml").unlink()
    until(lambda: "fen" not in keys(shelf).values())
    stop()
    watcher = shelf._watch
    assert watcher is not None
    shelf.close()
    shelf.close()
    assert not watcher.is_alive()


def test_a_subscriber_that_fails_stops_nobody(shelf: Shelf) -> None:
    told: list[int] = []

    def fail() -> None:
        raise RuntimeError

    shelf.subscribe(fail)
    stop = shelf.subscribe(lambda: told.append(1))
    shelf.rename("tide", "Fell Room")
    assert told
    stop()
    told.clear()
    shelf.rename("tide", "Fen Room")
    assert told == []


def test_of_very_many_rooms_some_are_read_later(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for i in range(5):
        (folder / f"r{i}.room.yaml").write_text(TEXT)
    monkeypatch.setattr(shelves, "AT_ONCE", -1.0)
    shelf = Shelf(folder)
    cards = shelf.rooms()
    assert len(cards) == 7
    assert not any(card.read for card in cards)
    assert cards[0].title in ("moor", "r0")
    shelf.subscribe(lambda: None)
    until(lambda: all(card.read for card in shelf.rooms()))
    shelf.close()


def test_a_folder_that_goes_away_for_a_moment_stops_no_watcher(
    folder: Path, tmp_path: Path
) -> None:
    shelf = Shelf(folder)
    desk = shelf.desk("tide")
    folder.rename(tmp_path / "away")
    until(lambda: bool(desk.state.problems))
    (tmp_path / "away").rename(folder)
    until(lambda: not desk.state.problems)
    shelf.close()
