"""A cover without a clash by exchanging one device at a time: quick to find, and no proof.

Where such a cover exists it is mostly a few exchanges away from one that clashes, and a solver,
which looks for bounds, takes a hundred times as long to find it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wellheard.arrays import Array, Mask
from wellheard.place.cover import Candidates, Whole

ROUNDS = 200
"""Exchanges after which the search for a choice ends, where it is likely that there is one."""

ROUNDS_TRIED = 40
"""The same where it is as likely that there is none."""

ROUNDS_CHEAPER = 100
"""The same for a choice that is cheaper than one that is known."""

SPARE = 3
"""Places that stay empty at first where a larger number may be cheaper."""


def clear_cover(
    candidates: Candidates,
    must: Mask,
    start: Sequence[int],
    *,
    size: int,
    budget: int | None = None,
    rounds: int = ROUNDS,
) -> list[int] | None:
    """Look for at most ``size`` candidates that serve every row, without a clash.

    Parameters
    ----------
    candidates : Candidates
        Their prices, locks and conflicts.
    must : ndarray, shape (rows, candidates)
        Who serves whom.
    start : sequence of int
        Where to start, forced candidates included: a choice that clashes, or serves too few.
    size : int
        Largest number.
    budget : int or None
        Largest price in whole units.
    rounds : int
        Exchanges after which the search ends.

    Returns
    -------
    list of int or None
        Sorted; None says nothing about whether there is one.

    Notes
    -----
    The exchange that leaves least undone is made, even where that is more than before, and is
    not undone for a while. What stays undone weighs more each time.

    Examples
    --------
    The first two serve a row each but clash; so does the third in place of the first.

    >>> from wellheard.place.cover import candidates_from
    >>> given = candidates_from(3, prices=None, forced=(), conflicts=[(0, 1)], lines=None)
    >>> must = np.array([[True, False, True], [False, True, False]])
    >>> clear_cover(given, must, [0, 1], size=2)
    [1, 2]
    """
    search = _Exchange(candidates, must, start, size, budget)
    return search.run(rounds)


def cheap_cover(
    candidates: Candidates, must: Mask, start: Sequence[int], *, least: int, budget: int | None
) -> list[int] | None:
    """Look for a cover without a clash, then for cheaper ones, down to the price ``least``.

    Parameters and result as in `clear_cover`; a few more than ``start`` are tried as well.
    """
    found: list[int] | None = None
    size = len(start) + SPARE
    search = _Exchange(candidates, must, start, size, budget)
    while (cheaper := search.run(ROUNDS_CHEAPER)) is not None:
        found = cheaper
        if candidates.total(found) <= least:
            break
        search.budget = candidates.total(found) - 1
    return found


class _Exchange:
    """The choice as it stands, and what weighs how much."""

    def __init__(
        self,
        candidates: Candidates,
        must: Mask,
        start: Sequence[int],
        size: int,
        budget: int | None,
    ) -> None:
        pool = candidates.usable
        self.pool, self.budget = pool, budget
        # One more that serves nothing and costs nothing: an empty place.
        self.empty = len(pool)
        # Sums of whole numbers this small are exact, whatever their order.
        self.serves = np.zeros((len(must), self.empty + 1), dtype=np.float32)
        self.serves[:, :-1] = must[:, pool]
        self.near = np.zeros((self.empty + 1, self.empty + 1), dtype=np.float32)
        if candidates.conflicts is not None:
            self.near[:-1, :-1] = candidates.conflicts[np.ix_(pool, pool)]
        self.price = np.zeros(self.empty + 1)
        if candidates.price is not None:
            self.price[:-1] = candidates.price[pool]
        self.usual = max(float(self.price[:-1].mean()), 1.0) if len(pool) else 1.0
        chosen = np.searchsorted(pool, np.array(sorted(start), dtype=np.int64))
        self.chosen: Whole = np.full(max(size, len(chosen)), self.empty, dtype=np.int64)
        self.chosen[: len(chosen)] = chosen
        self.fixed = np.isin(self.chosen, np.searchsorted(pool, candidates.forced))
        self.row_weight = np.ones(len(must), dtype=np.float32)
        self.clash_weight = self.price_weight = 1.0
        self.back = np.zeros(self.empty + 1, dtype=np.int64)
        self.turn = 0

    def run(self, rounds: int) -> list[int] | None:
        for _ in range(rounds):
            times = self.serves[:, self.chosen].sum(axis=1)
            among = self.near[np.ix_(self.chosen, self.chosen)].sum(axis=1)
            over = float(self._over(self.price[self.chosen].sum()))
            clashes = float(among.sum()) / 2
            if times.all() and not clashes and not over:
                picked = self.chosen[self.chosen != self.empty]
                return sorted(self.pool[picked].tolist())
            undone = self._after(times, among, clashes)
            place, joins = divmod(int(undone.argmin()), undone.shape[1])
            now = float(self.row_weight[times == 0].sum())
            now += self.clash_weight * clashes + self.price_weight * over
            if undone[place, joins] >= now:
                self.row_weight[times == 0] += 1
                self.clash_weight += clashes > 0
                self.price_weight += over > 0
            self.turn += 1
            self.back[self.chosen[place]] = self.turn + 4 + len(self.chosen) // 4
            self.chosen[place] = joins
        return None

    def _over(self, price: Array) -> Array:
        """By how many devices of the usual price it is too dear."""
        if self.budget is None:
            return np.zeros_like(price)
        return np.maximum(price - self.budget, 0.0) / self.usual

    def _after(self, times: Array, among: Array, clashes: float) -> Array:
        """What every exchange would leave undone, shape (places, candidates)."""
        mine = self.chosen
        lost = (times[None] == self.serves[:, mine].T) * self.row_weight
        near = self.near[:, mine]
        left = (clashes - among)[:, None] + near.sum(axis=1)[None] - near.T
        price = self.price[mine].sum() - self.price[mine][:, None] + self.price[None]
        found = lost.sum(axis=1)[:, None] - lost @ self.serves + self.clash_weight * left
        found = found + self.price_weight * self._over(price)
        found[:, mine[mine != self.empty]] = np.inf
        barred = self.back > self.turn
        barred[self.empty] = False
        found[:, barred] = np.inf
        found[self.fixed] = np.inf
        found[mine == self.empty, self.empty] = np.inf
        return np.asarray(found)
