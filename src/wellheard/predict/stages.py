"""The form in which a path is opened: stations, and the numbers of each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wellheard.predict.evidence import Bands, Point

PRACTICE = "common practice, no source [C]"


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


def a_weighted(level_dba: float, quantity: str = "the same, A-weighted") -> Working:
    """The A-weighted total of the octave levels in the row before it."""
    return Working(quantity, level_dba, "dBA", "10 lg Σ 10^((L + A)/10)", (), "IEC 61672-1 [L]")


def place_words(at: Point) -> str:
    """Coordinates of a point.

    Examples
    --------
    >>> place_words((1.0, 2.5, 1.2))
    '(1.00, 2.50, 1.20) m'
    """
    return f"({at[0]:.2f}, {at[1]:.2f}, {at[2]:.2f}) m"


def figures(values: object, places: int = 1) -> str:
    """Several figures in a row.

    Examples
    --------
    >>> figures([-1.26, 3.0])
    '−1.3, 3.0'
    """
    return signed(", ".join(f"{v:.{places}f}" for v in np.asarray(values, dtype=np.float64)))


def signed(text: str) -> str:
    """Figures with true minus signs."""
    return text.replace("-", "−")


def decibels(value_db: float) -> str:
    """A level or ratio with one decimal.

    Examples
    --------
    >>> decibels(-6.04)
    '−6.0 dB'
    """
    return signed(f"{value_db:.1f} dB")


def percent(share: float) -> str:
    """A share in whole percent."""
    return f"{100 * share:.0f} %"


def chance_words(share: float) -> str:
    """A chance, which is never said to be none or certain."""
    if share >= 0.995:
        return "> 99 %"
    return "< 1 %" if share < 0.005 else percent(share)
