"""``wellheard session``: what lies beside a room, named in its document, deleted."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.conftest import Wellheard
from wellheard.workflow.load import document_hash

ROOM = """\
wellheard: 1
title: Slate Room
space: {outline: [[0, 0], [5, 0], [5, 4], [0, 4]], height: 2.7}
people: {seats: {s1: {at: [1, 1]}}}
"""
SESSION = f"""\
wellheard_session: 1
room: {document_hash(ROOM)}
recordings:
  quiet: {{file: quiet.wav, kind: noise, to: s1}}
  later: {{file: later.wav, kind: noise, to: s1}}
"""


@pytest.fixture
def room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "slate.sessions" / "first"
    folder.mkdir(parents=True)
    (folder / "session.yaml").write_text(SESSION)
    (folder / "quiet.wav").write_bytes(bytes(2_500_000))
    (tmp_path / "slate.room.yaml").write_text(ROOM)
    monkeypatch.chdir(tmp_path)
    return Path("slate.room.yaml")


def test_a_list_says_how_much_is_recorded(wellheard: Wellheard, room: Path) -> None:
    assert "1 of 2" in wellheard("session", "list", room).out
    (one,) = wellheard("session", "list", room, "--format", "json").json["sessions"]
    assert (one["recordings"], one["recorded"], one["named"]) == (2, 1, False)


def test_a_session_of_another_document_is_named_and_that_is_said(
    wellheard: Wellheard, room: Path
) -> None:
    ended = wellheard("session", "attach", room, "slate.sessions/first")
    assert ended.err.splitlines() == ["slate.room.yaml: names slate.sessions/first"]
    room.write_text(ROOM.replace("2.7", "2.8"))
    ended = wellheard("session", "attach", room, "slate.sessions/first")
    assert f"taken of document {document_hash(ROOM)}" in ended.err


def test_nothing_is_deleted_before_it_is_said_twice(wellheard: Wellheard, room: Path) -> None:
    asked = ("session", "delete", room, "first")
    ended = wellheard(*asked)
    assert ended.out.splitlines() == [
        "Of slate.sessions/first would be deleted, two files with 2.5 MB:",
        "quiet.wav (2.5 MB)",
        "session.yaml (0.1 kB)",
    ]
    assert "--yes" in ended.err
    wellheard("session", "attach", room, "slate.sessions/first")
    assert wellheard(*asked, "--yes").code == 0
    assert room.read_text() == ROOM
    assert not Path("slate.sessions").exists()


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ((".",), ".: holds no session.yaml, so it is no session"),
        (("slate.room.yaml",), "slate.room.yaml:1:1: wellheard: a room document; the folder of a"),
    ],
)
def test_what_is_no_session_is_said_in_one_line(
    wellheard: Wellheard, room: Path, asked: tuple[str, ...], said: str
) -> None:
    ended = wellheard("session", "attach", room, *asked)
    assert ended.code == 2
    assert ended.err.startswith(said)
    assert len(ended.err.splitlines()) == 1
