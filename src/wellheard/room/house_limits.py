"""Distances, heights, levels and times of the trade, that placement and checks share."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from wellheard import tables

Sense = Literal["at least", "at most"]

REASONABLE: dict[str, tuple[float, float]] = {
    "": (0.0, 1e6),
    "NC": (0.0, 100.0),
    "W": (0.0, 100_000.0),
    "d": (0.0, 36600.0),
    "dB": (-60.0, 120.0),
    "dBA": (0.0, 140.0),
    "deg": (0.0, 360.0),
    "kg": (0.0, 10_000.0),
    "m": (0.0, 1000.0),
    "m²": (0.0, 1000.0),
    "s": (0.0, 60.0),
}
"""By unit, between what a document's own limit may lie."""


@dataclass(frozen=True, slots=True)
class HouseLimit:
    """One figure that the trade works with.

    Parameters
    ----------
    code : str
        Name under which a document relaxes it.
    limit : float
        [SI]
    sense : {"at least", "at most"}
        Which side of it is right.
    unit : str
        Unit of ``limit``; empty for a ratio or a count.
    means : str
        What is measured.
    source : str
        Where the figure is from, with its trust mark: [L] looked up, [M] from memory,
        [C] common practice, no source.
    """

    code: str
    limit: float
    sense: Sense
    unit: str
    means: str
    source: str


def _limits() -> dict[str, HouseLimit]:
    table = tables.load("house_limits")
    found = {}
    for row, limit in zip(table.rows, table.floats("limit"), strict=True):
        sense: Sense | None = next((s for s in get_args(Sense) if s == row["sense"]), None)
        if sense is None:
            raise ValueError(f"house_limits.csv: {row['code']}: {row['sense']!r} is no sense")
        if row["code"] in found:
            raise ValueError(f"house_limits.csv: {row['code']} stands there twice")
        found[row["code"]] = HouseLimit(
            code=row["code"],
            limit=limit,
            sense=sense,
            unit=row["unit"],
            means=row["means"],
            source=row["source"],
        )
    return found


HOUSE_LIMITS: dict[str, HouseLimit] = _limits()
"""Default thresholds by rule code; the one place that placement and checks read them from."""
