"""The integer programs of placement, one per step, and their exact check.

Each function answers one question for a fixed number of devices or says how far it got before
the clock ran out. What HiGHS returns is checked in whole numbers before anybody sees it.
"""

from __future__ import annotations

import math
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from wellheard.arrays import Array, Mask
from wellheard.milp import SLACK, Indices, Outcome, Program
from wellheard.place.cover import (
    Candidates,
    Whole,
    disjoint_rows,
    greedy_cover,
    padded,
    reduced,
    undominated,
)
from wellheard.place.exchange import ROUNDS, ROUNDS_TRIED, cheap_cover, clear_cover
from wellheard.place.parts import tightened

STEPS = 3
"""Numbers that are tried one after the other before there is no limit."""


class Clock:
    """The time that is left, and the nodes that were searched so far."""

    def __init__(self, time_limit: float) -> None:
        self._end = time.perf_counter() + time_limit
        self.nodes = 0

    def left(self) -> float:
        """Time left. [s]"""
        return self._end - time.perf_counter()


@dataclass(frozen=True)
class Found:
    """A choice of candidates, and whether it is proven best (or proven not to exist).

    ``bound`` limits the value of the question asked; it equals the value once proven.
    """

    chosen: list[int] | None
    proven: bool
    bound: float


@dataclass(frozen=True)
class Duty:
    """What a choice must do: serve every row of ``must``, and ``quota`` rows of ``may``."""

    must: Mask
    may: Mask | None = None
    quota: int = 0

    @property
    def rows(self) -> Mask:
        """Everything that serving can mean here."""
        return self.must if self.may is None else np.vstack([self.must, self.may])

    def done_by(self, chosen: Sequence[int]) -> bool:
        """Whether ``chosen`` serves what it must."""
        picked = list(chosen)
        if not self.must[:, picked].any(axis=1).all():
            return False
        return self.may is None or int(self.may[:, picked].any(axis=1).sum()) >= self.quota


def least(
    candidates: Candidates,
    duty: Duty,
    clock: Clock,
    *,
    by: Literal["number", "price", "nothing"],
    at_most: int | None = None,
    exactly: int | None = None,
    budget: int | None = None,
) -> Found:
    """Choose candidates that do ``duty`` with the least number or price.

    Without ``exactly``, dominated candidates are left out. ``by="nothing"`` asks only whether
    there is a choice.
    """
    if candidates.conflicts is not None and exactly is None:
        # Conflicts hardly ever bind and spoil dominance: try without them. What is impossible
        # so is impossible with them, and a choice without a clash is best with them too.
        eased = candidates.without_conflicts()
        free = _least(eased, duty, clock, by=by, at_most=at_most, exactly=None, budget=budget)
        if free.chosen is None or not candidates.clash(free.chosen):
            return free
        if duty.may is None and free.proven:
            return _least_apart(
                candidates, duty, clock, by=by, at_most=at_most, budget=budget, free=free
            )
    return _least(candidates, duty, clock, by=by, at_most=at_most, exactly=exactly, budget=budget)


def _least_apart(
    candidates: Candidates,
    duty: Duty,
    clock: Clock,
    *,
    by: Literal["number", "price", "nothing"],
    at_most: int | None,
    budget: int | None,
    free: Found,
) -> Found:
    """The same where what is least without conflicts meets one.

    A limit no higher than what is known to be possible rules out nearly all candidates, and makes
    of conflicts what a relaxation is not blind to.
    """
    must, start = duty.must, free.chosen
    assert start is not None
    if by == "price" and candidates.price is not None:
        least_price = int(free.bound)
        known = cheap_cover(candidates, must, start, least=least_price, budget=budget)
        if known is not None and at_most is not None and len(known) > at_most:
            known = None
        if known is not None:
            budget = candidates.total(known) - 1
            if budget < least_price:
                return Found(known, True, float(least_price))
        race, *_ = tightened(candidates, must, at_most, budget, seconds=clock.left())
        found = _least(race, duty, clock, by=by, at_most=at_most, exactly=None, budget=budget)
        if known is None or found.chosen is not None:
            return found
        price = float(candidates.total(known))
        return Found(known, found.proven, min(price, found.bound))
    floor = int(free.bound) if by != "nothing" else int(at_most or 0)
    for limit in range(floor, floor + STEPS if by != "nothing" else floor + 1):
        if at_most is not None and limit > at_most:
            return Found(None, True, math.inf)
        rounds = ROUNDS_TRIED if by == "nothing" else ROUNDS
        known = clear_cover(candidates, must, start, size=limit, budget=budget, rounds=rounds)
        if known is not None:
            return Found(known, True, float(len(known)) if by != "nothing" else 0.0)
        race, *_ = tightened(candidates, must, limit, budget, seconds=clock.left())
        found = _least(race, duty, clock, by=by, at_most=limit, exactly=None, budget=budget)
        if found.chosen is not None or not found.proven or by == "nothing":
            return found
    race, *_ = tightened(candidates, must, at_most, budget, seconds=clock.left())
    found = _least(race, duty, clock, by=by, at_most=at_most, exactly=None, budget=budget)
    return replace(found, bound=max(float(floor + STEPS), found.bound))


def _least(
    candidates: Candidates,
    duty: Duty,
    clock: Clock,
    *,
    by: Literal["number", "price", "nothing"],
    at_most: int | None,
    exactly: int | None,
    budget: int | None,
) -> Found:
    keep = candidates.usable
    if not duty.must[:, keep].any(axis=1).all():
        return Found(None, True, math.inf)
    asked = duty
    if exactly is None:
        must, keep = reduced(duty.must, candidates, duty.may)
        duty = replace(duty, must=must)
        settled = _settled_by_greed(candidates, duty, keep, by, at_most, budget)
        if settled is not None and clock.left() > 0:
            return settled
    cost: float | Array = 0.0
    if by == "number" or (by == "price" and candidates.price is None):
        cost = 1.0
    elif by == "price" and candidates.price is not None:
        cost = candidates.price[keep].astype(float)
    program = Program()
    y = choice_columns(program, candidates, keep, cost)
    if exactly is not None:
        program.row(y, 1.0, lower=exactly, upper=exactly)
    elif at_most is not None:
        program.row(y, 1.0, upper=at_most)
    if by != "price":
        within_budget(program, candidates, keep, y, budget)
    serve_rows(program, duty, keep, y)
    outcome = program.solve(time_limit=clock.left())
    clock.nodes += outcome.nodes
    chosen = chosen_of(outcome, keep, y)
    # A price that is made as small as can be needs no row that limits it: a solver cuts into
    # such rows, and takes many times as long.
    dear = by == "price" and budget is not None
    if chosen is not None and dear and candidates.total(chosen) > (budget or 0):
        proven = outcome.status != "limit"
        return Found(None, proven, math.inf if proven else math.ceil(outcome.bound - 1e-6))
    if chosen is not None:
        verify_choice(candidates, asked, chosen, budget)
        if (exactly is not None and len(chosen) != exactly) or (
            at_most is not None and len(chosen) > at_most
        ):
            raise ArithmeticError("the solver returned a wrong number of devices")
    bound = outcome.bound
    if by != "nothing" and math.isfinite(bound):
        bound = math.ceil(bound - 1e-6)
    return Found(chosen, outcome.status != "limit", bound)


def _settled_by_greed(
    candidates: Candidates,
    duty: Duty,
    keep: Whole,
    by: Literal["number", "price", "nothing"],
    at_most: int | None,
    budget: int | None,
) -> Found | None:
    """Answer without the solver where greed from above and from below agree."""
    if duty.may is not None or by == "price":
        return None
    serves = np.zeros_like(duty.must)
    serves[:, keep] = duty.must[:, keep]
    forced = candidates.forced
    open_rows = serves[~serves[:, forced].any(axis=1)]
    needed = len(forced) + disjoint_rows(open_rows)
    if at_most is not None and needed > at_most:
        return Found(None, True, math.inf)
    cover = greedy_cover(serves, candidates)
    if cover is None or (budget is not None and candidates.total(cover) > budget):
        return None
    enough = needed if by == "number" else at_most
    if enough is not None and len(cover) <= enough:
        return Found(cover, True, float(len(cover)))
    return None


def with_count(
    candidates: Candidates, duty: Duty, clock: Clock, count: int, *, budget: int | None
) -> Found:
    """Choose exactly ``count`` candidates that do ``duty``, if that is possible.

    Looks for at most so many among undominated candidates first and fills up: a refusal there
    is a refusal of everything.
    """
    found = least(candidates, duty, clock, by="nothing", at_most=count, budget=budget)
    if found.chosen is None or len(found.chosen) == count:
        return found
    grown = padded(found.chosen, count, candidates, budget)
    if grown is not None:
        return Found(grown, True, 0.0)
    return least(candidates, duty, clock, by="nothing", exactly=count, budget=budget)


def best_worst(
    candidates: Candidates,
    levels: Whole,
    chosen: list[int],
    clock: Clock,
    *,
    budget: int | None,
    quota: int | None,
) -> tuple[Found, int]:
    """Raise the worst seat as far as the number of ``chosen`` allows, by bisection.

    Parameters
    ----------
    candidates : Candidates
        Their prices, locks and conflicts.
    levels : ndarray, shape (seats, candidates)
        Margins in whole steps.
    chosen : list of int
        Where to start; their number is kept.
    clock : Clock
        The time that is left.
    budget : int or None
        Largest total price in whole units.
    quota : int or None
        Seats that must keep a level ≥ 0 although the worst may be below.

    Returns
    -------
    Found, int
        Its ``bound`` is a level; the second is the level reached.
    """
    may = None if quota is None else levels >= 0
    top = int(levels[:, candidates.usable].max(axis=1).min())
    floor = int(levels[:, chosen].max(axis=1).min())
    steps = np.unique(levels[:, candidates.usable])
    steps = steps[(steps > floor) & (steps <= top)]
    while len(steps):
        middle = len(steps) // 2
        duty = Duty(levels >= steps[middle], may, quota or 0)
        found = with_count(candidates, duty, clock, len(chosen), budget=budget)
        if found.chosen is not None:
            chosen = found.chosen
            floor = int(levels[:, chosen].max(axis=1).min())
            steps = steps[steps > floor]
        elif found.proven:
            steps = steps[:middle]
        else:
            return Found(chosen, False, float(steps[-1])), floor
    return Found(chosen, True, float(floor)), floor


def most_served(
    candidates: Candidates, serves: Mask, clock: Clock, count: int
) -> tuple[Found, int]:
    """Serve as many seats as exactly ``count`` candidates can.

    Returns
    -------
    Found, int
        ``chosen`` is None where no ``count`` candidates may stand together.
    """
    keep = undominated(serves, candidates)
    found = _most_served(candidates, serves, clock, keep, at_most=count)
    if found.chosen is not None:
        grown = padded(found.chosen, count, candidates, None)
        found = Found(grown, found.proven, found.bound)
        if grown is None:
            found = _most_served(candidates, serves, clock, candidates.usable, exactly=count)
    if found.chosen is None:
        return found, 0
    return found, int(serves[:, found.chosen].any(axis=1).sum())


def _most_served(
    candidates: Candidates,
    serves: Mask,
    clock: Clock,
    keep: Whole,
    *,
    at_most: int | None = None,
    exactly: int | None = None,
) -> Found:
    program = Program(maximise=True)
    y = choice_columns(program, candidates, keep, 0.0)
    if exactly is not None:
        program.row(y, 1.0, lower=exactly, upper=exactly)
    else:
        program.row(y, 1.0, upper=float(at_most or 0))
    _count_served(program, serves, keep, y, cost=1.0)
    outcome = program.solve(time_limit=clock.left())
    clock.nodes += outcome.nodes
    chosen = chosen_of(outcome, keep, y)
    if chosen is not None:
        verify_choice(candidates, Duty(serves[:0]), chosen, None)
    bound = math.floor(outcome.bound + 1e-6) if math.isfinite(outcome.bound) else outcome.bound
    return Found(chosen, outcome.status != "limit", bound)


def choice_columns(
    program: Program, candidates: Candidates, keep: Whole, cost: float | Array
) -> Indices:
    """Columns of the candidates in ``keep``; forced ones are 1, cliques hold."""
    lower = np.isin(keep, candidates.forced).astype(float)
    y = program.columns(len(keep), cost=cost, lower=lower, whole=True)
    if candidates.cliques:
        place = np.full(candidates.count, -1, dtype=np.int64)
        place[keep] = y
        parts = [place[clique] for clique in candidates.cliques]
        parts = [part[part >= 0] for part in parts]
        parts = [part for part in parts if len(part) > 1]
        if parts:
            lengths = np.array([len(part) for part in parts])
            program.rows(lengths, np.concatenate(parts), 1.0, upper=1.0)
    return y


def within_budget(
    program: Program, candidates: Candidates, keep: Whole, y: Indices, budget: int | None
) -> None:
    if budget is not None and candidates.price is not None:
        program.row(y, candidates.price[keep].astype(float), upper=budget + SLACK)


def serve_rows(program: Program, duty: Duty, keep: Whole, y: Indices) -> None:
    if len(duty.must):
        row, column = np.nonzero(duty.must[:, keep])
        program.rows(np.bincount(row, minlength=len(duty.must)), y[column], 1.0, lower=1.0)
    if duty.may is not None:
        served = _count_served(program, duty.may, keep, y, cost=0.0)
        program.row(served, 1.0, lower=duty.quota - SLACK)


def _count_served(
    program: Program, serves: Mask, keep: Whole, y: Indices, *, cost: float
) -> Indices:
    """Add a column per row of ``serves`` that can be 1 only where a chosen candidate serves it."""
    seats = len(serves)
    served = program.columns(seats, cost=cost)
    row, column = np.nonzero(serves[:, keep])
    row = np.concatenate([row, np.arange(seats)])
    order = np.argsort(row, kind="stable")
    index = np.concatenate([y[column], served])[order]
    coefficient = np.concatenate([np.full(len(column), -1.0), np.ones(seats)])[order]
    program.rows(np.bincount(row, minlength=seats), index, coefficient, upper=0.0)
    return served


def chosen_of(outcome: Outcome, keep: Whole, y: Indices) -> list[int] | None:
    if outcome.values is None:
        return None
    return sorted(keep[outcome.values[y] > 0.5].tolist())


def verify_choice(
    candidates: Candidates, duty: Duty, chosen: Sequence[int], budget: int | None
) -> None:
    picked = list(chosen)
    clash = candidates.clash(picked)
    dear = budget is not None and candidates.total(picked) > budget
    missing = not np.isin(candidates.forced, picked).all()
    if clash or dear or missing or not duty.done_by(picked):
        raise ArithmeticError("the solver returned a choice that breaks a rule it was given")
