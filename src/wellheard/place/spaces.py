"""What one set of devices must serve: a room, or every space of every arrangement of it.

An ordinary room is the case of one space, in which every candidate stands.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np

from wellheard.arrays import Array, Mask
from wellheard.geometry.points import contains_points, distance_to_edges
from wellheard.place.places import Candidate, Standing, ceiling_points
from wellheard.place.rules import NEAR_WALL, Rules
from wellheard.place.setting_out import Tape
from wellheard.predict.parts import PartScene
from wellheard.predict.scene import Scene
from wellheard.predict.talkers import display_place
from wellheard.room.divide import NEAR, closed_in

Plan = tuple[float, float]
Spot = tuple[int, int]
"""A place on the plan in metres, and in millimetres."""


@dataclass(frozen=True)
class Space:
    """One space that must be served as it stands; ``name`` is empty for an ordinary room."""

    scene: Scene
    name: str = ""
    arrangement: str = ""

    def holds(self, candidate: Standing) -> bool:
        """Whether a place is in here; a device of the document is where its document says."""
        if candidate.id is not None:
            return candidate.id in self.scene.room.devices
        return self._inside(candidate.at[:2])

    def carries(self, candidate: Standing) -> bool:
        """Whether what a new device hangs or stands on is here too: tile, table, picture."""
        spot = _spot(candidate.at)
        if candidate.mounting == "ceiling":
            return candidate.fit == "hard" or self._tiles is None or spot in self._tiles
        plan = np.asarray([candidate.at[:2]])
        room = self.scene.room
        for name, item in room.furniture.items():
            if candidate.mounting == "table" and item.kind == "table":
                if contains_points(np.asarray(item.outline, dtype=np.float64), plan)[0]:
                    return True
            elif candidate.mounting == "lectern" and item.kind == "lectern":
                if _spot(item.at) == spot:
                    return True
            elif candidate.mounting == "front" and item.kind in ("display", "screen"):
                away = np.subtract(display_place(room, name)[:2], candidate.at[:2])
                if np.hypot(*away) <= candidate.product.size[1] / 2 + NEAR:
                    return True
        return candidate.mounting == "wall"

    @cached_property
    def rules(self) -> Rules:
        """The rules of this space."""
        return Rules(self.scene)

    @cached_property
    def _inside(self) -> Callable[[Plan], bool]:
        """Whether a place on the plan is in here; every drop and product asks again."""
        outline = np.asarray(self.scene.room.space.outline, dtype=np.float64)
        return cache(lambda plan: bool(contains_points(outline, np.asarray([plan]))[0]))

    @cached_property
    def _tiles(self) -> frozenset[Spot] | None:
        """Centres of whole tiles; None where a ceiling has none."""
        if self.scene.room.space.ceiling.kind != "tiles":
            return None
        return frozenset(_spot(at) for at in ceiling_points(self.scene.room, None))


@dataclass(frozen=True)
class Spaces:
    """The undivided room, and the spaces that must be served."""

    whole: Scene
    each: tuple[Space, ...]

    @classmethod
    def of(cls, scene: Scene, parts: Sequence[PartScene] = ()) -> Spaces:
        """The room itself where ``parts`` is empty, or holds nothing but the room."""
        if all(not one.part.name for one in parts):
            return cls(scene, (Space(scene),))
        return cls(scene, tuple(Space(p.scene, p.part.name, p.part.arrangement) for p in parts))

    @property
    def divided(self) -> bool:
        """Whether there are arrangements at all."""
        return any(space.name for space in self.each)

    @property
    def grounds(self) -> tuple[Scene, ...]:
        """Rooms whose places are tried: the undivided one, and each space that is a part of it."""
        return (self.whole, *(s.scene for s in self.each if s.scene is not self.whole))

    @property
    def arrangements(self) -> dict[str, tuple[Space, ...]]:
        """Spaces with people by arrangement, in the document's order."""
        found: dict[str, tuple[Space, ...]] = {}
        for space in self.each:
            found[space.arrangement] = (*found.get(space.arrangement, ()), space)
        return found

    def holding(self, candidates: Sequence[Standing]) -> Mask:
        """Which candidate stands in which space, shape (spaces, candidates)."""
        if not self.divided:
            return np.ones((1, len(candidates)), dtype=np.bool_)
        return np.array(
            [[space.holds(c) for c in candidates] for space in self.each], dtype=np.bool_
        ).reshape(len(self.each), len(candidates))

    def offer(self, candidate: Standing) -> bool:
        """Whether a place is one in every arrangement: on a whole tile, a table, at a picture."""
        return not self.divided or all(
            space.carries(candidate) for space in self.each if space.holds(candidate)
        )

    def refuses(self, candidate: Candidate) -> str:
        """Code of the first rule that refuses a place in any arrangement; empty if none does.

        A closed partition is a wall, and nothing hangs or stands through it. Cables run in the
        undivided room: above a partition, or below it.
        """
        if not self.divided:
            return self.each[0].rules.refuses(candidate)
        if self.in_partition(candidate):
            return NEAR_WALL
        for space in self.each:
            broken = space.rules.refuses_place(candidate) if space.holds(candidate) else ""
            if broken:
                return broken
        return self._rules.refuses_run(candidate)

    def in_partition(self, candidate: Standing) -> bool:
        """Whether a closed partition passes through a device, or too near to one overhead.

        Where nobody sits beside it there is no space whose walls would say so.
        """
        limit = max(candidate.product.size[:2]) / 2
        if candidate.mounting == "ceiling":
            limit = max(limit, self.whole.room.targets.house_limit(NEAR_WALL) or 0.0)
        return self._partition_gap(candidate.at[:2]) < limit - 1e-9

    @cached_property
    def _partition_gap(self) -> Callable[[Plan], float]:
        """Distance from the nearest partition that any arrangement closes [m]."""
        room = self.whole.room
        closed = dict.fromkeys(k for a in room.arrangements for k in closed_in(room, a))
        lines = [np.asarray([room.partitions[k].from_, room.partitions[k].to]) for k in closed]

        def gap(plan: Plan) -> float:
            at = np.asarray([plan])
            return min((float(distance_to_edges(at, line).min()) for line in lines), default=np.inf)

        return cache(gap)

    @cached_property
    def tape(self) -> Tape:
        """Places that can be set out: from the walls of the undivided room."""
        return Tape(self.whole.room)

    @cached_property
    def _rules(self) -> Rules:
        return Rules(self.whole)


def _spot(at: Sequence[float] | Array) -> Spot:
    return (round(1e3 * float(at[0])), round(1e3 * float(at[1])))
