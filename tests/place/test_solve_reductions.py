"""What the search leaves out can never matter: reductions against none, and against enumeration.

Prices differ by little (cable by the metre), many candidates are alike, some exclude each other.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from tests.effort import rooms
from wellheard.arrays import Array, Mask
from wellheard.place import means, programs, search
from wellheard.place.certificate import exhausted, verify
from wellheard.place.certify import cheaper_is_impossible
from wellheard.place.cover import Candidates, candidates_from
from wellheard.place.exhaustive import all_best
from wellheard.place.narrowing import Slack, narrowed
from wellheard.place.parts import Floor
from wellheard.place.solve import Solution, fewest_then_best, most_devices

SEEDS = range(rooms(20, thorough=40))
"""Of random rooms."""


@dataclass(frozen=True)
class Room:
    """Places on a grid, each at several drops that differ a little in price and margin."""

    base: Array
    loss: float
    prices: list[int]
    forced: list[int]
    conflicts: list[tuple[int, int]]
    lines: Array

    def margins(self, n: int) -> Array:
        return self.base - self.loss * (n - 1)

    def solve(self, *, priced: bool = True) -> Solution:
        return fewest_then_best(
            self.margins,
            prices=self.prices if priced else None,
            forced=self.forced,
            conflicts=self.conflicts,
            lines=self.lines,
        )

    def candidates(self) -> Candidates:
        return candidates_from(
            len(self.prices),
            prices=self.prices,
            forced=self.forced,
            conflicts=self.conflicts,
            lines=self.lines,
        )

    def choices(self, size: int) -> Iterator[tuple[int, ...]]:
        clash = set(self.conflicts)
        for chosen in itertools.combinations(range(len(self.prices)), size):
            apart = not any(pair in clash for pair in itertools.combinations(chosen, 2))
            if apart and set(self.forced) <= set(chosen):
                yield chosen


def room(seed: int, *, places: int = 12, drops: int = 3, seats: int = 9) -> Room:
    rng = np.random.default_rng(seed)
    spots = rng.permutation(list(itertools.product(range(5), range(4))))[:places]
    at = np.repeat(0.9 * spots, drops, axis=0)
    drop = np.tile(np.arange(drops), places)
    talkers = rng.uniform(0, [4.5, 3.6], (seats, 2))
    flat = np.linalg.norm(talkers[:, None] - at[None], axis=-1)
    base = -20 * np.log10(np.hypot(flat, 1.6 - 0.3 * drop) / rng.uniform(1.7, 2.4)) / 2
    if seed % 3 == 0:
        base = np.round(base, 1)
    kind = rng.integers(0, 3, places)
    prices = (41_200 + 5 * drop + np.repeat(kind * rng.integers(0, 4_000), drops)).tolist()
    gap = np.linalg.norm(at[:, None] - at[None], axis=-1)
    near = np.argwhere(np.triu(gap < rng.choice([0.5, 1.0, 1.4]), 1))
    return Room(
        base=base,
        loss=float(rng.choice([0.0, 0.04])),
        prices=prices,
        forced=[int(rng.integers(places * drops))] if seed % 4 == 1 else [],
        conflicts=[(int(a), int(b)) for a, b in near],
        lines=at,
    )


def nothing_left_out(
    candidates: Candidates, must: Mask, count: int, budget: int | None, *, seconds: float
) -> tuple[Candidates, Slack]:
    return candidates, Slack(np.inf, np.zeros(candidates.count), np.zeros(len(must)))


def nothing_tightened(
    candidates: Candidates, *args: Any, slacks: tuple[Slack, ...] = (), **kwargs: Any
) -> tuple[Candidates, tuple[Slack, ...], tuple[Floor, ...]]:
    return candidates, slacks, ()


def never_listed(*args: Any, **kwargs: Any) -> None:
    return None


@pytest.mark.parametrize("block", range(rooms(3, thorough=5)))
def test_answers_with_and_without_reductions_agree(
    block: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    some = [room(seed) for seed in range(8 * block, 8 * block + 8)]
    quick = [made.solve(priced=bool(seed % 5)) for seed, made in enumerate(some)]
    monkeypatch.setattr(search, "narrowed", nothing_left_out)
    for module in (means, programs):
        monkeypatch.setattr(module, "tightened", nothing_tightened)
    monkeypatch.setattr(means, "all_best", never_listed)
    monkeypatch.setattr(means, "TIES", 0)
    for quick_way in ("clear_cover", "cheap_cover"):
        monkeypatch.setattr(programs, quick_way, never_listed)
    plain = [made.solve(priced=bool(seed % 5)) for seed, made in enumerate(some)]
    assert sum(one.status == "optimal" for one in plain) >= 4
    for seed, (one, other) in enumerate(zip(quick, plain, strict=True)):
        where = 8 * block + seed
        assert (one.chosen, one.status) == (other.chosen, other.status), where
        assert (one.price, one.worst_margin) == (other.price, other.worst_margin), where
        assert one.mean_value == pytest.approx(other.mean_value), where
        assert [step.value for step in one.steps] == [step.value for step in other.steps], where


def test_nothing_that_could_be_chosen_is_left_out() -> None:
    dropped = 0
    for seed in SEEDS:
        made = room(seed, places=7, drops=2, seats=6)
        solution = made.solve()
        if solution.status != "optimal" or solution.price is None:
            continue
        serves = made.margins(solution.count) >= 0
        budget = round(solution.price) + 10 * (seed % 3)
        candidates = made.candidates()
        units = budget // candidates.price_unit
        kept, slack = narrowed(candidates, serves, solution.count, units, seconds=10.0)
        dropped += len(candidates.usable) - len(kept.usable)
        for chosen in made.choices(solution.count):
            picked = list(chosen)
            if not serves[:, picked].any(axis=1).all():
                continue
            if sum(made.prices[c] for c in picked) > budget:
                continue
            assert set(picked) <= set(kept.usable.tolist()), seed
            # Each member and each row served twice uses up its share, together no more than all.
            times = serves[:, picked].sum(axis=1)
            used = slack.of_candidate[picked].sum() + slack.of_row @ (times - 1)
            assert used <= slack.total + 1e-6, seed
    assert dropped > 2 * len(SEEDS)


def test_the_list_holds_every_best_choice_and_no_other() -> None:
    several = 0
    for seed in SEEDS:
        made = room(seed, places=6, drops=2, seats=5)
        count = 2 + seed % 2
        levels = np.floor(made.margins(count) / (0.5 if seed % 2 else 0.05)).astype(np.int64)
        allowed = levels >= -4
        candidates = made.candidates()
        budget = None if seed % 3 else int(1.02 * count * min(made.prices))
        best: dict[int, list[list[int]]] = {}
        for chosen in made.choices(count):
            if budget is not None and sum(made.prices[c] for c in chosen) > budget:
                continue
            table = np.where(allowed, levels, -(10**6))[:, list(chosen)].max(axis=1)
            if table.min() > -(10**6):
                best.setdefault(int(table.sum()), []).append(list(chosen))
        units = None if budget is None else budget // candidates.price_unit
        _, slack = narrowed(candidates, allowed, count, units, seconds=10.0)
        low = -(10**5)
        found = all_best(candidates, allowed, levels, count, units, at_least=low, slacks=(slack,))
        assert found is not None
        if not best:
            assert found[1] == [], seed
            continue
        assert found[0] == max(best), seed
        assert sorted(found[1]) == best[max(best)], seed
        several += len(found[1]) > 1
        assert (
            all_best(
                candidates, allowed, levels, count, units, at_least=low, slacks=(slack,), effort=10
            )
            is None
        )
    assert several > len(SEEDS) / 8


def test_ties_with_a_sum_that_is_known_are_all_listed() -> None:
    """Three places serve the first seat alike and three the second: nine pairs, by hand."""
    worth = np.array([[1, 1, 1, 0, 0, 0], [0, 0, 0, 1, 1, 1]])
    candidates = candidates_from(6, prices=None, forced=(), conflicts=(), lines=None)
    found = all_best(candidates, worth > 0, worth, 2, None, at_least=2, slacks=())
    assert found is not None
    assert sorted(found[1]) == [[a, b] for a in range(3) for b in range(3, 6)]
    apart = candidates_from(6, prices=None, forced=(), conflicts=[(0, 3)], lines=None)
    found = all_best(apart, worth > 0, worth, 2, None, at_least=2, slacks=())
    assert found is not None
    assert len(found[1]) == 8
    # The first adds two to two seats, the others one to one each: none but sums of three tie.
    worth = np.array([[2, 1, 1, 1], [2, 1, 1, 1], [1, 2, 1, 1], [1, 1, 2, 1]])
    found = all_best(
        candidates_from(4, prices=None, forced=(), conflicts=(), lines=None),
        worth > 0,
        worth,
        2,
        None,
        at_least=7,
        slacks=(),
    )
    assert found is not None
    assert sorted(found[1]) == [[0, 1], [0, 2]]


def test_no_answer_has_more_devices_than_the_limit_by_greed() -> None:
    for seed in SEEDS:
        made = room(seed)
        solution = made.solve()
        limit = most_devices(
            made.margins, prices=made.prices, forced=made.forced, conflicts=made.conflicts
        )
        if solution.status == "optimal":
            assert solution.count <= limit, seed


def test_a_number_that_price_allows_is_tried_where_margins_grow() -> None:
    """One dear device serves all; three cheap ones do only when all three are open."""
    dear = np.array([[-1.0, -1.0, -1.0, 1.0]] * 3)
    cheap = np.hstack([2 * np.eye(3) - 1, np.full((3, 1), 1.0)])
    solution = fewest_then_best(lambda n: cheap if n == 3 else dear, prices=[100, 100, 100, 700])
    assert (solution.chosen, solution.price) == ((0, 1, 2), 300)


def test_the_exact_search_agrees_with_enumeration_of_price_number_and_conflicts() -> None:
    for seed in SEEDS:
        made = room(seed, places=6, drops=2, seats=6)
        serves = made.margins(1) >= -0.5
        most = 2 + seed % 3
        prices = [
            sum(made.prices[c] for c in chosen)
            for size in range(1, most + 1)
            for chosen in made.choices(size)
            if serves[:, list(chosen)].any(axis=1).all()
        ]
        claim = min(prices, default=10**7)
        for amount in (claim - 1, claim):
            nodes = exhausted(
                serves.tolist(), made.prices, amount, made.forced, made.conflicts, 10**5, most=most
            )
            assert (nodes is None) is (bool(prices) and amount == claim), (seed, amount)


def test_what_is_dearer_but_stands_farther_away_is_not_dropped() -> None:
    """The cheap place for the first seat excludes both places for the second; the dear does not."""
    table = [[True, True, False, False], [False, False, True, True]]
    apart = [(0, 2), (0, 3)]
    assert exhausted(table, [1, 2, 1, 1], 2, [], apart, 100) is not None
    assert exhausted(table, [1, 2, 1, 1], 3, [], apart, 100) is None
    # The node count tells that the search with conflicts had to be run for the first.
    assert exhausted(table, [1, 2, 1, 1], 2, [], [], 100) is None


def test_weights_that_overrun_a_price_are_not_searched_with() -> None:
    table = [[True, False], [False, True]]
    fair, unfair = [Fraction(3), Fraction(4)], [Fraction(3), Fraction(5)]
    assert exhausted(table, [3, 4], 6, [], [], 100, weights=fair) == 1
    assert exhausted(table, [3, 4], 6, [], [], 100, weights=unfair) is None
    assert exhausted(table, [3, 4], 6, [], [], 100, weights=[Fraction(-1), Fraction(1)]) is None


def test_least_price_is_proven_for_each_number_with_its_own_margins() -> None:
    split = searched = 0
    for seed in SEEDS[:30]:
        made = room(seed, places=8, drops=2)
        solution = made.solve()
        if solution.status != "optimal" or solution.price is None:
            continue
        rules = {"forced": made.forced, "conflicts": made.conflicts}
        proof = cheaper_is_impossible(made.margins, made.prices, solution.price, **rules)  # type: ignore[arg-type]

        def served(n: int, made: Room = made) -> Mask:
            return made.margins(n) >= 0

        assert proof.verified, seed
        assert verify(served, proof, prices=made.prices, **rules), seed  # type: ignore[arg-type]
        split += bool(proof.also)
        searched += proof.kind == "search"
        if proof.also:
            assert not verify(served, replace(proof, also=()), prices=made.prices, **rules)  # type: ignore[arg-type]
        less = [price - 100 for price in made.prices]
        assert not verify(served, proof, prices=less, **rules), seed  # type: ignore[arg-type]
    assert split
    assert searched
