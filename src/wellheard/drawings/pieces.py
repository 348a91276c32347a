"""Small drawings for the dossier: mark, state marks, range bars, a chart over octaves.

Each comes as an SVG text without embedded fonts: the document that holds it brings them.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from wellheard.drawings.backends import svg
from wellheard.drawings.canvas import Canvas, Point
from wellheard.drawings.lettering import text_width
from wellheard.drawings.tokens import ThemeName, size_mm
from wellheard.drawings.view import State


def draw_mark(canvas: Canvas, at: Point, *, size: float) -> float:
    """Draw the mark of Wellheard with its base line at ``at``; return its width. [mm]"""
    x, y = at
    canvas.text("Wellheard", at, size=size, face="semibold")
    width = text_width("Wellheard", size, face="semibold")
    part, height = width / 6, 0.178 * size
    for k in range(6):
        if k % 2 == 0:
            canvas.rectangle(x + k * part, y + 0.25 * size, part, height, fill="ink")
        else:
            canvas.rectangle(x + k * part, y + 0.25 * size, part, height, pen="hair")
    return width


def wellheard_mark(*, size: float = 3.57, theme: ThemeName = "white") -> str:
    """Return the mark as SVG; ``size`` is that of the letters. [mm]"""
    canvas = Canvas()
    width = draw_mark(canvas, (0.2, 0.85 * size), size=size)
    return svg.render(
        canvas,
        width + 0.4,
        1.4 * size,
        title="Wellheard",
        theme=theme,
        embed_fonts=False,
        background=False,
    )


def state_mark(state: State, *, size: float = 3.4, theme: ThemeName = "white") -> str:
    """Return the mark of a state as SVG: the worse, the more ink. Its word stands beside it.

    Examples
    --------
    >>> "<rect" in state_mark("kept")
    True
    """
    canvas = Canvas()
    side = 0.8 * size
    canvas.symbol(f"state-{state.replace(' ', '-')}", (side / 2, side / 2), size=size)
    return svg.render(
        canvas, side, side, title=state, theme=theme, embed_fonts=False, background=False
    )


def draw_range_bar(
    canvas: Canvas,
    *,
    at: Point,
    width: float,
    low: float,
    middle: float,
    high: float,
    scale: tuple[float, float],
    promise: float | None = None,
    higher_is_better: bool = True,
) -> None:
    """Draw a 10–90 % bar on a common scale; hollow where it misses the promise.

    Parameters
    ----------
    canvas : Canvas
        Drawn on.
    at : (float, float)
        Left end of the scale line. [mm]
    width : float
        Length of the scale line. [mm]
    low, middle, high : float
        10 % value, middle value and 90 % value.
    scale : (float, float)
        Values at the two ends of the line; what lies beyond is cut there.
    promise : float, optional
        Accent stroke.
    higher_is_better : bool
        Which side of the promise is hollow.

    Raises
    ------
    ValueError
        The scale has no length, or the three values are not in order.
    """
    if scale[1] <= scale[0]:
        raise ValueError(f"a scale runs upwards; {scale[0]} to {scale[1]} does not")
    if not low <= middle <= high:
        raise ValueError(f"10 %, middle and 90 % value must ascend; got {low}, {middle}, {high}")
    x, y = at

    def place(value: float) -> float:
        share = (value - scale[0]) / (scale[1] - scale[0])
        return x + width * min(max(share, 0.0), 1.0)

    canvas.line(((x, y), (x + width, y)), pen="fine", colour="faint")
    a, b = place(low), place(high)
    split = b if promise is None else min(max(place(promise), a), b)
    if promise is None:
        kept, missed = (a, b), (b, b)
    elif higher_is_better:
        kept, missed = (split, b), (a, split)
    else:
        kept, missed = (a, split), (split, b)
    if missed[1] - missed[0] > 0.05:
        canvas.rectangle(missed[0], y - 1.0, missed[1] - missed[0], 2.0, fill="paper", pen="fine")
    if kept[1] - kept[0] > 0.05:
        canvas.rectangle(kept[0], y - 1.0, kept[1] - kept[0], 2.0, fill="ink")
    m = place(middle)
    canvas.rectangle(m - 0.65, y - 1.7, 1.3, 3.4, fill="paper")
    canvas.line(((m, y - 1.9), (m, y + 1.9)), pen="bold")
    if promise is not None and scale[0] <= promise <= scale[1]:
        p = place(promise)
        canvas.line(((p, y - 2.6), (p, y + 2.6)), pen="mid", colour="accent")


def range_bar(
    *,
    low: float,
    middle: float,
    high: float,
    scale: tuple[float, float],
    promise: float | None = None,
    higher_is_better: bool = True,
    width: float = 30.0,
    theme: ThemeName = "white",
) -> str:
    """Return a range bar as SVG, 5.6 mm high; see `draw_range_bar`.

    Examples
    --------
    >>> bar = range_bar(low=0.59, middle=0.63, high=0.66, scale=(0.55, 0.75), promise=0.62)
    >>> bar.count("#9c1a5c")
    1
    """
    canvas = Canvas()
    draw_range_bar(
        canvas,
        at=(0.4, 2.8),
        width=width - 0.8,
        low=low,
        middle=middle,
        high=high,
        scale=scale,
        promise=promise,
        higher_is_better=higher_is_better,
    )
    return svg.render(
        canvas,
        width,
        5.6,
        title="10–90 % range",
        theme=theme,
        embed_fonts=False,
        background=False,
    )


def octave_chart(
    bands: Sequence[float],
    middle: Sequence[float],
    *,
    low: Sequence[float] | None = None,
    high: Sequence[float] | None = None,
    wanted: float | None = None,
    quantity: str = "Reverberation time",
    unit: str = "s",
    width: float = 90.0,
    height: float = 46.0,
    decimals: int = 1,
    theme: ThemeName = "white",
) -> str:
    """Return a line over octave bands with its range as a band, as SVG.

    Parameters
    ----------
    bands : sequence of float
        Nominal frequencies. [Hz]
    middle : sequence of float
        One value per band.
    low, high : sequence of float, optional
        Range per band, drawn as a grey band.
    wanted : float, optional
        Promise: the only accent line.
    quantity, unit : str
        For the heading; the unit stands there once.
    width, height : float
        Of the drawing. [mm]
    decimals : int
        Of the axis figures.
    theme : {"white", "slate"}
        Colours.

    Examples
    --------
    >>> chart = octave_chart([500, 1000], [0.6, 0.5], low=[0.5, 0.4], high=[0.7, 0.6])
    >>> "1k" in chart
    True
    """
    note, body = size_mm("note"), 2.8
    left, right, top, bottom = 9.0, 3.0, 8.5, 7.0
    values = [*middle, *(low or ()), *(high or ()), *([wanted] if wanted is not None else [])]
    step, ceiling = _axis(max(values))
    canvas = Canvas()
    plot_w, plot_h = width - left - right, height - top - bottom

    def at(k: int, value: float) -> Point:
        share = k / (len(bands) - 1) if len(bands) > 1 else 0.5
        return left + 3.0 + share * (plot_w - 6.0), top + plot_h * (1 - value / ceiling)

    canvas.text(f"{quantity}, {unit}" if unit else quantity, (0.2, 3.2), size=body)
    level = 0.0
    while level <= ceiling + 1e-9:
        _, y = at(0, level)
        bottom_line = level == 0.0
        canvas.line(
            ((left, y), (width - right, y)),
            pen="fine" if bottom_line else "hair",
            colour="ink" if bottom_line else "faint",
        )
        text = f"{level:.{decimals}f}" if level else "0"
        canvas.text(text, (left - 1.6, y + 0.35 * note), size=note, colour="ink-2", anchor="end")
        level += step
    if low is not None and high is not None:
        upper = [at(k, value) for k, value in enumerate(high)]
        lower = [at(k, value) for k, value in enumerate(low)]
        canvas.area([*upper, *reversed(lower)], fill="faint")
    if wanted is not None:
        _, y = at(0, wanted)
        canvas.line(((left, y), (width - right, y)), pen="mid", colour="accent")
        text = f"promise {wanted:.{decimals}f}"
        canvas.text(
            text,
            (width - right, y - 0.9),
            size=note,
            face="semibold",
            colour="accent",
            anchor="end",
        )
    line = [at(k, value) for k, value in enumerate(middle)]
    canvas.line(line, pen="bold")
    for point in line:
        canvas.circle(point, 0.8, fill="paper", pen="mid")
    for k, band in enumerate(bands):
        x, _ = at(k, 0.0)
        text = f"{band / 1000:g}k" if band >= 1000 else f"{band:g}"
        canvas.text(text, (x, height - bottom + 3.2), size=note, colour="ink-2", anchor="middle")
    canvas.text("Hz", (width - 0.2, height - bottom + 6.4), size=note, colour="ink-2", anchor="end")
    return svg.render(
        canvas, width, height, title=quantity, theme=theme, embed_fonts=False, background=False
    )


def _axis(largest: float) -> tuple[float, float]:
    """Return a round step and the top of an axis from 0 that holds ``largest``."""
    for step in (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0):
        if largest <= 5 * step:
            count = max(int(-(-largest // step)), 2)
            return step, step * count
    return largest / 4, largest


Align = Literal["start", "end"]
