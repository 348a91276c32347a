"""The steps of the lexicographic order, one after the other, each with its proof."""

from __future__ import annotations

import math
import time
from collections.abc import Iterable, Sequence

import numpy as np

from wellheard.arrays import Array, Mask
from wellheard.place.cover import (
    Whole,
    candidates_from,
    greedy_cover,
    greedy_part,
    levels_from,
    padded,
)
from wellheard.place.means import MeanQuestion, best_mean, lines_of, tidiest
from wellheard.place.narrowing import narrowed
from wellheard.place.programs import (
    Clock,
    Duty,
    Found,
    best_worst,
    least,
    most_served,
    with_count,
)
from wellheard.place.solution import Margins, Solution, Step, StepName, StepStatus


class Search:
    """One call: the problem in canonical order, a clock, and the steps taken so far.

    Candidates are sorted by position, price and column at the door, so that the answer does
    not depend on the order in which the caller happened to list them.
    """

    def __init__(
        self,
        margins: Margins,
        *,
        values: Margins | None,
        prices: Sequence[float] | Array | None,
        forced: Iterable[int],
        conflicts: Iterable[tuple[int, int]],
        lines: Array | None,
        step: float,
        value_step: float | None,
        max_devices: int | None,
        falling: bool,
        time_limit: float,
    ) -> None:
        self.clock = Clock(time_limit)
        self.step = step
        self.value_step = step if value_step is None else value_step
        if not (self.step > 0 and self.value_step > 0):
            raise ValueError(f"steps of {step} and {value_step}: both must be more than 0")
        self.given_margins, self.given_values = margins, values
        self.falling = falling
        must = sorted({int(c) for c in forced})
        self.fewest_open = max(1, len(must))
        self.first = np.asarray(margins(self.fewest_open), dtype=float)
        if self.first.ndim != 2 or not len(self.first):
            raise ValueError(
                f"margins have shape {self.first.shape}: (seats, candidates) with one seat or "
                "more is needed"
            )
        self.seats, count = self.first.shape
        if lines is not None and np.shape(lines) != (count, 2):
            raise ValueError(f"lines have shape {np.shape(lines)}: ({count}, 2) is needed")
        if max_devices is not None and max_devices < len(must):
            raise ValueError(f"{len(must)} devices are forced, more than the {max_devices} allowed")
        pairs = list(conflicts)
        given = candidates_from(count, prices=prices, forced=must, conflicts=pairs, lines=lines)
        columns = levels_from(self.first, step)

        def reading_order(c: int) -> tuple[int, int, int, bytes, int]:
            if given.lines is None:
                return (0, 0, 0, b"", c)
            price = 0 if given.price is None else int(given.price[c])
            x, y = given.lines[c].tolist()
            return (x, y, price, columns[:, c].tobytes(), c)

        self.order = np.array(sorted(range(count), key=reading_order), dtype=np.int64)
        self.candidates = given.reordered(self.order)
        self.usable = len(given.usable)
        most = self.seats + len(must) if max_devices is None else max_devices
        self.cap = min(self.usable, most)
        self.known_levels: dict[int, Whole] = {self.fewest_open: columns[:, self.order]}
        self.steps: list[Step] = []

    # What the caller said, in whole levels and canonical order.

    def levels(self, count: int) -> Whole:
        if count not in self.known_levels:
            found = np.asarray(self.given_margins(count), dtype=float)
            if found.shape != self.first.shape:
                raise ValueError(f"margins({count}) have shape {found.shape}, not that of before")
            levels = levels_from(found[:, self.order], self.step)
            if self.falling:
                for other, theirs in self.known_levels.items():
                    low, high = (theirs, levels) if other > count else (levels, theirs)
                    if (low > high).any():
                        raise ValueError(
                            f"margins grow between {other} and {count} devices: do not vouch "
                            "that they fall"
                        )
            self.known_levels[count] = levels
        return self.known_levels[count]

    def worth(self, count: int) -> Whole:
        if self.given_values is None and self.value_step == self.step:
            return self.levels(count)
        found = np.asarray((self.given_values or self.given_margins)(count), dtype=float)
        if found.shape != self.first.shape:
            raise ValueError(f"values({count}) have shape {found.shape}, not that of the margins")
        return levels_from(found[:, self.order], self.value_step)

    def serves(self, count: int) -> Mask:
        return self.levels(count) >= 0

    def ruled_out_to(self, count: int, end: int) -> int:
        """First number after ``count``, at most ``end``, that can serve what ``count`` cannot."""
        if not self.falling:
            for other in range(count + 1, end):
                if (self.serves(other) & ~self.serves(count)).any():
                    return other
        return max(end, count + 1)

    # The steps.

    def fewest_then_best(self) -> Solution:
        if not self.cap:
            return self.report([], bound=None, infeasible=True)
        began = self.now()
        fewest = self.fewest()
        number = None if fewest.chosen is None else len(fewest.chosen)
        self.note("fewest", began, number, fewest)
        if fewest.chosen is None:
            counts = list(range(self.fewest_open, self.cap + 1))
            return self.compromise(counts, proven=fewest.proven, bound=fewest.bound)
        lead = fewest
        budget = None
        if self.candidates.price is not None:
            began = self.now()
            lead = self.cheapest(fewest)
            assert lead.chosen is not None
            budget = self.candidates.total(lead.chosen)
            self.note(
                "price",
                began,
                self.candidates.amount(budget),
                Found(lead.chosen, lead.proven, self.candidates.amount(lead.bound)),
            )
        assert lead.chosen is not None
        chosen = lead.chosen
        if lead.proven:
            chosen = self.best_of_these(chosen, budget, None)
        return self.report(
            chosen,
            bound=lead.bound,
            infeasible=False,
            fewer_is_impossible=fewest.proven and len(fewest.chosen) == len(chosen),
        )

    def compromise(
        self, counts: list[int], *, proven: bool, bound: float | None = None
    ) -> Solution:
        """Most seats served, then least price, then fewest, then as usual."""
        began = self.now()
        found, served = self.most_served_of(counts)
        self.note("served", began, served, found)
        chosen = found.chosen
        if chosen is None:  # not even the numbers allowed can stand together
            return self.report(self.candidates.forced.tolist(), bound=None, infeasible=True)
        if found.proven:
            budget = None
            if self.candidates.price is not None:
                began = self.now()
                cheap = self.cheapest_serving(served, chosen, counts)
                assert cheap.chosen is not None
                chosen, budget = cheap.chosen, self.candidates.total(cheap.chosen)
                self.note(
                    "price",
                    began,
                    self.candidates.amount(budget),
                    Found(chosen, cheap.proven, self.candidates.amount(cheap.bound)),
                )
                found = cheap
        if found.proven:
            chosen = self.best_of_these(chosen, budget, served)
        return self.report(chosen, bound=None if proven else bound, infeasible=served < self.seats)

    def fewest(self) -> Found:
        """Try each number with its own margins, skipping those that are ruled out."""
        spare = self.quick()
        count = self.fewest_open
        while count <= self.cap:
            duty = Duty(self.serves(count))
            if spare is not None and len(spare) == count and self.clock.left() > 0:
                return Found(spare, True, float(count))
            quick = greedy_cover(duty.must, self.candidates)
            if quick is not None and len(quick) <= count and self.clock.left() > 0:
                quick = padded(quick, count, self.candidates, None)
                if quick is not None:
                    return Found(quick, True, float(count))
            found = least(self.candidates, duty, self.clock, by="number")
            if found.chosen is not None and len(found.chosen) > count:
                spare = self.better_spare(spare, found.chosen)
            if found.proven and found.chosen is not None and len(found.chosen) <= count:
                exact = with_count(self.candidates, duty, self.clock, count, budget=None)
                if exact.chosen is not None:
                    return Found(exact.chosen, True, float(count))
                if not exact.proven:
                    return Found(spare, False, float(count))
                count += 1
                continue
            least_possible = min(found.bound, self.cap + 1.0)
            if least_possible > count:
                count = self.ruled_out_to(count, int(least_possible))
            if not found.proven:
                if spare is not None and len(spare) <= count:
                    return Found(spare, len(spare) == count, float(count))
                return Found(spare, False, float(count))
        return Found(None, True, math.inf)

    def quick(self) -> list[int] | None:
        """A cover by greed alone, to have something when the time is up."""
        count = self.fewest_open
        while count <= self.cap:
            cover = greedy_cover(self.serves(count), self.candidates)
            if cover is None:
                count += 1
                continue
            if len(cover) <= count:
                return padded(cover, count, self.candidates, None)
            count = len(cover)
        return None

    def better_spare(self, spare: list[int] | None, found: list[int]) -> list[int] | None:
        count = len(found)
        if count > self.cap or (spare is not None and len(spare) <= count):
            return spare
        return found if Duty(self.serves(count)).done_by(found) else spare

    def most_for(self, found: list[int]) -> int:
        """Most devices that a choice as good as ``found`` can have."""
        price = self.candidates.price
        if price is None:
            return len(found)
        forced = self.candidates.forced
        free = np.sort(price[self.candidates.usable[~np.isin(self.candidates.usable, forced)]])
        sums = int(price[forced].sum()) + np.cumsum(free)
        affordable = len(forced) + int((sums <= self.candidates.total(found)).sum())
        return min(self.cap, max(len(found), affordable))

    def cheapest(self, fewest: Found) -> Found:
        """Least price over all numbers, then fewest; numbers are skipped only where proven."""
        candidates, clock = self.candidates, self.clock
        best = fewest.chosen
        assert best is not None
        if not fewest.proven:
            return Found(best, False, 0.0)
        count = len(best)
        while count <= self.most_for(best):
            duty = Duty(self.serves(count))
            any_size = least(candidates, duty, clock, by="price")
            floor = any_size.bound
            price = candidates.total(best)
            after = self.ruled_out_to(count, self.most_for(best) + 1)
            nothing_cheaper = floor > price or (floor == price and len(best) <= count)
            if any_size.proven and (any_size.chosen is None or nothing_cheaper):
                count = after
                continue
            if not any_size.proven:
                return Found(best, False, max(0.0, min(floor, price)))
            small = any_size
            if any_size.chosen is None or len(any_size.chosen) != count:
                small = least(candidates, duty, clock, by="number", budget=int(floor))
            if not small.proven or small.chosen is None:
                return Found(best, False, floor)
            size = len(small.chosen)
            if count <= size <= self.cap and Duty(self.serves(size)).done_by(small.chosen):
                best = self.cheaper(best, small.chosen)
                if after > self.most_for(best):
                    break
            exact = least(candidates, duty, clock, by="price", exactly=count)
            if exact.chosen is not None:
                best = self.cheaper(best, exact.chosen)
            if not exact.proven:
                return Found(best, False, floor)
            count += 1
        return Found(best, True, float(candidates.total(best)))

    def cheaper(self, one: list[int], other: list[int]) -> list[int]:
        return min(one, other, key=lambda chosen: (self.candidates.total(chosen), len(chosen)))

    def cheapest_serving(self, served: int, chosen: list[int], counts: list[int]) -> Found:
        """Least price, then fewest, of all numbers that serve ``served`` seats."""
        best = chosen
        for count in counts:
            serves = self.serves(count)
            if int(serves[:, self.candidates.usable].any(axis=1).sum()) < served:
                continue
            duty = Duty(serves[:0], serves, served)
            found = least(self.candidates, duty, self.clock, by="price", exactly=count)
            if found.chosen is not None:
                best = self.cheaper(best, found.chosen)
            if not found.proven:
                return Found(best, False, 0.0)
        return Found(best, True, float(self.candidates.total(best)))

    def most_served_of(self, counts: list[int]) -> tuple[Found, int]:
        """Most seats served over several numbers; the smallest number that does it."""
        best, served = None, -1
        for count in counts:
            serves = self.serves(count)
            reachable = int(serves[:, self.candidates.usable].any(axis=1).sum())
            if reachable <= served:
                continue
            found, here = most_served(self.candidates, serves, self.clock, count)
            if found.chosen is None and not found.proven:
                part = greedy_part(serves, self.candidates, count)
                here = int(serves[:, part].any(axis=1).sum()) if len(part) == count else -1
                found = Found(part if len(part) == count else None, False, float(reachable))
            if found.chosen is not None and here > served:
                best, served = found.chosen, here
            if not found.proven:
                ceiling = max(
                    int(self.serves(c)[:, self.candidates.usable].any(axis=1).sum()) for c in counts
                )
                return Found(best, False, float(ceiling)), max(served, 0)
        return Found(best, True, float(served)), max(served, 0)

    def best_of_these(self, chosen: list[int], budget: int | None, quota: int | None) -> list[int]:
        """Steps 2 to 4 with the number of ``chosen``; each only once those before are proven."""
        count = len(chosen)
        levels = self.levels(count)
        began = self.now()
        # Whoever cannot be part of a choice of this number and price is out for good.
        must = levels >= 0 if quota is None else levels[:0] >= 0
        race, _ = narrowed(self.candidates, must, count, budget, seconds=self.clock.left())
        found, floor = best_worst(race, levels, chosen, self.clock, budget=budget, quota=quota)
        self.note("worst", began, floor * self.step, found, scale=self.step)
        assert found.chosen is not None
        if not found.proven:
            return found.chosen
        began = self.now()
        race, slack = narrowed(race, levels >= floor, count, budget, seconds=self.clock.left())
        question = MeanQuestion(
            candidates=race,
            worth=self.worth(count),
            allowed=levels >= floor,
            count=count,
            budget=budget,
            serves=None if quota is None or floor >= 0 else levels >= 0,
            quota=quota or 0,
            keep=race.usable,
            slacks=(slack,),
        )
        found, total, question = best_mean(question, found.chosen, self.clock)
        scale = self.value_step / self.seats
        self.note("mean", began, total * scale, found, scale=scale)
        assert found.chosen is not None
        if not found.proven:
            return found.chosen
        began = self.now()
        found = tidiest(question, found.chosen, total, self.clock)
        assert found.chosen is not None
        self.note("tidy", began, lines_of(self.candidates, found.chosen), found)
        return found.chosen

    # The account.

    def now(self) -> tuple[float, int]:
        return time.perf_counter(), self.clock.nodes

    def note(
        self,
        name: StepName,
        began: tuple[float, int],
        value: float | None,
        found: Found,
        *,
        scale: float = 1.0,
    ) -> None:
        status: StepStatus = "gap"
        if found.proven:
            status = "optimal" if value is not None else "infeasible"
        self.steps.append(
            Step(
                name,
                status,
                value,
                found.bound * scale if math.isfinite(found.bound) else None,
                self.clock.nodes - began[1],
                time.perf_counter() - began[0],
            )
        )

    def report(
        self,
        chosen: list[int],
        *,
        bound: float | None,
        infeasible: bool,
        fewer_is_impossible: bool = False,
    ) -> Solution:
        """State what was chosen; ``bound`` is in whole units of price, or a number."""
        count = len(chosen)
        priced = self.candidates.price is not None
        total = self.candidates.total(chosen)
        worst = mean = -math.inf
        unserved = tuple(range(self.seats))
        if count:
            levels = self.levels(count)[:, chosen]
            best = levels.max(axis=1)
            floor = int(best.min())
            worth = np.where(levels >= floor, self.worth(count)[:, chosen], -(1 << 40))
            mean = float(worth.max(axis=1).mean() * self.value_step)
            worst = floor * self.step
            unserved = tuple(np.flatnonzero(best < 0).tolist())
        open_to = self.order[self.candidates.usable]
        possible = np.full(self.seats, -math.inf)
        if len(open_to):
            possible = self.first[:, open_to].max(axis=1)
        gap = 0.0
        if bound is not None:
            # Nothing that serves every seat was found: no value stands against the bound.
            gap = 1.0 if infeasible else (total - bound) / total if total else 0.0
        finished = all(step.status != "gap" for step in self.steps)
        return Solution(
            chosen=tuple(sorted(self.order[chosen].tolist())),
            count=count,
            price=self.candidates.amount(total) if priced else None,
            worst_margin=worst,
            mean_value=mean,
            status="gap" if not finished else "infeasible" if infeasible else "optimal",
            gap=max(0.0, gap),
            bound=self.candidates.amount(bound) if priced and bound is not None else bound,
            fewer_is_impossible=fewer_is_impossible,
            steps=tuple(self.steps),
            unserved=unserved,
            best_possible=tuple(possible.tolist()),
        )
