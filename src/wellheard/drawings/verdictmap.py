"""The plan of a room with what a session of measurement found at every place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from wellheard.drawings.canvas import Canvas
from wellheard.drawings.chartfield import Entry, Figure, Sample, key
from wellheard.drawings.marks import STATE_SYMBOL
from wellheard.drawings.plan import draw_small
from wellheard.drawings.spots import Spot, SpotKind, draw_spot
from wellheard.drawings.symbols import UNITS
from wellheard.drawings.view import PlanView
from wellheard.predict.evidence import State
from wellheard.proving.verdict import Word

STATE_OF: Mapping[Word, State] = {
    "kept": "kept",
    "cannot tell": "at risk",
    "broken": "broken",
}
"""Whose mark a word has: the worse, the more ink."""
MARK = 2.8
"""What a mark takes in the key. [mm]"""
NOT_MEASURED: State = "not assessed"


@dataclass(frozen=True, slots=True)
class Found:
    """What was found at one place: its word, and the figure that is printed at it."""

    word: Word
    figure: str


def verdict_map(
    view: PlanView,
    found: Mapping[str, Found],
    spots: Sequence[Spot] = (),
    *,
    figures: str,
    width: float,
    height: float,
) -> Figure:
    """Return the plan with a mark and a figure at every place.

    Parameters
    ----------
    view : PlanView
        Of the room; its map and its own figures are left out.
    found : mapping of str to Found
        By id of a seat or a standing area; a place without one was not measured.
    spots : sequence of Spot
        Where the source stood and where it was recorded, besides at devices.
    figures : str
        What the figures are, in words.
    width, height : float
        Limits of the plan, without its key. [mm]
    """
    marked = replace(
        view,
        field=None,
        pieces=(),
        seats=tuple(
            replace(seat, state=_state(found.get(seat.id)), figure=_figure(found.get(seat.id)))
            for seat in view.seats
        ),
        standing=tuple(
            replace(area, state=_state(found.get(area.id)), figure=_figure(found.get(area.id)))
            for area in view.standing
        ),
    )
    canvas, plan_width, plan_height = draw_small(marked, width, height_mm=height, spots=spots)
    across = max(plan_width, width)
    top = plan_height + 4.6
    deep = key(canvas, _entries(figures, spots), left=0.2, top=top, right=across)
    title = f"Verdict at every place: {view.title_block.title}"
    return Figure("verdict-map", title, canvas, across, top + deep)


def _state(one: Found | None) -> State:
    return NOT_MEASURED if one is None else STATE_OF[one.word]


def _figure(one: Found | None) -> str:
    return "–" if one is None else one.figure


def _entries(figures: str, spots: Sequence[Spot]) -> list[Entry]:
    found = [
        Entry(None, f"figure: {figures}"),
        Entry(None, "no mark: kept"),
        Entry(_mark("at risk"), "cannot tell", MARK),
        Entry(_mark("broken"), "broken", MARK),
        Entry(_mark("not assessed"), "not measured", MARK),
    ]
    kinds = {spot.kind for spot in spots}
    if "source" in kinds:
        found.append(Entry(_spot("source"), "the source stood here", MARK))
    if "microphone" in kinds:
        found.append(Entry(_spot("microphone"), "recorded here", MARK))
    return found


def _mark(state: State) -> Sample:
    def draw(canvas: Canvas, x: float, y: float) -> None:
        size = 2.4 * UNITS / 17.0
        canvas.symbol(STATE_SYMBOL[state], (x + MARK / 2, y), size=size)

    return draw


def _spot(kind: SpotKind) -> Sample:
    def draw(canvas: Canvas, x: float, y: float) -> None:
        draw_spot(canvas, kind, (x + MARK / 2, y))

    return draw
