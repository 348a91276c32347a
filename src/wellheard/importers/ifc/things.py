"""Furniture, terminals, columns and appliances of a building model, each in its room."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np

from wellheard.cad import DEVICE_PROPERTIES, THING_PROPERTIES, Role
from wellheard.importers.found import FoundDevice, FoundSeat, FoundThing, Point, Ring
from wellheard.importers.ifc.asking import (
    FAULTS,
    Entity,
    Unusable,
    is_any,
    related,
    told,
    words_of,
)
from wellheard.importers.ifc.own import bottom_said, facing_said, own_device, own_thing, word
from wellheard.importers.ifc.placing import Matrix
from wellheard.importers.ifc.roles import Roles, by_size, size_tells
from wellheard.importers.ifc.shapes import Shapes, outline_of
from wellheard.importers.ifc.spaces import Space
from wellheard.importers.ifc.walls import material_name

MOST = 12_000
"""Products of one model that are looked at."""
REACH = 0.3
"""What begins this far below a floor, or this far above a ceiling, is still of the room. [m]"""
ABOVE = 1.5
"""What begins this far above a ceiling may be in its void. [m]"""
VOID = 0.05
"""What hangs less than this below the ceiling is in it. [m]"""
BACK_FROM, BACK_OFF = 0.72, 0.04
"""The back of a chair is what is above this share of its height, and this far off its middle."""
LOWEST_BACK = 0.55
"""What is lower is a stool. [m]"""
OVERHEAD: tuple[Role, ...] = ("luminaire", "sprinkler", "keep-out", "air-outlet", "air-return")
TOPS: Mapping[Role, tuple[float, float]] = MappingProxyType(
    {"seat": (0.35, 1.7), "table": (0.3, 1.4), "soft-seating": (0.3, 3.0)}
)
"""Heights that the top of furniture has above the floor, whatever it is called. [m]"""
FURNITURE = "IfcFurnishingElement"
CANDIDATES = (
    FURNITURE,
    "IfcDistributionElement",
    "IfcColumn",
    "IfcBeam",
    "IfcBuildingElementProxy",
    "IfcDiscreteAccessory",
)


@dataclass
class Contents:
    """What stands in one room, hangs in it and is mounted in it."""

    things: list[FoundThing] = field(default_factory=list)
    seats: list[FoundSeat] = field(default_factory=list)
    devices: list[FoundDevice] = field(default_factory=list)


@dataclass
class Sorter:
    """Puts the products of one model into its rooms.

    ``counts`` are the lines of the report: taken, what, where, why. ``roles_of`` tells for each
    class what it was taken for.
    """

    spaces: Sequence[Space]
    shapes: Shapes
    roles: Roles
    counts: Counter[tuple[bool, str, str, str]] = field(default_factory=Counter)
    roles_of: dict[str, Role] = field(default_factory=dict)

    def __post_init__(self) -> None:
        import shapely

        self.contents = [Contents() for _ in self.spaces]
        self._plans = [shapely.Polygon(s.outline, s.holes) for s in self.spaces]
        self._tree = shapely.STRtree(self._plans)

    def sort(self, products: Iterable[Entity]) -> None:
        """Put every product that is of use into its room, and count the others."""
        for number, product in enumerate(products):
            if number >= MOST:
                self.counts[False, "product", "", f"more than {MOST} in one model"] += 1
                continue
            name = product.is_a()
            try:
                self._put(product)
            except Unusable as error:
                self.counts[False, "product", name, str(error)] += 1
            except FAULTS:
                self.counts[False, "product", name, "it cannot be read"] += 1

    def _put(self, product: Entity) -> None:
        name = product.is_a()
        sets = told(product)
        if DEVICE_PROPERTIES in sets:
            self._put_own_device(product, sets[DEVICE_PROPERTIES])
            return
        own = sets.get(THING_PROPERTIES)
        found = own_thing(own) if own else self.roles.of(product)
        if found is None and not product.is_a(FURNITURE):
            if is_any(product, "IfcFlowTerminal", "IfcBuildingElementProxy"):
                self.counts[False, "product", name, "not recognised"] += 1
            return
        points = self.shapes.points(product)
        low, high = float(points[:, 2].min()), float(points[:, 2].max())
        ring = outline_of(product, self.shapes, points)
        if found is None:
            tells = size_tells(product)
            role = by_size(_sides(ring), high - low) if tells else None
            if role is None:
                self.counts[False, "furniture", name, "not recognised"] += 1
                return
            found = role, ""
        at = _middle(ring, points)
        room = self.room_of(product, at, low, high)
        if room is None:
            self.counts[False, found[0], name, "outside of every room"] += 1
            return
        self._enter(room, product, found, ring, points, own or {})

    def room_of(self, product: Entity, at: Point, low: float, high: float) -> int | None:
        """Return the number of the room that something is in by its place, else by its relation."""
        import shapely

        over = [int(i) for i in self._tree.query(shapely.Point(at), predicate="intersects")]
        for index in sorted(over):
            space = self.spaces[index]
            if high > space.floor - REACH and low < space.top + REACH:
                return index
        for index in sorted(over):
            if self.spaces[index].top <= low < self.spaces[index].top + ABOVE:
                return index
        holders = {
            holder.id()
            for relation in related(product, "ContainedInStructure")
            for holder in related(relation, "RelatingStructure")
        }
        return next((i for i, s in enumerate(self.spaces) if s.entity.id() in holders), None)

    def _enter(
        self,
        room: int,
        product: Entity,
        found: tuple[Role, str],
        ring: Ring,
        points: Matrix,
        own: Mapping[str, object],
    ) -> None:
        role, kind = found
        space, name = self.spaces[room], product.is_a()
        low, high = float(points[:, 2].min()) - space.floor, float(points[:, 2].max()) - space.floor
        at = _middle(ring, points)
        into = self.contents[room]
        title = next(words_of(product), "")
        if space.height is not None and low > space.height + VOID and not own:
            self.counts[False, kind or role, name, "above the ceiling"] += 1
            return
        lowest, highest = TOPS.get(role, (-math.inf, math.inf))
        if not lowest <= high <= highest or (role in TOPS and low < -REACH):
            self.counts[False, kind or role, name, "not of the height of one"] += 1
            return
        if role == "keep-out" and space.height is not None and high < space.height / 2:
            self.counts[False, kind or role, name, "not overhead"] += 1
            return
        if own and role in ("seat", "equipment", "rack"):
            x, y, _ = self.shapes.place(product)[:3, 3]
            at = (float(x), float(y))
        if role == "seat":
            facing = facing_said(own) if own else _facing_deg(points, at)
            into.seats.append(FoundSeat(at, facing, word(own, "Id")))
        elif role == "microphone" or role == "loudspeaker":
            into.devices.append(FoundDevice(role, (*at, (low + high) / 2), name=title))
        else:
            flush = space.height is not None and low > space.height - VOID
            bottom = None if flush and role in OVERHEAD else bottom_said(own, low)
            into.things.append(
                FoundThing(
                    role,
                    ring or square_about(at),
                    at,
                    bottom,
                    high,
                    word(own, "Id") or title,
                    word(own, "Id"),
                    word(own, "Kind") or kind,
                    material_name(product) if role == "column" else "",
                )
            )
        self.counts[True, kind or role, name, ""] += 1
        self.roles_of.setdefault(name, role)

    def _put_own_device(self, product: Entity, said: Mapping[str, object]) -> None:
        x, y, z = (float(v) for v in self.shapes.place(product)[:3, 3])
        name = product.is_a()
        room = self.room_of(product, (x, y), z, z)
        if room is None:
            self.counts[False, "device", name, "outside of every room"] += 1
            return
        device = own_device(product, said, (x, y, z - self.spaces[room].floor))
        if device is None:
            self.counts[False, "electronics", name, "placed anew when the room is wired"] += 1
            return
        self.contents[room].devices.append(device)
        self.counts[True, device.role, name, ""] += 1
        self.roles_of.setdefault(name, device.role)


def square_about(at: Point, half: float = 0.05) -> Ring:
    """Return a small square about a point, for what has no size of its own. [m]"""
    x, y = at
    return ((x - half, y - half), (x + half, y - half), (x + half, y + half), (x - half, y + half))


def _sides(ring: Ring) -> tuple[float, float]:
    import shapely

    if not ring:
        return (0.0, 0.0)
    box = shapely.oriented_envelope(shapely.Polygon(ring))
    corners = shapely.get_coordinates(box)
    return math.dist(corners[0], corners[1]), math.dist(corners[1], corners[2])


def _middle(ring: Ring, points: Matrix) -> Point:
    spread = np.array(ring) if ring else points
    x, y = (spread[:, :2].min(axis=0) + spread[:, :2].max(axis=0)) / 2
    return float(x), float(y)


def _facing_deg(points: Matrix, at: Point) -> float | None:
    """Which way a chair faces: away from its back; None of one whose back does not show."""
    low, high = float(points[:, 2].min()), float(points[:, 2].max())
    upper = points[points[:, 2] > low + BACK_FROM * (high - low)]
    if len(upper) < 3 or high - low < LOWEST_BACK:
        return None
    x, y = (upper[:, :2].min(axis=0) + upper[:, :2].max(axis=0)) / 2 - np.array(at)
    if math.hypot(x, y) < BACK_OFF:
        return None
    return math.degrees(math.atan2(-y, -x)) % 360.0
