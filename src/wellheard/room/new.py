"""A complete starting document from a size and a number of seats.

Furniture and people follow the figures that the trade lays out tables with [common practice, no
source]: 0.75 m from seat to seat, a table of 0.75 (n − 2)/2 + 0.3 m with one person at each end,
1.2 m deep for two facing rows, mouths 0.3 m off its edge, 0.9 m behind the chairs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from wellheard.errors import UsageError
from wellheard.forms.writing import flow
from wellheard.units import INCH, Unit, format_length

FITS = ((0.75, 1.2, 0.6), (0.6, 1.0, 0.45), (0.6, 0.8, 0.4))
"""Seat pitch, table depth and room from a mouth to the wall behind it, from usual to tight. [m]"""
MOUTH = 0.3
"""Mouth beyond the edge of the table. [m]"""
USUAL_PICTURE = 0.9
"""Height of the picture in a room that asks for no larger one. [m]"""
LARGEST_PICTURE = 2.5
"""No screen in a meeting room is taken to be taller. [m]"""
USUAL_MIDDLE = 1.4
LOWEST_EDGE = 0.6
"""Middle of a picture above the floor, and its lower edge where it is so tall. [m]"""
SHAPE = 16 / 9
"""Width of a picture over its height."""
VIEWING = 6.0
"""Farthest head from the picture over its height, for reading."""
FEWEST_SEATS, MOST_SEATS = 2, 24
"""Above this many a table is no longer one conversation."""
SIZES = {"length": (1.5, 60.0), "width": (1.5, 60.0), "height": (2.1, 12.0)}
"""Least and greatest of each side of such a room. [m]"""


@dataclass(frozen=True, slots=True)
class _Layout:
    """Table and heads in the room, the long axis of the table along x or y."""

    table: tuple[float, float, float, float]  # x0, y0, x1, y1
    heads: tuple[tuple[float, float], ...]


def starting_document(
    size: tuple[float, float, float], seats: int, units: Unit, *, title: str = "New room"
) -> str:
    """Text of a complete, valid, commented document of a rectangular meeting room.

    Parameters
    ----------
    size : (float, float, float)
        Length along x, width along y, and height. [m]
    seats : int
        People round one table, 2 to 24.
    units : {"m", "ft"}
        What the document is written in.
    title : str
        Of the room.

    Returns
    -------
    str
        YAML; the display hangs on the west wall.

    Raises
    ------
    UsageError
        Such a table does not fit, or such a room makes no sense.

    Examples
    --------
    >>> text = starting_document((6.4, 4.6, 2.75), 10, "m")
    >>> print(text.splitlines()[-1])
    basis: {space: assumed, people: assumed, noise.background: assumed}
    """
    long, wide, _ = size
    for (name, (low, high)), value in zip(SIZES.items(), size, strict=True):
        if not (math.isfinite(value) and low <= value <= high):
            raise UsageError(
                f"a room {value:g} m in {name}; {format_length(low, unit=units)} to "
                f"{format_length(high, unit=units)} is allowed"
            )
    if not FEWEST_SEATS <= seats <= MOST_SEATS:
        raise UsageError(f"{seats} seats at one table; {FEWEST_SEATS} to {MOST_SEATS} are allowed")
    layout = _laid_out(long, wide, seats, units)
    return _text(layout, size, units, title)


def _laid_out(long: float, wide: float, seats: int, unit: Unit) -> _Layout:
    """Roomiest layout that fits: both ends or none, along the room or across it."""
    for pitch, depth, behind in FITS:
        for at_ends in (2, 1, 0):
            if at_ends and seats < 3:
                continue
            # An odd number leaves one place of one side free.
            length = max(pitch * math.ceil((seats - at_ends) / 2) + 0.3, 0.9)
            beyond = behind + MOUTH
            need_along = length + {2: 2 * beyond, 1: beyond + 0.3, 0: 0.6}[at_ends]
            need_cross = depth + 2 * beyond
            for across in (False, True):
                along_room, cross_room = (wide, long) if across else (long, wide)
                if need_along <= along_room + 1e-9 and need_cross <= cross_room + 1e-9:
                    return _placed(long, wide, seats, at_ends, (pitch, depth, behind), across)
    raise UsageError(
        f"{seats} people at one table do not fit in {format_length(long, unit=unit)} × "
        f"{format_length(wide, unit=unit)}; the tightest such table needs "
        f"{format_length(need_along, unit=unit)} × {format_length(need_cross, unit=unit)} with its "
        "chairs: take fewer seats or a larger room"
    )


def _placed(
    long: float,
    wide: float,
    seats: int,
    at_ends: int,
    fit: tuple[float, float, float],
    across: bool,
) -> _Layout:
    pitch, depth, behind = fit
    length = max(pitch * math.ceil((seats - at_ends) / 2) + 0.3, 0.9)
    middle_along, middle_cross = (wide / 2, long / 2) if across else (long / 2, wide / 2)
    if at_ends == 1:
        # One end only: the table moves up to where nobody sits.
        middle_along -= (behind + MOUTH - 0.3) / 2
    places = math.ceil((seats - at_ends) / 2)
    spots = [middle_along + pitch * (i - (places - 1) / 2) for i in range(places)]
    near, far = middle_cross - depth / 2 - MOUTH, middle_cross + depth / 2 + MOUTH
    heads = [(x, near) for x in spots]
    if at_ends:
        heads.append((middle_along + length / 2 + MOUTH, middle_cross))
    heads += [(x, far) for x in reversed(spots)]
    if at_ends == 2:
        heads.append((middle_along - length / 2 - MOUTH, middle_cross))
    if len(heads) > seats:  # odd: the place of the far row nearest to the picture stays free
        heads.remove((spots[0], far))
    box = (
        middle_along - length / 2,
        middle_cross - depth / 2,
        middle_along + length / 2,
        middle_cross + depth / 2,
    )
    if across:
        # Mirrored about the diagonal; what was along x is along y.
        box = (box[1], box[0], box[3], box[2])
        heads = [(y, x) for x, y in heads]
    return _Layout(box, tuple(heads))


def _picture(layout: _Layout, wide: float, height: float) -> tuple[float, float]:
    """Width and height of a picture that the farthest head can read. [m]"""
    farthest = max(math.hypot(x, y - wide / 2) for x, y in layout.heads)
    tall = max(USUAL_PICTURE, math.ceil(farthest / VIEWING / 0.05 - 1e-9) * 0.05)
    tall = min(tall, LARGEST_PICTURE, height - 1.3, (wide - 0.4) / SHAPE)
    return SHAPE * tall, tall


def _feet(inches: float) -> float | str:
    feet, rest = divmod(inches, 12)
    return feet if rest == 0 else f"{feet:g} ft {rest:g} in"


def _text(layout: _Layout, size: tuple[float, float, float], unit: Unit, title: str) -> str:
    long, wide, height = size

    def written(metres: float) -> float | str:
        """Furniture and people to the millimetre, or to the half inch."""
        return round(metres, 3) if unit == "m" else _feet(round(metres / INCH * 2) / 2)

    def exact(metres: float) -> float | str:
        """The room as it was asked for."""
        inches = round(metres / INCH * 2) / 2
        if unit == "ft" and abs(inches * INCH - metres) > 1e-6:
            return f"{metres:g} m"
        return _feet(inches) if unit == "ft" else metres

    def point(*coordinates: float) -> list[float | str]:
        return [written(c) for c in coordinates]

    x0, y0, x1, y1 = layout.table
    east, north = exact(long), exact(wide)
    room = [[0, 0], [east, 0], [east, north], [0, north]]
    table = [point(x0, y0), point(x1, y0), point(x1, y1), point(x0, y1)]
    picture, tall = _picture(layout, wide, height)
    middle = max(USUAL_MIDDLE, LOWEST_EDGE + tall / 2)
    seats = "\n".join(
        f"    s{i}: {{at: {flow(point(*head))}, facing: [across, display]}}"
        for i, head in enumerate(layout.heads, start=1)
    )
    module = "2 ft" if unit == "ft" else "0.6"
    name = flow(title)
    return f"""\
# A starting document: a rectangle, one table, usual finishes. Correct it from the survey;
# what nobody has confirmed is listed under basis. Bare lengths are in {
        "feet" if unit == "ft" else "metres"
    }; text such as
# 14 ft 6 in, 17'-4", 4.42 m or 442 cm works everywhere. x runs east, y north, z up.
wellheard: 1
title: {name}
project: {{number: "", revision: A, client: "", site: "", author: "", currency: EUR}}
site: {{region: unknown, seismic: unknown}}     # decides cable jackets and bracing
units: {unit}
space:
  outline: {flow(room)}     # counter-clockwise corners
  walls: [south, east, north, west]     # wall i runs from corner i to the next
  height: {flow(exact(height))}
  ceiling: {{kind: tiles, module: {module}, origin: [0, 0]}}     # tiles, hard or open
  climate: {{temperature_c: 21, humidity: 0.45}}
  finishes:
    floor: carpet-tile
    ceiling: ceiling-mineral-tile
    walls: plasterboard     # or one by wall: {{south: plasterboard, east: glass-front, …}}
    patches: {{}}     # window: {{wall: east, from: …, to: …, bottom: …, top: …, finish: …}}
furniture:
  table: {{kind: table, outline: {flow(table)}, height: {flow(written(0.74))}}}
  picture: {{kind: display, wall: west, centre: {flow(point(wide / 2, middle))}, size: {
        flow(point(picture, tall))
    }}}
people:
  effort: normal     # quiet, normal, raised or loud
  occupancy: 0.7
  seats:
{seats}
  standing: {{}}     # presenter: {{outline: [[…], …], facing: 0}}
noise:
  background: {{nc: 30}}     # or {{dba: …}} or {{levels_db: {{63: …, …, 8000: …}}}}
  sources: {{}}     # vent: {{kind: air-outlet, at: [x, y, z], dba_at_1m: …}}
overhead: {{}}     # lamp: {{kind: luminaire, outline: [[…], …], clearance: …}}
equipment: {{}}     # rack: {{kind: rack, at: [x, y, z]}}
far_end: {{one_way_delay_ms: 150, listening_level_dba: 65}}
choices: {{allow: [], prefer: [], exclude: [], new_holes: true}}
targets:     # what every seat is promised
  chance: 0.8
  sti_outbound: 0.62
  direct_to_reverberant_db: -6
  speech_to_noise_db: 15
basis: {{space: assumed, people: assumed, noise.background: assumed}}
"""
