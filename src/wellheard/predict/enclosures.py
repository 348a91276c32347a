"""A document's room as sound meets it: surfaces with their absorption, furniture, sitters."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from wellheard.acoustics.absorption import hard_object_absorption_area
from wellheard.acoustics.enclosure import CEILING, FLOOR, Enclosure, LevelPatch, Patch, Prism
from wellheard.arrays import Array
from wellheard.catalog.catalogue import Catalogue
from wellheard.geometry.points import interior_point
from wellheard.geometry.polygons import edge_lengths, polygon_area
from wellheard.predict.surfaces import (
    EMPTY_CHAIR,
    MOST_ABSORBED,
    OCCUPIED_CHAIR,
    STANDING_PERSON,
    TABLE_TOP_THICKNESS,
    longest_wall,
)
from wellheard.room.document import Room
from wellheard.room.finishes import InlineFinish

SITTER_WIDTH = 0.45
"""Side of the upright box that a chair and who sits on it are taken for [m] (common practice)."""

SEAT_BOTTOM, SHOULDER = 0.40, 1.05
"""From where to where it reaches [m] (common practice): below the mouth, so that a voice starts
outside its own body, whose shadow is in the talker's directivity."""

BELOW_MOUTH = 0.15
"""A sitter or stander reaches no nearer than this to the mouth [m]."""

LEAST_THICKNESS = 0.01
"""Of anything that rays may hit [m]."""


def enclosure(room: Room, catalogue: Catalogue, *, occupancy: float | None = None) -> Enclosure:
    """Walls, floor, ceiling, patches, columns, and all that stands in the room.

    Parameters
    ----------
    room : Room
        The document.
    catalogue : Catalogue
        Where finishes are looked up.
    occupancy : float, optional
        Share of seats taken, 0–1; the document's unless given. At 0 nobody stands either. It
        changes what absorbs, never the geometry.

    Returns
    -------
    Enclosure
        Every surface scatters as ``space.scattering`` says. Obstacles up to the ceiling are its
        columns, lower ones, tables, cupboards, soft seats, and everybody's body are prisms.

    Raises
    ------
    CatalogError
        A finish is not in the catalogue.
    """
    share = room.people.occupancy if occupancy is None else occupancy
    space = room.space
    names = ["floor", "ceiling", *space.walls]
    finishes: list[Array] = [
        _absorption(catalogue, space.floor_finish),
        _absorption(catalogue, space.ceiling_finish),
        *(_absorption(catalogue, space.wall_finish(name)) for name in space.walls),
    ]
    columns: list[Array] = []
    for name, obstacle in space.obstacles.items():
        if _reaches_ceiling(obstacle.height, space.height):
            corners = _counter_clockwise(obstacle.outline)
            columns.append(corners)
            names += [f"{name}, side {i + 1}" for i in range(len(corners))]
            finishes += [_absorption(catalogue, obstacle.finish)] * len(corners)
    patches: list[Patch] = []
    for name, patch in space.finishes.wall_patches.items():
        wall = space.walls.index(patch.wall)
        surface = len(names)
        patches.append(Patch(wall, patch.from_, patch.to, patch.bottom, patch.top, surface))
        names.append(name)
        finishes.append(_absorption(catalogue, patch.finish))
    level_patches: list[LevelPatch] = []
    for name, level in space.finishes.level_patches.items():
        corners = np.asarray(level.outline, dtype=np.float64)
        on = FLOOR if level.surface == "floor" else CEILING
        level_patches.append(LevelPatch(on, corners, len(names)))
        names.append(name)
        finishes.append(_absorption(catalogue, level.finish))
    objects: list[Prism] = []
    for name, prism, absorbing in _things(room, catalogue, share):
        objects.append(replace(prism, surface=len(names)))
        names.append(name)
        finishes.append(absorbing)
    return Enclosure(
        outline=np.asarray(space.outline, dtype=np.float64),
        columns=tuple(columns),
        height=float(space.height),
        names=tuple(names),
        absorption=np.array(finishes),
        scattering=np.full(len(names), float(space.scattering)),
        patches=tuple(patches),
        level_patches=tuple(level_patches),
        objects=tuple(objects),
    )


def _things(room: Room, catalogue: Catalogue, share: float) -> list[tuple[str, Prism, Array]]:
    found: list[tuple[str, Prism, Array]] = []
    for name, obstacle in room.space.obstacles.items():
        if not _reaches_ceiling(obstacle.height, room.space.height):
            assert obstacle.height is not None
            corners = _counter_clockwise(obstacle.outline)
            prism = Prism(corners, 0.0, float(obstacle.height), 0)
            found.append((name, prism, _absorption(catalogue, obstacle.finish)))
    for name, item in room.furniture.items():
        if item.kind == "table":
            top = float(item.height)
            bottom = max(0.0, top - TABLE_TOP_THICKNESS)
        elif item.kind in ("cupboard", "soft"):
            top, bottom = float(item.height), 0.0
        else:
            continue
        prism = Prism(_counter_clockwise(item.outline), bottom, top, 0)
        found.append((name, prism, np.full(7, _hard_absorption(prism))))
    seated = share * _each(catalogue, OCCUPIED_CHAIR) + (1 - share) * _each(catalogue, EMPTY_CHAIR)
    along = longest_wall(np.asarray(room.space.outline, dtype=np.float64))
    for name, seat in room.people.seats.items():
        body = _body(seat.at, along, SEAT_BOTTOM, min(SHOULDER, seat.height - BELOW_MOUTH))
        found.append((name, body, _spread(seated, body)))
    standing = _each(catalogue, STANDING_PERSON) if share > 0 else np.zeros(7)
    for name, area in room.people.standing.items():
        x, y = interior_point(np.asarray(area.outline, dtype=np.float64))
        body = _body((float(x), float(y)), along, 0.0, area.height - BELOW_MOUTH)
        found.append((name, body, _spread(standing, body)))
    return found


def _body(at: tuple[float, float], along: Array, bottom: float, top: float) -> Prism:
    """An upright box, square with the longest wall: it turns with the room."""
    x, y = along
    half = SITTER_WIDTH / 2 * np.array([[x - y, x + y], [-x - y, x - y]])
    corners = np.array([-half[0], -half[1], half[0], half[1]])
    return Prism(
        corners + np.asarray(at), min(bottom, top - LEAST_THICKNESS), max(top, LEAST_THICKNESS), 0
    )


def _area(prism: Prism) -> float:
    """Of all its faces [m²]."""
    sides = float(edge_lengths(prism.outline).sum()) * (prism.top - prism.bottom)
    return 2 * abs(polygon_area(prism.outline)) + sides


def _hard_absorption(prism: Prism) -> float:
    volume = abs(polygon_area(prism.outline)) * (prism.top - prism.bottom)
    return min(float(hard_object_absorption_area(volume)) / _area(prism), MOST_ABSORBED)


def _spread(absorbing_area: Array, prism: Prism) -> Array:
    """An absorbing area as the absorption of a prism's faces."""
    return np.minimum(absorbing_area / _area(prism), MOST_ABSORBED)


def _each(catalogue: Catalogue, finish: str) -> Array:
    return np.asarray(catalogue.finish(finish).absorption)


def _absorption(catalogue: Catalogue, finish: str | InlineFinish) -> Array:
    if isinstance(finish, InlineFinish):
        stated = finish.absorption
    else:
        stated = catalogue.finish(finish).absorption
    return np.clip(np.asarray(stated, dtype=np.float64), 0.0, MOST_ABSORBED)


def _reaches_ceiling(height: float | None, ceiling: float) -> bool:
    return height is None or math.isclose(height, ceiling, abs_tol=1e-6) or height > ceiling


def _counter_clockwise(outline: object) -> Array:
    corners = np.asarray(outline, dtype=np.float64)
    return corners if polygon_area(corners) > 0 else corners[::-1].copy()
