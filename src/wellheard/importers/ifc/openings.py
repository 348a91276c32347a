"""Doors and windows of a building model on the walls of its rooms."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from wellheard.importers.found import FoundOpening, Opening, Ring
from wellheard.importers.ifc.asking import Entity, Unusable, number, one
from wellheard.importers.ifc.placing import Matrix
from wellheard.importers.ifc.shapes import Shapes
from wellheard.importers.ifc.spaces import Space
from wellheard.importers.ifc.walls import material_name

BESIDE = (-0.15, 0.6)
"""How far behind the outline of a room its doors and windows may be. [m]"""
NARROWEST = 0.3
"""Opening. [m]"""
MOST = 10_000
KINDS: dict[str, Opening] = {"IfcDoor": "door", "IfcWindow": "window"}


@dataclass(frozen=True)
class Hole:
    """A door or window: its entity and the points that its opening spans. [m]"""

    entity: Entity
    kind: Opening
    points: Matrix


@dataclass
class Holes:
    """Doors and windows of one model; ``faults`` counts those without a shape.

    ``bounded`` has the spaces that each bounds, for those of which the model says so.
    """

    shapes: Shapes
    bounded: Mapping[int, frozenset[int]]
    holes: list[Hole] = field(default_factory=list)
    used: set[int] = field(default_factory=set)
    faults: Counter[tuple[str, str]] = field(default_factory=Counter)

    def read(self, entities: Iterable[tuple[Entity, Opening]]) -> None:
        """Take the doors and windows that have a shape: that of their hole, else their own."""
        for entity, kind in entities:
            if len(self.holes) >= MOST:
                self.faults[entity.is_a(), f"more than {MOST} in one model"] += 1
                continue
            try:
                self.holes.append(Hole(entity, kind, self._points(entity)))
            except Unusable as error:
                self.faults[entity.is_a(), str(error)] += 1

    def _points(self, entity: Entity) -> Matrix:
        hole = one(one(entity, "FillsVoids"), "RelatingOpeningElement")
        if hole is not None:
            try:
                return self.shapes.points(hole)
            except Unusable:
                pass
        return self.shapes.points(entity)

    def of(self, space: Space) -> tuple[FoundOpening, ...]:
        """Return the openings in the walls of a room."""
        low = np.array(space.outline).min(axis=0) - 1.0
        high = np.array(space.outline).max(axis=0) + 1.0
        found: list[FoundOpening] = []
        for hole in self.holes:
            bounded = self.bounded.get(hole.entity.id())
            if bounded is not None and space.entity.id() not in bounded:
                continue
            middle = (hole.points[:, :2].min(axis=0) + hole.points[:, :2].max(axis=0)) / 2
            if (middle < low).any() or (middle > high).any():
                continue
            opening = _on(space, hole, self.shapes.scale)
            if opening is not None:
                self.used.add(hole.entity.id())
                found.append(opening)
        return tuple(sorted(found, key=lambda o: (o.wall, o.start, o.end)))


def bounded_by(boundaries: Iterable[Entity]) -> dict[int, frozenset[int]]:
    """Return the spaces that each element of a model bounds, as far as it says; numbers of both."""
    found: dict[int, set[int]] = {}
    for boundary in boundaries:
        space, element = one(boundary, "RelatingSpace"), one(boundary, "RelatedBuildingElement")
        if space is not None and element is not None:
            found.setdefault(element.id(), set()).add(space.id())
    return {element: frozenset(spaces) for element, spaces in found.items()}


def _on(space: Space, hole: Hole, scale: float) -> FoundOpening | None:
    """An opening on the wall of a room that it is nearest to and lies along; None if on none."""
    bottom = float(hole.points[:, 2].min()) - space.floor
    top = float(hole.points[:, 2].max()) - space.floor
    if top < 0.3 or bottom > (space.height or 3.0) - 0.1 or bottom < -1.5:
        return None
    stated = (number(hole.entity, "OverallWidth") or 0.0) * scale
    best: tuple[float, int, float, float] | None = None
    for wall, (a, b) in enumerate(_sides(space.outline)):
        length = math.dist(a, b)
        if length < NARROWEST:
            continue
        along = np.array([b[0] - a[0], b[1] - a[1]]) / length
        out = np.array([along[1], -along[0]])
        flat = hole.points[:, :2] - np.array(a)
        run, off = flat @ along, flat @ out
        start, end = float(run.min()), float(run.max())
        deep = float(off.max() - off.min())
        lies_along = abs(end - start - stated) < 0.2 if stated > deep else end - start > deep
        middle = float(off.max() + off.min()) / 2
        inside, within = max(start, 0.0), min(end, length)
        if (
            lies_along
            and BESIDE[0] <= middle <= BESIDE[1]
            and within - inside >= max(NARROWEST, (end - start) / 2)
            and (best is None or abs(middle) < best[0])
        ):
            best = abs(middle), wall, inside, within
    if best is None:
        return None
    _, wall, start, end = best
    ceiling = top if space.height is None else min(top, space.height)
    return FoundOpening(
        hole.kind, wall, start, end, max(bottom, 0.0), ceiling, material_name(hole.entity)
    )


def _sides(ring: Ring) -> Sequence[tuple[tuple[float, float], tuple[float, float]]]:
    return list(zip(ring, (*ring[1:], ring[0]), strict=True))
