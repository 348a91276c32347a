"""What every document set in type shares: the fonts of the package, and a time stamp."""

from __future__ import annotations

import datetime
from functools import cache
from importlib.resources import as_file, files
from typing import Any

EPOCH = datetime.datetime(2000, 1, 1, tzinfo=datetime.UTC)
"""Time stamp of a document without a readable date."""


@cache
def packaged_fonts() -> Any:
    """Return the fonts of the package, and no others, for the typesetter."""
    import typst

    with as_file(files("wellheard") / "data" / "fonts") as folder:
        return typst.Fonts(include_system_fonts=False, font_paths=[str(folder)])


def time_stamp(date: str) -> datetime.datetime:
    """Return the moment that a document's date stands for.

    Examples
    --------
    >>> time_stamp("2026-01-31").isoformat(), time_stamp("soon").year
    ('2026-01-31T00:00:00+00:00', 2000)
    """
    try:
        moment = datetime.datetime.fromisoformat(date)
    except ValueError:
        return EPOCH
    return moment.astimezone(datetime.UTC) if moment.tzinfo else moment.replace(tzinfo=datetime.UTC)
