"""Places as they are set out with a tape: so far from one wall, so far from another.

::

        │←─ first ─→●
        │           ↑
      west        second
        │           ↓
        └───── south ──────

Distances are perpendicular to the line of a wall. A room with a straight wall on its west and on
its south side is set out from these two; in any other a place is set out from the two nearest
walls that it lies before and that are not nearly parallel.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import TypeAlias

import numpy as np

from wellheard.arrays import Array
from wellheard.geometry.points import distance_to_edges
from wellheard.geometry.polygons import TOUCH, edge_lengths, edge_normals, edge_vectors

Plan: TypeAlias = tuple[float, float]
Corners: TypeAlias = tuple[Plan, ...]

EXACT = 1e-6
"""A distance this near to a whole number of steps is one: documents are written to this. [m]"""
CROSSING = math.sin(math.radians(30))
"""Two walls that meet at less are nearly parallel: a small slip along them is a large one."""
LONG_ENOUGH = 0.3
"""A wall shorter than this is nothing to measure from. [m]"""


@dataclass(frozen=True)
class Ties:
    """Two walls that places are set out from.

    Parameters
    ----------
    walls : (int, int)
        Indices of edges of the outline.
    anchors : 2 points
        One point of each. [m]
    normals : 2 unit vectors
        Of each, into the room.
    """

    walls: tuple[int, int]
    anchors: tuple[Plan, Plan]
    normals: tuple[Plan, Plan]

    @property
    def square(self) -> bool:
        """Whether these are the walls on the west and on the south side."""
        return self.normals == ((1.0, 0.0), (0.0, 1.0))

    def distances(self, at: Plan) -> tuple[float, float]:
        """Distances of a place from both walls. [m]"""
        first, second = (
            (at[0] - anchor[0]) * normal[0] + (at[1] - anchor[1]) * normal[1]
            for anchor, normal in zip(self.anchors, self.normals, strict=True)
        )
        return first, second

    def place(self, first: float, second: float) -> Plan:
        """Place at these distances from both walls. [m]"""
        (ax, ay), (bx, by) = self.normals
        u = first + self.anchors[0][0] * ax + self.anchors[0][1] * ay
        v = second + self.anchors[1][0] * bx + self.anchors[1][1] * by
        turn = ax * by - ay * bx
        return (u * by - v * ay) / turn, (ax * v - bx * u) / turn

    def on_step(self, at: Plan, step: float) -> bool:
        """Whether a place is at whole numbers of steps from both walls."""
        return all(abs(d - step * round(d / step)) < EXACT for d in self.distances(at))


def ties_of(outline: Corners, at: Plan, step: float) -> Ties:
    """Walls that a place is set out from; the nearest of which it is whole steps away, if any are.

    Parameters
    ----------
    outline : corners, counter-clockwise
        [m]
    at : point
        [m]
    step : float
        Of the tape. [m]

    Examples
    --------
    >>> room = ((0.0, 0.0), (6.0, 0.0), (6.0, 4.0), (0.0, 4.0))
    >>> found = ties_of(room, (2.1, 1.8), 0.005)
    >>> found.walls, found.distances((2.1, 1.8))
    ((3, 0), (2.1, 1.8))
    """
    found = list(_pairs(outline, at))
    return next((one for one in found if one.on_step(at, step)), found[0])


def places_near(outline: Corners, at: Plan, step: float) -> tuple[Plan, ...]:
    """Places at whole steps from two walls round a place, the nearest first.

    One, where the place is such a place itself; else the four round it.

    Parameters
    ----------
    outline : corners, counter-clockwise
        [m]
    at : point
        [m]
    step : float
        [m]

    Examples
    --------
    >>> room = ((0.0, 0.0), (6.0, 0.0), (6.0, 4.0), (0.0, 4.0))
    >>> places_near(room, (2.101, 1.8), 0.005)
    ((2.1, 1.8), (2.105, 1.8))
    """
    ties = next(_pairs(outline, at))
    first, second = (_steps(d, step) for d in ties.distances(at))
    found = [ties.place(a, b) for a, b in itertools.product(first, second)]
    return tuple(sorted(found, key=lambda one: math.dist(one, at)))


def _steps(distance: float, step: float) -> tuple[float, ...]:
    """The whole steps on both sides of a distance; the one that it is."""
    nearest = round(distance / step)
    if abs(distance - step * nearest) < EXACT:
        return (_tidy(step * nearest),)
    below = math.floor(distance / step)
    return _tidy(step * below), _tidy(step * (below + 1))


def _tidy(metres: float) -> float:
    """The float that a document's figure would be read as."""
    return round(metres, 9)


def _pairs(outline: Corners, at: Plan) -> Iterator[Ties]:
    """Pairs of walls for one place, in the order in which they are preferred; at least one."""
    square = _west_and_south(outline)
    if square is not None:
        yield square
        return
    corners = np.asarray(outline, dtype=np.float64)
    away = distance_to_edges(np.asarray(at), corners)
    along = edge_vectors(corners) / edge_lengths(corners)[:, None]
    share = ((np.asarray(at) - corners) * along).sum(axis=1)
    before = (share >= -TOUCH) & (share <= edge_lengths(corners) + TOUCH)
    long = edge_lengths(corners) >= LONG_ENOUGH
    order = [int(i) for i in np.argsort(away, kind="stable")]
    tried = (
        [i for i in order if before[i] and long[i]],
        [i for i in order if long[i]],
        order,
    )
    for indices in tried:
        found = [
            (i, j)
            for i, j in itertools.combinations(indices, 2)
            if abs(along[i][0] * along[j][1] - along[i][1] * along[j][0]) >= CROSSING
        ]
        if found:
            found.sort(key=lambda pair: sorted((away[pair[0]], away[pair[1]]), reverse=True))
            yield from (_ties(outline, i, j) for i, j in found)
            return
    # A closed outline turns through 360°: two of its edges do cross, if only just.
    first = order[0]
    turn = np.abs(along[first][0] * along[:, 1] - along[first][1] * along[:, 0])
    yield _ties(outline, first, int(np.argmax(turn)))


@lru_cache(maxsize=64)
def _west_and_south(outline: Corners) -> Ties | None:
    """The walls on the west and on the south side, where both are straight along the axes."""
    corners = np.asarray(outline, dtype=np.float64)
    sides = []
    for axis in (0, 1):
        low = corners[:, axis].min()
        after = np.roll(corners, -1, axis=0)
        on = (np.abs(corners[:, axis] - low) < TOUCH) & (np.abs(after[:, axis] - low) < TOUCH)
        lengths = np.where(on, edge_lengths(corners), 0.0)
        if lengths.max() < LONG_ENOUGH:
            return None
        sides.append(int(np.argmax(lengths)))
    west, south = sides
    return Ties((west, south), (outline[west], outline[south]), ((1.0, 0.0), (0.0, 1.0)))


@lru_cache(maxsize=4096)
def _ties(outline: Corners, first: int, second: int) -> Ties:
    normals: Array = edge_normals(np.asarray(outline, dtype=np.float64))
    (ax, ay), (bx, by) = normals[first].tolist(), normals[second].tolist()
    return Ties((first, second), (outline[first], outline[second]), ((ax, ay), (bx, by)))
