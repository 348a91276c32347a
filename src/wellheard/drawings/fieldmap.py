"""The map of one quantity: tints, lines, the promise with its hachures, labels in the lines."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from wellheard.arrays import Array
from wellheard.drawings import contours
from wellheard.drawings.boxes import Box, Placer
from wellheard.drawings.canvas import Canvas, Point
from wellheard.drawings.lettering import text_width
from wellheard.drawings.sheet import Projection
from wellheard.drawings.tokens import TINTS, Face
from wellheard.drawings.view import FieldMap

EACH_SIDE = 4
"""Lines on the failing side of the promise; further ones decide nothing."""
MOST_KEPT = 8
"""Lines on the side that keeps the promise."""

_STEPS = (1.0, 2.0, 5.0)
_GRID_MM = 1.6  # of the refined grid on paper
_LEAST_RUN_MM = 2.5  # what is left of a line between figures looks like a minus sign
_LEAST_RING_MM = 10.0  # a smaller ring is a speck of the sampling, not a place
_HACHURE_MM, _HACHURE_EVERY_MM = 1.5, 3.2


@dataclass(frozen=True, slots=True)
class Levels:
    """The lines of a map, ascending, and the tint of every band between and beyond them."""

    values: tuple[float, ...]
    tints: tuple[int, ...]
    step: float
    target: float | None
    decimals: int

    def is_promise(self, level: float) -> bool:
        """Return whether a line is the promise."""
        return self.target is not None and math.isclose(level, self.target, abs_tol=1e-9)

    def is_index(self, level: float) -> bool:
        """Return whether a line is drawn heavier and labelled: every second one."""
        base = self.target if self.target is not None else 0.0
        return round((level - base) / self.step) % 2 == 0

    def label(self, level: float) -> str:
        """Return a level as printed."""
        return figure(level, self.decimals)


def figure(value: float, decimals: int) -> str:
    """Return a number with a true minus; trailing zeros of whole numbers go.

    Examples
    --------
    >>> figure(-6.0, 1), figure(-5.5, 1), figure(0.6, 2)
    ('−6', '−5.5', '0.60')
    """
    whole = math.isclose(value, round(value), abs_tol=1e-9) and decimals < 2
    text = f"{abs(value):.{0 if whole else decimals}f}"
    return f"−{text}" if value < 0 and float(text) != 0 else text


def choose_levels(field: FieldMap, inside: Array) -> Levels:
    """Return the lines worth drawing for the values that occur ``inside`` the room.

    The promise is always among them. On the failing side only the nearest lines are drawn: a seat
    further off is as broken. On the other side lines go on as far as values occur, with a coarser
    step when they would crowd.

    Parameters
    ----------
    field : FieldMap
        Its ``step`` is used where given and not too fine.
    inside : ndarray
        Values at points in the room.

    Examples
    --------
    >>> axis = np.array([0.0, 1.0])
    >>> field = FieldMap(np.zeros((2, 2)), axis, axis, "ratio", "dB", target=-6.0)
    >>> levels = choose_levels(field, np.linspace(-8.6, -3.4, 50))
    >>> levels.step, levels.values[0], levels.values[-1]
    (0.5, -8.0, -4.0)
    """
    low, high = span_of(inside) if field.span is None else field.span
    sign = 1.0 if field.higher_is_better else -1.0
    finest = field.step if field.step is not None else 10.0**-field.decimals
    for step in _coarser(finest):
        # Without a promise lines lie at whole steps from nought, the even ones heavier.
        middle = 2 * step * round((low + high) / (4 * step))
        base = middle if field.target is None else field.target
        counts = _counts(low, high, base, step)
        good = [k for k in counts if sign * k > 0]
        bad = [k for k in counts if sign * k < 0]
        if field.target is None:
            if len(counts) <= MOST_KEPT + EACH_SIDE:
                break
        elif len(good) <= MOST_KEPT and (field.step is not None or len(bad) <= EACH_SIDE + 1):
            break
    if field.target is not None:
        bad = sorted(bad, key=abs)[:EACH_SIDE]
    steps = sorted({*good, *bad, 0})
    values = tuple(round(base + k * step, 9) for k in steps)
    if field.target is None:
        tints = _spread(len(values) + 1, 0, TINTS - 1)
    else:  # the middle tint is left out at the promise, so that the two sides part
        lower = sum(value <= field.target for value in values)
        below = _spread(lower, TINTS // 2 - lower, TINTS // 2 - 1)
        tints = (*below, *_spread(len(values) + 1 - lower, TINTS // 2 + 1, TINTS - 1))
    if not field.higher_is_better:
        tints = tuple(TINTS - 1 - tint for tint in tints)
    return Levels(values, tints, step, field.target, field.decimals)


def span_of(values: Array) -> tuple[float, float]:
    """Return between which values lines are worth drawing: 1 of 50 lies beyond either.

    Examples
    --------
    >>> span_of(np.linspace(0.0, 50.0, 51))
    (1.0, 49.0)
    """
    low, high = np.quantile(values, (0.02, 0.98))
    return float(low), float(high)


def _coarser(step: float) -> Iterator[float]:
    """Yield a step and then every larger round one."""
    yield step
    decade = 10.0 ** math.floor(math.log10(step))
    while True:
        for factor in _STEPS:
            if factor * decade > step * 1.001:
                yield round(factor * decade, 9)
        decade *= 10.0


def _counts(low: float, high: float, base: float, step: float) -> range:
    """Return the multiples of ``step`` from ``base`` that lie between two values."""
    return range(math.ceil((low - base) / step - 1e-9), math.floor((high - base) / step + 1e-9) + 1)


def _spread(count: int, first: int, last: int) -> tuple[int, ...]:
    """Return ``count`` tints from first to last, evenly; fewer distinct ones where they run out."""
    first = max(first, 0)
    if count == 1:
        return (first,)
    return tuple(round(first + (last - first) * k / (count - 1)) for k in range(count))


@dataclass(frozen=True, slots=True)
class Lettering:
    """Sizes of the labels in the lines. [mm]"""

    size: float
    promise_face: Face = "semibold"


class ContourDrawing:
    """Contours of a field in paper millimetres, clipped to the room.

    Labels are placed first (`place_labels`), so that everything drawn later can leave room for
    them; then `draw` puts tints and lines on the canvas.
    """

    def __init__(self, field: FieldMap, room: Any, project: Projection) -> None:
        """Refine the field and cut its level lines at the outline ``room`` (paper polygon)."""
        self.field = field
        self.room = room
        values = contours.fill_gaps(np.asarray(field.values, dtype=float))
        x0, y0, x1, y1 = room.bounds
        margin = 2 * _GRID_MM
        left, top = project((float(field.x[0]), float(field.y[-1])))
        px = left + (np.asarray(field.x) - field.x[0]) * project.mm_per_metre
        # paper y grows downwards: flip the rows, so that both axes ascend
        py = top + (field.y[-1] - np.asarray(field.y)[::-1]) * project.mm_per_metre
        bounds = (x0 - margin, y0 - margin, x1 + margin, y1 + margin)
        values, px, py = contours.extended(values[::-1], x=px, y=py, to=bounds)
        fine, self.x, self.y = contours.refined(values, x=px, y=py, step=_GRID_MM)
        self.values = contours.smoothed(contours.smoothed(fine))
        self._lay(choose_levels(field, self.inside()))

    def lay(self, levels: Levels) -> None:
        """Take other lines than those that this field alone is worth, before labels are placed."""
        if levels != self.levels:
            self._lay(levels)

    def _lay(self, levels: Levels) -> None:
        self.levels = levels
        self._rings = {level: self._smooth_rings(level) for level in self.levels.values}
        self._lines = {level: self._cut(level) for level in self.levels.values}
        self._labels: list[tuple[str, Point, float, bool]] = []
        self.lettering = Lettering(2.57)

    def inside(self) -> Array:
        """Return the values at the points of the refined grid that lie in the room."""
        from shapely import contains_xy

        grid_x, grid_y = np.meshgrid(self.x, self.y)
        mask = contains_xy(self.room, grid_x, grid_y)
        return self.values[mask] if mask.any() else self.values.ravel()

    def _smooth_rings(self, level: float) -> list[Array]:
        from shapely.geometry import LineString

        rings = contours.level_rings(self.values, x=self.x, y=self.y, level=level)
        lengths = [float(np.hypot(*np.diff(ring, axis=0).T).sum()) for ring in rings]
        smooth = [
            LineString(contours.round_corners(ring, passes=2))
            for ring, length in zip(rings, lengths, strict=True)
            if length > _LEAST_RING_MM
        ]
        return [np.array(ring.simplify(0.03, preserve_topology=False).coords) for ring in smooth]

    def _cut(self, level: float) -> Any:
        from shapely import MultiLineString, line_merge
        from shapely.geometry import LineString

        lines = [LineString(ring) for ring in self._rings[level]]
        return line_merge(MultiLineString(lines).intersection(self.room)) if lines else None

    def place_labels(self, placer: Placer, *, size: float, keep_off: Any) -> Any:
        """Find room for labels in the lines; returns the shape that lines must leave blank.

        Parameters
        ----------
        placer : Placer
            Knows what is already written; is told about the labels.
        size : float
            Lettering size. [mm]
        keep_off : shapely geometry
            Where no line is drawn at all: standing areas, figures, symbols.
        """
        from shapely import STRtree, union_all
        from shapely.geometry import Polygon

        self.lettering = Lettering(size)
        visible = {level: _parts(line, keep_off) for level, line in self._lines.items()}
        levels_of = [level for level, parts in visible.items() for _ in parts]
        crowd = STRtree([part for parts in visible.values() for part in parts]), levels_of
        levels = sorted(visible, key=lambda v: (not self.levels.is_promise(v), v))
        heavy = [v for v in levels if self.levels.is_promise(v) or self.levels.is_index(v)]
        holes: list[Any] = []
        for level in heavy:
            holes += self._labelled(level, visible[level], placer, crowd)
        if not holes:  # a map without any figure says nothing: then the light lines have theirs
            for level in levels:
                holes += self._labelled(level, visible[level], placer, crowd)
        return union_all(holes) if holes else Polygon()

    def _labelled(
        self, level: float, parts: Sequence[Any], placer: Placer, crowd: tuple[Any, Sequence[float]]
    ) -> list[Any]:
        """Put labels into the lines of a level; returns the shapes that are left blank for them."""
        from shapely.geometry import Polygon

        size = self.lettering.size
        promise = self.levels.is_promise(level)
        text = f"promise {self.levels.label(level)}" if promise else self.levels.label(level)
        face: Face = self.lettering.promise_face if promise else "regular"
        width = text_width(text, size, face=face) + 1.4
        placed: list[Point] = []
        holes = []
        for part in sorted(parts, key=lambda p: -p.length):
            wanted = min(3, max(1, round(part.length / 130.0)))
            if part.length < width * 2.2 or len(placed) >= 4:
                continue
            for slot in range(wanted):
                spot = _label_spot(
                    part,
                    width,
                    0.7 * size + 0.9,
                    share=(slot + 0.5) / wanted,
                    placer=placer,
                    others=(*crowd, level),
                    placed=placed,
                )
                if spot is None:
                    continue
                placed.append(spot.centre)
                placer.take(spot)
                holes.append(Polygon(spot.corners))
                self._labels.append((text, spot.centre, spot.angle_deg, promise))
        return holes

    def draw_tints(self, canvas: Canvas) -> None:
        """Fill the bands, lowest first: each higher one covers what it contains."""
        from shapely import make_valid
        from shapely.geometry import Polygon

        canvas.area(*_rings_of(self.room), fill=f"tint-{self.levels.tints[0]}")
        for level, tint in zip(self.levels.values, self.levels.tints[1:], strict=True):
            shape: Any = Polygon()
            for ring in sorted(self._rings[level], key=lambda r: -abs(_signed_area(r))):
                shape = shape.symmetric_difference(make_valid(Polygon(ring)))
            for polygon in _polygons(shape.intersection(self.room)):
                canvas.area(*_rings_of(polygon), fill=f"tint-{tint}")

    def draw_lines(self, canvas: Canvas, keep_off: Any) -> None:
        """Draw lines, the promise, its hachures and the labels; nothing in ``keep_off``."""
        for level in self.levels.values:
            runs = [
                tuple(part.coords)
                for part in _parts(self._lines[level], keep_off, least=_LEAST_RUN_MM)
            ]
            if self.levels.is_promise(level):
                canvas.line(*runs, pen="bold", colour="accent")
                canvas.line(
                    *(tick for run in runs for tick in self._hachures(np.array(run), keep_off)),
                    pen="fine",
                    colour="accent",
                )
            else:
                canvas.line(*runs, pen="fine" if self.levels.is_index(level) else "hair")
        for text, (x, y), angle, promise in self._labels:
            turn = math.radians(angle)
            drop = 0.35 * self.lettering.size  # half the capitals
            canvas.text(
                text,
                (x - drop * math.sin(turn), y + drop * math.cos(turn)),
                size=self.lettering.size,
                face=self.lettering.promise_face if promise else "regular",
                colour="accent" if promise else "ink",
                anchor="middle",
                angle_deg=angle,
            )

    def _hachures(self, run: Array, keep_off: Any) -> list[tuple[Point, Point]]:
        """Return short strokes from the line towards the side that misses the promise."""
        from shapely.geometry import LineString

        steps = np.hypot(*np.diff(run, axis=0).T)
        along = np.concatenate(([0.0], np.cumsum(steps)))
        count = int(along[-1] // _HACHURE_EVERY_MM)
        if count < 1:
            return []
        at = (along[-1] - (count - 1) * _HACHURE_EVERY_MM) / 2 + np.arange(count) * (
            _HACHURE_EVERY_MM
        )
        foot = np.column_stack([np.interp(at, along, run[:, k]) for k in (0, 1)])
        ahead = np.column_stack([np.interp(at + 0.4, along, run[:, k]) for k in (0, 1)])
        behind = np.column_stack([np.interp(at - 0.4, along, run[:, k]) for k in (0, 1)])
        forward = ahead - behind
        forward /= np.maximum(np.hypot(forward[:, 0], forward[:, 1]), 1e-9)[:, None]
        normal = np.column_stack((-forward[:, 1], forward[:, 0]))
        value = [
            contours.sample(self.values, x=self.x, y=self.y, at=foot + side * normal)
            for side in (1.0, -1.0)
        ]
        failing = (value[0] < value[1]) == self.field.higher_is_better
        tip = foot + np.where(failing, _HACHURE_MM, -_HACHURE_MM)[:, None] * normal
        ticks = []
        for a, b in zip(foot.tolist(), tip.tolist(), strict=True):
            stroke = LineString((a, b))
            if self.room.covers(stroke) and not keep_off.intersects(stroke):
                ticks.append(((a[0], a[1]), (b[0], b[1])))
        return ticks


def _signed_area(ring: Array) -> float:
    x, y = ring[:, 0], ring[:, 1]
    return float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]) / 2)


def _parts(line: Any, keep_off: Any, *, least: float = 0.0) -> list[Any]:
    """Return the pieces of a line outside ``keep_off``, joined where they meet."""
    from shapely import line_merge

    if line is None:
        return []
    rest = line.difference(keep_off)
    merged = line_merge(rest) if rest.geom_type == "MultiLineString" else rest
    pieces = getattr(merged, "geoms", [merged])
    return [p for p in pieces if p.geom_type == "LineString" and p.length > max(least, 1e-6)]


def _polygons(shape: Any) -> list[Any]:
    return [
        part
        for part in getattr(shape, "geoms", [shape])
        if part.geom_type == "Polygon" and not part.is_empty
    ]


def _rings_of(polygon: Any) -> list[tuple[Point, ...]]:
    rings = [polygon.exterior, *polygon.interiors]
    return [tuple(ring.coords)[:-1] for ring in rings]


def _label_spot(
    line: Any,
    width: float,
    height: float,
    *,
    share: float,
    placer: Placer,
    others: tuple[Any, Sequence[float], float],
    placed: Sequence[Point],
) -> Box | None:
    """Return the best box for a label on a line near a share of its length, or None."""
    from shapely import line_interpolate_point
    from shapely.geometry import Polygon

    tree, tree_levels, level = others
    total = line.length
    count = max(int((total - 2 * width) / 1.5), 1)
    at = width + (total - 2 * width) * np.arange(count + 1) / count
    ends = [line_interpolate_point(line, at + shift * width / 2) for shift in (-1.0, 1.0, 0.0)]
    a, b, middle = (np.array([(p.x, p.y) for p in points]) for points in ends)
    along = b - a
    angle = np.degrees(np.arctan2(along[:, 1], along[:, 0]))
    angle = np.where(angle > 90.0, angle - 180.0, np.where(angle <= -90.0, angle + 180.0, angle))
    centre = (a + b + 2 * middle) / 4
    sag = np.hypot(*(middle - (a + b) / 2).T)
    cost = 2.0 * np.abs(at / total - share) + np.abs(angle) / 120.0 + 0.8 * sag
    straight = np.hypot(*along.T) >= 0.93 * width
    for k in np.argsort(cost, kind="stable").tolist():
        spot = (float(centre[k, 0]), float(centre[k, 1]))
        box = Box(spot, width, height, float(angle[k]))
        if not straight[k] or not placer.is_free(box):
            continue
        if any(math.dist(spot, other) < 40.0 for other in placed):
            continue
        crossed = tree.query(Polygon(box.corners), predicate="intersects")
        if all(tree_levels[index] == level for index in crossed):
            return box
    return None
