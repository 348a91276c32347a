"""``wellheard new``."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import Parameter

from wellheard.cli.exits import Exit

if TYPE_CHECKING:
    from wellheard.units import Unit


def new(
    file: Path,
    /,
    *,
    size: str | None = None,
    seats: int = 10,
    units: Literal["m", "ft"] = "m",
    force: Annotated[bool, Parameter(negative="")] = False,
) -> int:
    """Write a complete, valid starting document.

    Parameters
    ----------
    file
        Where to write it; by custom it ends in .room.yaml.
    size
        Length x width x height, such as 6.4x4.6x2.75, or 20x14x9 with --units ft.
    seats
        Seats around one table.
    units
        Unit of lengths in the document.
    force
        Replace a file that exists.
    """
    from wellheard.cli.output import say
    from wellheard.errors import InputError
    from wellheard.room import codec
    from wellheard.room.new import starting_document

    if file.exists() and not force:
        raise InputError(f"{file}: exists already; name another file, or add --force")
    usual = "20x14x9" if units == "ft" else "6.4x4.6x2.75"
    text = starting_document(_size(size or usual, units), seats, units)
    codec.parse(text, name=str(file))
    codec.save(file, text)
    say(f"{file}: written; next: wellheard design {shlex.quote(str(file))} -o FOLDER")
    return Exit.OK


def _size(text: str, unit: Unit) -> tuple[float, float, float]:
    from wellheard.errors import UsageError
    from wellheard.units import parse_length

    parts = text.replace("×", "x").replace("X", "x").split("x")
    try:
        long, wide, high = (parse_length(_number(part), unit=unit) for part in parts)
    except ValueError:
        raise UsageError(
            f"--size: {text!r} is no size; three lengths with x between them, as 6.4x4.6x2.75, or "
            "20x14x9 with --units ft"
        ) from None
    return (long, wide, high)


def _number(text: str) -> float | str:
    """A bare number as one, which has the document's unit; anything else says its own."""
    try:
        return float(text)
    except ValueError:
        return text.strip()
