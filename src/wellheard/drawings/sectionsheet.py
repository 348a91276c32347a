"""Section A–A on a sheet of its own: every height, and the drop of every device that hangs.

::

      structure 3100 ═══════════════════════════
      ceiling   2700 ───────┬──────────┬────────   │ 400
                            │ 350      │ 350       │
                            ○ m1       ○ m2        │ 1500
      mouth     1200 ─ · ─ · ─ · ─ · ─ · ─ · ─     │
      table      740      ══════════════           │ 460
      floor        0 ═══════════════════════════   │ 740
                    ├── 2100 ──┼─ 1800 ─┼─ 2100 ─┤
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from wellheard.drawings import caption, panel, section
from wellheard.drawings.boxes import Box, Placer
from wellheard.drawings.canvas import Canvas, Point
from wellheard.drawings.dimensions import Chain, chain, draw_chain, printed
from wellheard.drawings.lettering import shorten, text_width, wrap
from wellheard.drawings.plan import draw_frame
from wellheard.drawings.sectionoverhead import draw_deep, draw_hung, name_overhead, parts_of
from wellheard.drawings.sectionpanels import draw_panels
from wellheard.drawings.sheet import Paper, Scale, extent, paper_for, scales_for
from wellheard.drawings.tokens import size_mm
from wellheard.drawings.view import DeviceMark, PlanView

NOTE, BODY = size_mm("note"), size_mm("body")
HEADING = 14.0
"""Height of the strip with the heading under the drawing. [mm]"""
LEFT, RIGHT, ABOVE, BELOW = 50.0, 27.0, 14.0, 26.0
"""Round the room: names of levels, chain of heights, sky, chain of places. [mm]"""
WALL = 1.0
PITCH = 4.0
"""Between names of levels. [mm]"""
MOST_TABLES = 3
NEAR = 4.5
"""Levels nearer than this leave no room for a figure between them. [mm]"""


@dataclass(frozen=True, slots=True)
class SectionDrawing:
    """A recorded sheet: what was drawn, on which paper, at which scale, with which chains."""

    canvas: Canvas
    paper: Paper
    scale: Scale
    title: str
    chains: dict[str, Chain]


@dataclass(frozen=True, slots=True)
class _Ground:
    """Where the room is on paper: metres across and up to millimetres."""

    view: PlanView
    cut: section.Cut
    px: Callable[[float], float]
    pz: Callable[[float], float]
    placer: Placer


def draw_section(view: PlanView) -> SectionDrawing:
    """Return the section as a recording: A3 for metres, ANSI B for feet.

    Parameters
    ----------
    view : PlanView
        What there is; its title block says which sheet this is.

    Raises
    ------
    ValueError
        The room does not fit on the sheet at any standard scale.
    """
    paper = paper_for(view.units)
    x0, y0, _, y1 = paper.frame
    strip = caption.cautions_height(view, width=paper.divider - x0)
    area = Box.spanning(x0 + 3.0, y0 + 3.0, paper.divider - 3.0, y1 - strip - HEADING)
    scale = _fitting(view, area)
    canvas = Canvas()
    draw_frame(canvas, paper)
    chains = _draw(canvas, view, area, scale)
    block = view.title_block
    _heading(canvas, view, paper, top=area.bounds[3])
    caption.draw_cautions(canvas, view, x0=x0, x1=paper.divider, bottom=y1)
    _panel(canvas, view, paper, scale)
    title = f"{block.sheet} {block.heading}: {block.title}"
    return SectionDrawing(canvas, paper, scale, title, chains)


def _tall(view: PlanView) -> float:
    return view.height + (view.void_depth or 0.0)


def _fitting(view: PlanView, area: Box) -> Scale:
    """The largest standard scale at which room, names and chains fit."""
    x0, _, x1, _ = extent(view.outline)
    for scale in scales_for(view.units):
        mm = scale.mm_per_metre
        wide = (x1 - x0) * mm + LEFT + RIGHT + 2 * WALL
        if wide <= area.width and _tall(view) * mm + ABOVE + BELOW <= area.height:
            return scale
    raise ValueError(
        f"a section of {x1 - x0:.1f} m × {_tall(view):.1f} m does not fit on the sheet at any "
        f"standard scale down to {scales_for(view.units)[-1].label}"
    )


def _draw(canvas: Canvas, view: PlanView, area: Box, scale: Scale) -> dict[str, Chain]:
    cut, mm = section.cut_of(view), scale.mm_per_metre
    x0, _, x1, _ = extent(view.outline)
    left, top, right, bottom = area.bounds
    start = left + LEFT + (right - left - LEFT - RIGHT - (x1 - x0) * mm) / 2
    tall = _tall(view) * mm
    floor = top + ABOVE + tall + (bottom - top - ABOVE - BELOW - tall) / 2
    ceiling = floor - view.height * mm
    ground = _Ground(
        view,
        cut,
        lambda metres: start + (metres - x0) * mm,
        lambda metres: floor - metres * mm,
        Placer(Box.spanning(left, top, right, bottom)),
    )
    px, pz = ground.px, ground.pz
    section.draw_shell(
        canvas, view, cut, px=px, pz=pz, top=floor - tall, ceiling=ceiling, floor=floor
    )
    section.draw_furniture(canvas, view, cut, px=px, pz=pz)
    for a, b in cut.spans:
        ground.placer.take(
            Box.spanning(px(a) - WALL, floor - tall, px(a), floor),
            Box.spanning(px(b), floor - tall, px(b) + WALL, floor),
            Box.spanning(px(a), ceiling - 0.3, px(b), ceiling + 0.3),
        )
    ground.placer.take(*_furniture_boxes(ground))
    ground.placer.take(*section.partition_boxes(view, cut, px=px, top=ceiling, bottom=floor))
    overhead = parts_of(view, cut.y, px=px, pz=pz)
    draw_hung(canvas, overhead, ground.placer, ceiling=ceiling)
    _devices(canvas, ground)
    draw_deep(canvas, overhead, ground.placer)
    name_overhead(canvas, view, overhead, ground.placer, size=NOTE)
    mouth = pz(view.mouth_height)
    for a, b in cut.spans:
        for one, other in section.gaps(px(a) + 3.0, px(b) - 3.0, mouth, ground.placer):
            canvas.line(((one, mouth), (other, mouth)), pen="hair", colour="rule", dash="chain")
    draw_panels(canvas, view, cut.y, ground.placer, px=px, pz=pz, size=NOTE)
    section.name_partitions(canvas, view, cut, ground.placer, px=px, pz=pz, size=NOTE)
    levels = _levels(view)
    _names(canvas, ground, levels, at=px(cut.spans[0][0]) - WALL)
    return _chains(canvas, ground, levels)


def _furniture_boxes(ground: _Ground) -> list[Box]:
    """Tops of what stands at the cut and beyond it, and its legs: nothing is written over them."""
    found = []
    for item in ground.view.furniture:
        x0, _, x1, y1 = extent(item.outline)
        if item.height is None or y1 < ground.cut.y:
            continue
        left, right, top = ground.px(x0), ground.px(x1), ground.pz(item.height)
        found.append(Box.spanning(left, top - 0.3, right, top + 0.8))
        for share in (0.18, 0.82):
            leg = left + share * (right - left)
            found.append(Box.spanning(leg - 0.3, top, leg + 0.3, ground.pz(0.0)))
    return found


def _levels(view: PlanView) -> list[tuple[float, str]]:
    """Heights above the floor with their names, from the floor up. [m]"""
    tables: dict[float, str] = {}
    for item in view.furniture:
        if item.kind == "table" and item.height is not None:
            height = round(item.height, 4)
            tables[height] = "tables" if height in tables else item.id.replace("-", " ")
    found = [(0.0, "finished floor")]
    found += [(height, tables[height]) for height in sorted(tables)[:MOST_TABLES]]
    found += [(view.mouth_height, "mouth and ear, seated"), (view.height, "finished ceiling")]
    if view.void_depth:
        words = "structure, air-return void" if view.air_return else "structure, void"
        found.append((view.height + view.void_depth, words))
    return sorted(found)


def _names(
    canvas: Canvas, ground: _Ground, levels: Sequence[tuple[float, str]], *, at: float
) -> None:
    """Names of levels on the left, each with its height; moved apart where they are near."""
    unit = ground.view.units
    bases: list[float] = []
    for height, _ in levels:
        base = ground.pz(height)
        bases.append(min(base, bases[-1] - PITCH) if bases else base)
    for (height, name), base in zip(levels, bases, strict=True):
        level = ground.pz(height)
        knee = at - 6.0
        canvas.line(((at - 0.8, level), (knee, level), (knee - 3.0, base)), pen="hair")
        figure = canvas.text(
            printed(height, unit),
            (knee - 4.0, base + 0.35 * NOTE),
            size=NOTE,
            face="semibold",
            anchor="end",
        )
        end = figure.box.bounds[0] - 2.0
        room = end - ground.placer.bounds.bounds[0]
        canvas.text(
            shorten(name, room, NOTE),
            (end, base + 0.35 * NOTE),
            size=NOTE,
            colour="ink-2",
            anchor="end",
        )


def _chains(
    canvas: Canvas, ground: _Ground, levels: Sequence[tuple[float, str]]
) -> dict[str, Chain]:
    """Heights on the right, places of what hangs below, the whole width under them."""
    view, unit = ground.view, ground.view.units
    x0, _, x1, _ = extent(view.outline)
    right, floor = ground.px(x1) + WALL, ground.pz(0.0)
    heights = chain(_dimensioned(ground, levels), unit=unit)
    draw_chain(
        canvas,
        ground.placer,
        heights,
        side="east",
        along=[ground.pz(at) for at in heights.positions],
        line_at=right + 12.0,
        from_at=right + 1.2,
    )
    found = {"heights": heights}
    line = floor + 9.0
    hung = [device.at[0] - x0 for device in _hung(view)]
    for name, places in (("places", [0.0, *hung, x1 - x0]), ("width", [0.0, x1 - x0])):
        links = chain(places, unit=unit)
        if name == "places" and len(links.steps) < 3:
            continue
        draw_chain(
            canvas,
            ground.placer,
            links,
            side="south",
            along=[ground.px(x0 + at) for at in links.positions],
            line_at=line,
            from_at=floor + 1.6,
        )
        found[name] = links
        line += 8.0
    return found


def _dimensioned(ground: _Ground, levels: Sequence[tuple[float, str]]) -> list[float]:
    """Levels of the chain: a table too near to another level has its height by its name alone."""
    view = ground.view
    kept = {0.0, view.mouth_height, view.height, levels[-1][0]}
    for height, _ in levels:
        if all(abs(ground.pz(height) - ground.pz(other)) >= NEAR for other in kept):
            kept.add(height)
    return sorted(kept)


def _hung(view: PlanView) -> list[DeviceMark]:
    """Devices on the ceiling, from the west."""
    return sorted((one for one in view.devices if one.drop is not None), key=lambda d: d.at[0])


def _devices(canvas: Canvas, ground: _Ground) -> None:
    """Every device: its rod, its drop, its height; what is before the cut is dashed."""
    view, cut = ground.view, ground.cut
    shown: dict[tuple[float, float], list[DeviceMark]] = {}
    for device in sorted(view.devices, key=lambda d: (d.at[0], d.at[1])):
        shown.setdefault((round(device.at[0], 3), round(device.at[2], 3)), []).append(device)
    seen = {one.id for one in (*cut.through, *cut.beyond)}
    ceiling = ground.pz(view.height)
    ground.placer.take(*(Box((ground.px(x), ground.pz(z)), 3.0, 3.0) for x, z in shown))
    for (x, z), devices in shown.items():
        at = (ground.px(x), ground.pz(z))
        first = devices[0]
        before = all(one.id not in seen for one in devices)
        if first.drop is not None and at[1] - ceiling > 0.4:
            rod = ((at[0], ceiling), at)
            canvas.line(rod, pen="thin", dash="dashed" if before else "solid")
            ground.placer.take(Box.spanning(at[0] - 0.2, ceiling, at[0] + 0.2, at[1]))
            _drop(canvas, ground, at, first.drop)
        canvas.circle(at, 1.3, fill="paper", pen="hair" if before else "fine")
        _label(canvas, ground, at, devices)


def _drop(canvas: Canvas, ground: _Ground, at: Point, drop: float) -> None:
    """Drop of a device, beside its rod: on the right where there is room, else on the left."""
    unit, ceiling = ground.view.units, ground.pz(ground.view.height)
    text = printed(drop, unit)
    middle = (ceiling + at[1]) / 2 + 0.35 * NOTE
    wide = text_width(text, NOTE)
    for side in (1.0, -1.0):
        line = at[0] + side * 4.0
        edge = line + side * 1.0
        box = Box.spanning(line - 0.8, ceiling + 0.4, edge + side * wide, at[1])
        if ground.placer.is_free(box):
            break
    else:
        return  # the label says it
    canvas.line(((line, ceiling), (line, at[1])), pen="hair")
    canvas.line(((at[0] + side * 1.6, at[1]), (line + side * 0.8, at[1])), pen="hair")
    for level in (ceiling, at[1]):
        canvas.line(((line - 0.7, level + 0.7), (line + 0.7, level - 0.7)), pen="fine")
    record = canvas.text(text, (edge, middle), size=NOTE, anchor="start" if side > 0 else "end")
    ground.placer.take(record.box, box)


def _label(canvas: Canvas, ground: _Ground, at: Point, devices: Sequence[DeviceMark]) -> None:
    """Names of the devices at one spot, their height and their drop, below it or where free."""
    unit, first = ground.view.units, devices[0]
    name = ", ".join(device.label for device in devices)
    said = printed(first.at[2], unit)
    if first.drop is not None:
        drop = printed(first.drop, unit)
        said += ", flush" if drop == "0" else f", drop {drop}"
    wide = max(text_width(name, NOTE, face="semibold"), text_width(said, NOTE))
    aside = wide / 2 + 3.0
    spots = [(at[0], at[1] + 5.4)]
    spots += [(at[0] + aside, at[1] - 0.6), (at[0] - aside, at[1] - 0.6)]
    spots += [(at[0], at[1] + 5.4 + 8.4 * row) for row in range(1, 6)]
    spots += [(at[0], at[1] - 8.0 - 8.4 * row) for row in range(3)]
    floor, top = ground.pz(0.0), ground.pz(_tall(ground.view))
    spots = [one for one in spots if top < one[1] - 2.9 and one[1] + 4.6 < floor] or spots
    for spot in spots:
        box = Box.spanning(
            spot[0] - wide / 2 - 0.6, spot[1] - 2.9, spot[0] + wide / 2 + 0.6, spot[1] + 4.6
        )
        if ground.placer.is_free(box):
            break
    else:
        spot = spots[0]
    canvas.text(name, spot, size=NOTE, face="semibold", anchor="middle")
    canvas.text(said, (spot[0], spot[1] + 3.7), size=NOTE, colour="ink-2", anchor="middle")
    ground.placer.take(box)


def _heading(canvas: Canvas, view: PlanView, paper: Paper, *, top: float) -> None:
    x0 = paper.frame[0]
    canvas.line(((x0, top), (paper.divider, top)), pen="thin")
    block = view.title_block
    lead = text_width(block.sheet, 5.0, face="semibold") + 3.2
    at = (x0 + 3.0, top + 5.9)
    canvas.text(block.sheet, at, size=5.0, face="semibold")
    room = paper.divider - x0 - lead - 6.0
    words = shorten(block.heading, room, 5.0, face="semibold")
    canvas.text(words, (at[0] + lead, at[1]), size=5.0, face="semibold")
    said = (
        "Heights above the finished floor, drops below the finished ceiling, to the middle of the "
        "device; dashed hangs before the cut. Places from the west."
    )
    said = shorten(said, paper.divider - x0 - 6.0, NOTE)
    canvas.text(said, (x0 + 3.0, top + 11.0), size=NOTE, colour="ink-2")


def _panel(canvas: Canvas, view: PlanView, paper: Paper, scale: Scale) -> None:
    """Devices with their places, revisions, title block."""
    _, top, right, bottom = paper.frame
    left = paper.divider
    block_top = bottom - panel.TITLE_BLOCK_MM
    revisions = min(len(view.revisions), 3)
    above = block_top - (7.0 + 4.9 * revisions + 2.0 if revisions else 0.0)
    column = panel.Column(canvas, left + 4.0, right - 4.0, top + 4.0)
    many = len(view.devices)
    row = min(5.0, max(3.2, (above - column.y - 40.0) / max(many, 1)))
    most = int((above - column.y - 40.0) / row)
    panel.draw_devices_table(column, view, row=row, most=most)
    note = section.note_of(section.cut_of(view))
    if note and column.y + 10.0 < above:
        column.y += 2.0
        for line in wrap(note, column.width, NOTE):
            column.y += 3.6
            column.canvas.text(line, (column.x0, column.y), size=NOTE, colour="ink-2")
    if revisions:
        column.y = above
        panel.draw_revisions(column, view, left=left, right=right)
    column.y = block_top
    panel.draw_title_block(
        column, view, left=left, right=right, scale=scale.label, paper=paper.name
    )
