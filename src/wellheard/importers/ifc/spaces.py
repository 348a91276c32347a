"""Spaces of a building model as rooms: outline, floor, height, columns left out of them."""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from wellheard.importers.found import Ring
from wellheard.importers.ifc.asking import (
    Entity,
    Unread,
    Unusable,
    finite,
    one,
    property_of,
    related,
    text,
    told,
)
from wellheard.importers.ifc.meshing import Mesh
from wellheard.importers.ifc.placing import Matrix
from wellheard.importers.ifc.shapes import FOOTPRINTS, Piece, Shapes, plain_ring
from wellheard.importers.outlines import few_enough, simple

LOWEST, HIGHEST = 1.5, 40.0
"""Heights of rooms. [m]"""
SMALLEST = 1.0
"""Floor of a space that is listed; shafts are not. [m²]"""
LEVEL = 0.02
"""A ceiling whose mean height differs from its highest by no more is level. [m]"""
FACING_DOWN = -0.3
"""Of the unit normal of a triangle that counts as floor."""


@dataclass
class Space:
    """A space with its plan; heights are those of the model. [m]"""

    entity: Entity
    outline: Ring
    holes: tuple[Ring, ...]
    floor: float
    height: float | None
    source: str
    height_source: str
    sets: dict[str, dict[str, Any]] = field(default_factory=dict)
    warnings: list[str] = field(default_factory=list)
    key: str = ""

    @property
    def name(self) -> str:
        """What people call it."""
        return text(self.entity, "LongName", "Name")

    @property
    def top(self) -> float:
        """Highest that something in it may be in the model. [m]"""
        return self.floor + (self.height if self.height is not None else HIGHEST)


def space_of(entity: Entity, shapes: Shapes) -> Space:
    """Return a space with its plan.

    Raises
    ------
    Unusable
        It has no shape that can be used; the message is a clause.
    """
    return _of_a_room(_placed(entity, shapes), shapes.scale)


def _placed(entity: Entity, shapes: Shapes) -> Space:
    if not shapes.items(entity):
        return _of_footprint(entity, shapes)
    try:
        return _of_prisms(entity, shapes)
    except Unread:
        pass
    try:
        return _of_mesh(entity, shapes)
    except Unusable as error:
        if not shapes.items(entity, *FOOTPRINTS):
            raise error
        return _of_footprint(entity, shapes)


def _of_prisms(entity: Entity, shapes: Shapes) -> Space:
    pieces = shapes.prisms(entity)
    source = "extruded outline"
    low, high = min(p.low for p in pieces), max(p.high for p in pieces)
    if len(pieces) == 1:
        return _checked(entity, pieces[0].outer, pieces[0].holes, low, high - low, source)
    outer, holes, parts = _joined(pieces)
    space = _checked(entity, outer, holes, low, high - low, source)
    tall = max(pieces, key=lambda p: abs(_area(p.outer)))
    if any(abs(p.high - tall.high) > LEVEL for p in pieces):
        space.height = tall.high - low
        space.warnings.append("its ceiling has steps; the height is that of its largest part")
    if parts > 1:
        space.warnings.append(f"it falls into {parts} parts; the largest is taken")
    return space


def _joined(pieces: Sequence[Piece]) -> tuple[Any, list[Any], int]:
    """The union of pieces: outer ring and holes of its largest part, and how many there are."""
    import shapely

    polygons = [shapely.make_valid(shapely.Polygon(p.outer, list(p.holes))) for p in pieces]
    return _largest(shapely.union_all(polygons, grid_size=1e-5))


def _largest(union: Any) -> tuple[Any, list[Any], int]:
    import shapely

    parts = [p for p in shapely.get_parts(union) if p.geom_type == "Polygon" and p.area > 1e-6]
    if not parts:
        raise Unusable("its outline has no area")
    whole = max(parts, key=lambda p: p.area)
    return whole.exterior.coords[:-1], [r.coords[:-1] for r in whole.interiors], len(parts)


def _area(ring: Matrix) -> float:
    x, y = ring[:, 0] - ring[0, 0], ring[:, 1] - ring[0, 1]
    return float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) / 2


def _of_mesh(entity: Entity, shapes: Shapes) -> Space:
    """A space of any shape: its plan is what lies below it, its height the mean one."""
    import shapely

    mesh = shapes.mesh(entity)
    corners = mesh.corners[mesh.triangles]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    size = np.linalg.norm(normal, axis=1)
    whole = size > 1e-12
    down = normal[whole, 2] / size[whole] < FACING_DOWN
    floor = corners[whole][down][:, :, :2]
    if not len(floor):
        raise Unusable("its shape has no floor")
    polygons = shapely.polygons(floor)
    outer, holes, parts = _largest(shapely.union_all(polygons, grid_size=1e-5))
    low, high = float(mesh.corners[:, 2].min()), float(mesh.corners[:, 2].max())
    space = _checked(entity, outer, holes, low, high - low, "plan of its body")
    plan = shapely.Polygon(space.outline, space.holes).area
    mean = abs(_volume(mesh)) / plan if plan else 0.0
    if parts == 1 and LOWEST < mean < high - low - LEVEL:
        space.height = mean
        space.height_source = "volume of the body over its plan: its ceiling is not level"
        space.warnings.append(
            f"its ceiling is not level ({high - low:.2f} m at the highest); the mean is taken"
        )
    if parts > 1:
        space.warnings.append(f"it falls into {parts} parts; the largest is taken")
    return space


def _volume(mesh: Mesh) -> float:
    corners = mesh.corners[mesh.triangles] - mesh.corners[0]
    return float(np.einsum("ni,ni->", corners[:, 0], np.cross(corners[:, 1], corners[:, 2]))) / 6


def _of_footprint(entity: Entity, shapes: Shapes) -> Space:
    outline, floor = shapes.footprint(entity)
    space = _checked(entity, outline, (), floor, None, "footprint")
    space.height_source = ""
    return space


def _checked(
    entity: Entity,
    outer: Any,
    holes: Iterable[Any],
    floor: float,
    height: float | None,
    source: str,
) -> Space:
    """A space whose outline a room can have."""
    outline, crossed = simple(plain_ring(np.asarray(outer, dtype=np.float64)))
    if not outline:
        raise Unusable("its outline has no area" if not crossed else "its outline crosses itself")
    fewer, off = few_enough(outline)
    if not fewer:
        raise Unusable(f"its outline has {len(outline)} walls")
    inner = [simple(plain_ring(np.asarray(hole, dtype=np.float64)))[0] for hole in holes]
    space = Space(
        entity,
        fewer,
        tuple(ring for ring in inner if ring),
        floor,
        height,
        source,
        "height of its body",
        told(entity),
    )
    if crossed:
        space.warnings.append("its outline crosses itself; the largest part is taken")
    if off:
        space.warnings.append(f"its outline is simplified, by {off * 1000:.0f} mm at most")
    return space


def _of_a_room(space: Space, scale: float) -> Space:
    """The same with the height that the model states where its shape has none, or none at all."""
    stated = stated_height(space, "Height", scale)
    if space.height is None and stated is not None:
        space.height, space.height_source = stated, "quantity Height"
    if space.height is not None and not LOWEST <= space.height <= HIGHEST:
        space.warnings.append(f"its height, {space.height:.2f} m, is none of a room: left out")
        space.height, space.height_source = None, ""
    return space


def stated_height(space: Space, name: str, scale: float) -> float | None:
    """Return a height among the quantities of a space, if it is one of a room. [m]"""
    value = finite(property_of(space.sets, name))
    return value * scale if value is not None and LOWEST <= value * scale <= HIGHEST else None


def storey_of(entity: Entity) -> str:
    """Return the name of the storey that a space is in; empty if it is in none."""
    here: Entity | None = entity
    for _ in range(20):
        relation = one(here, "Decomposes")
        here = one(relation, "RelatingObject")
        if here is None:
            return ""
        if here.is_a("IfcBuildingStorey"):
            return text(here, "LongName", "Name")
    return ""


def is_outdoors(entity: Entity) -> bool:
    """Whether a space is stated to be outside of the building."""
    return "EXTERNAL" in (
        text(entity, "PredefinedType").upper(),
        text(entity, "InteriorOrExteriorSpace").upper(),
    )


def is_group(entity: Entity) -> bool:
    """Whether a space is only several others together."""
    return text(entity, "CompositionType") == "COMPLEX" or any(
        part.is_a("IfcSpace")
        for relation in related(entity, "IsDecomposedBy")
        for part in related(relation, "RelatedObjects")
    )


def give_keys(spaces: Sequence[Space]) -> None:
    """Give every space a key of its own: its number, else its name, and its storey if needed.

    They depend on what the model says, not on its order, as far as what it says differs.
    """
    stems = [_slug(text(s.entity, "Name", "LongName")) or "room" for s in spaces]
    often = Counter(stems)
    used: Counter[str] = Counter()
    for space, stem in zip(spaces, stems, strict=True):
        storey = _slug(storey_of(space.entity))
        key = f"{storey}-{stem}" if often[stem] > 1 and storey else stem
        used[key] += 1
        space.key = key if used[key] == 1 else f"{key}-{used[key]}"


def _slug(words: str) -> str:
    letters = unicodedata.normalize("NFKD", words.replace("ß", "ss")).encode("ascii", "ignore")
    return re.sub(r"[^a-z0-9]+", "-", letters.decode().casefold()).strip("-")[:40]
