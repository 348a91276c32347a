"""What charts of measured results share: scales, bars, marks, and a key in words.

Lengths are millimetres, y downwards. What was predicted is a bar or a line, what was measured an
open circle: shapes tell them apart, not colours. Only the promise is accent.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

from wellheard.drawings.backends import svg
from wellheard.drawings.boxes import Box
from wellheard.drawings.canvas import Canvas, Point
from wellheard.drawings.lettering import text_width
from wellheard.drawings.tokens import ThemeName, size_mm

NOTE, FIGURE = size_mm("note"), 2.35
DOT = 0.85
"""Radius of the circle of what was measured. [mm]"""
BAR = 2.0
"""Width of the bar of what was predicted. [mm]"""
SAMPLE = 9.0
"""Length of a sample in a key. [mm]"""
KEY_LINE = 4.2

Sample: TypeAlias = Callable[[Canvas, float, float], None]
Better: TypeAlias = Literal["more", "less"]
"""Which side of a promise keeps it."""


@dataclass(frozen=True, slots=True)
class Figure:
    """A finished chart: the stem of its file, what it shows, and what was recorded."""

    stem: str
    title: str
    canvas: Canvas
    width: float
    height: float

    def svg(self, *, theme: ThemeName = "white", embed_fonts: bool = True) -> str:
        """Return it as the text of an SVG file; without fonts where its page brings them."""
        return svg.render(
            self.canvas,
            self.width,
            self.height,
            title=self.title,
            theme=theme,
            embed_fonts=embed_fonts,
        )


@dataclass(frozen=True, slots=True)
class Axis:
    """A straight scale: two values, and where they are on paper. [mm]"""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Where a value is; beyond the ends at the end.

        Examples
        --------
        >>> Axis(0.0, 2.0, 50.0, 10.0).at(0.5), Axis(0.0, 2.0, 50.0, 10.0).at(9.0)
        (40.0, 10.0)
        """
        part = (value - self.low) / (self.high - self.low)
        return self.start + (self.end - self.start) * min(max(part, 0.0), 1.0)


def round_steps(low: float, high: float, *, most: int = 6) -> tuple[float, ...]:
    """Round figures that hold a range.

    Examples
    --------
    >>> round_steps(0.0, 0.71)
    (0.0, 0.2, 0.4, 0.6, 0.8)
    >>> round_steps(-3.0, 44.0)
    (-10.0, 0.0, 10.0, 20.0, 30.0, 40.0, 50.0)
    """
    span = high - low if high > low else abs(high) or 1.0
    power = 10.0 ** math.floor(math.log10(span / most))
    step = next(s * power for s in (1.0, 2.0, 2.5, 5.0, 10.0) if span / (s * power) <= most)
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    last = max(last, first + 1)
    return tuple(round(step * k, 9) for k in range(first, last + 1))


def upward(
    canvas: Canvas,
    axis: Axis,
    steps: Sequence[float],
    *,
    left: float,
    right: float,
    decimals: int,
    labelled: bool = True,
) -> None:
    """Draw faint lines at the steps of an upright scale, with figures left of them."""
    for value in steps:
        y = axis.at(value)
        canvas.line(((left, y), (right, y)), pen="hair", colour="faint")
        if labelled:
            said = signed(value, decimals)
            canvas.text(said, (left - 1.6, y + 0.8), size=FIGURE, colour="ink-2", anchor="end")


def across(
    canvas: Canvas, marks: Sequence[tuple[float, str]], *, foot: float, colour: str = "ink-2"
) -> None:
    """Draw short strokes under a chart at places, each with its label."""
    for x, label in marks:
        canvas.line(((x, foot), (x, foot + 1.1)), pen="thin")
        canvas.text(label, (x, foot + 4.0), size=FIGURE, colour=colour, anchor="middle")


def signed(value: float, decimals: int) -> str:
    """A figure with fixed decimals and a true minus.

    Examples
    --------
    >>> signed(-20.0, 0), signed(0.45, 2), signed(-0.01, 1)
    ('−20', '0.45', '0.0')
    """
    text = f"{abs(value):.{decimals}f}"
    return f"−{text}" if value < 0 and float(text) != 0 else text


def range_bar(
    canvas: Canvas,
    x: float,
    axis: Axis,
    reach: tuple[float, float, float],
    *,
    limit: float | None = None,
    better: Better = "less",
) -> None:
    """Draw an upright bar from a low to a high value, a stroke across it at the middle one.

    It is hollow on the side of ``limit`` that misses the promise.
    """
    low, middle, high = (axis.at(value) for value in reach)
    split = None if limit is None else min(max(axis.at(limit), high), low)
    hollow: tuple[float, float] | None = None
    solid: tuple[float, float] | None = (high, low)
    if split is not None:
        solid, hollow = (
            ((split, low), (high, split))
            if better == "less"
            else (
                (high, split),
                (split, low),
            )
        )
    if solid is not None and solid[1] > solid[0]:
        canvas.rectangle(x - BAR / 2, solid[0], BAR, solid[1] - solid[0], fill="ink")
    if hollow is not None and hollow[1] > hollow[0]:
        canvas.rectangle(
            x - BAR / 2, hollow[0], BAR, hollow[1] - hollow[0], fill="paper", pen="fine"
        )
    canvas.rectangle(x - 1.7, middle - 0.65, 3.4, 1.3, fill="paper")
    canvas.line(((x - 1.9, middle), (x + 1.9, middle)), pen="bold")


def measured_mark(
    canvas: Canvas, x: float, axis: Axis, value: float, sigma: float | None = None
) -> None:
    """Draw an open circle at a value, with a whisker of one standard deviation either way."""
    y = axis.at(value)
    if sigma:
        low, high = axis.at(value - sigma), axis.at(value + sigma)
        canvas.line(
            ((x, low), (x, high)),
            ((x - 0.8, low), (x + 0.8, low)),
            ((x - 0.8, high), (x + 0.8, high)),
            pen="thin",
        )
    canvas.circle((x, y), DOT, fill="paper", pen="mid")


def promise_line(
    canvas: Canvas,
    y: float,
    ends: tuple[float, float],
    *,
    fails: Literal["above", "below"],
    pitch: float = 3.0,
) -> None:
    """Draw a promised value in accent, hachured towards the side that misses it."""
    left, right = ends
    reach = -1.1 if fails == "above" else 1.1
    count = int((right - left) / pitch)
    canvas.line(((left, y), (right, y)), pen="mid", colour="accent")
    canvas.line(
        *(((left + pitch * k, y), (left + pitch * k, y + reach)) for k in range(1, count + 1)),
        pen="hair",
        colour="accent",
    )


def hachures(canvas: Canvas, run: Sequence[Point], *, reach: float, pitch: float = 5.0) -> None:
    """Draw short strokes along a bent line of a promise, up or down to the side that misses."""
    strokes = []
    for (x0, y0), (x1, y1) in itertools.pairwise(run):
        first, last = math.ceil(x0 / pitch), math.floor(x1 / pitch)
        for k in range(first, last + 1):
            y = y0 + (y1 - y0) * (pitch * k - x0) / (x1 - x0)
            strokes.append(((pitch * k, y), (pitch * k, y + reach)))
    canvas.line(*strokes, pen="hair", colour="accent")


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of a key: what draws the sample, from its left end on, and the words for it.

    Without a sample the words stand in its place.
    """

    sample: Sample | None
    words: str
    wide: float = SAMPLE
    """Of the sample. [mm]"""


def key(
    canvas: Canvas, entries: Sequence[Entry], *, left: float, top: float, right: float
) -> float:
    """Draw a key in as many lines as it takes; return its height. [mm]"""
    x, y = left, top
    for entry in entries:
        lead = 0.0 if entry.sample is None else entry.wide + 1.6
        wide = lead + text_width(entry.words, FIGURE)
        if x > left and x + wide > right:
            x, y = left, y + KEY_LINE
        if entry.sample is not None:
            entry.sample(canvas, x, y)
        canvas.text(entry.words, (x + lead, y + 0.8), size=FIGURE, colour="ink-2")
        x += wide + 6.0
    return y + KEY_LINE - top


def bar_sample(canvas: Canvas, x: float, y: float) -> None:
    """A bar as it lies in a key, hollow at its end."""
    canvas.rectangle(x, y - 1.0, SAMPLE - 2.0, 2.0, fill="ink")
    canvas.rectangle(x + SAMPLE - 2.0, y - 1.0, 2.0, 2.0, fill="paper", pen="fine")
    canvas.rectangle(x + 2.4, y - 1.0, 1.3, 2.0, fill="paper")
    canvas.line(((x + 3.05, y - 1.5), (x + 3.05, y + 1.5)), pen="bold")


def mark_sample(canvas: Canvas, x: float, y: float) -> None:
    """A circle with its whisker, lying."""
    middle = x + SAMPLE / 2
    canvas.line(
        ((middle - 2.6, y), (middle + 2.6, y)),
        ((middle - 2.6, y - 0.8), (middle - 2.6, y + 0.8)),
        ((middle + 2.6, y - 0.8), (middle + 2.6, y + 0.8)),
        pen="thin",
    )
    canvas.circle((middle, y), DOT, fill="paper", pen="mid")


def dot_sample(canvas: Canvas, x: float, y: float) -> None:
    """A circle alone."""
    canvas.circle((x + SAMPLE / 2, y), DOT, fill="paper", pen="mid")


def promise_sample(canvas: Canvas, x: float, y: float) -> None:
    """The line of a promise."""
    promise_line(canvas, y, (x, x + SAMPLE), fails="above", pitch=2.2)


@dataclass(frozen=True, slots=True)
class Grid:
    """Small charts in rows, all alike: where each has its field. [mm]"""

    width: float
    columns: int = 4
    field: tuple[float, float] = (32.0, 28.0)
    left: float = 9.0
    head: float = 5.6
    foot: float = 7.4

    @property
    def pitch(self) -> tuple[float, float]:
        """From one to the next, across and down."""
        return self.width / self.columns, self.head + self.field[1] + self.foot

    def cell(self, index: int) -> Box:
        """Field of one, from the first at the upper left."""
        row, column = divmod(index, self.columns)
        x, y = self.pitch[0] * column + self.left, self.pitch[1] * row + self.head
        return Box.spanning(x, y, x + self.field[0], y + self.field[1])

    def height(self, count: int) -> float:
        """Of so many."""
        return self.pitch[1] * math.ceil(count / self.columns)


def corner(box: Box) -> Point:
    """Upper left corner of a box."""
    return box.bounds[0], box.bounds[1]
