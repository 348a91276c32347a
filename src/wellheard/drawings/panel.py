"""The column of tables on the right of a sheet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from wellheard.drawings import symbols
from wellheard.drawings.canvas import Anchor, Canvas
from wellheard.drawings.dimensions import grains, label, printed
from wellheard.drawings.lettering import shorten, text_width, wrap
from wellheard.drawings.sheet import extent
from wellheard.drawings.tokens import Face, size_mm
from wellheard.drawings.view import DeviceMark, Logo, Patch, PlanView, Unit

HEAD, BODY, SOFT = size_mm("body"), size_mm("note"), 2.42


@dataclass(slots=True)
class Column:
    """A column between ``x0`` and ``x1``; ``y`` is how far down it is filled. [mm]"""

    canvas: Canvas
    x0: float
    x1: float
    y: float

    @property
    def width(self) -> float:
        """Return the width of the column."""
        return self.x1 - self.x0

    def head(self, text: str, aside: str = "") -> None:
        """Write a heading over an ink line."""
        self.y += 4.0
        self.canvas.text(text, (self.x0, self.y), size=HEAD, face="semibold")
        self.canvas.text(aside, (self.x1, self.y), size=BODY, colour="ink-2", anchor="end")
        self.y += 1.5
        self.canvas.line(((self.x0, self.y), (self.x1, self.y)), pen="mid")

    def paragraph(self, text: str, *, size: float = SOFT, colour: str = "ink-2") -> None:
        """Write wrapped lines."""
        for line in wrap(text, self.width, size):
            self.y += size * 1.49
            self.canvas.text(line, (self.x0, self.y), size=size, colour=colour)


SYMBOL_ORDER = (
    "seat",
    "mic-ceiling",
    "person-standing",
    "array",
    "table",
    "mic-table",
    "soft-seating",
    "mic-wall",
    "bar",
    "speaker-ceiling",
    "speaker-wall",
    "display",
    "air-outlet",
    "air-return",
    "projector",
    "noise",
    "luminaire",
    "raft",
    "rack",
    "processor",
    "table-box",
    "wall-plate",
    "entry",
    "window",
    "door",
    "doorway",
    "panel",
    "column",
    "keep-out",
)
STATES = ("kept", "at risk", "broken", "not assessed")


def symbols_used(view: PlanView) -> tuple[str, ...]:
    """Return the names of the symbols that occur on the plan, in the order of the legend."""
    from wellheard.drawings.structure import SOURCE_SYMBOLS

    used = {"seat"} if view.seats else set()
    used |= {"person-standing"} if view.standing else set()
    used |= {item.kind for item in view.furniture}
    used |= {device.symbol for device in view.devices}
    used |= {"display"} if view.displays else set()
    used |= {s.kind if s.kind in SOURCE_SYMBOLS else "noise" for s in view.sources}
    used |= {item.kind for item in view.overhead}
    used |= {"keep-out"} if any(item.clearance > 0 for item in view.overhead) else set()
    used |= {item.kind for item in view.equipment}
    used |= {_opened(patch) for patch in view.patches if patch.kind != "board"}
    used |= {"raft"} if any(p.surface == "ceiling" for p in view.level_patches) else set()
    used |= {"column"} if view.obstacles else set()
    return tuple(name for name in SYMBOL_ORDER if name in used)


def _opened(patch: Patch) -> str:
    """Symbol of a patch; a door whose hinges are not known has no leaf."""
    return "doorway" if patch.kind == "door" and patch.hinge is None else patch.kind


def draw_legend(column: Column, view: PlanView, *, pitch: float) -> None:
    """Draw the symbols that occur on the sheet with their words, then the states."""
    draw_symbols(column, view, pitch=pitch)
    draw_states(column, view)


def draw_symbols(column: Column, view: PlanView, *, pitch: float) -> None:
    """Draw the symbols that occur on the sheet with their words."""
    column.head("Symbols on this sheet")
    canvas, library = column.canvas, symbols.library()
    half = column.width / 2
    names = symbols_used(view)
    top = column.y + pitch / 2 + 2.6
    for index, name in enumerate(names):
        row, side = divmod(index, 2)
        x, y = column.x0 + side * half, top + row * pitch
        canvas.symbol(name, (x + 3.4, y), size=6.0)
        canvas.text(library[name].title, (x + 9.0, y + 0.9), size=BODY)
    rows = (len(names) + 1) // 2
    column.y = top + (rows - 1) * pitch + pitch / 2 if rows else column.y


def draw_states(column: Column, view: PlanView) -> None:
    """Draw the states that occur on the sheet with their words; no figure has no state."""
    canvas = column.canvas
    occurring = {seat.state for seat in view.seats if seat.figure}
    occurring |= {area.state for area in view.standing if area.figure}
    states = [state for state in STATES if state in occurring]
    if states:
        column.y += 3.3
        x = column.x0
        for state in states:
            canvas.symbol(f"state-{state.replace(' ', '-')}", (x + 1.8, column.y - 0.9), size=3.4)
            canvas.text(state, (x + 4.8, column.y), size=BODY)
            x += 4.8 + text_width(state, BODY) + 5.4


def draw_devices_table(column: Column, view: PlanView, *, row: float, most: int) -> None:
    """Draw the set-out table: distances from west and south, height, drop."""
    if not view.devices:
        return
    column.head("Devices to set out")
    canvas = column.canvas
    right = column.x1
    wide = view.units == "ft"
    shown = view.devices[:most]
    names = max(text_width(one.label, BODY, face="semibold") for one in shown) + 2.0
    lead = max(8.5, names)
    oblique = any(one.from_walls for one in shown)
    ends = _ends(right, wide=wide, oblique=oblique)
    heads = ("from a wall", "and another") if oblique else ("west", "south")
    first = max(text_width(_distances(view, one)[0], 2.49) for one in shown)
    column.y += 3.7
    for end, text in zip(ends, (*heads, "height", "drop"), strict=True):
        canvas.text(text, (end, column.y), size=SOFT, colour="ink-2", anchor="end")
    column.y += 1.2
    canvas.line(((column.x0, column.y), (right, column.y)), pen="thin")
    for device in shown:
        figures = [*_distances(view, device), printed(device.at[2], view.units)]
        figures.append(_drop(device.drop, view.units))
        base = column.y + row * 0.72
        canvas.text(device.label, (column.x0, base), size=BODY, face="semibold")
        room = ends[0] - first - 1.2 - column.x0 - lead
        if not oblique:
            canvas.text(shorten(device.product, room, 2.49), (column.x0 + lead, base), size=2.49)
        starts = (column.x0 + lead, *(end + 1.2 for end in ends))
        for start, end, text in zip(starts, ends, figures, strict=False):
            canvas.text(_kept(text, end - start), (end, base), size=2.49, anchor="end")
        column.y += row
        canvas.line(((column.x0, column.y), (right, column.y)), pen="hair", colour="faint")
    rest = len(view.devices) - len(shown)
    if rest:
        column.paragraph(f"and {rest} more: see the device schedule")
    locked = [device.label for device in shown if device.locked]
    if locked:
        stays = "stays where it is" if len(locked) == 1 else "stay where they are"
        column.paragraph(f"{', '.join(locked)} {stays}.")
    for note in view.set_out_notes:
        column.paragraph(note)


def _ends(right: float, *, wide: bool, oblique: bool) -> tuple[float, float, float, float]:
    """Right edges of the figures; in an oblique room the names of walls stand beside them."""
    height, drop = (right - 13.5, right) if wide else (right - 8.5, right)
    second = height - (14.0 if wide else 9.5)
    if oblique:
        return second - 20.0, second, height, drop
    return second - (13.5 if wide else 10.0), second, height, drop


def _distances(view: PlanView, device: DeviceMark) -> tuple[str, str]:
    """Distances that a device is set out by, as printed."""
    if device.from_walls is None:
        x0, y0, _, _ = extent(view.outline)
        west, south = device.at[0] - x0, device.at[1] - y0
        return printed(west, view.units), printed(south, view.units)
    first, second = (f"{name} {printed(away, view.units)}" for name, away in device.from_walls)
    return first, second


def _kept(text: str, room: float) -> str:
    """Text that fits; of a wall and a figure the name gives way, never the figure."""
    name, blank, figure = text.rpartition(" ")
    if not blank or text_width(text, 2.49) <= room:
        return text
    return f"{shorten(name, room - text_width(f' {figure}', 2.49), 2.49)} {figure}"


def _drop(drop: float | None, unit: Unit) -> str:
    """Return a drop as printed: a dash where there is none, "flush" where it is nought."""
    if drop is None:
        return "–"
    steps = grains(drop, unit)
    return label(steps, unit) if steps else "flush"


def draw_basis(column: Column, view: PlanView) -> None:
    """Draw where the figures come from; told and assumed in italics."""
    if not view.basis:
        return
    column.head("Where the figures come from")
    for row in view.basis:
        face: Face = "italic" if row.kind in ("told", "assumed") else "regular"
        lines = wrap(row.items, column.width - 17.0, BODY, face=face)
        for index, line in enumerate(lines):
            column.y += 4.0 if index == 0 else 3.5
            if index == 0:
                column.canvas.text(row.kind, (column.x0, column.y), size=BODY, face=face)
            column.canvas.text(line, (column.x0 + 17.0, column.y), size=BODY, face=face)
    column.y += 0.6
    column.paragraph("Figures resting on what is told or assumed are set in italics.")


def draw_revisions(column: Column, view: PlanView, *, left: float, right: float) -> None:
    """Draw the newest revisions, between rules that span the whole column."""
    canvas = column.canvas
    canvas.line(((left, column.y), (right, column.y)), pen="mid")
    x = (column.x0, column.x0 + 9.0, column.x0 + 27.0, column.x1)
    column.y += 3.9
    for at, text in zip(x, ("Rev", "Date", "What changed", "By"), strict=True):
        anchor: Anchor = "end" if text == "By" else "start"
        canvas.text(text, (at, column.y), size=SOFT, colour="ink-2", anchor=anchor)
    column.y += 1.3
    canvas.line(((column.x0, column.y), (column.x1, column.y)), pen="thin")
    for revision in view.revisions[:3]:
        base = column.y + 3.6
        room = column.width - 27.0 - text_width(revision.author, BODY) - 2.0
        canvas.text(revision.revision, (x[0], base), size=BODY, face="semibold")
        canvas.text(revision.date, (x[1], base), size=BODY)
        canvas.text(shorten(revision.change, room, 2.47), (x[2], base), size=2.47)
        canvas.text(revision.author, (x[3], base), size=BODY, anchor="end")
        column.y += 4.9
        canvas.line(((column.x0, column.y), (column.x1, column.y)), pen="hair", colour="faint")


LOGO_WIDTH, LOGO_HEIGHT = 24.0, 10.0
"""Box that a logo fits in the title block. [mm]"""


def _draw_logo(canvas: Canvas, logo: Logo | None, *, right: float, top: float) -> float:
    """Place a logo in its box, and return how much of the width it takes."""
    if logo is None:
        return 0.0
    scale = min(LOGO_WIDTH / logo.width, LOGO_HEIGHT / logo.height)
    width, height = scale * logo.width, scale * logo.height
    canvas.picture(logo.svg, (right - width, top), width, height)
    return width + 3.0


def draw_title_block(
    column: Column,
    view: PlanView,
    *,
    left: float,
    right: float,
    scale: str,
    paper: str,
    metric: str = "mm",
) -> None:
    """Draw client, title and the cells under them, down to the mark of Wellheard.

    ``metric`` is what the lengths of a sheet in metric units are in.
    """
    from wellheard.drawings.pieces import draw_mark

    canvas, block = column.canvas, view.title_block
    x0, x1, width = column.x0, column.x1, column.width
    lengths_in = metric if view.units == "m" else "ft and in"
    canvas.line(((left, column.y), (right, column.y)), pen="bold")
    y = column.y
    who = " · ".join(part for part in (block.client, block.site) if part)
    beside = width - _draw_logo(canvas, block.logo, right=x1, top=y + 2.0)
    canvas.text(
        shorten(who, beside, BODY), (x0, y + 4.3), size=BODY, colour="ink-2", tag="CLIENT_AND_SITE"
    )
    title_size = size_mm("title")
    while title_size > 4.0 and text_width(block.title, title_size, face="semibold") > beside:
        title_size -= 0.2
    title = shorten(block.title, beside, title_size, face="semibold")
    canvas.text(title, (x0, y + 11.4), size=title_size, face="semibold", tag="TITLE")
    line_size = 3.29
    company = shorten(block.company, width / 2, BODY, face="medium")
    under = width - (text_width(company, BODY, face="medium") + 3.0 if company else 0.0)
    while line_size > BODY and text_width(block.subtitle, line_size) > under:
        line_size -= 0.1
    subtitle = shorten(block.subtitle, under, line_size)
    canvas.text(subtitle, (x0, y + 17.0), size=line_size, tag="SUBTITLE")
    if company:
        canvas.text(company, (x1, y + 17.0), size=BODY, face="medium", anchor="end")
    mark = 50.0 / 72.0 * width
    cells: Sequence[Sequence[tuple[float, str, str, bool]]] = (
        (
            (0.0, "Sheet", block.sheet, True),
            (20.0 / 72.0 * width, "Of", block.of, False),
            (32.0 / 72.0 * width, "Revision", block.revision, True),
            (mark, f"Scale, {paper}", scale, True),
        ),
        (
            (0.0, "Project", block.project, False),
            (32.0 / 72.0 * width, "Lengths in", lengths_in, False),
            (mark, "Document", block.document_hash, False),
        ),
    )
    for row, line in enumerate(cells):
        top = y + 21.0 + 11.0 * row
        canvas.line(((left, top), (right, top)), pen="thin")
        starts = [cell[0] for cell in line] + [width + 2.0]
        for index, (dx, word, value, strong) in enumerate(line):
            room = starts[index + 1] - dx - 2.0
            face: Face = "semibold" if strong else "regular"
            canvas.text(word, (x0 + dx, top + 4.0), size=SOFT, colour="ink-2")
            canvas.text(
                shorten(value, room, HEAD, face=face),
                (x0 + dx, top + 8.6),
                size=HEAD,
                face=face,
                tag=word.partition(",")[0].replace(" ", "_").upper(),
            )
    top = y + 43.0
    canvas.line(((left, top), (right, top)), pen="thin")
    mark_width = draw_mark(canvas, (x0, top + 5.6), size=3.93)
    state = shorten(f"state: {block.state}", width - mark_width - 3.0, BODY)
    canvas.text(state, (x1, top + 5.6), size=BODY, colour="ink-2", anchor="end", tag="STATE")


TITLE_BLOCK_MM = 52.0
"""Height of the title block, to the frame."""
