"""Drawings as DXF files: a plan in true size for architects, and any recorded sheet.

A plan carries no map and no predicted figure: it says where things are. Colours and pens go by
layer, layers by role (`wellheard.cad`).
"""

from __future__ import annotations

from dataclasses import replace

from wellheard.drawings.canvas import Canvas
from wellheard.drawings.dxf.document import Measure, as_bytes, new_document
from wellheard.drawings.dxf.ink import Frame, Ink
from wellheard.drawings.dxf.room import draw_model, frame_of
from wellheard.drawings.dxf.sheet import draw_paper, show_sheet
from wellheard.drawings.plan import arranged
from wellheard.drawings.view import PlanView


def plan_dxf(view: PlanView, *, date: str) -> bytes:
    """Return a plan as a DXF file.

    Parameters
    ----------
    view : PlanView
        As of the plan sheet.
    date : str
        Of the document; the file's time stamps.

    Returns
    -------
    bytes
        DXF R2010 in millimetres, or in inches where the document is in feet. In model space the
        room stands in true size at its document's coordinates; a layout is the sheet, to scale. The
        same view and date give the same bytes.

    Raises
    ------
    ValueError
        The room does not fit on the sheet at any standard scale.
    """
    shown = without_figures(view)
    where, measure = arranged(shown), Measure(shown.units)
    document = new_document(shown.units)
    hard = draw_paper(document, shown, where, measure)
    draw_model(document, shown, where, measure, hard)
    room, (left, top, right, bottom) = frame_of(where.project, measure), where.area.bounds
    low, high = room((left, bottom)), room((right, top))
    middle = ((low[0] + high[0]) / 2, (low[1] + high[1]) / 2)
    document.set_modelspace_vport(height=high[1] - low[1], center=middle)
    document.header["$EXTMIN"], document.header["$EXTMAX"] = (*low, 0.0), (*high, 0.0)
    document.header["$DIMSTYLE"] = "SHEET"
    return as_bytes(document, date)


def canvas_dxf(canvas: Canvas, width: float, height: float, *, title: str, date: str) -> bytes:
    """Return a recorded sheet as a DXF file in millimetres, its lower left corner at the origin.

    Parameters
    ----------
    canvas : Canvas
        What to draw.
    width, height : float
        Of the paper. [mm]
    title : str
        Of the drawing, kept with the file; its first word is the name of the layout that prints it.
    date : str
        Of the document; the file's time stamps.
    """
    document = new_document("m")
    document.header.custom_vars.append("Title", title)
    ink = Ink(document, document.modelspace(), Frame(1.0, (0.0, height)))
    ink.draw(canvas, "sheet")
    show_sheet(document, (width, height), name=title.partition(" ")[0])
    document.set_modelspace_vport(height=height, center=(width / 2, height / 2))
    document.header["$EXTMIN"] = (0.0, 0.0, 0.0)
    document.header["$EXTMAX"] = (width, height, 0.0)
    return as_bytes(document, date)


def without_figures(view: PlanView) -> PlanView:
    """Return a plan without its map and without a figure or a state at any place."""
    heading = view.title_block.heading.replace(" over speech map", "")
    return replace(
        view,
        title_block=replace(view.title_block, heading=heading),
        field=None,
        pieces=(),
        seats=tuple(replace(seat, figure="", state="kept") for seat in view.seats),
        standing=tuple(replace(area, figure="", state="kept", note="") for area in view.standing),
    )
