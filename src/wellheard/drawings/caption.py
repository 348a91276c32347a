"""The strip under the drawing: what the map shows, its scale of tints, north, and the cautions."""

from __future__ import annotations

from itertools import pairwise

from wellheard.drawings.canvas import Canvas, Point
from wellheard.drawings.dimensions import printed
from wellheard.drawings.fieldmap import Levels, figure
from wellheard.drawings.lettering import shorten, text_width, wrap, wrap_evenly
from wellheard.drawings.tokens import size_mm
from wellheard.drawings.view import FieldMap, PlanView

NOTE = size_mm("note")
CAPTION_MM = 21.0
_LINE = 3.6


def caution_lines(view: PlanView, *, width: float) -> list[str]:
    """Return the cautions, wrapped to the strip."""
    return wrap(" ".join(view.cautions), width - 26.0, NOTE) if view.cautions else []


def cautions_height(view: PlanView, *, width: float) -> float:
    """Return the height of the strip of cautions; 0 without any. [mm]"""
    lines = caution_lines(view, width=width)
    return 7.0 + 3.5 * (len(lines) - 1) if lines else 0.0


def draw_cautions(canvas: Canvas, view: PlanView, *, x0: float, x1: float, bottom: float) -> None:
    """Draw the strip of cautions that ends at ``bottom``."""
    lines = caution_lines(view, width=x1 - x0)
    if not lines:
        return
    top = bottom - cautions_height(view, width=x1 - x0)
    canvas.line(((x0, top), (x1, top)), pen="mid")
    canvas.line(
        ((x0 + 4.0, top + 5.4), (x0 + 6.3, top + 1.3), (x0 + 8.6, top + 5.4)),
        pen="fine",
        closed=True,
    )
    canvas.text("!", (x0 + 6.3, top + 4.95), size=2.6, face="semibold", anchor="middle")
    canvas.text("Cautions", (x0 + 10.5, top + 4.6), size=NOTE, face="semibold")
    for k, line in enumerate(lines):
        canvas.text(line, (x0 + 22.7, top + 4.6 + 3.5 * k), size=NOTE)


def sentences(view: PlanView, levels: Levels | None, left_out: int) -> str:
    """Return what stands under the heading: quantity, conditions, lines, what is left out."""
    field = view.field
    parts = []
    if field is not None and levels is not None:
        unit = f", {field.unit}" if field.unit else ""
        parts.append(f"{field.quantity}{unit}.")
        if field.conditions:
            parts.append(field.conditions)
        unit = f"\u00a0{field.unit}" if field.unit else ""
        parts.append(f"Lines every {figure(levels.step, max(field.decimals, 1))}{unit}.")
        if field.target is not None:
            parts.append("Hachures point to where the promise is missed.")
        if view.standing:
            parts.append("Standing areas are predicted apart and carry their own figure.")
    else:
        parts.append(f"Mouth and ear of seated people at {printed(view.mouth_height, view.units)}.")
    if left_out:
        parts.append(f"{left_out} figures found no room here: see the seat ledger.")
    return " ".join(parts)


def draw_caption(
    canvas: Canvas,
    view: PlanView,
    levels: Levels | None,
    *,
    left_out: int,
    scale: str,
    x0: float,
    x1: float,
    top: float,
) -> None:
    """Draw heading, explanation, tint scale, drawing scale and north arrow."""
    block = view.title_block
    left = x0 + 3.0
    right_block = 62.0
    legend = 105.0 if view.field is not None else 0.0
    room = x1 - x0 - right_block - legend - 6.0
    canvas.text(block.sheet, (left, top + 5.6), size=5.0, face="semibold")
    lead = text_width(block.sheet, 5.0, face="semibold") + 3.2
    heading = shorten(block.heading, x1 - left - lead - right_block, 5.0, face="semibold")
    heading_end = left + lead + text_width(heading, 5.0, face="semibold")
    canvas.text(heading, (left + lead, top + 5.6), size=5.0, face="semibold")
    text = sentences(view, levels, left_out)
    size = NOTE
    lines = wrap_evenly(text, room, size)
    while len(lines) > 4 and size > 2.15:
        size -= 0.1
        lines = wrap_evenly(text, room, size)
    step = _LINE if len(lines) <= 3 else 3.1
    first = top + (11.2 if len(lines) <= 3 else 9.6)
    for k, line in enumerate(lines[:4]):
        canvas.text(line, (left, first + step * k), size=size, colour="ink-2")
    if view.field is not None and levels is not None:
        start = x0 + 6.0 + room + 4.0
        draw_tint_scale(
            canvas,
            view.field,
            levels,
            x=start,
            y=top + (9.4 if heading_end < start - 2.0 else 10.4),
            width=88.0,
        )
    _draw_scale(canvas, view, scale, x1=x1, top=top)


def draw_tint_scale(
    canvas: Canvas, field: FieldMap, levels: Levels, *, x: float, y: float, width: float
) -> None:
    """Draw the bands of the map side by side, with the values between them and the promise.

    A band that holds more than a step of the lines is broken: nothing on the map lies in it.
    """
    bands = len(levels.tints)
    part, tall = width / bands, 4.2
    for k, tint in enumerate(levels.tints):
        canvas.rectangle(x + k * part, y, part, tall, fill=f"tint-{tint}")
    canvas.rectangle(x, y, width, tall, pen="thin")
    for k, (low, high) in enumerate(pairwise(levels.values), start=1):
        if high - low > 1.5 * levels.step:
            _draw_break(canvas, (x + (k + 0.5) * part, y), tall)
    for k, level in enumerate(levels.values):
        at = x + (k + 1) * part
        text = levels.label(level)
        if levels.is_promise(level):
            canvas.line(((at, y), (at, y + tall + 0.9)), pen="bold", colour="accent")
            canvas.text(
                text,
                (at, y + 7.54),
                size=NOTE,
                face="semibold",
                colour="accent",
                anchor="middle",
            )
            canvas.text(
                "promise",
                (at, y - 0.9),
                size=NOTE,
                face="semibold",
                colour="accent",
                anchor="middle",
            )
        elif levels.is_index(level):
            canvas.line(((at, y), (at, y + tall + 0.9)), pen="thin")
            canvas.text(text, (at, y + 7.54), size=NOTE, anchor="middle")
        else:
            canvas.line(((at, y + 2.6), (at, y + tall)), pen="hair")
    canvas.text(field.unit, (x + width + 1.5, y + 3.2), size=NOTE)


def _draw_break(canvas: Canvas, top: Point, tall: float) -> None:
    """Two slanting strokes across a scale, blank between them."""
    x, y = top
    lean, gap, over = 0.45, 0.55, 0.5
    strokes = [
        ((x + side * gap + lean, y - over), (x + side * gap - lean, y + tall + over))
        for side in (-1.0, 1.0)
    ]
    (a, b), (c, d) = strokes
    canvas.area((a, c, d, b), fill="paper")
    canvas.line(*strokes, pen="thin")


def _draw_scale(canvas: Canvas, view: PlanView, scale: str, *, x1: float, top: float) -> None:
    metric = view.units == "m"
    canvas.symbol("north", (x1 - 6.4, top + 10.2), size=11.0)
    canvas.text("N", (x1 - 6.4, top + 4.2), size=NOTE, face="semibold", anchor="middle")
    canvas.text("as drawn", (x1 - 6.4, top + 18.9), size=2.2, colour="ink-2", anchor="middle")
    at = x1 - 15.5
    canvas.text(scale, (at, top + 7.2), size=size_mm("body"), face="semibold", anchor="end")
    for k, line in enumerate(
        (
            "scale in the border:",
            "metres south, west" if metric else "feet south, west",
            "feet north, east" if metric else "metres north, east",
        )
    ):
        canvas.text(line, (at, top + 11.6 + 3.6 * k), size=NOTE, colour="ink-2", anchor="end")
