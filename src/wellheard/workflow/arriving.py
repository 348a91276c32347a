"""Recordings on their way in, piece by piece, in the folder that they are to stay in.

Nothing of them is ever anywhere else: a recording may hold voices. What was left half sent goes
with the next one, or with the session.
"""

from __future__ import annotations

import contextlib
import os
import re
import time
from pathlib import Path

from wellheard.errors import InputError
from wellheard.files import STALE, reason

LARGEST = 500_000_000
"""Of a recording that comes in pieces; ten minutes of 24 bit at 48 kHz have 86 MB. [byte]"""
MOST = 8
"""Recordings on their way at a time."""
KEY = re.compile(r"[A-Za-z0-9-]{8,64}")
_BEGINNING = ".arriving-"


def put_piece(folder: Path, key: str, at: int, data: bytes) -> int:
    """Write the next piece of a recording; returns how much of it is there. [byte]

    A piece that is sent again, because its answer was lost, changes nothing.

    Parameters
    ----------
    folder : Path
        Of the session.
    key : str
        Names the recording as long as it is on its way.
    at : int
        Where the piece begins; 0 begins anew. [byte]
    data : bytes
        The piece.

    Raises
    ------
    InputError
        It does not follow on what is there, is too much, or cannot be written.
    """
    path = _path(folder, key)
    if at + len(data) > LARGEST:
        raise InputError(
            f"a recording of more than {LARGEST / 1e6:g} MB; put its file into the folder of the "
            "session, and name it in session.yaml"
        )
    try:
        if at == 0:
            _make_room(folder)
            path.unlink(missing_ok=True)
        there = path.stat().st_size if path.exists() else 0
        if at + len(data) <= there:
            return there
        if at != there:
            raise InputError(f"a piece from byte {at:,} after {there:,} bytes; send it again whole")
        with path.open("xb" if at == 0 else "ab") as file:
            file.write(data)
    except OSError as error:
        raise InputError(f"{folder}: {reason(error)}; a folder that can be written to") from None
    return at + len(data)


def arrived(folder: Path, key: str, size: int) -> Path:
    """Where a recording lies that has come whole.

    Raises
    ------
    InputError
        It has not.
    """
    path = _path(folder, key)
    there = path.stat().st_size if path.is_file() else 0
    if there != size or not size:
        raise InputError(f"{there:,} of {size:,} bytes have arrived; send it again")
    return path


def forget(folder: Path, key: str) -> None:
    """Let go of a recording that is not wanted after all."""
    with contextlib.suppress(OSError):
        _path(folder, key).unlink(missing_ok=True)


def _path(folder: Path, key: str) -> Path:
    if not KEY.fullmatch(key):
        raise InputError("no key of a recording on its way; 8 to 64 letters and digits")
    return folder / f"{_BEGINNING}{key}"


def _make_room(folder: Path) -> None:
    """Clear away what was given up, and refuse more than there may be at a time."""
    waiting = list(folder.glob(f"{_BEGINNING}*"))
    for path in waiting:
        with contextlib.suppress(OSError):
            if path.lstat().st_mtime < time.time() - STALE:
                os.unlink(path)
    if sum(path.exists() for path in waiting) >= MOST:
        raise InputError(f"{MOST} recordings are on their way already; wait until they are there")
