"""What the solver answers: the devices chosen, and how far every step is proven."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal, TypeAlias

from wellheard.arrays import Array

Margins: TypeAlias = Callable[[int], Array]
StepName: TypeAlias = Literal["fewest", "price", "served", "worst", "mean", "tidy"]
StepStatus: TypeAlias = Literal["optimal", "infeasible", "gap"]


@dataclass(frozen=True)
class Step:
    """One step of the lexicographic order: what was reached and what was proven.

    ``bound`` is the proven limit of ``value``; they are equal in an optimal step.
    """

    name: StepName
    status: StepStatus
    value: float | None
    bound: float | None
    nodes: int
    seconds: float = field(compare=False)


@dataclass(frozen=True)
class Solution:
    """The devices chosen, and how far the choice is proven.

    Attributes
    ----------
    chosen : tuple of int
        Candidates, sorted.
    worst_margin : float
        Smallest best margin of any seat, rounded down to the step it was solved with.
    mean_value : float
        Mean over seats of the best value among chosen candidates that keep that floor,
        rounded down to the step likewise.
    status
        ``optimal``: every step is proven. ``infeasible``: proven that no choice within
        ``max_devices`` serves every seat; ``chosen`` is the best compromise. ``gap``: the time
        limit struck before that.
    gap : float
        (value − bound) / value of price or number, whichever leads; 0 once that is proven.
    bound : float or None
        Nothing below this price or number is possible; None where no choice serves every seat.
    fewer_is_impossible : bool
        Proven that fewer devices cannot serve every seat at any price.
    unserved : tuple of int
        Seats that no chosen candidate serves.
    best_possible : tuple of float
        Best margin of each seat over all candidates that may be chosen, with as few devices
        open as there can be; −inf where there is none.
    """

    chosen: tuple[int, ...]
    count: int
    price: float | None
    worst_margin: float
    mean_value: float
    status: Literal["optimal", "infeasible", "gap"]
    gap: float
    bound: float | None
    fewer_is_impossible: bool
    steps: tuple[Step, ...]
    unserved: tuple[int, ...]
    best_possible: tuple[float, ...]
