"""Folders replaced whole or not at all.

A folder is built beside its target, put on the disk, and exchanged with the target in one step
where the system can do that; else in two, between which the old one can be recovered. Names tell
what a killed process left: ``new`` is half built, ``put`` is whole or the one before it, ``old`` is
the one before, on its way out.
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import os
import shutil
import stat
import sys
from collections.abc import Callable, Mapping
from pathlib import Path, PurePosixPath

from wellheard import files
from wellheard.errors import InputError

Check = Callable[[Path], None]
"""Raises InputError where replacing a folder would lose something."""

_EXCHANGE = 2
_HERE = -100
_CANNOT = (errno.EINVAL, errno.ENOSYS, errno.ENOTSUP, errno.EXDEV, errno.EPERM)
_OVERTAKEN = (errno.ENOENT, errno.EEXIST, errno.ENOTEMPTY)
_TRIES = 50


def save_folder(
    folder: str | os.PathLike[str], contents: Mapping[str, bytes], *, last: str, check: Check
) -> None:
    """Write files as a whole folder in place of what was there, or leave that as it was.

    Parameters
    ----------
    folder : path
        Its parents are made if need be.
    contents : mapping of str to bytes
        Files by name; folders inside are parted by ``/``.
    last : str
        The file that tells what belongs to the folder, such as a manifest: written last, and
        deleted last.
    check : callable
        Asked of the old folder once more when it has given its place, since somebody may have put
        something there meanwhile; and of everything before it is deleted.

    Raises
    ------
    InputError
        The folder cannot be written, or the old one must not go.
    """
    target = Path(os.path.realpath(folder))
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        with files.writing_in(target.parent, lambda older: _clear(target, last, check, older)):
            fresh, whole = files.beside(target, "new"), files.beside(target, "put")
            try:
                _build(fresh, contents, last, like=target)
                os.rename(fresh, whole)
                _give_place(whole, target, check)
            finally:
                shutil.rmtree(fresh, ignore_errors=True)
                with contextlib.suppress(OSError):
                    _delete(whole, last, check)
    except (OSError, ValueError) as error:
        raise InputError(
            f"{os.fspath(folder)}: {files.reason(error)}; a folder that can be written"
        ) from None


def _build(fresh: Path, contents: Mapping[str, bytes], last: str, *, like: Path) -> None:
    fresh.mkdir(0o777)
    inner = {parent for name in contents for parent in PurePosixPath(name).parents[:-1]}
    for parent in sorted(inner):
        (fresh / parent).mkdir(0o777)
    for name in [*(n for n in contents if n != last), last]:
        files.write_new(fresh / name, contents[name])
    for parent in sorted(inner, reverse=True):
        files.sync_folder(fresh / parent)
    with contextlib.suppress(FileNotFoundError):
        fresh.chmod(stat.S_IMODE(like.stat().st_mode))
    files.sync_folder(fresh)


def _give_place(whole: Path, target: Path, check: Check) -> None:
    """Put a folder in place; the one that was there, if any, has its name afterwards."""
    for _ in range(_TRIES):
        try:
            if not os.path.lexists(target):
                os.rename(whole, target)
            elif not exchange(whole, target):
                _in_two_steps(whole, target, check)
            else:
                _keep_if_refused(whole, target, check)
        except OSError as error:
            # Another save came between the look and the step.
            if error.errno in _OVERTAKEN and whole.exists():
                continue
            raise
        files.sync_folder(target.parent)
        return
    raise OSError(errno.EBUSY, os.strerror(errno.EBUSY))


def _keep_if_refused(whole: Path, target: Path, check: Check) -> None:
    try:
        check(whole)
    except InputError:
        exchange(whole, target)
        check(target)  # says it with the name that people know
        raise


def _in_two_steps(whole: Path, target: Path, check: Check) -> None:
    """Where two folders cannot exchange names; in between, `recover` finds the old one."""
    old = files.beside(target, "old")
    os.rename(target, old)
    try:
        check(old)
        os.rename(whole, target)
    except BaseException:
        if not os.path.lexists(target):
            os.rename(old, target)
            check(target)
        raise
    with contextlib.suppress(FileNotFoundError):  # cleared away already, where nothing locks
        os.rename(old, whole)


def exchange(one: Path, other: Path) -> bool:
    """Let two paths exchange their names in one step; false where the system cannot.

    Linux since 3.15 and macOS since 10.12 can, on most of their file systems.
    """
    first, second = os.fsencode(one), os.fsencode(other)
    try:
        library = ctypes.CDLL(None, use_errno=True)
        if sys.platform == "darwin":
            code = library.renamex_np(first, second, _EXCHANGE)
        else:
            code = library.renameat2(_HERE, first, _HERE, second, _EXCHANGE)
    except (AttributeError, OSError, TypeError):
        return False
    if code == 0:
        return True
    number = ctypes.get_errno()
    if number in _CANNOT:
        return False
    raise OSError(number, os.strerror(number))


def recover(folder: str | os.PathLike[str]) -> bool:
    """Give a folder its name back that a killed save left without; whether there was one."""
    target = Path(os.path.realpath(folder))
    if os.path.lexists(target) or not target.parent.is_dir():
        return False
    with contextlib.suppress(OSError), files.opened(target.parent) as handle:
        if handle is None:
            return _named_again(target, files.STALE)
        if files.locked(handle, alone=True):
            return _named_again(target, 0.0)
    return False


def _named_again(target: Path, older: float) -> bool:
    for old in files.leftovers(target, "old", older=older)[:1]:
        if not os.path.lexists(target):
            os.rename(old, target)
            return True
    return False


def _clear(target: Path, last: str, check: Check, older: float) -> None:
    """Clear away what killed saves of this target left; what must not go stays."""
    _named_again(target, older)
    for half in files.leftovers(target, "new", older=older):
        shutil.rmtree(half, ignore_errors=True)
    for kind in ("put", "old"):
        for path in files.leftovers(target, kind, older=older):
            _delete(path, last, check)


def _delete(folder: Path, last: str, check: Check) -> None:
    """Delete a folder if that loses nothing, so that it can be told at any moment what it is."""
    if not os.path.lexists(folder):
        return
    try:
        check(folder)
    except InputError:
        return
    for path in folder.iterdir():
        if path.is_dir() and not path.is_symlink():
            shutil.rmtree(path)
        elif path.name != last:
            path.unlink()
    (folder / last).unlink(missing_ok=True)
    folder.rmdir()
