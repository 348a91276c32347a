"""The least: first what stays unwired, then price, electronics, cable, and change."""

from __future__ import annotations

import math
import time
from dataclasses import dataclass, field

import numpy as np

from wellheard.arrays import Array
from wellheard.milp import SLACK
from wellheard.wiring.answer import Answer
from wellheard.wiring.program import Sheet, sheet, taken
from wellheard.wiring.task import Task

STEPS = (("missed",), ("cents", "electronics"), ("millimetres", "changed"))
"""What is made least, in this order; two at once where the second only decides among equals."""

UNFINISHED = Answer("gap", {}, 0, 0, 0, 0, (), 0)


def answer(task: Task, *, time_limit: float = 60.0) -> Answer:
    """Solve a task.

    Parameters
    ----------
    task : Task
        What is asked.
    time_limit : float
        For all steps together. [s]

    Returns
    -------
    Answer
        Status optimal where everything is wired and each step is proven; infeasible where it is
        proven that something stays unwired, with the best wiring of all else; gap where time ran
        out, with the best that was found and a bound.

    Notes
    -----
    Each step holds the steps before it at what they reached, so that the order is strict: no
    cable is saved by a cent more. All figures are whole numbers, and sums are compared exactly.
    Two that are made least at once are added up, the first weighed so that one of it is more than
    all that there can be of the second; the answer counts as proven only where the bound leaves
    nothing between.
    """
    made = sheet(task)
    if not made.columns:
        return Answer("optimal", {}, 0, 0, 0, 0, (), 0)
    return _Search(made, time.monotonic() + time_limit).answer()


@dataclass
class _Search:
    made: Sheet
    ends: float
    best: Array | None = None
    caps: list[tuple[Array, float]] = field(default_factory=list)
    bounds: dict[str, int] = field(default_factory=dict)

    def answer(self) -> Answer:
        """Step by step, as far as time goes."""
        finished = all(self._step(*names) for names in STEPS)
        if self.best is None:
            return UNFINISHED
        sums = {name: self._sum(name) for names in STEPS for name in names}
        counts = taken(self.made, self.best)
        missed = tuple(name[1] for name in counts if name[0] == "missed")
        return Answer(
            status="gap" if not finished else "infeasible" if missed else "optimal",
            counts=counts,
            cents=sums["cents"],
            electronics=sums["electronics"],
            millimetres=sums["millimetres"],
            bound=self.bounds.get("cents", 0),
            missed=missed,
            fewest_missed=self.bounds.get("missed", 0),
        )

    def _sum(self, name: str) -> int:
        assert self.best is not None
        return round(float(self.made.weights(name) @ self.best))

    def _step(self, *names: str) -> bool:
        """Make these least in this order; whether that is proven."""
        weights = [self.made.weights(name) for name in names]
        most = [float(np.abs(w) @ self.made.most) for w in weights]
        scale = math.floor(most[1]) + 1 if len(names) == 2 else 1
        cost = scale * weights[0] + (weights[1] if len(names) == 2 else 0.0)
        if self.best is not None and not cost.any():
            return True
        found = self.made.solve(
            cost, caps=self.caps, time_limit=self.ends - time.monotonic(), start=self.best
        )
        if found.values is not None:
            self.best = np.round(found.values)
        bound = math.ceil(found.bound - SLACK) if math.isfinite(found.bound) else 0
        self.bounds[names[0]] = max(bound // scale, 0)
        if self.best is None or found.status != "optimal":
            return False
        if float(cost @ self.best) - found.bound >= 1.0:
            # Tolerances left something between: one after the other.
            return len(names) == 2 and all(self._step(name) for name in names)
        for name, one in zip(names, weights, strict=True):
            self.bounds[name] = self._sum(name)
            self.caps.append((one, self._sum(name) + SLACK))
        return True
