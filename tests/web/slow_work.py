"""Functions that the jobs of the tests run, each in a process of its own."""

from __future__ import annotations

import os
import signal
import sys
import time
from collections.abc import Callable
from pathlib import Path

from wellheard.errors import InputError

Say = Callable[[str], None]


def counted(to: int, *, say: Say) -> int:
    for number in range(1, to + 1):
        say(f"{number} of {to}")
    return to


def process_number(*, say: Say) -> int:
    return os.getpid()


def refused(*, say: Say) -> None:
    raise InputError("choices: no microphone is left; allow one")


def broken(*, say: Say) -> None:
    raise ZeroDivisionError("of nothing")


def until_there(flag: str, started: str, *, say: Say) -> str:
    """Wait, deaf to everything but a file, as a solver is."""
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    Path(started).write_text(str(os.getpid()))
    say("waiting")
    while not Path(flag).exists():
        time.sleep(0.01)
    return "there"


def patient(text: str, path: str, version: int = 0, *, say: Say) -> None:
    """Longer than anybody waits; to be ended."""
    time.sleep(600)


def killed(*, say: Say) -> None:
    say("about to die")
    os.kill(os.getpid(), signal.SIGKILL)


def gone(*, say: Say) -> None:
    os._exit(3)


def unpicklable(*, say: Say) -> object:
    return lambda: None


def huge(*, say: Say) -> bytes:
    return bytes(65 * 2**20)


def chatty(*, say: Say) -> None:
    for number in range(1000):
        say(f"{number} " + "x" * 1000)


def at_hand(*, say: Say) -> list[str]:
    """What is loaded before anything was asked for."""
    return [name for name in sys.modules if name.startswith("wellheard.")]
