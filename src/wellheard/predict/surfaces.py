"""What absorbs in a room: its surfaces, its patches, its people and chairs."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from wellheard.acoustics.absorption import hard_object_absorption_area
from wellheard.arrays import Array
from wellheard.catalog.catalogue import Catalogue
from wellheard.geometry.overlap import area_beside
from wellheard.geometry.polygons import polygon_area
from wellheard.predict.evidence import AbsorbingObjects, Bands, Surface
from wellheard.room.document import Room
from wellheard.room.finishes import InlineFinish

OCCUPIED_CHAIR = "person-seated-suit-each"
EMPTY_CHAIR = "chair-upholstered-textile-each"
STANDING_PERSON = "person-standing-each"

MOST_ABSORBED = 0.99
"""Mean absorption of a whole room, or of a pair of faces, above which the logarithms of the models
say nothing: with 1 they would let no sound at all come back, whatever the rest is (common
practice)."""

TABLE_TOP_THICKNESS = 0.03
"""Assumed thickness of a table top, for its volume as a hard object [m] (common practice)."""


def surfaces(room: Room, catalogue: Catalogue) -> tuple[Surface, ...]:
    """Floor, ceiling and walls less their patches, patches, obstacles, each with its absorption.

    The x axis of the axis shares is the direction of the longest wall.
    """
    space = room.space
    outline = np.asarray(space.outline, dtype=np.float64)
    along = longest_wall(outline)
    columns = [
        (name, np.asarray(o.outline, dtype=np.float64), o.finish, o.height or space.height)
        for name, o in space.obstacles.items()
    ]
    taken = sum(_area(c) for _, c, _, h in columns if h >= space.height - 1e-6)
    footprint = sum(_area(c) for _, c, _, _ in columns)
    floor_area = _area(outline)
    free = {"floor": floor_area - footprint, "ceiling": floor_area - taken}
    plain = {"floor": space.floor_finish, "ceiling": space.ceiling_finish}
    rows: list[Surface] = []
    for side, area in free.items():
        on = [c for _, c, _, h in columns if side == "floor" or h >= space.height - 1e-6]
        covered = 0.0
        for key, level in space.finishes.level_patches.items():
            if level.surface != side:
                continue
            part = area_beside(np.asarray(level.outline, dtype=np.float64), on)
            covered += part
            rows.append(_surface(f"{side}: {key}", level.finish, part, _VERTICAL, catalogue))
        # What is left of a surface that patches cover all of is rounding.
        rest = max(area - covered, 0.0)
        rows.append(_surface(side, plain[side], rest, _VERTICAL, catalogue))
    for name in space.walls:
        start, end = space.wall_ends(name)
        length = math.hypot(end[0] - start[0], end[1] - start[1])
        axis = _wall_axis(start, end, along)
        patches = {k: p for k, p in space.finishes.wall_patches.items() if p.wall == name}
        covered = 0.0
        for key, patch in patches.items():
            area = (patch.to - patch.from_) * (patch.top - patch.bottom)
            covered += area
            rows.append(_surface(f"{name}: {key}", patch.finish, area, axis, catalogue))
        rows.append(
            _surface(
                name, space.wall_finish(name), length * space.height - covered, axis, catalogue
            )
        )
    for name, corners, finish, height in columns:
        for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
            length = float(np.hypot(*(end - start)))
            axis = _wall_axis(tuple(start), tuple(end), along)
            rows.append(_surface(f"obstacle {name}", finish, length * height, axis, catalogue))
        if height < space.height - 1e-6:
            rows.append(
                _surface(f"obstacle {name}, top", finish, _area(corners), _VERTICAL, catalogue)
            )
    return tuple(row for row in _merged(rows) if row.area > 1e-9)


def objects(room: Room, catalogue: Catalogue, *, occupancy: float) -> tuple[AbsorbingObjects, ...]:
    """People, chairs, table tops and other furniture; each absorbing area is per item [m²].

    A share ``occupancy`` of the seats is taken by a seated person, the rest are empty chairs;
    one person stands in every standing area while the room is in use.
    """
    seats = len(room.people.seats)
    rows = [
        _items("people seated", OCCUPIED_CHAIR, seats * occupancy, catalogue),
        _items("empty chairs", EMPTY_CHAIR, seats * (1 - occupancy), catalogue),
    ]
    if occupancy > 0:
        rows.append(
            _items("people standing", STANDING_PERSON, len(room.people.standing), catalogue)
        )
    for name, item in room.furniture.items():
        if item.kind in ("table", "cupboard", "soft"):
            area = _area(np.asarray(item.outline, dtype=np.float64))
            thickness = TABLE_TOP_THICKNESS if item.kind == "table" else float(item.height)
            each = float(hard_object_absorption_area(area * thickness))
            label = {"table": "table", "cupboard": "cupboard", "soft": "seat"}[item.kind]
            rows.append(
                AbsorbingObjects(
                    name=name if name.startswith(label) else f"{label} {name}",
                    finish="hard object",
                    count=1.0,
                    each=(each,) * 7,
                    source="EN 12354-6:2003, formula 4, via phonometry; common practice for "
                    "furniture",
                )
            )
    return tuple(row for row in rows if row.count > 0)


def object_area(items: tuple[AbsorbingObjects, ...]) -> Array:
    """Absorbing area of all objects per octave, shape (7,) [m²]."""
    total: Array = np.zeros(7)
    for item in items:
        total = total + item.count * np.asarray(item.each)
    return total


def air_volume(room: Room) -> float:
    """Volume of the room less its obstacles [m³]."""
    space = room.space
    volume = _area(np.asarray(space.outline, dtype=np.float64)) * space.height
    for obstacle in space.obstacles.values():
        corners = np.asarray(obstacle.outline, dtype=np.float64)
        volume -= _area(corners) * min(obstacle.height or space.height, space.height)
    return float(volume)


_VERTICAL = (0.0, 0.0, 1.0)


def _area(corners: Array) -> float:
    return abs(polygon_area(corners))


def longest_wall(outline: Array) -> Array:
    """Direction of the longest wall of a plan, the first of equals, as a unit vector."""
    edges = np.roll(outline, -1, axis=0) - outline
    longest = edges[int(np.argmax(np.round(np.hypot(edges[:, 0], edges[:, 1]), 6)))]
    return longest / np.hypot(*longest)


def _wall_axis(
    start: tuple[float, ...], end: tuple[float, ...], along: Array
) -> tuple[float, float, float]:
    direction = np.array([end[0] - start[0], end[1] - start[1]])
    direction = direction / np.hypot(*direction)
    parallel = float(np.dot(direction, along)) ** 2
    # A wall along x faces y.
    return (1.0 - parallel, parallel, 0.0)


def _surface(
    name: str,
    finish: str | InlineFinish,
    area: float,
    axis: tuple[float, float, float],
    catalogue: Catalogue,
) -> Surface:
    if isinstance(finish, InlineFinish):
        return Surface(
            name=name,
            finish="written in the document",
            area=area,
            absorption=finish.absorption,
            axis=axis,
            source="the document",
            extrapolated=False,
        )
    found = catalogue.finish(finish)
    return Surface(
        name=name,
        finish=finish,
        area=area,
        absorption=found.absorption,
        axis=axis,
        source=found.source,
        extrapolated=found.extrapolated,
    )


def _items(name: str, finish: str, count: float, catalogue: Catalogue) -> AbsorbingObjects:
    found = catalogue.finish(finish)
    return AbsorbingObjects(
        name=name, finish=finish, count=count, each=found.absorption, source=found.source
    )


def _merged(rows: list[Surface]) -> list[Surface]:
    """The sides of a column that face alike are one row."""
    merged: dict[tuple[str, int], Surface] = {}
    for row in rows:
        key = (row.name, round(1e6 * row.axis[0]))
        before = merged.get(key)
        merged[key] = row if before is None else replace(before, area=before.area + row.area)
    return list(merged.values())


def bands(values: Array) -> Bands:
    """Seven plain floats of an octave array."""
    a, b, c, d, e, f, g = (float(v) for v in values)
    return (a, b, c, d, e, f, g)
