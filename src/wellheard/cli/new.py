"""``wellheard new``."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import Annotated, Literal

from cyclopts import Parameter

from wellheard.cli.exits import Exit


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
    from wellheard.cli.sizes import room_size
    from wellheard.errors import InputError
    from wellheard.room import codec
    from wellheard.room.new import starting_document

    if file.exists() and not force:
        raise InputError(f"{file}: exists already; name another file, or add --force")
    usual = "20x14x9" if units == "ft" else "6.4x4.6x2.75"
    text = starting_document(room_size(size or usual, units), seats, units)
    codec.parse(text, name=str(file))
    codec.save(file, text, replace=force)
    say(f"{file}: written; next: wellheard design {shlex.quote(str(file))} -o FOLDER")
    return Exit.OK
