"""Data sheets as rows of a table: which column is which field, and what its cells mean.

A table has one kind of thing, one entry in a row. Columns are named as in the shipped tables;
what is a list or a mapping in YAML is spelled in one cell or in several columns:

====================  ===================================================================
``fits``, ``drops``   several words or figures with blanks between: ``tile hole``
``size``              ``size_x``, ``size_y``, ``size_z``; ``module``: ``module_x``, ``module_y``
``fittings``          mounting / labour / accessories, with semicolons between:
                      ``ceiling / 95 / tile-bridge safety-bond; table / 20``
``elements``          azimuth / elevation / A: ``0 / -30 / 0.5; 120 / -30 / 0.5``
``positions``         x / y / z of each capsule
``polar``             angle / seven levels: ``0 / 0 0 0 0 0 0 0; 90 / 0 0 -1 -3 -9 -12 -15``
``rated_distances``   ``rated_clear``, ``rated_usual``, ``rated_last``
``link``              ``link`` (its kind), ``link_length``
``beam``              ``beam_125`` … ``beam_8000``, ``steer_limit_deg``, ``beam_elevation_deg``,
                      ``beam_design``
``built_in``          ``built_in_max_level_db`` and so on
``absorption``        ``125`` … ``8000``
====================  ===================================================================
"""

from __future__ import annotations

import functools
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from wellheard.catalog.datasheets import SHEETS
from wellheard.catalog.finishes import OCTAVE_COLUMNS
from wellheard.catalog.sheetparts import BuiltInSheet
from wellheard.errors import Problem
from wellheard.forms.fields import shown
from wellheard.forms.refusals import near
from wellheard.forms.rows import Cell, Cells
from wellheard.forms.source import Path, dotted, plain_scalar

Reader = Callable[[str, bool], Any]
"""Value of a cell's text; true where a comma marks decimals. ValueError: what; what is allowed."""

_WORDS = frozenset({"fits", "port_kinds", "carries", "jackets"})
_FIGURES = frozenset({"drops", "taps_w", "line_voltages", "surcharges_per_metre"})
_TEXTS = frozenset(
    {"name", "note", "source", "trust", "currency", "status", "successor", "minimum_firmware"}
    | {"selects", "needed", "powered_from", "over", "price_date", "last_orders", "mixer"}
)
_FLAGS = frozenset(
    {"per_item", "plenum", "selectable", "boundary", "canceller", "automatic_mixer", "usb"}
    | {"network_audio", "active", "managed", "fan", "passes_power", "by_name"}
)


@dataclass(frozen=True, slots=True)
class Column:
    """A column: where its cells go in a data sheet, and how they are read."""

    name: str
    path: Path
    read: Reader


def _text(text: str, decimal_comma: bool) -> Any:
    return text


def _word(text: str, decimal_comma: bool) -> Any:
    return text.split()


def _phrases(text: str, decimal_comma: bool) -> Any:
    return [part.strip() for part in text.split(";")] if ";" in text else text.split()


def _figure(text: str, decimal_comma: bool) -> Any:
    """A figure; what is none stays text, which may still be a length with a unit."""
    if decimal_comma and re.fullmatch(r"[-+]?\d+,\d+", text):
        text = text.replace(",", ".")
    value = plain_scalar(text.replace("\N{MINUS SIGN}", "-"))
    return text if value is None or isinstance(value, bool) else value


def _figures(text: str, decimal_comma: bool) -> Any:
    return [_figure(word, decimal_comma) for word in text.split()]


def _flag(text: str, decimal_comma: bool) -> Any:
    known = {"yes": True, "true": True, "no": False, "false": False}
    if text.lower() not in known:
        raise ValueError(f"{shown(text)} is neither yes nor no; yes or no")
    return known[text.lower()]


def _perhaps(text: str, decimal_comma: bool) -> Any:
    return None if text.lower() == "unknown" else _flag(text, decimal_comma)


def _unit(text: str, decimal_comma: bool) -> Any:
    known = {"coefficient": False, "m2 each": True}
    if text not in known:
        raise ValueError(f"{shown(text)} is no unit of absorption; coefficient or m2 each")
    return known[text]


def _parts(text: str, form: str) -> list[list[str]]:
    parts = [part for part in text.split(";") if part.strip()]
    return [[piece.strip() for piece in part.split("/")] for part in parts] or [[form]]


def _elements(text: str, decimal_comma: bool) -> Any:
    form = "azimuth / elevation / A, with semicolons between: 0 / -30 / 0.5; 120 / -30 / 0.5"
    names = ("azimuth_deg", "elevation_deg", "pattern_a")
    found = []
    for pieces in _parts(text, form):
        if len(pieces) != 3:
            raise ValueError(f"{shown('/'.join(pieces))} is no element; {form}")
        figures = (_figure(piece, decimal_comma) for piece in pieces)
        found.append(dict(zip(names, figures, strict=True)))
    return found


def _positions(text: str, decimal_comma: bool) -> Any:
    form = "x / y / z, with semicolons between: 0 / 0.02 / 0; 0 / -0.02 / 0"
    found = []
    for pieces in _parts(text, form):
        if len(pieces) != 3:
            raise ValueError(f"{shown('/'.join(pieces))} is no position; {form}")
        found.append([_figure(piece, decimal_comma) for piece in pieces])
    return found


def _polar(text: str, decimal_comma: bool) -> Any:
    form = "angle / levels of seven octaves, with semicolons between: 0 / 0 0 0 0 0 0 0; 90 / 0 0 …"
    found: dict[str, list[Any]] = {"angles_deg": [], "levels_db": []}
    for pieces in _parts(text, form):
        levels = _figures(pieces[-1], decimal_comma)
        if len(pieces) != 2 or len(levels) != len(OCTAVE_COLUMNS):
            raise ValueError(f"{shown('/'.join(pieces))} is no row of a polar; {form}")
        found["angles_deg"].append(_figure(pieces[0], decimal_comma))
        found["levels_db"].append(dict(zip(OCTAVE_COLUMNS, levels, strict=True)))
    return found


def _fittings(text: str, decimal_comma: bool) -> Any:
    form = "mounting / labour / accessories: ceiling / 95 / tile-bridge safety-bond; table / 20"
    found: dict[str, Any] = {}
    for pieces in _parts(text, form):
        if len(pieces) not in (2, 3):
            raise ValueError(f"{shown('/'.join(pieces))} is no fitting; {form}")
        mounting, labour, *accessories = pieces
        if mounting in found:
            raise ValueError(f"the mounting {mounting} occurs twice; each mounting once")
        found[mounting] = {"labour": _figure(labour, decimal_comma)}
        if accessories:
            found[mounting]["accessories"] = accessories[0].split()
    return found


def _beam_path(octave: str) -> Path:
    return ("beam", "directivity_index_db", octave)


_SPREAD: Mapping[str, tuple[tuple[str, Path, Reader], ...]] = {
    "size": tuple((f"size_{axis}", ("size", i), _figure) for i, axis in enumerate("xyz")),
    "module": tuple((f"module_{axis}", ("module", i), _figure) for i, axis in enumerate("xy")),
    "rated_distances": tuple(
        (f"rated_{step}", ("rated_distances", i), _figure)
        for i, step in enumerate(("clear", "usual", "last"))
    ),
    "link": (("link", ("link", "kind"), _text), ("link_length", ("link", "max_length"), _figure)),
    "beam": (
        *((f"beam_{octave}", _beam_path(octave), _figure) for octave in OCTAVE_COLUMNS),
        ("steer_limit_deg", ("beam", "steer_limit_deg"), _figure),
        ("beam_elevation_deg", ("beam", "elevation_deg"), _figure),
        ("beam_design", ("beam", "design"), _text),
    ),
    "built_in": tuple(
        (f"built_in_{name}", ("built_in", name), _flag if name in _FLAGS else _figure)
        for name in BuiltInSheet.model_fields
    ),
    "absorption": tuple((octave, ("absorption", octave), _figure) for octave in OCTAVE_COLUMNS),
    "elements": (("elements", ("elements",), _elements),),
    "positions": (("positions", ("positions",), _positions),),
    "polar": (("polar", ("polar",), _polar),),
    "fittings": (("fittings", ("fittings",), _fittings),),
    "colours": (("colours", ("colours",), _phrases),),
    "plenum": (("plenum", ("plenum",), _perhaps),),
    "per_item": (("per_item", ("per_item",), _flag), ("unit", ("per_item",), _unit)),
}


@functools.cache
def columns(kind: str) -> Mapping[str, Column]:
    """Columns that a table of this kind may have, by name.

    Examples
    --------
    >>> list(columns("accessories"))
    ['id', 'name', 'price', 'price_per_metre', 'currency', 'fits', 'needed', 'note']
    """
    found = [Column("id", (), _text)]
    for field in SHEETS[kind].model_fields:
        spread = _SPREAD.get(field)
        single = field == "carries" and kind == "extenders"
        if spread is not None:
            found += (Column(*one) for one in spread)
        elif field in _WORDS and not single:
            found.append(Column(field, (field,), _word))
        elif field in _FIGURES:
            found.append(Column(field, (field,), _figures))
        elif field in _FLAGS:
            found.append(Column(field, (field,), _flag))
        else:
            text = field in _TEXTS or single
            found.append(Column(field, (field,), _text if text else _figure))
    return {column.name: column for column in found}


_ALLOWED: Mapping[str, str] = {
    "a number without quotes": "a number, as in 0.5",
    "a whole number without quotes": "a whole number",
    "write a number in the document's units, or": "write metres, as in 0.5, or",
}
"""What a text allows in the words of a table, which has no quotes and no units of its own."""


@dataclass(frozen=True, slots=True)
class FlatSource:
    """The places of a table's entries, as a `Source` has those of a text."""

    name: str
    kind: str
    head: Mapping[str, Cell]
    rows: Mapping[str, tuple[Cell, Mapping[str, Cell]]]

    def problem(self, path: Path, what: str, allowed: str, *, key: bool = False) -> Problem:
        """Problem at the path of a data sheet, told with the column that it comes from."""
        for of_text, of_cells in _ALLOWED.items():
            allowed = allowed.replace(of_text, of_cells)
        kind, entry, field = path[0], path[1] if len(path) > 1 else "", path[2:]
        if str(entry) not in self.rows:
            return Problem(self.name, 1, 1, dotted(path), what, allowed)
        first, cells = self.rows[str(entry)]
        column = self._column(field)
        if column is None:
            return Problem(self.name, first.line, first.column, dotted(path), what, allowed)
        rest = field[len(column.path) :]
        told = dotted((kind, entry, column.name, *rest))
        at = cells.get(column.name, first)
        return Problem(self.name, at.line, at.column, told, what, allowed)

    def place(self, path: Path) -> tuple[int, int]:
        """Line and column, from 1, of what a path leads to."""
        found = self.problem(path, "", "")
        return found.line, found.column

    def _column(self, field: Path) -> Column | None:
        """Column of a field, or of a part of it; one that the table has, if there is any."""
        if not field:
            return None
        known = [c for c in columns(self.kind).values() if c.path]
        inside = [c for c in known if c.path == field[: len(c.path)]]
        above = [c for c in known if c.path[: len(field)] == field]
        fitting = inside or above
        return next((c for c in fitting if c.name in self.head), fitting[0] if fitting else None)


def read_flat(
    cells: Cells, kind: str, *, name: str
) -> tuple[FlatSource, dict[str, Any], list[Problem]]:
    """Data of a table's entries by id, with their places, and what its cells have wrong.

    Parameters
    ----------
    cells : Cells
        As read from the file.
    kind : str
        Collection that they belong to.
    name : str
        File name for messages.

    Returns
    -------
    FlatSource, dict, list of Problem
        The dict as a YAML text of the same entries has it.
    """
    known = columns(kind)
    head: dict[str, Cell] = {}
    problems: list[Problem] = []
    for cell in cells.head:
        if cell.text in head:
            problems.append(_at(name, cell, cell.text, "there already is one", "each column once"))
        elif cell.text not in known:
            allowed = near(cell.text, known, else_=f"known here: {', '.join(known)}")
            problems.append(_at(name, cell, cell.text[:60], "unknown column", allowed))
        head.setdefault(cell.text, cell)
    if "id" not in head:
        problems.append(Problem(name, 1, 1, "id", "is missing", "a column with the id of each row"))
        return FlatSource(name, kind, head, {}), {}, problems
    rows: dict[str, tuple[Cell, Mapping[str, Cell]]] = {}
    data: dict[str, Any] = {}
    for row in cells.rows:
        by_name = {cell.text: one for cell, one in zip(cells.head, row, strict=False)}
        if "id" not in by_name:
            continue  # a short row, which has been told
        at = by_name["id"]
        if not at.text:
            problems.append(_at(name, at, "id", "is empty", "an id for each row"))
        elif at.text in rows:
            what = f"there already is one in line {rows[at.text][0].line}"
            problems.append(_at(name, at, f"{kind}.{at.text}", what, "each id once"))
        else:
            rows[at.text] = (at, by_name)
            data[at.text] = _sheet(by_name, kind, cells.separator != ",", name, problems)
    return FlatSource(name, kind, head, rows), data, problems


def _sheet(
    row: Mapping[str, Cell], kind: str, decimal_comma: bool, name: str, problems: list[Problem]
) -> dict[str, Any]:
    sheet: dict[str, Any] = {}
    known = columns(kind)
    for column_name, cell in row.items():
        column = known.get(column_name)
        if column is None or not column.path or not cell.text:
            continue
        try:
            value = column.read(cell.text, decimal_comma)
        except ValueError as error:
            what, _, allowed = str(error).partition("; ")
            where = f"{kind}.{row['id'].text}.{column_name}"
            problems.append(_at(name, cell, where, what, allowed))
            value = None
        _put(sheet, column.path, value)
    return {
        key: [value[i] for i in sorted(value)]
        if key in ("size", "module", "rated_distances")
        else value
        for key, value in sheet.items()
    }


def _put(sheet: dict[str, Any], path: Path, value: Any) -> None:
    *into, last = path
    here: dict[Any, Any] = sheet
    for step in into:
        here = here.setdefault(step, {})
    here[last] = value


def _at(name: str, cell: Cell, path: str, what: str, allowed: str) -> Problem:
    return Problem(name, cell.line, cell.column, path, what, allowed)
