"""What stands round the room on a sheet: dimension chains, tile origin, section marks."""

from __future__ import annotations

from dataclasses import dataclass

from wellheard.drawings import section
from wellheard.drawings.boxes import Box, Placer
from wellheard.drawings.canvas import Canvas
from wellheard.drawings.dimensions import GRAIN, Chain, Side, chain, draw_chain, printed
from wellheard.drawings.lettering import text_width
from wellheard.drawings.roomplan import set_out_devices
from wellheard.drawings.sheet import Projection, Scale, extent
from wellheard.drawings.structure import WALL_NOMINAL
from wellheard.drawings.tokens import size_mm
from wellheard.drawings.view import PlanView

_LABEL_BAND = 5.2  # border and its figures
_ROW = 7.5  # between dimension lines
_FIRST = 8.6  # first dimension line, from the outer face of the wall
_FIRST_EAST = 9.4  # its figures stand towards the wall, where the section mark is


@dataclass(frozen=True, slots=True)
class Margins:
    """Distances from the inner faces of the room to the border. [mm]"""

    west: float
    east: float
    south: float
    north: float
    first_south: float


def chains_of(view: PlanView) -> dict[str, Chain]:
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
        span = part * GRAIN[links.unit] * mm_per_metre
        width = text_width(text, small)
        if width + 0.8 > span:
            upright = span >= small * 0.7 + 1.0
            worst = max(worst, (1.0 if upright else 2.0) * width + (1.6 if upright else 3.0))
    return worst


def margins_of(view: PlanView, scale: Scale, chains: dict[str, Chain]) -> Margins:
    """Return the room that dimension lines need on each side, at a scale."""
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
    return Margins(west, east, south, north, first_south)


@dataclass(frozen=True, slots=True)
class Row:
    """A dimension line: its chain, on which side, and where on paper it and its ends are. [mm]"""

    links: Chain
    side: Side
    along: tuple[float, ...]
    line_at: float
    from_at: tuple[float, ...]


def rows_of(
    view: PlanView, project: Projection, chains: dict[str, Chain], margins: Margins
) -> tuple[Row, ...]:
    """Return the dimension lines round the room, in drawing order."""
    x0, y0, x1, y1 = extent(view.outline)
    wall = wall_mm(project)
    west, south = project((x0, y0))
    east, north = project((x1, y1))
    rows = []

    def row(name: str, side: Side, line_at: float) -> None:
        links = chains[name]
        starts = {
            "south": lambda _: south + wall + 1.2,
            "west": lambda _: west - wall - 1.2,
            # each extension line starts at the furthest point of its height or line
            "east": lambda at: project((_furthest(view, at + y0, 1), y0))[0] + wall + 1.2,
            "north": lambda at: project((x0, _furthest(view, at + x0, 0)))[1] - wall - 1.2,
        }[side]
        level = side in ("south", "north")
        along = tuple(
            west + project.length(at) if level else south - project.length(at)
            for at in links.positions
        )
        rows.append(Row(links, side, along, line_at, tuple(map(starts, links.positions))))

    line = south + wall + margins.first_south
    if "device x" in chains:
        row("device x", "south", line)
        line += _ROW
    row("width", "south", line)
    if "device y" in chains:
        row("device y", "west", west - wall - _FIRST)
    line = east + wall + _FIRST_EAST
    if "corner y" in chains:
        row("corner y", "east", line)
        line += _ROW
    row("depth", "east", line)
    if "corner x" in chains:
        tiles = _ROW if view.ceiling is not None else 0.0
        row("corner x", "north", _tile_line(north, wall) - tiles - 1.0)
    return tuple(rows)


def wall_mm(project: Projection) -> float:
    """Return how thick the cut walls are on paper. [mm]"""
    return min(max(project.length(WALL_NOMINAL), 1.2), 4.0)


def _tile_line(north: float, wall: float) -> float:
    return north - wall - 5.4


def draw_dimensions(
    canvas: Canvas,
    hard: Placer,
    view: PlanView,
    project: Projection,
    chains: dict[str, Chain],
    margins: Margins,
) -> None:
    """Draw the dimension lines, the section marks, and where the tile grid starts."""
    for row in rows_of(view, project, chains, margins):
        draw_chain(
            canvas,
            hard,
            row.links,
            side=row.side,
            along=row.along,
            line_at=row.line_at,
            from_at=row.from_at,
        )
    draw_marks(canvas, hard, view, project)


def draw_marks(canvas: Canvas, hard: Placer, view: PlanView, project: Projection) -> None:
    """Draw the section marks, and where the tile grid starts."""
    wall = wall_mm(project)
    _draw_section_marks(canvas, hard, view, project, wall)
    if view.ceiling is not None:
        x0, _, _, y1 = extent(view.outline)
        _, north = project((x0, y1))
        line = _tile_line(north, wall)
        _draw_tile_origin(canvas, hard, view, project, line, north - wall - 1.2)


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
    """Return how far the room reaches along the line on which ``axis`` has ``value``."""
    from shapely.geometry import LineString, Polygon

    x0, y0, x1, y1 = extent(view.outline)
    value = min(max(value, (x0, y0)[axis]), (x1, y1)[axis])
    line = ((value, y0), (value, y1)) if axis == 0 else ((x0, value), (x1, value))
    met = Polygon(view.outline).intersection(LineString(line))
    return float(met.bounds[3 - axis])


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
