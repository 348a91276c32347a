"""Files read within bounds, and saved whole or not at all.

What is saved goes to a file of its own beside the target, to the disk, and then takes the target's
name in one step. A process killed at any moment leaves the old one or the new one, whole; what it
left beside is cleared away by the next save there.

Whoever writes holds a shared lock on the folder. Clearing away needs the lock alone, so what is
found then belongs to nobody alive. Nothing is asked of a file system without locks but age.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import re
import secrets
import select
import stat
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from wellheard.errors import InputError

try:
    import fcntl as _fcntl
except ImportError:  # Windows
    fcntl: Any = None
else:
    fcntl = _fcntl

PATIENCE = 1.0
"""How long a pipe may be without a writer at first. [s]"""
STALE = 3600.0
"""Age at which leftovers are nobody's where folders cannot be locked. [s]"""
_LEFT = re.compile(r"\.wellheard-(new|put|old)-[0-9a-f]{12}-[0-9a-f]{12}")
_LINKLESS = (errno.EPERM, errno.ENOTSUP, errno.ENOSYS, errno.EMLINK)


# Reading ---------------------------------------------------------------------------------------


def read_bytes(path: str | os.PathLike[str], *, most: int, wanted: str) -> bytes:
    """What is in a file, up to one byte past a limit.

    Parameters
    ----------
    path : path
        A file; also a pipe that somebody writes to.
    most : int
        Bytes that are allowed. One more is returned where there are more, never all of them: a
        device may have no end.
    wanted : str
        What the file should have been, for messages: "a room document that can be read".

    Raises
    ------
    InputError
        It cannot be opened or read, or was changed meanwhile.
    """
    name = os.fspath(path)
    # To open a pipe plainly is to wait for its writer, perhaps for ever.
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    try:
        handle = os.open(path, flags)
    except (OSError, ValueError) as error:
        raise InputError(f"{name}: {reason(error)}; {wanted}") from None
    try:
        before = os.fstat(handle)
        data = b"".join(_pieces(handle, most))
        after = os.fstat(handle)
    except TimeoutError:
        raise InputError(f"{name}: a pipe that nobody writes to; {wanted}") from None
    except OSError as error:
        raise InputError(f"{name}: {reason(error)}; {wanted}") from None
    finally:
        os.close(handle)
    if stat.S_ISREG(before.st_mode) and _state(before) != _state(after):
        raise InputError(f"{name}: changed while it was read; run this again")
    return data


def _state(found: os.stat_result) -> tuple[int, int]:
    return found.st_size, found.st_mtime_ns


def _pieces(handle: int, most: int) -> Iterator[bytes]:
    """Bytes as they come, up to one past ``most``."""
    pipe = stat.S_ISFIFO(os.fstat(handle).st_mode)
    left, until, begun = most + 1, time.monotonic() + PATIENCE, not pipe
    while left:
        try:
            piece = os.read(handle, left)
        except BlockingIOError:  # there is a writer, who takes his time
            begun = True
            select.select([handle], [], [])
            continue
        if piece:
            begun = True
            left -= len(piece)
            yield piece
        elif begun:
            return
        elif time.monotonic() > until:
            raise TimeoutError
        else:
            time.sleep(0.02)


def reason(error: OSError | ValueError) -> str:
    """Why the system refused, in its words."""
    return str(getattr(error, "strerror", None) or error)


# Saving ----------------------------------------------------------------------------------------


def save(path: str | os.PathLike[str], data: bytes, *, replace: bool = True) -> None:
    """Write a file whole or not at all, whatever happens meanwhile.

    Parameters
    ----------
    path : path
        Written through a symbolic link to the file it leads to. Mode and owner of a file that
        exists are kept, where they can be.
    data : bytes
        What is to be in it.
    replace : bool
        Whether a file that exists may be replaced.

    Raises
    ------
    InputError
        It cannot be written, is write-protected or no plain file, or exists and may not be
        replaced. What was there is as it was.
    """
    name = os.fspath(path)
    try:
        target = Path(os.path.realpath(path))
        before = _replaceable(target, name, replace=replace)
        with writing_in(target.parent):
            fresh = beside(target, "new")
            try:
                write_new(fresh, data, like=before)
                _into_place(fresh, target, name, replace=replace)
            finally:
                with contextlib.suppress(OSError):
                    os.unlink(fresh)
    except (OSError, ValueError) as error:
        raise InputError(f"{name}: {reason(error)}; a folder that can be written to") from None


def _replaceable(target: Path, name: str, *, replace: bool) -> os.stat_result | None:
    try:
        found = os.lstat(target)
    except FileNotFoundError:
        return None
    if stat.S_ISLNK(found.st_mode):  # every link was followed: this one leads round in a circle
        raise OSError(errno.ELOOP, os.strerror(errno.ELOOP))
    if stat.S_ISDIR(found.st_mode):
        raise InputError(f"{name}: a folder of that name exists; name a file")
    if not stat.S_ISREG(found.st_mode):
        raise InputError(f"{name}: a device or pipe; name a file")
    if not replace:
        raise InputError(_taken(name))
    effective = os.access in os.supports_effective_ids
    if not os.access(target, os.W_OK, effective_ids=effective):
        raise InputError(f"{name}: is write-protected; name another file, or let it be written")
    return found


def _taken(name: str) -> str:
    return f"{name}: exists already; name another file, or say that it may be replaced"


def _into_place(fresh: Path, target: Path, name: str, *, replace: bool) -> None:
    if replace:
        os.replace(fresh, target)
    else:
        # Both refuse a name that is taken, even one that was taken a moment ago.
        once = os.rename if os.name == "nt" else os.link
        try:
            once(fresh, target)
        except FileExistsError:
            raise InputError(_taken(name)) from None
        except OSError as error:
            if error.errno not in _LINKLESS or os.path.lexists(target):
                raise
            os.replace(fresh, target)  # a file system without links, as on memory cards
    sync_folder(target.parent)


def write_new(path: Path, data: bytes, *, like: os.stat_result | None = None) -> None:
    """Write a file that did not exist; it is on the disk when this returns.

    Mode and owner are the usual ones, or those of another file.
    """
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    handle = os.open(path, flags, 0o666 if like is None else 0o600)
    with os.fdopen(handle, "wb") as file:
        file.write(data)
        file.flush()
        if like is not None:
            if os.name != "nt":
                with contextlib.suppress(OSError):
                    os.chown(path, like.st_uid, like.st_gid)
            os.chmod(path, stat.S_IMODE(like.st_mode))
        _to_disk(file.fileno())


def _to_disk(handle: int) -> None:
    full = getattr(fcntl, "F_FULLFSYNC", None)  # macOS: fsync stops at the drive's own memory
    if full is not None:
        with contextlib.suppress(OSError):
            fcntl.fcntl(handle, full)
            return
    os.fsync(handle)


def sync_folder(folder: Path) -> None:
    """Put the names in a folder on the disk, where folders can be opened."""
    with opened(folder) as handle:
        if handle is not None:
            os.fsync(handle)


# What is written beside, and whose it is -------------------------------------------------------


def beside(target: Path, kind: str) -> Path:
    """Name in the target's folder for what is to take its place.

    It is short whatever the target's name is, which may be as long as names can be.
    """
    return target.parent / f".wellheard-{kind}-{_mark(target)}-{secrets.token_hex(6)}"


def leftovers(target: Path, kind: str, *, older: float = 0.0) -> list[Path]:
    """What saves of this target left beside it."""
    start = f".wellheard-{kind}-{_mark(target)}-"
    return [p for p in _left_in(target.parent, older) if p.name.startswith(start)]


def _mark(target: Path) -> str:
    return hashlib.sha256(os.fsencode(target.name)).hexdigest()[:12]


def _left_in(folder: Path, older: float) -> list[Path]:
    latest = time.time() - older
    return [
        path
        for path in sorted(folder.iterdir())
        if _LEFT.fullmatch(path.name) and (not older or path.lstat().st_mtime < latest)
    ]


def _clear_files(folder: Path, older: float) -> None:
    for path in _left_in(folder, older):
        if stat.S_ISREG(path.lstat().st_mode):
            path.unlink()


@contextlib.contextmanager
def writing_in(folder: Path, clear: Callable[[float], None] | None = None) -> Iterator[None]:
    """Clear away what dead processes left, then keep others from clearing away what is written.

    Parameters
    ----------
    folder : Path
        Where something is to be written.
    clear : callable
        Clears more than files; told the age from which things may go. [s]
    """
    with opened(folder) as handle:
        alone = handle is not None and locked(handle, alone=True)
        shared = False
        if alone:
            with contextlib.suppress(OSError):
                _clear_files(folder, 0.0)
                if clear is not None:
                    clear(0.0)
        if handle is not None:
            shared = locked(handle, alone=False)
        if not shared:
            with contextlib.suppress(OSError):
                _clear_files(folder, STALE)
                if clear is not None:
                    clear(STALE)
        yield


@contextlib.contextmanager
def opened(folder: Path) -> Iterator[int | None]:
    """Handle of a folder; none where folders cannot be opened, or not by us."""
    if fcntl is None:
        yield None
        return
    try:
        handle = os.open(folder, os.O_RDONLY)
    except PermissionError:
        yield None
        return
    try:
        yield handle
    finally:
        os.close(handle)


def locked(handle: int, *, alone: bool) -> bool:
    """Lock a folder: alone without waiting, shared when nobody has it alone any more."""
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB if alone else fcntl.LOCK_SH)
    except OSError:  # others write, or the file system has no locks
        return False
    return True
