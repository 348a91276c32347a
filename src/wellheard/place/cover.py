"""The covering problem as arrays: who serves whom, and moves that need no solver.

Everything here is exact: whole numbers and truth values only.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import gcd

import numpy as np
import numpy.typing as npt

from wellheard.arrays import Array, Mask

Whole = npt.NDArray[np.int64]

LEVEL_LIMIT = 4_000
"""Levels are clipped here, so that −inf (never hears that seat) stays a number."""


@dataclass(frozen=True)
class Candidates:
    """What is known of the candidates whatever the number of devices.

    Attributes
    ----------
    price : ndarray, shape (candidates,), optional
        Whole multiples of ``price_unit`` / ``price_divisor``.
    forced : ndarray
        Candidates that must be chosen.
    usable : ndarray
        Candidates that may be chosen, the forced ones among them.
    conflicts : ndarray, shape (candidates, candidates), optional
        True where two may not both be chosen.
    lines : ndarray, shape (candidates, 2), optional
        Plan position. [mm]
    excluded : ndarray, shape (candidates, candidates), optional
        True where proof was found that no choice in question holds both; never needed to say
        what a choice is, but it makes cliques of pairs.
    """

    count: int
    price: Whole | None
    price_unit: int
    price_divisor: int
    forced: Whole
    usable: Whole
    conflicts: Mask | None
    lines: Whole | None
    excluded: Mask | None = None

    @cached_property
    def cliques(self) -> tuple[Whole, ...]:
        """Sets of which at most one may be chosen; together they say all conflicts."""
        if self.conflicts is None:
            return ()
        allowed = np.zeros(self.count, dtype=np.bool_)
        allowed[self.usable] = True
        return tuple(clique_cover(self.conflicts, allowed, self.excluded))

    def total(self, chosen: Collection[int]) -> int:
        """Price of ``chosen`` in whole units; their number where nothing has a price."""
        if self.price is None:
            return len(chosen)
        return int(self.price[list(chosen)].sum())

    def amount(self, total: float) -> float:
        """Turn whole units of price back into the caller's money."""
        return total * self.price_unit / self.price_divisor

    def reordered(self, order: Whole) -> Candidates:
        """The same candidates, the one at ``order[i]`` now being number i."""
        rank = np.empty(self.count, dtype=np.int64)
        rank[order] = np.arange(self.count)
        near = None if self.conflicts is None else self.conflicts[np.ix_(order, order)]
        return Candidates(
            count=self.count,
            price=None if self.price is None else self.price[order],
            price_unit=self.price_unit,
            price_divisor=self.price_divisor,
            forced=np.sort(rank[self.forced]),
            usable=np.sort(rank[self.usable]),
            conflicts=near,
            lines=None if self.lines is None else self.lines[order],
        )

    def without_conflicts(self) -> Candidates:
        """The same candidates, free to stand anywhere together."""
        return replace(self, conflicts=None, excluded=None)

    def clash(self, chosen: Collection[int]) -> bool:
        """Whether two of ``chosen`` exclude each other."""
        picked = list(chosen)
        return self.conflicts is not None and bool(self.conflicts[np.ix_(picked, picked)].any())

    def clear_of(self, chosen: Collection[int]) -> Mask:
        """Candidates that may join ``chosen``."""
        clear = np.zeros(self.count, dtype=np.bool_)
        clear[self.usable] = True
        picked = list(chosen)
        clear[picked] = False
        if self.conflicts is not None and picked:
            clear &= ~self.conflicts[picked].any(axis=0)
        return clear


def candidates_from(
    count: int,
    *,
    prices: Sequence[float] | Array | None,
    forced: Iterable[int],
    conflicts: Iterable[tuple[int, int]],
    lines: Array | None,
) -> Candidates:
    """Check what the caller knows of the candidates and bring it into arrays.

    Raises
    ------
    ValueError
        Where a number names no candidate, a price is negative, or two forced candidates
        exclude each other.
    """
    must = sorted({int(c) for c in forced})
    pairs = np.array(list(conflicts), dtype=np.int64).reshape(-1, 2)
    named = np.concatenate([np.array(must, dtype=np.int64), pairs.ravel()])
    for c in named[(named < 0) | (named >= count)].tolist():
        raise ValueError(f"candidate {c} does not exist: there are {count}, counted from 0")
    excluded: Mask | None = None
    if len(pairs):
        excluded = np.zeros((count, count), dtype=np.bool_)
        first, second = pairs.T
        if (first == second).any():
            raise ValueError("a candidate conflicts with itself: name two different candidates")
        excluded[first, second] = excluded[second, first] = True
        for a in must:
            for b in must:
                if excluded[a, b]:
                    raise ValueError(
                        f"forced candidates {a} and {b} exclude each other: "
                        "free one of them or drop the conflict"
                    )
    usable = np.ones(count, dtype=np.bool_)
    if excluded is not None and must:
        usable &= ~excluded[must].any(axis=0)
    whole, unit, divisor = _whole_prices(prices, count)
    return Candidates(
        count=count,
        price=whole,
        price_unit=unit,
        price_divisor=divisor,
        forced=np.array(must, dtype=np.int64),
        usable=np.flatnonzero(usable),
        conflicts=excluded,
        lines=None if lines is None else np.rint(1000 * np.asarray(lines)).astype(np.int64),
    )


def _whole_prices(
    prices: Sequence[float] | Array | None, count: int
) -> tuple[Whole | None, int, int]:
    if prices is None:
        return None, 1, 1
    given = np.asarray(prices)
    if given.shape != (count,):
        raise ValueError(f"{given.size} prices for {count} candidates: give one each")
    if not np.isfinite(given).all() or (given < 0).any():
        raise ValueError("every price must be a finite number, zero or more")
    # Floats are amounts with hundredths; whole numbers are counted as they are.
    hundredths = np.issubdtype(given.dtype, np.floating)
    whole = np.rint(100 * given).astype(np.int64) if hundredths else given.astype(np.int64)
    unit = gcd(*whole.tolist()) or 1
    return whole // unit, unit, 100 if hundredths else 1


def levels_from(margins: Array, step: float) -> Whole:
    """Round margins down to whole steps, so that level ≥ 0 means margin ≥ 0.

    The hair of 1e-9 steps keeps a value that is a whole step on paper from losing one to
    floating point; it never lifts a negative margin to zero.

    Examples
    --------
    >>> levels_from(np.array([-1e-12, 0.0, 0.15, 0.149]), 0.05)
    array([-1,  0,  3,  2])
    """
    if np.isnan(margins).any():
        raise ValueError("a margin is not a number: give −inf where a seat cannot be served")
    steps = np.floor(np.clip(margins / step, -LEVEL_LIMIT, LEVEL_LIMIT) + 1e-9).astype(np.int64)
    return np.where(margins < 0, np.minimum(steps, -1), steps)


def clique_cover(conflicts: Mask, usable: Mask, excluded: Mask | None = None) -> list[Whole]:
    """Sets of mutually exclusive candidates that hold every conflict among ``usable``.

    Rows "at most one of these" are far tighter in a relaxation than one row per pair.

    Parameters
    ----------
    conflicts : ndarray, shape (candidates, candidates)
        True where two may not both be chosen.
    usable : ndarray, shape (candidates,)
        Candidates that may be chosen.
    excluded : ndarray, shape (candidates, candidates), optional
        Pairs that are never chosen both anyway: they need no set, and join others.

    Examples
    --------
    >>> triangle = ~np.eye(3, dtype=bool)
    >>> clique_cover(triangle, np.ones(3, dtype=bool))
    [array([0, 1, 2])]

    A clash of the first with both others is one set where those exclude each other anyway.

    >>> clash = np.array([[0, 1, 1], [1, 0, 0], [1, 0, 0]], dtype=bool)
    >>> clique_cover(clash, np.ones(3, dtype=bool), triangle)
    [array([0, 1, 2])]
    """
    named = np.flatnonzero(usable & conflicts.any(axis=1))
    among = np.ix_(named, named)
    near = conflicts[among] if excluded is None else conflicts[among] | excluded[among]
    # Sets of candidates as the bits of a number: to meet and to count is then one step each.
    open_pairs, around = _bits(conflicts[among]), _bits(near)
    found: list[Whole] = []
    for first in range(len(named)):
        while open_pairs[first]:
            members, common = 1 << first, around[first]
            while common:
                # Whoever brings most conflicts that no set holds yet, then most company.
                joins = max(
                    _members(common),
                    key=lambda c: (
                        (open_pairs[c] & members).bit_count(),
                        (around[c] & common).bit_count(),
                    ),
                )
                members |= 1 << joins
                common &= around[joins]
            group = _members(members)
            for c in group:
                open_pairs[c] &= ~members
            found.append(named[group])
    return found


def _bits(table: Mask) -> list[int]:
    """Every row as one number."""
    packed = np.packbits(table, axis=1, bitorder="little")
    return [int.from_bytes(row.tobytes(), "little") for row in packed]


def _members(bits: int) -> list[int]:
    """Places of the bits that are set, the lowest first."""
    found = []
    while bits:
        lowest = bits & -bits
        found.append(lowest.bit_length() - 1)
        bits ^= lowest
    return found


def undominated(serves: Mask, candidates: Candidates, among: Whole | None = None) -> Whole:
    """Candidates that are worth keeping when only covering, number and price matter.

    One goes when another serves at least the same rows, costs no more and excludes nothing
    further. Not valid where exactly so many must be chosen, nor for a mean.

    Parameters
    ----------
    serves : ndarray, shape (rows, candidates)
        Which candidate serves which row.
    candidates : Candidates
        Their prices, locks and conflicts.
    among : ndarray, optional
        Look at these only; default all that may be chosen.

    Returns
    -------
    ndarray
        Sorted; forced candidates always stay.

    Examples
    --------
    >>> serves = np.array([[True, True, False], [False, True, False], [False, False, True]])
    >>> undominated(serves, candidates_from(3, prices=None, forced=[], conflicts=[], lines=None))
    array([1, 2])
    """
    pool = candidates.usable if among is None else among
    if len(candidates.forced):
        serves = serves[~serves[:, candidates.forced].any(axis=1)]
        pool = pool[~np.isin(pool, candidates.forced)]
    pool = pool[serves[:, pool].any(axis=0)]
    mine = serves[:, pool].astype(np.float32)
    size = mine.sum(axis=0)
    beats = (mine.T @ mine) == size[:, None]  # [loser, winner]
    if candidates.price is not None:
        price = candidates.price[pool]
        beats &= price[None, :] <= price[:, None]
    if candidates.conflicts is not None:
        near = candidates.conflicts[np.ix_(pool, pool)].astype(np.float32)
        further = (1 - near) @ near - near  # of the winner, the loser itself aside
        beats &= further <= 0.5
    np.fill_diagonal(beats, False)
    alive = np.ones(len(pool), dtype=np.bool_)
    # One at a time against those still alive: equals cannot remove each other. Small sets go
    # first, and among equals the later candidate.
    for c in np.lexsort((-np.arange(len(pool)), size)):
        if (beats[c] & alive).any():
            alive[c] = False
    return np.union1d(pool[alive], candidates.forced).astype(np.int64)


def binding_rows(serves: Mask, pool: Whole) -> Whole:
    """Rows that must be looked at: one goes when another can be served only by fewer.

    Whoever serves the row with fewer choices serves the other as well.

    Examples
    --------
    >>> binding_rows(np.array([[True, True], [True, False]]), np.array([0, 1]))
    array([1])
    """
    mine = serves[:, pool].astype(np.float32)
    size = mine.sum(axis=1)
    inside = (mine @ mine.T) == size[:, None]  # [a, b]: the choices of a are among those of b
    np.fill_diagonal(inside, False)
    order = np.arange(len(size))
    # Equal rows imply each other: the first stays.
    implied = inside & ((size[:, None] < size[None, :]) | (order[:, None] < order[None, :]))
    return np.flatnonzero(~implied.any(axis=0))


def reduced(must: Mask, candidates: Candidates, may: Mask | None = None) -> tuple[Mask, Whole]:
    """Drop dominated candidates and implied rows in turn, until neither finds more.

    Rows of ``may`` need not be served, but count in what a candidate can do.
    """
    keep: Whole | None = None
    while True:
        keep = undominated(must if may is None else np.vstack([must, may]), candidates, keep)
        rows = binding_rows(must, keep)
        if len(rows) == len(must):
            return must, keep
        must = must[rows]


def disjoint_rows(serves: Mask) -> int:
    """Count rows of which no candidate serves two, picked by greed: so many are needed at least.

    Examples
    --------
    >>> disjoint_rows(np.array([[True, True, False], [False, True, True], [False, False, True]]))
    2
    """
    taken = np.zeros(serves.shape[1], dtype=np.bool_)
    found = 0
    for row in np.argsort(serves.sum(axis=1), kind="stable"):
        if not (serves[row] & taken).any():
            taken |= serves[row]
            found += 1
    return found


def greedy_cover(serves: Mask, candidates: Candidates) -> list[int] | None:
    """Cover by always taking the candidate that serves most for its price.

    Returns
    -------
    list of int or None
        Sorted, forced candidates included, with what is not needed taken out again; None
        where the greedy choice ran into a dead end (which proves nothing).
    """
    chosen = candidates.forced.tolist()
    open_rows = ~serves[:, chosen].any(axis=1) if chosen else np.ones(len(serves), dtype=np.bool_)
    price = np.ones(candidates.count) if candidates.price is None else candidates.price + 0.5
    while open_rows.any():
        gain = serves[open_rows].sum(axis=0) / price
        gain[~candidates.clear_of(chosen)] = 0
        best = int(gain.argmax())
        if gain[best] <= 0:
            return None
        chosen.append(best)
        open_rows &= ~serves[:, best]
    for c in chosen[::-1]:
        if c in candidates.forced:
            continue
        rest = [d for d in chosen if d != c]
        if (rest and serves[:, rest].any(axis=1).all()) or not len(serves):
            chosen = rest
    return sorted(chosen)


def greedy_part(serves: Mask, candidates: Candidates, count: int) -> list[int]:
    """Serve much with ``count`` candidates, by greed; fewer where no more may stand together."""
    chosen = candidates.forced.tolist()
    open_rows = ~serves[:, chosen].any(axis=1) if chosen else np.ones(len(serves), dtype=np.bool_)
    while len(chosen) < count:
        clear = candidates.clear_of(chosen)
        if not clear.any():
            break
        gain = np.where(clear, serves[open_rows].sum(axis=0), -1)
        best = int(gain.argmax())
        chosen.append(best)
        open_rows &= ~serves[:, best]
    return sorted(chosen)


def padded(
    chosen: Sequence[int], count: int, candidates: Candidates, budget: int | None
) -> list[int] | None:
    """Add cheapest candidates until there are ``count``; None where that fails."""
    grown = list(chosen)
    while len(grown) < count:
        clear = np.flatnonzero(candidates.clear_of(grown))
        if not len(clear):
            return None
        cheapest = 0 if candidates.price is None else int(candidates.price[clear].argmin())
        grown.append(int(clear[cheapest]))
    if budget is not None and candidates.total(grown) > budget:
        return None
    return sorted(grown)


def swapped_for_mean(
    chosen: Sequence[int],
    worth: Whole,
    allowed: Mask,
    candidates: Candidates,
    budget: int | None,
) -> list[int]:
    """Exchange one device at a time while the sum over seats of the best worth grows.

    Parameters
    ----------
    chosen : sequence of int
        Where to start; forced candidates stay.
    worth : ndarray, shape (seats, candidates)
        What a seat gains from a candidate.
    allowed : ndarray, shape (seats, candidates)
        A seat counts only candidates that are allowed for it, and must have one.
    candidates : Candidates
        Their prices, locks and conflicts.
    budget : int or None
        Largest total price in whole units.
    """
    barred = -(1 << 40)
    table = np.where(allowed, worth, barred)
    current = sorted(chosen)
    fixed = set(candidates.forced.tolist())
    total = int(table[:, current].max(axis=1).sum())
    while True:
        best_total, move = total, None
        for c in current:
            if c in fixed:
                continue
            rest = [d for d in current if d != c]
            clear = candidates.clear_of(rest)
            clear[c] = False
            if budget is not None and candidates.price is not None:
                clear &= candidates.price <= budget - candidates.total(rest)
            others = np.flatnonzero(clear)
            if not len(others):
                continue
            base = table[:, rest].max(axis=1) if rest else np.full(len(table), barred)
            sums = np.maximum(base[:, None], table[:, others]).sum(axis=0)
            at = int(sums.argmax())
            if sums[at] > best_total:
                best_total, move = int(sums[at]), (c, int(others[at]))
        if move is None:
            return current
        current = sorted([*(d for d in current if d != move[0]), move[1]])
        total = best_total
