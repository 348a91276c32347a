"""Rooms taken away and brought back, with their history."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.workflow.shelf.rooms import TEXT, keys
from wellheard.errors import InputError
from wellheard.store import trash
from wellheard.workflow.shelf import Shelf

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
