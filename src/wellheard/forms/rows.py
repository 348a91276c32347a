"""Comma-separated values to cells that remember where they stood.

What spreadsheets save is read: commas, or semicolons or tabs as some locales have them, quotes
doubled inside quotes, a byte-order mark, empty rows and columns at the end. Nothing is guessed
about what a cell means.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from wellheard.errors import Problem
from wellheard.forms.source import MOST_BYTES, foreign, too_large

SEPARATORS = (",", ";", "\t")
_ENDS = {one: re.compile(f"[{one}\n]") for one in SEPARATORS}


@dataclass(frozen=True, slots=True)
class Cell:
    """Text of a cell without blanks around it, and where it begins, from 1."""

    text: str
    line: int
    column: int


@dataclass(frozen=True, slots=True)
class Cells:
    """A table: the cells of its first row, and of each further row that has any text.

    Attributes
    ----------
    separator : str
        What stands between cells: ``,``, ``;`` or a tab.
    """

    separator: str
    head: tuple[Cell, ...]
    rows: tuple[tuple[Cell, ...], ...]


MOST_COLUMNS = 200
MOST_LINES = 20_000
"""Rows of a table with those that are empty, as spreadsheets may leave many."""


def read_cells(raw: bytes | str, *, name: str, most: int) -> tuple[Cells | None, list[Problem]]:
    """Cells of a text, and everything wrong with its form.

    Parameters
    ----------
    raw : bytes or str
        UTF-8.
    name : str
        File name for messages.
    most : int
        Rows below the first that may have text in them.

    Returns
    -------
    Cells or None, list of Problem
        None if there is nothing to read cells from.

    Examples
    --------
    >>> cells, problems = read_cells("id;name\\nx; A\\n", name="a.csv", most=9)
    >>> cells.rows[0][1], problems
    (Cell(text='A', line=2, column=3), [])
    """
    found = raw if isinstance(raw, bytes) else raw.encode("utf-8", "surrogatepass")
    other = foreign(found)
    if other:
        what = f"this is {other}, not a table of comma-separated values"
        return None, [Problem(name, 1, 1, "", what, "save it as CSV UTF-8")]
    if len(found) > MOST_BYTES:
        return None, [too_large(name, len(found))]
    try:
        text = found.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = found.count(b"\n", 0, error.start) + 1
        return None, [Problem(name, line, 1, "", "the text is not UTF-8", "save it as CSV UTF-8")]
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    if "\0" in text:
        line = text.count("\n", 0, text.index("\0")) + 1
        return None, [Problem(name, line, 1, "", "a character that no text has", "plain text")]
    first = text.partition("\n")[0]
    separator = max(SEPARATORS, key=first.count)
    rows: list[tuple[Cell, ...]] = []
    try:
        for number, row in enumerate(_rows(text, separator)):
            if any(cell.text for cell in row):
                rows.append(row)
            # What is too much is not read to its end, nor told cell by cell.
            at = row[0]
            if len(row) > MOST_COLUMNS:
                what, allowed = "too many columns", f"at most {MOST_COLUMNS}"
                return None, [Problem(name, at.line, at.column, "", what, allowed)]
            if len(rows) > most + 1 or number > MOST_LINES:
                what, allowed = "too many rows", f"at most {most} below the first"
                return None, [Problem(name, at.line, at.column, "", what, allowed)]
    except _Unclosed as error:
        return None, [
            Problem(name, error.line, error.column, "", "this quote is never closed", "close it")
        ]
    if len(rows) < 2:
        what = "there is nothing in it" if not rows else "there is no row below the first"
        return None, [
            Problem(name, 1, 1, "", what, "a row of column names, and a row for each entry")
        ]
    return _squared(separator, rows, name)


def _squared(
    separator: str, rows: list[tuple[Cell, ...]], name: str
) -> tuple[Cells, list[Problem]]:
    """Rows of one length each; empty columns at the end, as spreadsheets leave them, are gone."""
    head = rows[0]
    while head and not head[-1].text:
        head = head[:-1]
    problems, squared = [], []
    for row in rows[1:]:
        spare = next((cell for cell in row[len(head) :] if cell.text), None)
        if spare is not None or len(row) < len(head):
            at = spare or row[0]
            what = f"{len(row)} cells for {len(head)} columns"
            allowed = f"a cell for each column; quotes around a cell that has {separator!r} in it"
            problems.append(Problem(name, at.line, at.column, "", what, allowed))
        squared.append(row[: len(head)])
    return Cells(separator, head, tuple(squared)), problems


class _Unclosed(Exception):
    def __init__(self, line: int, column: int) -> None:
        super().__init__()
        self.line, self.column = line, column


def _rows(text: str, separator: str) -> Iterator[tuple[Cell, ...]]:
    """Rows of a text (RFC 4180), each cell with its place."""
    row: list[Cell] = []
    at, line, begin = 0, 1, 0  # begin: where this line begins
    while at < len(text):
        start_line, start_column = line, at - begin + 1
        if text[at] == '"':
            pieces, at = [], at + 1
            while True:
                close = text.find('"', at)
                if close < 0:
                    raise _Unclosed(start_line, start_column)
                pieces.append(text[at:close])
                at = close + 1
                if text[at : at + 1] != '"':
                    break
                pieces.append('"')
                at += 1
            content = "".join(pieces)
            line += content.count("\n")
            if "\n" in content:
                begin = text.rindex("\n", 0, at) + 1
            end = _end(text, at, separator)
            content += text[at:end]
        else:
            end = _end(text, at, separator)
            content = text[at:end]
        row.append(Cell(content.strip(), start_line, start_column))
        if len(row) > MOST_COLUMNS:
            yield tuple(row)
            return
        at = end
        if at < len(text) and text[at] == separator:
            at += 1
            if at == len(text) or text[at] == "\n":
                row.append(Cell("", line, at - begin + 1))
        if at < len(text) and text[at] == "\n":
            yield tuple(row)
            row, at, line = [], at + 1, line + 1
            begin = at
    if row:
        yield tuple(row)


def _end(text: str, at: int, separator: str) -> int:
    """Where an unquoted cell ends."""
    found = _ENDS[separator].search(text, at)
    return found.start() if found else len(text)
