"""Where a session of measurement was taken: a disc where the source stood, a cross for the ear."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

from wellheard.drawings.boxes import Box
from wellheard.drawings.canvas import Canvas, Point
from wellheard.drawings.sheet import Projection

SpotKind: TypeAlias = Literal["source", "microphone"]
RADIUS, ARM = 0.75, 1.35
"""Of the disc, and of the cross from its middle. [mm]"""


@dataclass(frozen=True, slots=True)
class Spot:
    """A place of the test source or of the measuring microphone, on the plan. [m]"""

    kind: SpotKind
    at: Point


def spot_boxes(spots: Sequence[Spot], project: Projection) -> list[Box]:
    """Return the boxes that words keep off."""
    return [Box(project(spot.at), 2 * ARM, 2 * ARM) for spot in spots]


def draw_spots(canvas: Canvas, spots: Sequence[Spot], project: Projection) -> None:
    """Draw every spot where it is."""
    for spot in spots:
        draw_spot(canvas, spot.kind, project(spot.at))


def draw_spot(canvas: Canvas, kind: SpotKind, at: Point) -> None:
    """Draw one on paper; both at one place can be told apart."""
    x, y = at
    if kind == "source":
        canvas.circle(at, RADIUS, fill="ink")
        return
    canvas.line(
        ((x - ARM, y - ARM), (x + ARM, y + ARM)),
        ((x - ARM, y + ARM), (x + ARM, y - ARM)),
        pen="fine",
    )
