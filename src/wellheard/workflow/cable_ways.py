"""Ways of the cables of a document, for drawings that are in space."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np

from wellheard.drawings.view import CableMark, Point3
from wellheard.geometry.rectilinear import Ways, main_direction
from wellheard.room.document import Room
from wellheard.schedules.cables import CableRow

SAME = 1e-3
"""Ends no further apart are one place: a cord inside a rack has no way to draw. [m]"""


class CableWays:
    """How the cables of one room are drawn.

    A cord lies where it likes; it is drawn along the room and across it at the height of its
    lower end, round corners and columns, as whoever lays it would. How long it has to be is
    another matter: that is the straight distance between its ends.
    """

    def __init__(self, room: Room) -> None:
        self._room = room

    @cached_property
    def _floor(self) -> Ways:
        space = self._room.space
        outline = np.asarray(space.outline)
        solids = [(np.asarray(one.outline), 0.0) for one in space.obstacles.values()]
        return Ways(outline, solids, direction=main_direction(outline))

    def of(self, row: CableRow) -> tuple[Point3, ...]:
        """Corners from end to end; none where the way is not known, or there is none. [m]"""
        route = row.run.route
        if len(route) < 2 or all(_apart(route[0], corner) < SAME for corner in route):
            return ()
        return self._squared(*route) if row.is_cord and len(route) == 2 else route

    def _squared(self, one: Point3, other: Point3) -> tuple[Point3, ...]:
        way = self._floor.way(one[:2], other[:2])
        if way is None:
            return one, other
        level = min(one[2], other[2])
        corners = [one, *((x, y, level) for x, y in way.corners), other]
        return tuple(
            corner
            for k, corner in enumerate(corners)
            if k == 0 or _apart(corners[k - 1], corner) >= SAME
        )


def _apart(one: Point3, other: Point3) -> float:
    return float(np.linalg.norm(np.subtract(one, other)))


def cable_marks(room: Room, rows: Sequence[CableRow]) -> tuple[CableMark, ...]:
    """Every cable of a schedule whose way is known, by its number on it."""
    ways = CableWays(room)
    routes = [(row, ways.of(row)) for row in rows]
    return tuple(CableMark(row.id, row.number, route) for row, route in routes if route)
