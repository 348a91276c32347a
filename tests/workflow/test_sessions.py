"""Sessions beside a document: named in it, listed, and deleted with nothing kept."""

from __future__ import annotations

from pathlib import Path

import pytest

from wellheard.errors import InputError
from wellheard.measurement.session import load_session
from wellheard.workflow import sessions
from wellheard.workflow.load import load

ROOM = """\
wellheard: 1
title: Slate Room   # invented
space: {outline: [[0, 0], [5, 0], [5, 4], [0, 4]], height: 2.7}
people: {seats: {s1: {at: [1, 1]}}}
"""
SESSION = """\
wellheard_session: 1
date: 2026-11-20
recordings:
  quiet: {file: quiet.wav, kind: noise, to: s1}
"""


@pytest.fixture
def room(tmp_path: Path) -> Path:
    path = tmp_path / "slate.room.yaml"
    path.write_text(ROOM)
    folder = sessions.session_path(path, "first")
    folder.mkdir(parents=True)
    (folder / "session.yaml").write_text(SESSION)
    (folder / "quiet.wav").write_bytes(b"RIFF")
    return path


def test_a_session_beside_the_document_is_listed_before_and_after_it_is_named(room: Path) -> None:
    (before,) = sessions.sessions(load(room))
    assert (before.name, before.named) == ("first", False)
    text = sessions.attached(load(room), load_session(before.folder), {"word": "kept"})
    room.write_text(text)
    assert "# invented" in text  # comments stay
    after = load(room)
    assert after.room.measurements["first"] == {
        "folder": "slate.sessions/first",
        "date": "2026-11-20",
        "recordings": 1,
        "word": "kept",
    }
    (listed,) = sessions.sessions(after)
    assert listed.named
    assert listed.found is not None


def test_a_document_that_names_a_session_is_the_document_that_was_measured(room: Path) -> None:
    loaded = load(room)
    assert sessions.unnamed_text(loaded) == ROOM
    room.write_text(sessions.attached(loaded, load_session(sessions.session_path(room, "first"))))
    assert room.read_text() != ROOM
    assert sessions.unnamed_text(load(room)) == ROOM


def test_deleting_leaves_neither_recordings_nor_name_nor_an_empty_folder(room: Path) -> None:
    loaded = load(room)
    room.write_text(sessions.attached(loaded, load_session(sessions.session_path(room, "first"))))
    text = sessions.without(load(room), "first")
    assert text == ROOM
    room.write_text(text)
    sessions.delete(sessions.session_path(room, "first"))
    assert load(room).room.measurements == {}
    assert [one.name for one in room.parent.iterdir()] == [room.name]


def test_only_a_session_is_deleted(room: Path, tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.mkdir()
    (other / "kept.txt").write_text("")
    with pytest.raises(InputError, match=r"no folder with a session\.yaml"):
        sessions.delete(other)
    link = tmp_path / "slate.sessions" / "link"
    link.symlink_to(sessions.session_path(room, "first"))
    with pytest.raises(InputError, match="no folder with"):
        sessions.delete(link)
    assert (other / "kept.txt").exists()


def test_a_session_elsewhere_is_not_named(
    room: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    folder = tmp_path_factory.mktemp("elsewhere")
    (folder / "session.yaml").write_text("wellheard_session: 1\n")
    with pytest.raises(InputError, match=r"move it to .*slate\.sessions"):
        sessions.attached(load(room), load_session(folder))


@pytest.mark.parametrize("name", ["../up", "", "A", "a/b", "."])
def test_no_name_leads_out_of_the_folder(room: Path, name: str) -> None:
    with pytest.raises(InputError, match="no name of a session"):
        sessions.session_path(room, name)


def test_a_broken_session_is_listed_with_its_reason(room: Path) -> None:
    sessions.session_path(room, "first").joinpath("session.yaml").write_text("nonsense: 1\n")
    (only,) = sessions.sessions(load(room))
    assert only.found is None
    assert "wellheard_session" in only.why_not
