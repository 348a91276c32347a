"""What a relaxation rules out: candidates that no choice good enough can hold.

Every candidate uses up some of the slack between the least price (or number) that fractions
could reach and what may be spent; one that needs more than there is goes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wellheard.arrays import Array, Mask
from wellheard.milp import SLACK, Program
from wellheard.place.cover import Candidates


@dataclass(frozen=True)
class Slack:
    """What a choice may use up beyond the least that fractions could reach.

    A choice S of so many uses up ``of_candidate`` of each of its members and ``of_row`` of each
    row for every member beyond the first that serves it: together at most ``total``.
    """

    total: float
    of_candidate: Array
    of_row: Array


def narrowed(
    candidates: Candidates, must: Mask, count: int, budget: int | None, *, seconds: float
) -> tuple[Candidates, Slack]:
    """Leave out candidates that no choice of ``count`` within ``budget`` can hold.

    Parameters
    ----------
    candidates : Candidates
        Their prices, locks and conflicts.
    must : ndarray, shape (rows, candidates)
        Who serves whom; every row must be served.
    count, budget : int
        Exactly so many at no more than this price; where there is no price, so many or fewer.
    seconds : float
        For the relaxations; nothing is left out when it runs out. [s]

    Returns
    -------
    Candidates, Slack
        Slack has one entry for each candidate that was given, and is infinite without proof.

    Examples
    --------
    Only two together serve both rows, and only candidates 0 and 1 can be paid.

    >>> from wellheard.place.cover import candidates_from
    >>> given = candidates_from(3, prices=[4, 4, 9], forced=(), conflicts=(), lines=None)
    >>> must = np.array([[True, False, True], [False, True, False]])
    >>> narrowed(given, must, 2, 8, seconds=10.0)[0].usable
    array([0, 1])
    """
    rows, every = must.shape
    free = Slack(np.inf, np.zeros(every), np.zeros(rows))
    while True:
        keep = candidates.usable
        cost, limit = np.ones(len(keep)), float(count)
        priced = budget is not None and candidates.price is not None
        if budget is not None and candidates.price is not None:
            cost, limit = candidates.price[keep].astype(float), float(budget)
        program = Program()
        # Conflicts are left aside: they cost more time than they narrow.
        lower = np.isin(keep, candidates.forced).astype(float)
        y = program.columns(len(keep), cost=cost, lower=lower)
        if priced:
            program.row(y, 1.0, lower=count, upper=count)
        first = program.height
        row, column = np.nonzero(must[:, keep])
        program.rows(np.bincount(row, minlength=rows), y[column], 1.0, lower=1.0)
        outcome = program.solve(time_limit=seconds, relaxed=True)
        if outcome.reduced_costs is None or outcome.row_duals is None:
            return candidates, free
        used = np.zeros(every)
        used[keep] = np.maximum(outcome.reduced_costs, 0.0)
        used[candidates.forced] = 0.0
        total = limit - outcome.objective
        slack = Slack(total, used, np.maximum(outcome.row_duals[first : first + rows], 0.0))
        stays = keep[used[keep] <= total + SLACK]
        if len(stays) > 0.9 * len(keep):
            return replace(candidates, usable=stays), slack
        candidates = replace(candidates, usable=stays)
