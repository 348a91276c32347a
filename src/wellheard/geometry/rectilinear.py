"""Shortest ways in two directions at right angles, inside a plan and round what stands in it.

A cable in a void, or under a floor, runs along the room and across it, never slantwise. Of the
shortest such ways the one with the fewest bends is taken.

Every such way can be pushed, without making it longer or adding a bend, until each of its pieces
lies on a line through a corner of the free area or through one of its two ends. So it is enough
to look along these lines (J. S. B. Mitchell, L1 shortest paths among polygonal obstacles in the
plane, Algorithmica 8, 1992, from memory [M]; tracks is what such lines are called). Walls that
run slantwise have further lines across them, and there the way is the shortest on these lines
only.
"""

from __future__ import annotations

import bisect
import heapq
import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from wellheard.arrays import Array, Mask
from wellheard.geometry.points import contains_points, distance_to_edges
from wellheard.geometry.polygons import edge_lengths, edge_vectors, perimeter

if TYPE_CHECKING:
    import shapely

PlanPoint = tuple[float, float]
Step = tuple[int, int]
"""A point in whole steps along both directions."""
Steps = Array | Sequence[Step]

STEP = 1e-6
"""Lengths are counted in whole steps, so that ways of equal length are told apart by bends. [m]"""
NARROW = 0.01
"""Between two solids, or a solid and a wall, nearer than this there is no way. [m]"""
SLANT = 0.5
"""Longest piece of a slanting edge without a line of its own. [m]"""
_BEND = 1
_LENGTH = 1 << 20
"""Weight of a step of length against a bend: no way has a million bends."""
_FAR = 1 << 62
BATCH = 8
"""Ways that are asked at once whether they are free, the shortest first."""


@dataclass(frozen=True, slots=True)
class Way:
    """A way along two directions: its corners, first and last the ends. [m]"""

    corners: tuple[PlanPoint, ...]

    @property
    def length(self) -> float:
        """Along all its pieces. [m]"""
        return sum(math.dist(a, b) for a, b in pairwise(self.corners))

    @property
    def bends(self) -> int:
        """Corners between its ends."""
        return max(len(self.corners) - 2, 0)


def main_direction(outline: Array) -> float:
    """Direction of the longest edge, 0 up to a right angle. [rad]

    Examples
    --------
    >>> main_direction(np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 3.0], [0.0, 3.0]]))
    0.0
    """
    along = edge_vectors(outline)[int(np.argmax(edge_lengths(outline).round(6)))]
    turn = math.atan2(along[1], along[0]) % (math.pi / 2)
    # A hair below a right angle is none: the plan would be turned for nothing.
    return 0.0 if min(turn, math.pi / 2 - turn) < 1e-9 else turn


def way_round(outline: Array, start: PlanPoint, end: PlanPoint, *, reach: float = 0.0) -> Way:
    """The shortest way along the edges of a polygon.

    Parameters
    ----------
    outline : ndarray, shape (corners, 2)
        [m]
    start, end : (x, y)
        Each comes to the edge that is nearest. [m]
    reach : float
        It may come straight to any other edge within this, too. [m]

    Returns
    -------
    Way
        From start to end; its pieces follow the edges, whatever their direction.

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]])
    >>> way_round(square, (0.0, 1.0), (3.0, 0.0)).corners
    ((0.0, 1.0), (0.0, 0.0), (3.0, 0.0))
    """
    both = itertools.product(_feet(outline, start, reach), _feet(outline, end, reach))
    ways = [_round(outline, start, one, other, end) for one, other in both]
    return min(ways, key=lambda way: (round(way.length, 6), way.bends))


def _feet(outline: Array, point: PlanPoint, reach: float) -> list[tuple[PlanPoint, int]]:
    """Nearest points of the edges within reach, or of the nearest edge, each with its edge."""
    here = np.array(point)
    gaps = distance_to_edges(here, outline)
    along = edge_vectors(outline)
    found = []
    for edge in np.flatnonzero(gaps <= max(reach, float(gaps.min()))).tolist():
        share = float((here - outline[edge]) @ along[edge]) / float(along[edge] @ along[edge])
        foot = outline[edge] + min(max(share, 0.0), 1.0) * along[edge]
        # Straight through a thin piece of wall to its other side is no way.
        if gaps[edge] == gaps.min() or contains_points(outline, (here + foot) / 2):
            found.append(((float(foot[0]), float(foot[1])), edge))
    return found


def _round(
    outline: Array,
    start: PlanPoint,
    first: tuple[PlanPoint, int],
    last: tuple[PlanPoint, int],
    end: PlanPoint,
) -> Way:
    (foot, one), (other_foot, other) = first, last
    before = np.concatenate([[0.0], np.cumsum(edge_lengths(outline))])
    a = float(before[one]) + math.dist(foot, outline[one])
    b = float(before[other]) + math.dist(other_foot, outline[other])
    count, whole = len(outline), perimeter(outline)
    if (b - a) % whole <= (a - b) % whole:
        steps = (other - one) % count if (a <= b or one != other) else count
        passed = [(one + 1 + k) % count for k in range(steps)]
    else:
        steps = (one - other) % count if (b <= a or one != other) else count
        passed = [(one - k) % count for k in range(steps)]
    corners = [(float(x), float(y)) for x, y in outline[passed]]
    return Way(_straightened([start, foot, *corners, other_foot, end]))


def _straightened(corners: Sequence[PlanPoint]) -> tuple[PlanPoint, ...]:
    """Corners without those that are passed straight, or stand there twice."""
    kept: list[PlanPoint] = []
    for corner in corners:
        if kept and math.dist(kept[-1], corner) < STEP:
            continue
        while len(kept) > 1 and _in_line(kept[-2], kept[-1], corner):
            kept.pop()
        kept.append(corner)
    return tuple(kept) if len(kept) > 1 else (corners[0], corners[-1])


def _in_line(a: PlanPoint, b: PlanPoint, c: PlanPoint) -> bool:
    back, on = (b[0] - a[0], b[1] - a[1]), (c[0] - b[0], c[1] - b[1])
    across = back[0] * on[1] - back[1] * on[0]
    ahead = back[0] * on[0] + back[1] * on[1]
    return ahead > 0 and abs(across) < STEP * max(math.hypot(*back), math.hypot(*on))


@dataclass(frozen=True, slots=True)
class _Field:
    """Cheapest ways from one point to every crossing of the lines.

    ``cost[2 · (column · rows + row) + axis]`` is the cost of the way there whose last piece runs
    along x (axis 0) or y (axis 1); ``before`` is the crossing it comes from, −1 at the start.
    """

    columns: list[int]
    rows: list[int]
    cost: list[int]
    before: list[int]


class Ways:
    """Ways in one plan: made once, asked often.

    Parameters
    ----------
    outline : ndarray, shape (corners, 2)
        A simple polygon that no way leaves; one may run along it. [m]
    solids : sequence of (ndarray, float)
        Outlines that no way crosses, each with what is kept free around it. [m]
    direction : float
        Of one of the two directions. [rad]

    Examples
    --------
    >>> room = np.array([[0.0, 0.0], [6.0, 0.0], [6.0, 2.0], [2.0, 2.0], [2.0, 5.0], [0.0, 5.0]])
    >>> Ways(room).way((1.0, 4.0), (5.0, 1.0)).corners  # round the inner corner of an L
    ((1.0, 4.0), (1.0, 1.0), (5.0, 1.0))
    >>> pillar = np.array([[2.0, 0.5], [3.0, 0.5], [3.0, 1.25], [2.0, 1.25]])
    >>> round(Ways(room, [(pillar, 0.25)]).way((1.0, 1.0), (5.0, 1.0)).length, 6)  # 2 × 0.5 aside
    5.0
    """

    def __init__(
        self,
        outline: Array,
        solids: Sequence[tuple[Array, float]] = (),
        *,
        direction: float = 0.0,
    ) -> None:
        self._cos, self._sin = math.cos(direction), math.sin(direction)
        self._outline = self._local(np.asarray(outline, dtype=np.float64))
        self._solids = [
            (self._local(np.asarray(solid, dtype=np.float64)), gap) for solid, gap in solids
        ]
        self._fields: dict[Step, _Field | None] = {}
        self._doors: dict[Step, Step] = {}

    def way(self, start: PlanPoint, end: PlanPoint) -> Way | None:
        """Shortest way, of several the one with the fewest bends; None where there is none.

        An end that is not in the free area is joined to it where it is nearest.
        """
        first, last = self._steps(start), self._steps(end)
        one, other = self._entered(first), self._entered(last)
        found = self._found(one, other)
        if found is None:
            return None
        inner = [self._plan(corner) for corner in found]
        # The very ends that were asked for, not their nearest steps.
        if one == first:
            inner[0] = start
        if other == last:
            inner[-1] = end
        return Way(_straightened([start, *inner, end]))

    def is_free(self, point: PlanPoint) -> bool:
        """Whether a point is in the free area, its edge included."""
        here = self._steps(point)
        return self._entered(here) == here

    def _local(self, points: Array) -> Array:
        return points @ np.array([[self._cos, -self._sin], [self._sin, self._cos]])

    def _steps(self, point: PlanPoint) -> Step:
        x, y = point
        here = self._cos * x + self._sin * y, self._cos * y - self._sin * x
        return round(here[0] / STEP), round(here[1] / STEP)

    def _plan(self, corner: Step) -> PlanPoint:
        x, y = corner[0] * STEP, corner[1] * STEP
        return (
            round(self._cos * x - self._sin * y, 9),
            round(self._sin * x + self._cos * y, 9),
        )

    @cached_property
    def _plain(self) -> bool:
        """A rectangle along the two directions with nothing in it."""
        low, high = self._outline.min(axis=0), self._outline.max(axis=0)
        on_box = np.minimum(abs(self._outline - low), abs(self._outline - high)) < STEP
        return not self._solids and len(self._outline) == 4 and bool(on_box.all())

    @cached_property
    def _free(self) -> shapely.Polygon | shapely.MultiPolygon:
        """What ways may use: the plan without its solids and without what is too narrow."""
        import shapely  # 0.1 s, and a plain rectangle needs none of it

        area = shapely.Polygon(self._outline)
        taken = shapely.union_all(
            [
                shapely.Polygon(solid).buffer(gap, join_style="mitre", mitre_limit=10.0)
                for solid, gap in self._solids
            ]
        )
        opened = (
            area.difference(taken)
            .buffer(-NARROW / 2, join_style="mitre", mitre_limit=10.0)
            .buffer(NARROW / 2, join_style="mitre", mitre_limit=10.0)
        )
        stepped = shapely.set_precision(opened, STEP)
        if isinstance(stepped, shapely.Polygon | shapely.MultiPolygon):
            return stepped
        return shapely.MultiPolygon()  # what is left of it has no area

    @cached_property
    def _roomy(self) -> shapely.Geometry:
        """The same, wider by what rounding to steps takes: what is on its edge is in it."""
        import shapely

        grown = shapely.buffer(self._free, 2 * STEP, join_style="mitre")
        shapely.prepare(grown)
        return grown

    @cached_property
    def _tracks(self) -> tuple[list[int], list[int]]:
        """Columns and rows of lines through every corner, and across slanting edges. [steps]"""
        if self._plain:
            low, high = self._outline.min(axis=0), self._outline.max(axis=0)
            (x0, y0), (x1, y1) = (np.rint(p / STEP).astype(int).tolist() for p in (low, high))
            return [x0, x1], [y0, y1]
        import shapely

        corners = []
        for ring in shapely.get_rings(shapely.get_parts(self._free)):
            points = np.asarray(ring.coords)
            corners.append(points)
            for a, b in pairwise(points):
                if np.abs(b - a).min() > 1e-4:
                    pieces = math.ceil(float(np.linalg.norm(b - a)) / SLANT)
                    corners.append(a + np.outer(np.arange(1, pieces) / pieces, b - a))
        whole = np.rint(np.concatenate([*corners, np.zeros((0, 2))]) / STEP).astype(np.int64)
        return np.unique(whole[:, 0]).tolist(), np.unique(whole[:, 1]).tolist()

    def _clear(self, starts: Steps, ends: Steps) -> Mask:
        """Whether straight pieces stay in the free area, shape (n,); n starts and n ends."""
        if self._plain:
            return np.ones(len(starts), dtype=bool)
        import shapely

        both = np.stack([np.asarray(starts), np.asarray(ends)], axis=1)
        lines = shapely.linestrings(both.reshape(-1, 2, 2) * STEP)
        return np.asarray(shapely.covers(self._roomy, lines))

    def _entered(self, point: Step) -> Step:
        """The point itself where it is free, else the nearest one that is."""
        if point not in self._doors:
            self._doors[point] = self._door(point)
        return self._doors[point]

    def _door(self, point: Step) -> Step:
        here = np.array(point) * STEP
        if self._plain:
            low, high = self._outline.min(axis=0), self._outline.max(axis=0)
            inside = np.clip(here, low - 2 * STEP, high + 2 * STEP)
            if np.array_equal(inside, here):
                return point
            x, y = np.rint(np.clip(here, low, high) / STEP)
            return int(x), int(y)
        import shapely

        spot = shapely.Point(here)
        if shapely.covers(self._roomy, spot) or not self._free.area:
            return point
        x, y = shapely.shortest_line(self._free, spot).coords[0]
        return round(x / STEP), round(y / STEP)

    def _found(self, one: Step, other: Step) -> list[Step] | None:
        direct = self._direct(one, other)
        if direct is not None:
            return direct
        if other not in self._fields:
            self._fields[other] = self._field(other)
        field = self._fields[other]
        return None if field is None else self._joined(one, field)

    def _direct(self, one: Step, other: Step) -> list[Step] | None:
        """The way with one bend at most, where that is free: no other is shorter."""
        if one[0] == other[0] or one[1] == other[1]:
            return [one, other] if self._clear([one], [other])[0] else None
        first, second = (other[0], one[1]), (one[0], other[1])
        a, b, c, d = self._clear([one, first, one, second], [first, other, second, other]).tolist()
        if a and b:
            return [one, first, other]
        return [one, second, other] if c and d else None

    def _field(self, source: Step) -> _Field | None:
        """Cheapest ways from one point to all crossings (E. W. Dijkstra, 1959)."""
        if not self._plain and not self._free.area:
            return None
        columns = sorted({*self._tracks[0], source[0]})
        rows = sorted({*self._tracks[1], source[1]})
        east, north = self._pieces(columns, rows)
        count = len(rows)
        cost = [_FAR] * (2 * len(columns) * count)
        before = [-1] * len(cost)
        home = columns.index(source[0]) * count + rows.index(source[1])
        heap = [(0, 2 * home), (0, 2 * home + 1)]
        cost[2 * home] = cost[2 * home + 1] = 0
        while heap:
            here, state = heapq.heappop(heap)
            if here > cost[state]:
                continue
            node, axis = divmod(state, 2)
            i, j = divmod(node, count)
            for along, there, is_free, steps in (
                (0, node + count, i + 1 < len(columns) and east[i][j], (columns, i, i + 1)),
                (0, node - count, i > 0 and east[i - 1][j], (columns, i - 1, i)),
                (1, node + 1, j + 1 < count and north[i][j], (rows, j, j + 1)),
                (1, node - 1, j > 0 and north[i][j - 1], (rows, j - 1, j)),
            ):
                if not is_free:
                    continue
                lines, low, high = steps
                new = here + (lines[high] - lines[low]) * _LENGTH + (_BEND if along != axis else 0)
                if new < cost[2 * there + along]:
                    cost[2 * there + along] = new
                    before[2 * there + along] = state
                    heapq.heappush(heap, (new, 2 * there + along))
        return _Field(columns, rows, cost, before)

    def _pieces(
        self, columns: list[int], rows: list[int]
    ) -> tuple[list[list[bool]], list[list[bool]]]:
        """Whether each piece between two neighbouring crossings is free, along x and along y."""
        x, y = np.meshgrid(columns, rows, indexing="ij")
        grid = np.stack([x, y], axis=-1)
        east = self._clear(grid[:-1].reshape(-1, 2), grid[1:].reshape(-1, 2))
        north = self._clear(grid[:, :-1].reshape(-1, 2), grid[:, 1:].reshape(-1, 2))
        shape = len(columns), len(rows)
        return (
            east.reshape(shape[0] - 1, shape[1]).tolist(),
            north.reshape(shape[0], shape[1] - 1).tolist(),
        )

    def _joined(self, point: Step, field: _Field) -> list[Step] | None:
        """Way from a point over the lines that cross those through it, to the field's source."""
        found = sorted(self._reached(point, field))
        for few in (found[k : k + BATCH] for k in range(0, len(found), BATCH)):
            turns, crossings = [turn for _, turn, _, _ in few], [at for _, _, at, _ in few]
            clear = self._clear([point] * len(few) + turns, turns + crossings)
            usable = np.flatnonzero(clear[: len(few)] & clear[len(few) :])
            if len(usable):
                _, turn, _, state = few[usable[0]]
                break
        else:
            return None
        corners = [point, turn]
        while state >= 0:
            i, j = divmod(state // 2, len(field.rows))
            corners.append((field.columns[i], field.rows[j]))
            state = field.before[state]
        return corners

    def _reached(self, point: Step, field: _Field) -> Iterator[tuple[int, Step, Step, int]]:
        """Ways that leave a point straight for a line across, and follow it to a crossing.

        Cost to the source, turn, crossing, and how the field comes to that; whether the two
        pieces are free is not asked yet.
        """
        x, y = point
        count = len(field.rows)
        for turn, i, j in (
            *(((c, y), i, j) for i, c in enumerate(field.columns) for j in _next_to(y, field.rows)),
            *(((x, r), i, j) for j, r in enumerate(field.rows) for i in _next_to(x, field.columns)),
        ):
            at = (field.columns[i], field.rows[j])
            length = abs(turn[0] - x) + abs(turn[1] - y)
            length += abs(turn[0] - at[0]) + abs(turn[1] - at[1])
            last = _axis(turn, at) if turn != at else _axis(point, turn)
            bends = 0 if turn in (point, at) else _BEND
            for came in (0, 1):
                state = 2 * (i * count + j) + came
                if field.cost[state] < _FAR:
                    turned = _BEND if came != last and at != point else 0
                    yield field.cost[state] + length * _LENGTH + bends + turned, turn, at, state


def _axis(start: Step, end: Step) -> int:
    """0 for a piece along x, 1 for one along y."""
    return 0 if start[1] == end[1] else 1


def _next_to(value: int, lines: list[int]) -> list[int]:
    """The line at a value, else the lines before and after it."""
    after = bisect.bisect_left(lines, value)
    if after < len(lines) and lines[after] == value:
        return [after]
    return [k for k in (after - 1, after) if 0 <= k < len(lines)]
