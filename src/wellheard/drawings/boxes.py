"""Rectangles at any angle that must not overlap: how text finds room on the sheet."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

Point: TypeAlias = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle by centre, size [mm] and angle, clockwise as y points down."""

    centre: Point
    width: float
    height: float
    angle_deg: float = 0.0

    @classmethod
    def spanning(cls, x0: float, y0: float, x1: float, y1: float) -> Box:
        """Return the upright box between two corners.

        Examples
        --------
        >>> Box.spanning(0, 0, 4, 2).centre
        (2.0, 1.0)
        """
        return cls(((x0 + x1) / 2, (y0 + y1) / 2), abs(x1 - x0), abs(y1 - y0))

    def grown(self, margin: float, *, along: float = 0.0) -> Box:
        """Return the box widened by ``margin`` on every side, and by ``along`` more at its ends.

        Examples
        --------
        >>> Box((0, 0), 4, 2).grown(1, along=2)
        Box(centre=(0, 0), width=10, height=4, angle_deg=0.0)
        """
        wide, tall = self.width + 2 * (margin + along), self.height + 2 * margin
        return Box(self.centre, wide, tall, self.angle_deg)

    @property
    def corners(self) -> tuple[Point, Point, Point, Point]:
        """Return the four corners in order round the box."""
        turn = math.radians(self.angle_deg)
        ux, uy = math.cos(turn) * self.width / 2, math.sin(turn) * self.width / 2
        vx, vy = -math.sin(turn) * self.height / 2, math.cos(turn) * self.height / 2
        x, y = self.centre
        return (
            (x - ux - vx, y - uy - vy),
            (x + ux - vx, y + uy - vy),
            (x + ux + vx, y + uy + vy),
            (x - ux + vx, y - uy + vy),
        )

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Return the upright bounds (x0, y0, x1, y1)."""
        if not self.angle_deg:
            (x, y), wide, tall = self.centre, self.width / 2, self.height / 2
            return x - wide, y - tall, x + wide, y + tall
        xs, ys = zip(*self.corners, strict=True)
        return min(xs), min(ys), max(xs), max(ys)

    def overlap(self, other: Box) -> float:
        """Return how deep two boxes overlap [mm], 0 when they do not.

        The depth is the least shift that parts them (separating axes).

        Examples
        --------
        >>> Box((0, 0), 4, 2).overlap(Box((3, 0), 4, 2))
        1.0
        >>> Box((0, 0), 4, 2).overlap(Box((5, 0), 4, 2))
        0.0
        """
        gap = math.hypot(self.centre[0] - other.centre[0], self.centre[1] - other.centre[1])
        reach = (self.width + self.height + other.width + other.height) / 2
        if gap > reach:
            return 0.0
        if not self.angle_deg and not other.angle_deg:
            across = (self.width + other.width) / 2 - abs(self.centre[0] - other.centre[0])
            upward = (self.height + other.height) / 2 - abs(self.centre[1] - other.centre[1])
            # Of two that lie in each other the shift is at most what parts them at one side.
            depth = min(across, upward, self.width, other.width, self.height, other.height)
            return depth if depth > 1e-9 else 0.0
        depth = math.inf
        for angle in {self.angle_deg % 90.0, other.angle_deg % 90.0}:
            for axis in (math.radians(angle), math.radians(angle + 90.0)):
                c, s = math.cos(axis), math.sin(axis)
                a = [x * c + y * s for x, y in self.corners]
                b = [x * c + y * s for x, y in other.corners]
                depth = min(depth, min(max(a), max(b)) - max(min(a), min(b)))
        return max(depth, 0.0) if depth > 1e-9 else 0.0

    def contains(self, point: Point) -> bool:
        """Return whether a point lies in the box."""
        turn = math.radians(-self.angle_deg)
        dx, dy = point[0] - self.centre[0], point[1] - self.centre[1]
        u = dx * math.cos(turn) - dy * math.sin(turn)
        v = dx * math.sin(turn) + dy * math.cos(turn)
        return abs(u) <= self.width / 2 and abs(v) <= self.height / 2


_CELL_MM = 12.0


@dataclass(slots=True)
class Placer:
    """Knows which boxes are taken, and finds the first free one among candidates.

    Boxes are filed by the cells of a coarse grid that they touch, so that a question looks only
    at neighbours.
    """

    bounds: Box
    taken: list[Box] = field(default_factory=list)
    _cells: dict[tuple[int, int], list[Box]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """File the boxes that are taken from the start."""
        for box in self.taken:
            self._file(box)

    def copy(self) -> Placer:
        """Return a placer on which something can be tried."""
        return Placer(self.bounds, list(self.taken))

    def take(self, *boxes: Box) -> None:
        """Mark boxes as occupied."""
        for box in boxes:
            self.taken.append(box)
            self._file(box)

    def is_free(self, box: Box) -> bool:
        """Return whether a box overlaps nothing and stays within the bounds."""
        x0, y0, x1, y1 = box.bounds
        left, top, right, bottom = self.bounds.bounds
        if x0 < left or y0 < top or x1 > right or y1 > bottom:
            return False
        cells = self._cells
        return not any(
            box.overlap(other) for cell in _cells_of(box) for other in cells.get(cell, ())
        )

    def first_free(self, groups: Sequence[Sequence[Box]], *, margin: float = 0.3) -> int | None:
        """Return the index of the first candidate whose boxes are all free, or None."""
        for index, boxes in enumerate(groups):
            if all(self.is_free(box.grown(margin)) for box in boxes):
                return index
        return None

    def _file(self, box: Box) -> None:
        for cell in _cells_of(box):
            self._cells.setdefault(cell, []).append(box)


def _cells_of(box: Box) -> list[tuple[int, int]]:
    x0, y0, x1, y1 = box.bounds
    columns = range(int(x0 // _CELL_MM), int(x1 // _CELL_MM) + 1)
    rows = range(int(y0 // _CELL_MM), int(y1 // _CELL_MM) + 1)
    return [(column, row) for column in columns for row in rows]
