"""Changes of open rooms in a child that is killed; run as a script by the tests of this folder.

``desk_saver.py random KIND FOLDER`` kills a child that goes on changing a room after a random
while; ``desk_saver.py steps KIND FOLDER`` kills one that makes a few changes before that step of
them that stdin names. Both do so for every line on stdin, a number, and answer with a line. What a
child was answered it appends to the file ``answers``.
"""

from __future__ import annotations

import os
import random
import signal
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import count
from pathlib import Path
from typing import Any

from wellheard import files
from wellheard.store.journal import Journal
from wellheard.workflow.desk import Conflict, Desk
from wellheard.workflow.shelf import Shelf

STEPS = ("open", "mkdir", "rename", "replace", "link", "unlink", "fsync", "chmod", "chown")
LONGEST = {"desk": 0.6, "outside": 0.6, "shelf": 0.6}
"""The longest that a child lives: time for some changes. [s]"""
FEW = {"desk": (0, 2, 3), "outside": (1,), "shelf": (0,)}
"""What a child does that is killed at a step: of a desk a commit, an undo and a redo."""

Work = Callable[[int], None]


def answered(folder: Path, *words: object) -> None:
    """Note an answer before anything else is done."""
    with open(folder / "answers", "ab", buffering=0) as file:
        file.write((" ".join(map(str, words)) + "\n").encode())


def on_a_desk(folder: Path, *, outside: bool) -> Work:
    """Commits, undo and redo; between them, edits from outside where asked for."""
    path = folder / "tide.room.yaml"
    desks: list[Desk] = []

    def work(n: int) -> None:
        if not desks:
            desks.append(Desk.opened(path, folder=folder, key="tide"))
        desk = desks[0]
        if outside and n % 2:
            files.save(path, path.read_bytes().replace(b"# remark", b"# remark #%d" % n))
        if n % 4 == 2:
            done = desk.undo(key=f"k{n}")
        elif n % 4 == 3 and desk.state.redo and not outside:  # an edit leaves nothing to redo
            done = desk.redo(key=f"k{n}")
        else:
            operations = [{"path": "title", "set": f"Room {n}"}]
            base = desk.state.version
            done = desk.commit(operations, base=base, key=f"k{n}", what=f"w{n}", unit="m")
        answered(folder, f"k{n}", done.state.version, done.state.loaded.room.title)

    return work


def on_a_shelf(folder: Path) -> Work:
    """A room is taken away, brought back, and copied."""
    shelves: list[Shelf] = []

    def work(n: int) -> None:
        if not shelves:
            shelves.append(Shelf(folder, watch=False))
        shelf = shelves[0]
        if not (folder / "tide.room.yaml").exists():
            shelf.undo_delete()
        shelf.delete("tide")
        shelf.undo_delete()
        answered(folder, "copied", shelf.duplicate("tide"))

    return work


def working(kind: str, folder: Path) -> Work:
    """What a child does, by number."""
    if kind == "shelf":
        return on_a_shelf(folder)
    return on_a_desk(folder, outside=kind == "outside")


def at_random(kind: str, folder: Path) -> None:
    """Kill a child after a random while."""
    chance = random.Random(11)
    for line in sys.stdin:
        start = int(line)
        child = os.fork()
        if not child:
            work = working(kind, folder)
            for n in count(start):
                work(n)
        time.sleep(chance.uniform(0, LONGEST[kind]))
        os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        print("killed" if os.WIFSIGNALED(status) else "ended", flush=True)


def at_step(kind: str, folder: Path) -> None:
    """Kill a child before a step, if it comes so far."""
    for line in sys.stdin:
        step = int(line)
        child = os.fork()
        if not child:
            die_before(step)
            work = working(kind, folder)
            for n in FEW[kind]:
                work(4 * step + n)
            os._exit(0)
        _, status = os.waitpid(child, 0)
        print("killed" if os.WIFSIGNALED(status) else "ended", flush=True)


def die_before(step: int) -> None:
    """Let this process be killed before the step of that number."""
    done = count()

    def end_at() -> None:
        if next(done) == step:
            os.kill(os.getpid(), signal.SIGKILL)

    def counted(call: Callable[..., Any]) -> Callable[..., Any]:
        def counting(*arguments: Any, **options: Any) -> Any:
            end_at()
            return call(*arguments, **options)

        return counting

    for name in STEPS:
        setattr(os, name, counted(getattr(os, name)))
    write_new = files.write_new

    def torn(path: Path, data: bytes, **options: Any) -> None:
        if next(done) == step:
            path.write_bytes(data[: len(data) // 2])
            os.kill(os.getpid(), signal.SIGKILL)
        write_new(path, data, **options)

    files.write_new = torn
    for name in ("append", "mark_saved", "move", "new_document", "_commit"):
        setattr(Journal, name, counted(getattr(Journal, name)))
    writing = Journal.writing

    @contextmanager
    def ending(self: Journal) -> Iterator[None]:
        with writing(self):
            yield
        end_at()  # the rows are on the disk, and nothing else is

    Journal.writing = ending  # type: ignore[method-assign]


if __name__ == "__main__":
    how, kind, place = sys.argv[1:]
    try:
        (at_step if how == "steps" else at_random)(kind, Path(place))
    except Conflict as error:  # nobody else changes anything here
        sys.exit(f"{error}")
