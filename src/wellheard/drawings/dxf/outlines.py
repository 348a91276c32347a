"""Shapes of a plan symbol as strokes and filled areas, what lies under a white one cut away.

A drawing file has no paper that covers: what a sheet hides under a white area is cut from it here.
"""

from __future__ import annotations

import functools
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any, TypeAlias

from wellheard.cad import Role
from wellheard.drawings.symbols import Shape, library
from wellheard.drawings.tokens import Dash

Point: TypeAlias = tuple[float, float]
_ARC_STEPS = 24
"""Chords of half a turn."""
_NUMBER = re.compile(r"-?(?:\d+\.?\d*|\.\d+)")
_COUNTS = {"M": 2, "L": 2, "H": 1, "V": 1, "A": 7, "Q": 4, "T": 2, "Z": 0}


@dataclass(frozen=True, slots=True)
class Stroke:
    """Lines of one pen: a shapely shape, its width on paper and dash; ``circle`` if it is one."""

    shape: Any
    width_mm: float
    dash: Dash = "solid"
    colour: str = "ink"
    circle: tuple[Point, float] | None = None
    role: Role | None = None


@dataclass(frozen=True, slots=True)
class Fill:
    """A filled area: a shapely shape and its colour."""

    shape: Any
    colour: str = "ink"
    role: Role | None = None


Piece: TypeAlias = Stroke | Fill


def uncovered(pieces: list[Piece], cover: Any) -> list[Piece]:
    """Return what is left of pieces beside an area that covers them."""
    from shapely import prepare

    prepare(cover)
    kept: list[Piece] = []
    for piece in pieces:
        if not cover.intersects(piece.shape):
            kept.append(piece)
            continue
        left = piece.shape.difference(cover)
        if left.is_empty:
            continue
        kept.append(
            replace(piece, shape=left, circle=None)
            if isinstance(piece, Stroke)
            else replace(piece, shape=left)
        )
    return kept


@functools.cache
def symbol_pieces(name: str) -> tuple[Piece, ...]:
    """Return a symbol in its own units, y downwards, origin in its middle."""
    pieces: list[Piece] = []
    for shape in library()[name].shapes:
        runs, closed, circle = _geometry(shape)
        if shape.fill == "none" and shape.stroke == "paper":  # cut out of what is there
            pieces = uncovered(pieces, _lines(runs, closed=closed).buffer(shape.width / 2))
            continue
        if shape.fill != "none":
            area = _areas(runs)
            pieces = uncovered(pieces, area) if shape.fill == "paper" else [*pieces, Fill(area)]
        if shape.stroke != "none":
            dash: Dash = "dashed" if shape.dash else "solid"
            pieces.append(
                Stroke(_lines(runs, closed=closed), 0.25 * shape.width, dash, circle=circle)
            )
    return tuple(pieces)


def _lines(runs: list[list[Point]], *, closed: bool) -> Any:
    from shapely import MultiLineString

    return MultiLineString([[*run, run[0]] if closed else run for run in runs])


def _areas(runs: list[list[Point]]) -> Any:
    from shapely import Polygon, union_all

    return union_all([Polygon(run) for run in runs if len(run) > 2])


def _geometry(shape: Shape) -> tuple[list[list[Point]], bool, tuple[Point, float] | None]:
    """Runs of points, whether they are closed, and the circle that they are."""
    given = dict(shape.geometry)

    def number(key: str) -> float:
        return float(given.get(key, "0"))

    if shape.tag == "rect":
        x, y, wide, tall = (number(key) for key in ("x", "y", "width", "height"))
        return [[(x, y), (x + wide, y), (x + wide, y + tall), (x, y + tall)]], True, None
    if shape.tag in ("circle", "ellipse"):
        middle = (number("cx"), number("cy"))
        radii = (number("r"),) * 2 if shape.tag == "circle" else (number("rx"), number("ry"))
        ring = [
            (
                middle[0] + radii[0] * math.cos(math.pi * k / _ARC_STEPS),
                middle[1] + radii[1] * math.sin(math.pi * k / _ARC_STEPS),
            )
            for k in range(2 * _ARC_STEPS)
        ]
        return [ring], True, (middle, radii[0]) if shape.tag == "circle" else None
    runs = list(path_runs(given["d"]))
    closed = given["d"].rstrip().upper().endswith("Z")
    return runs, closed, None


def path_runs(data: str) -> Iterator[list[Point]]:
    """Return the runs of a path of absolute M, L, H, V, A, Q, T and Z commands.

    Examples
    --------
    >>> [[(round(x, 3), round(y, 3)) for x, y in run] for run in path_runs("M0 0H4V2M1 1L2 2")]
    [[(0.0, 0.0), (4.0, 0.0), (4.0, 2.0)], [(1.0, 1.0), (2.0, 2.0)]]
    >>> x, y = list(path_runs("M-1 0A1 1 0 0 1 1 0"))[0][24 // 2]  # over the top, y down
    >>> round(x, 9) == 0.0, y
    (True, -1.0)
    """
    run: list[Point] = []
    control: Point | None = None
    for letter, values in _commands(data):
        if letter == "M":
            if len(run) > 1:
                yield run
            run = [(values[0], values[1])]
            continue
        last = run[-1] if run else (0.0, 0.0)
        if letter in "LHV":
            run.append(_straight(letter, values, last))
        elif letter == "A":
            run += _arc(last, values)
        elif letter in "QT":
            mirrored = control if letter == "T" and control else last
            middle = (
                (values[0], values[1])
                if letter == "Q"
                else (2 * last[0] - mirrored[0], 2 * last[1] - mirrored[1])
            )
            run += _quadratic(last, middle, (values[-2], values[-1]))
            control = middle
            continue
        control = None
    if len(run) > 1:
        yield run


def _commands(data: str) -> Iterator[tuple[str, list[float]]]:
    for letter, body in re.findall(r"([A-Za-z])([^A-Za-z]*)", data):
        values = [float(found) for found in _NUMBER.findall(body)]
        count = _COUNTS[letter]
        if not count:
            yield letter, []
        for k in range(0, len(values), count or 1):
            # more pairs after a start are lines
            yield ("L" if letter == "M" and k else letter), values[k : k + count]


def _straight(letter: str, values: list[float], last: Point) -> Point:
    if letter == "H":
        return values[0], last[1]
    if letter == "V":
        return last[0], values[0]
    return values[0], values[1]


def _quadratic(start: Point, middle: Point, end: Point) -> list[Point]:
    steps = _ARC_STEPS // 2
    points = []
    for t in (k / steps for k in range(1, steps + 1)):
        a, b, c = (1 - t) ** 2, 2 * (1 - t) * t, t**2
        points.append(
            (
                a * start[0] + b * middle[0] + c * end[0],
                a * start[1] + b * middle[1] + c * end[1],
            )
        )
    return points


def _arc(start: Point, values: list[float]) -> list[Point]:
    """Points of an elliptical arc by its ends, after SVG 1.1, appendix F.6.5; unturned ones only.

    The conversion from ends to centre is that of the recommendation, from memory.
    """
    rx, ry, turn, large, sweep, x, y = values
    assert turn == 0.0
    dx, dy = (start[0] - x) / 2 / rx, (start[1] - y) / 2 / ry
    square = max(dx * dx + dy * dy, 1e-12)
    grown = max(1.0, math.sqrt(square))
    dx, dy, rx, ry = dx / grown, dy / grown, rx * grown, ry * grown
    square = dx * dx + dy * dy
    root = math.sqrt(max(0.0, 1.0 / square - 1.0)) * (-1.0 if large == sweep else 1.0)
    cx, cy = root * dy, -root * dx
    first, last = math.atan2(dy - cy, dx - cx), math.atan2(-dy - cy, -dx - cx)
    span = last - first
    if sweep and span < 0:
        span += 2 * math.pi
    elif not sweep and span > 0:
        span -= 2 * math.pi
    middle = ((start[0] + x) / 2 + rx * cx, (start[1] + y) / 2 + ry * cy)
    steps = max(2, math.ceil(abs(span) / math.pi * _ARC_STEPS))
    points = [
        (
            middle[0] + rx * math.cos(first + span * k / steps),
            middle[1] + ry * math.sin(first + span * k / steps),
        )
        for k in range(1, steps)
    ]
    return [*points, (x, y)]
