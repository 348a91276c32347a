"""Tables of published or invented figures, each read together with where it comes from.

A table is ``data/<name>.csv`` beside ``data/<name>.toml``. The first row names the columns; every
cell stays text until a caller asks for numbers. The TOML says who says so:

=================  ==================================================================
``title``          what the table holds
``source``         citation, or ``"by row"`` when the table has a ``source`` column
``edition``        year or version of the source, ``""`` only where there is none
``licence``        under which terms the figures may be passed on
``transcribed_by`` who typed it
``checked``        trust mark: L (confirmed in open material), M (from memory of the
                   source), C (common practice or our own invention), or ``"by row"``
                   when the table has a ``trust`` column
``date``           day it was typed
``[columns]``      one description, with unit, for every column and for no other
=================  ==================================================================

Anything else in the TOML is kept. A table that breaks this does not load.
"""

from __future__ import annotations

import csv
import datetime
import functools
import io
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from typing import Any

BY_ROW = "by row"
TRUST_MARKS = ("L", "M", "C")
REQUIRED = (
    "title",
    "source",
    "edition",
    "licence",
    "transcribed_by",
    "checked",
    "date",
    "columns",
)


@dataclass(frozen=True)
class Table:
    """One table: its name, its rows as text, and where it comes from.

    Tables are cached and shared: treat rows and provenance as read-only.
    """

    name: str
    columns: tuple[str, ...]
    rows: tuple[dict[str, str], ...]
    provenance: dict[str, Any]

    def strings(self, column: str) -> tuple[str, ...]:
        """Return one column as text.

        Raises
        ------
        ValueError
            There is no such column.
        """
        self._demand(column)
        return tuple(row[column] for row in self.rows)

    def floats(self, column: str) -> tuple[float, ...]:
        """Return one column as numbers; an empty cell is an error.

        Raises
        ------
        ValueError
            There is no such column, or a cell is not a number. The message names the line.
        """
        return tuple(
            _number(text, self.name, column, line)
            for line, text in enumerate(self.strings(column), start=2)
        )

    def optional_floats(self, column: str) -> tuple[float | None, ...]:
        """Return one column as numbers, with None where nothing is published (empty cell)."""
        return tuple(
            None if text == "" else _number(text, self.name, column, line)
            for line, text in enumerate(self.strings(column), start=2)
        )

    def float_rows(self, columns: tuple[str, ...]) -> tuple[tuple[float, ...], ...]:
        """Return several columns as one tuple of numbers per row.

        Examples
        --------
        >>> table = parse("low,high\\n1,2\\n3,4\\n", None, name="steps")
        >>> table.float_rows(("low", "high"))
        ((1.0, 2.0), (3.0, 4.0))
        """
        return tuple(zip(*(self.floats(column) for column in columns), strict=True))

    def by(self, column: str) -> Mapping[str, dict[str, str]]:
        """Return the rows keyed by a column whose entries are all different.

        Raises
        ------
        ValueError
            Two rows share a key.
        """
        found: dict[str, dict[str, str]] = {}
        for line, (key, row) in enumerate(
            zip(self.strings(column), self.rows, strict=True), start=2
        ):
            if key in found:
                raise ValueError(f"{self.name}.csv:{line}: {column} {key!r} occurs twice")
            found[key] = row
        return found

    def _demand(self, column: str) -> None:
        if column not in self.columns:
            raise ValueError(
                f"{self.name}.csv: no column {column!r}; there are: {', '.join(self.columns)}"
            )


def _number(text: str, name: str, column: str, line: int) -> float:
    try:
        return float(text)
    except ValueError:
        raise ValueError(f"{name}.csv:{line}: {column}: {text!r} is not a number") from None


def parse(csv_text: str, toml_text: str | None, *, name: str) -> Table:
    """Read a table from text.

    Parameters
    ----------
    csv_text : str
        Comma-separated values, first row the column names.
    toml_text : str or None
        Provenance; None for a table whose origin the caller vouches for (a user's own file).
    name : str
        Used in messages.

    Returns
    -------
    Table

    Raises
    ------
    ValueError
        Ragged or repeated columns, no rows, unreadable or incomplete provenance. The message
        lists everything that is wrong.

    Examples
    --------
    >>> parse("band,level\\n125,48\\n250,41\\n", None, name="noise").floats("level")
    (48.0, 41.0)
    """
    lines = list(csv.reader(io.StringIO(csv_text)))
    if len(lines) < 2:
        raise ValueError(f"{name}.csv: a row of column names and at least one row are needed")
    columns = tuple(lines[0])
    if len(set(columns)) != len(columns) or "" in columns:
        raise ValueError(f"{name}.csv:1: column names must be there and differ: {columns}")
    rows = []
    for number, cells in enumerate(lines[1:], start=2):
        if len(cells) != len(columns):
            raise ValueError(f"{name}.csv:{number}: {len(cells)} cells for {len(columns)} columns")
        rows.append(dict(zip(columns, (cell.strip() for cell in cells), strict=True)))
    table = Table(name, columns, tuple(rows), {})
    if toml_text is None:
        return table
    try:
        provenance = tomllib.loads(toml_text)
    except tomllib.TOMLDecodeError as error:
        raise ValueError(f"{name}.toml: {error}") from None
    table = Table(name, columns, tuple(rows), provenance)
    wrong = provenance_problems(table)
    if wrong:
        raise ValueError("\n".join(wrong))
    return table


def provenance_problems(table: Table) -> tuple[str, ...]:
    """Return what is missing or wrong in a table's provenance; nothing if it is complete.

    Examples
    --------
    >>> provenance_problems(parse("a\\n1\\n", None, name="bare"))[0]
    'bare.toml: title is missing'
    """
    given = table.provenance
    where = f"{table.name}.toml"
    wrong = [f"{where}: {key} is missing" for key in REQUIRED if key not in given]
    for key in ("title", "source", "licence", "transcribed_by"):
        if key in given and not (isinstance(given[key], str) and given[key].strip()):
            wrong.append(f"{where}: {key} is empty or not text")
    if not isinstance(given.get("edition", ""), str):
        wrong.append(f"{where}: edition must be text")
    if not isinstance(given.get("date", datetime.date.min), datetime.date):
        wrong.append(f"{where}: date must be a date, such as 2026-01-31")

    if given.get("source") == BY_ROW:
        wrong += _blank_cells(table, "source", "source is by row")
    if given.get("checked") == BY_ROW:
        wrong += _blank_cells(table, "trust", "checked is by row")
        for line, row in enumerate(table.rows, start=2):
            mark = row.get("trust", "")
            if mark and mark not in TRUST_MARKS:
                wrong.append(f"{table.name}.csv:{line}: trust {mark!r} is none of L, M, C")
    elif "checked" in given and given["checked"] not in TRUST_MARKS:
        wrong.append(f"{where}: checked {given['checked']!r} is none of L, M, C, 'by row'")

    described = given.get("columns", {})
    if not isinstance(described, dict):
        return (*wrong, f"{where}: columns must be a section with one line per column")
    for column in table.columns:
        text = described.get(column)
        if "columns" in given and not (isinstance(text, str) and text.strip()):
            wrong.append(f"{where}: column {column!r} is not described")
    for column in described:
        if column not in table.columns:
            wrong.append(f"{where}: column {column!r} is described but not in the table")
    return tuple(wrong)


def _blank_cells(table: Table, column: str, because: str) -> list[str]:
    if column not in table.columns:
        return [f"{table.name}.toml: {because}, but there is no column {column!r}"]
    return [
        f"{table.name}.csv:{line}: {column} is empty, but {because}"
        for line, row in enumerate(table.rows, start=2)
        if not row[column]
    ]


def names() -> tuple[str, ...]:
    """Return the names of all packaged tables, sorted.

    Examples
    --------
    >>> all(load(name).rows for name in names())
    True
    """
    return tuple(
        sorted(
            item.name.removesuffix(".csv")
            for item in _data().iterdir()
            if item.name.endswith(".csv")
        )
    )


@functools.cache
def load(name: str) -> Table:
    """Return a packaged table by name, checked and cached.

    Parameters
    ----------
    name : str
        File name in the package's ``data`` folder, without ending.

    Returns
    -------
    Table

    Raises
    ------
    FileNotFoundError
        The CSV or its TOML is not there.
    ValueError
        The table or its provenance is not complete; see `parse`.
    """
    texts = []
    for ending in ("csv", "toml"):
        try:
            texts.append((_data() / f"{name}.{ending}").read_text(encoding="utf-8"))
        except FileNotFoundError:
            raise FileNotFoundError(
                f"data/{name}.{ending}: not found; each table is a CSV with a TOML of the same name"
            ) from None
    return parse(texts[0], texts[1], name=name)


def _data() -> resources.abc.Traversable:
    return resources.files("wellheard") / "data"
