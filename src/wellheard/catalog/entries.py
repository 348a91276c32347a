"""A user's own entries: a file of data sheets read, with every problem at once.

``NAME.products.yaml`` holds sheets of several kinds, keyed by id::

    wellheard-products: 1
    units: m
    microphones:
      our-head: {name: Our head, price: 480, …}

``NAME.KIND.csv``, as in ``ours.microphones.csv``, holds one kind, an entry in a row; its columns
are those of `wellheard.catalog.flat`.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import PurePath
from typing import Any, Protocol

from pydantic import TypeAdapter, ValidationError

from wellheard.catalog.datasheets import SHEETS, Entry, Sheet, taken
from wellheard.catalog.flat import read_flat
from wellheard.errors import CatalogError, DocumentError, Problem
from wellheard.forms.fields import Id, declared_unit, shown
from wellheard.forms.refusals import Form, Refusal, listed, near
from wellheard.forms.rows import read_cells
from wellheard.forms.source import Path, dotted, read_file, read_source
from wellheard.units import Unit

SCHEMA = 1
"""Newest version of such a file that this tool reads."""
VERSION = "wellheard-products"
MOST_ENTRIES = 500
"""In one collection of a file."""
YAML_ENDING = ".products.yaml"
CSV_ENDINGS: Mapping[str, str] = {f".{kind}.csv": kind for kind in SHEETS}
_WANTED = f"a file of products: {VERSION}: {SCHEMA} …"
_ID: TypeAdapter[str] = TypeAdapter(Id)
_FACTS = frozenset(
    {"plenum", "distortion", "sensitivity_mv_pa", "sensitivity_dbfs", "canceller_tail"}
    | {"canceller_loss_db", "clip_dbu", "preamp_noise_dbu", "input_sensitivity_dbu"}
)
"""Fields that are true of every such product, stated or not."""


class Placed(Protocol):
    """What knows where everything stood in a file."""

    @property
    def name(self) -> str:
        """The file as the user named it."""

    def problem(self, path: Path, what: str, allowed: str, *, key: bool = False) -> Problem:
        """Problem at a path."""

    def place(self, path: Path) -> tuple[int, int]:
        """Line and column of a path."""


@dataclass(frozen=True, slots=True)
class Taken:
    """A default that a data sheet took, because it does not say otherwise.

    Attributes
    ----------
    path : str
        Dotted, ``microphones.our-head.warranty_years``.
    value : object
        What was taken.
    line : int
        Of the entry.
    """

    path: str
    value: Any
    line: int

    def __str__(self) -> str:
        return f"{self.path} {self.words}"

    @property
    def words(self) -> str:
        """The value as people read it."""
        if self.path.endswith(".absorption.8000"):
            return "as 4000 Hz"
        if self.value is None:
            return "unknown" if self.path.rpartition(".")[2] in _FACTS else "none"
        if isinstance(self.value, bool):
            return "yes" if self.value else "no"
        if self.value in ("", ()):
            return "none"
        return f"{self.value:g}" if isinstance(self.value, int | float) else str(self.value)


@dataclass(frozen=True, slots=True)
class Entries:
    """What a user's file holds.

    Attributes
    ----------
    file : str
        As the user named it.
    raw : bytes
        The file as it was read.
    collections : mapping of str to tuple
        Entries by the name of the catalogue's collection, for those that the file has.
    taken : tuple of Taken
        Every default taken.
    source : Placed
        The place of everything.
    """

    file: str
    raw: bytes = field(repr=False)
    collections: Mapping[str, tuple[Entry, ...]]
    taken: tuple[Taken, ...]
    source: Placed = field(repr=False)

    @property
    def digest(self) -> str:
        """SHA-256 of the bytes: the same file in two places is one."""
        return hashlib.sha256(self.raw).hexdigest()

    def __iter__(self) -> Iterator[Entry]:
        """Entries in order."""
        for entries in self.collections.values():
            yield from entries

    def problem(self, kind: str, entry: Entry, what: str, allowed: str, *at: str | int) -> Problem:
        """Problem of an entry, or of a field of it."""
        return self.source.problem((kind, entry.id, *at), what, allowed, key=not at)

    def has_taken(self, kind: str, entry: Entry, field: str) -> bool:
        """Whether a field of an entry is a default."""
        path = dotted((kind, entry.id, field))
        return any(one.path == path for one in self.taken)

    def line(self, kind: str, entry: Entry) -> int:
        """Line where an entry begins."""
        return self.problem(kind, entry, "", "").line


def is_products_file(name: str) -> bool:
    """Whether a file is one of a user's own products, by its name.

    Examples
    --------
    >>> names = ("a.products.yaml", "a.switches.csv", "a.csv", "switches.csv", ".x.switches.csv")
    >>> [is_products_file(name) for name in names]
    [True, True, False, False, False]
    """
    endings = (YAML_ENDING, *CSV_ENDINGS)
    return not name.startswith(".") and any(
        name.endswith(ending) and len(name) > len(ending) for ending in endings
    )


def read_entries(path: str | os.PathLike[str]) -> Entries:
    """Entries of a file of own products.

    Parameters
    ----------
    path : path
        A ``NAME.products.yaml`` or ``NAME.KIND.csv``.

    Returns
    -------
    Entries

    Raises
    ------
    InputError
        The file cannot be opened.
    CatalogError
        It can be, but something in it is no data sheet: every problem, with line and column.
    """
    try:
        raw = read_file(path, what="a file of products")
    except DocumentError as error:
        raise CatalogError(str(error), error.problems) from None
    return parse_entries(raw, name=os.fspath(path))


def parse_entries(text: bytes | str, *, name: str) -> Entries:
    """Entries of a text; its form and, for a table, its kind are told by the file name.

    Raises
    ------
    CatalogError
        Every problem, in reading order.

    Examples
    --------
    >>> rows = "id,name,price,currency\\nrail,Mounting rail,12,EUR\\n"
    >>> own = parse_entries(rows, name="ours.accessories.csv")
    >>> [(entry.id, entry.price) for entry in own], str(own.taken[0])
    ([('rail', 12.0)], 'accessories.rail.price_per_metre 0')
    """
    found = text if isinstance(text, bytes) else text.encode("utf-8", "surrogatepass")
    base = PurePath(name).name
    if base.endswith(YAML_ENDING):
        source, data, problems = _yaml(found, name)
        unit: Unit = "ft" if isinstance(data, dict) and data.get("units") == "ft" else "m"
    else:
        kind = next((k for end, k in CSV_ENDINGS.items() if base.endswith(end)), None)
        if kind is None:
            raise _refused([Problem(name, 0, 0, "", "the name tells no kind of file", _names())])
        source, data, problems = _csv(found, kind, name)
        unit = "m"
    ill_formed = {problem.path for problem in problems}
    sheets: list[tuple[str, str, Sheet]] = []
    with declared_unit(unit):
        for read in _sheets(data if isinstance(data, dict) else {}):
            if isinstance(read, Refusal):
                said = source.problem(read.path, read.what, read.allowed, key=read.key)
                if said.path not in ill_formed:
                    problems.append(said)
            else:
                sheets.append(read)
    problems = _without_repeats(problems, source)
    if problems:
        raise _refused(problems)
    collections: dict[str, tuple[Entry, ...]] = {}
    defaults: list[Taken] = []
    for kind, entry_id, sheet in sheets:
        collections[kind] = (*collections.get(kind, ()), sheet.entry(entry_id))
        line = source.problem((kind, entry_id), "", "", key=True).line
        defaults += [
            Taken(dotted((kind, entry_id, *path)), value, line) for path, value in taken(sheet)
        ]
    return Entries(name, found, collections, tuple(defaults), source)


def _names() -> str:
    return f"NAME{YAML_ENDING}, or NAME.KIND.csv with {listed(SHEETS)} as KIND"


def _refused(problems: list[Problem]) -> CatalogError:
    # An id may be anything before it is refused, even what a terminal obeys.
    plain = [
        replace(p, path="".join(c if c.isprintable() else "?" for c in p.path)) for p in problems
    ]
    ordered = sorted(dict.fromkeys(plain), key=lambda p: (p.line, p.column))
    return CatalogError("\n".join(map(str, ordered)), ordered)


def _yaml(raw: bytes, name: str) -> tuple[Placed, Any, list[Problem]]:
    source, problems = read_source(raw, name=name, wanted=_WANTED, levels=6)
    data = source.data
    if isinstance(data, dict):
        problems += [source.problem(r.path, r.what, r.allowed, key=r.key) for r in _outside(data)]
        if any(problem.path == VERSION for problem in problems):
            data = None  # what another version says is not read by the rules of this one
    return source, data, problems


def _outside(data: dict[str, Any]) -> Iterator[Refusal]:
    """What is wrong around the data sheets: version, units, unknown names, too many."""
    write = f"write {VERSION}: {SCHEMA}"
    version = data.get(VERSION)
    if VERSION not in data and "wellheard" in data:
        yield Refusal((VERSION,), "this is a room document", "own products in a file of their own")
        return
    if VERSION not in data:
        yield Refusal((VERSION,), "the schema version is missing", write)
    elif isinstance(version, bool) or not isinstance(version, int) or version < 1:
        yield Refusal((VERSION,), f"{shown(version)} is no schema version", write)
    elif version > SCHEMA:
        yield Refusal(
            (VERSION,),
            f"version {version} is newer than this tool, which knows {SCHEMA}",
            "read it with a newer Wellheard; nothing was left out",
        )
        return
    if data.get("units", "m") not in ("m", "ft"):
        yield Refusal(("units",), f"found {shown(data['units'])}", "m or ft")
    known = (VERSION, "units", *SHEETS)
    strange = [key for key in data if key not in known and not key.startswith("x-")]
    for key in strange:
        allowed = near(key, known, else_=f"known here: {', '.join(known)}")
        yield Refusal((key,), "unknown field", allowed, key=True)
    for key in (key for key in data if key in SHEETS):
        value = data[key]
        if not isinstance(value, dict):
            what = "is empty" if value is None else f"{shown(value)} is no mapping"
            yield Refusal((key,), what, "a mapping of data sheets by id")
        elif len(value) > MOST_ENTRIES:
            yield Refusal((key,), f"{len(value)} entries", f"at most {MOST_ENTRIES}")
    if not strange and not any(key in SHEETS for key in data):
        yield Refusal((), "there is no product in it", f"one or more of {', '.join(SHEETS)}")


def _csv(raw: bytes, kind: str, name: str) -> tuple[Placed, Any, list[Problem]]:
    cells, problems = read_cells(raw, name=name, most=MOST_ENTRIES)
    if cells is None:
        raise _refused(problems)
    source, data, found = read_flat(cells, kind, name=name)
    return source, {kind: data}, problems + found


def _sheets(data: Mapping[str, Any]) -> Iterator[Refusal | tuple[str, str, Sheet]]:
    """Every data sheet, or all that is wrong with it."""
    for kind, model in SHEETS.items():
        entries = data.get(kind)
        if not isinstance(entries, dict) or len(entries) > MOST_ENTRIES:
            continue
        for entry_id, fields in entries.items():
            wrong: list[Refusal] = []
            try:
                _ID.validate_python(entry_id)
            except ValidationError as error:
                for one in Form(model).refusals(error.errors(include_url=False)):
                    wrong.append(Refusal((kind, entry_id), one.what, one.allowed, key=True))
            try:
                sheet = model.model_validate(fields, by_name=False, by_alias=True)
            except ValidationError as error:
                for one in Form(model).refusals(error.errors(include_url=False)):
                    path = (kind, entry_id, *_as_written(fields, one.path))
                    wrong.append(Refusal(path, one.what, one.allowed, one.key))
            if wrong:
                yield from wrong
            else:
                yield kind, entry_id, sheet


def _as_written(fields: Any, path: Path) -> Path:
    """Path without steps that the data does not have, such as those inside a key."""
    return path if isinstance(fields, dict) else ()


def _without_repeats(problems: list[Problem], source: Placed) -> list[Problem]:
    """Problems, but a column that a table lacks is told once and not for each row."""
    head = getattr(source, "head", None)
    if head is None:
        return problems
    kept: list[Problem] = []
    lacking: dict[str, Problem] = {}
    for problem in problems:
        column = problem.path.split(".")[2] if problem.path.count(".") >= 2 else ""
        if problem.what == "is missing" and column and column not in head:
            once = Problem(problem.file, 1, 1, column, "there is no such column", problem.allowed)
            lacking.setdefault(column, once)
        else:
            kept.append(problem)
    return [*lacking.values(), *kept]
