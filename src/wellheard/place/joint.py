"""Microphones and loudspeakers together: what each costs alone, and what both cost.

::

    least price of microphones alone  +  least price of loudspeakers alone  ≤  least of both
                  │                                   │
                  └──── do they keep apart? ──────────┘  yes: that is the least of both
                                no: one program over both
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

from wellheard.errors import InputError
from wellheard.place.apart import Keeping, Together
from wellheard.place.loudspeakers import Loudspeakers, Played
from wellheard.place.proposal import ProofStatus
from wellheard.place.sounding import SoundingOptions
from wellheard.place.task import Answer, Task
from wellheard.room.devices import Device

How: TypeAlias = Literal["bounds", "program", "open"]
Again: TypeAlias = Callable[[dict[str, Device]], Task]
"""The microphones' task with loudspeakers in the room that stay."""

BESIDE = "beside-"
"""Before the number of a loudspeaker that stays while microphones are placed anew."""


@dataclass(frozen=True)
class Pair:
    """Microphones and loudspeakers that stand together, and what is proven of them.

    Attributes
    ----------
    how
        ``bounds``: neither can be had for less alone. ``program``: one program over both.
        ``open``: not settled in time.
    """

    task: Task
    answer: Answer
    played: Played
    options: SoundingOptions
    loudspeakers: Loudspeakers
    how: How
    status: ProofStatus
    gap: float
    apart: bool = False
    """Whether each of both is possible alone, and the two together are not."""
    fewest: bool = False
    """Whether one program shows that no choice of both at this price has fewer."""


class Joint:
    """The least of both, by bounds where these meet, else by one program."""

    def __init__(
        self, task: Task, loudspeakers: Loudspeakers, again: Again, time_limit: float
    ) -> None:
        self.task = task
        self.loudspeakers = loudspeakers
        self.again = again
        self.time_limit = time_limit
        self.keeping = Keeping(task, loudspeakers)

    def best(self) -> Pair:
        """Microphones and loudspeakers."""
        answer = self.task.answer(self.time_limit)
        alone = self.loudspeakers.best()
        barred = self.keeping.barred(answer.solution.chosen)
        clear = alone.choice is not None and not barred[self._new(alone)].any()
        beside = alone if clear else self.loudspeakers.best(barred)
        if alone.status != "optimal" or answer.solution.status != "optimal":
            return self._as_they_are(answer, alone, beside)
        if beside.status == "optimal" and self._cost(beside) == self._cost(alone):
            return self._pair(self.task, answer, beside, "bounds")
        return self._in_one_program(answer, alone, beside)

    def _as_they_are(self, answer: Answer, alone: Played, beside: Played) -> Pair:
        """Where one of the two is not proven or not possible by itself."""
        if answer.solution.status == "infeasible" and self._cost(beside) == self._cost(alone):
            return self._pair(self.task, answer, beside, "bounds")
        settled = alone.status == "infeasible"
        played = alone if settled and beside.choice is None else beside
        return self._pair(self.task, answer, played, "bounds" if settled else "open")

    def _in_one_program(self, answer: Answer, alone: Played, beside: Played) -> Pair:
        """Microphones give way to loudspeakers, or these to them, or both, as costs least."""
        rivals = []
        if beside.status == "optimal":
            rivals.append(self._pair(self.task, answer, beside, "open"))
        given = self._given(alone)
        if given is not None:
            rivals.append(given)
        best = min(rivals, key=self._both, default=None)
        most = None if best is None else self._both(best)[0] - 1
        program = Together(self.task, self.loudspeakers, self.keeping)
        found = program.cheapest(most, self._cost(alone)[0])
        if found.chosen is not None:
            cheaper = self._given(found.chosen)
            if cheaper is not None:
                best = min([cheaper, *rivals], key=self._both)
        if best is None:
            nothing = beside if beside.choice is not None else alone
            status: ProofStatus = "infeasible" if found.proven else "gap"
            pair = self._pair(self.task, answer, nothing, "open")
            return replace(pair, status=status, apart=found.proven)
        if not found.proven:
            least = self._cost(alone)[0] + round(100 * (answer.solution.price or 0.0))
            return replace(best, gap=1 - least / max(1, self._both(best)[0]))
        return self._fewest(best, program, alone)

    def _fewest(self, best: Pair, program: Together, alone: Played) -> Pair:
        """Of the least price the fewest of both, where that is proven in time.

        ``best`` is of least price. Of that price and number the microphones are the best beside
        these loudspeakers, whatever others would let them do.
        """
        price, number = self._both(best)
        least = len(self._new(alone)[:1]) + len(self.loudspeakers.asked.options.locked)
        found = program.fewest(price, number, least)
        fewer = None if found.chosen is None else self._given(found.chosen)
        if fewer is not None:
            best = min([fewer, best], key=self._both)
        fewest = found.proven and (found.chosen is None or self._both(best)[1] < number)
        return replace(best, how="program", status="optimal", fewest=fewest)

    def _given(self, played: Played) -> Pair | None:
        """The best microphones beside given loudspeakers, and the best of those beside them."""
        if played.choice is None:
            return None
        options = self.loudspeakers.asked.options
        devices = {
            f"{BESIDE}{i}": options.allowed[i].device.model_copy(update={"locked": True})
            for i in self._new(played)
        }
        try:
            task = self.again(devices)
        except InputError:
            return None
        answer = task.answer(self.time_limit)
        if answer.solution.status != "optimal":
            return None
        keeping = Keeping(task, self.loudspeakers)
        better = self.loudspeakers.best(keeping.barred(answer.solution.chosen))
        if better.status != "optimal" or self._cost(better) > self._cost(played):
            better = played
        return self._pair(task, answer, better, "open")

    def _new(self, played: Played) -> list[int]:
        allowed = self.loudspeakers.asked.options.allowed
        chosen = () if played.choice is None else played.choice.chosen
        return [i for i in chosen if allowed[i].id is None]

    @staticmethod
    def _cost(played: Played) -> tuple[int, int]:
        return played.cents, played.number

    @staticmethod
    def _both(pair: Pair) -> tuple[int, int]:
        """Price [cents] and number of both."""
        solution = pair.answer.solution
        return (
            round(100 * (solution.price or 0.0)) + pair.played.cents,
            solution.count + pair.played.number,
        )

    def _pair(self, task: Task, answer: Answer, played: Played, how: How) -> Pair:
        return Pair(
            task=task,
            answer=answer,
            played=played,
            options=self.loudspeakers.asked.options,
            loudspeakers=self.loudspeakers,
            how=how,
            status="gap" if how == "open" else "optimal",
            gap=0.0,
        )
