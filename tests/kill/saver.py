"""Saves in a child that is killed; run as a script by the tests of this folder.

``saver.py random KIND FOLDER`` kills a child that saves in a loop after a random while; ``saver.py
steps KIND FOLDER`` kills one that saves once before that step of it that stdin names. Both do so
for every line on stdin, a number, and answer with a line.
"""

from __future__ import annotations

import os
import random
import signal
import sys
import time
from collections.abc import Callable
from itertools import count
from pathlib import Path
from typing import Any

from wellheard import files, folders
from wellheard.room import codec

ROOT = Path(__file__).parents[2]
STEPS = ("open", "mkdir", "rename", "replace", "link", "unlink", "rmdir", "fsync", "chmod", "chown")
PARTS = ("dossier.pdf", "ledger.csv", "plan.svg", "result.json")
LONGEST = {"file": 0.03, "new": 0.3, "folder": 0.08, "two-steps": 0.08}
"""The longest that a child lives: time for a few saves. [s]"""

Save = Callable[[int], None]


def text(generation: int) -> str:
    """A file that is whole if and only if it is one letter and its end."""
    return "ab"[generation % 2] * 300_000 + "\n"


def contents(generation: int) -> dict[str, bytes]:
    """Files of one generation, whose hashes the manifest has."""
    return {name: f"{name} {generation}\n".encode() * 2000 for name in PARTS}


def saving(kind: str, folder: Path) -> Save:
    """What a child does, by number of its save; imports only what that needs."""
    if kind == "file":
        return lambda n: codec.save(folder / "tide.room.yaml", text(n))
    if kind == "new":
        from wellheard.cli.app import run

        return lambda _: _new(run, folder)
    from wellheard.workflow import manifest
    from wellheard.workflow.load import load

    if kind == "two-steps":
        folders.exchange = lambda one, other: False
    room = load(ROOT / "examples" / "huddle-four" / "huddle-four.room.yaml")
    return lambda n: manifest.write_folder(folder / "out", room, contents(n))


def _new(run: Callable[[list[str]], int], folder: Path) -> None:
    path = folder / f"room-{len(list(folder.glob('room-*')))}.room.yaml"
    assert run(["new", str(path)]) == 0


def at_random(save: Save, longest: float) -> None:
    """Kill a child after a random while."""
    chance = random.Random(7)
    for line in sys.stdin:
        start = int(line)
        child = os.fork()
        if not child:
            for n in count(start):
                save(n)
        time.sleep(chance.uniform(0, longest))
        os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        print("killed" if os.WIFSIGNALED(status) else "ended", flush=True)


def at_step(save: Save) -> None:
    """Kill a child before a step, if it comes so far."""
    for line in sys.stdin:
        step = int(line)
        child = os.fork()
        if not child:
            _die_before(step)
            save(step)
            os._exit(0)
        _, status = os.waitpid(child, 0)
        print("killed" if os.WIFSIGNALED(status) else "ended", flush=True)


def _die_before(step: int) -> None:
    done = count()

    def counted(call: Callable[..., Any]) -> Callable[..., Any]:
        def counting(*arguments: Any, **options: Any) -> Any:
            if next(done) == step:
                os.kill(os.getpid(), signal.SIGKILL)
            return call(*arguments, **options)

        return counting

    for name in STEPS:
        setattr(os, name, counted(getattr(os, name)))
    folders.exchange = counted(folders.exchange)
    write_new = files.write_new

    def torn(path: Path, data: bytes, **options: Any) -> None:
        if next(done) == step:
            path.write_bytes(data[: len(data) // 2])
            os.kill(os.getpid(), signal.SIGKILL)
        write_new(path, data, **options)

    files.write_new = torn


if __name__ == "__main__":
    how, kind, place = sys.argv[1:]
    with open(os.devnull, "w") as nowhere:
        sys.stderr = nowhere  # `new` says what it wrote
        saves = saving(kind, Path(place))
        at_step(saves) if how == "steps" else at_random(saves, LONGEST[kind])
