"""A user's own products: where their files lie, and the catalogue that they make.

Files of products are read from two places: beside the room document, so that a room and its
products travel together, and from the user's own catalogue, a folder that ``wellheard catalog
add`` copies into. An entry of either joins the shipped ones; none ever takes another's place.
"""

from __future__ import annotations

import contextlib
import dataclasses
import datetime
import os
import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from wellheard import files
from wellheard.catalog.catalogue import Catalogue, Space
from wellheard.catalog.entries import Entries, is_products_file, read_entries
from wellheard.catalog.own import implausible, join
from wellheard.catalog.products import Product
from wellheard.errors import CatalogError, InputError, Problem
from wellheard.room.document import Room

FOLDER_VARIABLE = "WELLHEARD_CATALOGUE"


def own_folder() -> Path:
    """Folder of the user's own catalogue, whether it is there or not.

    ``WELLHEARD_CATALOGUE`` names it. Without that it lies where the platform keeps a user's data:
    ``$XDG_DATA_HOME`` or ``~/.local/share``, on macOS ``~/Library/Application Support``, on
    Windows ``%LOCALAPPDATA%``.
    """
    named = os.environ.get(FOLDER_VARIABLE, "")
    if named:
        return Path(named)
    if sys.platform == "win32":
        base = os.environ.get("LOCALAPPDATA") or os.path.expanduser(r"~\AppData\Local")
    elif sys.platform == "darwin":
        base = os.path.expanduser("~/Library/Application Support")
    else:
        base = os.environ.get("XDG_DATA_HOME", "")
        # A relative path there is to be ignored (XDG Base Directory Specification 0.8).
        if not os.path.isabs(base):
            base = os.path.expanduser("~/.local/share")
    return Path(base) / "wellheard" / "catalogue"


def files_in(folder: str | os.PathLike[str]) -> tuple[Path, ...]:
    """Files of products in a folder, by name; none if there is no such folder.

    Raises
    ------
    InputError
        It is there but cannot be looked into.
    """
    try:
        names = sorted(entry.name for entry in os.scandir(folder))
    except FileNotFoundError:
        return ()
    except OSError as error:
        raise InputError(
            f"{os.fspath(folder)}: {files.reason(error)}; a folder whose files of products can "
            "be read"
        ) from None
    return tuple(Path(folder) / name for name in names if is_products_file(name))


def stamp_of_files(beside: Iterable[Path]) -> tuple[tuple[str, int, int], ...]:
    """What changes whenever a file of products does, in the user's own catalogue or in a folder.

    Parameters
    ----------
    beside : iterable of Path
        Folders of rooms.
    """
    found = set()
    for folder in (own_folder(), *beside):
        with contextlib.suppress(InputError, OSError):
            for path in files_in(folder):
                about = path.stat()
                found.add((str(path), about.st_mtime_ns, about.st_size))
    return tuple(sorted(found))


def read_all(paths: Iterable[str | os.PathLike[str]]) -> tuple[Entries, ...]:
    """Entries of files, or every problem of all of them.

    Raises
    ------
    CatalogError
        Something in one of them is no data sheet.
    InputError
        One cannot be opened.
    """
    read: list[Entries] = []
    wrong: list[CatalogError] = []
    for path in paths:
        try:
            read.append(read_entries(path))
        except CatalogError as error:
            wrong.append(error)
    if wrong:
        raise CatalogError("\n".join(map(str, wrong)), [p for one in wrong for p in one.problems])
    return tuple(read)


def own_entries(beside: str | os.PathLike[str] | None = None) -> tuple[Entries, ...]:
    """Files of the user's own catalogue, and of a room's folder where one is given.

    Raises
    ------
    InputError
        One of them cannot be read.
    CatalogError
        It can, but is not understood.
    """
    paths = list(files_in(own_folder()))
    if beside is not None:
        paths += files_in(beside)
    return read_all(paths)


def own_catalogue(beside: str | os.PathLike[str] | None = None) -> Catalogue:
    """Shipped catalogue with the user's own, and with what lies in a room's folder.

    Parameters
    ----------
    beside : path, optional
        Folder of a room document.

    Raises
    ------
    InputError, CatalogError
        As in `own_entries`; also an id that is taken.
    """
    return join(Catalogue.shipped(), own_entries(beside))


def companions(room: Room, catalogue: Catalogue, own: Iterable[Entries]) -> dict[str, bytes]:
    """Files of products that a room cannot be read without, by the name to save them under.

    Parameters
    ----------
    room : Room
        Its finishes, products and cables are looked up.
    catalogue : Catalogue
        In which they are.
    own : iterable of Entries
        The user's files that have joined it.
    """
    by_path = {one.file: one for one in own}
    spaces: dict[str, Space] = {"finish": "finish", "product": "product", "cable": "cable"}
    wanted: list[tuple[Space, str]] = [(spaces[k], name) for _, k, name in room.references()]
    taken: dict[str, Entries] = {}
    while wanted:
        space, name = wanted.pop()
        origin = catalogue.origin(name, space)
        if origin is None or origin.file in taken:
            continue
        # A file comes whole, so what its other entries need comes along.
        file = taken[origin.file] = by_path[origin.file]
        for entry in file:
            if isinstance(entry, Product):
                wanted += [("accessory", p) for f in entry.fittings for p in f.accessories]
                wanted += [("product", entry.successor)] if entry.successor else []
    named: dict[str, bytes] = {}
    for one in sorted(taken.values(), key=lambda e: e.file):
        name = Path(one.file).name
        while name in named:
            name = f"more-{name}"
        named[name] = one.raw
    return named


@dataclass(frozen=True)
class Checked:
    """Files of products, read and looked through.

    Attributes
    ----------
    files : tuple of Entries
        As read, with the defaults that each took.
    implausible : tuple of Problem
        What is out of range or inconsistent.
    catalogue : Catalogue
        Shipped and own entries, and those of the files.
    """

    files: tuple[Entries, ...]
    implausible: tuple[Problem, ...]
    catalogue: Catalogue


def check(
    paths: Sequence[str | os.PathLike[str]], *, today: datetime.date, update: bool = False
) -> Checked:
    """Read files of products and look them through, together with the user's own catalogue.

    Parameters
    ----------
    paths : sequence of paths
        Files of products.
    today : date
        Prices dated later are told.
    update : bool
        Whether they are to take the places of files of the same names in the user's own catalogue.

    Raises
    ------
    InputError, CatalogError
        As in `own_catalogue`.
    """
    read = read_all(paths)
    digests = {one.digest for one in read}
    names = {Path(one.file).name for one in read} if update else set[str]()
    own = files_in(own_folder())
    kept = read_all(path for path in own if path.name not in names)
    old = [entries for path in own if path.name in names if (entries := _earlier(path))]
    kept = tuple(one for one in kept if one.digest not in digests)
    before = join(Catalogue.shipped(), [*kept, *(one for one in old if one.digest not in digests)])
    catalogue = join(Catalogue.shipped(), [*kept, *read])
    found = implausible(catalogue, read, before=before, today=today)
    return Checked(read, found, catalogue)


@dataclass(frozen=True)
class Added:
    """Where a file of products is now.

    Attributes
    ----------
    path : Path
        In the user's own catalogue.
    before : bool
        It was there already, the same to the byte.
    replaced : bool
        A file of that name, which said something else, was there before.
    changes : tuple of Change
        What is different since then.
    """

    path: Path
    before: bool
    replaced: bool = False
    changes: tuple[Change, ...] = ()


@dataclass(frozen=True)
class Change:
    """An entry that a file says differently from an earlier one of its name.

    Attributes
    ----------
    id : str
    what : str
        ``changed``, ``new`` or ``gone``.
    fields : tuple of str
        That are changed.
    """

    id: str
    what: Literal["changed", "new", "gone"]
    fields: tuple[str, ...] = ()


def _earlier(path: Path) -> Entries | None:
    """Entries of a file that is to be replaced; None where it cannot be understood."""
    try:
        return read_entries(path)
    except CatalogError:
        return None


def _changes(old: Entries | None, new: Entries) -> tuple[Change, ...]:
    if old is None:
        return ()
    before, after = (
        {(kind, entry.id): entry for kind, entries in one.collections.items() for entry in entries}
        for one in (old, new)
    )
    found = []
    for key, entry in after.items():
        if key not in before:
            found.append(Change(entry.id, "new"))
        elif before[key] != entry:
            differ = tuple(
                one.name
                for one in dataclasses.fields(entry)
                if getattr(before[key], one.name) != getattr(entry, one.name)
            )
            found.append(Change(entry.id, "changed", differ))
    return (*found, *(Change(key[1], "gone") for key in before if key not in after))


def add(checked: Checked, *, update: bool = False) -> tuple[Added, ...]:
    """Copy files that were checked into the user's own catalogue.

    Parameters
    ----------
    checked : Checked
        Of files that were checked with the same ``update``.
    update : bool
        Whether a file may take the place of another of its name, which is replaced at once and
        whole; without it none is ever copied over another.

    Raises
    ------
    InputError
        A file of that name is there and says something else, or the folder cannot be written to;
        none is copied then.
    """
    folder = own_folder()
    replaceable = {Path(one.file).name for one in checked.files} if update else set[str]()
    there = {p.name: read_entries(p) for p in files_in(folder) if p.name not in replaceable}
    old = {p.name: p for p in files_in(folder) if p.name in replaceable}
    planned: dict[str, Entries] = {}
    for one in checked.files:
        name = Path(one.file).name
        other = planned.get(name) or there.get(name)
        if other is not None and other.digest != one.digest:
            raise InputError(
                f"{one.file}: {other.file} is another file of that name; rename one of them, or "
                "say --update where it is to take the place of yours; nothing was added"
            )
        planned[name] = one
    known = {one.digest: path for path, one in ((folder / n, e) for n, e in there.items())}
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(f"{folder}: {files.reason(error)}; a folder for your products") from None
    added = []
    for name, one in planned.items():
        at = known.get(one.digest)
        if name in old:
            added.append(_replaced(old[name], one))
            continue
        if at is None:
            files.save(folder / name, one.raw, replace=False)
        added.append(Added(at or folder / name, at is not None))
    return tuple(added)


def _replaced(path: Path, one: Entries) -> Added:
    """Put a file in the place of an earlier one of its name."""
    old = _earlier(path)
    if old is not None and old.digest == one.digest:
        return Added(path, before=True)
    files.save(path, one.raw)
    return Added(path, before=False, replaced=True, changes=_changes(old, one))
