"""Floors and ceilings of rooms in a building model: coverings, their words, tiles and heights."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from wellheard.importers.found import FoundGrid
from wellheard.importers.ifc.asking import (
    Entity,
    Unusable,
    finite,
    one,
    property_of,
    related,
    text,
    told,
    words_of,
)
from wellheard.importers.ifc.placing import azimuth_deg
from wellheard.importers.ifc.shapes import Shapes
from wellheard.importers.ifc.spaces import HIGHEST, LOWEST, Space, stated_height
from wellheard.importers.ifc.walls import innermost, material_name

MOST = 5_000
HIGHER, THIN = 0.3, 0.02
"""A ceiling so far above the body of a room is of another; so little below it there is no void.
[m]"""
NEAR = 0.1
"""What bounds a room above or below begins this near to it. [m]"""
COVERING = {"ceiling": "CeilingCovering", "floor": "FloorCovering", "walls": "WallCovering"}
"""Properties of a space that name its coverings (Pset_SpaceCoveringRequirements, Pset_SpaceCommon
of IFC2X3)."""
TILED = ("tile", "grid", "module", "lay-in", "suspended", "raster", "kassett", "abgeh", "abgehäng",
         "platten", "dalle", "suspendu", "systeem", "undertak", "nedsenk", "alakat",
         "controsoffitto", "techo", "podwiesz", "mineral")  # fmt: skip
SOLID = ("plaster", "gypsum", "gips", "gips", "putz", "plâtre", "staff", "stuc", "yeso", "kipsi",
         "concrete", "beton", "béton", "hormig", "calcestruzzo", "betong")  # fmt: skip
"""Words for ceilings of tiles, and for hard ones."""


@dataclass(frozen=True)
class Covering:
    """A covering of the model with what it spans, heights in the model. [m]"""

    entity: Entity
    kind: str
    middle: tuple[float, float]
    low: float
    high: float
    area: float


def coverings(entities: Iterable[Entity], shapes: Shapes) -> Iterator[Covering]:
    """Yield the coverings of ceilings and floors that have a shape."""
    for number, entity in enumerate(entities):
        kind = text(entity, "PredefinedType")
        if number >= MOST or kind not in ("CEILING", "FLOORING"):
            continue
        try:
            points = shapes.points(entity)
        except Unusable:
            continue
        x0, y0, low = (float(v) for v in points.min(axis=0))
        x1, y1, high = (float(v) for v in points.max(axis=0))
        middle = ((x0 + x1) / 2, (y0 + y1) / 2)
        yield Covering(entity, kind, middle, low, high, (x1 - x0) * (y1 - y0))


@dataclass(frozen=True)
class Levels:
    """What is known of the floor and the ceiling of a room, and of all its walls together."""

    materials: dict[str, str]
    height: float | None
    height_source: str
    void_depth: float | None
    kind: Literal["tiles", "hard", "open"] | None
    grid: FoundGrid | None
    warnings: tuple[str, ...]


def levels_of(space: Space, all_coverings: Sequence[Covering], shapes: Shapes) -> Levels:
    """Return what a model says of the floor and the ceiling of one of its rooms."""
    own = _of(space, all_coverings)
    materials = {
        surface: word.strip()
        for surface, name in COVERING.items()
        # Some programs write the name of the property for one that nobody has filled in.
        if isinstance(word := property_of(space.sets, name), str) and word.strip() not in ("", name)
    }
    for kind, surface in (("CEILING", "ceiling"), ("FLOORING", "floor")):
        for covering in sorted((c for c in own if c.kind == kind), key=lambda c: -c.area):
            word = material_name(covering.entity) or next(words_of(covering.entity), "")
            if word:
                materials[surface] = word
                break
    ceiling = max((c for c in own if c.kind == "CEILING"), key=lambda c: c.area, default=None)
    height, source, void = _height(space, ceiling, shapes.scale)
    for surface, word in _of_slabs(space, height, shapes):
        materials.setdefault(surface, word)
    grid, warnings = (None, ()) if ceiling is None else _grid(ceiling, shapes)
    said = " ".join([materials.get("ceiling", ""), *(words_of(ceiling.entity) if ceiling else ())])
    return Levels(
        materials, height, source, void, "tiles" if grid else ceiling_kind(said), grid, warnings
    )


def _of(space: Space, all_coverings: Sequence[Covering]) -> list[Covering]:
    """Coverings that the model relates to a space, and those that lie in it."""
    import shapely

    related_to = {
        covering.id()
        for relation in related(space.entity, "HasCoverings")
        for covering in related(relation, "RelatedCoverings")
    } | {
        element.id()
        for boundary in related(space.entity, "BoundedBy")
        if (element := one(boundary, "RelatedBuildingElement")) is not None
    }
    plan = shapely.Polygon(space.outline)
    return [
        one_of
        for one_of in all_coverings
        if one_of.entity.id() in related_to
        or (
            space.floor - 0.3 < one_of.low < space.top + 0.3
            and shapely.contains_xy(plan, *one_of.middle)
        )
    ]


def _of_slabs(space: Space, height: float | None, shapes: Shapes) -> Iterator[tuple[str, str]]:
    """Yield the surface and the word for slabs that bound a room: the one that is nearest to it."""
    best: dict[str, tuple[float, str]] = {}
    for boundary in related(space.entity, "BoundedBy"):
        slab = one(boundary, "RelatedBuildingElement")
        if slab is None or not slab.is_a("IfcSlab"):
            continue
        try:
            levels = shapes.points(slab)[:, 2]
            ends = {"floor": abs(float(levels.max()) - space.floor)}
            if height is not None:
                ends["ceiling"] = abs(float(levels.min()) - space.floor - height)
            middle = (space.outline[0][0], space.outline[0][1])
            word = innermost(slab, middle, shapes)
        except Unusable:
            continue
        for surface, off in ends.items():
            if word and off < best.get(surface, (NEAR, ""))[0]:
                best[surface] = off, word
    yield from ((surface, word) for surface, (_, word) in best.items())


def _height(
    space: Space, ceiling: Covering | None, scale: float
) -> tuple[float | None, str, float | None]:
    """Clear height of a room, who says so, and the depth of the void above its ceiling."""
    full, clear, source = space.height, None, ""
    if ceiling is not None:
        import shapely

        under = ceiling.low - space.floor
        most = shapely.Polygon(space.outline).area
        if LOWEST <= under <= HIGHEST and ceiling.area > most / 2:
            clear, source = under, "underside of the ceiling covering"
    if clear is None:
        clear = stated_height(space, "FinishCeilingHeight", scale)
        source = "quantity FinishCeilingHeight"
    if clear is None or (full is not None and clear > full + HIGHER):
        return full, space.height_source, None
    if full is None or full - clear < THIN:
        # A ceiling as high as the room is no more than said again, or a finish.
        return (clear, source, None) if full is None or clear < full else (full, source, None)
    return clear, source, full - clear


def _grid(ceiling: Covering, shapes: Shapes) -> tuple[FoundGrid | None, tuple[str, ...]]:
    """Grid of a ceiling whose tiles have a stated size (Pset_CoveringCeiling)."""
    sets: Mapping[str, Mapping[str, Any]] = told(ceiling.entity)
    sides = [finite(property_of(sets, name)) for name in ("TileLength", "TileWidth")]
    known = [side * shapes.scale for side in sides if side]
    if not known or not all(0.1 <= side <= 3.0 for side in known):
        return None, ()
    try:
        matrix = shapes.place(ceiling.entity)
    except Unusable:
        matrix = np.eye(4)
    grid = FoundGrid(
        (known[0], known[-1]), (float(matrix[0, 3]), float(matrix[1, 3])), azimuth_deg(matrix)
    )
    why = "the model does not say where the lines of the ceiling's grid run; check on site"
    return grid, (why,)


def ceiling_kind(said: str) -> Literal["tiles", "hard"] | None:
    """Return what kind of ceiling words speak of.

    Examples
    --------
    >>> ceiling_kind("Suspended mineral tiles 600"), ceiling_kind("Gipskarton"), ceiling_kind("")
    ('tiles', 'hard', None)
    """
    low = said.casefold()
    if any(word in low for word in TILED):
        return "tiles"
    return "hard" if any(word in low for word in SOLID) else None
