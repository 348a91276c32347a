"""A polygon cut by straight lines into cells, each edge with the line or side it came from.

Everything is joined by corners that are shared exactly: an end of a line that is near a side, a
corner or another line is moved onto it, so that no cell has a gap and none a sliver.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

Point = tuple[float, float]
Side = tuple[int, int, int]
"""From corner, to corner, and owner."""


@dataclass(frozen=True, slots=True)
class Cell:
    """One piece of the polygon, counter-clockwise.

    ``owners[i]`` is what the edge from corner *i* to the next lies on: below the number of sides
    of the polygon that side, from there on the cutting line, in the order given.
    """

    corners: tuple[Point, ...]
    owners: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Division:
    """The cells, and the lines that (or parts of which) have the same cell on both sides."""

    cells: tuple[Cell, ...]
    idle: tuple[int, ...]


def divide(
    outline: Sequence[Point], lines: Sequence[tuple[Point, Point]], *, tolerance: float
) -> Division:
    """Cells of a simple polygon cut by straight lines.

    Parameters
    ----------
    outline : sequence of (x, y)
        Counter-clockwise corners. [m]
    lines : sequence of ((x, y), (x, y))
        Each inside the polygon, end to end. [m]
    tolerance : float
        An end this near to a corner, a side or another line is on it. [m]

    Returns
    -------
    Division
        Cells by their lowest x, then their lowest y, then their middle. Neighbouring edges on
        one line are one edge. A line that ends in mid air, lies in a side or on another line
        is idle.

    Examples
    --------
    >>> box = [(0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (0.0, 3.0)]
    >>> west, east = divide(box, [((1.0, 0.0), (1.0, 3.0))], tolerance=1e-3).cells
    >>> west.corners, west.owners
    (((0.0, 0.0), (1.0, 0.0), (1.0, 3.0), (0.0, 3.0)), (0, 4, 2, 3))
    >>> divide(box, [((1.0, 0.0), (1.0, 2.0))], tolerance=1e-3).idle
    (0,)
    """
    net = _Net(outline, lines, tolerance)
    sides = list(net.sides())
    faces = [
        face
        for face in _faces(sides, net.corners)
        if _area([net.corners[u] for u, _, _ in face]) > 0
    ]
    home = {side: i for i, face in enumerate(faces) for side in face}
    between: list[list[tuple[int | None, int | None]]] = [[] for _ in lines]
    for u, v, owner in sides:
        if owner >= len(outline):
            both = home.get((u, v, owner)), home.get((v, u, owner))
            between[owner - len(outline)].append(both)
    idle = tuple(
        k
        for k, pairs in enumerate(between)
        if not pairs or any(None in pair or pair[0] == pair[1] for pair in pairs)
    )
    cells = sorted((_cell(face, net.corners) for face in faces), key=_order)
    return Division(tuple(cells), idle)


class _Net:
    """Corners shared by sides and lines, and where along each of them they lie."""

    def __init__(
        self, outline: Sequence[Point], lines: Sequence[tuple[Point, Point]], tolerance: float
    ) -> None:
        self.corners: list[Point] = [(float(x), float(y)) for x, y in outline]
        self.tolerance = tolerance
        count = len(self.corners)
        self.straight: list[tuple[Point, Point]] = [
            (self.corners[i], self.corners[(i + 1) % count]) for i in range(count)
        ]
        self.outer = count
        self.on: list[set[int]] = [{i, (i + 1) % count} for i in range(count)]
        self.straight += [(_floats(a), _floats(b)) for a, b in lines]
        self.on += [set() for _ in lines]
        for k in range(count, len(self.straight)):
            for end in self.straight[k]:
                self.on[k].add(self._anchored(end, but=k))
        self._cross()
        for k in range(count, len(self.straight)):
            for i, corner in enumerate(self.corners):
                if _distance(corner, self.straight[k]) <= tolerance:
                    self.on[k].add(i)

    def _corner(self, point: Point) -> int:
        for i, known in enumerate(self.corners):
            if math.dist(point, known) <= self.tolerance:
                return i
        self.corners.append(point)
        return len(self.corners) - 1

    def _anchored(self, end: Point, *, but: int) -> int:
        """Corner at an end: one that is there, else the nearest place of a side or a line."""
        if any(math.dist(end, known) <= self.tolerance for known in self.corners):
            return self._corner(end)
        for k, straight in enumerate(self.straight):
            if k != but and _distance(end, straight) <= self.tolerance:
                corner = self._corner(_nearest(end, straight))
                self.on[k].add(corner)
                return corner
        return self._corner(end)

    def _cross(self) -> None:
        for k in range(self.outer, len(self.straight)):
            for other in range(self.outer, k):
                point = _crossing(self.straight[k], self.straight[other])
                if point is not None:
                    corner = self._corner(point)
                    self.on[k].add(corner)
                    self.on[other].add(corner)

    def sides(self) -> Iterator[Side]:
        """Every side of a cell: the outline's one way, the lines' both ways, none twice."""
        taken: set[frozenset[int]] = set()
        for owner, ((x0, y0), (x1, y1)) in enumerate(self.straight):
            dx, dy = x1 - x0, y1 - y0

            def along(
                i: int, x0: float = x0, y0: float = y0, dx: float = dx, dy: float = dy
            ) -> float:
                x, y = self.corners[i]
                return (x - x0) * dx + (y - y0) * dy

            for u, v in pairwise(sorted(self.on[owner], key=along)):
                if frozenset((u, v)) in taken:
                    continue
                taken.add(frozenset((u, v)))
                yield u, v, owner
                if owner >= self.outer:
                    yield v, u, owner


def _faces(sides: Sequence[Side], corners: Sequence[Point]) -> Iterator[list[Side]]:
    """Closed walks that keep to the left: at every corner the sharpest turn to the left."""
    leaving: dict[int, list[Side]] = defaultdict(list)
    for side in sides:
        leaving[side[0]].append(side)

    def angle(start: int, end: int) -> float:
        (x0, y0), (x1, y1) = corners[start], corners[end]
        return math.atan2(y1 - y0, x1 - x0)

    def following(side: Side) -> Side:
        u, v, _ = side
        back = angle(v, u)
        # Straight back comes last: only at an end in mid air there is nothing else.
        return max(
            leaving[v],
            key=lambda s: (s[1] != u, (angle(v, s[1]) - back) % math.tau),
        )

    left = dict.fromkeys(sides)
    while left:
        side = next(iter(left))
        face: list[Side] = []
        while side in left:
            del left[side]
            face.append(side)
            side = following(side)
        yield face


def _cell(face: list[Side], corners: Sequence[Point]) -> Cell:
    first = min(range(len(face)), key=lambda i: (face[i][2], i))
    # The earliest side leads; of its pieces the one that nothing of it comes before.
    while face[first - 1][2] == face[first][2] and first > -len(face):
        first -= 1
    turned = face[first:] + face[:first]
    kept: list[Side] = []
    for side in turned:
        if not kept or kept[-1][2] != side[2]:
            kept.append(side)
    return Cell(tuple(corners[u] for u, _, _ in kept), tuple(owner for _, _, owner in kept))


def _order(cell: Cell) -> tuple[float, float, float, float]:
    xs, ys = zip(*cell.corners, strict=True)
    count = len(cell.corners)
    return min(xs), min(ys), sum(xs) / count, sum(ys) / count


def _floats(point: Point) -> Point:
    return float(point[0]), float(point[1])


def _area(points: Sequence[Point]) -> float:
    x0, y0 = points[0]
    return 0.5 * sum(
        (ax - x0) * (by - y0) - (bx - x0) * (ay - y0)
        for (ax, ay), (bx, by) in zip(points, [*points[1:], points[0]], strict=True)
    )


def _nearest(point: Point, line: tuple[Point, Point]) -> Point:
    (x0, y0), (x1, y1) = line
    dx, dy = x1 - x0, y1 - y0
    share = ((point[0] - x0) * dx + (point[1] - y0) * dy) / max(dx * dx + dy * dy, 1e-300)
    share = min(max(share, 0.0), 1.0)
    return x0 + share * dx, y0 + share * dy


def _distance(point: Point, line: tuple[Point, Point]) -> float:
    return math.dist(point, _nearest(point, line))


def _crossing(a: tuple[Point, Point], b: tuple[Point, Point]) -> Point | None:
    (ax, ay), (bx, by) = a[0], b[0]
    ux, uy = a[1][0] - ax, a[1][1] - ay
    vx, vy = b[1][0] - bx, b[1][1] - by
    turn = ux * vy - uy * vx
    if abs(turn) <= 1e-12 * math.hypot(ux, uy) * math.hypot(vx, vy):
        return None
    s = ((bx - ax) * vy - (by - ay) * vx) / turn
    t = ((bx - ax) * uy - (by - ay) * ux) / turn
    if not (0.0 <= s <= 1.0 and 0.0 <= t <= 1.0):
        return None
    return ax + s * ux, ay + s * uy


def contains_line(outline: Sequence[Point], line: tuple[Point, Point], *, tolerance: float) -> bool:
    """Whether a straight line whose ends are in a simple polygon stays inside between them.

    Examples
    --------
    >>> angle = [(0.0, 0.0), (4.0, 0.0), (4.0, 2.0), (2.0, 2.0), (2.0, 4.0), (0.0, 4.0)]
    >>> contains_line(angle, ((4.0, 1.0), (0.0, 3.0)), tolerance=1e-3)
    True
    >>> contains_line(angle, ((4.0, 1.5), (0.5, 4.0)), tolerance=1e-3)
    False
    """
    import numpy as np

    from wellheard.geometry.polygons import is_convex

    if is_convex(np.array(outline, dtype=float)):
        return True
    import shapely  # 0.1 s, and only rooms with a notch need it

    return bool(shapely.Polygon(outline).buffer(tolerance).covers(shapely.LineString(line)))


def distance_to_line(point: Point, line: tuple[Point, Point]) -> float:
    """From a point to the nearest of a straight line between two others. [m]

    Examples
    --------
    >>> distance_to_line((1.0, 2.0), ((0.0, 0.0), (4.0, 0.0)))
    2.0
    """
    return _distance(point, line)
