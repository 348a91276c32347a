"""The room documents of a folder, by name, without opening any."""

from __future__ import annotations

import hashlib
import os
import re
import stat
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import count
from pathlib import Path

from wellheard.errors import InputError, visible
from wellheard.files import reason

ENDING = ".room.yaml"
DEEPEST = 3
"""Folders below the one that is listed."""
MOST_ROOMS = 2000
MOST_LOOKED_AT = 50_000
"""Names that are looked at before the search is given up."""
LONGEST_STEM = 60
"""Characters of a file's name that is made from a title."""
_PLAIN = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_DEVICES = re.compile(r"con|prn|aux|nul|com[0-9]|lpt[0-9]")
"""Names that no file of Windows can have, whatever their ending [M]."""


@dataclass(frozen=True, slots=True)
class Found:
    """One name that ends as a room document's.

    Attributes
    ----------
    key : str
        How an address names it: letters, digits, hyphens and a tilde.
    place : str
        From the top of the folder, with slashes.
    path : Path
        As listed; what it leads to is inside the folder.
    real : Path
        Links resolved.
    problem : str
        Why it is no file that can be read; empty if it is one.
    stamp : tuple of int
        Changes whenever the file does.
    """

    key: str
    place: str
    path: Path
    real: Path
    problem: str
    stamp: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Listing:
    """What a folder has.

    Attributes
    ----------
    rooms : tuple of Found
        By place.
    complete : bool
        Whether there were no more than are listed.
    """

    rooms: tuple[Found, ...]
    complete: bool


def listing(folder: Path) -> Listing:
    """Room documents of a folder and of those in it, hidden ones and links to folders left out.

    Parameters
    ----------
    folder : Path
        Links resolved.

    Raises
    ------
    InputError
        It cannot be looked into.
    """
    rooms: list[Found] = []
    for looked_at, entry in enumerate(_entries(folder)):
        if len(rooms) == MOST_ROOMS or looked_at == MOST_LOOKED_AT:
            return Listing(tuple(sorted(rooms, key=lambda r: r.place)), complete=False)
        if entry is not None:
            rooms.append(_found(folder, entry))
    return Listing(tuple(sorted(rooms, key=lambda r: r.place)), complete=True)


def _entries(folder: Path) -> Iterator[os.DirEntry[str] | None]:
    """Rooms level by level; nothing for every other name."""
    level = [str(folder)]
    for depth in range(DEEPEST + 1):
        below = []
        for path in level:
            try:
                with os.scandir(path) as names:
                    entries = sorted(names, key=lambda e: e.name)
            except OSError as error:
                if depth == 0:
                    raise InputError(
                        f"{folder}: {reason(error)}; a folder of room documents"
                    ) from None
                continue  # a folder that is gone by now, or somebody else's
            for entry in entries:
                if entry.name.startswith("."):
                    yield None
                elif _is_folder(entry):
                    below.append(entry.path)
                    yield None
                else:
                    yield entry if entry.name.endswith(ENDING) else None
        level = below


def _is_folder(entry: os.DirEntry[str]) -> bool:
    try:
        return entry.is_dir(follow_symlinks=False)
    except OSError:
        return False


def _found(folder: Path, entry: os.DirEntry[str]) -> Found:
    path = Path(entry.path)
    place = path.relative_to(folder).as_posix()
    real, problem = path, ""
    stamp: tuple[int, ...] = ()
    if not _is_text(place):
        return Found(key_of(place), visible(place), path, path, "a name that is no text", ())
    try:
        if entry.is_symlink():
            real = Path(os.path.realpath(path))
            if not real.is_relative_to(folder):
                # What it leads to is not even looked at.
                return Found(key_of(place), place, path, path, "a link out of this folder", ())
        found = os.stat(real)
        stamp = (found.st_ino, found.st_size, found.st_mtime_ns, found.st_ctime_ns)
        if not stat.S_ISREG(found.st_mode):
            problem = "no plain file"
    except FileNotFoundError:
        problem = "a link that leads nowhere" if entry.is_symlink() else "gone"
    except OSError as error:
        problem = reason(error)
    return Found(key_of(place), place, path, real, problem, stamp)


def _is_text(place: str) -> bool:
    try:
        place.encode()
    except UnicodeEncodeError:  # bytes that are no UTF-8
        return False
    return True


def key_of(place: str) -> str:
    """How an address names the file at a place.

    Examples
    --------
    >>> key_of("ferry-room.room.yaml"), key_of("2 Nord/Ferry.room.yaml")
    ('ferry-room', '2-nord-ferry~8fa023844930')
    """
    stem = place.removesuffix(ENDING)
    if _PLAIN.fullmatch(stem):
        return stem
    return f"{slug(stem)}~{hashlib.sha256(os.fsencode(place)).hexdigest()[:12]}"


def slug(title: str) -> str:
    """Name for a file made from a title: small letters, digits and hyphens, never a path.

    Examples
    --------
    >>> slug("Ferry Room, 2nd floor"), slug("../../etc/passwd"), slug("会議室"), slug("con")
    ('ferry-room-2nd-floor', 'etc-passwd', 'room', 'room-con')
    """
    letters = unicodedata.normalize("NFKD", title[:500].casefold())
    bare = "".join(c for c in letters if unicodedata.category(c) != "Mn")  # ü is u and its dots
    plain = re.sub(r"[^a-z0-9]+", "-", bare).strip("-")[:LONGEST_STEM].rstrip("-")
    if not plain or _DEVICES.fullmatch(plain):
        return f"room-{plain}".rstrip("-")
    return plain


def names(stem: str) -> Iterator[str]:
    """Names of files to try one after the other until one is free.

    Examples
    --------
    >>> from itertools import islice
    >>> list(islice(names("tide"), 2))
    ['tide.room.yaml', 'tide-2.room.yaml']
    """
    yield f"{stem}{ENDING}"
    for number in count(2):
        yield f"{stem}-{number}{ENDING}"
