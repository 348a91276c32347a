"""What small exact answers add to a relaxation: where choices fall apart, and pairs none holds.

Conflicts say little in a relaxation: half of a microphone and half of a loudspeaker may stand at
one place. Covering says much: rows that no candidate shares fall into parts, and every part needs
its own least number and price in whole devices. What is left to any one of them is little, and two
neighbours that serve the same rows use up more than that. Such pairs exclude each other as well;
with them conflicts grow from pairs into large cliques, "of all these at most one".
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from wellheard.arrays import Array, Mask
from wellheard.milp import SLACK, Program
from wellheard.place.cover import Candidates, Whole, reduced
from wellheard.place.narrowing import Slack

WHOLE_ENOUGH = 1e-6
"""Farther from whole numbers a relaxed answer is none in whole devices."""

STILL = 0.9
"""A round that leaves more than this part of the candidates is the last."""


@dataclass(frozen=True)
class Part:
    """Rows that share no candidate with any other row, and the candidates that serve them."""

    rows: Whole
    members: Whole


@dataclass(frozen=True)
class Floor:
    """Of ``members`` the sum of ``cost`` is at least ``least`` in every choice."""

    members: Whole
    cost: Array
    least: int


def parts_of(must: Mask, pool: Whole) -> list[Part]:
    """Split rows into parts that no candidate of ``pool`` joins.

    Examples
    --------
    The first two rows share the first candidate.

    >>> must = np.array([[True, False, False], [True, True, False], [False, False, True]])
    >>> [part.rows.tolist() for part in parts_of(must, np.arange(3))]
    [[0, 1], [2]]
    """
    serves = must[:, pool]
    left = np.ones(len(must), dtype=np.bool_)
    found = []
    while left.any():
        rows = np.zeros(len(must), dtype=np.bool_)
        rows[int(left.argmax())] = True
        while True:
            members = serves[rows].any(axis=0)
            grown = rows | serves[:, members].any(axis=1)
            if (grown == rows).all():
                break
            rows = grown
        left &= ~rows
        found.append(Part(np.flatnonzero(rows), pool[members]))
    return found


def tightened(
    candidates: Candidates,
    must: Mask,
    count: int | None,
    budget: int | None,
    *,
    seconds: float,
    slacks: Sequence[Slack] = (),
) -> tuple[Candidates, tuple[Slack, ...], tuple[Floor, ...]]:
    """Leave out candidates, and name pairs, that no choice within the limits can hold.

    Parameters
    ----------
    candidates : Candidates
        Their prices and locks; conflicts are left aside.
    must : ndarray, shape (rows, candidates)
        Who serves whom; every row must be served.
    count, budget : int or None
        So many or fewer, at no more than this price in whole units; None for no limit.
    seconds : float
        For each program; nothing more is left out when it runs out. [s]
    slacks : sequence of Slack
        What every choice keeps to, as is known before.

    Returns
    -------
    Candidates, tuple of Slack, tuple of Floor
        The candidates with what excludes each other; what every choice keeps to.

    Examples
    --------
    Two rows and two devices: two that serve the same row cannot both be among them.

    >>> from wellheard.place.cover import candidates_from
    >>> given = candidates_from(4, prices=None, forced=(), conflicts=[(0, 2)], lines=None)
    >>> must = np.array([[True, True, False, False], [False, False, True, True]])
    >>> kept, _, floors = tightened(given, must, 2, None, seconds=10.0)
    >>> kept.excluded.astype(int).tolist()
    [[0, 1, 0, 0], [1, 0, 0, 0], [0, 0, 0, 1], [0, 0, 1, 0]]
    >>> [floor.least for floor in floors]
    [1, 1]
    """
    known, floors = tuple(slacks), tuple[Floor, ...]()
    held = np.isin(candidates.usable, candidates.forced)
    pool = candidates.usable[~held]
    open_rows = np.flatnonzero(~must[:, candidates.forced].any(axis=1))
    limits: list[tuple[Array, int]] = []
    if count is not None:
        limits.append((np.ones(candidates.count), count - len(candidates.forced)))
    if budget is not None and candidates.price is not None:
        left = budget - candidates.total(candidates.forced)
        limits.append((candidates.price.astype(float), left))
    while len(pool) and must[np.ix_(open_rows, pool)].any(axis=1).all():
        parts = parts_of(must[open_rows], pool)
        parts = [Part(open_rows[part.rows], part.members) for part in parts]
        found, floors = [], ()
        for cost, limit in limits:
            answers = [_relaxed(must, part, cost, seconds) for part in parts]
            spare = limit - sum(answer.least for answer in answers)
            found += [answer.slack(spare) for answer in answers]
            floors += tuple(
                Floor(part.members, cost[part.members], answer.least)
                for part, answer in zip(parts, answers, strict=True)
            )
        before = len(pool)
        for slack in found:
            pool = pool[slack.of_candidate[pool] <= slack.total + SLACK]
        if len(pool) > STILL * before:
            known += tuple(found)
            break
    usable = np.union1d(pool, candidates.forced).astype(np.int64)
    kept = replace(candidates, usable=usable)
    return replace(kept, excluded=_excluded(kept, must, known)), known, floors


@dataclass(frozen=True)
class _Answer:
    """Least cost of one part: of the relaxation, with what it rules out, and in whole devices."""

    relaxed: float
    least: int
    of_candidate: Array
    of_row: Array

    def slack(self, spare: float) -> Slack:
        """What the part may use up where ``spare`` is left beyond the least of all parts."""
        return Slack(spare + self.least - self.relaxed, self.of_candidate, self.of_row)


def _relaxed(must: Mask, part: Part, cost: Array, seconds: float) -> _Answer:
    rows, members = part.rows, part.members
    of_candidate, of_row = np.zeros(must.shape[1]), np.zeros(len(must))
    outcome = _covering(must[np.ix_(rows, members)], cost[members]).solve(
        time_limit=seconds, relaxed=True
    )
    if outcome.values is None or outcome.reduced_costs is None or outcome.row_duals is None:
        return _Answer(-math.inf, 0, of_candidate, of_row)
    of_candidate[members] = np.maximum(outcome.reduced_costs, 0.0)
    of_row[rows] = np.maximum(outcome.row_duals, 0.0)
    least = math.ceil(outcome.objective - SLACK)
    if np.abs(outcome.values - np.round(outcome.values)).max() > WHOLE_ENOUGH:
        lone = Candidates(
            count=len(cost),
            price=cost.astype(np.int64),
            price_unit=1,
            price_divisor=1,
            forced=np.zeros(0, dtype=np.int64),
            usable=members,
            conflicts=None,
            lines=None,
        )
        few, keep = reduced(must[rows], lone)
        whole = _covering(few[:, keep], cost[keep], whole=True).solve(time_limit=seconds)
        if math.isfinite(whole.bound):
            least = max(least, math.ceil(whole.bound - SLACK))
    return _Answer(outcome.objective, least, of_candidate, of_row)


def _covering(serves: Mask, cost: Array, *, whole: bool = False) -> Program:
    program = Program()
    y = program.columns(len(cost), cost=cost, whole=whole)
    row, column = np.nonzero(serves)
    program.rows(np.bincount(row, minlength=len(serves)), y[column], 1.0, lower=1.0)
    return program


def _excluded(candidates: Candidates, must: Mask, slacks: Sequence[Slack]) -> Mask:
    """Pairs that use up more than there is, and what was known to exclude each other before."""
    every = candidates.count
    found = np.zeros((every, every), dtype=np.bool_)
    if candidates.excluded is not None:
        found |= candidates.excluded
    keep = candidates.usable
    serves = must[:, keep].astype(float)
    pairs = np.zeros((len(keep), len(keep)), dtype=np.bool_)
    for slack in slacks:
        if not np.isfinite(slack.total):
            continue
        own = slack.of_candidate[keep]
        shared = (serves * slack.of_row[:, None]).T @ serves
        pairs |= own[:, None] + own[None, :] + shared > slack.total + SLACK
    np.fill_diagonal(pairs, False)
    forced = np.isin(keep, candidates.forced)
    pairs[forced] = pairs[:, forced] = False
    found[np.ix_(keep, keep)] |= pairs
    return found
