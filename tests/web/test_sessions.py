"""Sessions outlive the server, and let nobody in who reads their file."""

from __future__ import annotations

import json
import stat
from pathlib import Path

import pytest

from wellheard.errors import InputError
from wellheard.web.sessions import MOST, Sessions


def test_a_session_outlives_the_server_but_not_the_folder(tmp_path: Path) -> None:
    value = Sessions(tmp_path).issue()
    assert Sessions(tmp_path).knows(value)
    other = tmp_path / "copy"
    other.mkdir()
    Sessions(other)
    kept = (tmp_path / ".wellheard" / "session").read_bytes()
    (other / ".wellheard" / "session").write_bytes(kept)
    assert not Sessions(other).knows(value)


def test_the_file_of_sessions_is_its_owners_alone_and_lets_nobody_in_who_reads_it(
    tmp_path: Path,
) -> None:
    value = Sessions(tmp_path).issue()
    path = tmp_path / ".wellheard" / "session"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    kept = path.read_text("utf-8")
    assert value not in kept
    digest = json.loads(kept)["sessions"][0]
    assert not Sessions(tmp_path).knows(digest)


@pytest.mark.parametrize(
    "kept", ["", "{", "[]", '{"folder": 1}', '{"folder": "x", "sessions": [""]}', "\x00" * 70_000]
)
def test_a_file_of_sessions_that_is_spoilt_remembers_nobody(tmp_path: Path, kept: str) -> None:
    sessions = Sessions(tmp_path)
    (tmp_path / ".wellheard" / "session").write_text(kept, "utf-8")
    assert not Sessions(tmp_path).knows("")
    value = sessions.issue()
    assert Sessions(tmp_path).knows(value)


def test_so_many_sessions_are_kept_and_the_oldest_go(tmp_path: Path) -> None:
    sessions = Sessions(tmp_path)
    values = [sessions.issue() for _ in range(MOST + 2)]
    assert [sessions.knows(v) for v in values] == [False, False] + [True] * MOST


def test_a_folder_that_is_none_is_said(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such folder"):
        Sessions(tmp_path / "absent")
    (tmp_path / "a.room.yaml").write_text("", "utf-8")
    with pytest.raises(InputError, match="a file; name the folder"):
        Sessions(tmp_path / "a.room.yaml")
