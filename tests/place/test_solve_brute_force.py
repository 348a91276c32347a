"""The solver against the enumeration of every subset: a rival that cannot be wrong.

Instances are random and small; number, price, worst, mean and the tidy choice must all agree.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from functools import cache

import numpy as np
import pytest

from tests.effort import rooms
from wellheard.arrays import Array
from wellheard.place.certificate import exhausted
from wellheard.place.solve import Solution, best_with_count, fewest_then_best

STEP = 0.05


@dataclass(frozen=True)
class Problem:
    """A random instance, margins falling with the number of open microphones."""

    base: Array
    loss: float
    prices: list[int] | None
    forced: list[int]
    conflicts: list[tuple[int, int]]
    lines: Array

    def margins(self, n: int) -> Array:
        return self.base - self.loss * (n - 1)

    def solve(self) -> Solution:
        return fewest_then_best(
            self.margins,
            prices=self.prices,
            forced=self.forced,
            conflicts=self.conflicts,
            lines=self.lines,
            step=STEP,
        )

    def subsets(self, size: int) -> list[tuple[int, ...]]:
        clash = {frozenset(pair) for pair in self.conflicts}
        return [
            subset
            for subset in itertools.combinations(range(self.base.shape[1]), size)
            if set(self.forced) <= set(subset)
            and not any(frozenset(pair) in clash for pair in itertools.combinations(subset, 2))
        ]

    def levels(self, n: int) -> Array:
        return np.floor(self.margins(n) / STEP + 1e-9)

    def key(self, subset: tuple[int, ...], *, compromise: bool) -> tuple[object, ...]:
        levels = self.levels(len(subset))[:, list(subset)].max(axis=1)
        at = [tuple(p) for p in np.rint(1000 * self.lines[list(subset)]).astype(int).tolist()]
        price = 0 if self.prices is None else sum(self.prices[c] for c in subset)
        return (
            -int((levels >= 0).sum()) if compromise else 0,
            price,
            len(subset),
            -levels.min(),
            -levels.sum(),
            len({x for x, _ in at}) + len({y for _, y in at}),
            sorted(at),
        )

    def best(self) -> tuple[tuple[int, ...], bool]:
        """The best subset, and whether it serves everybody."""
        sizes = range(max(1, len(self.forced)), self.base.shape[1] + 1)
        every = [subset for size in sizes for subset in self.subsets(size)]
        covers = [s for s in every if (self.levels(len(s))[:, list(s)].max(axis=1) >= 0).all()]
        if covers:
            return min(covers, key=lambda s: self.key(s, compromise=False)), True
        return min(every, key=lambda s: self.key(s, compromise=True)), False


def random_problem(seed: int) -> Problem:
    """Mix prices, locks, conflicts, ties and impossible promises by the seed."""
    rng = np.random.default_rng(seed)
    seats, count = int(rng.integers(2, 9)), int(rng.integers(3, 10))
    base = rng.normal(-0.4 if seed % 5 == 0 else 0.1, 1.0, (seats, count))
    if seed % 3 == 0:
        base = np.round(base, 1)  # many ties
    pairs = list(itertools.combinations(range(count), 2))
    conflicts = [pairs[i] for i in rng.permutation(len(pairs))[: int(rng.integers(0, 7))]]
    if seed % 4 == 0:
        conflicts = []
    forced: list[int] = []
    if seed % 3 == 1:
        forced = [int(rng.integers(count))]
        if seed % 2 and count > 4:
            other = int(rng.integers(count))
            if (min(forced[0], other), max(forced[0], other)) not in conflicts:
                forced = sorted({forced[0], other})
    spots = list(itertools.product(range(4), range(3)))
    at = np.array([spots[i] for i in rng.permutation(len(spots))[:count]], dtype=float)
    return Problem(
        base=base,
        loss=float(rng.choice([0.0, 0.03, 0.1])),
        prices=None if seed % 2 else [int(p) for p in rng.integers(1, 6, count) * 100],
        forced=forced,
        conflicts=conflicts,
        lines=at * 0.6,
    )


@cache
def solved(seed: int) -> tuple[Problem, Solution]:
    """Each instance is solved once for all claims about it."""
    problem = random_problem(seed)
    return problem, problem.solve()


@pytest.mark.parametrize("block", range(rooms(5, thorough=10)))
def test_every_step_equals_the_enumeration_of_all_subsets(block: int) -> None:
    for seed in range(20 * block, 20 * block + 20):
        problem, solution = solved(seed)
        expected, serves_all = problem.best()
        assert solution.status == ("optimal" if serves_all else "infeasible"), seed
        assert solution.chosen == expected, seed
        levels = problem.levels(len(expected))[:, list(expected)].max(axis=1)
        assert solution.count == len(expected), seed
        assert solution.worst_margin == pytest.approx(STEP * levels.min()), seed
        assert solution.mean_value == pytest.approx(STEP * levels.mean()), seed
        assert solution.unserved == tuple(np.flatnonzero(levels < 0).tolist()), seed
        if problem.prices is not None:
            assert solution.price == sum(problem.prices[c] for c in expected), seed
        assert solution.gap == 0, seed


def test_the_random_instances_hold_every_kind_of_difficulty() -> None:
    problems = [random_problem(seed) for seed in range(200)]
    feasible = [problem.best()[1] for problem in problems]
    assert 40 < sum(feasible) < 180
    for kind in ("prices", "forced", "conflicts", "loss"):
        assert (
            sum(bool(getattr(p, kind)) for p, ok in zip(problems, feasible, strict=True) if ok) > 20
        )


def test_fewer_is_called_impossible_exactly_when_no_smaller_subset_serves() -> None:
    for seed in range(200):
        problem, solution = solved(seed)
        smaller = any(
            (problem.levels(size)[:, list(subset)].max(axis=1) >= 0).all()
            for size in range(max(1, len(problem.forced)), solution.count)
            for subset in problem.subsets(size)
        )
        if solution.status == "optimal":
            assert solution.fewer_is_impossible is not smaller, seed
        else:
            assert not solution.fewer_is_impossible, seed


def test_exactly_so_many_equals_the_enumeration_of_that_size() -> None:
    for seed in range(25):
        problem = random_problem(seed)
        for count in range(max(1, len(problem.forced)), 5):
            subsets = problem.subsets(count)
            if not subsets:
                continue
            expected = min(subsets, key=lambda s: problem.key(s, compromise=True))
            solution = best_with_count(
                problem.margins,
                count,
                prices=problem.prices,
                forced=problem.forced,
                conflicts=problem.conflicts,
                lines=problem.lines,
                step=STEP,
            )
            assert solution.chosen == expected, (seed, count)


def test_margins_that_grow_with_the_number_are_solved_as_well() -> None:
    """Nothing in the search leans on loss growing with the number of devices."""
    for seed in range(40):
        rng = np.random.default_rng(1000 + seed)
        tables = {n: rng.normal(-0.4, 0.8, (5, 6)) for n in range(1, 7)}
        best = None
        for n in range(1, 7):
            for subset in itertools.combinations(range(6), n):
                if (tables[n][:, list(subset)].max(axis=1) >= 0).all():
                    best = best or n
        solution = fewest_then_best(tables.__getitem__, max_devices=6)
        assert (solution.count if solution.status == "optimal" else None) == best, seed


def test_number_and_price_of_larger_covers_stand_up_to_exact_search() -> None:
    """A pure-Python search in whole numbers, which shares no code with the solver."""
    for seed in range(40):
        rng = np.random.default_rng(seed)
        seats, count = int(rng.integers(6, 16)), int(rng.integers(10, 26))
        serves = rng.random((seats, count)) < rng.choice([0.1, 0.15, 0.25])
        serves[np.arange(seats), rng.integers(0, count, seats)] = True
        prices = rng.choice([5, 8, 12], count).tolist()
        rows, ones = serves.tolist(), [1] * count
        table = np.where(serves, 1.0, -1.0)
        fewest = fewest_then_best(lambda n, t=table: t, time_limit=20.0)  # type: ignore[misc]
        assert fewest.steps[0].status == "optimal", seed
        assert exhausted(rows, ones, fewest.count - 1, [], [], 10**6) is not None, seed
        cheap = fewest_then_best(lambda n, t=table: t, prices=prices)  # type: ignore[misc]
        assert cheap.status == "optimal", seed
        assert cheap.price is not None, seed
        assert exhausted(rows, prices, round(cheap.price) - 1, [], [], 10**6) is not None, seed
        assert serves[:, list(cheap.chosen)].any(axis=1).all(), seed
