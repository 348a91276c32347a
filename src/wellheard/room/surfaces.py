"""Where on which wall something is, and where a wall is free. Lengths are metres."""

from __future__ import annotations

import math

from wellheard.room.document import Room
from wellheard.room.moving import Point
from wellheard.room.typed import EXACT


def nearest_on_wall(room: Room, at: Point) -> tuple[str, float, float]:
    """Wall that is nearest to a point, how far along it that is, and the wall's length. [m]"""
    best: tuple[str, float, float] | None = None
    nearest = math.inf
    for name in room.space.walls:
        (x0, y0), (x1, y1) = room.space.wall_ends(name)
        length = math.dist((x0, y0), (x1, y1))
        if not length:
            continue
        ux, uy = (x1 - x0) / length, (y1 - y0) / length
        along = min(max((at[0] - x0) * ux + (at[1] - y0) * uy, 0.0), length)
        away = math.dist(at, (x0 + ux * along, y0 + uy * along))
        if away < nearest - 1e-9:
            nearest, best = away, (name, along, length)
    assert best is not None  # a room has walls
    return best


def stretch_free(
    room: Room, wall: str, along: float, width: float, bottom: float, top: float
) -> float | None:
    """Start of the free stretch of a wall that lies nearest to a point on it. [m]

    Patches do not overlap; ``None``: there is no such stretch.
    """
    (x0, y0), (x1, y1) = room.space.wall_ends(wall)
    length: float = math.dist((x0, y0), (x1, y1))
    if bottom >= top or width > length + 1e-9:
        return None
    taken = [
        (p.from_, p.to)
        for p in room.space.finishes.wall_patches.values()
        if p.wall == wall and min(p.top, top) > max(p.bottom, bottom)
    ]
    wanted: float = min(max(along - width / 2, 0.0), length - width)
    edges = [end for _, end in taken] + [start - width for start, _ in taken]
    starts = [s for s in (wanted, *edges) if -1e-9 <= s <= length - width + 1e-9]
    free = [s for s in starts if all(s + width <= a + 1e-9 or s >= b - 1e-9 for a, b in taken)]
    if not free:
        return None
    nearest = min((abs(start - wanted), start) for start in free)[1]
    return max(round(nearest, EXACT), 0.0)
