"""Sheets of a wiring diagram: frame, tables, title block and cautions, on as many as it takes.

A system that is too wide for a sheet is drawn in parts, one under the other as long as they fit,
and on several sheets after that. Every link is in one part, whole; a box stands in every part that
has a link of it, with the ports of these, and says where else.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from wellheard.drawings import caption, panel
from wellheard.drawings.canvas import Canvas
from wellheard.drawings.diagram.columns import columns
from wellheard.drawings.diagram.layout import layout
from wellheard.drawings.diagram.model import Layout, Link, PlacedBox, PlacedLink, System
from wellheard.drawings.diagram.picture import draw, pen_of
from wellheard.drawings.lettering import shorten, text_width, wrap_evenly
from wellheard.drawings.sheet import Paper, paper_for
from wellheard.drawings.tokens import Dash, Pen, size_mm
from wellheard.drawings.view import PlanView

NOTE = size_mm("note")
INSET = 5.0
"""Between the frame and the diagram. [mm]"""
KINDS = {
    "twisted-pair": "twisted pair",
    "balanced": "balanced audio",
    "unbalanced": "unbalanced audio",
    "network": "network",
    "usb": "USB",
    "hdmi": "HDMI",
    "control": "control",
    "low-impedance": "loudspeaker, low impedance",
    "constant-voltage": "loudspeaker line",
}


@dataclass(frozen=True, slots=True)
class DiagramSheet:
    """A recorded sheet: what is on it, and where."""

    canvas: Canvas
    paper: Paper
    layout: Layout
    title: str


def draw_sheets(system: System, view: PlanView) -> tuple[DiagramSheet, ...]:
    """Return the sheets of a diagram as recordings: A3 for metres, ANSI B for feet.

    Parameters
    ----------
    system : System
        What there is to wire; there is no sheet of one without boxes.
    view : PlanView
        Of the room: its units, title block, revisions and cautions. Where there are several
        sheets, a letter is put behind the sheet's number and ``of`` stays as it is.
    """
    if not system.boxes:
        return ()
    paper = paper_for(view.units)
    x0, y0, _, y1 = paper.frame
    strip = caption.cautions_height(view, width=paper.divider - x0)
    wide = paper.divider - x0 - 2 * INSET
    tall = y1 - strip - CAPTION - y0 - 2 * INSET
    shared = _stacked(_fitting(system, wide, tall), wide, tall)
    names = _names(view.title_block.sheet, len(shared))
    # A set of so many sheets has one of them as several.
    of = view.title_block.of
    of = str(int(of) + len(shared) - 1) if of.isdecimal() else of
    drawn = []
    for number, parts in enumerate(shared):
        laid = _under_each_other(
            [_laid(shared, names, (number, row), wide, tall) for row in range(len(parts))]
        )
        larger = min(wide / laid.width, tall / laid.height, LARGEST)
        laid = laid.moved(scale=LARGEST) if larger == LARGEST else laid
        block = replace(view.title_block, sheet=names[number], of=of)
        mine = replace(view, title_block=block)
        drawn.append(_sheet(mine, paper, laid, strip, (number, len(shared))))
    return tuple(drawn)


LARGEST = 1.25
"""How much a small system is enlarged, where there is room for it."""
LEAST_SHARE = 0.2
"""Of all links: where what comes first and what follows have as much each, they are parted."""
APART = 14.0
"""Between parts of a diagram on one sheet, one under the other. [mm]"""
CAPTION = 14.0
"""Height of the heading under the diagram. [mm]"""


def _sheet(
    view: PlanView, paper: Paper, laid: Layout, strip: float, number: tuple[int, int]
) -> DiagramSheet:
    x0, y0, x1, y1 = paper.frame
    canvas = Canvas()
    canvas.rectangle(x0, y0, x1 - x0, y1 - y0, pen="heavy")
    canvas.line(((paper.divider, y0), (paper.divider, y1)), pen="mid")
    room = y1 - strip - CAPTION - y0
    right = (paper.divider - x0 - laid.width) / 2
    down = max(INSET, min((room - laid.height) / 2, 24.0))
    placed = laid.moved(right=x0 + right, down=y0 + down)
    draw(canvas, placed)
    top = y1 - strip - CAPTION
    canvas.line(((x0, top), (paper.divider, top)), pen="thin")
    block = view.title_block
    heading = (
        block.heading if number[1] == 1 else f"{block.heading}, {number[0] + 1} of {number[1]}"
    )
    at = (x0 + 3.0, top + 5.9)
    canvas.text(block.sheet, at, size=5.0, face="semibold")
    lead = text_width(block.sheet, 5.0, face="semibold") + 3.2
    wide = paper.divider - x0 - lead - 6.0
    canvas.text(
        shorten(heading, wide, 5.0, face="semibold"),
        (at[0] + lead, at[1]),
        size=5.0,
        face="semibold",
    )
    said = "Not to scale; the plan has where things are. Arrowheads show which way signals run."
    canvas.text(
        shorten(said, paper.divider - x0 - 6.0, NOTE),
        (x0 + 3.0, top + 11.0),
        size=NOTE,
        colour="ink-2",
    )
    caption.draw_cautions(canvas, view, x0=x0, x1=paper.divider, bottom=y1)
    _panel(canvas, view, paper, laid)
    return DiagramSheet(canvas, paper, placed, f"{block.sheet} {heading}: {block.title}")


def _panel(canvas: Canvas, view: PlanView, paper: Paper, laid: Layout) -> None:
    _, top, right, bottom = paper.frame
    left = paper.divider
    block_top = bottom - panel.TITLE_BLOCK_MM
    revisions = min(len(view.revisions), 3)
    column = panel.Column(canvas, left + 4.0, right - 4.0, top + 4.0)
    links = [placed.link for placed in laid.links]
    _lines(column, links)
    column.y += 4.0
    _counts(column, links)
    if revisions:
        column.y = block_top - (7.0 + 4.9 * revisions + 2.0)
        panel.draw_revisions(column, view, left=left, right=right)
    column.y = block_top
    panel.draw_title_block(
        column, view, left=left, right=right, scale="none", paper=paper.name, metric="m"
    )


def _lines(column: panel.Column, links: Sequence[Link]) -> None:
    """What the lines on this sheet mean."""
    if not links:
        return
    column.head("Lines on this sheet")
    column.y += 1.6
    shown = dict.fromkeys((pen_of(link.kind), KINDS.get(link.kind, link.kind)) for link in links)
    by_pen: dict[Pen, list[str]] = {}
    for pen, words in shown:
        by_pen.setdefault(pen, []).append(words or "kind not known")
    rows: list[tuple[Pen, Dash, str]] = [(p, "solid", ", ".join(by_pen[p])) for p in by_pen]
    if any(link.assumed for link in links):
        rows.append(("fine", "dashed", "assumed: not in the document"))
    for pen, dash, words in rows:
        lines = wrap_evenly(words, column.width - 17.0, NOTE)
        column.y += 4.4
        start = (column.x0, column.y - 0.9)
        column.canvas.line((start, (column.x0 + 13.0, start[1])), pen=pen, dash=dash)
        for k, line in enumerate(lines):
            column.y += 3.5 if k else 0.0
            column.canvas.text(line, (column.x0 + 16.0, column.y), size=NOTE)
    column.y += 0.6
    column.paragraph("At each line: its name in the cable schedule, what runs in it, its length.")
    if any(not link.assumed and link.label.count("·") < 2 for link in links):
        column.paragraph("No length is written where it is not known yet.")


def _counts(column: panel.Column, links: Sequence[Link]) -> None:
    """How many cables of each kind are on the sheet."""
    if not links:
        return
    column.head("Cables on this sheet")
    kinds = dict.fromkeys(link.kind for link in links)
    column.y += 0.8
    for kind in kinds:
        mine = [link for link in links if link.kind == kind]
        assumed = sum(link.assumed for link in mine)
        words = KINDS.get(kind, kind) or "kind not known"
        said = f"{words}, {assumed} assumed" if assumed else words
        column.y += 4.4
        column.canvas.text(
            shorten(said, column.width - 8.0, NOTE), (column.x0, column.y), size=NOTE
        )
        column.canvas.text(str(len(mine)), (column.x1, column.y), size=NOTE, anchor="end")
        column.y += 1.3
        ends = ((column.x0, column.y), (column.x1, column.y))
        column.canvas.line(ends, pen="hair", colour="faint")
        column.y -= 0.6


# Parts


def _fitting(system: System, wide: float, tall: float) -> list[System]:
    """Parts of a system that fit on a sheet each, as few as halving finds."""
    if _fitted(system, wide, tall) is not None:
        return [system]
    one, other = _halves(system, wide)
    return [*_fitting(one, wide, tall), *_fitting(other, wide, tall)]


def _fitted(system: System, wide: float, tall: float) -> Layout | None:
    """A layout that fits, its boxes closer together if they have to be."""
    return layout(system, width=wide, height=tall) or layout(
        system, width=wide, height=tall, close=True
    )


def _halves(system: System, wide: float) -> tuple[System, System]:
    """Two parts: what comes first and what follows, or what is above and what is below."""
    linked = {name for link in system.links for name in (link.start.box, link.end.box)}
    alone = tuple(box.id for box in system.boxes if box.id not in linked)
    laid = layout(system)
    assert laid is not None
    if len(system.links) < 2:
        half = len(alone) // 2 if not system.links else 0
        rest = alone[half:]
        if (not system.links and len(alone) < 2) or (system.links and not alone):
            raise ValueError("one box, or one link with its boxes, does not fit on a sheet")
        return system.part(system.links, alone[:half]), system.part((), rest)
    column = columns(system)
    place = {placed.box.id: placed.y for placed in laid.boxes}
    spans = {link.id: min(column[e.box] for e in (link.start, link.end)) for link in system.links}
    cuts = {cut: sum(span < cut for span in spans.values()) for cut in sorted(set(spans.values()))}
    least = 1 if laid.width > wide else LEAST_SHARE * len(spans)
    cuts = {cut: n for cut, n in cuts.items() if least <= n <= len(spans) - least}
    if cuts:
        cut = min(cuts, key=lambda one: (abs(2 * cuts[one] - len(spans)), one))
        first = tuple(link for link in system.links if spans[link.id] < cut)
    else:
        # The end that has fewer links says where a link is.
        many: dict[str, int] = {}
        for link in system.links:
            for end in (link.start, link.end):
                many[end.box] = many.get(end.box, 0) + 1
        order = sorted(
            system.links,
            key=lambda link: min((many[end.box], place[end.box]) for end in (link.start, link.end))[
                ::-1
            ],
        )
        chosen = {link.id for link in order[: len(order) // 2]}
        first = tuple(link for link in system.links if link.id in chosen)
    second = tuple(link for link in system.links if link not in first)
    return system.part(first, alone), system.part(second)


def _names(sheet: str, count: int) -> list[str]:
    """Numbers of the sheets: as given, with a letter behind where there are several.

    Examples
    --------
    >>> _names("W-01", 1), _names("W-01", 2)
    (['W-01'], ['W-01a', 'W-01b'])
    """
    if count == 1:
        return [sheet]
    letters = "abcdefghijklmnopqrstuvwxyz"
    return [f"{sheet}{letters[k] if count <= 26 else k + 1}" for k in range(count)]


def _stacked(parts: Sequence[System], wide: float, tall: float) -> list[list[System]]:
    """Parts by sheets: each under the one before it where it fits there, whatever its boxes say."""
    shared: list[list[System]] = []
    left = 0.0
    for part in parts:
        laid = _fitted(_saying(part, dict.fromkeys((b.id for b in part.boxes), MOST)), wide, tall)
        height = tall if laid is None else laid.height
        if shared and height + APART <= left:
            shared[-1].append(part)
            left -= height + APART
        else:
            shared.append([part])
            left = tall - height
    return shared


def _under_each_other(layouts: Sequence[Layout]) -> Layout:
    """Layouts as one, their left edges in line."""
    boxes: list[PlacedBox] = []
    links: list[PlacedLink] = []
    down = 0.0
    for one in layouts:
        moved = one.moved(down=down)
        boxes += moved.boxes
        links += moved.links
        down += one.height + APART
    width = max(one.width for one in layouts)
    crossings = sum(one.crossings for one in layouts)
    return Layout(tuple(boxes), tuple(links), width, down - APART, crossings)


MOST = ("also drawn above and below", "also on other sheets")
"""What a box may have to say at most of where else it is."""


def _laid(
    shared: Sequence[Sequence[System]],
    names: Sequence[str],
    place: tuple[int, int],
    wide: float,
    tall: float,
) -> Layout:
    """Layout of a part, by its sheet and its row there, its boxes saying where else they are."""
    part = shared[place[0]][place[1]]
    told = _saying(part, {box.id: _others(box.id, shared, names, place) for box in part.boxes})
    # The lines that say where else may be the ones too much.
    laid = _fitted(told, wide, tall) or _fitted(part, wide, tall)
    assert laid is not None
    return laid


def _others(
    box: str, shared: Sequence[Sequence[System]], names: Sequence[str], place: tuple[int, int]
) -> tuple[str, ...]:
    """In which other rows of its sheet, and on which other sheets, a box is too."""
    sheet, row = place
    rows = [k for k, part in enumerate(shared[sheet]) if _has(part, box)]
    near = [word for word, there in (("above", rows[0] < row), ("below", rows[-1] > row)) if there]
    far = [
        names[k]
        for k, parts in enumerate(shared)
        if k != sheet and any(_has(part, box) for part in parts)
    ]
    said = (
        f"also drawn {' and '.join(near)}" if near else "",
        f"also on {', '.join(far)}" if far else "",
    )
    return tuple(one for one in said if one)


def _has(part: System, box: str) -> bool:
    return any(one.id == box for one in part.boxes)


def _saying(part: System, said: Mapping[str, tuple[str, ...]]) -> System:
    boxes = tuple(replace(box, lines=(*box.lines, *said[box.id])) for box in part.boxes)
    return System(boxes, part.links)
