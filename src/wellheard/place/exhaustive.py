"""All choices worth looking at, one by one: exact, and faster than a program where few are left."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wellheard.arrays import Array, Mask
from wellheard.milp import SLACK
from wellheard.place.cover import Candidates, Whole
from wellheard.place.narrowing import Slack

EFFORT = 6_000_000
"""Pairs of row and candidate looked at before the search gives up, in some 0.2 s."""

OVERHEAD = 50
"""Candidates in whose time a node is set up."""

BARRED = -(1 << 40)


class _Search:
    """Depth first over choices of so many, the row with fewest candidates leading."""

    def __init__(
        self,
        candidates: Candidates,
        allowed: Mask,
        worth: Whole,
        count: int,
        budget: int | None,
        slacks: Sequence[Slack],
        effort: int,
    ) -> None:
        self.count, self.effort, self.nodes = count, effort, 0
        self.forced = candidates.forced.tolist()
        pool = candidates.usable[~np.isin(candidates.usable, candidates.forced)]
        self.pool = pool
        self.serves = allowed[:, pool]
        self.load = self.serves.astype(float)
        self.slack = np.array([slack.total for slack in slacks])
        self.row_slack = np.array([s.of_row for s in slacks]).reshape(len(slacks), len(allowed))
        self.own_slack = np.array([s.of_candidate[pool] for s in slacks]).reshape(
            len(slacks), len(pool)
        )
        self.near = None
        if candidates.conflicts is not None:
            self.near = candidates.conflicts[np.ix_(pool, pool)]
            if candidates.excluded is not None:
                self.near = self.near | candidates.excluded[np.ix_(pool, pool)]
        self.price = None
        self.budget = 0
        if budget is not None and candidates.price is not None:
            self.price = candidates.price[pool]
            self.budget = budget - candidates.total(self.forced)
        table = np.where(allowed, worth, BARRED)
        # What a row has before anybody serves it: the least that may serve it.
        self.start = np.where(allowed, worth, -BARRED)[:, [*pool, *self.forced]].min(axis=1)
        self.worth = np.maximum(table[:, pool], self.start[:, None])
        self.had = self.start
        self.times = np.zeros(len(allowed))
        if self.forced:
            self.had = np.maximum(self.start, table[:, self.forced].max(axis=1))
            self.times = allowed[:, self.forced].sum(axis=1).astype(float)
        self.best = BARRED
        self.found: list[list[int]] = []

    def run(self, at_least: int) -> bool:
        """Whether every choice that could reach ``at_least`` was looked at."""
        self.best = at_least
        spent = self.row_slack @ np.maximum(self.times - 1, 0.0)
        self.look(
            [],
            np.ones(len(self.pool), dtype=np.bool_),
            self.times > 0,
            self.had,
            self.slack - spent,
            self.budget,
            self.count - len(self.forced),
        )
        return self.effort >= 0

    def look(
        self,
        chosen: list[int],
        alive: Mask,
        served: Mask,
        had: Whole,
        slack: Array,
        budget: int,
        left: int,
    ) -> None:
        self.nodes += 1
        if self.effort < 0:
            return
        if not left:
            if served.all():
                self.take(chosen, int(had.sum()))
            return
        uses = self.own_slack + (self.row_slack * served) @ self.load
        alive = alive & (uses <= slack[:, None] + SLACK).all(axis=0)
        if self.price is not None:
            alive &= self.price <= budget
        here = np.flatnonzero(alive)
        self.effort -= len(served) * (len(here) + OVERHEAD)
        gain = np.maximum(self.worth[:, here] - had[:, None], 0).sum(axis=0)
        now = int(had.sum())
        open_rows = np.flatnonzero(~served)
        able = self.serves[np.ix_(open_rows, here)]
        if left == 1:
            fits = able.all(axis=0) & (now + gain >= self.best)
            for i in np.flatnonzero(fits):
                self.take([*chosen, int(here[i])], now + int(gain[i]))
            return
        if len(here) < left:
            return
        if now + int(np.partition(gain, len(gain) - left)[-left:].sum()) < self.best:
            return
        branch = here
        if len(open_rows):
            # As many as are left must serve all that is open.
            reach = able.sum(axis=0)
            if int(np.partition(reach, len(reach) - left)[-left:].sum()) < len(open_rows):
                return
            branch = here[able[int(able.sum(axis=1).argmin())]]
        # The most promising first, so that the others can be cut; earlier siblings are out.
        gains = np.maximum(self.worth[:, branch] - had[:, None], 0).sum(axis=0)
        rest = alive.copy()
        for c in branch[np.argsort(-gains, kind="stable")]:
            rest[c] = False
            clear = rest if self.near is None else rest & ~self.near[c]
            self.look(
                [*chosen, int(c)],
                clear,
                served | self.serves[:, c],
                np.maximum(had, self.worth[:, c]),
                slack - uses[:, c],
                budget if self.price is None else budget - int(self.price[c]),
                left - 1,
            )

    def take(self, chosen: Sequence[int], total: int) -> None:
        if total > self.best:
            self.best, self.found = total, []
        if total == self.best:
            self.found.append(sorted([*self.forced, *(int(self.pool[c]) for c in chosen)]))


def all_best(
    candidates: Candidates,
    allowed: Mask,
    worth: Whole,
    count: int,
    budget: int | None,
    *,
    at_least: int,
    slacks: Sequence[Slack],
    effort: int = EFFORT,
) -> tuple[int, list[list[int]], int] | None:
    """All choices of ``count`` that reach the largest sum over rows of the best allowed worth.

    Parameters
    ----------
    candidates : Candidates
        Their prices, locks and conflicts.
    allowed : ndarray, shape (rows, candidates)
        A row counts only candidates allowed for it, and must have one.
    worth : ndarray, shape (rows, candidates)
        What a row gains from a candidate, in whole levels.
    count, budget : int
        Exactly so many, at no more than this price if there is one.
    at_least : int
        A sum that is known to be reached.
    slacks : sequence of Slack
        What every choice that counts keeps to; see `wellheard.place.narrowing`.
    effort : int
        Pairs of row and candidate after which it gives up.

    Returns
    -------
    int, list of list of int, int, or None
        The sum, the choices, the nodes looked at; None where it gave up.
    """
    search = _Search(candidates, allowed, worth, count, budget, slacks, effort)
    return (search.best, search.found, search.nodes) if search.run(at_least) else None
