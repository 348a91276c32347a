"""One placement as the solver sees it: candidates worth keeping, their prices, who they serve."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from wellheard.arrays import Array, Mask
from wellheard.place import certify, solve
from wellheard.place.candidates import Candidate, Options
from wellheard.place.certificate import Certificate
from wellheard.place.reached import reached
from wellheard.place.rows import Rows
from wellheard.place.solve import Margins, Solution
from wellheard.place.spaces import Spaces
from wellheard.place.together import on_its_own
from wellheard.predict.scene import Scene

STEP = 0.05
"""Margins are compared in steps of this many standard deviations."""
SLACK = 1e-9 * STEP
"""A margin this little below zero is a rounding error, here as in the solver."""


@dataclass(frozen=True)
class Answer:
    """What was chosen, and why nothing less would do; no certificate where that is open."""

    solution: Solution
    certificate: Certificate | None
    as_placed: bool = False
    """Whether it holds only with those microphones open that stand in the same space."""


@dataclass(frozen=True)
class Task:
    """Who must be served, by which candidates, at which prices."""

    spaces: Spaces
    options: Options
    rows: Rows
    costs: list[float]
    by_price: bool
    members: tuple[int, ...]
    """Candidates that the search looks at; the locked ones come first, here as there."""

    @classmethod
    def of(cls, spaces: Spaces, options: Options, *, by_price: bool) -> Task:
        """Leave out the candidates that others better."""
        every = tuple(range(len(options.allowed)))
        costs = _prices(spaces.whole, options.allowed)
        task = cls(spaces, options, Rows(spaces, options), costs, by_price, every)
        task = replace(task, members=tuple(task.worth_trying()))
        most = solve.most_devices(
            task.margins,
            prices=task.prices,
            forced=options.locked,
            conflicts=task.conflicts,
            step=STEP,
        )
        counts = tuple(range(max(1, len(options.locked)), most + 1))
        return replace(task, members=tuple(task.worth_keeping(counts)))

    def margins(self, count: int) -> Array:
        """Margins of the members, never optimistic, shape (rows, members)."""
        return self.rows.margins(count)[:, self.members]

    def hopeful(self, count: int) -> Array:
        """The same, never pessimistic."""
        return self.rows.hopeful(count)[:, self.members]

    @property
    def prices(self) -> list[float] | None:
        """Prices of the members; None where the number alone counts."""
        return [self.costs[i] for i in self.members] if self.by_price else None

    @cached_property
    def conflicts(self) -> list[tuple[int, int]]:
        """Pairs of members that may not both be chosen."""
        return self.kept.conflicts()

    @property
    def kept(self) -> Options:
        """The members."""
        return self.options.only(self.members)

    def worth_trying(self) -> list[int]:
        """Candidates without those on their own that another betters anywhere in the room.

        In an ordinary room such a device is the whole answer or no part of it, so that one of
        any kind that serves every row at least as well alone, some better or for less, can take
        its part. Beside locked devices it is none at all.
        """
        every = range(len(self.options.allowed))
        alone = [i for i in every if on_its_own(self.options.allowed[i])]
        alone = [i for i in alone if i not in self.options.locked]
        if not alone or self.spaces.divided:
            return list(every)
        if self.options.locked:
            return [i for i in every if i not in set(alone)]
        levels = np.floor(self.rows.margins(1) / STEP + 1e-9)
        cost = np.asarray(self.costs) if self.by_price else np.zeros(len(self.costs))
        bettered = set()
        for i in alone:
            own = levels[:, [i]]
            as_good = np.all(levels >= own, axis=0) & (cost <= cost[i])
            better = np.any(levels > own, axis=0) | (cost < cost[i])
            if bool(np.any(as_good & better)):
                bettered.add(i)
        return [i for i in every if i not in bettered]

    def worth_keeping(self, counts: tuple[int, ...]) -> list[int]:
        """Candidates that nothing else at their own place betters.

        One at the same place on the plan that serves every row at least as well, at every
        number of ``counts``, and costs no more, can take its part in any answer, if no other
        neighbours are in its way. Of equal ones the first stays.
        """
        bounds = [self.rows.margins] if self.rows.exact else [self.rows.margins, self.rows.hopeful]
        levels = np.concatenate(
            [np.floor(bound(n) / STEP + 1e-9) for bound in bounds for n in counts]
        )
        otherwise = self.options.apart_otherwise()
        cost = np.asarray(self.costs) if self.by_price else np.zeros(len(self.costs))
        places: dict[tuple[int, int], list[int]] = {}
        for index in self.members:
            at = self.options.allowed[index].at
            places.setdefault((round(1e3 * at[0]), round(1e3 * at[1])), []).append(index)
        locked = set(self.options.locked)
        kept: list[int] = []
        for members in places.values():
            for one in members:
                if one in locked or not any(
                    other != one
                    and cost[other] <= cost[one]
                    and (otherwise is None or _excludes_no_more(otherwise, other, one))
                    and bool(np.all(levels[:, other] >= levels[:, one]))
                    and (
                        other < one
                        or cost[other] < cost[one]
                        or bool(np.any(levels[:, other] > levels[:, one]))
                    )
                    for other in members
                ):
                    kept.append(one)
        return sorted(kept)

    def answer(self, time_limit: float) -> Answer:
        """The fewest or cheapest, then the best of those, and why nothing less would do.

        Where it is not known how many microphones are open in a space, what is proposed holds
        with all of them open. If with fewer open less might do, or anything at all, the most
        hopeful choice is taken where it turns out to hold with those that are.
        """
        until = time.monotonic() + time_limit
        careful = self._solved(self.margins, time_limit)
        if careful.status == "gap":
            return Answer(careful, None)
        if self.rows.exact:
            return Answer(careful, self._proof(self.margins, careful, by_price=self.by_price))
        proof = self._settled(careful, by_price=self.by_price)
        if proof is not None:
            few = not self.by_price or self._settled(careful, by_price=False) is not None
            few = few and careful.fewer_is_impossible
            return Answer(replace(careful, fewer_is_impossible=few), proof)
        hopeful = self._solved(self.hopeful, max(1.0, until - time.monotonic()))
        if hopeful.status == "optimal" and not self.short(hopeful):
            proof = self._settled(hopeful, by_price=self.by_price)
            return Answer(hopeful, proof, as_placed=True)
        if careful.status == "infeasible":
            if hopeful.status == "infeasible":
                return Answer(careful, None)
            least = max(1, len(self.options.locked))
            return Answer(replace(careful, status="gap", gap=1 - least / careful.count), None)
        proof = self._proof(self.margins, careful, by_price=self.by_price)
        if proof is not None:
            words = f"{proof.statement} Every microphone counts as open in every arrangement."
            proof = replace(proof, statement=words)
        return Answer(replace(careful, fewer_is_impossible=False), proof)

    def _solved(self, margins: Margins, time_limit: float) -> Solution:
        return self._of_all(
            solve.fewest_then_best(
                margins,
                prices=self.prices,
                forced=self.options.locked,
                conflicts=self.conflicts,
                lines=self.kept.positions(),
                step=STEP,
                time_limit=time_limit,
            )
        )

    def best_of(self, count: int, time_limit: float) -> Solution:
        """The best that exactly ``count`` devices can do, whatever they cost."""
        return self._of_all(
            solve.best_with_count(
                self.margins,
                count,
                forced=self.options.locked,
                conflicts=self.conflicts,
                lines=self.kept.positions(),
                step=STEP,
                time_limit=time_limit,
            )
        )

    def _of_all(self, solution: Solution) -> Solution:
        """The same, with candidates counted among all of the task."""
        return replace(solution, chosen=tuple(self.members[i] for i in solution.chosen))

    def short(self, solution: Solution) -> list[int]:
        """Rows that the chosen devices leave short, those open that stand in their space."""
        if self.rows.exact or not solution.chosen:
            return list(solution.unserved)
        margin = reached(self.rows, solution.chosen).margin
        return [int(row) for row in np.flatnonzero(margin < -SLACK)]

    def _settled(self, solution: Solution, *, by_price: bool) -> Certificate | None:
        """A proof that holds whichever microphones are open; None where there is none."""
        try:
            proof = self._proof(self.hopeful, solution, by_price=by_price)
        except ValueError:  # with fewer open, fewer might do
            return None
        if proof is None or not all(part.verified for part in (proof, *proof.also)):
            return None
        return proof

    def _proof(self, margins: Margins, solution: Solution, *, by_price: bool) -> Certificate | None:
        """Why nothing is cheaper, where price leads; else why nothing is fewer."""
        if solution.status != "optimal":
            return None
        if by_price and self.prices is not None and solution.price is not None:
            return certify.cheaper_is_impossible(
                margins,
                self.prices,
                solution.price,
                names=self.rows.names,
                forced=self.options.locked,
                conflicts=self.conflicts,
            )
        return certify.fewer_is_impossible(
            margins,
            solution.count,
            names=self.rows.names,
            forced=self.options.locked,
            conflicts=self.conflicts,
        )


def _excludes_no_more(otherwise: Mask, one: int, other: int) -> bool:
    """Whether ``one`` can stand wherever ``other`` could; the two never stand together."""
    further = otherwise[one] & ~otherwise[other]
    further[[one, other]] = False
    return not bool(further.any())


def _prices(scene: Scene, candidates: tuple[Candidate, ...]) -> list[float]:
    known: dict[tuple[str, str, float | None, str | None], float] = {}
    found = []
    for c in candidates:
        if c.id is not None and scene.room.devices[c.id].owned:
            found.append(0.0)
            continue
        key = (c.product.id, c.mounting, c.drop, c.fit)
        if key not in known:
            known[key] = scene.catalogue.installed_price(
                c.product.id, c.mounting, c.drop, fit=c.fit
            ).amount
        found.append(known[key])
    return found
