"""A killed save loses nothing: what is there is the old or the new, whole.

``make kill-test`` kills 200 times at random; here it is a few times, and once at every step.
"""

from __future__ import annotations

import os
import runpy
import subprocess
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path

import pytest

from wellheard import folders
from wellheard.room import codec
from wellheard.workflow import manifest

SAVER = Path(__file__).with_name("saver.py")
SAVES = runpy.run_path(str(SAVER))
PARTS, contents, text = SAVES["PARTS"], SAVES["contents"], SAVES["text"]
KINDS = ("file", "new", "folder", "two-steps")
KILLS = int(os.environ.get("WELLHEARD_KILLS", "12")) // len(KINDS)
FEWEST_STEPS = 8
pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="nothing forks or kills here")


def kills(how: str, kind: str, folder: Path, numbers: Iterable[int]) -> Iterator[str]:
    """What became of each child, one at a time."""
    command = [sys.executable, "-W", "ignore", str(SAVER), how, kind, str(folder)]
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, encoding="utf-8"
    ) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        for number in numbers:
            process.stdin.write(f"{number}\n")
            process.stdin.flush()
            answer = process.stdout.readline().strip()
            assert answer in ("killed", "ended")
            yield answer
        process.stdin.close()
    assert process.returncode == 0


def verify(kind: str, folder: Path) -> str:
    """Which whole thing is there."""
    if kind == "file":
        found = (folder / "tide.room.yaml").read_text()
        assert found in ("old\n", text(0), text(1))
        return found[:1]
    if kind == "new":
        made = list(folder.glob("room-*"))
        for path in made:
            codec.read(path)
        return str(len(made))
    out = folder / "out"
    if kind == "two-steps":
        folders.recover(out)
    if not out.exists():
        return ""
    manifest.check_folder(out)  # every hash of the manifest
    assert {p.name for p in out.iterdir()} == {*PARTS, manifest.MANIFEST}
    generation = (out / PARTS[0]).read_text().split()[1]
    assert {name: (out / name).read_bytes() for name in PARTS} == contents(int(generation))
    return generation


def left(folder: Path) -> list[str]:
    return [p.name for p in folder.iterdir() if p.name.startswith(".")]


@pytest.mark.parametrize("kind", KINDS)
def test_a_save_killed_at_random_leaves_the_old_or_the_new(tmp_path: Path, kind: str) -> None:
    (tmp_path / "tide.room.yaml").write_text("old\n")
    before = ""
    for fate in kills("random", kind, tmp_path, range(0, 1000 * KILLS, 1000)):
        assert fate == "killed"
        found = verify(kind, tmp_path)
        assert found or not before, "what was there is gone"
        before = found


@pytest.mark.parametrize("kind", KINDS)
def test_a_save_killed_before_each_of_its_steps_leaves_the_old_or_the_new(
    tmp_path: Path, kind: str
) -> None:
    (tmp_path / "tide.room.yaml").write_text("old\n")
    whole = 10_000  # more steps than any save has
    states = []
    for fate in kills("steps", kind, tmp_path, [whole, *range(whole)]):
        states.append(verify(kind, tmp_path))
        assert states[-1], "what was there is gone"
        if fate == "ended" and len(states) > 1:
            break
    assert len(states) > FEWEST_STEPS
    assert len(set(states)) > 1, "the new one never came"
    # The last save was not killed, and cleared away what those before it left.
    assert [p.name for p in tmp_path.iterdir() if p.name.startswith(".")] == []
