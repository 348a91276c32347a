"""The sheet in paper space: frame, border, tables, title block, and a window onto the room."""

from __future__ import annotations

from typing import Any

from wellheard.cad import LAYERS, Role
from wellheard.drawings import panel
from wellheard.drawings.boxes import Placer
from wellheard.drawings.canvas import Canvas
from wellheard.drawings.dxf.blocks import title_block
from wellheard.drawings.dxf.document import WINDOW_LAYER, Measure
from wellheard.drawings.dxf.ink import Frame, Ink
from wellheard.drawings.dxf.room import frame_of
from wellheard.drawings.plan import (
    Arrangement,
    draw_border,
    draw_frame,
    draw_strips,
    draw_tables,
)
from wellheard.drawings.sheet import INCH, Paper
from wellheard.drawings.view import PlanView

INSIDE_MM = 1.4
"""Between the drawing area's edge and the window: the graduated border."""
LOCKED = 0x4000
"""Flag of a window whose scale stays as it is."""


def show_sheet(document: Any, size: tuple[float, float], *, name: str) -> None:
    """Make a layout that prints what is drawn in model space in millimetres of its paper."""
    layout = document.layouts.get("Layout1")
    document.layouts.rename("Layout1", name)
    layout.page_setup(size=size, margins=(0, 0, 0, 0), units="mm", name=name, device="None")
    middle = (size[0] / 2, size[1] / 2)
    window = layout.add_viewport(
        center=middle,
        size=size,
        view_center_point=middle,
        view_height=size[1],
        dxfattribs={"layer": WINDOW_LAYER},
    )
    window.dxf.flags |= LOCKED


def paper_ink(document: Any, paper: Paper, measure: Measure, name: str) -> Ink:
    """Return what draws on the file's sheet, set up for its paper."""
    metric = measure.unit == "m"
    layout = document.layouts.get("Layout1")
    document.layouts.rename("Layout1", name)
    size = (paper.width, paper.height) if metric else (paper.width / INCH, paper.height / INCH)
    layout.page_setup(
        size=size,
        margins=(0, 0, 0, 0),
        units="mm" if metric else "inch",
        name=paper.name.replace(" ", "_"),
        device="None",
    )
    frame = Frame(measure.per_mm, (0.0, paper.height * measure.per_mm))
    return Ink(document, layout, frame)


def draw_paper(document: Any, view: PlanView, where: Arrangement, measure: Measure) -> Placer:
    """Draw the sheet; return who knows what is written in the border."""
    role: Role = "sheet"
    ink = paper_ink(document, where.paper, measure, view.title_block.sheet or "Sheet")
    canvas = Canvas()
    draw_frame(canvas, where.paper)
    hard = draw_border(canvas, view, where)
    draw_strips(canvas, view, where, levels=None, left_out=0)
    column = draw_tables(canvas, view, where)
    ink.draw(canvas, role)
    block = Canvas()
    right, bottom = where.paper.frame[2:]
    column.canvas = block
    panel.draw_title_block(
        column,
        view,
        left=where.paper.divider,
        right=right,
        scale=where.scale.label,
        paper=where.paper.name,
    )
    title_block(ink, block, (right, bottom))
    _window(ink, where, measure)
    return hard


def _window(ink: Ink, where: Arrangement, measure: Measure) -> None:
    """Show the model space to scale inside the border."""
    left, top, right, bottom = where.area.grown(-INSIDE_MM).bounds
    middle = ((left + right) / 2, (top + bottom) / 2)
    room = frame_of(where.project, measure)
    window = ink.layout.add_viewport(
        center=ink.frame(middle),
        size=(measure.per_mm * (right - left), measure.per_mm * (bottom - top)),
        view_center_point=room(middle),
        view_height=room.scale * (bottom - top),
        dxfattribs={"layer": WINDOW_LAYER},
    )
    window.dxf.flags |= LOCKED
    # Ways of cables are estimates, for who works in the model; the sheet is what is built from.
    window.frozen_layers = [LAYERS["cable"]]
