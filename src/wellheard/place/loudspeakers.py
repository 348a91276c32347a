"""The cheapest, fewest and most even loudspeakers that keep the promise, each step proven.

The program rules out what cannot do; what it chooses is judged by the full prediction, and is
excluded where that refuses it, until one holds or none is left.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal

import numpy as np

from wellheard.arrays import Mask
from wellheard.place.audience import Audience, Verdict, Wanted
from wellheard.place.feeding import feeds, supplies
from wellheard.place.few import EVEN_STEP_DB, NEW_AT_MOST, Few
from wellheard.place.playing import Answered, Choice, Limits, Question
from wellheard.place.programs import Clock
from wellheard.place.sounding import SoundingOptions, in_each_other
from wellheard.place.spaces import Spaces
from wellheard.place.surroundings import OVERLAPS

EXCLUDED_AT_MOST = 400
"""Choices that the full prediction may refuse before the search is given up."""


@dataclass(frozen=True)
class Played:
    """Loudspeakers chosen, and how far the choice is proven.

    Attributes
    ----------
    status
        ``optimal``: every step is proven. ``infeasible``: proven that no choice keeps the
        promise; ``choice`` is then the one whose levels are least off. ``gap``: the time limit
        struck before.
    bound : int
        Nothing costs less than this. [cents]
    refused : int
        Choices that kept all rows and failed the full prediction.
    """

    choice: Choice | None
    cents: int
    number: int
    verdicts: tuple[Verdict, ...]
    status: Literal["optimal", "infeasible", "gap"]
    bound: int
    refused: int = 0
    least_apart_db: float | None = None
    """Where it is infeasible: the least that loudest and quietest ear can differ by."""
    level_off_db: float | None = None
    """Where it is infeasible: by how much the range of levels would have to be wider."""
    deaf: tuple[tuple[int, int, float], ...] = field(default=())
    """Where it is infeasible: space, ear and highest index of those that none can reach."""


def question(spaces: Spaces, options: SoundingOptions, time_limit: float) -> Question:
    """Listen to every candidate in every space, and set up the program.

    Parameters
    ----------
    spaces : Spaces
        The room.
    options : SoundingOptions
        Its candidates.
    time_limit : float
        For everything that is asked. [s]
    """
    amplifiers = supplies(spaces.whole)
    return Question(
        audiences=tuple(_audiences(spaces, options)),
        wanted=tuple(Wanted.of(space.scene.room.targets) for space in spaces.each),
        options=options,
        supplies=amplifiers,
        feeds=feeds({c.product.id: c.product for c in options.allowed}.values(), amplifiers),
        prices=np.array([round(100 * p) for p in prices(spaces, options)], dtype=np.float64),
        conflicts=_conflicts(spaces, options),
        clock=Clock(time_limit),
    )


def _audiences(spaces: Spaces, options: SoundingOptions) -> Iterator[Audience]:
    stays = {one.id: i for i, one in enumerate(options.allowed) if one.id is not None}
    new = {i: one.device for i, one in enumerate(options.allowed) if one.id is None}
    for space, held in zip(spaces.each, options.holding, strict=True):
        here = {i: device for i, device in new.items() if held[i]}
        yield replace(Audience.of(space.scene, here, stays), count=len(options.allowed))


def prices(spaces: Spaces, options: SoundingOptions) -> list[float]:
    """Installed price of each candidate; what the customer owns costs nothing."""
    scene = spaces.whole
    known: dict[tuple[str, str, float | None, str | None], float] = {}
    found = []
    for one in options.allowed:
        if one.id is not None and scene.room.devices[one.id].owned:
            found.append(0.0)
            continue
        key = (one.product.id, one.mounting, one.drop, one.fit)
        if key not in known:
            drop = one.drop if one.mounting == "ceiling" else None
            known[key] = scene.catalogue.installed_price(
                one.product.id, one.mounting, drop, fit=one.fit
            ).amount
        found.append(known[key])
    return found


def _conflicts(spaces: Spaces, options: SoundingOptions) -> Mask:
    found = in_each_other(options.allowed, spaces.whole.room.targets.house_limit(OVERLAPS))
    at = np.array([one.at for one in options.allowed]).reshape(-1, 3)
    found |= np.linalg.norm(at[:, None] - at[None], axis=-1) < 1e-6
    if spaces.divided:
        held = options.holding
        found &= np.any(held[:, :, None] & held[:, None, :], axis=0)
    np.fill_diagonal(found, False)
    kept = list(options.locked)
    found[np.ix_(kept, kept)] = False
    return found


class Loudspeakers:
    """The steps: price, number, evenness, lines."""

    def __init__(self, asked: Question) -> None:
        self.asked = asked
        self.refused = 0

    def best(self, barred: Mask | None = None) -> Played:
        """The cheapest choice, of these the fewest, then the most even, then the tidiest.

        Of one or two new loudspeakers those go before evenness that let the fewest ears hear the
        voice beside the picture.

        Parameters
        ----------
        barred : ndarray of bool, shape (candidates,), optional
            Places that are not to be taken, such as those too near to a microphone.
        """
        self.refused = 0
        found = self._best_few(barred)
        if found is None and self.refused > EXCLUDED_AT_MOST:
            return self._gap(None, None, 0)
        if found is None:
            return self._of_more(barred, None)
        least = self.few.least_of_more(barred)
        if least > found.cents:
            return found
        return self._of_more(barred, found)

    def _best_few(self, barred: Mask | None) -> Played | None:
        """The best of one or two new loudspeakers that holds."""
        for one in self.few.ranked(barred):
            verdicts = self.judged(one.choice.chosen)
            if all(each.kept for each in verdicts):
                return self._optimal(one.choice, verdicts)
            self._exclude(one.choice.chosen)
            if self.refused > EXCLUDED_AT_MOST:
                return None
        return None

    @cached_property
    def few(self) -> Few:
        """Choices of one or two new loudspeakers."""
        return Few(self.asked)

    def _of_more(self, barred: Mask | None, rival: Played | None) -> Played:
        """The cheapest choice of more than two, if it costs less than a rival or is fewer."""
        beaten = Limits(at_least=NEW_AT_MOST + 1)
        if rival is not None:
            beaten = replace(beaten, budget=rival.cents - 1)
        cheap = self.asked.ask("price", beaten, barred)
        while cheap.choice is not None and cheap.proven:
            budget = self.asked.cents(cheap.choice)
            few = self.asked.ask("number", replace(beaten, budget=budget), barred)
            if few.choice is None or not few.proven:
                return self._gap(rival, cheap.choice, budget)
            kept = replace(beaten, budget=budget, number=self.asked.number(few.choice))
            found = self._most_even(kept, few.choice, barred, rival)
            if found is not None:
                return found
            if self.refused > EXCLUDED_AT_MOST or self.asked.clock.left() <= 0:
                return self._gap(rival, cheap.choice, budget)
            cheap = self.asked.ask("price", beaten, barred)
        if cheap.choice is not None or not cheap.proven:
            least = 0 if not math.isfinite(cheap.bound) else max(0, math.ceil(cheap.bound - 1e-6))
            return self._gap(rival, cheap.choice, least)
        if rival is not None:
            return replace(rival, refused=self.refused)
        return self._compromise(barred)

    def _most_even(
        self, kept: Limits, start: Choice, barred: Mask | None, rival: Played | None
    ) -> Played | None:
        """The most even choice within price and number that holds; None where none does.

        What is refused on the way stays excluded for good.
        """
        while True:
            even = self._evened(kept, start, barred)
            if even is None:
                return self._gap(rival, start, kept.budget or 0)
            found = self._tidiest(kept, even, barred)
            verdicts = self.judged(found.chosen)
            if all(one.kept for one in verdicts):
                return self._optimal(found, verdicts)
            self._exclude(found.chosen)
            if found.chosen != even.chosen:
                verdicts = self.judged(even.chosen)
                if all(one.kept for one in verdicts):
                    return self._optimal(even, verdicts)
                self._exclude(even.chosen)
            if self.refused > EXCLUDED_AT_MOST:
                return None
            again = self.asked.ask("any", kept, barred)
            if again.choice is None:
                return None
            start = again.choice

    def _evened(self, kept: Limits, start: Choice, barred: Mask | None) -> Choice | None:
        """Halve the way between the evenness at hand and the best there can be."""
        best = start
        low, high = 0.0, self._apart_db(start)
        while high - low > EVEN_STEP_DB:
            middle = (low + high) / 2
            asked = self.asked.ask("any", self._evener(kept, middle), barred)
            if asked.choice is None and not asked.proven:
                return None
            if asked.choice is None:
                low = middle
            else:
                best, high = asked.choice, min(middle, self._apart_db(asked.choice))
        return best

    def _evener(self, kept: Limits, apart_db: float) -> Limits:
        wanted = tuple(
            replace(one, apart_db=min(apart_db, math.inf if one.apart_db is None else one.apart_db))
            for one in self.asked.wanted
        )
        return replace(kept, wanted=wanted)

    def _apart_db(self, choice: Choice) -> float:
        return max(float(np.ptp(one)) for one in self.asked.levels_db(choice.chosen))

    def _tidiest(self, kept: Limits, even: Choice, barred: Mask | None) -> Choice:
        """Of those as even, the one on the fewest lines; the same where time is up."""
        if len(even.chosen) < 2:
            return even
        limits = self._evener(kept, self._apart_db(even) + EVEN_STEP_DB / 2)
        return self.asked.ask("lines", limits, barred).choice or even

    def taken(self, choice: Choice) -> Played | None:
        """A choice as it is; None where the full prediction refuses it, and it is excluded."""
        verdicts = self.judged(choice.chosen)
        if all(one.kept for one in verdicts):
            return self._optimal(choice, verdicts)
        self._exclude(choice.chosen)
        return None

    def judged(self, chosen: Sequence[int]) -> tuple[Verdict, ...]:
        """The full prediction of a choice, space by space."""
        return tuple(one.judge(self._heard_in(i, chosen)) for i, one in enumerate(self.audiences))

    @property
    def audiences(self) -> tuple[Audience, ...]:
        """The ears of every space."""
        return self.asked.audiences

    def _heard_in(self, space: int, chosen: Sequence[int]) -> list[int]:
        held = self.asked.options.holding[space]
        return [i for i in chosen if held[i]]

    def _exclude(self, chosen: tuple[int, ...]) -> None:
        """Rule a refused choice out, and with it all that must fail for the same reason."""
        self.refused += 1
        self.asked.excluded.append(chosen)
        for space, verdict in enumerate(self.judged(chosen)):
            beside = np.zeros(self.asked.count, dtype=np.bool_)
            beside[self._heard_in(space, chosen)] = True
            for ear in verdict.deaf:
                mask = self.audiences[space].needed_of(ear, beside=beside)
                if mask is not None:
                    self.asked.needed.append(mask & self.asked.options.holding[space])

    def _optimal(self, choice: Choice, verdicts: tuple[Verdict, ...]) -> Played:
        cents = self.asked.cents(choice)
        number = self.asked.number(choice)
        return Played(choice, cents, number, verdicts, "optimal", cents, self.refused)

    def _gap(self, rival: Played | None, choice: Choice | None, bound: int) -> Played:
        """What is at hand when time is up: a rival that holds, else what was not refused yet."""
        if rival is not None:
            return replace(rival, status="gap", bound=bound, refused=self.refused)
        if choice is None:
            return Played(None, 0, 0, (), "gap", bound, self.refused)
        return Played(
            choice,
            self.asked.cents(choice),
            self.asked.number(choice),
            self.judged(choice.chosen),
            "gap",
            bound,
            self.refused,
        )

    def _compromise(self, barred: Mask | None) -> Played:
        """Nothing keeps the promise: what comes nearest, and what would have to give."""
        deaf = tuple(
            (space, ear, best)
            for space, audience in enumerate(self.audiences)
            for ear, best in self._unreached(space, audience)
        )
        needed, excluded = self.asked.needed, self.asked.excluded
        held = [self.asked.options.holding[i] for i in range(len(self.audiences))]
        self.asked.needed = [
            one for one, heard in zip(held, self.audiences, strict=True) if not heard.always.any()
        ]
        self.asked.excluded = []
        wanted = self.asked.wanted
        level = self._loosest(barred, [replace(one, apart_db=None, sti=None) for one in wanted])
        apart = self._least_apart(barred)
        nearest = self._loosest(barred, list(wanted))
        found: Answered | None = None
        if nearest is not None:
            loose = tuple(one.loosened(nearest + EVEN_STEP_DB) for one in wanted)
            found = self.asked.ask("price", Limits(wanted=loose), barred)
        self.asked.needed, self.asked.excluded = needed, excluded
        choice = None if found is None else found.choice
        return Played(
            choice=choice,
            cents=0 if choice is None else self.asked.cents(choice),
            number=0 if choice is None else self.asked.number(choice),
            verdicts=() if choice is None else self.judged(choice.chosen),
            status="infeasible",
            bound=0,
            refused=self.refused,
            least_apart_db=apart,
            level_off_db=level,
            deaf=deaf,
        )

    def _unreached(self, space: int, audience: Audience) -> list[tuple[int, float]]:
        wanted = self.asked.wanted[space].sti
        if wanted is None:
            return []
        every = self.asked.options.holding[space]
        best = [audience.highest_sti(ear, every) for ear in range(len(audience.always))]
        return [(ear, value) for ear, value in enumerate(best) if value < wanted]

    def _loosest(self, barred: Mask | None, wanted: list[Wanted]) -> float | None:
        """By how much levels must at least be loosened for any choice to keep them [dB]."""
        low, high = 0.0, 40.0

        def holds(db: float) -> bool:
            loose = tuple(one.loosened(db) for one in wanted)
            return self.asked.ask("any", Limits(wanted=loose), barred).choice is not None

        if holds(0.0):
            return 0.0
        if not holds(high):
            return None
        while high - low > 2 * EVEN_STEP_DB:
            middle = (low + high) / 2
            low, high = (low, middle) if holds(middle) else (middle, high)
        return high

    def _least_apart(self, barred: Mask | None) -> float | None:
        """The least that loudest and quietest ear can differ by, whatever the levels [dB]."""
        free = tuple(
            replace(one, lowest_dba=None, highest_dba=None, apart_db=None, sti=None)
            for one in self.asked.wanted
        )
        start = self.asked.ask("any", Limits(wanted=free), barred).choice
        if start is None:
            return None
        best = self._apart_db(start)
        low, high = 0.0, best
        while high - low > 2 * EVEN_STEP_DB:
            middle = (low + high) / 2
            within = tuple(replace(one, apart_db=middle) for one in free)
            found = self.asked.ask("any", Limits(wanted=within), barred)
            if found.choice is None:
                low = middle
            else:
                high = min(middle, self._apart_db(found.choice))
        return high
