"""A room that divides: its partitions on the plan, and the maps of its spaces side by side."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from wellheard.drawings.boxes import Box, Placer
from wellheard.drawings.canvas import Canvas, Point
from wellheard.drawings.fieldmap import ContourDrawing, Levels, choose_levels
from wellheard.drawings.lettering import text_width
from wellheard.drawings.sheet import Projection
from wellheard.drawings.view import PartitionMark, PlanView

LEAF = 0.08
"""Thickness at which a closed partition is drawn; the document does not know the real one. [m]"""


class Maps:
    """The map of a room, or those of its spaces with the same lines in all of them."""

    def __init__(self, view: PlanView, room: Any, project: Projection) -> None:
        """Refine what ``view`` shows; ``room`` is the paper polygon of the whole."""
        from shapely.geometry import Polygon

        self.drawings: list[ContourDrawing] = []
        self.levels: Levels | None = None
        if view.field is None:
            return
        if not view.pieces:
            self.drawings = [ContourDrawing(view.field, room, project)]
            self.levels = self.drawings[0].levels
            return
        self.drawings = [
            ContourDrawing(piece.field, Polygon(project.outline(piece.outline)), project)
            for piece in view.pieces
        ]
        inside = np.concatenate([drawing.inside() for drawing in self.drawings])
        self.levels = choose_levels(view.field, inside)
        for drawing in self.drawings:
            drawing.lay(self.levels)

    def place_labels(self, placer: Placer, *, size: float, keep_off: Any) -> Any:
        """Find room for the labels of all lines; returns the shape that lines leave blank."""
        from shapely import union_all

        holes = [d.place_labels(placer, size=size, keep_off=keep_off) for d in self.drawings]
        return holes[0] if len(holes) == 1 else union_all(holes)

    def draw_tints(self, canvas: Canvas) -> None:
        """Fill the bands of every space."""
        for drawing in self.drawings:
            drawing.draw_tints(canvas)

    def draw_lines(self, canvas: Canvas, keep_off: Any) -> None:
        """Draw lines, promise and labels of every space."""
        for drawing in self.drawings:
            drawing.draw_lines(canvas, keep_off)


def partition_boxes(partitions: Sequence[PartitionMark], project: Projection) -> list[Box]:
    """Return thin boxes along the partitions, which text keeps off."""
    return [_box(mark, project) for mark in partitions]


def _box(mark: PartitionMark, project: Projection) -> Box:
    (x0, y0), (x1, y1) = project(mark.start), project(mark.end)
    middle = ((x0 + x1) / 2, (y0 + y1) / 2)
    angle = math.degrees(math.atan2(y1 - y0, x1 - x0))
    return Box(middle, math.dist((x0, y0), (x1, y1)), leaf_mm(project), angle)


def leaf_mm(project: Projection) -> float:
    """Return the thickness of a closed partition on paper. [mm]"""
    return min(max(project.length(LEAF), 1.0), 3.0)


def draw_partitions(
    canvas: Canvas, partitions: Sequence[PartitionMark], project: Projection
) -> None:
    """Draw closed partitions as a double line, open ones dashed."""
    for mark in partitions:
        if not mark.closed:
            canvas.line((project(mark.start), project(mark.end)), pen="mid", dash="dashed")
            continue
        canvas.area(_box(mark, project).corners, fill="paper", pen="fine")


def label_partitions(
    canvas: Canvas,
    placer: Placer,
    partitions: Sequence[PartitionMark],
    project: Projection,
    *,
    edges: Sequence[Box],
    size: float,
) -> None:
    """Write beside each partition what it is called and how it stands, where there is room.

    ``edges`` are drawn lines that the words stay clear of, such as those of the partition's track.
    """
    for mark in partitions:
        text = f"{mark.id}, {'closed' if mark.closed else 'open'}"
        angle = _reading(project(mark.start), project(mark.end))
        for base in _spots(mark, project, text, angle, size):
            trial = Canvas().text(text, base, size=size, anchor="middle", angle_deg=angle)
            box = trial.box.grown(0.4)
            if placer.is_free(box) and not any(_meet(box, edge) for edge in edges):
                canvas.text(text, base, size=size, face="italic", anchor="middle", angle_deg=angle)
                placer.take(trial.box)
                break


SHARES = (0.12, 0.88, 0.25, 0.75, 0.38, 0.62, 0.5)
"""Where along a partition its name may stand, in order of preference."""
STEPS_MM = tuple(1.5 * k for k in range(8))
"""How far beside it, beyond the least."""


def _spots(
    mark: PartitionMark, project: Projection, text: str, angle_deg: float, size: float
) -> Iterator[Point]:
    """Places for the words, nearest first: on either side, along the partition."""
    start, end = project(mark.start), project(mark.end)
    length = math.dist(start, end)
    half = text_width(text, size) / 2 + 3.0
    turn = math.radians(angle_deg)
    across, rise = (-math.sin(turn), math.cos(turn)), 0.35 * size
    for step in STEPS_MM:
        for share in SHARES:
            along = min(max(share * length, half), max(length - half, half)) / length
            x, y = (start[k] + along * (end[k] - start[k]) for k in (0, 1))
            for side in (-1.0, 1.0):
                off = side * (leaf_mm(project) / 2 + 0.9 + rise + step) + rise
                yield x + off * across[0], y + off * across[1]


def _meet(one: Box, other: Box) -> bool:
    from shapely.geometry import Polygon

    return bool(Polygon(one.corners).intersects(Polygon(other.corners)))


def _reading(start: Point, end: Point) -> float:
    """Angle at which text along a line reads left to right or bottom to top."""
    angle = math.degrees(math.atan2(end[1] - start[1], end[0] - start[0]))
    while angle <= -90.5:
        angle += 180.0
    while angle > 89.5:
        angle -= 180.0
    return angle
