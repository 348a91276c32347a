"""A room in the coordinates of its file to one in those of a room document."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from itertools import pairwise

from wellheard.importers.found import FoundGrid, FoundRoom, Point, Ring

STRAIGHT_DEG = 0.02
"""Walls this near to the axes are not turned: 2 mm over 6 m. [deg]"""


def stood(room: FoundRoom, *, straighten: bool = True) -> FoundRoom:
    """Return a room with its walls along the axes and its lower left corner at the origin.

    The direction that most metres of wall have, modulo a right angle, becomes that of x or y,
    whichever is nearer. A room of our own is only moved to its datum.

    Parameters
    ----------
    room : FoundRoom
        In the coordinates of the file.
    straighten : bool
        False only moves.

    Examples
    --------
    >>> around = ((1.0, 0.0), (4.0, 3.0), (2.0, 5.0), (-1.0, 2.0))
    >>> straight = stood(FoundRoom("1", "", around, "by hand"))
    >>> [f"{x:.3f} {abs(y):.3f}" for x, y in straight.outline], straight.turned_deg
    (['0.000 0.000', '4.243 0.000', '4.243 2.828', '0.000 2.828'], -45.0)
    """
    if room.owned:
        return _moved(room, room.datum, 0.0)
    turn = -leaning_deg(room.outline) if straighten else 0.0
    if abs(turn) < STRAIGHT_DEG:
        turn = 0.0
    turned = [_turned(point, turn) for point in room.outline]
    low = (min(x for x, _ in turned), min(y for _, y in turned))
    return _moved(room, _turned(low, -turn), turn)


def leaning_deg(outline: Ring) -> float:
    """Return by how much the walls of an outline lean from the axes, −45 < angle ≤ 45. [deg]

    Examples
    --------
    >>> leaning_deg(((0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (0.0, 3.0)))
    0.0
    """
    metres: Counter[int] = Counter()
    for (ax, ay), (bx, by) in pairwise((*outline, outline[0])):
        angle = math.degrees(math.atan2(by - ay, bx - ax)) % 90.0
        metres[round(angle * 1000) % 90000] += round(1e6 * math.hypot(bx - ax, by - ay))
    if not metres:
        return 0.0
    likeliest = max(metres.values())
    angle = min(key for key, length in metres.items() if length == likeliest) / 1000
    return angle if angle <= 45.0 else angle - 90.0


def _turned(point: Point, degrees: float) -> Point:
    if not degrees:
        return point
    angle = math.radians(degrees)
    c, s = math.cos(angle), math.sin(angle)
    return point[0] * c - point[1] * s, point[0] * s + point[1] * c


def _moved(room: FoundRoom, datum: Point, turn: float) -> FoundRoom:
    def placed(point: Point) -> Point:
        return _turned((point[0] - datum[0], point[1] - datum[1]), turn)

    def ring(outline: Ring) -> Ring:
        return tuple(placed(point) for point in outline)

    grid = room.grid
    return replace(
        room,
        outline=ring(room.outline),
        datum=datum,
        turned_deg=turn,
        grid=grid and FoundGrid(grid.module, placed(grid.origin), grid.rotation_deg + turn),
        things=tuple(
            replace(thing, outline=ring(thing.outline), at=placed(thing.at))
            for thing in room.things
        ),
        seats=tuple(
            replace(
                seat,
                at=placed(seat.at),
                facing_deg=None if seat.facing_deg is None else (seat.facing_deg + turn) % 360.0,
            )
            for seat in room.seats
        ),
        devices=tuple(
            replace(device, at=(*placed(device.at[:2]), device.at[2])) for device in room.devices
        ),
    )
