"""The form in which a path is opened: stations, and the numbers of each."""

from __future__ import annotations

from dataclasses import dataclass

from wellheard.predict.evidence import Bands


@dataclass(frozen=True)
class Working:
    """One number of a path: what it is, how it comes about, and who says so."""

    quantity: str
    value: float | Bands
    unit: str
    formula: str
    inputs: tuple[tuple[str, str], ...]
    source: str


@dataclass(frozen=True)
class Stage:
    """One station of the path and its numbers."""

    name: str
    rows: tuple[Working, ...]
