"""Pieces of a label: words and small marks with the boxes they take."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from wellheard.drawings.boxes import Box, Placer
from wellheard.drawings.canvas import Anchor, Canvas, Point, Text
from wellheard.drawings.lettering import text_width
from wellheard.drawings.symbols import UNITS
from wellheard.drawings.tokens import Face


@dataclass(frozen=True, slots=True)
class Sign:
    """A piece of a label: text or a small symbol, with the box it takes."""

    box: Box
    text: Text | None = None
    symbol: tuple[str, Point, float] | None = None
    levelled: bool = False
    """Whether the level mark of a height stands in front of the text."""

    def draw(self, canvas: Canvas) -> None:
        """Put it on the canvas."""
        if self.text is not None:
            canvas.commands.append(self.text)
        if self.symbol is not None:
            name, at, size = self.symbol
            canvas.symbol(name, at, size=size)
        if self.levelled and self.text is not None:
            letters = self.text.size
            x, y = self.box.bounds[0] + 0.05, self.text.at[1] - 0.65 * letters
            side = 0.84 * letters
            mark = ((x, y), (x + side, y), (x + side / 2, y + 0.66 * letters))
            canvas.line(mark, pen="thin", closed=True)


@dataclass(frozen=True, slots=True)
class Labelled:
    """What was placed: signs to draw last, and how many figures found no room."""

    signs: tuple[Sign, ...]
    left_out: int

    @property
    def boxes(self) -> tuple[Box, ...]:
        """Return the boxes that lines leave blank."""
        return tuple(sign.box for sign in self.signs)


def word(
    text: str,
    at: Point,
    size: float,
    *,
    face: Face = "regular",
    colour: str = "ink",
    anchor: Anchor = "start",
    angle_deg: float = 0.0,
) -> Sign:
    """Return one line of text as a sign."""
    record = Text(text, at, size, face, colour, anchor, angle_deg)
    return Sign(record.box, record)


def mark(name: str, at: Point, size: float) -> Sign:
    """Return a small symbol, such as a state mark, as a sign."""
    side = size * 17.0 / UNITS
    return Sign(Box(at, side, side), symbol=(name, at, size))


def height(text: str, at: Point, size: float, anchor: Anchor) -> Sign:
    """Return a height with its level mark in front."""
    lead = size * 1.15
    width = text_width(text, size) + lead
    left = at[0] - {"start": 0.0, "middle": width / 2, "end": width}[anchor]
    record = Text(text, (left + lead, at[1]), size, "regular", "ink", "start", 0.0)
    box = Box.spanning(left, record.box.bounds[1], left + width, record.box.bounds[3])
    return Sign(box, record, levelled=True)


def first_free(options: Iterable[list[Sign]], hard: Placer, soft: Placer) -> list[Sign] | None:
    """Return the first option that covers nothing written, and no drawn edge if that can be."""
    over_edges: list[Sign] | None = None
    for signs in options:
        boxes = [sign.box.grown(0.4) for sign in signs]
        if all(map(hard.is_free, boxes)):
            if all(map(soft.is_free, boxes)):
                return signs
            over_edges = over_edges or signs
    return over_edges
