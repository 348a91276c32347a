"""The raster of a tiled ceiling: two families of parallel lines at equal distances."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from itertools import pairwise

from wellheard.importers.dxf.pieces import Pattern
from wellheard.importers.found import FoundGrid, Point

NARROWEST, WIDEST = 0.25, 2.6
"""Sides of ceiling tiles. [m]"""
FEWEST = 2
"""Lines of a family: tiles of a small room have no more."""
OFF = 0.012
"""How far a line may be off the raster, as drawn. [m]"""
SAME_DEG = 0.2

Line = tuple[Point, Point]


def grid_of(lines: Sequence[Line], *, fewest: int = FEWEST) -> FoundGrid | None:
    """Return the raster that lines make, None where most of them make none.

    Examples
    --------
    >>> ups = [((0.3 + 0.6 * i, 0.0), (0.3 + 0.6 * i, 3.0)) for i in range(6)]
    >>> overs = [((0.0, 0.2 + 1.2 * i), (4.0, 0.2 + 1.2 * i)) for i in range(3)]
    >>> grid = grid_of(ups + overs)
    >>> [round(m, 3) for m in grid.module], [round(o, 3) for o in grid.origin]
    ([0.6, 1.2], [0.3, 0.2])
    """
    first = _direction(lines)
    if first is None:
        return None
    turn = first if first <= 45.0 else first - 90.0
    along = [line for line in lines if _apart(_angle(line), turn) < SAME_DEG]
    across = [line for line in lines if _apart(_angle(line), turn + 90.0) < SAME_DEG]
    zero = lines[0][0]
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))

    def own(point: Point) -> Point:
        x, y = point[0] - zero[0], point[1] - zero[1]
        return x * c + y * s, y * c - x * s

    x = _equidistant([own(a)[0] for a, _ in across], fewest)
    y = _equidistant([own(a)[1] for a, _ in along], fewest)
    if x is None or y is None:
        return None
    u, v = x[0], y[0]
    origin = (zero[0] + u * c - v * s, zero[1] + u * s + v * c)
    return _rounded((x[1], y[1]), origin, turn)


def grid_of_pattern(pattern: Pattern) -> FoundGrid | None:
    """Return the raster that the lines of a hatch make, None where they make none."""
    if len(pattern.lines) != 2:
        return None
    (a, at_a, step_a), (b, at_b, step_b) = pattern.lines
    if abs(_apart(a, b) - 90.0) > SAME_DEG:
        return None
    turn = a % 90.0 if a % 90.0 <= 45.0 else a % 90.0 - 90.0
    if _apart(a, turn) > SAME_DEG:
        a, at_a, step_a, b, at_b, step_b = b, at_b, step_b, a, at_a, step_a
    module = (abs(_across(step_b, b)), abs(_across(step_a, a)))
    if not all(NARROWEST <= side <= WIDEST for side in module):
        return None
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    u, v = at_b[0] * c + at_b[1] * s, at_a[1] * c - at_a[0] * s
    return _rounded(module, (u * c - v * s, u * s + v * c), turn)


def _rounded(module: Point, origin: Point, turn: float) -> FoundGrid:
    """A raster to a micrometre: what more digits would say is only how it was worked out."""
    x, y = (round(side, 6) for side in module)
    u, v = (round(place, 6) for place in origin)
    return FoundGrid((x, y), (u, v), round(turn, 4) + 0.0)


def _across(step: Point, angle: float) -> float:
    return step[1] * math.cos(math.radians(angle)) - step[0] * math.sin(math.radians(angle))


def _angle(line: Line) -> float:
    (ax, ay), (bx, by) = line
    return math.degrees(math.atan2(by - ay, bx - ax)) % 180.0


def _apart(a: float, b: float) -> float:
    off = abs(a - b) % 180.0
    return min(off, 180.0 - off)


def _direction(lines: Sequence[Line]) -> float | None:
    """Direction modulo a right angle that most metres of line have. [deg]"""
    metres: Counter[int] = Counter()
    for line in lines:
        length = math.dist(*line)
        if length > 0.05:
            metres[round(_angle(line) % 90.0 / 0.1) % 900] += round(1e4 * length)
    if not metres:
        return None
    most = max(metres.values())
    return min(k for k, v in metres.items() if v == most) * 0.1


def _equidistant(offsets: Sequence[float], fewest: int) -> tuple[float, float] | None:
    """First line and distance of a family, where nearly all of its lines are of the raster."""
    places: list[float] = []
    for offset in sorted(offsets):
        if not places or offset - places[-1] > 2 * OFF:
            places.append(offset)
    if len(places) < fewest:
        return None
    steps = Counter(
        round((b - a) / 0.005) for a, b in pairwise(places) if NARROWEST <= b - a <= WIDEST
    )
    if not steps:
        return None
    step = max(steps, key=lambda k: (steps[k], -k)) * 0.005
    starts = Counter(round((p % step) / 0.005) for p in places)
    start = max(starts, key=lambda k: starts[k]) * 0.005
    on = [(round((p - start) / step), p) for p in places]
    on = [(n, p) for n, p in on if abs(p - start - n * step) <= 2 * OFF]
    if len(on) < max(fewest, 0.6 * len(places)):
        return None
    # The straight line through (number, place) says step and start to a fraction of a millimetre.
    count = len(on)
    mean_n, mean_p = sum(n for n, _ in on) / count, sum(p for _, p in on) / count
    spread = sum((n - mean_n) ** 2 for n, _ in on)
    if not spread:
        return None
    exact = sum((n - mean_n) * (p - mean_p) for n, p in on) / spread
    first = mean_p - exact * mean_n
    if any(abs(first + exact * n - p) > OFF for n, p in on):
        return None
    return first + exact * min(n for n, _ in on), exact
