"""What was read of a floor plan, on one sheet, before anything is written.

::

    ┌────────────────────────────────────┬───────────────────┐
    │   strokes of the plan, faint;      │ the rooms         │
    │   rooms by key, the chosen one     │ what was taken    │
    │   with all that was recognised     │ what was left     │
    └────────────────────────────────────┴───────────────────┘

The plan lies as in its file: only a room that is taken over is turned straight.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from wellheard.arrays import Array
from wellheard.drawings.backends import svg
from wellheard.drawings.boxes import Box, Placer
from wellheard.drawings.canvas import Canvas, Point
from wellheard.drawings.lettering import shorten, text_width, wrap
from wellheard.drawings.sheet import METRIC_SCALES, Projection, Scale, extent, scales_for
from wellheard.drawings.tokens import Dash, Pen, ThemeName, size_mm
from wellheard.geometry.points import contains_points, nearest_point_on_polygon
from wellheard.geometry.polygons import centroid
from wellheard.importers.found import FoundPlan, FoundRoom, FoundSeat, FoundThing, Noted
from wellheard.importers.standing import stood
from wellheard.units import Unit, format_length

WIDTH, HEIGHT = 297.0, 210.0
EDGE, COLUMN = 10.0, 84.0
AIR = 6.0
"""Round the plan, inside its frame. [mm]"""
NOTE, BODY, HEAD, TITLE = (size_mm(name) for name in ("note", "body", "head", "title"))
SYMBOL = 6.0
MOST_ROOMS = 12

_SYMBOLS = {
    "air-outlet": "air-outlet",
    "air-return": "air-return",
    "projector": "projector",
    "rack": "rack",
    "microphone": "mic-ceiling",
    "loudspeaker": "speaker-ceiling",
}
_MANY = {
    "seat": "chairs",
    "soft-seating": "soft seating",
    "table": "tables",
    "luminaire": "luminaires",
    "air-outlet": "air outlets",
    "air-return": "air returns",
    "keep-out": "keep-outs",
    "display": "displays",
    "equipment": "equipment",
    "window": "windows",
    "door": "doors",
    "column": "columns",
    "rack": "racks",
    "sprinkler": "sprinklers",
    "projector": "projectors",
    "microphone": "microphones",
    "loudspeaker": "loudspeakers",
    "grid": "ceiling grids",
    "wall": "walls",
    "room": "rooms",
    "treatment": "panels",
    "cable": "cables",
    "note": "notes",
}

_ONE = {
    "seat": "chair",
    "grid": "ceiling grid",
    "ceiling heights": "ceiling height",
    "entities on sheets": "entity on sheets",
    "gaps bridged": "gap bridged",
    "lines and outlines": "line or outline",
    "texts": "text",
}

_ROLE_OF = {words: role for role, words in _MANY.items()}


@dataclass(frozen=True, slots=True)
class Told:
    """Lines of a report that say the same of several things, told as one."""

    count: int
    what: str
    where: str
    why: str

    def __str__(self) -> str:
        places = f" ({self.where})" if self.where else ""
        reason = f": {self.why}" if self.why else ""
        return f"{self.count} {many(self.what, self.count)}{places}{reason}"


def many(what: str, count: int) -> str:
    """Return the word for so many of something.

    Examples
    --------
    >>> many("seat", 1), many("seat", 2), many("air-outlet", 1), many("texts", 1)
    ('chair', 'chairs', 'air outlet', 'text')
    """
    if count == 1:
        return _ONE.get(what, what.replace("-", " "))
    return _MANY.get(what, what)


def told(report: Iterable[Noted], *, taken: bool) -> tuple[Told, ...]:
    """Return what was taken, or left, the commonest first, alike things together.

    Examples
    --------
    >>> chairs = [Noted(True, "seat", 2, "A-FURN"), Noted(True, "seat", 3, "A-FURN")]
    >>> [str(line) for line in told([*chairs, Noted(False, "text", 1)], taken=True)]
    ['5 chairs (A-FURN)']
    """
    counts: dict[tuple[str, str, str], int] = {}
    for one in report:
        if one.taken == taken:
            key = (_ROLE_OF.get(one.what, one.what), one.where, one.why)
            counts[key] = counts.get(key, 0) + one.count
    lines = [Told(count, *key) for key, count in counts.items()]
    return tuple(sorted(lines, key=lambda line: (-line.count, line.what, line.where, line.why)))


def found_sheet(
    plan: FoundPlan,
    chosen: FoundRoom | None,
    *,
    name: str,
    unit: Unit,
    theme: ThemeName = "white",
    embed_fonts: bool = True,
) -> str:
    """Return the preview of a plan as SVG, A4 lying.

    Parameters
    ----------
    plan : FoundPlan
        As it was read.
    chosen : FoundRoom, optional
        One of its rooms, shown large with everything that was recognised in it.
    name : str
        Of the file.
    unit : {"m", "ft"}
        Of printed lengths.
    theme : {"white", "slate"}
        Colours.
    embed_fonts : bool
        False where what holds the drawing brings the fonts.
    """
    canvas = draw(plan, chosen, name=name, unit=unit)
    title = f"What was read of {name}"
    return svg.render(canvas, WIDTH, HEIGHT, title=title, theme=theme, embed_fonts=embed_fonts)


def draw(plan: FoundPlan, chosen: FoundRoom | None, *, name: str, unit: Unit) -> Canvas:
    """Return the sheet as a recording, for tests and other back ends."""
    canvas = Canvas()
    canvas.rectangle(EDGE, EDGE, WIDTH - 2 * EDGE, HEIGHT - 2 * EDGE, pen="heavy")
    divider = WIDTH - EDGE - COLUMN
    canvas.line(((divider, EDGE), (divider, HEIGHT - EDGE)), pen="mid")
    frame = Box.spanning(EDGE, EDGE, divider, HEIGHT - EDGE)
    _picture(canvas, plan, chosen, frame, unit)
    _words(canvas, plan, chosen, name, unit, left=divider + 4.0)
    return canvas


# The picture ----------------------------------------------------------------------------------


def _picture(
    canvas: Canvas, plan: FoundPlan, chosen: FoundRoom | None, frame: Box, unit: Unit
) -> None:
    storey = chosen.storey if chosen else _fullest(plan)
    rooms = [room for room in plan.rooms if room.storey == storey]
    corners = [c for room in ([chosen] if chosen else rooms) for c in room.outline]
    corners = corners or [c for stroke in plan.strokes for c in stroke]
    if not corners:
        _empty(canvas, frame)
        return
    x0, y0, x1, y1 = extent(tuple(corners))
    left, top, right, bottom = frame.bounds
    wide, tall = right - left - 2 * AIR, bottom - top - 2 * AIR - 5.0
    scale = _scale(x1 - x0, y1 - y0, wide, tall, unit)
    mm = scale.mm_per_metre
    origin = (
        left + AIR + (wide - (x1 - x0) * mm) / 2,
        bottom - AIR - 5.0 - (tall - (y1 - y0) * mm) / 2,
    )
    project = Projection(mm, (x0, y0), origin)
    area = (left + 1.0, top + 1.0, right - 1.0, bottom - 6.0)
    paper = _Paper(canvas, project, Placer(Box.spanning(*area)), area)
    paper.stroke(*plan.strokes, pen="hair", colour="rule")
    for room in rooms:
        paper.ring(room.outline, pen="bold" if room is chosen else "mid")
    if chosen is not None:
        _recognised(paper, chosen)
    for room in rooms:
        if chosen is None or room is chosen:
            _named(paper, room, unit, alone=chosen is not None)
    others = len({room.storey for room in plan.rooms}) - 1
    where = f"; storey {storey}" if storey else ""
    more = f", {others} more in the list" if others else ""
    said = shorten(f"Scale {scale.label}{where}{more}", right - left - 6.0, NOTE)
    canvas.text(said, (left + 3.0, bottom - 2.5), size=NOTE, colour="ink-2")


def _fullest(plan: FoundPlan) -> str:
    """Return the storey with most rooms: storeys drawn over each other show nothing."""
    counts = Counter(room.storey for room in plan.rooms)
    return counts.most_common(1)[0][0] if counts else ""


def _empty(canvas: Canvas, frame: Box) -> None:
    left, top, right, bottom = frame.bounds
    canvas.text(
        "No closed outline was found.",
        ((left + right) / 2, (top + bottom) / 2),
        size=HEAD,
        colour="ink-2",
        anchor="middle",
    )


def _scale(wide: float, deep: float, width: float, height: float, unit: Unit) -> Scale:
    """Return the largest standard scale at which so many metres fit; any scale beyond them."""
    for scale in scales_for(unit):
        if wide * scale.mm_per_metre <= width and deep * scale.mm_per_metre <= height:
            return scale
    ratio = 1000.0 * max(wide / width, deep / height, 1.0 / METRIC_SCALES[-1].ratio)
    return Scale("none: the plan is larger than the smallest standard scale shows", ratio)


@dataclass(frozen=True, slots=True)
class _Paper:
    """Where the plan lies on the sheet; nothing is drawn beyond ``area``."""

    canvas: Canvas
    project: Projection
    placer: Placer
    area: tuple[float, float, float, float]

    def stroke(
        self, *runs: Sequence[Point], pen: Pen, colour: str = "ink", dash: Dash = "solid"
    ) -> None:
        """Draw runs of points of the plan, cut at the edge of the area."""
        from shapely import LineString, clip_by_rect

        kept: list[tuple[Point, ...]] = []
        for run in runs:
            if len(run) < 2:
                continue
            cut = clip_by_rect(LineString([self.project(point) for point in run]), *self.area)
            for part in getattr(cut, "geoms", [cut]):
                if isinstance(part, LineString) and not part.is_empty:
                    kept.append(tuple((x, y) for x, y in part.coords))
        self.canvas.line(*kept, pen=pen, colour=colour, dash=dash)

    def ring(self, outline: Sequence[Point], *, pen: Pen, dash: Dash = "solid") -> None:
        """Draw a closed outline of the plan."""
        if len(outline) > 2:
            self.stroke((*outline, outline[0]), pen=pen, dash=dash)

    def symbol(self, name: str, at: Point, turn_deg: float = 0.0) -> None:
        """Place a symbol at a point of the plan, if that is in the area."""
        x, y = self.project(at)
        left, top, right, bottom = self.area
        if left + SYMBOL < x < right - SYMBOL and top + SYMBOL < y < bottom - SYMBOL:
            self.canvas.symbol(name, (x, y), size=SYMBOL, turn_deg=turn_deg)
            self.placer.take(Box((x, y), SYMBOL, SYMBOL))


def _recognised(paper: _Paper, room: FoundRoom) -> None:
    """Everything in the chosen room; a thing without a symbol by its outline."""
    for opening in room.openings:
        (ax, ay), (bx, by) = (
            room.outline[opening.wall],
            room.outline[(opening.wall + 1) % len(room.outline)],
        )
        length = math.dist((ax, ay), (bx, by)) or 1.0
        ends = [
            (ax + (bx - ax) * along / length, ay + (by - ay) * along / length)
            for along in (max(opening.start, 0.0), min(opening.end, length))
        ]
        paper.stroke(ends, pen="heavy", colour="paper")
        paper.stroke(ends, pen="thin", dash="dashed" if opening.kind == "window" else "solid")
    for thing in room.things:
        _thing(paper, thing)
    for seat in room.seats:
        paper.symbol("seat", seat.at, 90.0 - looking_deg(room, seat))
    for device in room.devices:
        paper.symbol(_SYMBOLS[device.role], device.at[:2])


def looking_deg(room: FoundRoom, seat: FoundSeat) -> float:
    """Return where somebody on a chair looks; by itself across, as in a room document. [deg]

    Examples
    --------
    >>> table = FoundThing("table", ((1, 1), (3, 1), (3, 2), (1, 2)), (2, 1.5))
    >>> seats = (FoundSeat((2, 0.6)), FoundSeat((2, 2.4)), FoundSeat((0.6, 1.5), 90.0))
    >>> room = FoundRoom("1", "", ((0, 0), (4, 0), (4, 3), (0, 3)), "", things=(table,))
    >>> [looking_deg(room, seat) for seat in seats]
    [90.0, -90.0, 90.0]
    """
    if seat.facing_deg is not None:
        return seat.facing_deg
    tables = [one.outline for one in room.things if one.role == "table" and len(one.outline) > 2]
    at = np.asarray([seat.at], dtype=np.float64)
    aims = [_across(at, np.asarray(outline, dtype=np.float64)) for outline in tables]
    middle = np.mean([one.at for one in room.seats or (seat,)], axis=0)
    aim = min(aims, key=lambda one: math.dist(one, seat.at), default=middle)
    return math.degrees(math.atan2(aim[1] - seat.at[1], aim[0] - seat.at[0]))


def _across(at: Array, outline: Array) -> Array:
    """What is looked at of a table: its nearest point, or its middle from inside it."""
    inside = bool(contains_points(outline, at)[0])
    return centroid(outline) if inside else nearest_point_on_polygon(at, outline)[0]


def _thing(paper: _Paper, thing: FoundThing) -> None:
    overhead = thing.role in ("luminaire", "sprinkler", "keep-out")
    paper.ring(
        thing.outline,
        pen="bold" if thing.role == "column" else "fine",
        dash="dashed" if overhead else "solid",
    )
    symbol = _SYMBOLS.get(thing.role)
    if symbol:
        paper.symbol(symbol, thing.at)
    elif len(thing.outline) > 2:
        word = thing.role.replace("-", " ")
        x0, y0, x1, y1 = extent(paper.project.outline(thing.outline))
        if text_width(word, NOTE) < x1 - x0 - 1.0 and y1 - y0 > NOTE:
            _word(paper, word, paper.project(thing.at), NOTE, "ink-2")


def _word(paper: _Paper, text: str, at: Point, size: float, colour: str) -> None:
    """Write a word at a point, moved up or down a little where that is free."""
    for shift in (0.0, 1.4, -1.4, 2.8, -2.8, 4.2, -4.2):
        y = at[1] + 0.35 * size + shift * size
        box = Box((at[0], y - 0.35 * size), text_width(text, size) + 0.8, size)
        if paper.placer.is_free(box):
            paper.placer.take(box)
            paper.canvas.text(text, (at[0], y), size=size, colour=colour, anchor="middle")
            return


def _named(paper: _Paper, room: FoundRoom, unit: Unit, *, alone: bool) -> None:
    """Key, name and size of a room, where they fit in it."""
    from shapely.geometry import Polygon

    inside = Polygon(room.outline).representative_point()
    at = paper.project((inside.x, inside.y))
    x0, _, x1, _ = extent(paper.project.outline(room.outline))
    width = x1 - x0 - 2.0
    head = room.key if not room.name else f"{room.key}  {room.name}"
    for text, size, colour in (
        (shorten(head, max(width, text_width(room.key, BODY) + 0.1), BODY), BODY, "ink"),
        (_size(room, unit), NOTE, "ink-2"),
    ):
        if text_width(text, size) <= width or (size == BODY and not alone):
            _word(paper, text, at, size, colour)
            at = (at[0], at[1] + 1.3 * BODY)


def _size(room: FoundRoom, unit: Unit) -> str:
    x0, y0, x1, y1 = extent(stood(room).outline)
    return " × ".join(format_length(side, unit=unit) for side in (x1 - x0, y1 - y0))


# The words ------------------------------------------------------------------------------------


class _Column:
    """Words one under the other until the sheet is full."""

    def __init__(self, canvas: Canvas, left: float) -> None:
        self.canvas, self.left, self.y = canvas, left, EDGE + 4.0
        self.width = WIDTH - EDGE - 3.0 - left
        self.bottom = HEIGHT - EDGE - 4.0

    def lines(self, text: str, size: float, colour: str, *, hang: float = 0.0) -> bool:
        """Write a paragraph; False where it no longer fits."""
        rows = wrap(text, self.width - hang, size)
        if self.y + len(rows) * 1.35 * size > self.bottom - 1.35 * NOTE:
            return False
        for i, row in enumerate(rows):
            self.y += 1.35 * size
            at = (self.left + (hang if i else 0.0), self.y)
            self.canvas.text(row, at, size=size, colour=colour)
        return True

    def heading(self, text: str) -> None:
        self.y += 2.2
        if self.y + 1.35 * BODY > self.bottom - 4 * NOTE:
            return
        self.y += 1.2 * BODY
        self.canvas.text(text, (self.left, self.y), size=BODY, face="semibold")
        self.y += 0.8

    def several(self, items: Sequence[str]) -> None:
        """Write as many as fit, and how many did not."""
        for number, item in enumerate(items):
            if not self.lines(item, NOTE, "ink-2", hang=2.5):
                self.y += 1.35 * NOTE
                rest = f"and {len(items) - number} more, in the report"
                self.canvas.text(
                    rest, (self.left, self.y), size=NOTE, face="italic", colour="ink-2"
                )
                return


def _words(
    canvas: Canvas,
    plan: FoundPlan,
    chosen: FoundRoom | None,
    name: str,
    unit: Unit,
    *,
    left: float,
) -> None:
    column = _Column(canvas, left)
    column.y += 1.1 * HEAD
    canvas.text(shorten(name, column.width, HEAD), (left, column.y), size=HEAD, face="semibold")
    column.y += 1.0
    column.lines(f"{plan.format}, unit {plan.unit} ({plan.unit_source})", NOTE, "ink-2")
    column.lines("Nothing is written yet.", NOTE, "ink-2")
    column.heading(f"{len(plan.rooms)} rooms" if len(plan.rooms) != 1 else "One room")
    for room in plan.rooms[:MOST_ROOMS]:
        column.lines(
            _line(room, unit), NOTE, "ink" if room is chosen or chosen is None else "ink-2",
            hang=2.5,
        )  # fmt: skip
    if len(plan.rooms) > MOST_ROOMS:
        column.lines(f"and {len(plan.rooms) - MOST_ROOMS} more", NOTE, "ink-2")
    if plan.warnings:
        column.heading("Mind")
        column.several(plan.warnings)
    column.heading("Taken")
    column.several([str(line) for line in told(plan.report, taken=True)] or ["nothing"])
    column.heading("Left")
    column.several([str(line) for line in told(plan.report, taken=False)] or ["nothing"])


def _line(room: FoundRoom, unit: Unit) -> str:
    key, name, size, high, chairs, source = listed(room, unit)
    people = {"0": "", "1": ", 1 chair"}.get(chairs, f", {chairs} chairs")
    return f"{' '.join(filter(None, (key, name)))}: {size}, {high} high{people}; {source}"


def listed(room: FoundRoom, unit: Unit) -> list[str]:
    """Return key, name, size, height, number of chairs and source of a room, as printed."""
    high = "? (not stated)" if room.height is None else format_length(room.height, unit=unit)
    return [room.key, room.name, _size(room, unit), high, str(len(room.seats)), room.source]
