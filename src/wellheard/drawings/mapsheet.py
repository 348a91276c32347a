"""A map on its own: what is shown and for whom, the room under its border, the scale of tints.

One panel, or two under the same words with the same lines: what is expected, and the low end.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

from wellheard.drawings import border, caption
from wellheard.drawings.backends import svg
from wellheard.drawings.boxes import Box, Placer
from wellheard.drawings.canvas import Canvas, Point
from wellheard.drawings.fieldmap import Levels, figure
from wellheard.drawings.lettering import text_width, wrap, wrap_evenly
from wellheard.drawings.marks import STATE_SYMBOL
from wellheard.drawings.roomplan import RoomStyle, draw_room
from wellheard.drawings.sheet import Projection, extent
from wellheard.drawings.tokens import ThemeName, size_mm
from wellheard.drawings.view import FieldMap, PlanView, State, Unit

NOTE = size_mm("note")
TITLE, LEAD = 4.6, 3.3
PORTRAIT, LANDSCAPE = (180.0, 200.0), (255.0, 145.0)
"""Width of a picture and height of its map that fit A4 and US Letter between margins. [mm]"""
EASY = 24.0
"""Scale at which seats side by side stand clear of each other. [mm/m]"""
LEAST_WIDTH = 150.0
"""Of a picture, so that its words have room. [mm]"""
ASIDE = 7.9
"""What border and walls take on every side. [mm]"""
GAP = 5.0
_LINE = 3.6
_LEGEND = 9.8
_HEAD = 4.6
_COLUMN = 44.0
"""Beside a map: room for what it shows, which else stands over it. [mm]"""
_SCALE_WIDTH = 92.0


@dataclass(frozen=True, slots=True)
class MapWords:
    """The words round a map.

    Parameters
    ----------
    title
        Quantity with its bands, and the unit.
    conditions
        Height, facing, which value: whole sentences.
    note
        What the map comes to; stands beside the scale of tints.
    foot
        Which room and document this is; "" where the page that holds the map says so.
    """

    title: str
    conditions: str
    note: str = ""
    foot: str = ""


class Panel(Protocol):
    """One map with its border, at whatever size."""

    @property
    def size(self) -> Point:
        """Extent of what is drawn. [m]"""

    @property
    def units(self) -> Unit:
        """Of the border's south and west sides."""

    @property
    def field(self) -> FieldMap | None:
        """What is mapped, for the scale of tints."""

    @property
    def states(self) -> tuple[State, ...]:
        """States that marks on it show."""

    def key_size(self) -> Point:
        """Width and height of what shows where it lies; 0 without. [mm]"""

    def draw_key(self, canvas: Canvas, *, right: float, top: float) -> None:
        """Draw that, its upper right corner given. [mm]"""

    def draw(self, canvas: Canvas, project: Projection, hard: Placer) -> tuple[Levels | None, int]:
        """Draw it; returns its lines and how many figures found no room."""


@dataclass(frozen=True, slots=True)
class LevelPanel:
    """A map on the plan."""

    view: PlanView
    style: RoomStyle

    @property
    def size(self) -> Point:
        """Extent of the room. [m]"""
        x0, y0, x1, y1 = extent(self.view.outline)
        return x1 - x0, y1 - y0

    @property
    def units(self) -> Unit:
        """Of the document."""
        return self.view.units

    @property
    def field(self) -> FieldMap | None:
        """What is mapped."""
        return self.view.field

    @property
    def states(self) -> tuple[State, ...]:
        """States of seats and standing areas."""
        seats, areas = self.view.seats, self.view.standing
        return (*(seat.state for seat in seats), *(area.state for area in areas))

    def key_size(self) -> Point:
        """Nothing: a plan shows itself."""
        return 0.0, 0.0

    def draw_key(self, canvas: Canvas, *, right: float, top: float) -> None:
        """Draw nothing."""

    def draw(self, canvas: Canvas, project: Projection, hard: Placer) -> tuple[Levels | None, int]:
        """Draw the room."""
        x0, y0, _, _ = extent(self.view.outline)
        moved = replace(project, datum=(x0, y0))
        drawn = draw_room(canvas, self.view, moved, style=self.style, hard=hard)
        return drawn.levels, drawn.left_out


@dataclass(frozen=True, slots=True)
class Shown:
    """One of the maps of a picture: its heading and what it comes to, "" for a lone one."""

    panel: Panel
    head: str = ""
    note: str = ""


MAP_STYLE = RoomStyle(
    seat=6.6,
    device=7.6,
    standing=6.6,
    letters=((2.9, 2.4), (2.57, 2.2), (2.3, 2.15), (2.15, 2.15)),
    label=2.9,
    word=2.35,
    contour_label=2.4,
    heights=False,
    tiles=False,
    set_out=False,
    words=False,
    detail=0.7,
)
"""Sizes on a picture with one map."""

PAIR_STYLE = replace(
    MAP_STYLE,
    seat=5.4,
    device=6.4,
    standing=6.0,
    letters=((2.7, 2.2), (2.4, 2.15), (2.15, 2.15)),
    label=2.7,
    word=2.35,
    contour_label=2.3,
    detail=0.6,
)
"""Sizes where two share a page."""


def paper_of(panel: Panel) -> Point:
    """Return the width of a picture of one map and the height that the map may take. [mm]

    Upright, or lying where that draws a small map larger; no wider than the map then is.
    """

    def scale(paper: Point) -> float:
        return min((side - 2 * ASIDE) / size for side, size in zip(paper, panel.size, strict=True))

    upright, lying = scale(PORTRAIT), scale(LANDSCAPE)
    paper = LANDSCAPE if upright < EASY and lying > 1.1 * upright else PORTRAIT
    wide = panel.size[0] * scale(paper) + 2 * ASIDE
    return max(min(wide, paper[0]), LEAST_WIDTH), paper[1]


def map_picture(
    shown: Sequence[Shown],
    words: MapWords,
    *,
    width: float,
    tallest: float,
    margin: float = 0.0,
    theme: ThemeName = "white",
    embed_fonts: bool = True,
) -> str:
    """Return one map, or two that share their lines, as SVG.

    Parameters
    ----------
    shown : sequence of Shown
        One map, or two with what each shows beyond the common words.
    words : MapWords
        Above and below.
    width : float
        Of the picture. [mm]
    tallest : float
        Of all panels together; the map becomes smaller to keep it. [mm]
    margin : float
        Blank paper round it, beyond ``width``. [mm]
    theme : {"white", "slate"}
        Colours.
    embed_fonts : bool
        False where the document that holds the map brings the fonts.

    Returns
    -------
    str
        The same map gives the same bytes. Not to a standard scale: the border is its scale.
    """
    canvas, height = draw_map(shown, words, width=width, tallest=tallest, margin=margin)
    return svg.render(
        canvas,
        width + 2 * margin,
        height,
        title=words.title,
        theme=theme,
        embed_fonts=embed_fonts,
    )


def draw_map(
    shown: Sequence[Shown],
    words: MapWords,
    *,
    width: float,
    tallest: float,
    margin: float = 0.0,
) -> tuple[Canvas, float]:
    """Return the picture as a recording, and its height. [mm]"""
    canvas = Canvas()
    left, right = margin, margin + width
    key, deep = shown[0].panel.key_size()
    writable = width - (key + GAP if key else 0.0)
    top = _draw_head(canvas, words, (left, margin), writable)
    if key:
        shown[0].panel.draw_key(canvas, right=right - 0.3, top=margin + 0.3)
        top = max(top, margin + deep + 2.5)
    beside, mm = _arranged([one.panel.size for one in shown], width, tallest)
    levels: Levels | None = None
    left_out = 0
    x, lowest = left, top
    for one in shown:
        wide, tall = (side * mm + 2 * ASIDE for side in one.panel.size)
        spare = width - wide
        over = one.head != "" and (beside or spare < _COLUMN)
        start = top + (_HEAD if over else 0.0)
        if over:
            said = f"{one.head}. {one.note}".strip()
            canvas.text(said, (x + 0.13, top + 3.2), size=NOTE, face="medium")
        elif one.head:
            _draw_beside(canvas, one, (x + wide + 4.0, start), spare - 4.0)
        found, missing = _draw_panel(canvas, one.panel, (x, start, x + wide, start + tall), mm)
        levels, left_out = found or levels, left_out + missing
        lowest = max(lowest, start + tall)
        if beside:
            x += (width + GAP) / len(shown)
        else:
            top = start + tall + GAP
    foot = _Foot(words, levels, left_out, tuple(one.panel for one in shown))
    return canvas, foot.draw(canvas, left=left, top=lowest, right=right) + margin


def _draw_beside(canvas: Canvas, one: Shown, corner: Point, width: float) -> None:
    """Write what a map shows in the column at its side."""
    x, y = corner[0], corner[1] + 0.72 * LEAD
    for line in wrap(one.head, width, LEAD, face="semibold"):
        canvas.text(line, (x, y), size=LEAD, face="semibold")
        y += 1.3 * LEAD
    y += 0.6
    for line in wrap(one.note, width, NOTE) if one.note else ():
        canvas.text(line, (x, y), size=NOTE, colour="ink-2")
        y += _LINE


def _arranged(sizes: Sequence[Point], width: float, tallest: float) -> tuple[bool, float]:
    """Return whether panels stand side by side, and the scale: what draws them larger."""
    count = len(sizes)
    wide, tall = (max(size[k] for size in sizes) for k in (0, 1))

    def scale(columns: int, head: float) -> float:
        rows = count // columns
        across = (width - GAP * (columns - 1)) / columns - 2 * ASIDE
        upward = (tallest - GAP * (rows - 1)) / rows - 2 * ASIDE - head
        return min(across / wide, upward / tall)

    if count == 1:
        return False, scale(1, 0.0)
    stacked = scale(1, 0.0)
    if width - stacked * wide - 2 * ASIDE < _COLUMN:
        # No room at their side for what they show: it stands over them.
        stacked = min(scale(1, _HEAD), stacked)
    side_by_side = scale(count, _HEAD)
    return side_by_side > stacked, max(side_by_side, stacked)


def _draw_head(canvas: Canvas, words: MapWords, corner: Point, width: float) -> float:
    """Write title and conditions; returns where the panels begin."""
    x, y = corner[0] + 0.13, corner[1] + 0.2 + 0.72 * TITLE
    for line in wrap(words.title, width, TITLE, face="semibold"):
        canvas.text(line, (x, y), size=TITLE, face="semibold")
        y += 1.25 * TITLE
    y += NOTE - TITLE + 1.0
    for line in wrap_evenly(words.conditions, width, NOTE):
        canvas.text(line, (x, y), size=NOTE, colour="ink-2")
        y += _LINE
    return y - _LINE + 2.6


def _draw_panel(
    canvas: Canvas, panel: Panel, corners: tuple[float, float, float, float], mm: float
) -> tuple[Levels | None, int]:
    x0, y0, x1, y1 = corners
    outside = Canvas()
    project = Projection(mm, (0.0, 0.0), (x0 + ASIDE, y1 - ASIDE))
    hard = Placer(Box.spanning(x0 + 1.2, y0 + 1.2, x1 - 1.2, y1 - 1.2))
    frame = border.Border(x0 + 0.13, y0 + 0.13, x1 - 0.13, y1 - 0.13, 1.1, 2.15, 8.0)
    border.draw(outside, hard, frame, project=project, size=panel.size, units=panel.units)
    found = panel.draw(canvas, project, hard)
    canvas.extend(outside)
    return found


@dataclass(frozen=True, slots=True)
class _Foot:
    """What stands under the panels."""

    words: MapWords
    levels: Levels | None
    left_out: int
    panels: tuple[Panel, ...]

    def draw(self, canvas: Canvas, *, left: float, top: float, right: float) -> float:
        """Draw the scale of tints and what has to be said; returns where it ends."""
        field = next((panel.field for panel in self.panels if panel.field is not None), None)
        bottom = top
        if field is not None and self.levels is not None:
            y = top + 5.4
            caption.draw_tint_scale(
                canvas, field, self.levels, x=left + 0.13, y=y, width=_SCALE_WIDTH
            )
            x = left + _SCALE_WIDTH + text_width(field.unit, NOTE) + 8.0
            at = top + 5.0
            for line in wrap(self._said(field, self.levels), right - x, NOTE):
                canvas.text(line, (x, at), size=NOTE, colour="ink-2")
                at += _LINE
            marked = self._draw_states(canvas, (x, at))
            bottom = max(y + _LEGEND, at + (1.6 if marked else -1.6))
        if not self.words.foot:
            return bottom
        canvas.line(((left + 0.13, bottom + 1.0), (right - 0.13, bottom + 1.0)), pen="thin")
        at = bottom + 4.4
        for line in wrap(self.words.foot, right - left, 2.3):
            canvas.text(line, (left + 0.13, at), size=2.3, colour="ink-2")
            at += 3.2
        return at - 2.2

    def _said(self, field: FieldMap, levels: Levels) -> str:
        unit = f"\u00a0{field.unit}" if field.unit else ""
        said = [self.words.note] if self.words.note else []
        said.append(f"Lines every {figure(levels.step, max(field.decimals, 1))}{unit}.")
        if self.left_out:
            said.append(f"{self.left_out} figures found no room here: see the seat ledger.")
        return " ".join(said)

    def _draw_states(self, canvas: Canvas, at: Point) -> bool:
        """Explain the marks beside figures, the worst first; returns whether there are any."""
        shown = {state for panel in self.panels for state in panel.states}
        order: tuple[State, ...] = ("broken", "at risk", "not assessed")
        x, y = at
        for state in (state for state in order if state in shown):
            canvas.symbol(STATE_SYMBOL[state], (x + 1.1, y - 0.35 * NOTE), size=3.0)
            canvas.text(state, (x + 3.2, y), size=NOTE)
            x += 3.2 + text_width(state, NOTE) + 4.0
        return x > at[0]
