"""Figures against the range that they are common in."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Sequence

_ID = re.compile(r"[a-z0-9][a-z0-9-]{0,39}")


def outside(name: str, value: float, low: float, high: float, unit: str = "") -> Iterator[str]:
    """Say that a figure is outside its range; not a number is."""
    if not low <= value <= high:
        yield f"{name} {value:g}{unit} is outside {low:g} to {high:g}{unit}"


def ascends(values: Sequence[float]) -> bool:
    """Whether each value is greater than the one before."""
    return all(b > a for a, b in itertools.pairwise(values))


def named(entry_id: str, name: str) -> Iterator[str]:
    """Say what is wrong with the id and the name of an entry."""
    if not _ID.fullmatch(entry_id):
        yield "id must be lower-case letters, digits and hyphens, at most 40"
    if not name:
        yield "name is missing"
