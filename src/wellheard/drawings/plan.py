"""The plan: the dimensioned sheet for the installer and the small one for the customer.

Examples
--------
>>> block = TitleBlock("", "", "Bare room", "", "C-01", "Plan", "1", "A", "", "", "designed")
>>> square = ((0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (0.0, 3.0))
>>> plan_sheet(PlanView(square, 2.7, block), embed_fonts=False).startswith("<svg")
True
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from wellheard.drawings import border, caption, panel, section
from wellheard.drawings.backends import svg
from wellheard.drawings.boxes import Box, Placer
from wellheard.drawings.canvas import Canvas
from wellheard.drawings.dimensions import Chain
from wellheard.drawings.fieldmap import Levels
from wellheard.drawings.roomplan import (
    SHEET_STYLE,
    Drawn,
    RoomStyle,
    draw_room,
)
from wellheard.drawings.sheet import (
    Paper,
    Projection,
    Scale,
    extent,
    paper_for,
    scales_for,
)
from wellheard.drawings.spots import Spot, draw_spots, spot_boxes
from wellheard.drawings.surround import Margins, chains_of, draw_dimensions, margins_of
from wellheard.drawings.tokens import ThemeName
from wellheard.drawings.view import (
    SYMBOL_OF_MOUNTING,
    BasisRow,
    CeilingGrid,
    DeviceMark,
    Display,
    EquipmentMark,
    FieldMap,
    Furniture,
    OverheadMark,
    Patch,
    PlanView,
    Revision,
    SeatMark,
    SourceMark,
    StandingMark,
    TitleBlock,
)

__all__ = [
    "SYMBOL_OF_MOUNTING",
    "BasisRow",
    "CeilingGrid",
    "DeviceMark",
    "Display",
    "EquipmentMark",
    "FieldMap",
    "Furniture",
    "OverheadMark",
    "Patch",
    "PlanView",
    "Revision",
    "SeatMark",
    "SheetDrawing",
    "SourceMark",
    "StandingMark",
    "TitleBlock",
    "draw_sheet",
    "plan_sheet",
    "plan_small",
]


@dataclass(frozen=True, slots=True)
class SheetDrawing:
    """A recorded sheet: what was drawn, on which paper, at which scale."""

    canvas: Canvas
    paper: Paper
    scale: Scale
    drawn: Drawn
    chains: dict[str, Chain]


def plan_sheet(view: PlanView, *, theme: ThemeName = "white", embed_fonts: bool = True) -> str:
    """Return the dimensioned plan sheet as SVG: A3 for metres, ANSI B for feet.

    Parameters
    ----------
    view : PlanView
        What there is to show.
    theme : {"white", "slate"}
        White for print.
    embed_fonts : bool
        False where the document that holds the sheet brings the fonts.

    Returns
    -------
    str
        SVG in millimetres; the same view gives the same bytes.

    Raises
    ------
    ValueError
        The room does not fit on the sheet at any standard scale.
    """
    sheet = draw_sheet(view)
    title = f"{view.title_block.sheet} {view.title_block.heading}: {view.title_block.title}"
    return svg.render(
        sheet.canvas,
        sheet.paper.width,
        sheet.paper.height,
        title=title,
        theme=theme,
        embed_fonts=embed_fonts,
    )


@dataclass(frozen=True, slots=True)
class Arrangement:
    """Where things go on a sheet: the drawing area, the scale, and the room in it."""

    paper: Paper
    area: Box
    scale: Scale
    project: Projection
    chains: dict[str, Chain]
    margins: Margins


def arranged(view: PlanView) -> Arrangement:
    """Return where things go on the sheet of a view.

    Raises
    ------
    ValueError
        The room does not fit on the sheet at any standard scale.
    """
    paper = paper_for(view.units)
    x0, y0, _, y1 = paper.frame
    strip = caption.cautions_height(view, width=paper.divider - x0)
    caption_top = y1 - strip - caption.CAPTION_MM
    area = Box.spanning(x0 + 2.5, y0 + 2.5, paper.divider - 2.5, caption_top)
    chains = chains_of(view)
    scale, margins = _fit(view, area, chains)
    return Arrangement(paper, area, scale, _projection(view, area, scale, margins), chains, margins)


def draw_sheet(view: PlanView) -> SheetDrawing:
    """Return the sheet as a recording, for tests and other back ends."""
    where = arranged(view)
    canvas = Canvas()
    draw_frame(canvas, where.paper)
    drawn = _draw_area(canvas, view, where)
    draw_strips(canvas, view, where, levels=drawn.levels, left_out=drawn.left_out)
    draw_panel(canvas, view, where)
    return SheetDrawing(canvas, where.paper, where.scale, drawn, where.chains)


def draw_frame(canvas: Canvas, paper: Paper) -> None:
    """Draw the frame, and the line between drawing and tables."""
    x0, y0, x1, y1 = paper.frame
    canvas.rectangle(x0, y0, x1 - x0, y1 - y0, pen="heavy")
    canvas.line(((paper.divider, y0), (paper.divider, y1)), pen="mid")


def draw_strips(
    canvas: Canvas, view: PlanView, where: Arrangement, *, levels: Levels | None, left_out: int
) -> None:
    """Draw what stands under the drawing: caption, scale, north, and the cautions."""
    x0, _, _, bottom = where.paper.frame
    caption.draw_caption(
        canvas,
        view,
        levels,
        left_out=left_out,
        scale=where.scale.label,
        x0=x0,
        x1=where.paper.divider,
        top=where.area.bounds[3],
    )
    caption.draw_cautions(canvas, view, x0=x0, x1=where.paper.divider, bottom=bottom)


def _fit(view: PlanView, area: Box, chains: dict[str, Chain]) -> tuple[Scale, Margins]:
    """Return the largest standard scale at which room and dimensions fit the drawing area."""
    x0, y0, x1, y1 = extent(view.outline)
    for scale in scales_for(view.units):
        margins = margins_of(view, scale, chains)
        mm = scale.mm_per_metre
        wide = (x1 - x0) * mm + margins.west + margins.east
        tall = (y1 - y0) * mm + margins.south + margins.north
        if wide <= area.width and tall <= area.height:
            return scale, margins
    raise ValueError(
        f"a room of {x1 - x0:.1f} m × {y1 - y0:.1f} m does not fit on the sheet at any standard "
        f"scale down to {scales_for(view.units)[-1].label}; draw it in parts"
    )


def _projection(view: PlanView, area: Box, scale: Scale, margins: Margins) -> Projection:
    x0, y0, x1, y1 = extent(view.outline)
    left, top, right, bottom = area.bounds
    mm = scale.mm_per_metre
    slack_x = right - left - (x1 - x0) * mm - margins.west - margins.east
    slack_y = bottom - top - (y1 - y0) * mm - margins.south - margins.north
    origin = (left + margins.west + slack_x / 2, bottom - margins.south - slack_y / 2)
    return Projection(mm, (x0, y0), origin)


def _draw_area(canvas: Canvas, view: PlanView, where: Arrangement) -> Drawn:
    outside = Canvas()
    hard = draw_border(outside, view, where)
    draw_dimensions(outside, hard, view, where.project, where.chains, where.margins)
    drawn = draw_room(canvas, view, where.project, style=SHEET_STYLE, hard=hard)
    canvas.extend(outside)
    return drawn


def draw_border(canvas: Canvas, view: PlanView, where: Arrangement) -> Placer:
    """Draw the graduated border; return who knows what is written there."""
    x0, y0, x1, y1 = extent(view.outline)
    left, top, right, bottom = where.area.bounds
    hard = Placer(Box.spanning(left + 1.6, top + 1.6, right - 1.6, bottom - 1.6))
    frame = border.Border(left, top, right, bottom, 1.4, 2.21, 18.0)
    size = (x1 - x0, y1 - y0)
    border.draw(canvas, hard, frame, project=where.project, size=size, units=view.units)
    return hard


def draw_panel(canvas: Canvas, view: PlanView, where: Arrangement) -> None:
    """Draw the column of tables, the section, the revisions and the title block."""
    column = draw_tables(canvas, view, where)
    panel.draw_title_block(
        column,
        view,
        left=where.paper.divider,
        right=where.paper.frame[2],
        scale=where.scale.label,
        paper=where.paper.name,
    )


def draw_tables(canvas: Canvas, view: PlanView, where: Arrangement) -> panel.Column:
    """Draw everything of that column over the title block; return the column at its top."""
    paper = where.paper
    _, top, right, bottom = paper.frame
    left = paper.divider
    block_top = bottom - panel.TITLE_BLOCK_MM
    revisions = min(len(view.revisions), 3)
    revisions_top = block_top - (7.0 + 4.9 * revisions + 2.0 if revisions else 0.0)

    column = panel.Column(canvas, left + 4.0, right - 4.0, top + 4.0)
    rows = min(len(view.devices), MOST_DEVICES)
    # the section takes what is left; tables give way before it does
    pitch, row, most = 8.1, 5.0, rows
    layouts: tuple[tuple[float, float, int], ...] = (
        (8.1, 5.0, rows),
        (7.0, 4.4, rows),
        (6.4, 3.9, min(rows, 10)),
    )
    if rows > MANY_DEVICES:
        layouts = tuple((5.8, 3.2, count) for count in range(rows, 9, -1))
    for pitch, row, most in layouts:
        trial = panel.Column(Canvas(), column.x0, column.x1, column.y)
        _draw_tables(trial, view, pitch=pitch, row=row, most=most)
        space = revisions_top - trial.y
        if space >= (44.0 if rows <= MANY_DEVICES else 29.0):
            break
    _draw_tables(column, view, pitch=pitch, row=row, most=most)
    space = revisions_top - column.y - 13.0
    if space > 14.0:
        column.y += 4.0
        chosen = section.section_scale(view, width=column.width, height=space - 4.0)
        column.head("Section A–A, looking north", chosen.label)
        column.y += 3.0
        column.y += section.draw(
            canvas, view, x=column.x0, y=column.y, width=column.width, scale=chosen
        )
        note = section.note_of(section.cut_of(view))
        if note:
            column.paragraph(note)
    if revisions:
        column.y = revisions_top
        panel.draw_revisions(column, view, left=left, right=right)
    column.y = block_top
    return column


def _draw_tables(
    column: panel.Column, view: PlanView, *, pitch: float, row: float, most: int
) -> None:
    panel.draw_legend(column, view, pitch=pitch)
    column.y += 4.0
    panel.draw_devices_table(column, view, row=row, most=most)
    if view.devices:
        column.y += 4.0
    panel.draw_basis(column, view)


MANY_DEVICES, MOST_DEVICES = 16, 32
"""Beyond the first their table stands closer, so that all of them are on the sheet."""

_SMALL = RoomStyle(
    seat=5.4,
    device=6.4,
    standing=6.0,
    letters=((2.7, 2.2), (2.4, 2.15), (2.15, 2.15)),
    label=2.7,
    word=2.2,
    contour_label=2.3,
    seat_ids=False,
    heights=False,
    tiles=False,
    set_out=False,
    words=False,
    detail=0.6,
)


def plan_small(
    view: PlanView,
    width_mm: float,
    *,
    theme: ThemeName = "white",
    embed_fonts: bool = True,
    height_mm: float | None = None,
) -> str:
    """Return the small plan of the customer's page as SVG: border, map, seats with figures.

    Parameters
    ----------
    view : PlanView
        What there is to show.
    width_mm : float
        Width of the drawing, border included.
    theme : {"white", "slate"}
        Colours.
    embed_fonts : bool
        False where the document that holds the plan brings the fonts.
    height_mm : float, optional
        Upper limit of its height; the plan becomes narrower to keep it.

    Returns
    -------
    str
        Not to a standard scale: the border is its scale.
    """
    canvas, width, height = draw_small(view, width_mm, height_mm=height_mm)
    return svg.render(
        canvas,
        width,
        height,
        title=f"Plan: {view.title_block.title}",
        theme=theme,
        embed_fonts=embed_fonts,
    )


def draw_small(
    view: PlanView,
    width_mm: float,
    *,
    height_mm: float | None = None,
    spots: Sequence[Spot] = (),
) -> tuple[Canvas, float, float]:
    """Return the small plan as a recording, with its width and height. [mm]

    ``spots`` are where a session of measurement was taken.
    """
    x0, y0, x1, y1 = extent(view.outline)
    aside = 6.7
    mm = (width_mm - 2 * aside) / (x1 - x0)
    above = 6.7
    if height_mm is not None:
        mm = min(mm, (height_mm - 2 * above) / (y1 - y0))
    width = (x1 - x0) * mm + 2 * aside
    height = (y1 - y0) * mm + 2 * above
    canvas, outside = Canvas(), Canvas()
    project = Projection(mm, (x0, y0), (aside, height - above))
    hard = Placer(Box.spanning(1.2, 1.2, width - 1.2, height - 1.2))
    frame = border.Border(0.13, 0.13, width - 0.13, height - 0.13, 1.1, 2.15, 8.0)
    border.draw(outside, hard, frame, project=project, size=(x1 - x0, y1 - y0), units=view.units)
    hard.take(*spot_boxes(spots, project))
    draw_room(canvas, view, project, style=_SMALL, hard=hard)
    draw_spots(canvas, spots, project)
    canvas.extend(outside)
    return canvas, width, height
