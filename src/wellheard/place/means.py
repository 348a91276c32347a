"""The best mean at a fixed number, price and floor, and the tidiest of those that reach it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from wellheard.arrays import Array, Mask
from wellheard.milp import SLACK, Indices, Program
from wellheard.place.cover import Candidates, Whole, swapped_for_mean
from wellheard.place.exhaustive import EFFORT, all_best
from wellheard.place.narrowing import Slack
from wellheard.place.parts import Floor, tightened
from wellheard.place.programs import (
    Clock,
    Duty,
    Found,
    choice_columns,
    chosen_of,
    serve_rows,
    verify_choice,
    within_budget,
)

RANKED_AT_ONCE = 20
"""Candidates that one program ranks: powers of two to 2^19 are exact beside the tolerances."""

TIES = 4
"""Up to so many equal choices are named one by one; of more, programs find the tidiest."""

FEW = 6
"""Up to so many devices choices are listed at once; beyond, a relaxation narrows them first."""


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
    slacks : tuple of Slack
        What every choice in the race keeps to.
    floors : tuple of Floor
        What every choice in the race spends at least on a part of it.
    ties : tuple of tuple of int, optional
        All choices that reach the best sum, where they could be listed.
    """

    candidates: Candidates
    worth: Whole
    allowed: Mask
    count: int
    budget: int | None
    serves: Mask | None
    quota: int
    keep: Whole
    slacks: tuple[Slack, ...] = ()
    floors: tuple[Floor, ...] = ()
    ties: tuple[tuple[int, ...], ...] | None = None

    @property
    def duty(self) -> Duty:
        """What any answer must do."""
        return Duty(self.allowed, self.serves, self.quota)

    def total(self, chosen: Sequence[int]) -> int:
        """Sum over seats of the best allowed worth."""
        table = np.where(self.allowed, self.worth, -(1 << 40))
        return int(table[:, list(chosen)].max(axis=1).sum())

    def program(
        self, *, maximise: bool, at_least: int | None = None, cost: float | Array | None = None
    ) -> tuple[Program, Indices, float]:
        """Build z[s,l] ≤ Σ_{c: level l} y_c + z[s,l+1]; the objective is the sum, or ``cost``.

        The sum is also a row where it must be ``at_least`` so much. A solver that has it as
        objective as well knows where to look, and sees ten times as soon that there is nothing.

        z[s,l] says that seat s has a device of its level l or better. Also returned: the
        columns of the candidates, and the sum that is there before any z counts.
        """
        program = Program(maximise=maximise)
        keep = self.keep
        y = choice_columns(program, self.candidates, keep, 0.0 if cost is None else cost)
        program.row(y, 1.0, lower=self.count, upper=self.count)
        within_budget(program, self.candidates, keep, y, self.budget)
        serve_rows(program, self.duty, keep, y)
        for floor in self.floors:
            here = np.isin(floor.members, keep)
            part = y[np.searchsorted(keep, floor.members[here])]
            program.row(part, floor.cost[here], lower=floor.least - SLACK)
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
        columns = program.columns(len(gain), cost=gain if cost is None else 0.0)
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
        loses = np.zeros(self.candidates.count)
        loses[self.keep] = np.abs(reduced[: len(self.keep)])
        loses[self.candidates.forced] = 0.0
        slack = Slack(bound - total, loses, np.zeros(len(self.allowed)))
        keep = self.keep[loses[self.keep] <= slack.total + SLACK]
        return replace(self, keep=keep, slacks=(*self.slacks, slack))

    def tightened(self, clock: Clock) -> MeanQuestion:
        """The same with candidates and pairs ruled out by what every part of the room needs."""
        race, slacks, floors = tightened(
            replace(self.candidates, usable=self.keep),
            self.allowed,
            self.count,
            self.budget,
            seconds=clock.left(),
            slacks=self.slacks,
        )
        return replace(self, candidates=race, keep=race.usable, slacks=slacks, floors=floors)

    def listed(self, total: int, clock: Clock, effort: int = EFFORT) -> MeanQuestion:
        """The same with all its answers, where they are few enough to be listed."""
        if self.serves is not None or clock.left() <= 0:
            return self
        found = all_best(
            replace(self.candidates, usable=self.keep),
            self.allowed,
            self.worth,
            self.count,
            self.budget,
            at_least=total,
            slacks=self.slacks,
            effort=effort,
        )
        if found is None:
            return self
        clock.nodes += found[2]
        return replace(self, ties=tuple(tuple(choice) for choice in found[1]))


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
    if question.count <= FEW:
        question = question.listed(total, clock)
        if question.ties:
            return _best_listed(question)
    if question.candidates.conflicts is not None:
        question = question.tightened(clock)
    program, _, constant = question.program(maximise=True)
    relaxed = program.solve(time_limit=clock.left(), relaxed=True)
    if relaxed.status != "optimal" or relaxed.values is None or relaxed.reduced_costs is None:
        return Found(chosen, False, math.inf), total, question
    bound = relaxed.objective + constant
    at_zero = np.where(relaxed.values < 0.5, relaxed.reduced_costs, 0.0)
    narrow = question.narrowed(bound, at_zero, total).listed(total, clock)
    if narrow.ties:
        return _best_listed(narrow)
    if math.floor(bound + 1e-6) > total:
        program, y, constant = narrow.program(maximise=True)
        outcome = program.solve(time_limit=clock.left())
        clock.nodes += outcome.nodes
        better = chosen_of(outcome, narrow.keep, y)
        if better is not None and question.total(better) >= total:
            verify_choice(question.candidates, question.duty, better, question.budget)
            chosen, total = better, question.total(better)
        if outcome.status == "limit":
            limit = min(bound, outcome.bound + constant)
            return Found(chosen, False, math.floor(limit + 1e-6)), total, question
    narrow = question.narrowed(bound, at_zero, total).listed(total, clock)
    return Found(chosen, True, float(total)), total, narrow


def _best_listed(question: MeanQuestion) -> tuple[Found, int, MeanQuestion]:
    assert question.ties
    chosen = list(question.ties[0])
    verify_choice(question.candidates, question.duty, chosen, question.budget)
    total = question.total(chosen)
    return Found(chosen, True, float(total)), total, question


def tidiest(question: MeanQuestion, chosen: list[int], total: int, clock: Clock) -> Found:
    """Among choices that reach ``total``, take fewest lines, then the smallest candidates.

    Candidates are in reading order of their positions, so the smallest sorted list of numbers
    is the smallest list of positions.
    """
    chosen = sorted(chosen)
    if question.ties:
        tied = [(lines_of(question.candidates, c), sorted(c)) for c in question.ties]
        lines, chosen = min(tied)
        return Found(chosen, True, float(lines))
    if len(question.keep) == question.count:
        return Found(chosen, True, float(lines_of(question.candidates, chosen)))
    ties = _others(question, chosen, total, clock)
    if ties is None:
        return Found(chosen, False, 0.0)
    if len(ties) <= TIES:
        lines, chosen = min((lines_of(question.candidates, one), one) for one in ties)
        return Found(chosen, True, float(lines))

    most: int | None = None
    if question.candidates.lines is not None:
        program, y, _ = question.program(maximise=False, at_least=total, cost=0.0)
        _draw_lines(program, question, y, cost=1.0, at_most=None)
        outcome = program.solve(time_limit=clock.left())
        clock.nodes += outcome.nodes
        better = chosen_of(outcome, question.keep, y)
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
        better = chosen_of(outcome, question.keep, y)
        if better is not None:
            chosen = _checked_tie(question, better, total)
        if outcome.status == "limit":
            return Found(chosen, False, float(most or 0))
        settled += ahead
    return Found(chosen, True, float(lines_of(question.candidates, chosen)))


def _others(
    question: MeanQuestion, chosen: list[int], total: int, clock: Clock
) -> list[list[int]] | None:
    """Choices that reach ``total``: all of them, or more than `TIES`; None when time is over."""
    ties = [chosen]
    while len(ties) <= TIES:
        program, y, _ = question.program(maximise=True, at_least=total)
        for known in ties:
            mine = y[np.isin(question.keep, known)]
            program.row(mine, 1.0, upper=question.count - 1.0)
        outcome = program.solve(time_limit=clock.left())
        clock.nodes += outcome.nodes
        if outcome.status == "limit":
            return None
        better = chosen_of(outcome, question.keep, y)
        if better is None:
            break
        ties.append(sorted(_checked_tie(question, better, total)))
    return ties


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
    verify_choice(question.candidates, question.duty, chosen, question.budget)
    if len(chosen) != question.count or question.total(chosen) < total:
        raise ArithmeticError("the solver returned a choice that loses what was reached before")
    return chosen
