"""The map of one quantity as a screen draws it: tints, lines and hachures as paths in metres.

The same levels and smoothing as on paper (`wellheard.drawings.fieldmap`), but in room coordinates,
y up, and a little beyond the walls: whoever draws it clips it there and chooses the colours.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from wellheard.arrays import Array
from wellheard.drawings import contours
from wellheard.drawings.fieldmap import Levels, choose_levels
from wellheard.drawings.tokens import TINTS
from wellheard.drawings.view import FieldMap, FieldPiece, Outline, Point

BEYOND = 0.3
"""Bands and lines go on this far beyond the walls. [m]"""
PLACES = 3
"""Decimals of a path: a millimetre."""

FINE, QUICK = 110, 34
"""Cells of the refined grid along the longer side: at rest, and while something moves."""

_THIN = 0.0003  # a vertex this near to its neighbours' line is left out, over the longer side
_LETTER = 0.017  # height of a label over the longer side of the room: 11 px of 650
_LEAST_RING = 0.3  # a smaller ring is a speck of the sampling, not a place [m]
_HACHURE, _HACHURE_EVERY = 0.011, 0.024  # over the longer side of the room


@dataclass(frozen=True, slots=True)
class Label:
    """A figure in a gap of its line: its middle, its turn read from below, its width. [m]"""

    at: Point
    angle_deg: float
    words: str
    promise: bool
    width: float


@dataclass(frozen=True, slots=True)
class LevelLine:
    """One level as path data, and what it is."""

    level: float
    d: str
    index: bool
    promise: bool


@dataclass(frozen=True, slots=True)
class LiveMap:
    """Paths of a map, every coordinate in metres.

    Attributes
    ----------
    bands : tuple of (int, str)
        Tint and path data of all that is at or above a level, lowest first: each covers a part of
        the one before, so that they are painted in this order, opaque, by the even-odd rule. The
        first is everywhere.
    lines : tuple of LevelLine
        With gaps where their labels stand.
    labels : tuple of Label
        Empty where none are asked for.
    hachures : str
        Short strokes from the promise towards the side that misses it.
    levels : Levels
        The lines with the tints between them.
    """

    bands: tuple[tuple[int, str], ...]
    lines: tuple[LevelLine, ...]
    labels: tuple[Label, ...]
    hachures: str
    levels: Levels


def levels_for(field: FieldMap, inside: Array) -> Levels:
    """Return the lines of a map, and one tint for every band that occurs, over the whole scale.

    Parameters
    ----------
    field : FieldMap
        Step, target and decimals.
    inside : ndarray
        Values that occur in the room.

    Examples
    --------
    >>> axis = np.array([0.0, 1.0])
    >>> field = FieldMap(np.zeros((2, 2)), axis, axis, "STI", "", 0.62, step=0.01, decimals=2)
    >>> found = levels_for(field, np.linspace(0.63, 0.67, 60))
    >>> found.values, found.tints
    ((0.62, 0.64, 0.65, 0.66), (0, 0, 3, 7, 10))
    """
    finest = field.step if field.step is not None else 10.0**-field.decimals
    for factor in (1, 2, 5, 10, 20, 50):
        levels = choose_levels(replace(field, step=round(factor * finest, 9)), inside)
        if len(levels.values) < TINTS:
            break
    low, high = float(inside.min()), float(inside.max())
    edges = (-math.inf, *levels.values, math.inf)
    met = [a <= high and low < b for a, b in itertools.pairwise(edges)]
    last = max(sum(met) - 1, 1)
    number = np.clip(np.cumsum(met) - 1, 0, last)
    tints = [round((TINTS - 1) * int(n) / last) for n in number]
    if not field.higher_is_better:
        tints = [TINTS - 1 - tint for tint in tints]
    return replace(levels, tints=tuple(tints))


def live_map(
    pieces: Sequence[FieldPiece],
    *,
    levels: Levels | None = None,
    keep_off: Sequence[tuple[Point, float]] = (),
    labelled: bool = True,
    cells: int = FINE,
) -> LiveMap:
    """Draw the map of one quantity.

    Parameters
    ----------
    pieces : sequence of FieldPiece
        The map, or one for each space that closed partitions leave: those are cut at their own
        outlines.
    levels : Levels, optional
        Lines and tints to keep, as while something is dragged; chosen for the values if omitted.
    keep_off : sequence of (point, radius)
        Where no label may stand: seats, figures, devices. [m]
    labelled : bool
        Whether lines are labelled, in gaps where there is room, and the promise has its hachures.
        Without, lines may run on beyond the walls.
    cells : int
        Of the refined grid along the longer side.
    """
    drawn = [_Piece(piece, cut=len(pieces) > 1, cells=cells) for piece in pieces]
    if levels is None:
        inside = np.concatenate([one.inside() for one in drawn])
        levels = levels_for(pieces[0].field, inside)
    size = max(_extent(piece.outline for piece in pieces))
    # A line is the rim of what it encloses; beyond the walls it runs on along the grid's border.
    rough = not labelled and len(pieces) == 1
    bands = [(levels.tints[0], "".join(one.everywhere() for one in drawn))]
    runs: dict[float, list[Array]] = {}
    for level, tint in zip(levels.values, levels.tints[1:], strict=True):
        d = ""
        for one in drawn:
            rings = one.rings(level)
            d += one.band(rings)
            if not rough:
                runs.setdefault(level, []).extend(one.lines(rings))
        bands.append((tint, d))
    labels: list[Label] = []
    if labelled:
        runs, labels = _labelled(runs, levels, drawn, size=size, keep_off=keep_off)
    promise = [run for level in runs if levels.is_promise(level) for run in runs[level]]
    lines = tuple(
        LevelLine(
            level=level,
            d=d if rough else path(runs[level]),
            index=levels.is_index(level),
            promise=levels.is_promise(level),
        )
        for level, (_, d) in zip(levels.values, bands[1:], strict=True)
    )
    return LiveMap(tuple(bands), lines, tuple(labels), _hachures(promise, drawn, size), levels)


def path(lines: Iterable[Array], *, closed: bool = False) -> str:
    """Return path data of some lines, in metres to the millimetre.

    Examples
    --------
    >>> path([np.array([[0.0, 1.0], [2.00049, -3.5]])])
    'M0.0 1.0 2.0 -3.5'
    """
    end = "Z" if closed else ""
    return "".join(
        f"M{' '.join(map(repr, np.round(line, PLACES).ravel().tolist()))}{end}" for line in lines
    )


class _Piece:
    """One field refined in room coordinates, and what is cut out of it."""

    def __init__(self, piece: FieldPiece, *, cut: bool, cells: int) -> None:
        self.piece = piece
        self._room: Any = None
        if cut:
            from shapely.geometry import Polygon

            self._room = Polygon(piece.outline)
        field = piece.field
        x0, y0, x1, y1 = _bounds([piece.outline])
        to = (x0 - BEYOND, y0 - BEYOND, x1 + BEYOND, y1 + BEYOND)
        values = contours.fill_gaps(np.asarray(field.values, dtype=float))
        values, x, y = contours.extended(
            values, x=np.asarray(field.x, dtype=float), y=np.asarray(field.y, dtype=float), to=to
        )
        size = max(to[2] - to[0], to[3] - to[1])
        self._thin = _THIN * size
        fine, self.x, self.y = contours.refined(values, x=x, y=y, step=size / cells)
        self.values = contours.smoothed(contours.smoothed(fine))

    def inside(self) -> Array:
        """Values of the refined grid that lie in the room."""
        from shapely import contains_xy
        from shapely.geometry import Polygon

        grid_x, grid_y = np.meshgrid(self.x, self.y)
        mask = contains_xy(Polygon(self.piece.outline), grid_x, grid_y)
        return self.values[mask] if mask.any() else self.values.ravel()

    def everywhere(self) -> str:
        """All of the piece."""
        if self._room is not None:
            return path([np.asarray(self._room.exterior.coords)[:-1]], closed=True)
        x0, y0, x1, y1 = self.x[0], self.y[0], self.x[-1], self.y[-1]
        return path([np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])], closed=True)

    def rings(self, level: float) -> list[Array]:
        """Closed rings round all that is at or above a level, without specks."""
        found = contours.level_rings(self.values, x=self.x, y=self.y, level=level)
        return [
            contours.round_corners(ring, passes=2)
            for ring in found
            if np.hypot(*np.diff(ring, axis=0).T).sum() > _LEAST_RING
        ]

    def band(self, rings: Sequence[Array]) -> str:
        """What the rings enclose."""
        if self._room is None:
            return path((_thinned(ring, self._thin)[:-1] for ring in rings), closed=True)
        from shapely import make_valid
        from shapely.geometry import Polygon

        shape: Any = Polygon()
        for ring in rings:
            shape = shape.symmetric_difference(make_valid(Polygon(ring)))
        met = shape.intersection(self._room).simplify(self._thin, preserve_topology=False)
        polygons = [p for p in getattr(met, "geoms", [met]) if p.geom_type == "Polygon"]
        return path(
            (
                np.asarray(ring.coords)[:-1]
                for one in polygons
                if not one.is_empty
                for ring in (one.exterior, *one.interiors)
            ),
            closed=True,
        )

    def lines(self, rings: Sequence[Array]) -> list[Array]:
        """The rings without what runs along the border of the grid."""
        # Thinned last: else a line that meets the border flatly would go on along it.
        found = [_thinned(run, self._thin) for ring in rings for run in self._off_border(ring)]
        if self._room is None or not found:
            return found
        from shapely import MultiLineString, line_merge

        met = MultiLineString([run.tolist() for run in found]).intersection(self._room)
        if met.geom_type == "MultiLineString":
            met = line_merge(met)
        parts = [p for p in getattr(met, "geoms", [met]) if p.geom_type == "LineString"]
        return [np.asarray(part.coords) for part in parts if not part.is_empty]

    def _off_border(self, ring: Array) -> list[Array]:
        x, y = ring[:, :1], ring[:, 1:]
        ends_x, ends_y = self.x[[0, -1]], self.y[[0, -1]]
        sides = np.hstack((np.abs(x - ends_x), np.abs(y - ends_y))).T < 1e-9
        along = (sides[:, :-1] & sides[:, 1:]).any(axis=0)  # a step from vertex to vertex
        if not along.any():
            return [ring]
        first = int(np.argmax(along))
        turned = np.vstack((ring[first + 1 : -1], ring[: first + 2]))
        along = np.roll(along, -first - 1)
        steps = np.flatnonzero(along)
        starts = np.concatenate(([0], steps + 1))
        return [turned[a : b + 1] for a, b in zip(starts, steps, strict=False) if b > a]

    def sample(self, at: Array) -> Array:
        """Values at points."""
        return contours.sample(self.values, x=self.x, y=self.y, at=at)

    def holds(self, at: Array) -> Any:
        """Whether points lie in the piece."""
        from shapely import contains_xy
        from shapely.geometry import Polygon

        return contains_xy(Polygon(self.piece.outline), at[:, 0], at[:, 1])


def _thinned(line: Array, tolerance: float) -> Array:
    """Return the line without the vertices that it hardly needs."""
    from shapely import get_coordinates, linestrings, simplify

    return np.asarray(
        get_coordinates(simplify(linestrings(line), tolerance, preserve_topology=False))
    )


def _bounds(outlines: Iterable[Outline]) -> tuple[float, float, float, float]:
    points = np.concatenate([np.asarray(outline, dtype=float) for outline in outlines])
    (x0, y0), (x1, y1) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
    return x0, y0, x1, y1


def _extent(outlines: Iterable[Outline]) -> tuple[float, float]:
    x0, y0, x1, y1 = _bounds(outlines)
    return x1 - x0, y1 - y0


def _hachures(runs: Sequence[Array], drawn: Sequence[_Piece], size: float) -> str:
    """Short strokes at even distances along the promise, towards the side that misses it."""
    every, length = _HACHURE_EVERY * size, _HACHURE * size
    strokes: list[Array] = []
    for run in runs:
        feet, forward = _stations(run, every)
        if not len(feet):
            continue
        normal = np.column_stack((-forward[:, 1], forward[:, 0]))
        piece = next((p for p in drawn if p.holds(feet[:1])[0]), drawn[0])
        left, right = (piece.sample(feet + side * 0.3 * length * normal) for side in (1.0, -1.0))
        failing = (left < right) == piece.piece.field.higher_is_better
        tips = feet + np.where(failing, length, -length)[:, None] * normal
        strokes += list(np.stack((feet, tips), axis=1))
    return path(strokes)


def _along(run: Array) -> Array:
    steps = np.hypot(*np.diff(run, axis=0).T)
    return np.concatenate(([0.0], np.cumsum(steps)))


def _at(run: Array, along: Array, where: Array) -> Array:
    return np.column_stack([np.interp(where, along, run[:, k]) for k in (0, 1)])


def _stations(run: Array, every: float) -> tuple[Array, Array]:
    """Points at even distances along a line, and the unit vectors along it there."""
    along = _along(run)
    count = int(along[-1] // every)
    if count < 1:
        return np.empty((0, 2)), np.empty((0, 2))
    where = (along[-1] - (count - 1) * every) / 2 + np.arange(count) * every
    ahead, behind = _at(run, along, where + every / 8), _at(run, along, where - every / 8)
    forward = ahead - behind
    forward /= np.maximum(np.hypot(*forward.T), 1e-9)[:, None]
    return _at(run, along, where), forward


# ---- labels ------------------------------------------------------------------------------


def _labelled(
    runs: dict[float, list[Array]],
    levels: Levels,
    drawn: Sequence[_Piece],
    *,
    size: float,
    keep_off: Sequence[tuple[Point, float]],
) -> tuple[dict[float, list[Array]], list[Label]]:
    """Return the lines with gaps, and the labels that stand in them; one for a line at most."""
    height = _LETTER * size
    dense = {level: _dense(lines, height / 2) for level, lines in runs.items()}
    labels: list[Label] = []
    cut = dict(runs)
    for level in sorted(runs, key=lambda v: (not levels.is_promise(v), v)):
        promise = levels.is_promise(level)
        if not (promise or levels.is_index(level)):
            continue
        words = f"promise {levels.label(level)}" if promise else levels.label(level)
        width = height * (0.55 * len(words) + 0.6)
        others = np.concatenate(
            [np.empty((0, 2)), *(points for other, points in dense.items() if other != level)]
        )
        taken = [*keep_off, *((one.at, one.width / 2) for one in labels)]
        order = sorted(range(len(runs[level])), key=lambda k: -float(_along(runs[level][k])[-1]))
        for k in order:
            run = runs[level][k]
            spot = _spot(run, width, height, drawn=drawn, others=others, taken=taken)
            if spot is None:
                continue
            where, at, angle_deg = spot
            labels.append(Label(at, angle_deg, words, promise, round(width, PLACES)))
            cut[level] = [
                *runs[level][:k],
                *_with_gap(run, where - width / 2, where + width / 2),
                *runs[level][k + 1 :],
            ]
            break
    return cut, labels


def _spot(
    run: Array,
    width: float,
    height: float,
    *,
    drawn: Sequence[_Piece],
    others: Array,
    taken: Sequence[tuple[Point, float]],
) -> tuple[float, Point, float] | None:
    """Return the best place for a label on a line: how far along, middle and angle; or None."""
    along = _along(run)
    where = np.arange(width, along[-1] - width, width / 4)
    if not len(where):
        return None
    start, end = _at(run, along, where - width / 2), _at(run, along, where + width / 2)
    middle = _at(run, along, where)
    chord = end - start
    sag = np.hypot(*(middle - (start + end) / 2).T)
    angle_deg = np.degrees(np.arctan2(chord[:, 1], chord[:, 0]))
    angle_deg = np.where(angle_deg > 90.0, angle_deg - 180.0, angle_deg)
    angle_deg = np.where(angle_deg <= -90.0, angle_deg + 180.0, angle_deg)
    good = (np.hypot(*chord.T) >= 0.93 * width) & (sag < height)
    for share in (-0.5, 0.0, 0.5):  # both ends and the middle in the room
        at = _at(run, along, where + share * width)
        good &= np.any([piece.holds(at) for piece in drawn], axis=0)
    for point, radius in taken:
        good &= np.hypot(*(middle - point).T) > radius + width / 2
    cost = np.abs(where / along[-1] - 0.5) + np.abs(angle_deg) / 120.0 + sag / height
    for best in np.argsort(np.where(good, cost, np.inf), kind="stable").tolist():
        if not good[best]:
            return None
        turn = math.radians(float(angle_deg[best]))
        across = np.abs(_turned(others - middle[best], turn))
        if ((across[:, 0] < width / 2) & (across[:, 1] < 0.7 * height)).any():
            continue
        x, y = np.round(middle[best], PLACES).tolist()
        return float(where[best]), (x, y), round(math.degrees(turn), 1)
    return None


def _dense(runs: Sequence[Array], every: float) -> Array:
    """Points so near to each other along some lines that no label slips between them."""
    found = [np.empty((0, 2))]
    for run in runs:
        along = _along(run)
        found.append(_at(run, along, np.arange(0.0, along[-1] + every, every)))
    return np.concatenate(found)


def _turned(vectors: Array, angle: float) -> Array:
    """Components of vectors (n, 2) along and across a direction."""
    c, s = math.cos(angle), math.sin(angle)
    x, y = vectors[:, 0], vectors[:, 1]
    return np.column_stack((c * x + s * y, c * y - s * x))


def _with_gap(run: Array, first: float, last: float) -> list[Array]:
    """Return a line without the stretch between two distances along it."""
    along = _along(run)
    ends = _at(run, along, np.array([first, last]))
    before = np.vstack((run[along < first], ends[:1]))
    after = np.vstack((ends[1:], run[along > last]))
    return [part for part in (before, after) if len(part) > 1]
