"""Labels of cables in a grid, to print, cut out and wrap round: both ends of a cable side by side.

::

    ┌─────────────┬─────────────┐
    │ c01         │ c01         │
    │ m1.link     │ mixer.mic-1 │
    │ → mixer.mic…│ → m1.link   │
    └─────────────┴─────────────┘
"""

from __future__ import annotations

from collections.abc import Sequence

from wellheard.drawings.backends import svg
from wellheard.drawings.canvas import Canvas
from wellheard.drawings.lettering import shorten, text_width
from wellheard.drawings.tokens import ThemeName, size_mm

WIDTH, LABEL, TALL = 168.0, 42.0, 15.0
"""Of the drawing, and of one label. [mm]"""
EDGE = 0.3
ACROSS = 4
ROWS = 14
"""Rows of labels on one drawing, so that it goes on a page."""
INSET = 2.2
LEAST = 1.9
"""Smallest letters that a label is written in, before it is cut. [mm]"""
ARROW = 2.4
"""Length of the arrow to the other end. [mm]"""
NOTE, BODY = size_mm("note"), size_mm("body")


def label_drawings(
    labels: Sequence[tuple[str, str]], *, theme: ThemeName = "white", embed_fonts: bool = True
) -> tuple[str, ...]:
    """Return sheets of labels as SVG, as many as it takes.

    Parameters
    ----------
    labels : sequence of (str, str)
        Of both ends of each cable: ``c01 m1.link → mixer.mic-1``.
    theme : {"white", "slate"}
        Colours.
    embed_fonts : bool
        False where the document that holds the drawings brings the fonts.
    """
    each = ACROSS // 2 * ROWS
    parts = [labels[start : start + each] for start in range(0, len(labels), each)]
    return tuple(
        _sheet(part, number, len(parts), theme=theme, embed_fonts=embed_fonts)
        for number, part in enumerate(parts, start=1)
    )


def _sheet(
    labels: Sequence[tuple[str, str]],
    number: int,
    count: int,
    *,
    theme: ThemeName,
    embed_fonts: bool,
) -> str:
    canvas, height = draw(labels)
    title = "Cable labels" if count == 1 else f"Cable labels, {number} of {count}"
    return svg.render(canvas, WIDTH, height, title=title, theme=theme, embed_fonts=embed_fonts)


def draw(labels: Sequence[tuple[str, str]]) -> tuple[Canvas, float]:
    """Return one sheet as a recording, with its height. [mm]"""
    canvas = Canvas()
    for index, pair in enumerate(labels):
        row, column = divmod(index, ACROSS // 2)
        for side, text in enumerate(pair):
            x = EDGE + (2 * column + side) * (LABEL - EDGE / 2)
            _label(canvas, text, x, EDGE + row * TALL)
    rows = -(-len(labels) // (ACROSS // 2))
    return canvas, rows * TALL + 2 * EDGE


def _label(canvas: Canvas, text: str, x: float, y: float) -> None:
    wide = LABEL - EDGE / 2
    canvas.rectangle(x, y, wide, TALL, pen="hair", colour="rule")
    number, _, rest = text.partition(" ")
    here, _, there = rest.partition(" → ")
    room = wide - 2 * INSET
    canvas.text(number, (x + INSET, y + 4.6), size=BODY, face="semibold")
    _line(canvas, here, x + INSET, y + 8.9, room)
    _arrow(canvas, x + INSET, y + 12.7 - 0.35 * NOTE)
    _line(canvas, there, x + INSET + ARROW + 1.2, y + 12.7, room - ARROW - 1.2)


def _line(canvas: Canvas, said: str, x: float, base: float, room: float) -> None:
    """One line, in smaller letters or cut where it is too long."""
    size = NOTE
    while size > LEAST and text_width(said, size) > room:
        size -= 0.1
    canvas.text(shorten(said, room, size), (x, base), size=size)


def _arrow(canvas: Canvas, x: float, y: float) -> None:
    """An arrow to the other end: drawn, since the letters have none."""
    tip = (x + ARROW, y)
    canvas.line(((x, y), tip), pen="thin")
    canvas.line(((tip[0] - 0.8, y - 0.6), tip, (tip[0] - 0.8, y + 0.6)), pen="thin")
