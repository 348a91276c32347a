"""Schedules as one workbook: a sheet for each, to sort, sum and print.

Sums are formulas with their values beside them, so that who opens the book sees figures at once,
and who changes a count gets the new sum. Everything that a document says is text.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal, TypeAlias

from wellheard.dossier.model import Identity
from wellheard.dossier.writers.workbook import Page, opened

if TYPE_CHECKING:
    from xlsxwriter import Workbook

LETTER_PAPER = "us-letter"
SOFT = "#47535e"


@dataclass(frozen=True)
class Formula:
    """A formula, and what it comes to.

    ``text`` may name columns by their heads in braces, ``{Count}``: each becomes the cell of that
    column in the formula's own row, or with a colon behind, ``{Amount:}``, all its rows above.
    """

    text: str
    value: float


Value: TypeAlias = str | float | int | Formula | None
"""What a cell holds; nothing where it is empty."""


@dataclass(frozen=True)
class BookColumn:
    """One column: its head, its width in characters, how its figures are written."""

    head: str
    width: float
    shape: str = ""
    """Number format; empty for text."""


@dataclass(frozen=True)
class Sheet:
    """One schedule.

    Parameters
    ----------
    name : str
        Of its tab, 31 characters at most.
    columns : tuple of BookColumn
    rows : tuple of tuples
        A cell for each column.
    sums : tuple of tuples
        Rows under the table, bold, a line apart; formulas in them sum the table.
    notes : tuple of str
        Under all of it.
    """

    name: str
    columns: tuple[BookColumn, ...]
    rows: tuple[tuple[Value, ...], ...]
    sums: tuple[tuple[Value, ...], ...] = ()
    notes: tuple[str, ...] = ()


def write_schedules(
    sheets: Sequence[Sheet],
    identity: Identity,
    *,
    title: str,
    paper: Literal["a4", "us-letter"] = "a4",
) -> bytes:
    """Return a workbook with these sheets; the same input gives the same bytes.

    Parameters
    ----------
    sheets : sequence of Sheet
        At least one; those without rows are left out where others have some.
    identity : Identity
        Of the document; its date is the book's.
    title : str
        Of the book.
    paper : {"a4", "us-letter"}
        That it is printed on, across.
    """
    out = io.BytesIO()
    book = opened(out, title, identity)
    filled = [sheet for sheet in sheets if sheet.rows] or sheets[:1]
    for sheet in filled:
        _Written(book, sheet, letter=paper == LETTER_PAPER).fill()
    book.close()
    return out.getvalue()


class _Written(Page):
    """One sheet as it is written."""

    def __init__(self, book: Workbook, what: Sheet, *, letter: bool) -> None:
        columns = [(column.head, column.width) for column in what.columns]
        super().__init__(book, what.name, columns, letter=letter, landscape=True)
        self.what = what
        self.sheet.set_header(f"&L&8{_plain_header(what.name)}")

    def fill(self) -> None:
        """Rows, then sums, then notes; the table can be filtered by its heads."""
        rows = len(self.what.rows)
        for index, row in enumerate(self.what.rows, start=1):
            self._row(index, row, rows, bottom=4, bottom_color="#c8ced3")
        if rows:
            self.sheet.autofilter(0, 0, rows, len(self.what.columns) - 1)
        start = rows + 2
        for index, row in enumerate(self.what.sums, start=start):
            self._row(index, row, rows, bold=True)
        start += len(self.what.sums) + (1 if self.what.sums else 0)
        for index, note in enumerate(self.what.notes, start=start):
            self.sheet.write_string(index, 0, note, self.format(font_color=SOFT))

    def _row(self, index: int, row: tuple[Value, ...], rows: int, **properties: Any) -> None:
        for column, (value, what) in enumerate(zip(row, self.what.columns, strict=True)):
            if value is None:
                self.sheet.write_blank(index, column, None, self.format(**properties))
            elif isinstance(value, str):
                self.text(index, column, value, **properties)
            elif isinstance(value, Formula):
                shape = self.format(num_format=what.shape, **properties)
                said = self._formula(value.text, index, rows)
                self.sheet.write_formula(index, column, said, shape, value.value)
            else:
                shape = self.format(num_format=what.shape, **properties)
                self.sheet.write_number(index, column, value, shape)

    def _formula(self, text: str, index: int, rows: int) -> str:
        """Formula with its columns as cells, rows counted from one as a spreadsheet does."""
        from xlsxwriter.utility import xl_rowcol_to_cell

        for number, column in enumerate(self.what.columns):
            cell = xl_rowcol_to_cell(index, number)
            first = xl_rowcol_to_cell(1, number, row_abs=True, col_abs=True)
            last = xl_rowcol_to_cell(max(rows, 1), number, row_abs=True, col_abs=True)
            text = text.replace(f"{{{column.head}:}}", f"{first}:{last}")
            text = text.replace(f"{{{column.head}}}", cell)
        return text


def _plain_header(text: str) -> str:
    """Text of a page's head: an ampersand there begins a code."""
    return text.replace("&", "&&")
