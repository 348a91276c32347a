"""What all spreadsheets share: text stays text, equal input gives equal bytes."""

from __future__ import annotations

import io
import unicodedata
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from wellheard.cells import is_formula
from wellheard.dossier.model import Identity
from wellheard.drawings.typesetting import time_stamp

if TYPE_CHECKING:
    from xlsxwriter import Workbook
    from xlsxwriter.format import Format
    from xlsxwriter.worksheet import Worksheet

MOST_CHARACTERS = 32_000
"""A cell holds 32,767."""
_INVISIBLE = frozenset({"Cc", "Cf", "Cs", "Co", "Cn"})


def plain(text: str) -> str:
    """Text that a cell may hold: no control or invisible characters, not too long.

    Line ends and tabs become blanks.

    Examples
    --------
    >>> plain("Tide\\x07 Room\\n\\u202enorth")
    'Tide Room north'
    """
    spaced = "".join(" " if c in "\t\n\r\v\f" else c for c in text)
    kept = "".join(c for c in spaced if unicodedata.category(c) not in _INVISIBLE)
    return kept[:MOST_CHARACTERS]


def opened(out: io.BytesIO, title: str, identity: Identity) -> Workbook:
    """Return an empty workbook that is written to ``out``, without a clock in it."""
    from xlsxwriter import Workbook

    book = Workbook(
        out,
        {
            "in_memory": True,
            "strings_to_formulas": False,
            "strings_to_urls": False,
            "strings_to_numbers": False,
        },
    )
    book.set_properties(
        {
            "title": plain(title),
            "author": "Wellheard",
            "comments": plain(identity.document_hash),
            "created": time_stamp(identity.date).replace(tzinfo=None),
        }
    )
    return book


class Page:
    """One sheet of a workbook with a head that stays, written from the top."""

    caution = "Engineering predictions: local codes and licensed practice decide."
    """At the foot of every printed page."""

    def __init__(
        self,
        book: Workbook,
        name: str,
        columns: Sequence[tuple[str, float]],
        *,
        letter: bool,
        landscape: bool = False,
    ) -> None:
        self.book = book
        self.sheet: Worksheet = book.add_worksheet(name)
        self.columns = columns
        self._formats: dict[tuple[tuple[str, Any], ...], Format] = {}
        self.row = 1
        sheet = self.sheet
        sheet.set_paper(1 if letter else 9)
        if landscape:
            sheet.set_landscape()
        else:
            sheet.set_portrait()
        sheet.fit_to_pages(1, 0)
        sheet.set_margins(left=0.6, right=0.6, top=0.7, bottom=0.7)
        sheet.set_footer("&L&8Wellheard · " + self.caution + "&R&8&P / &N")
        sheet.repeat_rows(0)
        sheet.freeze_panes(1, 0)
        sheet.hide_gridlines(2)
        for i, (head, width) in enumerate(columns):
            sheet.set_column(i, i, width)
            self.text(0, i, head, bold=True, bottom=2)

    def format(self, **properties: Any) -> Format:
        """Format of these properties, made once."""
        whole = {"font_name": "Calibri", "font_size": 10, "valign": "top", **properties}
        key = tuple(sorted(whole.items()))
        if key not in self._formats:
            self._formats[key] = self.book.add_format(whole)
        return self._formats[key]

    def text(self, row: int, column: int, text: str, **properties: Any) -> None:
        """Text as text, whatever it looks like, also after somebody edits it."""
        said = plain(text)
        if is_formula(said):
            properties["quote_prefix"] = True
        self.sheet.write_string(row, column, said, self.format(text_wrap=True, **properties))
