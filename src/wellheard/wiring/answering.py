"""The least: first what stays unwired, then price, then electronics, then cable."""

from __future__ import annotations

import math
import time

import numpy as np

from wellheard.arrays import Array
from wellheard.milp import SLACK
from wellheard.wiring.answer import Answer
from wellheard.wiring.program import Sheet, sheet, taken
from wellheard.wiring.task import Task

STEPS = ("missed", "cents", "electronics", "millimetres")
"""What is made least, in this order."""

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
    """
    made = sheet(task)
    if not made.columns:
        return Answer("optimal", {}, 0, 0, 0, 0, (), 0)
    ends = time.monotonic() + time_limit
    caps: list[tuple[Array, float]] = []
    best: Array | None = None
    bounds: dict[str, float] = {}
    finished = True
    for step in STEPS:
        weights = made.weights(step)
        if not weights.any():
            bounds[step] = 0.0
            continue
        found = made.solve(
            weights,
            caps=caps,
            time_limit=ends - time.monotonic(),
            start=best,
        )
        bounds[step] = math.ceil(found.bound - 1e-6) if math.isfinite(found.bound) else 0.0
        if found.values is not None:
            best = np.round(found.values)
        if found.status != "optimal" or best is None:
            finished = False
            break
        caps.append((weights, float(weights @ best) + SLACK))
    if best is None:
        return UNFINISHED
    return _answer(made, best, bounds, finished=finished)


def _answer(made: Sheet, whole: Array, bounds: dict[str, float], *, finished: bool) -> Answer:
    sums = {step: round(float(made.weights(step) @ whole)) for step in STEPS}
    counts = taken(made, whole)
    missed = tuple(name[1] for name in counts if name[0] == "missed")
    return Answer(
        status="gap" if not finished else "infeasible" if missed else "optimal",
        counts=counts,
        cents=sums["cents"],
        electronics=sums["electronics"],
        millimetres=sums["millimetres"],
        bound=round(bounds.get("cents", 0.0)),
        missed=missed,
        fewest_missed=round(bounds.get("missed", 0.0)),
    )
