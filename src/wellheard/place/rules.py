"""House and product rules that refuse a place, whoever talks."""

from __future__ import annotations

import math
from functools import cache

import numpy as np

from wellheard.arrays import Array
from wellheard.catalog.products import Microphone, Processor
from wellheard.geometry.points import contains_points, distance_outside
from wellheard.place.places import Candidate, Standing
from wellheard.place.surroundings import Surroundings
from wellheard.predict.devices import loudspeaker_places, other_devices
from wellheard.predict.evidence import Point
from wellheard.predict.scene import Scene
from wellheard.room.document import Room
from wellheard.schedules.planes import End, Plane
from wellheard.schedules.runs import Runs
from wellheard.signal.mounted import wall_distance

NEAR_WALL = "microphone-near-wall"
TOO_LONG = "cable-too-long"


class Rules:
    """The rules of one document, asked candidate by candidate."""

    def __init__(self, scene: Scene) -> None:
        room = scene.room
        self.room = room
        self.outline = np.asarray(room.space.outline, dtype=np.float64)
        self.limit = room.targets.house_limit
        # A microphone that is not locked goes, and its loudspeaker with it.
        self.loudspeakers = list(
            loudspeaker_places(room, scene.catalogue, locked_only=True).values()
        )
        self.furniture = [
            np.asarray(f.outline, dtype=np.float64)
            for f in room.furniture.values()
            if f.kind == "table" or f.kind == "cupboard"
        ]
        self.picture_top = max(
            (
                f.centre[1] + f.size[1] / 2
                for f in room.furniture.values()
                if f.kind in ("display", "screen")
            ),
            default=0.0,
        )
        self.processors = [
            (d.product, d.id)
            for d in other_devices(room, scene.catalogue)
            if isinstance(d.product, Processor)
            and d.at is not None
            and (d.product.canceller or d.product.automatic_mixer)
        ]
        self.solids = _solids(room)
        self.outlets = [s.at for s in room.noise.sources.values() if s.kind == "air-outlet"]
        self.fans = [
            s.at for s in room.noise.sources.values() if s.kind in ("projector", "fan-coil")
        ]
        self.silent_outlets, self.silent_fans = _silent(room)
        # Every drop and product asks again for the same place on the plan.
        self._blocked = cache(self._plain_blocked)
        self._wall_gap = cache(self._plain_wall_gap)
        self._gap = cache(self._plain_gap)
        self._over_table = cache(self._plain_over_table)
        self._shortest = cache(self._plain_shortest)
        self.runs = Runs(room, scene.catalogue)
        self.surroundings = Surroundings(scene, self._wall_gap)

    def refuses(self, candidate: Candidate) -> str:
        """Code of the first rule that refuses the place; empty if none does."""
        return self.refuses_place(candidate) or self.refuses_run(candidate)

    def refuses_place(self, candidate: Candidate) -> str:
        """The same of all rules but that of the cable."""
        for code, broken in (
            ("microphone-in-keep-out", self.keep_out),
            (NEAR_WALL, self._wall),
            ("head-height-under-pendant", self.head_height),
            ("sight-line-crossed", self.sight_line),
            ("microphone-near-air-outlet", self._outlet),
            ("microphone-near-fan", self._fan),
            ("microphone-near-loudspeaker", self._loudspeaker),
        ):
            if broken(candidate):
                return code
        return self.surroundings.refuses(candidate)

    def refuses_run(self, candidate: Candidate) -> str:
        """The same of the rule of the cable alone, which may leave the space it starts in."""
        return TOO_LONG if self._cable(candidate) else ""

    def keep_out(self, c: Standing) -> bool:
        """Whether it is in what already hangs there, or too near to it."""
        if c.mounting != "ceiling":
            return False
        return self._blocked(c.at[0], c.at[1], max(c.product.size[:2]) / 2)

    def _plain_blocked(self, x: float, y: float, half: float) -> bool:
        plan = np.asarray([[x, y]])
        return any(
            float(distance_outside(np.asarray(o.outline, dtype=np.float64), plan)[0])
            < o.clearance + half - 1e-9
            for o in self.room.overhead.values()
        )

    def _wall(self, c: Candidate) -> bool:
        limit = self.limit(NEAR_WALL)
        if limit is None or c.mounting != "ceiling":
            return False
        if self._wall_gap(*c.at[:2]) < limit - 1e-9:
            return True
        return any(self._far(c, i) < limit - 1e-9 for i in range(len(self.solids)))

    def _plain_wall_gap(self, x: float, y: float) -> float:
        return wall_distance(self.outline, (x, y, 0.0))

    def _far(self, c: Candidate, index: int) -> float:
        """Distance from an upright solid, 0 inside [m]."""
        _, bottom, top = self.solids[index]
        over = max(bottom - c.at[2], c.at[2] - top, 0.0)
        return math.hypot(self._gap(c.at[0], c.at[1], index), over)

    def _plain_gap(self, x: float, y: float, index: int) -> float:
        return float(distance_outside(self.solids[index][0], np.asarray([[x, y]]))[0])

    def head_height(self, c: Standing) -> bool:
        """Whether somebody would walk into it."""
        if c.mounting != "ceiling" or not c.drop:
            return False
        over = self._over_table(c.at[0], c.at[1])
        limit = self.limit("head-height-over-table" if over else "head-height-under-pendant")
        return limit is not None and c.at[2] - c.product.size[2] / 2 < limit - 1e-9

    def _plain_over_table(self, x: float, y: float) -> bool:
        return any(bool(contains_points(t, np.asarray([[x, y]]))[0]) for t in self.furniture)

    def sight_line(self, c: Standing) -> bool:
        """Whether it hangs before a picture."""
        limit = self.limit("sight-line-crossed")
        if limit is None or c.mounting != "ceiling" or not c.drop or not self.picture_top:
            return False
        return c.at[2] - c.product.size[2] / 2 < self.picture_top + limit - 1e-9

    def _outlet(self, c: Candidate) -> bool:
        limit = self.limit("microphone-near-air-outlet")
        if limit is None:
            return False
        if _near(c, limit, self.outlets) or _near_prism(c, limit, self.silent_outlets):
            return True
        reach, angle = self.limit("microphone-in-air-jet"), self.limit("air-jet-angle-deg")
        if reach is None or angle is None:
            return False
        return any(_in_jet(outlet, c.at, reach, angle) for outlet in self.outlets)

    def _fan(self, c: Candidate) -> bool:
        limit = self.limit("microphone-near-fan")
        return limit is not None and (
            _near(c, limit, self.fans) or _near_prism(c, limit, self.silent_fans)
        )

    def _loudspeaker(self, c: Candidate) -> bool:
        limit = self.limit("microphone-near-loudspeaker")
        return limit is not None and _near(c, limit, self.loudspeakers)

    def _cable(self, c: Candidate) -> bool:
        ends = self._ends(c.product)
        if not ends:
            return False
        plane = self.runs.ends.mounted(c.mounting, c.at)
        return self._shortest(c.at, plane, ends) > c.product.link.max_length + 1e-9

    def _plain_shortest(self, at: Point, plane: Plane, ends: tuple[str, ...]) -> float:
        """Shortest run to one of several ends; 0 where none can be told. [m]"""
        start = End("", "", at, plane)
        runs = (self.runs.between(start, self.runs.ends.end(end)).length for end in ends)
        return min((length for length in runs if length is not None), default=0.0)

    def _ends(self, product: Microphone) -> tuple[str, ...]:
        """Where the cable of a product may end.

        At processors that take its link, a USB device at computers; where no processor does,
        wherever one could be housed.
        """
        if product.built_in is not None and product.built_in.usb:
            return self._equipment("computer", "codec")
        ends = tuple(name for one, name in self.processors if product.link.kind in one.port_kinds)
        return ends or self._equipment("rack", "table-box", "wall-plate")

    def _equipment(self, *kinds: str) -> tuple[str, ...]:
        return tuple(name for name, e in self.room.equipment.items() if e.kind in kinds)


Prism = tuple[Array, float, float]
"""Outline on the plan, bottom and top [m]."""


def _solids(room: Room) -> list[Prism]:
    """Columns, and what has a hard side below the ceiling."""
    height = room.space.height
    found = [
        (np.asarray(o.outline, dtype=np.float64), 0.0, height if o.height is None else o.height)
        for o in room.space.obstacles.values()
    ]
    found += [
        (np.asarray(o.outline, dtype=np.float64), o.bottom, height)
        for o in room.overhead.values()
        if o.kind in ("beam", "duct") and o.bottom is not None and o.bottom < height
    ]
    return found


def _silent(room: Room) -> tuple[list[Prism], list[Prism]]:
    """Air outlets and projectors overhead of which no noise is stated."""
    height = room.space.height
    sources = room.noise.sources.values()
    outlets: list[Prism] = []
    fans: list[Prism] = []
    for item in room.overhead.values():
        outline = np.asarray(item.outline, dtype=np.float64)
        prism = (outline, height if item.bottom is None else item.bottom, height)
        if item.kind == "air-outlet" and not any(
            s.kind == "air-outlet" and bool(contains_points(outline, np.asarray([s.at[:2]]))[0])
            for s in sources
        ):
            outlets.append(prism)
        if item.kind == "projector" and not any(s.kind == "projector" for s in sources):
            fans.append(prism)
    return outlets, fans


def _near(c: Candidate, limit: float, places: list[Point]) -> bool:
    return any(math.dist(p, c.at) < limit - 1e-9 for p in places)


def _near_prism(c: Candidate, limit: float, prisms: list[Prism]) -> bool:
    plan = np.asarray([c.at[:2]])
    return any(
        math.hypot(
            float(distance_outside(outline, plan)[0]), max(bottom - c.at[2], c.at[2] - top, 0.0)
        )
        < limit - 1e-9
        for outline, bottom, top in prisms
    )


def _in_jet(outlet: Point, at: Point, reach: float, angle_deg: float) -> bool:
    """Below an outlet, within ``reach`` and the cone of its jet."""
    below = outlet[2] - at[2]
    aside = math.hypot(at[0] - outlet[0], at[1] - outlet[1])
    if math.hypot(below, aside) > reach:
        return False
    return below > 0 and aside <= below * math.tan(math.radians(angle_deg))
