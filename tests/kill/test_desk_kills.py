"""A killed workbench loses no change that was answered, and leaves every file whole and valid.

``make kill-test`` kills 200 times at random; here it is a few times, and once at every third step,
or at every one in ``make thorough``.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path

import pytest

from tests.effort import THOROUGH
from wellheard.room import codec
from wellheard.store.history import History
from wellheard.store.journal import Journal
from wellheard.store.trash import TRASH
from wellheard.workflow.desk import Desk
from wellheard.workflow.shelf import Shelf

SAVER = Path(__file__).with_name("desk_saver.py")
KINDS = ("desk", "outside", "shelf")
EVERY = 1 if THOROUGH else 3
"""Steps from one at which a child is killed to the next; kinds begin at different ones."""
KILLS = max(int(os.environ.get("WELLHEARD_KILLS", "12")) // len(KINDS), 3)
FEWEST_STEPS = 40
TEXT = """\
# remark
wellheard: 1
title: Tide Room
space: {outline: [[0, 0], [6, 0], [6, 4.5], [0, 4.5]], height: 2.7}
people: {seats: {s1: {at: [2, 2]}}}
"""
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


def answers(folder: Path) -> list[list[str]]:
    path = folder / "answers"
    return [line.split(" ", 2) for line in path.read_text().splitlines()] if path.exists() else []


def verify_desk(folder: Path) -> int:
    """Every answer is an entry that says the same, and the file is the newest; how many."""
    path = folder / "tide.room.yaml"
    codec.read(path)  # whole and valid, also before anybody opens it
    desk = Desk.opened(path, folder=folder, key="tide")
    journal = Journal.opened(folder)
    document = journal.document("tide.room.yaml")
    assert document is not None
    entries = journal.entries(document)
    assert desk.state.problems == ()
    assert path.read_bytes() == journal.text(entries[-1])
    assert journal.saved(document) == entries[-1].version
    by_key = {e.key: e for e in entries if e.key}
    told = answers(folder)
    for key, version, title in told:
        assert by_key[key].version == int(version)
        assert f"title: {title}\n".encode() in journal.text(by_key[key])
    if told:
        key, version, title = told[-1]
        again = desk.undo(key=key).state  # a key seen before: nothing is done
        assert (again.version, again.loaded.room.title) == (int(version), title)
        assert journal.entries(document) == entries
    assert History(entries).shown.digest == entries[-1].digest
    journal.close()
    desk.close()
    return len(entries)


def verify_shelf(folder: Path) -> int:
    """The room is in its place or can be brought back, and so is every copy that was answered."""
    shelf = Shelf(folder, watch=False)
    if not (folder / "tide.room.yaml").exists():
        assert shelf.last_deleted() == "Fell Room"
        assert shelf.undo_delete() == "tide"
    assert (folder / "tide.room.yaml").read_text() == TEXT.replace("Tide", "Fell")
    assert shelf.desk("tide").state.undo == "rename the room"
    cards = {card.key: card for card in shelf.rooms()}
    assert all(not card.problems for card in cards.values())
    for _, key in answers(folder):
        assert cards[key].title == "Fell Room (copy)"
    shelf.close()
    return len(cards)


def prepared(folder: Path, kind: str) -> None:
    (folder / "tide.room.yaml").write_text(TEXT)
    if kind == "shelf":
        shelf = Shelf(folder, watch=False)
        shelf.rename("tide", "Fell Room")
        shelf.close()


@pytest.mark.parametrize("kind", KINDS)
def test_a_change_that_was_answered_outlives_a_kill_at_random(tmp_path: Path, kind: str) -> None:
    prepared(tmp_path, kind)
    verify = verify_shelf if kind == "shelf" else verify_desk
    for fate in kills("random", kind, tmp_path, range(0, 1000 * KILLS, 1000)):
        assert fate == "killed"
        verify(tmp_path)
    assert answers(tmp_path), "no change was ever answered"


@pytest.mark.parametrize("kind", KINDS)
def test_a_change_that_was_answered_outlives_a_kill_before_each_step(
    tmp_path: Path, kind: str
) -> None:
    prepared(tmp_path, kind)
    verify = verify_shelf if kind == "shelf" else verify_desk
    counts = []
    for fate in kills("steps", kind, tmp_path, range(KINDS.index(kind) % EVERY, 10_000, EVERY)):
        counts.append(verify(tmp_path))
        if fate == "ended":
            break
    assert len(counts) > FEWEST_STEPS // EVERY
    assert counts == sorted(counts)
    assert counts[-1] > counts[0], "nothing was ever done"
    # What killed saves left beside has been cleared away, and nothing is left half.
    assert [p.name for p in tmp_path.iterdir() if p.name.startswith(".")] == [".wellheard"]
    assert not (tmp_path / TRASH).exists() or kind == "shelf"
