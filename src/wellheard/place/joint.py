"""Microphones and loudspeakers together: what each costs alone, and what both cost.

::

    least price of microphones alone  +  least price of loudspeakers alone  ≤  least of both
                  │                                   │
                  └──── do they keep apart? ──────────┘  yes: that is the least of both
                                no: one program over both
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from wellheard.arrays import Array, Mask
from wellheard.place.loudspeakers import Loudspeakers, Played
from wellheard.place.objective import UNREACHED, Objective
from wellheard.place.places import Candidate as Placed
from wellheard.place.rows import Rows
from wellheard.place.sounding import SoundingOptions, boxes_meet
from wellheard.place.surroundings import OVERLAPS
from wellheard.place.task import Answer, Task
from wellheard.predict.housings import microphone_box

APART = "microphone-near-loudspeaker"
NEARER = "loudspeaker-nearer-than-talkers"


@dataclass(frozen=True)
class Pair:
    """Microphones and loudspeakers that stand together, and what is proven of them.

    Attributes
    ----------
    how
        ``bounds``: neither can be had for less alone. ``program``: one program over both.
        ``open``: not settled in time.
    """

    answer: Answer
    played: Played
    options: SoundingOptions
    loudspeakers: Loudspeakers
    how: Literal["bounds", "program", "open"]
    status: Literal["optimal", "infeasible", "gap"]
    gap: float


class Keeping:
    """Which microphones and which loudspeakers may not stand together."""

    def __init__(self, task: Task, loudspeakers: Loudspeakers) -> None:
        self.task = task
        self.asked = loudspeakers.asked
        room = task.spaces.whole.room
        self.limit = room.targets.house_limit(APART)
        rule = room.targets.house_rules.get(NEARER)
        self.nearer_counts = rule is None or not rule.relaxed
        microphones, sounds = task.options.allowed, self.asked.options.allowed
        self.together: Mask = np.any(
            task.options.holding[:, :, None] & self.asked.options.holding[:, None, :], axis=0
        )
        """Whether any arrangement puts them into one space, shape (microphones, loudspeakers)."""
        self.distance: Array = self._distances(microphones)
        found = np.zeros(self.distance.shape, dtype=np.bool_)
        if self.limit is not None:
            found |= self.distance < self.limit - 1e-9
        overlap = room.targets.house_limit(OVERLAPS)
        if overlap is not None:
            boxes = [
                microphone_box("", c.product, c.at, aim_deg=c.aim_deg, mounting=c.mounting)
                for c in microphones
            ]
            found |= boxes_meet(boxes, [one.box for one in sounds], overlap)
        self.clash: Mask = found & self.together
        kept = np.ix_(list(task.options.locked), list(self.asked.options.locked))
        self.clash[kept] = False

    def _distances(self, microphones: Sequence[Placed]) -> Array:
        """From each microphone to the nearest of a loudspeaker's sources, or to its own place."""
        sounds = self.asked.options.allowed
        at = np.array([c.at for c in microphones]).reshape(-1, 3)
        places = np.array([one.at for one in sounds]).reshape(-1, 3)
        found = np.linalg.norm(at[:, None] - places[None], axis=-1)
        for audience in self.asked.audiences:
            for source, owner in zip(audience.sources, audience.owner, strict=True):
                if owner >= 0:
                    away = np.linalg.norm(at - np.asarray(source.at), axis=1)
                    found[:, owner] = np.minimum(found[:, owner], away)
        return found

    def barred(self, chosen: Sequence[int]) -> Mask:
        """Loudspeakers that would change what chosen microphones do, or stand too near to them."""
        found: Mask = np.any(self.clash[list(chosen)], axis=0)
        if self.nearer_counts:
            for microphone, farthest in farthest_served(self.task.rows, chosen).items():
                near = self.distance[microphone] < farthest - 1e-9
                found |= near & self.together[microphone]
        return found


def farthest_served(rows: Rows, chosen: Sequence[int]) -> dict[int, float]:
    """Distance of the farthest talker that each chosen microphone serves best, in any space [m]."""
    found: dict[int, float] = {}
    for block in rows.blocks:
        own = [i for i, c in enumerate(block.columns) if int(c) in set(chosen)]
        if not own:
            continue
        alone = Objective(block.space.scene, [block.objective.candidates[i] for i in own])
        margins = alone.margins(len(own))
        best = np.argmax(margins, axis=1)
        for row, column in enumerate(best.tolist()):
            if margins[row, column] > UNREACHED / 2:
                name = int(block.columns[own[column]])
                away = float(alone.distance[row, column])
                found[name] = max(found.get(name, 0.0), away)
    return found


class Joint:
    """The least of both, by bounds where these meet, else by one program."""

    def __init__(self, task: Task, loudspeakers: Loudspeakers, time_limit: float) -> None:
        self.task = task
        self.loudspeakers = loudspeakers
        self.time_limit = time_limit
        self.keeping = Keeping(task, loudspeakers)

    def best(self) -> Pair:
        """Microphones and loudspeakers."""
        answer = self.task.answer(self.time_limit)
        beside = self.loudspeakers.best(self.keeping.barred(answer.solution.chosen))
        if beside.status == "optimal" or beside.status == "gap":
            alone = self.loudspeakers.best()
            if (beside.cents, beside.number) == (alone.cents, alone.number):
                settled = alone.status == "optimal" and beside.status == "optimal"
                return self._pair(answer, beside, "bounds" if settled else "open")
        return self._pair(answer, beside, "open")

    def _pair(
        self, answer: Answer, played: Played, how: Literal["bounds", "program", "open"]
    ) -> Pair:
        status: Literal["optimal", "infeasible", "gap"] = "gap" if how == "open" else "optimal"
        return Pair(
            answer,
            played,
            self.loudspeakers.asked.options,
            self.loudspeakers,
            how,
            status,
            0.0,
        )
