"""The data of a document while a plan is taken over: values as written, and what is told."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeAlias

from wellheard.cad import Role
from wellheard.importers.found import FoundThing, Noted, Ring
from wellheard.importers.materials import Surface
from wellheard.units import Unit, format_length

FINEST = 4
"""Decimals of a metre that are kept: a tenth of a millimetre."""

Data: TypeAlias = dict[str, Any]


@dataclass(frozen=True)
class Settled:
    """What the user settles when a room is taken over.

    Parameters
    ----------
    title : str
        Empty takes the name in the plan.
    units : {"m", "ft"}, optional
        Of the document; None takes feet for a plan in inches or feet.
    height : float, optional
        Floor to ceiling, in place of what the plan says. [m]
    seats : int, optional
        Where the plan has no chairs: how many sit at its tables.
    finishes : mapping of str to str
        Finish by material, as `materials.own_table` gives it.
    without : frozenset of Role
        What is left out though it was recognised.
    """

    title: str = ""
    units: Unit | None = None
    height: float | None = None
    seats: int | None = None
    finishes: Mapping[str, str] = field(default_factory=dict)
    without: frozenset[Role] = frozenset()


@dataclass
class Draft:
    """A document that is being put together.

    ``ids`` are finishes that a plan of ours names by their ids, ``height`` is that of the room
    [m]; ``report``, ``assumed`` and ``unknown`` are those of
    `document.Taken`, ``basis`` the document's.
    """

    unit: Unit
    settled: Settled
    ids: frozenset[str] = frozenset()
    height: float = 0.0
    data: Data = field(default_factory=dict)
    basis: dict[str, str] = field(default_factory=dict)
    report: list[Noted] = field(default_factory=list)
    assumed: list[str] = field(default_factory=list)
    unknown: list[tuple[str, Surface]] = field(default_factory=list)

    def length(self, metres: float) -> float | str:
        """Return a length as the data of a document in feet or metres has it."""
        rounded = round(metres, FINEST) + 0.0
        return rounded if self.unit == "m" else f"{rounded} m"

    def point(self, at: Sequence[float]) -> list[float | str]:
        """Return coordinates as the data has them."""
        return [self.length(value) for value in at]

    def ring(self, outline: Ring) -> list[list[float | str]]:
        """Return an outline as the data has it."""
        return [self.point(corner) for corner in outline]

    def said(self, metres: float) -> str:
        """Return a length in words."""
        return format_length(metres, unit=self.unit)

    def assume(self, path: str, sentence: str) -> None:
        """Note that what stands at a path is no more than an assumption."""
        self.basis[path] = "assumed"
        if sentence not in self.assumed:
            self.assumed.append(sentence)

    def entries(self, path: tuple[str, ...]) -> Data:
        """Return the collection of the data at a path, made if there is none."""
        here = self.data
        for step in path:
            here = here.setdefault(step, {})
        return here

    def put(self, thing: FoundThing, path: tuple[str, ...], stem: str, entry: Data) -> str:
        """Enter something under its own id, or the first free one of its kind; returns the id."""
        entries = self.entries(path)
        own = thing.id if thing.id and thing.id not in entries else ""
        key = own or free(entries, stem)
        entries[key] = entry
        return key


def free(taken: Mapping[str, Any], stem: str) -> str:
    """Return the first free id: ``stem``, ``stem-2``, … or, of ``s1``, the next figure.

    Examples
    --------
    >>> free({}, "s1"), free({"s1": 0}, "s1"), free({"lamp": 0}, "lamp")
    ('s1', 's2', 'lamp-2')
    """
    if stem not in taken:
        return stem
    base = stem[:-1] if stem[-1].isdigit() else f"{stem}-"
    return next(f"{base}{n}" for n in range(2, len(taken) + 3) if f"{base}{n}" not in taken)
