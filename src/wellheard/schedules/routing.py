"""Ways of cables through one room: in its void, under its floor, along its walls."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Any

import numpy as np

from wellheard.arrays import Array
from wellheard.geometry.points import nearest_point_on_polygon
from wellheard.geometry.rectilinear import PlanPoint, Way, Ways, main_direction, way_round
from wellheard.room.document import Room
from wellheard.room.overhead import Overhead
from wellheard.room.space import Obstacle
from wellheard.schedules.planes import BESIDE_WALL, End, Plane, Point
from wellheard.units import format_length

VOID_HEIGHT = 0.15
"""How far above the ceiling cable lies at most, and where the depth of the void is unknown [m]."""
NEAR_ENTRY = 1.0
"""An end at a wall this near to an entry needs no way to it [m]."""
SOLID = ("beam", "duct")
"""What stands in the void from the ceiling up."""
KEPT_CLEAR = (*SOLID, "luminaire", "sprinkler")
"""What no cable crosses, nor lies nearer to than its clearance. All else hangs below."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A straight piece of a way, and what it lies in."""

    start: Point
    end: Point
    plane: Plane

    @property
    def length(self) -> float:
        """[m]"""
        return math.dist(self.start, self.end)

    @property
    def upright(self) -> bool:
        """Whether it goes straight up or down."""
        return self.start[:2] == self.end[:2]


@dataclass(frozen=True)
class Track:
    """A way of a cable, piece by piece, how it goes, and what was taken for granted."""

    pieces: tuple[Piece, ...]
    how: str
    assumed: tuple[str, ...] = ()

    @property
    def length(self) -> float:
        """[m]"""
        return sum(piece.length for piece in self.pieces)

    def length_in(self, plane: Plane) -> float:
        """What of it lies in one plane. [m]"""
        return sum(piece.length for piece in self.pieces if piece.plane == plane)

    @cached_property
    def corners(self) -> tuple[Point, ...]:
        """Its ends, and every bend between them."""
        if not self.pieces:
            return ()
        turns = [a.end for a, b in pairwise(self.pieces) if not _goes_on(a, b)]
        return (self.pieces[0].start, *turns, self.pieces[-1].end)

    @property
    def bends(self) -> int:
        """Corners between its ends."""
        return max(len(self.corners) - 2, 0)


def _goes_on(piece: Piece, after: Piece) -> bool:
    """Whether the next piece goes on in the same direction."""
    ahead = sum(
        (b - a) * (d - c)
        for a, b, c, d in zip(piece.start, piece.end, after.start, after.end, strict=True)
    )
    return ahead > (1 - 1e-9) * piece.length * after.length


@dataclass(frozen=True)
class _Rise:
    """How an end comes into the void: pieces from the end upwards, and where they arrive."""

    pieces: tuple[Piece, ...]
    top: PlanPoint
    says: str


class Routing:
    """Void, floor and walls of one room, with what is in the way there."""

    def __init__(self, room: Room) -> None:
        self.room = room
        self.outline = np.asarray(room.space.outline, dtype=np.float64)
        self.direction = main_direction(self.outline)
        self.entries = {
            name: item.at for name, item in room.equipment.items() if item.kind == "entry"
        }
        ceiling = room.space.ceiling
        height, depth = room.space.height, ceiling.void_depth
        self.has_void = ceiling.kind == "tiles" or (ceiling.kind == "hard" and bool(depth))
        self.over: Plane = "wall" if ceiling.kind == "hard" and not self.has_void else "void"
        self.level = height
        self.taken: tuple[str, ...] = ()
        self.through = "through the ceiling void"
        if not self.has_void:
            open_ = ceiling.kind == "open"
            self.through = (
                "along the open ceiling, hung at its height"
                if open_
                else "on the face of the ceiling"
            )
            if not open_:
                self.taken = ("no void is stated above the hard ceiling: a surface run on it",)
        elif depth is None:
            self.level = height + VOID_HEIGHT
            above = format_length(VOID_HEIGHT, unit=room.units)
            self.taken = (f"cable {above} above the ceiling: the depth of its void is unknown",)
        else:
            self.level = height + min(depth / 2, VOID_HEIGHT)
        self._void_steps: list[Ways] = []
        self._floor: Ways | None = None
        self._rises: dict[End, tuple[_Rise, ...]] = {}

    def track(self, one: End, other: End) -> Track | None:
        """Shortest way from one end to the other, then that with the fewest bends; or None."""
        planes = {one.plane, other.plane}
        # A table and what is beside it on the floor are joined below, whatever is above.
        found = [] if planes <= {"floor", "wall"} and "floor" in planes else self._above(one, other)
        if "void" not in planes:
            found += self._below(one, other)
        return min(found, key=lambda each: (round(each.length, 6), each.bends), default=None)

    def _above(self, one: End, other: End) -> list[Track]:
        """Through the void, by every way up and down that there is."""
        found = []
        for up in self._ways_up(one):
            for down in self._ways_up(other):
                way, assumed = self._in_void(up.top, down.top)
                if way is None:
                    continue
                pieces = (
                    *up.pieces,
                    *_level(way.corners, self.level, self.over),
                    *(Piece(p.end, p.start, p.plane) for p in reversed(down.pieces)),
                )
                says = ", ".join(filter(None, (self.through, up.says, down.says)))
                found.append(Track(pieces, says, (*self.taken, *assumed)))
        return found

    def _below(self, one: End, other: End) -> list[Track]:
        """Under the floor; between two walls along their foot."""
        start, end = one.place, other.place
        plane: Plane = "wall" if one.plane == other.plane == "wall" else "floor"
        way = self._along_floor(start[:2], end[:2], plane)
        if way is None:
            return []
        pieces = (
            *_upright(start, 0.0, one.plane),
            *_level(way.corners, 0.0, plane),
            *(Piece(p.end, p.start, p.plane) for p in _upright(end, 0.0, other.plane)),
        )
        says = "along the foot of the walls" if plane == "wall" else "under the floor"
        return [Track(pieces, says)]

    def _ways_up(self, end: End) -> tuple[_Rise, ...]:
        if end not in self._rises:
            self._rises[end] = tuple(self._rising(end))
        return self._rises[end]

    def _rising(self, end: End) -> Iterator[_Rise]:
        at = end.place
        if end.plane == "void":
            yield _Rise(_upright(at, self.level, self.over), at[:2], "")
            return
        near = any(
            math.dist(at[:2], entry[:2]) <= NEAR_ENTRY + 1e-9 for entry in self.entries.values()
        )
        if end.plane == "wall" and (near or not self.entries):
            yield _Rise(_upright(at, self.level, "wall"), at[:2], f"down the wall at {end.device}")
            return
        for name, foot in self._feet(at):
            way = self._along_floor(at[:2], foot, end.plane)
            if way is None:
                continue
            pieces = (
                *_upright(at, 0.0, end.plane),
                *_level(way.corners, 0.0, end.plane),
                *_upright((*foot, 0.0), self.level, "wall"),
            )
            last = "along the foot of the walls" if end.plane == "wall" else "under the floor"
            yield _Rise(pieces, foot, f"down the wall {name} and {last} to {end.device}")

    def _feet(self, at: Point) -> Iterator[tuple[str, PlanPoint]]:
        """Where cable comes down from the void for an end that is not at a wall, or at no entry."""
        if self.entries:
            for name, entry in self.entries.items():
                yield f"at {name}", entry[:2]
            return
        x, y = nearest_point_on_polygon(np.asarray(at[:2]), self.outline).tolist()
        yield "that is nearest", (x, y)

    def _along_floor(self, start: PlanPoint, end: PlanPoint, plane: Plane) -> Way | None:
        """Along the foot of the walls where both ends are at one, else under the floor."""
        if plane == "wall":
            return way_round(self.outline, start, end, reach=BESIDE_WALL)
        if self._floor is None:
            solids = [(_outline(one), 0.0) for one in self.room.space.obstacles.values()]
            self._floor = Ways(self.outline, solids, direction=self.direction)
        return self._floor.way(start, end)

    def _in_void(self, start: PlanPoint, end: PlanPoint) -> tuple[Way | None, tuple[str, ...]]:
        """Way through the void, and what it takes for granted where nothing keeps clear.

        First clear of everything; else nearer than the clearances; else through what stands in
        the void from wall to wall.
        """
        for step in range(3):
            ways = self._void(step)
            way = ways.way(start, end)
            if way is not None:
                if step == 0 and ways.is_free(start) and ways.is_free(end):
                    return way, ()
                return way, self._not_clear(way)
        return None, ()

    def _void(self, step: int) -> Ways:
        while len(self._void_steps) <= step:
            number = len(self._void_steps)
            solids = [
                (_outline(one), 0.0)
                for one in self.room.space.obstacles.values()
                if one.height is None or one.height >= self.room.space.height
            ]
            if number < 2:
                solids += [
                    (_outline(one), one.clearance if number == 0 else 0.0)
                    for one in self.room.overhead.values()
                    if one.kind in KEPT_CLEAR
                ]
            self._void_steps.append(Ways(self.outline, solids, direction=self.direction))
        return self._void_steps[step]

    @cached_property
    def _kept_clear(self) -> tuple[list[str], Any, Any, Array]:
        """What is in the way in the void: names, shapes, shapes without their edge, clearances."""
        import shapely

        items = {n: one for n, one in self.room.overhead.items() if one.kind in KEPT_CLEAR}
        bodies = np.array([shapely.Polygon(one.outline) for one in items.values()], dtype=object)
        gaps = np.array([one.clearance for one in items.values()])
        return list(items), bodies, shapely.buffer(bodies, -1e-4), gaps - 1e-4

    def _not_clear(self, way: Way) -> tuple[str, ...]:
        import shapely  # only where something is in the way after all

        names, bodies, cores, gaps = self._kept_clear
        line = shapely.LineString(way.corners)
        through = shapely.intersects(line, cores)
        beside = ~through & (shapely.distance(line, bodies) < gaps)
        crossed = [name for name, hit in zip(names, through, strict=True) if hit]
        near = [name for name, hit in zip(names, beside, strict=True) if hit]
        said = []
        if crossed:
            said.append(
                f"no way leads round {' and '.join(crossed)}: cable passes there, as whoever "
                "answers for it allows"
            )
        if near:
            said.append(f"no way keeps clear of {' and '.join(near)}: cable comes nearer")
        return tuple(said)


def _outline(thing: Obstacle | Overhead) -> Array:
    return np.asarray(thing.outline, dtype=np.float64)


def _upright(at: Point, level: float, plane: Plane) -> tuple[Piece, ...]:
    there = (at[0], at[1], level)
    return () if math.isclose(at[2], level, abs_tol=1e-9) else (Piece(at, there, plane),)


def _level(corners: tuple[PlanPoint, ...], level: float, plane: Plane) -> tuple[Piece, ...]:
    return tuple(Piece((*a, level), (*b, level), plane) for a, b in pairwise(corners) if a != b)
