"""Designs weighed against each other: which is no worse in anything, and which to show of many."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

SAME_PRICE = 0.01
"""Share of a price: what differs by less is no choice, if it differs in nothing else."""
SAME_PER_CENT = 5
SAME_AREA = 0.5
"""[m²]"""
CERTAIN = 0.995
"""From here on a chance is printed as more than 99 %."""
BEYOND = 1.1
"""Corner that volumes are measured from, where 1 is the worst of all that are weighed."""


@dataclass(frozen=True)
class Figures:
    """What a design is weighed by.

    Parameters
    ----------
    price : float
        Installed, cables and finishes with it. [currency]
    chance : float
        That the promise is kept, 0–1.
    openings : int
        To be cut.
    treatment_area : float
        Of new finishes [m²].
    """

    price: float
    chance: float
    openings: int = 0
    treatment_area: float = 0.0

    @property
    def burdens(self) -> tuple[float, ...]:
        """Of each the less the better, in the steps in which they are printed.

        Examples
        --------
        >>> Figures(1200.0, 0.8137, 2, 3.04).burdens
        (1200.0, 19, 2, 3.0)
        """
        return (
            round(self.price, 2),
            100 - percent_step(self.chance),
            self.openings,
            round(self.treatment_area, 1),
        )


def alike(one: Figures, other: Figures) -> bool:
    """Whether a reader would see no choice between two that neither dominates.

    Examples
    --------
    >>> alike(Figures(1500.0, 0.93), Figures(1502.0, 0.96))
    True
    >>> alike(Figures(1500.0, 0.93), Figures(1500.0, 0.93, 1))
    False
    """
    mine, its = one.burdens, other.burdens
    return (
        abs(mine[0] - its[0]) < SAME_PRICE * max(mine[0], its[0])
        and abs(mine[1] - its[1]) < SAME_PER_CENT
        and mine[2] == its[2]
        and abs(mine[3] - its[3]) < SAME_AREA
    )


def percent_step(chance: float) -> int:
    """Chance in whole per cent, rounded down as it is printed; 100 for more than 99 %.

    Examples
    --------
    >>> [percent_step(chance) for chance in (0.799, 0.9949, 0.9951)]
    [79, 99, 100]
    """
    return 100 if chance >= CERTAIN else math.floor(100 * chance + 1e-9)


def dominates(one: Figures, other: Figures) -> bool:
    """Whether one is no worse in anything, and better in something.

    Examples
    --------
    >>> dominates(Figures(900.0, 0.9), Figures(1000.0, 0.9))
    True
    >>> dominates(Figures(900.0, 0.9, 1), Figures(1000.0, 0.9, 0))
    False
    """
    mine, its = one.burdens, other.burdens
    return mine != its and all(a <= b for a, b in zip(mine, its, strict=True))


def frontier(weighed: Sequence[Figures]) -> tuple[int, ...]:
    """Those that nothing dominates; of equal ones the first.

    Examples
    --------
    >>> frontier([Figures(900.0, 0.8), Figures(950.0, 0.8), Figures(990.0, 0.9), Figures(900, 0.8)])
    (0, 2)
    """
    return tuple(
        i
        for i, one in enumerate(weighed)
        if not any(dominates(other, one) for other in weighed)
        and all(other.burdens != one.burdens for other in weighed[:i])
    )


def hypervolume(points: Sequence[Sequence[float]]) -> float:
    """Volume between some points and the corner `BEYOND`: how much of all that is possible is met.

    Parameters
    ----------
    points : sequence of sequence of float
        0 is the best, 1 the worst of each axis; some ten at most, for every subset is looked at.

    Examples
    --------
    >>> round(hypervolume([(0.0, 1.0), (1.0, 0.0)]), 2)
    0.21
    """
    total = 0.0
    for size in range(1, len(points) + 1):
        for some in combinations(points, size):
            shared = math.prod(BEYOND - max(axis) for axis in zip(*some, strict=True))
            total += shared if size % 2 else -shared
    return total


def well_spread(weighed: Sequence[Figures], number: int) -> tuple[int, ...]:
    """So many of what nothing dominates: cheapest, surest, least disruption, then by volume.

    Returns
    -------
    tuple of int
        Fewer where there are no more that differ; in the order in which they were taken.
    """
    left = list(frontier(weighed))
    burdens = {i: weighed[i].burdens for i in left}
    firsts = (
        lambda i: (burdens[i][0], burdens[i]),
        lambda i: (burdens[i][1], burdens[i]),
        lambda i: (burdens[i][2], burdens[i][3], burdens[i]),
    )
    taken: list[int] = []
    for rank in firsts if left else ():
        best = min(left, key=rank)
        if best not in taken:
            taken.append(best)
    taken = taken[:number]
    scaled = _scaled(burdens)
    while len(taken) < number:
        rest = [i for i in left if not any(alike(weighed[i], weighed[j]) for j in taken)]
        if not rest:
            break
        taken.append(
            max(rest, key=lambda i: (hypervolume([scaled[j] for j in (*taken, i)]), -left.index(i)))
        )
    return tuple(taken)


def _scaled(burdens: dict[int, tuple[float, ...]]) -> dict[int, tuple[float, ...]]:
    axes = list(zip(*burdens.values(), strict=True))
    low = [min(axis) for axis in axes]
    span = [(max(axis) - min(axis)) or 1.0 for axis in axes]
    return {
        i: tuple((b - a) / s for b, a, s in zip(each, low, span, strict=True))
        for i, each in burdens.items()
    }
