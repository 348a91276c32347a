"""Cells of tables that spreadsheets open: text stays text, figures stay figures.

A spreadsheet takes text that begins with ``=``, ``+``, ``-`` or ``@`` for a formula, and a formula
can fetch, send and start things. Titles, clients and names come from documents that anybody may
have sent.
"""

from __future__ import annotations

import csv
import io
import re
import unicodedata
from collections.abc import Iterable, Sequence

_FORMULA = frozenset("=+-@")
_BLANK = frozenset({"Cc", "Cf", "Zl", "Zp", "Zs"})
_FIGURE = re.compile(r"[-+]?[0-9]+(?:\.[0-9]+)?(?:[eE][-+]?[0-9]+)?")


def is_formula(text: str) -> bool:
    """Whether a spreadsheet may take a text for a formula.

    Blanks, tabs and invisible characters before it do not count, since some programs skip them;
    full-width and small forms of a sign count as the sign. A figure is none, whatever its sign.

    Examples
    --------
    >>> [is_formula(t) for t in ("=1+1", " @sum", "＋1", "-cmd", "-3.5", "4 + 4", "")]
    [True, True, True, True, False, False, False]
    """
    if _FIGURE.fullmatch(text):
        return False
    first = next((c for c in text if unicodedata.category(c) not in _BLANK), "")
    return unicodedata.normalize("NFKC", first)[:1] in _FORMULA if first else False


def csv_cell(value: object) -> object:
    """Value as a cell of comma-separated values that no spreadsheet runs.

    Parameters
    ----------
    value : object
        Text or a figure.

    Returns
    -------
    object
        The same, but text that looks like a formula or begins with a tab or line end has an
        apostrophe before it, the spreadsheets' own mark for "this is text". Every line end inside
        is a line feed: a lone carriage return would end the row for some readers.

    References
    ----------
    .. [1] owasp-asvs:2025, requirement 1.2.10.

    Examples
    --------
    >>> [csv_cell(v) for v in ("Tide Room", "=1+1", "-3.5", -3.5)]
    ['Tide Room', "'=1+1", '-3.5', -3.5]
    """
    if not isinstance(value, str):
        return value
    text = value.replace("\r\n", "\n").replace("\r", "\n")
    return f"'{text}" if is_formula(text) or text[:1] in ("\t", "\n") else text


def comma_separated(head: Sequence[str], rows: Iterable[Iterable[object]]) -> str:
    r"""Table as comma-separated values with a head, every cell made safe.

    Examples
    --------
    >>> comma_separated(("seat", "note"), [("s1", "=a, b"), ("s2", -3.5)])
    'seat,note\ns1,"\'=a, b"\ns2,-3.5\n'
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(map(csv_cell, head))
    writer.writerows(map(csv_cell, row) for row in rows)
    return out.getvalue()
