"""Cells of one row of a table, read by kind; a bad cell names its column."""

from __future__ import annotations

import datetime
from typing import Any, get_args

from wellheard.tables import Table


class Row:
    """One row whose cells are read by kind; a bad cell is a ValueError that names the column."""

    def __init__(self, table: Table, row: dict[str, str]) -> None:
        self.row = row
        self.currency = str(table.provenance.get("currency", "EUR"))

    def text(self, column: str) -> str:
        if column not in self.row:
            raise ValueError(f"no column {column!r}")
        return self.row[column]

    def words(self, column: str) -> tuple[str, ...]:
        return tuple(self.text(column).split())

    def number(self, column: str) -> float:
        text = self.text(column)
        try:
            return float(text)
        except ValueError:
            raise ValueError(f"{column}: {text!r} is not a number") from None

    def optional(self, column: str) -> float | None:
        return None if self.text(column) == "" else self.number(column)

    def optional_whole(self, column: str) -> int | None:
        return None if self.text(column) == "" else self.whole(column)

    def whole(self, column: str) -> int:
        value = self.number(column)
        if value != int(value):
            raise ValueError(f"{column}: {value} is not a whole number")
        return int(value)

    def numbers(self, column: str) -> tuple[float, ...]:
        try:
            return tuple(float(word) for word in self.words(column))
        except ValueError:
            raise ValueError(
                f"{column}: {self.text(column)!r} must be numbers separated by blanks"
            ) from None

    def truth(self, column: str) -> bool:
        text = self.text(column)
        if text not in ("yes", "no"):
            raise ValueError(f"{column}: {text!r} is neither yes nor no")
        return text == "yes"

    def perhaps(self, column: str) -> bool | None:
        text = self.text(column)
        if text not in ("yes", "no", "unknown"):
            raise ValueError(f"{column}: {text!r} is none of yes, no, unknown")
        return None if text == "unknown" else text == "yes"

    def optional_date(self, column: str) -> datetime.date | None:
        return None if self.text(column) == "" else self.date(column)

    def date(self, column: str) -> datetime.date:
        text = self.text(column)
        try:
            return datetime.date.fromisoformat(text)
        except ValueError:
            raise ValueError(f"{column}: {text!r} is no date such as 2026-01-31") from None

    def one_of(self, column: str, kind: Any) -> str:
        text = self.text(column)
        if text not in get_args(kind):
            raise ValueError(f"{column}: {text!r} is none of {', '.join(get_args(kind))}")
        return text

    def one_of_or_none(self, column: str, kind: Any) -> str | None:
        return None if self.text(column) == "" else self.one_of(column, kind)

    def some_of(self, column: str, kind: Any) -> tuple[str, ...]:
        for word in self.words(column):
            if word not in get_args(kind):
                raise ValueError(f"{column}: {word!r} is none of {', '.join(get_args(kind))}")
        return self.words(column)
