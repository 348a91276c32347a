"""What is measured at commissioning, step by step, with what was predicted for each place.

A step has grids: rows are places, columns are quantities. What is measured is filled in under the
key of a step, a quantity and a place; nothing else is needed to print the results.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from wellheard.dossier.words import EN_DASH, NOT_ASSESSED, figure, with_unit


@dataclass(frozen=True)
class Expected:
    """What was predicted of one quantity at one place.

    Attributes
    ----------
    value : float or None
        None where nothing was predicted, or where it is no number.
    low, high : float or None
        10 and 90 % points; None where no range is predicted.
    places : int
        Decimals.
    words : str
        What is expected, where it is no number.
    why_not : str
        Why nothing was predicted.
    """

    value: float | None = None
    low: float | None = None
    high: float | None = None
    places: int = 1
    words: str = ""
    why_not: str = ""

    @property
    def text(self) -> str:
        """Value with its range, the words, or an en dash.

        Examples
        --------
        >>> Expected(0.66, 0.63, 0.69, places=2).text, Expected(why_not="no canceller").text
        ('0.66 (0.63–0.69)', '–')
        >>> Expected(-5.5, -7.0, -4.0).text
        '−5.5 (−7.0 to −4.0)'
        """
        if self.words:
            return self.words
        if self.value is None:
            return NOT_ASSESSED
        said = figure(self.value, self.places)
        if self.low is None or self.high is None:
            return said
        low, high = figure(self.low, self.places), figure(self.high, self.places)
        between = " to " if not (low + high).replace(".", "").isdigit() else EN_DASH
        return f"{said} ({low}{between}{high})"


@dataclass(frozen=True)
class Measured:
    """One quantity of a grid: ``promised`` is the promise as text, '' for none."""

    key: str
    title: str
    unit: str = ""
    promised: str = ""


@dataclass(frozen=True)
class Place:
    """One place of a grid, with what is expected of each quantity there."""

    key: str
    name: str
    expected: tuple[Expected, ...]


@dataclass(frozen=True)
class Grid:
    """Places by quantities; ``note`` says what the reader has to know of them."""

    title: str
    quantities: tuple[Measured, ...]
    places: tuple[Place, ...]
    note: str = ""

    def missing(self) -> tuple[str, ...]:
        """Why some of its figures were not predicted, each reason once."""
        reasons = (e.why_not for place in self.places for e in place.expected)
        return tuple(dict.fromkeys(reason for reason in reasons if reason))


@dataclass(frozen=True)
class Step:
    """One step of the test plan.

    Attributes
    ----------
    key, title : str
    do, where, instrument, state, tolerance : str
        What to do, at which place, with what, how processing is set meanwhile, and how far a
        repeated measurement may be off.
    caution : str
        What can hurt in it; '' for nothing of its own.
    grids : tuple of Grid
        Empty where it is only done and judged.
    """

    key: str
    title: str
    do: str
    where: str
    instrument: str
    state: str
    tolerance: str
    caution: str = ""
    grids: tuple[Grid, ...] = ()


@dataclass(frozen=True)
class Result:
    """What was measured: as text with its unit, and whether it passed; None is not judged."""

    text: str
    passed: bool | None = None


Key: TypeAlias = tuple[str, str, str]
"""Step, quantity and place."""
Results: TypeAlias = Mapping[Key, Result]


def keys(steps: Sequence[Step]) -> tuple[Key, ...]:
    """Return the key of every cell that can be filled in, in the order of the plan.

    A step without grids has one cell: its own key, and no quantity and no place.
    """
    return tuple(key for step in steps for key in _keys(step))


def _keys(step: Step) -> list[Key]:
    return [
        (step.key, quantity.key, place.key)
        for grid in step.grids
        for place in grid.places
        for quantity in grid.quantities
    ] or [(step.key, "", "")]


def promised(text: str, unit: str = "", sign: str = "") -> str:
    """Return a promise as the head of a grid has it.

    Examples
    --------
    >>> promised("0.62", sign="≥")
    '≥\\xa00.62'
    """
    said = with_unit(text, unit)
    return f"{sign}\u00a0{said}" if sign else said
