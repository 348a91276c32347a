"""People round a table, and things with an outline made longer or deeper.

A place at a table is 0.6 m of its edge at least and 0.75 m at ease, and a mouth is 0.3 m off the
edge (common practice, no source [C]). Lengths are metres.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, TypeAlias

from wellheard.forms.refusals import listed
from wellheard.room.adding import new_seat, tidy
from wellheard.room.document import Room
from wellheard.room.furniture import Cupboard, Soft, Table
from wellheard.room.moving import Item, Point, put
from wellheard.room.new import FITS, MOUTH
from wellheard.room.refused import OperationError, unknown
from wellheard.room.typed import EXACT

Corners: TypeAlias = tuple[Point, ...]

PITCHES = tuple(dict.fromkeys(pitch for pitch, _, _ in FITS))
"""Edge of a table for each person, from at ease to tight. [m]"""
BEHIND = FITS[-1][2]
"""Least room from a mouth to the wall behind it. [m]"""
TAKEN = 0.5
"""A place is taken when somebody sits nearer than this. [m]"""
AT_THE_TABLE = 0.8
"""Who sits within this of a table's edge sits at it. [m]"""
MOST_AT_ONCE = 100
SIDES = ("length", "depth")
"""What an outline may be given: along its first side, and across."""


def seated_around(room: Room, table: str, count: int) -> tuple[Room, tuple[str, ...]]:
    """Room with up to so many more seats round a table, and the paths of those that fitted.

    Sides are filled evenly, the longest first, at 0.75 m a person if that does and else at 0.6 m.
    Who sits there already keeps the place; spots by a wall, in another piece of furniture or where
    somebody sits are left out.

    Raises
    ------
    OperationError
        There is no such table, or not a single seat fits.
    """
    item = room.furniture.get(table)
    if item is None:
        raise unknown(("furniture", table), table, list(room.furniture))
    where = f"furniture.{table}"
    if not isinstance(item, Table):
        raise OperationError(where, f"{table} is a {item.kind}", "a table")
    if not 1 <= count <= MOST_AT_ONCE:
        raise OperationError("count", f"{count} seats", f"1 to {MOST_AT_ONCE}")
    near = [s for s in room.people.seats.values() if _off_edge(item.outline, s.at) < AT_THE_TABLE]
    spots = _free_spots(room, table, item.outline, count, len(near))
    if not spots:
        raise OperationError(
            where, "no seat fits", "a longer table, or more room between it and the walls"
        )
    created = []
    for spot in spots[:count]:
        at = (tidy(spot[0], room), tidy(spot[1], room))
        seat = new_seat(room, at, near or room.people.seats.values())
        room = put(room, seat)
        created.append(seat.path)
    return room, tuple(created)


def _free_spots(room: Room, table: str, outline: Corners, count: int, seated: int) -> list[Point]:
    """Free spots of the loosest layout that has so many, else of the one that has most."""
    best: list[Point] = []
    for total in range(count + seated, count + seated + MOST_AT_ONCE):
        spots = spots_round(outline, total)
        if len(spots) < total and best:
            break
        free = [at for at in spots if _is_free(room, table, at)]
        if len(free) > len(best):
            best = free
        if len(best) >= count or len(spots) < total:
            break
    return best


def spots_round(outline: Sequence[Point], count: int) -> list[Point]:
    """Places of so many mouths round a table, or of as many as fit, in order round its edge.

    Parameters
    ----------
    outline : sequence of (float, float)
        Of the table, either way round. [m]
    count : int
        How many are wished.

    Examples
    --------
    >>> spots_round(((0, 0), (3.2, 0), (3.2, 1.2), (0, 1.2)), 2)
    [(1.6, -0.3), (1.6, 1.5)]
    """
    sides = _sides(outline)
    seats = _shares([length for _, _, _, length in sides], count)
    spots = []
    for (start, along, out, length), places in zip(sides, seats, strict=True):
        for i in range(places):
            t = length * (i + 0.5) / places
            x = start[0] + along[0] * t + out[0] * MOUTH
            y = start[1] + along[1] * t + out[1] * MOUTH
            spots.append((round(x, 4) + 0.0, round(y, 4) + 0.0))
    return spots


_Side: TypeAlias = tuple[Point, Point, Point, float]


def _sides(outline: Sequence[Point]) -> list[_Side]:
    """Start, direction, way out and length of each side."""
    count = len(outline)
    pairs = [(outline[i], outline[(i + 1) % count]) for i in range(count)]
    turn = 1.0 if sum(a[0] * b[1] - b[0] * a[1] for a, b in pairs) > 0 else -1.0
    sides = []
    for a, b in pairs:
        length = math.dist(a, b)
        if length:
            ux, uy = (b[0] - a[0]) / length, (b[1] - a[1]) / length
            sides.append((a, (ux, uy), (turn * uy, -turn * ux), length))
    return sides


def _shares(lengths: Sequence[float], count: int) -> list[int]:
    """How many sit at each side: the longest first, sides of one length alike."""
    for pitch in PITCHES:
        fits = [math.floor(length / pitch + 1e-6) for length in lengths]
        if sum(fits) >= count:
            break
    shares, left = [0] * len(lengths), count
    for size in sorted({round(length, 2) for length in lengths}, reverse=True):
        alike = [i for i, length in enumerate(lengths) if round(length, 2) == size]
        while left and any(shares[i] < fits[i] for i in alike):
            i = min((i for i in alike if shares[i] < fits[i]), key=lambda i: shares[i])
            shares[i] += 1
            left -= 1
    return shares


def _off_edge(outline: Corners, at: Point) -> float:
    import numpy as np

    from wellheard import geometry

    polygon, point = np.array(outline, dtype=float), np.array([at], dtype=float)
    return float(geometry.distance_outside(polygon, point)[0])


def _is_free(room: Room, table: str, at: Point) -> bool:
    import numpy as np

    from wellheard import geometry

    polygon, point = np.array(room.space.outline, dtype=float), np.array([at], dtype=float)
    if not geometry.contains_points(polygon, point).all():
        return False
    if geometry.distance_to_edges(point, polygon).min() < BEHIND - 1e-6:
        return False
    if any(math.dist(seat.at, at) < TAKEN for seat in room.people.seats.values()):
        return False
    solid = [f.outline for f in room.furniture.values() if isinstance(f, Table | Soft | Cupboard)]
    solid += [o.outline for o in room.space.obstacles.values()]
    return all(_off_edge(outline, at) > 0 for outline in solid)


def resized(item: Item, side: str, length: float) -> Item:
    """Item whose outline is so long along its first side, or so deep across, about its middle.

    Raises
    ------
    OperationError
        It has no outline, or the length is none.
    """
    outline = getattr(item.thing, "outline", None)
    if outline is None:
        raise OperationError(item.path, f"{item.id} has no outline", "an item with one")
    if side not in SIDES:
        raise OperationError(item.path, f"no side {side}", listed(SIDES))
    if not (math.isfinite(length) and 0.01 <= length <= 200):
        raise OperationError(f"{item.path}.outline.{side}", "no such size", "0.01 m to 200 m")
    (ux, uy), (low, high) = axis(outline, side)
    factor, middle = length / (high - low), (low + high) / 2

    def stretched(x: float, y: float) -> Point:
        by = (factor - 1) * (x * ux + y * uy - middle)
        return round(x + by * ux, EXACT) + 0.0, round(y + by * uy, EXACT) + 0.0

    fresh: dict[str, Any] = {"outline": tuple(stretched(x, y) for x, y in outline)}
    return Item(item.collection, item.id, item.thing.model_copy(update=fresh))


def axis(outline: Sequence[Point], side: str) -> tuple[Point, tuple[float, float]]:
    """Direction of a side of an outline, and how far the outline reaches along it. [m]

    Examples
    --------
    >>> axis(((1, 1), (3, 1), (3, 2), (1, 2)), "depth")
    ((-0.0, 1.0), (1.0, 2.0))
    """
    (x0, y0), (x1, y1) = outline[0], outline[1]
    size = math.dist((x0, y0), (x1, y1)) or 1.0
    ux, uy = (x1 - x0) / size, (y1 - y0) / size
    if side == "depth":
        ux, uy = -uy, ux
    reach = [x * ux + y * uy for x, y in outline]
    return (ux, uy), (min(reach), max(reach))
