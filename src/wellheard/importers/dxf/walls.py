"""Rooms between walls: the faces that lines and arcs enclose, with gaps at doors bridged.

Walls may be drawn as single lines, or with both faces and jambs. The lines are cut where they
cross, and every face wide enough to stand in is a room. A face of a wall that stops at a door is
carried on to where the wall goes on.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from wellheard.importers.found import Point
from wellheard.importers.outlines import SMALLEST, fits_a_room

if TYPE_CHECKING:
    import shapely

SNAP = 0.006
"""Ends nearer than this to a line meet it. [m]"""
GRID = 1e-4
"""Lines are cut on a raster this fine. [m]"""
DOORWAY = 1.3
"""Widest gap at one leaf of a door, its frame included. [m]"""
WIDEST = 8.0
"""Widest gap at a window or at several leaves. [m]"""
SHORTEST = 0.4
"""Shorter gaps are no doorways. [m]"""
BESIDE = 0.35
"""How far a door or window may stand off the gap that it fills. [m]"""

MOST_CROSSINGS = 400_000
"""Of walls; a plan that crosses more often than that is none of rooms."""

Box = tuple[float, float, float, float]
Line = tuple[Point, Point]


@dataclass(frozen=True, slots=True)
class Faces:
    """Enclosed floors, and the gaps that were bridged to enclose them."""

    polygons: tuple[shapely.Polygon, ...]
    bridges: tuple[Line, ...]


def enclosed(paths: Sequence[Sequence[Point]], fillings: Sequence[Box], *, bare: bool) -> Faces:
    """Find the floors that lines enclose.

    Parameters
    ----------
    paths : sequence of paths
        Lines and arcs of walls. [m]
    fillings : sequence of boxes (left, bottom, right, top)
        Doors and windows. [m]
    bare : bool
        Also bridge doorways without a door.

    Notes
    -----
    Lines that cross one another very often enclose none, neither do lines
    that end more than a few millimetres short of each other.
    """
    import numpy as np
    import shapely

    lines = [(a, b) for path in paths for a, b in itertools.pairwise(path) if a != b]
    if len(lines) < 3:
        return Faces((), ())
    near = (lines[0][0][0], lines[0][0][1])  # a plan far from zero would lose digits
    array = np.asarray(lines) - near
    if _crossings(array) > MOST_CROSSINGS:
        return Faces((), ())
    array = _snapped(array)
    bridges = _bridges(array, np.asarray(fillings, float).reshape(-1, 4) - (near + near), bare)
    everything = np.concatenate((array, bridges)) if len(bridges) else array
    cut = shapely.unary_union(shapely.linestrings(everything), grid_size=GRID)
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(cut)))
    wide = [face for face in faces if face.area >= SMALLEST and fits_a_room(face)]
    moved = [shapely.transform(face, lambda at: at + near) for face in wide]
    return Faces(
        tuple(moved),
        tuple(((a[0], a[1]), (b[0], b[1])) for a, b in (bridges + near).tolist()),
    )


def _crossings(lines: Any) -> float:
    """About how often lines cross one another, by a few of them."""
    import shapely

    shapes = shapely.linestrings(lines)
    tree = shapely.STRtree(shapes)
    some = shapes[:: max(1, len(shapes) // 200)]
    return len(tree.query(some, predicate="intersects")[0]) / len(some) * len(shapes) / 2


def _snapped(lines: Any) -> Any:
    """Move ends that nearly meet another line onto it."""
    import numpy as np
    import shapely

    ends = lines.reshape(-1, 2)
    keys = np.round(ends / SNAP).astype(np.int64)
    _, inverse, counts = np.unique(keys, axis=0, return_inverse=True, return_counts=True)
    # Ends in one cell of the raster become one point: their first.
    first = np.full(len(counts), -1)
    order = np.arange(len(ends))[::-1]
    first[inverse.reshape(-1)[order]] = order
    joined = ends[first[inverse.reshape(-1)]].copy()
    tree = shapely.STRtree(shapely.linestrings(lines))
    free = np.flatnonzero(counts[inverse.reshape(-1)] == 1)
    points = shapely.points(joined[free])
    ours, others = tree.query(points, predicate="dwithin", distance=SNAP)
    for k, other in zip(ours.tolist(), others.tolist(), strict=True):
        end = int(free[k])
        if other != end // 2:
            joined[end] = _nearest(joined[end], lines[other])
    fresh = joined.reshape(-1, 2, 2)
    return fresh[np.hypot(*(fresh[:, 1] - fresh[:, 0]).T) > GRID]


def _nearest(point: Any, line: Any) -> Any:
    """Nearest point of a line, an end of it where that is as near as they are joined."""
    import numpy as np

    for end in line:
        if np.hypot(*(point - end)) <= SNAP:
            return end
    along = line[1] - line[0]
    part = float((point - line[0]) @ along / (along @ along))
    return line[0] + min(1.0, max(0.0, part)) * along


def _bridges(lines: Any, fillings: Any, bare: bool) -> Any:
    """Lines across the gaps where a door or window stands, or any narrow one where ``bare``."""
    import numpy as np
    import shapely

    along = lines[:, 1] - lines[:, 0]
    length = np.hypot(*along.T)
    starts = np.concatenate((lines[:, 1], lines[:, 0]))
    ways = np.concatenate((along, -along)) / np.concatenate((length, length))[:, None]
    long = np.concatenate((length, length)) >= 0.15  # jambs and steps of curves lead nowhere
    own = np.concatenate((np.arange(len(lines)), np.arange(len(lines))))
    boxes = [shapely.box(*box).buffer(BESIDE) for box in fillings]
    tree = shapely.STRtree(boxes)
    points = np.asarray(shapely.points(starts))
    chosen = np.flatnonzero(long)
    if not bare:
        at_door = np.unique(tree.query(points[chosen], predicate="intersects")[0])
        chosen = chosen[at_door]
    shapes = shapely.STRtree(shapely.linestrings(lines))
    found: dict[tuple[int, ...], Any] = {}
    for k in chosen.tolist():
        end = _goes_on(lines, shapes, starts[k], ways[k], int(own[k]), DOORWAY if bare else WIDEST)
        if end is None:
            continue
        gap = shapely.LineString([starts[k], end])
        if gap.length < SHORTEST:
            continue
        if not bare and not _filled(gap, boxes, tree):
            continue
        ends = sorted(tuple(np.round(at / 0.01).astype(int)) for at in (starts[k], end))
        found.setdefault((*ends[0], *ends[1]), (starts[k], end))
    return np.asarray(list(found.values())).reshape(-1, 2, 2)


def _filled(gap: Any, boxes: list[Any], tree: Any) -> bool:
    """Whether doors and windows stand along nearly all of a gap."""
    import shapely

    near = [boxes[i] for i in tree.query(gap, predicate="intersects").tolist()]
    if not near:
        return False
    return shapely.intersection(gap, shapely.union_all(near)).length >= 0.9 * gap.length


def _goes_on(lines: Any, tree: Any, start: Any, way: Any, own: int, reach: float) -> Any:
    """Where a wall's face goes on beyond a gap: at the next line that it runs into."""
    import numpy as np
    import shapely

    ray = shapely.LineString([start + 0.02 * way, start + reach * way])
    best, at = math.inf, None
    for other in tree.query(ray, predicate="dwithin", distance=0.02).tolist():
        if other == own:
            continue
        a, b = lines[other] - start
        u = b - a
        side_a, side_b = way[0] * a[1] - way[1] * a[0], way[0] * b[1] - way[1] * b[0]
        if abs(side_a) <= 0.02 and abs(side_b) <= 0.02:  # in line with it
            ends = sorted((float(end @ way), i) for i, end in enumerate((a, b)))
            if ends[0][0] < 0.02 < ends[1][0]:
                return None  # it does go on
            step, place = ends[0][0], lines[other][ends[0][1]]
        elif side_a * side_b <= 0 or min(abs(side_a), abs(side_b)) <= 0.005:
            part = min(1.0, max(0.0, side_a / (side_a - side_b)))
            step, place = float((a + part * u) @ way), start + a + part * u
        else:
            continue
        if 0.02 <= step < best:
            best, at = step, place
    return None if at is None or best > reach else np.asarray(at)
