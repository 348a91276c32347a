"""An edit from outside in the midst of a commit is not lost."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.workflow.desk.opening import TEXT, Opener, change, put
from wellheard.errors import InputError
from wellheard.room import codec
from wellheard.store.journal import Entry, Journal
from wellheard.workflow.desk import Conflict
from wellheard.workflow.record import Record

# Races with an edit from outside ---------------------------------------------------------------


def racing(monkeypatch: pytest.MonkeyPatch, write: Callable[[], object]) -> None:
    """Let somebody write to the file once between a change's entry and its saving."""
    settle, count = Record.settle, [0]

    def settling(self: Record) -> None:
        count[0] += 1
        if count[0] == 2:
            write()
        settle(self)

    monkeypatch.setattr(Record, "settle", settling)


def test_an_edit_between_entry_and_saving_that_says_something_else_is_merged(
    opened: Opener, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = opened()
    outside = TEXT.replace("the chair", "the stool").replace("2.7", "2.9")
    racing(monkeypatch, lambda: path.write_text(outside))
    done = desk.commit(
        put("title", "Moor Room"), base=desk.state.version, key="a", what="title", unit="m"
    )
    monkeypatch.undo()
    assert path.read_text() == outside.replace("Tide", "Moor")
    assert done.state.loaded.room.title == "Moor Room"
    assert desk.state.undo == "edited outside"
    assert desk.state.loaded.room.space.height == 2.9
    again = desk.commit(put("title", "Moor Room"), base=1, key="a", what="title", unit="m")
    assert again.state.version == done.state.version
    desk.undo(key="u")
    assert path.read_text() == TEXT.replace("Tide", "Moor")


def test_an_edit_in_the_moment_before_saving_is_merged(
    opened: Opener, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = opened()
    text, outside = Journal.text, TEXT.replace("2.7", "2.9")

    def late(self: Journal, entry: Entry) -> bytes:
        monkeypatch.setattr(Journal, "text", text)
        path.write_text(outside)  # after the file was found to be as expected
        return text(self, entry)

    monkeypatch.setattr(Journal, "text", late)
    change(desk, "title", "Moor Room", "a")
    assert path.read_text() == outside.replace("Tide", "Moor")


def test_a_file_that_never_rests_is_told(
    opened: Opener, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = opened()
    text, turns = Journal.text, iter(range(100))

    def restless(self: Journal, entry: Entry) -> bytes:
        found = text(self, entry)
        path.write_text(TEXT + f"# {next(turns)}\n")
        return found

    monkeypatch.setattr(Journal, "text", restless)
    with pytest.raises(InputError, match="is changed again and again"):
        change(desk, "title", "Moor Room", "a")
    monkeypatch.undo()
    desk.look()
    assert desk.state.problems == ()
    assert codec.read(path).title == "Moor Room"


def test_an_edit_between_entry_and_saving_that_disagrees_is_a_conflict_and_neither_is_lost(
    opened: Opener, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = opened()
    outside = TEXT.replace("Tide", "Fell")
    racing(monkeypatch, lambda: path.write_text(outside))
    with pytest.raises(Conflict, match="Title: yours Moor Room, meanwhile Fell Room"):
        change(desk, "title", "Moor Room", "a")
    monkeypatch.undo()
    assert path.read_text() == outside
    with pytest.raises(Conflict, match="Title: yours Moor Room, meanwhile Fell Room"):
        change(desk, "title", "Moor Room", "a")
    desk.undo(key="u")
    assert codec.read(path).title == "Moor Room"
    desk.undo(key="v")
    assert path.read_text() == TEXT


def test_an_edit_between_entry_and_saving_that_cannot_be_read_is_kept_and_told(
    opened: Opener, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = opened()
    racing(monkeypatch, lambda: path.write_text("nonsense"))
    with pytest.raises(InputError, match="The change is kept"):
        change(desk, "title", "Moor Room", "a")
    monkeypatch.undo()
    assert path.read_text() == "nonsense"
    # Mended by somebody who never saw the change: both hold.
    path.write_text(TEXT.replace("2.7", "2.9"))
    desk.look()
    room = codec.read(path)
    assert (room.title, room.space.height) == ("Moor Room", 2.9)
    assert change(desk, "title", "Moor Room", "a").loaded.room.title == "Moor Room"


def test_a_disk_that_is_full_for_a_while_loses_nothing(
    opened: Opener, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = opened()

    def full(source: str, destination: str) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(InputError, match="No space left on device"):
        change(desk, "title", "Moor Room", "a")
    assert path.read_text() == TEXT
    with pytest.raises(InputError, match="No space left on device"):
        change(desk, "title", "Fen Room", "b")
    monkeypatch.undo()
    desk.look()
    assert codec.read(path).title == "Moor Room"
    assert desk.state.problems == ()
    assert change(desk, "title", "Moor Room", "a").loaded.room.title == "Moor Room"


def test_what_cannot_be_saved_for_being_protected_is_no_entry(
    opened: Opener, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = opened()
    before = desk.state
    access = os.access
    monkeypatch.setattr(os, "access", lambda p, mode, **o: Path(p) != path and access(p, mode, **o))
    with pytest.raises(InputError, match="the file is write-protected; let it be written"):
        change(desk, "title", "Moor Room", "a")
    assert desk.state == before
    monkeypatch.undo()
    assert change(desk, "title", "Moor Room", "a").undo == "a"


def test_a_journal_that_cannot_be_written_changes_nothing(
    opened: Opener, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = opened()
    before = desk.state
    commit = desk._journal._commit

    def full() -> None:
        raise InputError("database or disk is full")

    monkeypatch.setattr(desk._journal, "_commit", full)
    with pytest.raises(InputError, match="disk is full"):
        change(desk, "title", "Moor Room", "a")
    desk._journal._base.execute("ROLLBACK")
    monkeypatch.setattr(desk._journal, "_commit", commit)
    assert path.read_text() == TEXT
    assert desk.state == before
    assert change(desk, "title", "Fen Room", "a").loaded.room.title == "Fen Room"
    assert desk.state.undo == "a"


def test_a_row_without_its_file_is_saved_when_the_document_is_opened_next(
    opened: Opener, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = opened()
    monkeypatch.setattr(Record, "_put", lambda self, over: True)
    desk.commit(put("title", "Moor Room"), base=desk.state.version, key="a", what="t", unit="m")
    monkeypatch.undo()
    assert path.read_text() == TEXT  # the process ended here
    desk = opened()
    assert codec.read(path).title == "Moor Room"
    assert (desk.state.undo, desk.state.problems) == ("t", ())
