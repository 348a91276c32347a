"""Edits from outside are taken up, and the file is always valid."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.workflow.desk.opening import TEXT, Opener, change
from wellheard.errors import InputError
from wellheard.room import codec
from wellheard.workflow.desk import Desk, State
from wellheard.workflow.record import Record

# Edits from outside ----------------------------------------------------------------------------


def test_an_edit_from_outside_is_noticed_and_can_be_undone(opened: Opener, path: Path) -> None:
    desk = opened()
    told: list[State] = []
    desk.subscribe(told.append)
    path.write_text(TEXT.replace("Tide", "Moor"))
    desk.look()
    desk.look()
    assert [s.loaded.room.title for s in told] == ["Moor Room"]
    assert desk.state.undo == "edited outside"
    desk.undo(key="u")
    assert path.read_text() == TEXT
    desk.redo(key="r")
    assert path.read_text() == TEXT.replace("Tide", "Moor")


def test_an_edit_in_the_same_tick_of_the_clock_as_a_save_is_noticed(
    opened: Opener, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Time stamps of some file systems are seconds apart: nothing tells the two files apart.
    monkeypatch.setattr(Record, "_signature", lambda self: "always the same")
    desk = opened()
    change(desk, "title", "Fens Room", "a")
    desk.look()
    path.write_text(TEXT.replace("Tide", "Moor"))
    desk.look()
    assert desk.state.loaded.room.title == "Moor Room"


def test_a_file_that_rests_is_not_read_again(
    opened: Opener, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    os.utime(path, (1e9, 1e9))
    desk = opened()

    def reading(self: Record) -> bytes:
        raise AssertionError

    monkeypatch.setattr(Record, "_found", reading)
    desk.look()


def test_an_edit_back_to_the_text_before_is_an_edit_and_no_crash(
    opened: Opener, path: Path
) -> None:
    desk = opened()
    change(desk, "title", "Moor Room", "a")
    opened.close()
    path.write_text(TEXT)  # nobody was looking
    desk = opened()
    assert path.read_text() == TEXT
    assert desk.state.undo == "edited outside"
    desk.undo(key="u")
    assert codec.read(path).title == "Moor Room"


@pytest.mark.parametrize(
    "text",
    [
        TEXT.replace("2.7", "tall"),
        TEXT.replace("[2, 2]", "[20, 2]"),
        "",
        "\0\1\2",
        "x" * 3_000_000,
        TEXT + "devices: {m1: {kind: microphone, product: no-such, at: [1, 1, 1]}}\n",
    ],
)
def test_an_edit_that_cannot_be_read_stops_changes_and_is_not_overwritten(
    opened: Opener, path: Path, text: str
) -> None:
    desk = opened()
    change(desk, "title", "Moor Room", "a")
    told: list[State] = []
    desk.subscribe(told.append)
    path.write_text(text)
    desk.look()
    [state] = told
    assert state.problems
    assert state.loaded.room.title == "Moor Room"
    for doing in (
        lambda: change(desk, "title", "Fen Room", "b"),
        lambda: desk.undo(key="c"),
        lambda: desk.commit_text(TEXT, base=desk.state.version, key="d", what="x"),
    ):
        with pytest.raises(InputError) as caught:
            doing()
        assert str(path) in str(caught.value)
        assert "mend the file, or put the last valid text back" in str(caught.value)
        assert caught.value.problems
    assert path.read_text() == text
    # Mended, it is an edit like any other.
    path.write_text(TEXT.replace("Tide", "Fell"))
    assert change(desk, "space.height", 3, "e").loaded.room.title == "Fell Room"
    assert desk.state.problems == ()


def test_a_message_about_an_edit_names_its_line(opened: Opener, path: Path) -> None:
    desk = opened()
    path.write_text(TEXT.replace("2.7", "tall"))
    line = TEXT.splitlines().index("  height: 2.7") + 1
    with pytest.raises(InputError, match=rf"{path.name}:{line}:11: space.height"):
        change(desk, "title", "Fen Room", "b")


def test_a_file_that_could_not_be_read_while_nobody_looked_shows_the_last_valid_state(
    opened: Opener, path: Path
) -> None:
    desk = opened()
    change(desk, "title", "Moor Room", "a")
    opened.close()
    path.write_text("nonsense")
    desk = opened()
    assert desk.state.problems
    assert desk.state.loaded.room.title == "Moor Room"
    desk.restore(key="r")
    assert codec.read(path).title == "Moor Room"


def test_a_file_that_could_never_be_read_has_no_desk(opened: Opener, path: Path) -> None:
    path.write_text("nonsense")
    with pytest.raises(InputError, match=r"nonsense|wellheard"):
        opened()
    path.write_text(TEXT)
    assert opened().state.loaded.room.title == "Tide Room"


def _kept(path: Path) -> list[Path]:
    trash = path.parent / ".wellheard" / "trash"
    return sorted(trash.iterdir()) if trash.exists() else []


def test_restoring_puts_the_last_valid_text_back_and_keeps_what_was_there(
    opened: Opener, path: Path
) -> None:
    desk = opened()
    change(desk, "title", "Moor Room", "a")
    valid = path.read_text()
    path.write_bytes(b"nonsense \xff")
    done = desk.restore(key="r")
    assert path.read_text() == valid
    assert done.state.problems == ()
    assert done.state.undo == "a"
    assert [p.read_bytes() for p in _kept(path)] == [b"nonsense \xff"]
    # Once is once: the same request again takes nothing else back.
    path.write_text("nonsense again")
    desk.restore(key="r")
    assert path.read_text() == "nonsense again"


def test_a_file_that_was_taken_away_is_told_and_can_be_put_back(opened: Opener, path: Path) -> None:
    desk = opened()
    path.unlink()
    desk.look()
    [problem] = desk.state.problems
    assert problem.what == "is no longer there"
    with pytest.raises(InputError, match="is no longer there"):
        change(desk, "title", "Moor Room", "a")
    assert not path.exists()
    desk.restore(key="r")
    assert path.read_text() == TEXT
    path.unlink()
    desk.look()
    path.write_text(TEXT.replace("Tide", "Fell"))
    desk.look()
    assert desk.state.problems == ()
    assert desk.state.loaded.room.title == "Fell Room"


@pytest.mark.parametrize("inside", [True, False])
def test_a_file_that_became_a_link_is_never_written_through(
    opened: Opener, path: Path, tmp_path_factory: pytest.TempPathFactory, inside: bool
) -> None:
    desk = opened()
    folder = path.parent if inside else tmp_path_factory.mktemp("elsewhere")
    other = folder / "other.yaml"
    other.write_text(TEXT.replace("Tide", "Fell"))
    path.unlink()
    path.symlink_to(other)
    desk.look()
    assert "leads to" in desk.state.problems[0].what
    assert desk.state.loaded.room.title == "Tide Room"
    with pytest.raises(InputError, match="leads to"):
        change(desk, "title", "Moor Room", "a")
    desk.restore(key="r")
    assert path.read_text() == TEXT
    assert not path.is_symlink()
    assert other.read_text() == TEXT.replace("Tide", "Fell")


def test_a_folder_that_became_a_link_is_never_written_through(tmp_path: Path) -> None:
    rooms, elsewhere = tmp_path / "rooms", tmp_path / "elsewhere"
    for folder in (rooms / "sub", elsewhere):
        folder.mkdir(parents=True)
        (folder / "tide.room.yaml").write_text(TEXT)
    desk = Desk.opened(rooms / "sub" / "tide.room.yaml", folder=rooms, key="tide")
    (rooms / "sub").rename(rooms / "was")
    (rooms / "sub").symlink_to(elsewhere)
    with pytest.raises(InputError, match="leads to"):
        change(desk, "title", "Moor Room", "a")
    with pytest.raises(InputError):
        desk.restore(key="r")
    assert (elsewhere / "tide.room.yaml").read_text() == TEXT
    desk.close()


def test_a_file_that_became_a_folder_is_told(opened: Opener, path: Path) -> None:
    desk = opened()
    path.unlink()
    path.mkdir()
    desk.look()
    assert desk.state.problems[0].what == "is no plain file by now"


@pytest.mark.parametrize("form", ["with a byte order mark", "with line ends of Windows"])
def test_a_file_as_other_editors_save_it_is_expected_as_it_is(
    opened: Opener, path: Path, form: str
) -> None:
    raw = TEXT.encode("utf-8-sig") if "mark" in form else TEXT.replace("\n", "\r\n").encode()
    path.write_bytes(raw)
    desk = opened()
    desk.look()
    assert (desk.state.undo, desk.state.problems) == ("", ())
    assert path.read_bytes() == raw
    change(desk, "title", "Moor Room", "a")
    desk.look()
    assert desk.state.undo == "a"
    assert "# the chair" in path.read_text()
    desk.undo(key="u")
    assert path.read_bytes() == raw
