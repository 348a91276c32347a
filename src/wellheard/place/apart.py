"""Which microphones and loudspeakers cannot stand together, and the least of both in one program.

A microphone keeps its distance from every loudspeaker, and is nearer to whom it serves than to
any. Whom it serves depends on what else is chosen, so that rows of the second kind are laid in only
once a choice breaks them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from wellheard.arrays import Array, Mask
from wellheard.milp import SLACK, Indices, Program
from wellheard.place.cover import clique_cover
from wellheard.place.loudspeakers import Loudspeakers, Played
from wellheard.place.objective import UNREACHED, Objective
from wellheard.place.places import Candidate
from wellheard.place.playing import Laid, Limits
from wellheard.place.rows import Rows
from wellheard.place.sounding import boxes_meet
from wellheard.place.surroundings import OVERLAPS
from wellheard.place.task import Task
from wellheard.predict.housings import microphone_box

APART = "microphone-near-loudspeaker"
NEARER = "loudspeaker-nearer-than-talkers"

SERVED = -1e-9
"""Least margin of a row that counts as served."""


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

    def _distances(self, microphones: Sequence[Candidate]) -> Array:
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


@dataclass(frozen=True)
class Cheaper:
    """Loudspeakers of the cheapest or fewest of both, if any; and whether that is proven."""

    chosen: Played | None
    proven: bool


@dataclass
class Together:
    """One program over microphones and loudspeakers, a number of microphones at a time."""

    task: Task
    loudspeakers: Loudspeakers
    keeping: Keeping
    cuts: dict[int, list[tuple[Indices, Indices]]] = field(default_factory=dict)
    """By number of microphones: of these microphones one, or of these loudspeakers not all."""

    def cheapest(self, most: int | None, least_of_loudspeakers: int) -> Cheaper:
        """The cheapest choice of both that costs no more than ``most``. [cents]"""
        cents = np.round(100 * np.asarray(self.task.costs))
        locked = list(self.task.options.locked)
        free = np.sort(np.delete(cents, locked))
        best: Played | None = None
        count = max(1, len(locked))
        while count <= min(len(cents), self.task.rows.total + len(locked)):
            least = float(cents[locked].sum() + free[: count - len(locked)].sum())
            if most is not None and least + least_of_loudspeakers > most:
                break
            found, proven, price = self._with_count(count, cents, most, "price")
            if not proven:
                return Cheaper(best, False)
            if found is not None:
                best, most = found, price - 1
            count += 1
        return Cheaper(best, True)

    def fewest(self, price: int, number: int, least_of_loudspeakers: int) -> Cheaper:
        """The fewest of both that cost no more than ``price``, if fewer than ``number``. [cents]"""
        cents = np.round(100 * np.asarray(self.task.costs))
        best: Played | None = None
        count = max(1, len(self.task.options.locked))
        while count + least_of_loudspeakers < number:
            found, proven, _ = self._with_count(count, cents, price, "number")
            if not proven:
                return Cheaper(best, False)
            if found is not None and count + found.number < number:
                best, number = found, count + found.number
            count += 1
        return Cheaper(best, True)

    def _with_count(
        self, count: int, cents: Array, most: int | None, aim: Literal["price", "number"]
    ) -> tuple[Played | None, bool, int]:
        asked = self.loudspeakers.asked
        serves = self.task.rows.margins(count) >= SERVED
        if not serves.any(axis=1).all():
            return None, True, 0
        while True:
            program = Program()
            y = self._lay_microphones(program, count, serves, cents if aim == "price" else 0.0)
            laid = asked.lay(program, aim, Limits())
            self._lay_apart(program, y, laid)
            for microphones, sounds in self.cuts.get(count, []):
                row = np.concatenate([y[microphones], laid.places[sounds]])
                sign = np.concatenate([np.ones(len(microphones)), -np.ones(len(sounds))])
                program.row(row, sign, lower=1.0 - len(sounds))
            if most is not None:
                paid = float(
                    sum(
                        len(s.there) * round(100 * s.price)
                        for s in asked.supplies
                        if math.isfinite(s.price)
                    )
                )
                row = np.concatenate([y, laid.places, laid.amplifiers])
                program.row(row, np.concatenate([cents, laid.cents]), upper=most + paid + SLACK)
            outcome = program.solve(time_limit=asked.clock.left())
            if outcome.status == "limit":
                return None, False, 0
            if outcome.values is None:
                return None, True, 0
            chosen = np.flatnonzero(np.round(outcome.values[y])).tolist()
            choice = asked.read(outcome, laid)
            if not asked.within(choice.chosen, asked.wanted):
                asked.learn(choice.chosen, asked.wanted)
                continue
            if self._cut(count, chosen, choice.chosen, serves):
                continue
            played = self.loudspeakers.taken(choice)
            if played is None:
                continue
            return played, True, round(float(cents[chosen].sum())) + played.cents

    def _lay_microphones(
        self, program: Program, count: int, serves: Mask, cost: Array | float
    ) -> Indices:
        lower = np.zeros(serves.shape[1])
        lower[list(self.task.options.locked)] = 1.0
        y = program.columns(len(lower), cost=cost, lower=lower, whole=True)
        program.row(y, 1.0, lower=float(count), upper=float(count))
        for row in np.unique(serves, axis=0):
            program.row(y[row], 1.0, lower=1.0)
        for clique in self._cliques:
            program.row(y[clique], 1.0, upper=1.0)
        return y

    @property
    def _cliques(self) -> list[Indices]:
        size = len(self.task.options.allowed)
        clash = np.zeros((size, size), dtype=np.bool_)
        for a, b in self.task.options.conflicts():
            clash[a, b] = clash[b, a] = True
        return clique_cover(clash, np.ones(size, dtype=np.bool_))

    def _lay_apart(self, program: Program, y: Indices, laid: Laid) -> None:
        """Of a microphone and a loudspeaker that are too near to each other at most one.

        Those at one place on the plan, of which one at most is taken, share a row.
        """
        clash = self.keeping.clash
        ones = _by_place([c.at for c in self.task.options.allowed])
        others = _by_place([c.at for c in self.loudspeakers.asked.options.allowed])
        for mine in ones:
            rows = clash[mine]
            for theirs in others:
                block = rows[:, theirs]
                if not block.any():
                    continue
                if block.all() and self._exclude(theirs):
                    row = np.concatenate([y[mine], laid.places[theirs]])
                    program.row(row, 1.0, upper=1.0)
                    continue
                for sound in theirs[block.any(axis=0)].tolist():
                    near = mine[clash[mine, sound]]
                    row = np.append(y[near], laid.places[sound])
                    program.row(row, 1.0, upper=1.0)

    def _exclude(self, sounds: Indices) -> bool:
        among = self.loudspeakers.asked.conflicts[np.ix_(sounds, sounds)]
        return bool(np.all(among | np.eye(len(sounds), dtype=np.bool_)))

    def _cut(self, count: int, chosen: list[int], sounds: Sequence[int], serves: Mask) -> bool:
        """Lay in what a choice breaks: rows whose microphones have a loudspeaker nearer by."""
        if not self.keeping.nearer_counts:
            return False
        away = distances(self.task.rows)
        broken = False
        for row in range(len(serves)):
            mine = [m for m in chosen if serves[row, m]]
            blocking = []
            for m in mine:
                near = [
                    s
                    for s in sounds
                    if self.keeping.together[m, s]
                    and self.keeping.distance[m, s] < away[row, m] - 1e-9
                ]
                if not near:
                    break
                blocking.append(near[0])
            else:
                held = np.array(sorted(set(blocking)), dtype=np.int64)
                blocked = np.any(
                    (self.keeping.distance[:, held] < away[row][:, None] - 1e-9)
                    & self.keeping.together[:, held],
                    axis=1,
                )
                able = np.flatnonzero(serves[row] & ~blocked)
                self.cuts.setdefault(count, []).append((able, held))
                broken = True
        return broken


def distances(rows: Rows) -> Array:
    """From every row to every candidate in its space, infinite elsewhere [m]."""
    found = np.full((rows.total, rows.count), np.inf)
    for block in rows.blocks:
        place = np.ix_(np.arange(block.rows.start, block.rows.stop), block.columns)
        found[place] = block.objective.distance
    return found


def _by_place(places: Sequence[tuple[float, float, float]]) -> list[Indices]:
    """Candidates by their place on the plan, to the millimetre."""
    found: dict[tuple[int, int], list[int]] = {}
    for i, at in enumerate(places):
        found.setdefault((round(1e3 * at[0]), round(1e3 * at[1])), []).append(i)
    return [np.array(members, dtype=np.int64) for members in found.values()]
