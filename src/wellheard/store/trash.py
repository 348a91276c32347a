"""Files taken out of the way: moved in one step, kept, and brought back under a free name."""

from __future__ import annotations

import contextlib
import os
import secrets
import stat
import time
from collections.abc import Iterator
from pathlib import Path

from wellheard.errors import InputError
from wellheard.files import read_bytes, reason, sync_folder, write_new
from wellheard.store.journal import HIDDEN

TRASH = f"{HIDDEN}/trash"
_LARGEST = 1 << 30


def new_place(name: str) -> str:
    """Place in the trash, from the folder's top, that nothing has yet.

    Examples
    --------
    >>> new_place("tide.room.yaml")  # doctest: +ELLIPSIS
    '.wellheard/trash/...-tide.room.yaml'
    """
    stamp = time.strftime("%Y%m%d-%H%M%S", time.gmtime())
    return f"{TRASH}/{stamp}-{secrets.token_hex(4)}-{name[-150:]}"


def into_trash(folder: Path, source: Path, place: str) -> None:
    """Move a file, or a link itself, into the trash of a folder; it is on the disk as this returns.

    Raises
    ------
    InputError
        It cannot be moved; everything is as it was.
    """
    target = folder / place
    with _said(source):
        _make(folder)
        os.rename(source, target)
        sync_folder(target.parent)
        sync_folder(source.parent)


def out_of_trash(folder: Path, place: str, target: Path) -> bool:
    """Move a file back, unless its name is taken; whether it was free.

    Raises
    ------
    InputError
        It cannot be moved; everything is as it was.
    """
    source = folder / place
    with _said(target):
        try:
            # Refuses a name that was taken a moment ago, as renaming does not.
            os.link(source, target, follow_symlinks=False)
        except FileExistsError:
            return False
        except OSError:
            if os.path.lexists(target):
                return False
            os.rename(source, target)
        else:
            os.unlink(source)
        sync_folder(target.parent)
        sync_folder(source.parent)
    return True


def keep_aside(folder: Path, source: Path) -> None:
    """Keep what is about to be overwritten: a copy of a file, anything else itself.

    Raises
    ------
    InputError
        It cannot be kept; everything is as it was.
    """
    with _said(source):
        try:
            found = os.lstat(source)
        except FileNotFoundError:
            return
        place = new_place(source.name)
        if not stat.S_ISREG(found.st_mode):
            into_trash(folder, source, place)
            return
        _make(folder)
        target = folder / place
        # Never a second name for the same file: who has it open would go on writing into it.
        data = read_bytes(source, most=_LARGEST, wanted="a file that can be kept")
        write_new(target, data)
        sync_folder(target.parent)


def _make(folder: Path) -> None:
    trash = folder / TRASH
    if trash.is_symlink():
        raise InputError(f"{trash}: is a link; move it away, a folder of that name is made")
    with contextlib.suppress(FileExistsError):
        trash.mkdir()
        sync_folder(trash.parent)


@contextlib.contextmanager
def _said(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise InputError(f"{path}: {reason(error)}; a folder that can be written to") from None
