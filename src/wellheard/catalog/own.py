"""A user's own entries joined to a catalogue: nothing is replaced, nothing hangs loose."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import PurePath
from typing import Any, TypeAlias

from wellheard.catalog import plausibility
from wellheard.catalog.catalogue import Catalogue, Origin, Space
from wellheard.catalog.datasheets import Entry, kind_of
from wellheard.catalog.entries import Entries
from wellheard.catalog.products import Product
from wellheard.errors import CatalogError, Problem
from wellheard.forms.refusals import near

_SPACES: Mapping[str, Space] = {
    "finishes": "finish",
    "accessories": "accessory",
    "cables": "cable",
}
_FIELDS: Mapping[str, tuple[str | int, ...]] = {
    "width": ("size", 0),
    "depth": ("size", 1),
    "height": ("size", 2),
    "drop": ("drops",),
    "hangs": ("drops",),
    "rated": ("rated_distances",),
    "elevation_deg": ("elements",),
    "azimuth_deg": ("elements",),
    "pattern_a": ("elements",),
    "directivity": ("beam",),
    "steer_limit_deg": ("beam",),
    "labour": ("fittings",),
}
"""Field of a data sheet by the first word of what is said of it, where that is not its name."""
_Key: TypeAlias = tuple[Space, str]


def space_of(kind: str) -> Space:
    """What ids of a collection are unique in."""
    return _SPACES.get(kind, "product")


def join(catalogue: Catalogue, files: Iterable[Entries]) -> Catalogue:
    """Catalogue with the entries of files, each with its origin.

    Parameters
    ----------
    catalogue : Catalogue
        Shipped, or with other entries of the user's.
    files : iterable of Entries
        A file that is there twice, by its bytes, counts once.

    Raises
    ------
    CatalogError
        An id is taken, or an entry names an accessory or successor that there is not: every
        problem, with both places where there are two.

    Examples
    --------
    >>> from wellheard.catalog.entries import parse_entries
    >>> rows = "id,name,price,currency\\nsafety-bond,Our bond,9,EUR\\n"
    >>> join(Catalogue.shipped(), [parse_entries(rows, name="ours.accessories.csv")])
    Traceback (most recent call last):
    ...
    wellheard.errors.CatalogError: ours.accessories.csv:2:1: accessories.safety-bond: a shipped \
accessory has that id; choose another id, nothing is ever replaced
    """
    files = list(files)
    if not files:
        return catalogue
    once = list({one.digest: one for one in reversed(files)}.values())[::-1]
    problems: list[Problem] = []
    places = _shipped_places(catalogue)
    for one in once:
        for kind, entry in _entries(one):
            key = (space_of(kind), entry.id)
            if key in places:
                problems.append(_taken(one, kind, entry, places[key]))
            else:
                places[key] = Origin(*key, one.file, one.line(kind, entry))
    for one in once:
        for kind, entry in _entries(one):
            problems += _loose(one, kind, entry, places)
    if problems:
        order = {one.file: number for number, one in enumerate(once)}
        problems.sort(key=lambda p: (order[p.file], p.line, p.column))
        raise CatalogError("\n".join(map(str, problems)), problems)
    for one in once:
        collections: dict[str, Any] = dict(one.collections)
        catalogue = catalogue.with_entries(
            **collections,
            own=[
                origin
                for kind, entry in _entries(one)
                if (origin := places[space_of(kind), entry.id]) is not None
            ],
        )
    return catalogue


def _entries(one: Entries) -> Iterator[tuple[str, Entry]]:
    for kind, entries in one.collections.items():
        for entry in entries:
            yield kind, entry


def _shipped_places(catalogue: Catalogue) -> dict[_Key, Origin | None]:
    """Every id that is taken, with its place where a user's file has it."""
    every: Sequence[Entry] = (
        *catalogue.finishes,
        *catalogue.products,
        *catalogue.accessories,
        *catalogue.cables,
    )
    keys = [(space_of(kind_of(entry)), entry.id) for entry in every]
    return {(space, name): catalogue.origin(name, space) for space, name in keys}


def _taken(one: Entries, kind: str, entry: Entry, by: Origin | None) -> Problem:
    if by is None:
        what = f"a shipped {space_of(kind)} has that id"
        return one.problem(kind, entry, what, "choose another id, nothing is ever replaced")
    allowed = "choose another id, or delete one of the two files"
    if PurePath(by.file).name == PurePath(one.file).name:
        allowed = (
            f"delete it, or put this file in its place: wellheard catalog add --update {one.file}"
        )
    return one.problem(kind, entry, f"{by} has that id", allowed)


def _loose(
    one: Entries, kind: str, entry: Entry, places: Mapping[_Key, Origin | None]
) -> Iterator[Problem]:
    """What an entry names that there is not."""
    if not isinstance(entry, Product):
        return
    parts = [name for space, name in places if space == "accessory"]
    products = [name for space, name in places if space == "product"]
    for fitting in entry.fittings:
        for i, part in enumerate(fitting.accessories):
            if part not in parts:
                allowed = near(part, parts, else_="an accessory's id; see wellheard catalog list")
                at = ("fittings", fitting.mounting, "accessories", i)
                yield one.problem(kind, entry, f"no accessory {part!r}", allowed, *at)
    if entry.successor and entry.successor not in products:
        allowed = near(entry.successor, products, else_="a product's id, or leave it out")
        yield one.problem(kind, entry, f"no product {entry.successor!r}", allowed, "successor")


def implausible(
    catalogue: Catalogue,
    files: Iterable[Entries],
    *,
    before: Catalogue,
    today: datetime.date | None = None,
) -> tuple[Problem, ...]:
    """What is out of range or inconsistent in the entries of files, with file and line.

    Parameters
    ----------
    catalogue : Catalogue
        With the entries.
    files : iterable of Entries
        Those that are asked about.
    before : Catalogue
        Without them; what is said of it is nothing new.
    today : date, optional
        Prices dated later are told; not looked at if not given.
    """
    given = list(files)
    asked = {entry.id for file in given for entry in file}
    # An entry that takes the place of an earlier one is asked about anew.
    old = {one for one in plausibility.problems(before, today=today) if one.id not in asked}
    found = []
    for one in plausibility.problems(catalogue, today=today):
        if one in old:
            continue
        at = next(
            ((f, k, e) for f in given for k, e in _entries(f) if e.id == one.id),
            None,
        )
        allowed = "correct it, or accept it as it is"
        if at is None:
            name = given[0].file if given else ""
            found.append(Problem(name, 1, 1, "", str(one), allowed))
            continue
        file, kind, entry = at
        word = one.what.split()[0]
        if one.what.endswith(" missing") and file.has_taken(kind, entry, word):
            continue  # listed among the defaults, where it is no problem
        field = (word,) if hasattr(entry, word) else _FIELDS.get(word, ())
        found.append(file.problem(kind, entry, one.what, allowed, *field))
    return tuple(found)
