"""Walls of a building model: where they stand, and what their side towards a room is made of."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

import numpy as np

from wellheard.importers.found import Point, Ring
from wellheard.importers.ifc.asking import (
    Entity,
    Unusable,
    number,
    one,
    related,
    text,
    type_of,
)
from wellheard.importers.ifc.placing import Matrix
from wellheard.importers.ifc.shapes import Shapes, outline_of
from wellheard.importers.ifc.spaces import Space

CLASSES = ("IfcWall", "IfcCurtainWall")
MOST = 5_000
"""Walls of one model that are looked at."""
MOST_PARTS = 300
"""Parts of one wall."""
MOST_LAYERS, DEEPEST = 20, 6
"""Layers of one wall that are named, and materials within materials."""
BEHIND = (0.01, 0.2)
"""Between these behind the outline of a space its wall begins. [m]"""
AT = (0.2, 0.5, 0.8)
"""Where along a wall of a room it is asked what stands behind. [share]"""


@dataclass(frozen=True)
class Wall:
    """A wall of the model with its outline on the plan and its heights in the model. [m]"""

    entity: Entity
    outline: Ring
    low: float
    high: float


@dataclass
class Walls:
    """All walls of a model, to be asked by place. ``faults`` counts those without a shape."""

    shapes: Shapes
    walls: list[Wall] = field(default_factory=list)
    faults: Counter[tuple[str, str]] = field(default_factory=Counter)

    def read(self, entities: Iterable[Entity]) -> None:
        """Take the walls that have a shape."""
        import shapely

        for count, entity in enumerate(entities):
            name = entity.is_a()
            if count >= MOST:
                self.faults[name, f"more than {MOST} walls in one model"] += 1
                continue
            try:
                points = self._points(entity)
                outline = outline_of(entity, self.shapes, points)
            except Unusable as error:
                self.faults[name, str(error)] += 1
                continue
            if outline:
                heights = points[:, 2]
                self.walls.append(Wall(entity, outline, float(heights.min()), float(heights.max())))
        self._plans = [shapely.make_valid(shapely.Polygon(w.outline)) for w in self.walls]
        self._tree = shapely.STRtree(self._plans)

    def _points(self, entity: Entity) -> Matrix:
        """Points of a wall, or of its parts where only these have shapes."""
        try:
            return self.shapes.points(entity)
        except Unusable as error:
            parts = [
                part
                for relation in related(entity, "IsDecomposedBy")
                for part in related(relation, "RelatedObjects")
            ]
            found = []
            for part in parts[:MOST_PARTS]:
                try:
                    found.append(self.shapes.points(part))
                except Unusable:
                    continue
            if not found:
                raise error
            return np.concatenate(found)

    def behind(self, a: Point, b: Point, space: Space) -> Wall | None:
        """Return the wall that most of a side of a room has behind it."""
        import shapely

        length = math.dist(a, b)
        if not length or not self.walls:
            return None
        out = ((b[1] - a[1]) / length, -(b[0] - a[0]) / length)
        found: Counter[int] = Counter()
        for share in AT:
            x, y = a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share
            probe = shapely.LineString([(x + out[0] * d, y + out[1] * d) for d in BEHIND])
            near = [
                (self._plans[i].distance(shapely.Point(x, y)), int(i))
                for i in self._tree.query(probe, predicate="intersects").tolist()
                if self.walls[i].low < space.floor + 1.0 and self.walls[i].high > space.floor + 0.5
            ]
            if near:
                found[min(near)[1]] += 1
        return self.walls[found.most_common(1)[0][0]] if found else None

    def strokes(self) -> Iterator[tuple[Point, ...]]:
        """Yield the outlines of all walls, closed."""
        for wall in self.walls:
            yield (*wall.outline, wall.outline[0])


def material_of(wall: Wall, towards: Point, shapes: Shapes) -> str:
    """Return the word for what the side of a wall towards a point is made of; empty if none is."""
    try:
        word = innermost(wall.entity, towards, shapes)
    except Unusable:
        word = ""
    if not word and wall.entity.is_a("IfcCurtainWall"):
        return text(wall.entity, "ObjectType") or "glass (IfcCurtainWall)"
    return word


def innermost(entity: Entity, towards: Point, shapes: Shapes) -> str:
    """Return the name of the material of the layer that is nearest to a point.

    Raises
    ------
    Unusable
        It is not known where the entity is.
    """
    associated = _material(entity)
    if associated is None:
        return ""
    layers = related(one(associated, "ForLayerSet"), "MaterialLayers")
    across_wall = text(associated, "LayerSetDirection") == "AXIS2"
    if not associated.is_a("IfcMaterialLayerSetUsage") or not layers or not across_wall:
        # Programs differ on which layer of a floor is the first: all of them are named.
        return names_of(associated)
    thick = sum(number(layer, "LayerThickness") or 0.0 for layer in layers) * shapes.scale
    back = np.linalg.inv(shapes.place(entity))
    across = float((back @ np.array([*towards, 0.0, 1.0]))[1])
    sense = -1.0 if text(associated, "DirectionSense") == "NEGATIVE" else 1.0
    offset = (number(associated, "OffsetFromReferenceLine") or 0.0) * shapes.scale
    beyond = (across - (offset + sense * thick / 2)) * sense
    return names_of(layers[-1] if beyond > 0 else layers[0])


def _material(entity: Entity) -> Entity | None:
    """What is associated with a product, else with its type."""
    for said in (entity, type_of(entity)):
        for relation in related(said, "HasAssociations"):
            if relation.is_a("IfcRelAssociatesMaterial"):
                return one(relation, "RelatingMaterial")
    return None


def names_of(material: Entity | None, depth: int = 0) -> str:
    """Return the name of a material, or those of what it is made up of."""
    if depth > DEEPEST:
        return ""
    for name in ("Material", "ForLayerSet", "ForProfileSet"):
        inside = one(material, name)
        if inside is not None:
            return names_of(inside, depth + 1)
    for name in ("MaterialLayers", "Materials", "MaterialConstituents", "MaterialProfiles"):
        parts = related(material, name)
        if parts:
            named = (names_of(part, depth + 1) for part in parts[:MOST_LAYERS])
            return ", ".join(dict.fromkeys(filter(None, named)))
    return text(material, "Name", "LayerSetName")


def material_name(entity: Entity) -> str:
    """Return the name of what a product is made of; empty where it does not say."""
    return names_of(_material(entity))


def wall_materials(space: Space, walls: Walls) -> dict[str, str]:
    """Return the words for the walls of a room, by number from corner 0 on."""
    found: dict[str, str] = {}
    ring = space.outline
    for i, (a, b) in enumerate(zip(ring, (*ring[1:], ring[0]), strict=True)):
        wall = walls.behind(a, b, space)
        if wall is None:
            continue
        word = material_of(wall, ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2), walls.shapes)
        if word:
            found[f"wall {i}"] = word
    return found
