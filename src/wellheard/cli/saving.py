"""What commands that write a document share: where it goes, and how long they may search."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from wellheard.errors import UsageError

if TYPE_CHECKING:
    from wellheard.workflow.load import Loaded


def target(room: Path, output: Path | None, *, in_place: bool) -> Path | None:
    """File that the document goes to; None is stdout.

    Raises
    ------
    UsageError
        Two places are given.
    """
    if output is not None and in_place:
        raise UsageError("--output and --in-place: give one of them")
    return room if in_place else output


def some_seconds(time_limit: float) -> None:
    """Refuse a limit that leaves no time.

    Raises
    ------
    UsageError
        It is no more than 0 s.
    """
    if not time_limit > 0:
        raise UsageError(f"--time-limit: {time_limit:g} s; more than 0 s is allowed")


def save(loaded: Loaded, text: str, path: Path | None) -> None:
    """Write a document, unless it goes to stdout.

    Where that is the file that was read, what somebody has written to it meanwhile is kept.
    """
    from wellheard.room import codec

    if path is not None:
        same = path.exists() and path.samefile(loaded.document.name)
        codec.save(path, text, read_as=loaded.document if same else None)
