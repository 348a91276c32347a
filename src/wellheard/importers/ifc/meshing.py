"""Shapes that are none of upright prisms: triangles by the library's geometry engine."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from wellheard.importers.ifc.asking import FAULTS, Entity, Unusable, one
from wellheard.importers.ifc.placing import NOT_FINITE, Matrix

MOST_PARTS = 500_000
"""Entities of one shape."""


@dataclass(frozen=True)
class Mesh:
    """Triangles of a thing in the whole model: corners, shape (N, 3) [m], and their numbers."""

    corners: Matrix
    triangles: Any


def mesh_of(product: Entity) -> Mesh:
    """Return the triangles that the geometry engine makes of a product.

    Raises
    ------
    Unusable
        It makes none, or the shape refers to itself: the engine would fall over it.
    """
    refuse_circles(one(product, "Representation"))
    import ifcopenshell.geom

    engine: Any = ifcopenshell.geom
    settings = engine.settings()
    settings.set("use-world-coords", True)
    try:
        made = engine.create_shape(settings, product).geometry
        corners = np.array(made.verts, dtype=np.float64).reshape(-1, 3)
        triangles = np.array(made.faces, dtype=np.intp).reshape(-1, 3)
    except FAULTS:
        raise Unusable("its shape cannot be worked out") from None
    if not len(triangles):
        raise Unusable("its shape has no faces")
    if not np.isfinite(corners).all():
        raise Unusable(NOT_FINITE)
    return Mesh(corners, triangles)


def refuse_circles(start: Entity | None) -> None:
    """Refuse what refers to itself on any way, or to more than a shape can need.

    Raises
    ------
    Unusable
        It does.
    """
    if start is None:
        return
    open_ones: set[int] = {start.id()}
    done: set[int] = set()
    stack = [(start, references(start))]
    while stack:
        entity, further = stack[-1]
        each = next(further, None)
        if each is None:
            stack.pop()
            open_ones.discard(entity.id())
            done.add(entity.id())
        elif each.id() in open_ones:
            raise Unusable("its shape refers to itself")
        elif each.id() not in done:
            if len(done) > MOST_PARTS:
                raise Unusable("its shape has too many parts")
            open_ones.add(each.id())
            stack.append((each, references(each)))


def refuse_damage(start: Entity, damaged: frozenset[int]) -> None:
    """Refuse what refers on any way to an entity that the file lacks a part of.

    Raises
    ------
    Unusable
        It does.
    """
    waiting, seen = [start], {start.id()}
    while waiting:
        entity = waiting.pop()
        if entity.id() in damaged or len(seen) > MOST_PARTS:
            raise Unusable("the file lacks a part of it")
        for each in references(entity):
            if each.id() not in seen:
                seen.add(each.id())
                waiting.append(each)


def references(entity: Entity) -> Iterator[Entity]:
    """Yield the entities that an entity refers to, those within values and lists too."""
    waiting = [entity[i] for i in range(len(entity))]
    while waiting:
        value = waiting.pop()
        if isinstance(value, tuple | list):
            waiting.extend(value)
        elif hasattr(value, "is_a") and value.id():
            yield value
