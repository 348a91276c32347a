"""A saved file is the old one or the new one, whole, whatever happens in between."""

from __future__ import annotations

import os
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest

from wellheard.errors import InputError
from wellheard.room import codec

WRITER = """
import sys
from wellheard.room import codec
texts = ["a" * 400_000 + "\\n", "b" * 400_000 + "\\n"]
print("ready", flush=True)
while True:
    for text in texts:
        codec.save(sys.argv[1], text)
"""


@pytest.mark.parametrize("delay", [0.0, 0.004, 0.011, 0.023, 0.05])
def test_a_killed_writer_leaves_a_whole_file(tmp_path: Path, delay: float) -> None:
    target = tmp_path / "tide.room.yaml"
    target.write_text("old\n")
    with subprocess.Popen(
        [sys.executable, "-c", WRITER, str(target)], stdout=subprocess.PIPE
    ) as writer:
        assert writer.stdout is not None
        assert writer.stdout.readline() == b"ready\n"
        time.sleep(delay)
        writer.send_signal(signal.SIGKILL)
    assert target.read_text() in ("old\n", "a" * 400_000 + "\n", "b" * 400_000 + "\n")


def test_a_failure_before_the_swap_leaves_the_old_file_and_no_litter(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "tide.room.yaml"
    target.write_text("old\n")

    def full(source: str, destination: str) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(InputError, match="No space left"):
        codec.save(target, "new\n")
    assert target.read_text() == "old\n"
    assert [p.name for p in tmp_path.iterdir()] == ["tide.room.yaml"]


def test_the_mode_of_a_file_is_kept(tmp_path: Path) -> None:
    target = tmp_path / "tide.room.yaml"
    target.write_text("old\n")
    target.chmod(0o640)
    codec.save(target, "new\n")
    assert stat.S_IMODE(target.stat().st_mode) == 0o640
    assert target.read_text() == "new\n"


def test_a_new_file_gets_the_usual_mode(tmp_path: Path) -> None:
    fresh, usual = tmp_path / "fresh.room.yaml", tmp_path / "usual"
    codec.save(fresh, "new\n")
    usual.write_text("")
    assert fresh.stat().st_mode == usual.stat().st_mode


def test_a_link_is_written_through(tmp_path: Path) -> None:
    target, link = tmp_path / "real.room.yaml", tmp_path / "link.room.yaml"
    target.write_text("old\n")
    link.symlink_to(target)
    codec.save(link, "new\n")
    assert link.is_symlink()
    assert target.read_text() == "new\n"


def test_a_folder_that_is_not_there_is_an_input_error(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="No such file"):
        codec.save(tmp_path / "nowhere" / "tide.room.yaml", "new\n")
