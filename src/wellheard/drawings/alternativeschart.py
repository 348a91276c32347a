"""Designs of one room side by side: price across, chance up, what is done to the building as ink.

::

    100 % │            ◐ Surest
          │  ○ Cheapest          ×      others that were tried
     80 % ┼╥──╥──╥──╥──╥──╥──╥──╥──     what is promised
          └──────┴──────┴──────┴──
              2 000    3 000  EUR

The more ink a mark has, the more is done to the building; the word stands beside it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

from wellheard.drawings.backends import svg
from wellheard.drawings.boxes import Box, Placer
from wellheard.drawings.canvas import Canvas, Point
from wellheard.drawings.lettering import text_width
from wellheard.drawings.tokens import ThemeName, size_mm
from wellheard.units import money

NOTE, FIGURE = size_mm("note"), 2.35
HEIGHT = 66.0
LEFT, RIGHT, TOP, BOTTOM = 15.0, 6.0, 5.0, 11.0
"""Round the field. [mm]"""
RADIUS, ARM = 1.25, 0.8
"""Of marks and of crosses. [mm]"""
STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)
"""Of a scale, times powers of ten."""

Ink: TypeAlias = Literal["none", "some", "much"]
"""Of a mark: nothing is cut or laid; finishes are laid; openings are cut."""


@dataclass(frozen=True, slots=True)
class Mark:
    """One design.

    Parameters
    ----------
    name, word
        Beside its mark: what it is called, and what is done to the building.
    price, chance
        Where it stands; a chance is 0 to 1.
    ink
        How full it is.
    strong
        Whether its name is set in heavier letters.
    """

    name: str
    word: str
    price: float
    chance: float
    ink: Ink = "none"
    strong: bool = False


def alternatives_chart(
    marks: Sequence[Mark],
    others: Sequence[Point] = (),
    *,
    promise: float | None,
    currency: str,
    width: float,
    title: str,
    theme: ThemeName = "white",
    embed_fonts: bool = True,
) -> str:
    """Return the chart as SVG.

    Parameters
    ----------
    marks : sequence of Mark
        Those to choose from; one at least.
    others : sequence of (float, float)
        Price and chance of others that were tried.
    promise : float or None
        Wanted chance, drawn as a line; None for none.
    currency : str
        Of the prices.
    width : float
        Of the drawing. [mm]
    title : str
        Accessible name.
    theme : {"white", "slate"}
        Colours.
    embed_fonts : bool
        False where the document that holds the drawing brings the fonts.

    Examples
    --------
    >>> mark = Mark("Cheapest", "nothing cut", 2113.0, 0.9)
    >>> alternatives_chart([mark], promise=0.8, currency="EUR", width=168.0, title="Choice",
    ...     embed_fonts=False)[:4]
    '<svg'
    """
    canvas = draw(marks, others, promise=promise, currency=currency, width=width)
    return svg.render(canvas, width, HEIGHT, title=title, theme=theme, embed_fonts=embed_fonts)


def draw(
    marks: Sequence[Mark],
    others: Sequence[Point],
    *,
    promise: float | None,
    currency: str,
    width: float,
) -> Canvas:
    """Return the chart as a recording."""
    prices = [m.price for m in marks] + [price for price, _ in others]
    chances = [m.chance for m in marks] + [chance for _, chance in others]
    field = _Field(
        canvas=Canvas(),
        width=width,
        across=ticks(min(prices), max(prices), most=6),
        up=_chance_ticks(min([*chances, *([] if promise is None else [promise])])),
    )
    field.grid(currency)
    placer = Placer(Box.spanning(LEFT + 0.4, 0.4, width - 0.4, HEIGHT - BOTTOM - 0.4))
    if promise is not None:
        field.promise(promise, placer)
    for price, chance in others:
        spot = field.at(price, chance)
        field.cross(spot)
        placer.take(_round(spot, ARM))
    spots = [field.at(mark.price, mark.chance) for mark in marks]
    placer.take(*(_round(spot, RADIUS) for spot in spots))
    for mark, spot in zip(marks, spots, strict=True):
        field.mark(mark, spot)
        field.label(mark, spot, placer)
    return field.canvas


def ticks(low: float, high: float, *, most: int) -> tuple[float, ...]:
    """Round figures that hold a range, some way beyond either end.

    Examples
    --------
    >>> ticks(2113.0, 6664.0, most=6)
    (2000.0, 3000.0, 4000.0, 5000.0, 6000.0, 7000.0)
    >>> ticks(1500.0, 1500.0, most=6)
    (1400.0, 1450.0, 1500.0, 1550.0, 1600.0)
    """
    span = max(high - low, 0.1 * abs(high), 1.0)
    power = 10.0 ** math.floor(math.log10(span / (most - 1)))
    step = next(s * power for s in STEPS if span / (s * power) <= most - 1)
    beyond = (span - (high - low)) / 2
    first = math.floor((low - beyond) / step - 0.1)
    last = math.ceil((high + beyond) / step + 0.1)
    return tuple(step * i for i in range(max(first, 0), last + 1))


def _chance_ticks(low: float) -> tuple[float, ...]:
    """From a round figure under the least of all up to certainty."""
    step = next(s for s in (0.02, 0.05, 0.1, 0.2) if (1 - low) / s <= 6)
    count = max(math.ceil((1 - low) / step + 0.3), 2)
    return tuple(
        max(round(1 - step * i, 6), 0.0) for i in range(min(count, round(1 / step)), -1, -1)
    )


def _round(at: Point, radius: float) -> Box:
    return Box.spanning(at[0] - radius, at[1] - radius, at[0] + radius, at[1] + radius)


FAR = 6.5
"""From here on a line leads from a mark to its words. [mm]"""


@dataclass(frozen=True, slots=True)
class _Field:
    canvas: Canvas
    width: float
    across: tuple[float, ...]
    up: tuple[float, ...]

    def at(self, price: float, chance: float) -> Point:
        """Where a price and a chance are."""
        right, foot = self.width - RIGHT, HEIGHT - BOTTOM
        low, high = self.across[0], self.across[-1]
        least, most = self.up[0], self.up[-1]
        return (
            LEFT + (right - LEFT) * (price - low) / (high - low),
            foot - (foot - TOP) * (chance - least) / (most - least),
        )

    def grid(self, currency: str) -> None:
        """Faint lines, figures, and what they are of."""
        right, foot = self.width - RIGHT, HEIGHT - BOTTOM
        for chance in self.up:
            y = self.at(0.0, chance)[1]
            self.canvas.line(((LEFT, y), (right, y)), pen="hair", colour="faint")
            said = f"{100 * chance:.0f}\u00a0%"
            self.canvas.text(said, (LEFT - 1.6, y + 0.8), size=FIGURE, colour="ink-2", anchor="end")
        self.canvas.line(((LEFT, foot), (right, foot)), pen="thin")
        for price in self.across:
            x = self.at(price, 1.0)[0]
            self.canvas.line(((x, foot), (x, foot + 1.2)), pen="thin")
            said = money(price, cents=False)
            self.canvas.text(said, (x, foot + 4.2), size=FIGURE, colour="ink-2", anchor="middle")
        self.canvas.text(
            f"installed price, {currency}",
            (right, HEIGHT - 1.8),
            size=NOTE,
            colour="ink-2",
            anchor="end",
        )
        self.canvas.text(
            "least chance that the promise is kept", (0.2, 2.4), size=NOTE, colour="ink-2"
        )

    def promise(self, chance: float, placer: Placer) -> None:
        """The wanted chance, hachured towards the side that misses."""
        left, right = LEFT, self.width - RIGHT
        y = self.at(0.0, chance)[1]
        marks = [((left + 3.0 * i, y), (left + 3.0 * i, y + 1.1)) for i in range(1, 60)]
        self.canvas.line(((left, y), (right, y)), pen="fine", colour="accent")
        self.canvas.line(*(m for m in marks if m[0][0] < right), pen="hair", colour="accent")
        text = self.canvas.text(
            "wanted", (right, y - 0.9), size=NOTE, face="medium", colour="accent", anchor="end"
        )
        placer.take(text.box, Box.spanning(left, y - 0.3, right, y + 1.1))

    def cross(self, at: Point) -> None:
        """One that was tried and is not to choose from."""
        x, y = at
        arm = ARM
        self.canvas.line(
            ((x - arm, y - arm), (x + arm, y + arm)),
            ((x - arm, y + arm), (x + arm, y - arm)),
            pen="thin",
            colour="ink-3",
        )

    def mark(self, mark: Mark, at: Point) -> None:
        """Open, half filled or filled."""
        x, y = at
        self.canvas.circle(at, RADIUS, fill="ink" if mark.ink == "much" else "paper", pen="fine")
        if mark.ink == "some":
            turn = [math.pi * i / 16 for i in range(17)]
            half = [(x + RADIUS * math.cos(a), y + RADIUS * math.sin(a)) for a in turn]
            self.canvas.area(half, fill="ink")

    def label(self, mark: Mark, at: Point, placer: Placer) -> None:
        """Name and word where nothing else is: right or left of the mark, else above or below.

        A thin line leads to words that stand off their mark.
        """
        x, y = at
        wide = max(
            text_width(mark.name, NOTE, face="semibold" if mark.strong else "medium"),
            text_width(mark.word, FIGURE),
        )
        ways = [
            (side, x + side * (RADIUS + 1.0 + shift), y + lift)
            for shift in (0.0, wide + 4.0)
            for lift in sorted((3.0 * k for k in range(-22, 23)), key=lambda at: (abs(at), at))
            for side in (1, -1)
        ]
        boxes = [
            Box.spanning(min(px, px + side * wide), py - 2.9, max(px, px + side * wide), py + 3.2)
            for side, px, py in ways
        ]
        side, px, py = ways[placer.first_free([[box] for box in boxes]) or 0]
        box = boxes[ways.index((side, px, py))]
        x0, y0, x1, y1 = box.bounds
        self.canvas.rectangle(x0, y0, x1 - x0, y1 - y0, fill="paper")
        if abs(py - y) > FAR:
            lead = math.copysign(RADIUS, py - y)
            self.canvas.line(((x, y + lead), (x, py), (px - side * 0.4, py)), pen="hair")
        anchor: Literal["start", "end"] = "start" if side > 0 else "end"
        name = self.canvas.text(
            mark.name,
            (px, py - 0.2),
            size=NOTE,
            face="semibold" if mark.strong else "medium",
            anchor=anchor,
        )
        word = self.canvas.text(
            mark.word, (px, py + 2.7), size=FIGURE, colour="ink-2", anchor=anchor
        )
        placer.take(name.box, word.box)
