"""Microphones beside loudspeakers, which a relaxation cannot tell apart: against enumeration.

Two kinds serve rows of their own and are in each other's way, so that conflicts bind as a rule.
"""

from __future__ import annotations

import functools
import itertools
import operator
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pytest

from wellheard.arrays import Array, Mask
from wellheard.place.cover import Candidates, candidates_from, clique_cover
from wellheard.place.exchange import cheap_cover, clear_cover
from wellheard.place.parts import parts_of, tightened
from wellheard.place.solve import fewest_then_best

STEP = 0.05


@dataclass(frozen=True)
class Room:
    """Two kinds on a grid: rows of the one cannot be served by the other."""

    table: Array
    prices: list[int]
    forced: list[int]
    conflicts: list[tuple[int, int]]
    lines: Array

    @property
    def levels(self) -> Array:
        return np.floor(self.table / STEP + 1e-9)

    def margins(self, count: int) -> Array:
        """The same for every number of devices."""
        return self.table

    @property
    def candidates(self) -> Candidates:
        return candidates_from(
            len(self.prices),
            prices=self.prices,
            forced=self.forced,
            conflicts=self.conflicts,
            lines=self.lines,
        )

    def choices(self, most: int) -> Iterator[tuple[int, ...]]:
        """Choices of up to ``most`` that serve every row, without regard to conflicts."""
        # The rows that a candidate serves as the bits of a number.
        serves = [sum(1 << int(r) for r in np.flatnonzero(c >= 0)) for c in self.table.T]
        every = (1 << len(self.table)) - 1
        for size in range(1, most + 1):
            for chosen in itertools.combinations(range(len(serves)), size):
                if functools.reduce(operator.or_, (serves[c] for c in chosen)) != every:
                    continue
                if set(self.forced) <= set(chosen):
                    yield chosen

    def paid(self, chosen: tuple[int, ...]) -> int:
        return sum(self.prices[c] for c in chosen)

    def key(self, chosen: tuple[int, ...]) -> tuple[object, ...]:
        """What choices are ranked by: price, number, worst, mean, lines, reading order."""
        best = self.levels[:, chosen].max(axis=1)
        at = [tuple(p) for p in np.rint(1000 * self.lines[list(chosen)]).astype(int).tolist()]
        lines = len({x for x, _ in at}) + len({y for _, y in at})
        return self.paid(chosen), len(chosen), -best.min(), -best.sum(), lines, sorted(at)


def room(seed: int, *, across: int = 4) -> Room:
    """A room of ``across`` by four places, where some loudspeakers or microphones stay."""
    rng = np.random.default_rng(seed)
    at = 0.9 * np.array(list(itertools.product(range(across), range(4))), dtype=float)
    plays = rng.permutation(len(at)) >= len(at) // 2
    people = rng.uniform(0, [0.9 * across, 3.6], (5, 2))
    away = np.hypot(np.linalg.norm(people[:, None] - at[None], axis=-1), 1.5)
    spoken = -20 * np.log10(away / rng.uniform(2.1, 2.6)) / 2
    heard = -20 * np.log10(away / rng.uniform(2.2, 2.8)) / 2
    table = np.vstack([np.where(plays, -np.inf, spoken), np.where(plays, heard, -np.inf)])
    if seed % 3 == 0:
        table = np.round(table * 2) / 2  # many ties
    dear = rng.random(len(at)) < 0.4
    prices = np.where(plays, np.where(dear, 320, 250), np.where(dear, 600, 450))
    gap = np.linalg.norm(at[:, None] - at[None], axis=-1)
    near = np.triu(gap < rng.choice([1.0, 1.3]), 1) & (plays[:, None] != plays[None])
    return Room(
        table=table,
        prices=prices.tolist(),
        forced=[int(rng.integers(len(at)))] if seed % 4 == 1 else [],
        conflicts=[(int(a), int(b)) for a, b in np.argwhere(near)],
        lines=at,
    )


@pytest.mark.parametrize("block", range(4))
def test_both_kinds_together_equal_the_enumeration_of_all_choices(block: int) -> None:
    solved = bound = 0
    for seed in range(10 * block, 10 * block + 10):
        made = room(seed)
        solution = fewest_then_best(
            made.margins,
            prices=made.prices,
            forced=made.forced,
            conflicts=made.conflicts,
            lines=made.lines,
            step=STEP,
            max_devices=6,
        )
        eased = list(made.choices(6))
        candidates = made.candidates
        every = [chosen for chosen in eased if not candidates.clash(chosen)]
        assert (solution.status == "optimal") is bool(every), seed
        if not every:
            continue
        least = min(map(made.paid, every))
        cheapest = [chosen for chosen in every if made.paid(chosen) == least]
        assert solution.chosen == min(cheapest, key=made.key), seed
        assert solution.fewer_is_impossible is (min(map(len, every)) == solution.count), seed
        solved += 1
        bound += min(map(made.paid, eased)) < least
    assert solved >= 4
    assert bound  # conflicts cost something somewhere


def test_no_choice_within_the_limits_holds_what_was_ruled_out() -> None:
    dropped = pairs = floors = 0
    for seed in range(30):
        made = room(seed, across=3)
        must = made.table >= 0
        every = list(made.choices(6))
        if not every:
            continue
        fewest = min(map(len, every)) + seed % 2
        candidates = made.candidates
        budget = int(min(map(made.paid, every)) * (1, 1.05, 1.2)[seed % 3])
        for count, most in ((fewest, None), (None, budget), (fewest + 1, budget)):
            units = None if most is None else most // candidates.price_unit
            kept, slacks, least = tightened(candidates, must, count, units, seconds=10.0)
            assert kept.excluded is not None
            dropped += len(candidates.usable) - len(kept.usable)
            pairs += int(kept.excluded.sum()) // 2
            floors += sum(floor.least for floor in least)
            for chosen in every:
                if count is not None and len(chosen) > count:
                    continue
                if most is not None and made.paid(chosen) > most:
                    continue
                picked = list(chosen)
                if not set(picked) <= set(candidates.usable.tolist()):
                    continue  # what stays excludes one of them: never in question
                assert set(picked) <= set(kept.usable.tolist()), seed
                assert not kept.excluded[np.ix_(picked, picked)].any(), seed
                times = must[:, picked].sum(axis=1)
                for slack in slacks:
                    used = slack.of_candidate[picked].sum() + slack.of_row @ (times - 1)
                    assert used <= slack.total + 1e-6, seed
                for floor in least:
                    spent = floor.cost[np.isin(floor.members, picked)].sum()
                    assert spent >= floor.least, seed
    assert dropped > 100
    assert pairs > 300
    assert floors > 100


def test_parts_share_no_candidate_and_hold_every_row() -> None:
    for seed in range(20):
        rng = np.random.default_rng(seed)
        must: Mask = rng.random((9, 14)) < 0.12
        must[np.arange(9), rng.integers(0, 14, 9)] = True
        parts = parts_of(must, np.arange(14))
        assert sorted(np.concatenate([part.rows for part in parts]).tolist()) == list(range(9))
        members = np.concatenate([part.members for part in parts]).tolist()
        assert len(members) == len(set(members))
        for part in parts:
            assert set(np.flatnonzero(must[part.rows].any(axis=0))) == set(part.members.tolist())


def test_sets_hold_every_conflict_and_nothing_that_may_stand_together() -> None:
    larger = 0
    for seed in range(20):
        rng = np.random.default_rng(seed)
        clash: Mask = np.triu(rng.random((16, 16)) < 0.15, 1)
        never: Mask = np.triu(rng.random((16, 16)) < 0.4, 1)
        clash, never = clash | clash.T, never | never.T
        usable = rng.random(16) < 0.8
        for also in (None, never):
            held = np.zeros_like(clash)
            for members in clique_cover(clash, usable, also):
                assert usable[members].all()
                held[np.ix_(members, members)] = True
                larger += also is not None and len(members) > 2
            np.fill_diagonal(held, False)
            wanted = clash & usable[:, None] & usable[None]
            assert held[wanted].all()
            assert not (held & ~(clash if also is None else clash | also)).any()
    assert larger > 50


def test_what_exchanges_find_is_a_cover_without_a_clash_at_no_more_than_was_asked() -> None:
    found = 0
    for seed in range(30):
        made = room(seed)
        must, candidates = made.table >= 0, made.candidates
        every = [chosen for chosen in made.choices(6) if not candidates.clash(chosen)]
        if not every:
            continue
        least = min(map(made.paid, every)) // candidates.price_unit
        for start in ([*made.forced], sorted({*made.forced, *candidates.usable[:5].tolist()})):
            clear = clear_cover(candidates, must, start, size=6)
            cheap = cheap_cover(candidates, must, start, least=0, budget=2 * least)
            for chosen in (clear, cheap):
                if chosen is None:
                    continue
                assert must[:, chosen].any(axis=1).all(), seed
                assert not candidates.clash(chosen), seed
                assert set(made.forced) <= set(chosen), seed
            if clear is not None:
                assert len(clear) <= 6, seed
            if cheap is not None:
                assert least <= candidates.total(cheap) <= 2 * least, seed
                found += candidates.total(cheap) == least
    assert found > 10
