"""The integer programs of placement, one per step, and their exact check.

Each function answers one question for a fixed number of devices or says how far it got before
the clock ran out. What HiGHS returns is checked in whole numbers before anybody sees it.
"""

from __future__ import annotations

import math
import time
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from wellheard.arrays import Array, Mask
from wellheard.place.cover import (
    Candidates,
    Whole,
    binding_rows,
    disjoint_rows,
    greedy_cover,
    padded,
    swapped_for_mean,
    undominated,
)
from wellheard.place.milp import Indices, Outcome, Program

RANKED_AT_ONCE = 20
"""Candidates that one program ranks: powers of two to 2^19 are exact beside the tolerances."""


SLACK = 0.01
"""Added to rows whose sums are whole numbers, so that tolerances cannot cut off an answer."""


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
        free = least(
            candidates.without_conflicts(), duty, clock, by=by, at_most=at_most, budget=budget
        )
        if free.chosen is None or not candidates.clash(free.chosen):
            return free
    return _least(candidates, duty, clock, by=by, at_most=at_most, exactly=exactly, budget=budget)


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
        duty, keep = _reduced(candidates, duty)
        settled = _settled_by_greed(candidates, duty, keep, by, at_most, budget)
        if settled is not None and clock.left() > 0:
            return settled
    cost: float | Array = 0.0
    if by == "number" or (by == "price" and candidates.price is None):
        cost = 1.0
    elif by == "price" and candidates.price is not None:
        cost = candidates.price[keep].astype(float)
    program = Program()
    y = _choice(program, candidates, keep, cost)
    if exactly is not None:
        program.row(y, 1.0, lower=exactly, upper=exactly)
    elif at_most is not None:
        program.row(y, 1.0, upper=at_most)
    _within(program, candidates, keep, y, budget)
    _serve(program, duty, keep, y)
    outcome = program.solve(time_limit=clock.left())
    clock.nodes += outcome.nodes
    chosen = _read(outcome, keep, y)
    if chosen is not None:
        _verify(candidates, asked, chosen, budget)
        if (exactly is not None and len(chosen) != exactly) or (
            at_most is not None and len(chosen) > at_most
        ):
            raise ArithmeticError("the solver returned a wrong number of devices")
    bound = outcome.bound
    if by != "nothing" and math.isfinite(bound):
        bound = math.ceil(bound - 1e-6)
    return Found(chosen, outcome.status != "limit", bound)


def _reduced(candidates: Candidates, duty: Duty) -> tuple[Duty, Whole]:
    """Drop dominated candidates and implied rows in turn, until neither finds more."""
    keep = undominated(duty.rows, candidates)
    while True:
        rows = binding_rows(duty.must, keep)
        if len(rows) == len(duty.must):
            return duty, keep
        duty = Duty(duty.must[rows], duty.may, duty.quota)
        keep = undominated(duty.rows, candidates, keep)


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
    y = _choice(program, candidates, keep, 0.0)
    if exactly is not None:
        program.row(y, 1.0, lower=exactly, upper=exactly)
    else:
        program.row(y, 1.0, upper=float(at_most or 0))
    _count_served(program, serves, keep, y, cost=1.0)
    outcome = program.solve(time_limit=clock.left())
    clock.nodes += outcome.nodes
    chosen = _read(outcome, keep, y)
    if chosen is not None:
        _verify(candidates, Duty(serves[:0]), chosen, None)
    bound = math.floor(outcome.bound + 1e-6) if math.isfinite(outcome.bound) else outcome.bound
    return Found(chosen, outcome.status != "limit", bound)


@dataclass(frozen=True)
class MeanQuestion:
    """The mean at a fixed number, price and floor; steps 3 and 4 ask it in several ways.

    Attributes
    ----------
    worth : ndarray, shape (seats, candidates)
        What a seat gains from a candidate, in whole levels.
    allowed : ndarray, shape (seats, candidates)
        A seat counts only candidates allowed for it, and must have one.
    serves, quota
        Of these rows at least ``quota`` must be served; None where ``allowed`` implies it.
    keep : ndarray
        Candidates still in the race: all others are proven not to reach the best sum.
    """

    candidates: Candidates
    worth: Whole
    allowed: Mask
    count: int
    budget: int | None
    serves: Mask | None
    quota: int
    keep: Whole

    @property
    def duty(self) -> Duty:
        """What any answer must do."""
        return Duty(self.allowed, self.serves, self.quota)

    def total(self, chosen: Sequence[int]) -> int:
        """Sum over seats of the best allowed worth."""
        table = np.where(self.allowed, self.worth, -(1 << 40))
        return int(table[:, list(chosen)].max(axis=1).sum())

    def program(
        self, *, maximise: bool, at_least: int | None = None, cost: float | Array = 0.0
    ) -> tuple[Program, Indices, float]:
        """Build z[s,l] ≤ Σ_{c: level l} y_c + z[s,l+1], with the sum as objective or as a row.

        z[s,l] says that seat s has a device of its level l or better. Also returned: the
        columns of the candidates, and the sum that is there before any z counts.
        """
        program = Program(maximise=maximise)
        keep = self.keep
        y = _choice(program, self.candidates, keep, cost)
        program.row(y, 1.0, lower=self.count, upper=self.count)
        _within(program, self.candidates, keep, y, self.budget)
        _serve(program, self.duty, keep, y)
        constant = 0
        gains: list[Array] = []
        lengths: list[int] = []
        index: list[Indices] = []
        coefficient: list[Array] = []
        z = program.width
        for worth, allowed in zip(self.worth[:, keep], self.allowed[:, keep], strict=True):
            mine = np.flatnonzero(allowed)
            ladder, rung = np.unique(worth[mine], return_inverse=True)
            constant += int(ladder[0])
            gains.append(np.diff(ladder).astype(float))
            for level in range(1, len(ladder)):
                on_it = mine[rung == level]
                last = level == len(ladder) - 1
                index.append(np.concatenate([y[on_it], [z] if last else [z, z + 1]]))
                coefficient.append(
                    np.concatenate([np.full(len(on_it), -1.0), [1.0] if last else [1.0, -1.0]])
                )
                lengths.append(len(index[-1]))
                z += 1
        gain = np.concatenate(gains)
        columns = program.columns(len(gain), cost=gain if at_least is None else 0.0)
        if lengths:
            program.rows(
                np.array(lengths), np.concatenate(index), np.concatenate(coefficient), upper=0.0
            )
        if at_least is not None:
            # A hair of slack: sums are whole numbers, tolerances are not.
            program.row(columns, gain, lower=at_least - constant - SLACK)
        return program, y, float(constant)

    def narrowed(self, bound: float, reduced: Array, total: int) -> MeanQuestion:
        """Drop candidates whose reduced cost proves that they miss ``total``."""
        stays = bound - np.abs(reduced[: len(self.keep)]) >= total - SLACK
        stays |= np.isin(self.keep, self.candidates.forced)
        return self.with_keep(self.keep[stays])

    def with_keep(self, keep: Whole) -> MeanQuestion:
        """The same question with fewer candidates in the race."""
        return MeanQuestion(
            self.candidates,
            self.worth,
            self.allowed,
            self.count,
            self.budget,
            self.serves,
            self.quota,
            keep,
        )


def best_mean(
    question: MeanQuestion, chosen: list[int], clock: Clock
) -> tuple[Found, int, MeanQuestion]:
    """Raise the sum of best worths as far as it goes.

    Returns
    -------
    Found, int, MeanQuestion
        ``bound`` limits the sum; the sum reached; the question with only those candidates
        that can still take part in an equally good choice.
    """
    if question.serves is None:  # exchanges know nothing of a quota
        chosen = swapped_for_mean(
            chosen, question.worth, question.allowed, question.candidates, question.budget
        )
    total = question.total(chosen)
    program, _, constant = question.program(maximise=True)
    relaxed = program.solve(time_limit=clock.left(), relaxed=True)
    if relaxed.status != "optimal" or relaxed.values is None or relaxed.reduced_costs is None:
        return Found(chosen, False, math.inf), total, question
    bound = relaxed.objective + constant
    at_zero = np.where(relaxed.values < 0.5, relaxed.reduced_costs, 0.0)
    if math.floor(bound + 1e-6) > total:
        narrow = question.narrowed(bound, at_zero, total)
        program, y, constant = narrow.program(maximise=True)
        outcome = program.solve(time_limit=clock.left())
        clock.nodes += outcome.nodes
        better = _read(outcome, narrow.keep, y)
        if better is not None and question.total(better) >= total:
            _verify(question.candidates, question.duty, better, question.budget)
            chosen, total = better, question.total(better)
        if outcome.status == "limit":
            limit = min(bound, outcome.bound + constant)
            return Found(chosen, False, math.floor(limit + 1e-6)), total, question
    return Found(chosen, True, float(total)), total, question.narrowed(bound, at_zero, total)


def tidiest(question: MeanQuestion, chosen: list[int], total: int, clock: Clock) -> Found:
    """Among choices that reach ``total``, take fewest lines, then the smallest candidates.

    Candidates are in reading order of their positions, so the smallest sorted list of numbers
    is the smallest list of positions.
    """
    chosen = sorted(chosen)
    if len(question.keep) == question.count:
        return Found(chosen, True, float(lines_of(question.candidates, chosen)))
    program, y, _ = question.program(maximise=True, at_least=total)
    mine = y[np.isin(question.keep, chosen)]
    program.row(mine, 1.0, upper=len(chosen) - 1.0)
    outcome = program.solve(time_limit=clock.left())
    clock.nodes += outcome.nodes
    if outcome.status == "infeasible":
        return Found(chosen, True, float(lines_of(question.candidates, chosen)))
    if outcome.status == "limit":
        return Found(chosen, False, 0.0)

    most: int | None = None
    if question.candidates.lines is not None:
        program, y, _ = question.program(maximise=False, at_least=total)
        _draw_lines(program, question, y, cost=1.0, at_most=None)
        outcome = program.solve(time_limit=clock.left())
        clock.nodes += outcome.nodes
        better = _read(outcome, question.keep, y)
        if better is not None:
            chosen = _checked_tie(question, better, total)
        if outcome.status == "limit":
            return Found(chosen, False, max(0.0, math.ceil(outcome.bound - 1e-6)))
        most = lines_of(question.candidates, chosen)
    # Now the smallest sorted list: settle candidates in order, a handful at a time.
    settled = 0
    while settled < len(question.keep):
        head = np.isin(question.keep[:settled], chosen)
        if int(head.sum()) == question.count:
            break
        ahead = min(RANKED_AT_ONCE, len(question.keep) - settled)
        weight = np.zeros(len(question.keep))
        weight[settled : settled + ahead] = 2.0 ** np.arange(ahead - 1, -1, -1)
        program, y, _ = question.program(maximise=True, at_least=total, cost=weight)
        if most is not None:
            _draw_lines(program, question, y, cost=0.0, at_most=most)
        for column, taken in zip(y[:settled], head, strict=True):
            program.row(np.array([column]), 1.0, lower=float(taken), upper=float(taken))
        outcome = program.solve(time_limit=clock.left())
        clock.nodes += outcome.nodes
        better = _read(outcome, question.keep, y)
        if better is not None:
            chosen = _checked_tie(question, better, total)
        if outcome.status == "limit":
            return Found(chosen, False, float(most or 0))
        settled += ahead
    return Found(chosen, True, float(lines_of(question.candidates, chosen)))


def lines_of(candidates: Candidates, chosen: Sequence[int]) -> int:
    """Number of distinct x plus number of distinct y among ``chosen``; 0 without positions."""
    if candidates.lines is None:
        return 0
    at = candidates.lines[list(chosen)]
    return len(np.unique(at[:, 0])) + len(np.unique(at[:, 1]))


def _draw_lines(
    program: Program, question: MeanQuestion, y: Indices, *, cost: float, at_most: int | None
) -> None:
    assert question.candidates.lines is not None
    drawn = []
    for axis in (0, 1):
        names, line = np.unique(question.candidates.lines[question.keep, axis], return_inverse=True)
        u = program.columns(len(names), cost=cost, whole=True)
        drawn.append(u)
        pairs = np.column_stack([y, u[line]]).ravel()
        program.rows(np.full(len(y), 2), pairs, np.tile([1.0, -1.0], len(y)), upper=0.0)
    if at_most is not None:
        program.row(np.concatenate(drawn), 1.0, upper=float(at_most))


def _checked_tie(question: MeanQuestion, chosen: list[int], total: int) -> list[int]:
    _verify(question.candidates, question.duty, chosen, question.budget)
    if len(chosen) != question.count or question.total(chosen) < total:
        raise ArithmeticError("the solver returned a choice that loses what was reached before")
    return chosen


def _choice(program: Program, candidates: Candidates, keep: Whole, cost: float | Array) -> Indices:
    """Columns of the candidates in ``keep``; forced ones are 1, cliques hold."""
    lower = np.isin(keep, candidates.forced).astype(float)
    y = program.columns(len(keep), cost=cost, lower=lower, whole=True)
    if candidates.cliques:
        place = np.full(candidates.count, -1, dtype=np.int64)
        place[keep] = y
        for clique in candidates.cliques:
            members = place[clique]
            members = members[members >= 0]
            if len(members) > 1:
                program.row(members, 1.0, upper=1.0)
    return y


def _within(
    program: Program, candidates: Candidates, keep: Whole, y: Indices, budget: int | None
) -> None:
    if budget is not None and candidates.price is not None:
        program.row(y, candidates.price[keep].astype(float), upper=budget + SLACK)


def _serve(program: Program, duty: Duty, keep: Whole, y: Indices) -> None:
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


def _read(outcome: Outcome, keep: Whole, y: Indices) -> list[int] | None:
    if outcome.values is None:
        return None
    return sorted(keep[outcome.values[y] > 0.5].tolist())


def _verify(candidates: Candidates, duty: Duty, chosen: Sequence[int], budget: int | None) -> None:
    picked = list(chosen)
    clash = candidates.clash(picked)
    dear = budget is not None and candidates.total(picked) > budget
    missing = not np.isin(candidates.forced, picked).all()
    if clash or dear or missing or not duty.done_by(picked):
        raise ArithmeticError("the solver returned a choice that breaks a rule it was given")
