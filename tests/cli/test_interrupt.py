"""Ctrl-C: exit 130, one line, nothing half written."""

from __future__ import annotations

import os
import signal
import subprocess
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from wellheard import files

if TYPE_CHECKING:
    from tests.cli.conftest import Wellheard


@pytest.mark.skipif(os.name == "nt", reason="there is no SIGINT to send to a process on Windows")
@pytest.mark.parametrize("wait", [0.8, 2.0])
def test_ctrl_c_exits_130_and_leaves_nothing(
    started: Callable[..., subprocess.Popen[str]], tmp_path: Path, examples: Path, wait: float
) -> None:
    room = examples / "training-forty" / "training-forty.room.yaml"
    process = started("design", room, "-o", tmp_path / "out")
    time.sleep(wait)
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=60)
    assert process.returncode == 130
    assert (out, err) == ("", "interrupted; nothing was written\n")
    assert list(tmp_path.iterdir()) == []


def test_ctrl_c_while_the_folder_is_written_leaves_the_old_one(
    wellheard: Wellheard, placed: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "out"
    assert wellheard("publish", placed, "-o", folder).code == 0
    before = {p.name: p.read_bytes() for p in folder.iterdir()}
    write, written = files.write_new, []

    def interrupted(path: Path, data: bytes) -> None:
        write(path, data)
        written.append(path)
        if len(written) == 3:
            raise KeyboardInterrupt

    monkeypatch.setattr(files, "write_new", interrupted)
    ended = wellheard("publish", placed, "-o", folder)
    assert (ended.code, ended.out) == (130, "")
    assert len(written) == 3
    assert [p.name for p in tmp_path.iterdir()] == ["out"]
    assert {p.name: p.read_bytes() for p in folder.iterdir()} == before


def test_a_disk_that_fills_while_the_folder_is_written_leaves_the_old_one(
    wellheard: Wellheard, placed: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "out"
    assert wellheard("publish", placed, "-o", folder).code == 0
    before = {p.name: p.read_bytes() for p in folder.iterdir()}

    def full(path: Path, data: bytes) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(files, "write_new", full)
    ended = wellheard("publish", placed, "-o", folder)
    assert (ended.code, ended.out) == (2, "")
    assert "No space left on device" in ended.err
    assert {p.name: p.read_bytes() for p in folder.iterdir()} == before
