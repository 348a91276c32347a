"""Dimension chains as an architect writes them: positions are rounded, distances derived.

So the parts of a chain always add up to its whole, on the printed digits.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal, TypeAlias

from wellheard.drawings.boxes import Box, Placer
from wellheard.drawings.canvas import Anchor, Canvas, Point, Text
from wellheard.drawings.lettering import text_width
from wellheard.drawings.tokens import size_mm
from wellheard.drawings.view import Unit
from wellheard.units import format_length, format_millimetres

Side: TypeAlias = Literal["south", "north", "west", "east"]

GRAIN: dict[Unit, float] = {"m": 0.001, "ft": 0.0254 / 8}
"""Smallest printed step of a length: a millimetre, an eighth of an inch. [m]"""

_TICK = 1.0  # half length of the 45° tick along each axis [mm]
_RAISE = 0.89  # text over its line [mm]
_BEYOND = 1.4  # extension line past the dimension line [mm]


def grains(metres: float, unit: Unit) -> int:
    """Return a length as a whole number of printed steps.

    Examples
    --------
    >>> grains(2.3, "m"), grains(0.3048, "ft")
    (2300, 96)
    """
    return round(metres / GRAIN[unit])


def label(steps: int, unit: Unit) -> str:
    """Return the printed length of a whole number of steps.

    Examples
    --------
    >>> label(2300, "m"), label(724, "ft")
    ('2300', '7\\'-6½"')
    """
    if steps == 0:
        return "0"
    metres = steps * GRAIN[unit]
    return format_millimetres(metres) if unit == "m" else format_length(metres, unit="ft")


def printed(metres: float, unit: Unit) -> str:
    """Return a length as the sheet writes it: millimetres, or feet and inches.

    Examples
    --------
    >>> printed(0.74, "m"), printed(0.74, "ft")
    ('740', '2\\'-5⅛"')
    """
    return label(grains(metres, unit), unit)


@dataclass(frozen=True, slots=True)
class Chain:
    """Rounded positions along one direction, in printed steps from the datum, ascending."""

    steps: tuple[int, ...]
    unit: Unit

    @property
    def positions(self) -> tuple[float, ...]:
        """Return the rounded positions. [m]"""
        return tuple(step * GRAIN[self.unit] for step in self.steps)

    @property
    def parts(self) -> tuple[int, ...]:
        """Return the distances between neighbours, in printed steps."""
        return tuple(b - a for a, b in pairwise(self.steps))

    @property
    def labels(self) -> tuple[str, ...]:
        """Return the distances as printed."""
        return tuple(label(part, self.unit) for part in self.parts)


def chain(positions: Sequence[float], *, unit: Unit) -> Chain:
    """Return the chain through positions [m] from the datum; equal ones merge.

    Examples
    --------
    >>> links = chain([0.0, 2.3004, 4.1, 6.4], unit="m")
    >>> links.labels, sum(links.parts)
    (('2300', '1800', '2300'), 6400)
    """
    return Chain(tuple(sorted({grains(position, unit) for position in positions})), unit)


def draw_chain(
    canvas: Canvas,
    placer: Placer,
    links: Chain,
    *,
    side: Side,
    along: Sequence[float],
    line_at: float,
    from_at: float | Sequence[float],
    size: float | None = None,
) -> None:
    """Draw a chain outside the room: line, ticks, extension lines, figures.

    Parameters
    ----------
    canvas : Canvas
        Drawn on.
    placer : Placer
        Is told which boxes the figures take.
    links : Chain
        What is dimensioned.
    side : {"south", "north", "west", "east"}
        On which side of the room the chain runs.
    along : sequence of float
        Paper coordinate of every position of the chain. [mm]
    line_at : float
        Paper coordinate of the dimension line across the chain. [mm]
    from_at : float or sequence of float
        Where extension lines start: one place for all, or one for each. [mm]
    size : float, optional
        Lettering size; 2.5 mm capitals unless given. [mm]

    Notes
    -----
    A figure longer than its part is written smaller, then upright to the line, then staggered.
    """
    level = side in ("south", "north")
    outwards = 1.0 if side in ("south", "east") else -1.0

    def at(u: float, v: float) -> Point:
        return (u, v) if level else (v, u)

    starts = [from_at] * len(along) if isinstance(from_at, float) else list(from_at)
    canvas.line((at(along[0], line_at), at(along[-1], line_at)), pen="thin")
    for u, start in zip(along, starts, strict=True):
        a, b = at(u, start), at(u, line_at + outwards * _BEYOND)
        canvas.line((a, b), pen="hair")
        placer.take(Box.spanning(a[0] - 0.15, a[1] - 0.15, b[0] + 0.15, b[1] + 0.15))
        tick = (at(u - _TICK, line_at + _TICK), at(u + _TICK, line_at - _TICK))
        if not level:
            tick = ((line_at - _TICK, u + _TICK), (line_at + _TICK, u - _TICK))
        canvas.line(tick, pen="mid")

    figures = chain_figures(links, side=side, along=along, line_at=line_at, size=size)
    canvas.commands += figures
    placer.take(*(figure.box for figure in figures))


def chain_figures(
    links: Chain,
    *,
    side: Side,
    along: Sequence[float],
    line_at: float,
    size: float | None = None,
) -> list[Text]:
    """Return the figures of a chain as `draw_chain` writes them, one for each part."""
    level = side in ("south", "north")

    def at(u: float, v: float) -> Point:
        return (u, v) if level else (v, u)

    largest = size_mm("body") if size is None else size
    small = size_mm("note")
    spans = [abs(b - a) for a, b in pairwise(along)]
    tight = any(
        text_width(text, largest) + 1.2 > span
        for text, span in zip(links.labels, spans, strict=True)
    )
    letters = small if tight else largest
    lifted = False
    written = []
    for index, (text, span) in enumerate(zip(links.labels, spans, strict=True)):
        middle = (along[index] + along[index + 1]) / 2
        if text_width(text, letters) + 0.8 <= span:
            written.append(_along(text, at(middle, line_at - _RAISE), letters, level))
            lifted = False
        elif span >= letters * 0.7 + 1.0:
            written.append(_across(text, at(middle, line_at - 1.2), letters, level))
        else:
            lifted = not lifted
            rise = 1.2 + (text_width(text, letters) + 1.2 if lifted else 0.0)
            written.append(_across(text, at(middle, line_at - rise), letters, level))
    return written


def _along(text: str, at: Point, size: float, level: bool) -> Text:
    return _figure(text, at, size, "middle", 0.0 if level else -90.0)


def _across(text: str, at: Point, size: float, level: bool) -> Text:
    half_cap = 0.35 * size
    if level:  # reads from the right, starts over the line
        return _figure(text, (at[0] + half_cap, at[1]), size, "start", -90.0)
    return _figure(text, (at[0], at[1] + half_cap), size, "end", 0.0)


def _figure(text: str, at: Point, size: float, anchor: Anchor, angle_deg: float) -> Text:
    return Text(text, at, size, "regular", "ink", anchor, angle_deg)
