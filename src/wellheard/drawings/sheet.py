"""Paper, frame and scale: where things go on a sheet, and how metres become millimetres."""

from __future__ import annotations

from dataclasses import dataclass

from wellheard.drawings.canvas import Point
from wellheard.drawings.view import Outline, Unit

INCH = 25.4
FOOT = 0.3048


@dataclass(frozen=True, slots=True)
class Paper:
    """A paper format with its frame, all in mm; the binding edge is on the left."""

    name: str
    width: float
    height: float
    panel: float
    """Width of the column of tables on the right."""
    left: float = 20.0
    edge: float = 10.0

    @property
    def frame(self) -> tuple[float, float, float, float]:
        """Return the frame's x0, y0, x1, y1."""
        return self.left, self.edge, self.width - self.edge, self.height - self.edge

    @property
    def divider(self) -> float:
        """Return the x of the line between drawing and tables."""
        return self.width - self.edge - self.panel


A3 = Paper("A3", 420.0, 297.0, panel=80.0)
ANSI_B = Paper("ANSI B", 431.8, 279.4, panel=88.0)


@dataclass(frozen=True, slots=True)
class Scale:
    """A standard scale: ``label`` as printed, ``ratio`` metres in the room per metre on paper."""

    label: str
    ratio: float

    @property
    def mm_per_metre(self) -> float:
        """Return how long one metre is on paper. [mm]"""
        return 1000.0 / self.ratio


METRIC_SCALES = tuple(
    Scale(f"1 : {ratio}", float(ratio)) for ratio in (10, 20, 25, 50, 75, 100, 200, 500)
)
FOOT_SCALES = tuple(
    Scale(f'{inches}" = 1\'-0"', ratio)
    for inches, ratio in (
        ("1½", 8.0),
        ("1", 12.0),
        ("¾", 16.0),
        ("½", 24.0),
        ("⅜", 32.0),
        ("¼", 48.0),
        ("3/16", 64.0),
        ("⅛", 96.0),
        ("1/16", 192.0),
        ("1/32", 384.0),
    )
)


def paper_for(unit: Unit) -> Paper:
    """Return A3 for metres, ANSI B for feet and inches."""
    return A3 if unit == "m" else ANSI_B


def scales_for(unit: Unit) -> tuple[Scale, ...]:
    """Return the standard scales of a unit, largest drawing first."""
    return METRIC_SCALES if unit == "m" else FOOT_SCALES


@dataclass(frozen=True, slots=True)
class Projection:
    """Room metres to paper millimetres; ``datum`` [m] lies at ``origin`` [mm], y turns over."""

    mm_per_metre: float
    datum: Point
    origin: Point

    def __call__(self, point: Point) -> Point:
        """Return a room point on paper."""
        return (
            self.origin[0] + (point[0] - self.datum[0]) * self.mm_per_metre,
            self.origin[1] - (point[1] - self.datum[1]) * self.mm_per_metre,
        )

    def outline(self, outline: Outline) -> tuple[Point, ...]:
        """Return a room polygon on paper."""
        return tuple(self(point) for point in outline)

    def length(self, metres: float) -> float:
        """Return a room length on paper. [mm]"""
        return metres * self.mm_per_metre


def extent(outline: Outline) -> tuple[float, float, float, float]:
    """Return x0, y0, x1, y1 of an outline.

    Examples
    --------
    >>> extent(((0.0, 1.0), (3.0, 1.0), (3.0, 4.0)))
    (0.0, 1.0, 3.0, 4.0)
    """
    xs, ys = zip(*outline, strict=True)
    return min(xs), min(ys), max(xs), max(ys)
