"""A laid out diagram as a drawing: boxes, lines with arrowheads, and what is written at them."""

from __future__ import annotations

from collections.abc import Sequence

from wellheard.drawings.canvas import Canvas, Point
from wellheard.drawings.diagram.model import Layout, PlacedLink
from wellheard.drawings.tokens import Dash, Pen

MARGIN = 5.0
"""Round the picture for a screen. [mm]"""
ARROW, HALF = 2.2, 0.8
"""Length of an arrowhead, and half its width. [mm]"""
_PENS: dict[str, Pen] = {
    "balanced": "thin",
    "unbalanced": "thin",
    "control": "hair",
    "network": "mid",
    "low-impedance": "bold",
    "constant-voltage": "bold",
}
USUAL_PEN: Pen = "fine"


def draw(canvas: Canvas, laid: Layout) -> None:
    """Record a layout."""
    canvas.begin("cable")
    for link in laid.links:
        _line(canvas, link)
    canvas.begin("equipment")
    for placed in laid.boxes:
        dash: Dash = "dashed" if placed.box.assumed else "solid"
        canvas.rectangle(
            placed.x, placed.y, placed.width, placed.height, fill="paper", pen="mid", dash=dash
        )
        canvas.commands += placed.texts
        canvas.commands += [port.text for port in placed.ports]
    canvas.begin("cable")
    for link in laid.links:
        _arrows(canvas, link)
        if link.label is not None:
            canvas.commands.append(link.label)
    canvas.begin(None)


def pen_of(kind: str) -> Pen:
    """Pen of a kind of link."""
    return _PENS.get(kind, USUAL_PEN)


def _line(canvas: Canvas, placed: PlacedLink) -> None:
    dash: Dash = "dashed" if placed.link.assumed else "solid"
    canvas.line(placed.points, pen=pen_of(placed.link.kind), dash=dash)


def _arrows(canvas: Canvas, placed: PlacedLink) -> None:
    _arrow(canvas, placed.points[-2:])
    if placed.link.both:
        _arrow(canvas, placed.points[1::-1])


def _arrow(canvas: Canvas, last: Sequence[Point]) -> None:
    """An arrowhead at the end of a horizontal stretch."""
    (x0, _), (x, y) = last
    back = x - ARROW if x > x0 else x + ARROW
    canvas.area(((x, y), (back, y - HALF), (back, y + HALF)), fill="ink")
