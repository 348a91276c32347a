"""The plan: the dimensioned sheet for the installer and the small one for the customer.

Examples
--------
>>> block = TitleBlock("", "", "Bare room", "", "C-01", "Plan", "1", "A", "", "", "designed")
>>> square = ((0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (0.0, 3.0))
>>> plan_sheet(PlanView(square, 2.7, block), embed_fonts=False).startswith("<svg")
True
"""

from __future__ import annotations

from dataclasses import dataclass

from wellheard.drawings import border, caption, panel, section
from wellheard.drawings.backends import svg
from wellheard.drawings.boxes import Box, Placer
from wellheard.drawings.canvas import Canvas
from wellheard.drawings.dimensions import Chain, chain, draw_chain, printed
from wellheard.drawings.lettering import text_width
from wellheard.drawings.roomplan import (
    SHEET_STYLE,
    Drawn,
    RoomStyle,
    draw_room,
    set_out_devices,
)
from wellheard.drawings.sheet import (
    Paper,
    Projection,
    Scale,
    extent,
    paper_for,
    scales_for,
)
from wellheard.drawings.structure import WALL_NOMINAL
from wellheard.drawings.tokens import ThemeName, size_mm
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

_LABEL_BAND = 5.2  # border and its figures
_ROW = 7.5  # between dimension lines
_FIRST = 8.6  # first dimension line, from the outer face of the wall
_FIRST_EAST = 9.4  # its figures stand towards the wall, where the section mark is


@dataclass(frozen=True, slots=True)
class SheetDrawing:
    """A recorded sheet: what was drawn, on which paper, at which scale."""

    canvas: Canvas
    paper: Paper
    scale: Scale
    drawn: Drawn
    chains: dict[str, Chain]


@dataclass(frozen=True, slots=True)
class _Margins:
    """Distances from the inner faces of the room to the border. [mm]"""

    west: float
    east: float
    south: float
    north: float
    first_south: float


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


def draw_sheet(view: PlanView) -> SheetDrawing:
    """Return the sheet as a recording, for tests and other back ends."""
    paper = paper_for(view.units)
    x0, y0, x1, y1 = paper.frame
    canvas = Canvas()
    canvas.rectangle(x0, y0, x1 - x0, y1 - y0, pen="heavy")
    canvas.line(((paper.divider, y0), (paper.divider, y1)), pen="mid")
    strip = caption.cautions_height(view, width=paper.divider - x0)
    caption_top = y1 - strip - caption.CAPTION_MM
    area = Box.spanning(x0 + 2.5, y0 + 2.5, paper.divider - 2.5, caption_top)

    chains = _chains(view)
    scale, margins = _fit(view, area, chains)
    project = _projection(view, area, scale, margins)
    drawn = _draw_area(canvas, view, area, project, chains, margins)

    caption.draw_caption(
        canvas,
        view,
        drawn.levels,
        left_out=drawn.left_out,
        scale=scale.label,
        x0=x0,
        x1=paper.divider,
        top=caption_top,
    )
    caption.draw_cautions(canvas, view, x0=x0, x1=paper.divider, bottom=y1)
    _draw_panel(canvas, view, paper, scale)
    return SheetDrawing(canvas, paper, scale, drawn, chains)


def _chains(view: PlanView) -> dict[str, Chain]:
    """Return the dimension chains, measured from the westmost and southmost faces."""
    x0, y0, x1, y1 = extent(view.outline)
    devices = set_out_devices(view)
    chains = {
        "width": chain([0.0, x1 - x0], unit=view.units),
        "depth": chain([0.0, y1 - y0], unit=view.units),
    }
    if devices:
        chains["device x"] = chain([0, *(d.at[0] - x0 for d in devices), x1 - x0], unit=view.units)
        chains["device y"] = chain([0, *(d.at[1] - y0 for d in devices), y1 - y0], unit=view.units)
    corners_x = chain([x - x0 for x, _ in view.outline], unit=view.units)
    corners_y = chain([y - y0 for _, y in view.outline], unit=view.units)
    if len(corners_x.steps) > 2:
        chains["corner x"] = corners_x
    if len(corners_y.steps) > 2:
        chains["corner y"] = corners_y
    return chains


def _depth(links: Chain | None, mm_per_metre: float) -> float:
    """Return how far figures stand off their dimension line. [mm]"""
    if links is None:
        return 0.0
    small = size_mm("note")
    worst = 3.4
    for text, part in zip(links.labels, links.parts, strict=True):
        span = part * _grain(links) * mm_per_metre
        width = text_width(text, small)
        if width + 0.8 > span:
            upright = span >= small * 0.7 + 1.0
            worst = max(worst, (1.0 if upright else 2.0) * width + (1.6 if upright else 3.0))
    return worst


def _grain(links: Chain) -> float:
    from wellheard.drawings.dimensions import GRAIN

    return GRAIN[links.unit]


def _margins(view: PlanView, scale: Scale, chains: dict[str, Chain]) -> _Margins:
    mm = scale.mm_per_metre
    wall = min(max(WALL_NOMINAL * mm, 1.2), 4.0)
    south_depth = _depth(chains.get("device x"), mm)
    first_south = max(_FIRST, south_depth + 2.2)
    south = wall + first_south + (_ROW if "device x" in chains else 0.0) + 2.0 + _LABEL_BAND
    west = wall + _FIRST + max(_depth(chains.get("device y"), mm), 1.0) + 1.6 + _LABEL_BAND
    if "device y" not in chains:
        west = wall + 5.0 + _LABEL_BAND
    east = wall + _FIRST_EAST + 2.0 + _LABEL_BAND
    if "corner y" in chains:
        east += _ROW
    north = wall + 4.2 + _LABEL_BAND
    if view.ceiling is not None:
        north = wall + 9.4 + 1.6 + _LABEL_BAND
    if "corner x" in chains:
        north += _ROW + 2.0
    return _Margins(west, east, south, north, first_south)


def _fit(view: PlanView, area: Box, chains: dict[str, Chain]) -> tuple[Scale, _Margins]:
    """Return the largest standard scale at which room and dimensions fit the drawing area."""
    x0, y0, x1, y1 = extent(view.outline)
    for scale in scales_for(view.units):
        margins = _margins(view, scale, chains)
        mm = scale.mm_per_metre
        wide = (x1 - x0) * mm + margins.west + margins.east
        tall = (y1 - y0) * mm + margins.south + margins.north
        if wide <= area.width and tall <= area.height:
            return scale, margins
    raise ValueError(
        f"a room of {x1 - x0:.1f} m × {y1 - y0:.1f} m does not fit on the sheet at any standard "
        f"scale down to {scales_for(view.units)[-1].label}; draw it in parts"
    )


def _projection(view: PlanView, area: Box, scale: Scale, margins: _Margins) -> Projection:
    x0, y0, x1, y1 = extent(view.outline)
    left, top, right, bottom = area.bounds
    mm = scale.mm_per_metre
    slack_x = right - left - (x1 - x0) * mm - margins.west - margins.east
    slack_y = bottom - top - (y1 - y0) * mm - margins.south - margins.north
    origin = (left + margins.west + slack_x / 2, bottom - margins.south - slack_y / 2)
    return Projection(mm, (x0, y0), origin)


def _draw_area(
    canvas: Canvas,
    view: PlanView,
    area: Box,
    project: Projection,
    chains: dict[str, Chain],
    margins: _Margins,
) -> Drawn:
    x0, y0, x1, y1 = extent(view.outline)
    left, top, right, bottom = area.bounds
    hard = Placer(Box.spanning(left + 1.6, top + 1.6, right - 1.6, bottom - 1.6))
    outside = Canvas()
    frame = border.Border(left, top, right, bottom, 1.4, 2.21, 18.0)
    border.draw(outside, hard, frame, project=project, size=(x1 - x0, y1 - y0), units=view.units)
    _draw_dimensions(outside, hard, view, project, chains, margins)
    drawn = draw_room(canvas, view, project, style=SHEET_STYLE, hard=hard)
    canvas.extend(outside)
    return drawn


def _draw_dimensions(
    canvas: Canvas,
    hard: Placer,
    view: PlanView,
    project: Projection,
    chains: dict[str, Chain],
    margins: _Margins,
) -> None:
    x0, y0, x1, y1 = extent(view.outline)
    wall = min(max(project.length(WALL_NOMINAL), 1.2), 4.0)
    west, south = project((x0, y0))
    east, north = project((x1, y1))

    def xs(links: Chain) -> list[float]:
        return [west + project.length(position) for position in links.positions]

    def ys(links: Chain) -> list[float]:
        return [south - project.length(position) for position in links.positions]

    def east_starts(links: Chain) -> list[float]:
        """Start each extension line at the easternmost corner on its height."""
        return [
            project((_furthest(view, position + y0, 1), y0))[0] + wall + 1.2
            for position in links.positions
        ]

    def north_starts(links: Chain) -> list[float]:
        """Start each extension line at the northernmost corner on its line."""
        return [
            project((x0, _furthest(view, position + x0, 0)))[1] - wall - 1.2
            for position in links.positions
        ]

    line = south + wall + margins.first_south
    if "device x" in chains:
        links = chains["device x"]
        draw_chain(
            canvas,
            hard,
            links,
            side="south",
            along=xs(links),
            line_at=line,
            from_at=south + wall + 1.2,
        )
        line += _ROW
    links = chains["width"]
    draw_chain(
        canvas, hard, links, side="south", along=xs(links), line_at=line, from_at=south + wall + 1.2
    )
    if "device y" in chains:
        links = chains["device y"]
        draw_chain(
            canvas,
            hard,
            links,
            side="west",
            along=ys(links),
            line_at=west - wall - _FIRST,
            from_at=west - wall - 1.2,
        )
    line = east + wall + _FIRST_EAST
    if "corner y" in chains:
        links = chains["corner y"]
        draw_chain(
            canvas,
            hard,
            links,
            side="east",
            along=ys(links),
            line_at=line,
            from_at=east_starts(links),
        )
        line += _ROW
    links = chains["depth"]
    draw_chain(
        canvas, hard, links, side="east", along=ys(links), line_at=line, from_at=east_starts(links)
    )
    _draw_section_marks(canvas, hard, view, project, wall)
    tile_line = north - wall - 5.4
    if "corner x" in chains:
        links = chains["corner x"]
        line = tile_line - _ROW - 1.0 if view.ceiling is not None else tile_line - 1.0
        draw_chain(
            canvas,
            hard,
            links,
            side="north",
            along=xs(links),
            line_at=line,
            from_at=north_starts(links),
        )
    if view.ceiling is not None:
        _draw_tile_origin(canvas, hard, view, project, tile_line, north - wall - 1.2)


def _draw_section_marks(
    canvas: Canvas, hard: Placer, view: PlanView, project: Projection, wall: float
) -> None:
    """Mark where section A–A is cut: a stroke, an arrow the way it looks, and the letter."""
    cut = section.cut_of(view)
    size = size_mm("note")
    ends = ((cut.spans[0][0], -1.0), (cut.spans[-1][1], 1.0))
    for x, outwards in ends:
        px, py = project((x, cut.y))
        start = px + outwards * (wall + 0.9)
        end = start + outwards * 3.3
        canvas.line(((start, py), (end, py)), pen="mid")
        canvas.area(((end - 0.7, py), (end + 0.7, py), (end, py - 2.2)), fill="ink")
        letter = canvas.text(
            "A",
            (start + outwards * 1.1, py - 0.9),
            size=size,
            face="semibold",
            anchor="middle",
        )
        hard.take(letter.box, Box.spanning(start, py - 2.4, end, py + 0.2))


def _furthest(view: PlanView, value: float, axis: int) -> float:
    """Return the largest other coordinate among corners whose ``axis`` coordinate is ``value``."""
    other = 1 - axis
    near = [corner[other] for corner in view.outline if abs(corner[axis] - value) < 0.005]
    return max(near or [corner[other] for corner in view.outline])


def _write_note(canvas: Canvas, hard: Placer, text: str, x: float, y: float) -> None:
    """Write a note at x, in two lines or further right where extension lines are in its way."""
    small = size_mm("note")
    edges = sorted(box.bounds[2] for box in hard.taken if box.bounds[1] < y < box.bounds[3])
    head, _, tail = text.rpartition("; ")
    layouts = [((text, y),), ((f"{head};", y - 1.8), (tail, y + 1.6))]
    tries = [(x, layouts[0]), (x, layouts[1])]
    tries += [(edge + 1.5, layout) for edge in edges if edge > x for layout in layouts]
    for start, lines in tries:
        trial = Canvas()
        boxes = [trial.text(line, (start, base), size=small).box for line, base in lines]
        if all(hard.is_free(box.grown(0.2)) for box in boxes):
            break
    else:
        start, lines = tries[1]
    for line, base in lines:
        hard.take(canvas.text(line, (start, base), size=small, colour="ink-2").box)


def _draw_tile_origin(
    canvas: Canvas, hard: Placer, view: PlanView, project: Projection, line: float, start: float
) -> None:
    """Dimension the first tile lines, or say where a turned grid has a crossing."""
    grid = view.ceiling
    if grid is None:
        return
    x0, y0, _, _ = extent(view.outline)
    module_x, module_y = grid.module
    shown = [printed(value, view.units) for value in (module_x, module_y)]
    module = (
        f"module {shown[0]} both ways"
        if abs(module_x - module_y) < 1e-9
        else f"module {shown[0]} × {shown[1]}"
    )
    offset_x, offset_y = grid.origin[0] - x0, grid.origin[1] - y0
    west, _ = project((x0, y0))
    small = size_mm("note")
    if abs(grid.rotation_deg % 90.0) > 0.01:
        text = (
            f"tile grid turned {grid.rotation_deg:g}°: a crossing lies "
            f"{printed(offset_x, view.units)} from west, {printed(offset_y, view.units)} from "
            f"south; {module}"
        )
        _write_note(canvas, hard, text, west + 1.5, line + 0.9)
        return
    if abs(grid.rotation_deg % 180.0) > 0.01:
        module_x, module_y = module_y, module_x
    first_x, first_y = offset_x % module_x, offset_y % module_y
    links = chain([0.0, first_x, first_x + module_x], unit=view.units)
    at = [west + project.length(position) for position in links.positions]
    canvas.line(((at[0], line), (at[-1], line)), pen="thin")
    for u in at:
        canvas.line(((u, start), (u, line - 1.4)), pen="hair")
        hard.take(Box.spanning(u - 0.15, line - 1.4, u + 0.15, start))
        canvas.line(((u - 1.0, line + 1.0), (u + 1.0, line - 1.0)), pen="mid")
    end = at[-1]
    for index, text in enumerate(links.labels):
        middle = (at[index] + at[index + 1]) / 2
        span = at[index + 1] - at[index]
        if text_width(text, size_mm("body")) + 1.2 <= span:
            record = canvas.text(text, (middle, line - 0.9), size=size_mm("body"), anchor="middle")
        elif index == 0:
            record = canvas.text(
                text, (at[0] - 1.6, line + 0.9), size=size_mm("body"), anchor="end"
            )
        else:
            record = canvas.text(text, (end + 1.6, line + 0.9), size=small)
            end = record.box.bounds[2]
        hard.take(record.box)
    note = (
        f"tile grid: first lines {printed(first_x, view.units)} from west, "
        f"{printed(first_y, view.units)} from south; {module}"
    )
    _write_note(canvas, hard, note, end + 2.5, line + 0.9)


def _draw_panel(canvas: Canvas, view: PlanView, paper: Paper, scale: Scale) -> None:
    _, top, right, bottom = paper.frame
    left = paper.divider
    block_top = bottom - panel.TITLE_BLOCK_MM
    revisions = min(len(view.revisions), 3)
    revisions_top = block_top - (7.0 + 4.9 * revisions + 2.0 if revisions else 0.0)

    column = panel.Column(canvas, left + 4.0, right - 4.0, top + 4.0)
    rows = min(len(view.devices), 16)
    # the section takes what is left; tables give way before it does
    pitch, row, most = 8.1, 5.0, rows
    for pitch, row, most in ((8.1, 5.0, rows), (7.0, 4.4, rows), (6.4, 3.9, min(rows, 10))):
        trial = panel.Column(Canvas(), column.x0, column.x1, column.y)
        _draw_tables(trial, view, pitch=pitch, row=row, most=most)
        space = revisions_top - trial.y
        if space >= 44.0:
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
    panel.draw_title_block(
        column, view, left=left, right=right, scale=scale.label, paper=paper.name
    )


def _draw_tables(
    column: panel.Column, view: PlanView, *, pitch: float, row: float, most: int
) -> None:
    panel.draw_legend(column, view, pitch=pitch)
    column.y += 4.0
    panel.draw_devices_table(column, view, row=row, most=most)
    if view.devices:
        column.y += 4.0
    panel.draw_basis(column, view)


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
    view: PlanView, width_mm: float, *, height_mm: float | None = None
) -> tuple[Canvas, float, float]:
    """Return the small plan as a recording, with its width and height. [mm]"""
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
    draw_room(canvas, view, project, style=_SMALL, hard=hard)
    canvas.extend(outside)
    return canvas, width, height
