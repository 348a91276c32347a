"""Outlines of rooms as a room document wants them: simple, anticlockwise, without idle corners."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from wellheard.importers.found import Point, Ring

if TYPE_CHECKING:
    import shapely

MOST_WALLS = 200
"""Of a room document."""
SAME = 1e-3
"""Corners nearer than this are one, and those nearer to a straight line are none. [m]"""
ARC_SAGITTA = 0.005
"""How far the arcs of a room may lie off its walls. [m]"""
SMALLEST, LARGEST = 4.0, 5000.0
"""Floors of rooms. [m²]"""
MOST_CROSSED = 400
"""Corners of an outline that crosses itself and is still untangled."""
NARROWEST = 1.2
"""Way through a room at its widest place. [m]"""


def ring_of(points: Sequence[Point]) -> Ring:
    """Return an outline as a `Ring`; empty where nothing with an area is left.

    Examples
    --------
    >>> ring_of([(0, 0), (0, 3), (2, 3), (4, 3), (4, 0), (0, 0)])
    ((0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (0.0, 3.0))
    """
    corners = _without_idle([(round(float(x), 7), round(float(y), 7)) for x, y in points], SAME)
    if len(corners) < 3:
        return ()
    area = signed_area(corners)
    if abs(area) < SAME * SAME:
        return ()
    if area < 0:
        corners.reverse()
    first = min(range(len(corners)), key=lambda i: (round(sum(corners[i]), 6), corners[i][0]))
    return tuple(corners[first:] + corners[:first])


def signed_area(corners: Sequence[Point]) -> float:
    """Area of an outline, positive anticlockwise; relative to a corner, for plans far off. [m²]"""
    if not corners:
        return 0.0
    x0, y0 = corners[0]
    total = 0.0
    for i, (x, y) in enumerate(corners):
        u, v = corners[(i + 1) % len(corners)]
        total += (x - x0) * (v - y0) - (u - x0) * (y - y0)
    return total / 2


def _without_idle(corners: list[Point], near: float) -> list[Point]:
    """Leave out corners that repeat the one before, or lie on the line between those that stay.

    All that is left out lies within ``near`` [m] of what stays, however many corners a curve has.
    """
    import shapely

    kept: list[Point] = []
    for corner in corners:
        if not kept or math.dist(kept[-1], corner) > near:
            kept.append(corner)
    while len(kept) > 1 and math.dist(kept[0], kept[-1]) <= near:
        kept.pop()
    if len(kept) < 4:
        return kept
    # From a corner that is one for certain: the farthest in one direction.
    first = min(range(len(kept)), key=lambda i: (sum(kept[i]), kept[i][0]))
    around = [*kept[first:], *kept[: first + 1]]
    straight = shapely.LineString(around).simplify(near, preserve_topology=False)
    return [(x, y) for x, y in straight.coords[:-1]]


def shell_of(polygon: Any) -> Ring:
    """Return the outer outline of a polygon."""
    return ring_of([(x, y) for x, y, *_ in polygon.exterior.coords[:-1]])


def simple(points: Sequence[Point]) -> tuple[Ring, bool]:
    """Return an outline that does not cross itself, and whether one did.

    Of a figure of eight the larger part stays.
    """
    import shapely

    ring = ring_of(points)
    if not ring:
        return (), False
    polygon = shapely.Polygon(ring)
    if polygon.is_valid:
        return ring, False
    if len(ring) > MOST_CROSSED:
        return (), True
    cut = shapely.unary_union(polygon.exterior)
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(cut)))
    if not len(faces):
        return (), True
    return shell_of(max(faces, key=lambda face: face.area)), True


def few_enough(ring: Ring) -> tuple[Ring, float]:
    """Return an outline of at most as many walls as a document holds, and how far it is off. [m]"""
    import shapely

    off = 0.0
    fewer = ring
    while len(fewer) > MOST_WALLS:
        off = off * 2 or ARC_SAGITTA
        line = shapely.Polygon(ring).simplify(off)
        if line.geom_type != "Polygon" or off > 1.0:
            return (), off
        fewer = shell_of(line)
    return fewer, off


def fits_a_room(polygon: shapely.Polygon) -> bool:
    """Whether something has the floor of a room, and is no slot between the faces of a wall."""
    return SMALLEST <= polygon.area <= LARGEST and not polygon.buffer(-NARROWEST / 2).is_empty
