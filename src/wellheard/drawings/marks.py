"""Seats and standing areas: symbols with their figures, placed where nothing is written.

A figure is set smaller before it is left out, and what is left out is counted, so that the sheet
can say so.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

from wellheard.drawings.boxes import Box, Placer
from wellheard.drawings.canvas import Anchor, Canvas, Point
from wellheard.drawings.lettering import text_width
from wellheard.drawings.signs import Labelled, Sign, first_free, mark, word
from wellheard.drawings.structure import LEAST_DASHED, Structure, runs
from wellheard.drawings.symbols import UNITS
from wellheard.drawings.view import SeatMark, StandingMark

STATE_SYMBOL = {
    "kept": "state-kept",
    "at risk": "state-at-risk",
    "broken": "state-broken",
    "not assessed": "state-not-assessed",
}
LEAST = 2.15
"""Size of letters of one and a half millimetres, below which nothing is written."""
_SEAT_REACH = 7.9 / UNITS  # from the middle of the symbol to its outermost stroke, per size
_AIM_REACH = 9.4 / UNITS
_LETTER_SIZES = ((3.36, 2.57), (2.9, 2.4), (2.57, 2.2), (2.2, 2.15))


def seat_size(seats: Sequence[Point], *, largest: float, least: float = 6.0) -> float:
    """Return the symbol size at which neighbours do not touch. [mm]

    Examples
    --------
    >>> seat_size([(0.0, 0.0), (32.0, 0.0)], largest=8.6)
    8.6
    >>> round(seat_size([(0.0, 0.0), (4.0, 0.0)], largest=8.6), 2)
    6.0
    """
    nearest = min(
        (math.dist(a, b) for k, a in enumerate(seats) for b in seats[k + 1 :]), default=math.inf
    )
    return min(max(nearest / (2 * _SEAT_REACH) * 0.92, least), largest)


def place_seats(
    seats: Sequence[SeatMark],
    structure: Structure,
    *,
    hard: Placer,
    soft: Placer,
    size: float,
    letters: Sequence[tuple[float, float]] = _LETTER_SIZES,
    with_ids: bool = True,
) -> Labelled:
    """Find room for the figure and the name of every seat; one lettering size for all.

    Parameters
    ----------
    seats : sequence of SeatMark
        In order of the document.
    structure : Structure
        Projects them.
    hard : Placer
        What text may not cover; is told about everything placed.
    soft : Placer
        Knows the edges that text avoids where it can.
    size : float
        Of the seat symbol. [mm]
    letters : sequence of (float, float)
        Sizes for figure and name, tried from the first.
    with_ids : bool
        Whether names are written at all.
    """
    best: tuple[int, list[Sign]] | None = None
    for figure_size, id_size in letters:
        trial = hard.copy()
        signs: list[Sign] = []
        missing = 0
        for seat in seats:
            found = _seat_signs(
                seat,
                structure.project(seat.at),
                trial,
                soft,
                size=size,
                figure_size=figure_size,
                id_size=id_size,
                with_id=with_ids,
            )
            missing += found is None
            if found is not None:
                signs += found
                trial.take(*(sign.box for sign in found))
        if best is None or missing < best[0]:
            best = (missing, signs)
        if missing == 0:
            break
    if best is None:
        return Labelled((), 0)
    hard.take(*(sign.box for sign in best[1]))
    return Labelled(tuple(best[1]), best[0])


def seat_boxes(seats: Sequence[SeatMark], structure: Structure, size: float) -> list[Box]:
    """Return the boxes that seat symbols take."""
    return [
        box
        for seat in seats
        for box in _symbol_boxes(structure.project(seat.at), seat.facing_deg, size)
    ]


def _symbol_boxes(at: Point, facing_deg: float, size: float) -> list[Box]:
    turn = math.radians(facing_deg)
    tip = (at[0] + 0.3 * size * math.cos(turn), at[1] - 0.3 * size * math.sin(turn))
    side = 1.9 * _SEAT_REACH * size
    return [Box(at, side, side), Box(tip, 0.26 * size, 0.26 * size)]


def _seat_signs(
    seat: SeatMark,
    at: Point,
    hard: Placer,
    soft: Placer,
    *,
    size: float,
    figure_size: float,
    id_size: float,
    with_id: bool,
) -> list[Sign] | None:
    """Return the first arrangement of figure, state mark and name that is free."""
    options = _arrangements(seat, at, size, figure_size, id_size, with_id)
    return first_free(options, hard, soft)


def _arrangements(
    seat: SeatMark, at: Point, size: float, figure_size: float, id_size: float, with_id: bool
) -> Iterator[list[Sign]]:
    """Give arrangements in order of preference: behind the seat, at its sides, in front."""
    back = seat.facing_deg + 180.0
    order = sorted((90.0, 270.0, 0.0, 180.0), key=lambda a: (_turn(a, back), a))
    for direction in order:
        reach = _reach(seat, direction, size)
        upright = direction in (90.0, 270.0)
        for near in (1.9, 1.1, 0.5) if upright else (1.7, 1.0, 0.5):
            near *= size / 8.6
            figure = _figure_signs(seat, at, direction, reach + near, figure_size)
            if not with_id:
                yield figure
                continue
            for name in _names(seat, at, direction, reach, size, figure, id_size):
                yield [*figure, name]


def _turn(a: float, b: float) -> float:
    return abs((a - b + 180.0) % 360.0 - 180.0)


def _reach(seat: SeatMark, direction: float, size: float) -> float:
    """Return how far the symbol extends in a direction from its middle. [mm]"""
    return size * (_AIM_REACH if _turn(direction, seat.facing_deg) < 60.0 else _SEAT_REACH)


def _figure_signs(
    seat: SeatMark, at: Point, direction: float, away: float, size: float
) -> list[Sign]:
    cap = 0.7 * size
    marked = bool(seat.figure) and seat.state != "kept"
    mark_size = size * 1.12
    mark_side = mark_size * 17.0 / UNITS
    extra = 0.7 + mark_side if marked else 0.0
    width = text_width(seat.figure, size, face="semibold")
    x, y = at
    if direction in (90.0, 270.0):
        left = x - width / 2
        base = y - away if direction == 90.0 else y + away + cap
    else:
        left = x + away if direction == 0.0 else x - away - width - extra
        base = y + cap / 2
    signs = [word(seat.figure, (left, base), size, face="semibold")]
    if marked:
        middle = (left + width + 0.7 + mark_side / 2, base - cap / 2)
        signs.append(mark(STATE_SYMBOL[seat.state], middle, mark_size))
    return signs


def _names(
    seat: SeatMark,
    at: Point,
    direction: float,
    reach: float,
    size: float,
    figure: Sequence[Sign],
    id_size: float,
) -> list[Sign]:
    """Return places for the name: beside the symbol, beyond the figure, opposite it."""
    x, y = at
    cap = 0.7 * id_size
    beside = _SEAT_REACH * size + 0.9
    left = min(sign.box.bounds[0] for sign in figure)
    top = min(sign.box.bounds[1] for sign in figure)
    bottom = max(sign.box.bounds[3] for sign in figure)

    def name(place: Point, anchor: Anchor) -> Sign:
        return word(seat.id, place, id_size, colour="ink-2", anchor=anchor)

    level = [
        name((x - _reach(seat, 180.0, size) - 0.9, y + cap / 2), "end"),
        name((x + _reach(seat, 0.0, size) + 0.9, y + cap / 2), "start"),
    ]
    if direction in (90.0, 270.0):
        away = reach + 0.6
        far = top - 1.0 if direction == 90.0 else bottom + 0.9 + cap
        near = y + away + cap if direction == 90.0 else y - away
        return [*level, name((x, far), "middle"), name((x, near), "middle")]
    return [
        name((left, bottom + 0.9 + cap), "start"),
        name((left, top - 0.9), "start"),
        name((x, y - beside), "middle"),
        name((x, y + beside + cap), "middle"),
    ]


def draw_seats(
    canvas: Canvas, seats: Sequence[SeatMark], structure: Structure, *, size: float
) -> None:
    """Draw the seat symbols, aimed where they face."""
    for seat in seats:
        canvas.symbol(
            "seat", structure.project(seat.at), size=size, turn_deg=90.0 - seat.facing_deg
        )


def place_standing(
    areas: Sequence[StandingMark],
    structure: Structure,
    *,
    hard: Placer,
    soft: Placer,
    size: float,
    figure_size: float,
    word_size: float,
) -> Labelled:
    """Find room for figure and name of every standing area; the figure leads."""
    signs: list[Sign] = []
    missing = 0
    for area, shape in zip(areas, structure.standing, strict=True):
        at = standing_point(area, structure, shape)
        turned = SeatMark(area.id, area.at or (0.0, 0.0), 90.0, area.figure, area.state)
        for letters in (figure_size, 2.57, 2.2):
            options = [
                _figure_signs(turned, at, direction, 0.36 * size + away, letters)
                for away in (2.4, 0.7)
                for direction in (270.0, 90.0, 0.0, 180.0)
            ]
            found = first_free(options, hard, soft)
            if found is not None:
                signs += found
                hard.take(*(sign.box for sign in found))
                break
        else:
            missing += 1
        named = _standing_name(area, shape, hard, word_size)
        signs += named
        hard.take(*(sign.box for sign in named))
    return Labelled(tuple(signs), missing)


def standing_boxes(areas: Sequence[StandingMark], structure: Structure, size: float) -> list[Box]:
    """Return the boxes that standing figures take."""
    return [
        Box(standing_point(area, structure, shape), 0.62 * size, 0.62 * size)
        for area, shape in zip(areas, structure.standing, strict=True)
    ]


def standing_point(area: StandingMark, structure: Structure, shape: Any) -> Point:
    """Return where the figure of a standing area is drawn: its point, or a middle one."""
    if area.at is not None:
        return structure.project(area.at)
    inner = shape.centroid if shape.contains(shape.centroid) else shape.representative_point()
    return float(inner.x), float(inner.y)


def _standing_name(area: StandingMark, shape: Any, hard: Placer, size: float) -> list[Sign]:
    from shapely.geometry import Polygon

    x0, y0, x1, y1 = shape.bounds
    middle, height = (x0 + x1) / 2, (y0 + y1) / 2
    small = max(size * 0.92, LEAST)
    line = size * 1.3
    options: list[list[Sign]] = []
    for words in ([area.label, area.note], [area.label]):
        if not all(words):
            continue
        sizes = [size, small][: len(words)]
        for last in (y1 - 1.6, y0 + 0.7 * size + 1.6 + line * (len(words) - 1)):
            options.append(
                [
                    word(
                        line_text,
                        (middle, last - line * (len(words) - 1 - k)),
                        sizes[k],
                        colour="ink-2",
                        anchor="middle",
                    )
                    for k, line_text in enumerate(words)
                ]
            )
        for column in (x0 + 0.7 * size + 1.0, x1 - 1.2 - line * (len(words) - 1)):
            ends: tuple[tuple[float, Anchor], ...] = (
                (y1 - 1.4, "start"),
                (y0 + 1.4, "end"),
                (height, "middle"),
            )
            for at, anchor in ends:
                options.append(
                    [
                        word(
                            line_text,
                            (column + line * k, at),
                            sizes[k],
                            colour="ink-2",
                            anchor=anchor,
                            angle_deg=-90.0,
                        )
                        for k, line_text in enumerate(words)
                    ]
                )
    fitting = [
        option
        for option in options
        if all(shape.covers(Polygon(sign.box.grown(0.3).corners)) for sign in option)
    ]
    index = hard.first_free([[sign.box for sign in option] for option in fitting])
    return fitting[index] if index is not None else []


def draw_standing(
    canvas: Canvas,
    areas: Sequence[StandingMark],
    structure: Structure,
    *,
    size: float,
    keep_off: Any,
) -> None:
    """Draw the dashed edge and the standing figure, aimed where it faces."""
    for area, shape in zip(areas, structure.standing, strict=True):
        edge = shape.exterior.difference(keep_off)
        canvas.line(*runs(edge, least=LEAST_DASHED), pen="thin", dash="dashed")
        at = standing_point(area, structure, shape)
        canvas.symbol("person-standing", at, size=size, turn_deg=90.0 - area.facing_deg)
