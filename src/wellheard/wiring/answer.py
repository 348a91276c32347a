"""What the solver answers, before it is written as links and devices."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

ProofStatus = Literal["optimal", "infeasible", "gap"]


@dataclass(frozen=True)
class Answer:
    """So many of each, by the names of the program's columns.

    Parameters
    ----------
    status : {"optimal", "infeasible", "gap"}
        Infeasible: something stays unwired, and it is proven that something must.
    counts : mapping of tuple of str to int
    cents, electronics, millimetres : int
        Price of all that is added, devices used, cable laid.
    bound : int
        No answer that leaves as little unwired costs less. [cents]
    missed : tuple of str
        Ids of what stays unwired; of straight cables the port.
    fewest_missed : int
        No answer leaves less unwired.
    """

    status: ProofStatus
    counts: Mapping[tuple[str, ...], int]
    cents: int
    electronics: int
    millimetres: int
    bound: int
    missed: tuple[str, ...]
    fewest_missed: int

    def number(self, *name: str) -> int:
        """How many of one column."""
        return self.counts.get(name, 0)

    def of(self, kind: str) -> tuple[tuple[str, ...], ...]:
        """Names of a kind, without it, of which there are any."""
        return tuple(name[1:] for name in self.counts if name[0] == kind)

    @property
    def root(self) -> str:
        """Hub site of the root; empty for none."""
        return next((key for (key,) in self.of("root")), "")
