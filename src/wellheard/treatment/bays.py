"""Where a room has room for panels: free rectangles of its walls, ceiling and floor."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from typing import Final, TypeAlias

import numpy as np

from wellheard.arrays import Array
from wellheard.catalog.catalogue import Catalogue
from wellheard.geometry.rectangles import Rectangle, free_rectangles, rectangles_of_cells
from wellheard.predict.surfaces import longest_wall
from wellheard.room.document import Room
from wellheard.room.finishes import FinishRef, InlineFinish
from wellheard.room.furniture import Cupboard, Display, Screen, Soft
from wellheard.treatment.task import Bay

ABOVE_FLOOR: Final = 0.3
"""Panels stay so far off the floor, out of reach of feet and mops [m] (common practice)."""
BESIDE: Final = 0.1
"""And off corners, ceiling, doors, windows and pictures [m] (common practice)."""
LEAST: Final = 0.6
"""No free rectangle with a shorter side is of use: no module is smaller. [m]"""
ROUND_DEVICE: Final = 0.4
"""Kept free round a device on wall or ceiling, for its sound and its fixing [m] (common
practice)."""
ROUND_OUTLET: Final = 0.5
"""Kept free round an air outlet or what makes noise at the ceiling [m] (common practice)."""
FROM_WALL: Final = 0.3
"""Rafts and panels of a ceiling stay so far from walls, columns and partitions [m] (common
practice)."""
ROUND_OVERHEAD: Final = 0.2
"""Kept free round luminaires, sprinklers and detectors at least; the document may ask for more
[m] (common practice)."""
AT_WALL: Final = 0.3
"""What stands nearer to a wall than this hides it. [m]"""
BELOW_CEILING: Final = 1.0
"""What hangs nearer to the ceiling than this belongs to it. [m]"""
SEATED_HEAD: Final = 1.2
"""Height at which panels on walls do most for talkers that sit [m] (common practice)."""
LEAST_HEADROOM: Final = 2.3
"""Under a raft [m] (common practice)."""
RACK: Final = (0.35, 2.1)
"""Half width and height that a rack or the like takes of a wall [m] (common practice)."""
STEP: Final = 0.3
"""Lines of the net over a ceiling whose edges are not at right angles. [m]"""
GLASS = ("glass", "glaz", "window")

Point: TypeAlias = tuple[float, float]


def bays(room: Room, catalogue: Catalogue) -> tuple[Bay, ...]:
    """Free rectangles of all surfaces, walls first; disjoint on each surface."""
    return (*_wall_bays(room, catalogue), *_ceiling_bays(room, catalogue), *_floor(room, catalogue))


def is_glass(finish: FinishRef) -> bool:
    """Whether a surface is glass by its finish: nothing is fixed to that."""
    return isinstance(finish, str) and any(word in finish for word in GLASS)


def _absorption(catalogue: Catalogue, finish: FinishRef) -> tuple[float, ...]:
    found = finish if isinstance(finish, InlineFinish) else catalogue.finish(finish)
    return found.absorption


# Walls ------------------------------------------------------------------------------------------


def _wall_bays(room: Room, catalogue: Catalogue) -> Iterator[Bay]:
    found: list[Bay] = []
    for name in room.space.walls:
        finish = room.space.wall_finish(name)
        (x0, y0), (x1, y1) = room.space.wall_ends(name)
        length = math.hypot(x1 - x0, y1 - y0)
        low = BESIDE if is_glass(finish) else ABOVE_FLOOR
        whole = Rectangle(BESIDE, low, length - BESIDE, room.space.height - BESIDE)
        for place in free_rectangles(whole, list(_on_wall(room, name)), least=LEAST):
            at_head = place.bottom < SEATED_HEAD < place.top
            absorbing = _absorption(catalogue, finish)
            found.append(Bay("wall", name, place, absorbing, burden=0 if at_head else 4))
    second = _second_of_pairs(room, found)
    for bay in found:
        more = 2 if bay.name in second else 0
        yield Bay(bay.surface, bay.name, bay.rectangle, bay.absorption, burden=bay.burden + more)


def _on_wall(room: Room, wall: str) -> Iterator[Rectangle]:
    """What a wall is not free for, along it and above the floor, margins included."""
    for patch in room.space.finishes.wall_patches.values():
        if patch.wall == wall:
            yield Rectangle(patch.from_, patch.bottom, patch.to, patch.top).grown(BESIDE)
    for item in room.furniture.values():
        if isinstance(item, Display | Screen) and item.wall == wall:
            (along, up), (wide, tall) = item.centre, item.size
            half = wide / 2, tall / 2
            yield Rectangle(along - half[0], up - half[1], along + half[0], up + half[1]).grown(
                BESIDE
            )
        elif isinstance(item, Cupboard | Soft):
            yield from _hidden(room, wall, item.outline, item.height)
    for obstacle in room.space.obstacles.values():
        yield from _hidden(room, wall, obstacle.outline, obstacle.height or room.space.height)
    for fold in room.partitions.values():
        for end in (fold.from_, fold.to):
            yield from _hidden(room, wall, [end], room.space.height, near=BESIDE)
    for place in room.equipment.values():
        along, away = _along(room, wall, place.at)
        if away < AT_WALL + RACK[0]:
            tall = place.at[2] + ROUND_DEVICE if place.kind != "rack" else RACK[1]
            yield Rectangle(along - RACK[0], 0.0, along + RACK[0], tall)
    for device in room.devices.values():
        if device.at is not None:
            along, away = _along(room, wall, device.at)
            if away < AT_WALL:
                z = device.at[2]
                yield Rectangle(along, z, along, z).grown(ROUND_DEVICE)


def _hidden(
    room: Room, wall: str, outline: Sequence[Point], height: float, *, near: float = AT_WALL
) -> Iterator[Rectangle]:
    """Stretch of a wall behind something that stands at it."""
    places = [_along(room, wall, corner) for corner in outline]
    if min(away for _, away in places) < near:
        alongs = [along for along, _ in places]
        yield Rectangle(min(alongs) - BESIDE, 0.0, max(alongs) + BESIDE, height + BESIDE)


def _along(room: Room, wall: str, at: Sequence[float]) -> tuple[float, float]:
    """How far along the line of a wall a point is, and how far from the wall itself. [m]"""
    (x0, y0), (x1, y1) = room.space.wall_ends(wall)
    length = math.hypot(x1 - x0, y1 - y0)
    ux, uy = (x1 - x0) / length, (y1 - y0) / length
    along = (at[0] - x0) * ux + (at[1] - y0) * uy
    on = min(max(along, 0.0), length)
    return along, math.dist(at[:2], (x0 + on * ux, y0 + on * uy))


def _second_of_pairs(room: Room, found: Sequence[Bay]) -> frozenset[str]:
    """Of each two walls that face each other, the one with less free area at head height."""
    area: dict[str, float] = {}
    for bay in found:
        if bay.burden == 0:
            area[bay.name] = area.get(bay.name, 0.0) + bay.rectangle.area
    second: set[str] = set()
    walls = room.space.walls
    for i, one in enumerate(walls):
        for other in walls[i + 1 :]:
            if _face(room, one, other):
                second.add(other if area.get(one, 0.0) >= area.get(other, 0.0) else one)
    return frozenset(second)


def _face(room: Room, one: str, other: str) -> bool:
    """Whether two walls are parallel and stand across from each other."""
    (ax, ay), (bx, by) = room.space.wall_ends(one)
    (cx, cy), (dx, dy) = room.space.wall_ends(other)
    u, v = np.array([bx - ax, by - ay]), np.array([dx - cx, dy - cy])
    u, v = u / np.hypot(*u), v / np.hypot(*v)
    if float(u @ v) > -0.996:  # 5° of splay ends a flutter
        return False
    low, high = sorted((float(np.dot([cx - ax, cy - ay], u)), float(np.dot([dx - ax, dy - ay], u))))
    return min(high, math.hypot(bx - ax, by - ay)) - max(low, 0.0) > LEAST


# Ceiling ----------------------------------------------------------------------------------------


def _ceiling_bays(room: Room, catalogue: Catalogue) -> Iterator[Bay]:
    space = room.space
    absorbing = _absorption(catalogue, space.ceiling_finish)
    tiled = space.ceiling.kind == "tiles"
    if tiled:
        turn = math.radians(space.ceiling.rotation_deg)
    else:
        along = longest_wall(np.asarray(space.outline, dtype=np.float64))
        turn = math.atan2(along[1], along[0])
    into = _turned(-turn)
    outline = into(np.asarray(space.outline, dtype=np.float64))
    taken = list(_at_ceiling(room, into, tiled=tiled))
    cell = space.ceiling.module if tiled else None
    margin = 0.0 if tiled else FROM_WALL
    x, y = _tile_net(room, outline, into) if tiled else _net(outline, taken, margin)
    free = _free_cells(outline, x, y, margin)
    for one in taken:
        rows = (y[1:] > one.bottom + 1e-6) & (y[:-1] < one.top - 1e-6)
        columns = (x[1:] > one.left + 1e-6) & (x[:-1] < one.right - 1e-6)
        free[np.ix_(rows, columns)] = False
    for place in rectangles_of_cells(free, x, y, least=0.0 if tiled else LEAST):
        yield Bay("ceiling", "ceiling", place, absorbing, math.degrees(turn), cell)


def _turned(angle: float) -> Callable[[Array], Array]:
    turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    return lambda points: np.round(np.asarray(points, dtype=np.float64) @ turn, 9)


def _at_ceiling(room: Room, into: Callable[[Array], Array], *, tiled: bool) -> Iterator[Rectangle]:
    """What a ceiling is not free for, in its own axes; a tile beside a luminaire may be changed."""
    space = room.space

    def box(points: Sequence[Sequence[float]], by: float) -> Rectangle:
        corners = into(np.asarray([p[:2] for p in points]))
        (left, bottom), (right, top) = corners.min(axis=0), corners.max(axis=0)
        return Rectangle(float(left), float(bottom), float(right), float(top)).grown(by)

    for one in room.overhead.values():
        yield box(one.outline, 0.0 if tiled else max(one.clearance, ROUND_OVERHEAD))
    for obstacle in space.obstacles.values():
        if obstacle.height is None or obstacle.height > space.height - BELOW_CEILING:
            yield box(obstacle.outline, 0.0 if tiled else FROM_WALL)
    for fold in room.partitions.values():
        yield box([fold.from_, fold.to], 0.05 if tiled else FROM_WALL)
    for patch in space.finishes.level_patches.values():
        if patch.surface == "ceiling":
            yield box(patch.outline, 0.0)
    high = space.height - BELOW_CEILING
    for device in room.devices.values():
        if device.at is not None and device.at[2] > high:
            yield box([device.at], 0.1 if tiled else ROUND_DEVICE)
    for source in room.noise.sources.values():
        if source.at[2] > high:
            yield box([source.at], 0.1 if tiled else ROUND_OUTLET)


def _net(outline: Array, taken: Sequence[Rectangle], margin: float) -> tuple[Array, Array]:
    """Lines of the free net: edges of all there is, finer where the plan is oblique."""
    lines: list[Array] = []
    sides = np.roll(outline, -1, axis=0) - outline
    oblique = bool(np.any(np.abs(sides).min(axis=1) > 1e-6))
    for axis, ends in enumerate(("left right", "bottom top")):
        low, high = outline[:, axis].min() + margin, outline[:, axis].max() - margin
        edges = [getattr(one, end) for one in taken for end in ends.split()]
        corners = outline[:, axis]
        edges += [*(corners - margin), *corners, *(corners + margin)]
        if oblique:
            edges += np.arange(low, high, STEP).tolist()
        inside = [float(e) for e in edges if low < e < high]
        lines.append(np.unique(np.round([low, max(high, low), *inside], 6)))
    return lines[0], lines[1]


def _tile_net(room: Room, outline: Array, into: Callable[[Array], Array]) -> tuple[Array, Array]:
    ceiling = room.space.ceiling
    origin = into(np.asarray([ceiling.origin]))[0]
    lines = []
    for axis in (0, 1):
        side = ceiling.module[axis]
        low, high = outline[:, axis].min(), outline[:, axis].max()
        first = math.ceil((low - origin[axis]) / side - 1e-6)
        last = math.floor((high - origin[axis]) / side + 1e-6)
        lines.append(origin[axis] + side * np.arange(first, max(last, first) + 1))
    return lines[0], lines[1]


def _free_cells(outline: Array, x: Array, y: Array, margin: float) -> np.ndarray:
    """Which cells of a net lie in the plan, so far from its edge, shape (rows, columns)."""
    import shapely

    if len(x) < 2 or len(y) < 2:
        return np.zeros((max(len(y) - 1, 0), max(len(x) - 1, 0)), dtype=bool)
    room = shapely.Polygon(outline).buffer(1e-6 - margin, join_style="mitre")
    left, bottom = np.meshgrid(x[:-1], y[:-1])
    right, top = np.meshgrid(x[1:], y[1:])
    shapely.prepare(room)
    return np.asarray(shapely.covers(room, shapely.box(left, bottom, right, top)), dtype=bool)


# Floor ------------------------------------------------------------------------------------------


def _floor(room: Room, catalogue: Catalogue) -> Iterator[Bay]:
    """All of the floor, where nothing lies on it yet: nobody carpets half a room."""
    space = room.space
    if any(one.surface == "floor" for one in space.finishes.level_patches.values()):
        return
    outline = np.asarray(space.outline, dtype=np.float64)
    (left, bottom), (right, top) = outline.min(axis=0), outline.max(axis=0)
    place = Rectangle(float(left), float(bottom), float(right), float(top))
    yield Bay("floor", "floor", place, _absorption(catalogue, space.floor_finish))
