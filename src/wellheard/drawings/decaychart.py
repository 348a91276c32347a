"""Decay by octave: what was predicted as bars, what was measured as circles beside them.

::

    s │  ▮○    ▮○    ▯○   ─── promised ───
      │              ▮○
      └──125───250───500───1k───2k──
        measured  0.62 ± 0.03 …
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from wellheard.bands import OCTAVES, octave_label, spoken_octave
from wellheard.drawings.boxes import Box
from wellheard.drawings.canvas import Canvas
from wellheard.drawings.chartfield import (
    FIGURE,
    NOTE,
    SAMPLE,
    Axis,
    Entry,
    Figure,
    Grid,
    Sample,
    across,
    bar_sample,
    key,
    mark_sample,
    measured_mark,
    promise_line,
    promise_sample,
    range_bar,
    round_steps,
    signed,
    upward,
)
from wellheard.drawings.lettering import wrap
from wellheard.drawings.tokens import Pen
from wellheard.measurement.results import Decay
from wellheard.proving.verdict import DecayCompared

LEFT, RIGHT, TOP, FOOT = 24.0, 4.0, 6.0, 56.0
"""Round the field; the last is where it ends. [mm]"""
APART = 2.4
"""A bar and its circle, either side of the middle of their octave. [mm]"""
PROMISED = (500.0, 1000.0)
"""Octaves whose mean is promised. [Hz]"""
LOWEST_DB = -60.0


def decay_chart(decays: Sequence[DecayCompared], *, promise: float | None, width: float) -> Figure:
    """Return decay times against octaves.

    Parameters
    ----------
    decays : sequence of DecayCompared
        In the order of the octaves; one at least.
    promise : float or None
        Longest mean of 500 Hz and 1 kHz. [s]
    width : float
        Of the drawing. [mm]

    Examples
    --------
    >>> one = DecayCompared(500.0, 0.52, 0.02, 6, 0.48, 0.4, 0.58)
    >>> decay_chart([one], promise=0.6, width=168.0).title
    'Decay by octave, measured and predicted'
    """
    canvas = Canvas()
    ends = [d.high for d in decays] + [promise or 0.0]
    ends += [d.measured + (d.measured_sigma or 0.0) for d in decays if d.measured is not None]
    steps = round_steps(0.0, 1.05 * max(value for value in ends if math.isfinite(value)))
    up = Axis(steps[0], steps[-1], FOOT, TOP)
    upward(canvas, up, steps, left=LEFT, right=width - RIGHT, decimals=1 if steps[1] >= 0.1 else 2)
    canvas.line(((LEFT, FOOT), (width - RIGHT, FOOT)), pen="thin")
    pitch = (width - RIGHT - LEFT) / len(decays)
    middles = [LEFT + pitch * (k + 0.5) for k in range(len(decays))]
    canvas.text("decay time, s", (0.2, 2.4), size=NOTE, colour="ink-2")
    across(
        canvas,
        [(x, octave_label(d.octave)) for x, d in zip(middles, decays, strict=True)],
        foot=FOOT,
    )
    canvas.text("octave, Hz", (0.2, FOOT + 4.0), size=FIGURE, colour="ink-2")
    promised = [x for x, d in zip(middles, decays, strict=True) if d.octave in PROMISED]
    for x, one in zip(middles, decays, strict=True):
        limit = promise if one.octave in PROMISED else None
        range_bar(canvas, x - APART, up, (one.low, one.predicted, one.high), limit=limit)
        if one.measured is not None:
            measured_mark(canvas, x + APART, up, one.measured, one.measured_sigma)
    if promise is not None and promised:
        reach = 0.42 * pitch
        promise_line(
            canvas, up.at(promise), (promised[0] - reach, promised[-1] + reach), fails="above"
        )
    _figures(canvas, decays, middles)
    entries = [
        Entry(bar_sample, "predicted as it was tested, 10–90 %, stroke at the middle value"),
        Entry(mark_sample, "measured, mean of the places, ± one standard deviation"),
    ]
    if promise is not None and promised:
        words = f"promised: at most {signed(promise, 2)} s in the mean of 500 Hz and 1 kHz; "
        entries.append(Entry(promise_sample, words + "a bar is hollow where it misses"))
    height = FOOT + 22.0 + key(canvas, entries, left=0.2, top=FOOT + 22.0, right=width)
    return Figure("decay", "Decay by octave, measured and predicted", canvas, width, height)


def _figures(canvas: Canvas, decays: Sequence[DecayCompared], middles: Sequence[float]) -> None:
    """The same as figures, under the octaves."""
    top = FOOT + 5.6
    canvas.line(((0.2, top), (middles[-1] + middles[0] - LEFT, top)), pen="hair", colour="faint")
    rows = (
        ("measured", [_measured(d) for d in decays], "ink", "medium"),
        ("predicted", [signed(d.predicted, 2) for d in decays], "ink-2", "regular"),
        ("places", [str(d.count) if d.count else "–" for d in decays], "ink-2", "regular"),
    )
    for row, (name, texts, colour, face) in enumerate(rows):
        y = top + 4.0 + 4.0 * row
        canvas.text(name, (0.2, y), size=FIGURE, colour="ink-2")
        for x, text in zip(middles, texts, strict=True):
            canvas.text(
                text,
                (x, y),
                size=FIGURE,
                colour=colour,
                face="medium" if face == "medium" else "regular",
                anchor="middle",
            )


def _measured(one: DecayCompared) -> str:
    if one.measured is None:
        return "–"
    said = signed(one.measured, 2)
    return said if one.measured_sigma is None else f"{said} ± {signed(one.measured_sigma, 2)}"


def decay_curves(places: Mapping[str, Sequence[Decay]], *, width: float) -> Figure | None:
    """Return how sound died away, octave by octave, at every place; None without any curve.

    The place with the least range over noise is drawn in ink, with its knee and its noise.

    Parameters
    ----------
    places : mapping of str to sequence of Decay
        Decays of the octaves by what they are called.
    width : float
        Of the drawing. [mm]
    """
    if not any(one.curve for decays in places.values() for one in decays):
        return None
    canvas, grid = Canvas(), Grid(width, field=(width / 4 - 12.0, 30.0))
    longest = _longest([one for decays in places.values() for one in decays])
    times = round_steps(0.0, longest, most=4)
    for index, octave in enumerate(OCTAVES):
        found = {
            name: one for name, decays in places.items() for one in decays if one.octave == octave
        }
        _panel(canvas, grid.cell(index), octave, found, times, leftmost=index % 4 == 0)
    box = grid.cell(len(OCTAVES))
    _curve_key(canvas, box)
    return Figure(
        "decay-curves",
        "Decay curves by octave, with knee and noise",
        canvas,
        width,
        grid.height(len(OCTAVES) + 1),
    )


def _longest(decays: Sequence[Decay]) -> float:
    """How much time is worth showing: to a little behind the last knee. [s]"""
    knees = [1.2 * d.knee for d in decays if d.knee is not None and d.curve]
    ends = [d.curve[-1][0] for d in decays if d.curve]
    return max(min(max(knees, default=math.inf), max(ends)), 0.05)


def _panel(
    canvas: Canvas,
    box: Box,
    octave: float,
    found: Mapping[str, Decay],
    times: Sequence[float],
    *,
    leftmost: bool,
) -> None:
    x0, y0, x1, y1 = box.bounds
    along, up = Axis(0.0, times[-1], x0, x1), Axis(LOWEST_DB, 0.0, y1, y0)
    levels = (0.0, -20.0, -40.0, -60.0)
    upward(canvas, up, levels, left=x0, right=x1, decimals=0, labelled=leftmost)
    canvas.line(((x0, y1), (x1, y1)), pen="thin")
    decimals = 1 if times[1] >= 0.1 else 2
    across(
        canvas,
        [(along.at(t), signed(t, decimals)) for t in (times[0], times[len(times) // 2], times[-1])],
        foot=y1,
    )
    curves = {name: one for name, one in found.items() if one.curve}
    worst = min(curves, key=lambda name: (curves[name].range_db, name), default=None)
    for name, one in sorted(curves.items(), key=lambda item: item[0] == worst):
        run = [
            (along.at(time), up.at(level))
            for time, level in one.curve
            if time <= times[-1] and level >= LOWEST_DB
        ]
        chosen = name == worst
        canvas.line(run, pen="mid" if chosen else "hair", colour="ink" if chosen else "rule")
    title = spoken_octave(octave)
    if worst is None:
        canvas.text(title, (x0, y0 - 1.8), size=NOTE, face="medium")
        canvas.text("– not measured", (x0 + 2.0, (y0 + y1) / 2), size=FIGURE, colour="ink-2")
        return
    _knee(canvas, curves[worst], along, up, (x0, x1))
    canvas.text(title, (x0, y0 - 1.8), size=NOTE, face="medium")
    canvas.text(_time_words(curves[worst]), (x1, y0 - 1.8), size=FIGURE, anchor="end")


def _time_words(one: Decay) -> str:
    for name, value in (("T30", one.t30), ("T20", one.t20)):
        if value is not None:
            return f"{name} {signed(value, 2)} s"
    return "– range too small"


def _knee(canvas: Canvas, one: Decay, along: Axis, up: Axis, ends: tuple[float, float]) -> None:
    """Where the worst decay goes under in noise, and that noise, as far as the field has them."""
    if -one.range_db > up.low:
        y = up.at(-one.range_db)
        canvas.line(((ends[0], y), (ends[1], y)), pen="thin", dash="dashed")
    if one.knee is not None and one.knee < along.high:
        x, y = along.at(one.knee), up.at(max(-one.range_db, up.low))
        canvas.line(((x, y - 3.0), (x, y)), pen="fine")
        canvas.area(((x, y), (x - 0.8, y - 1.6), (x + 0.8, y - 1.6)), fill="ink")


def _curve_key(canvas: Canvas, box: Box) -> None:
    """In the cell that the octaves leave."""
    x0, y0, x1, _ = box.bounds
    x0 -= 4.0

    def stroke(pen: Pen, colour: str) -> Sample:
        def draw(on: Canvas, x: float, y: float) -> None:
            on.line(((x, y), (x + SAMPLE, y)), pen=pen, colour=colour)

        return draw

    def noise(on: Canvas, x: float, y: float) -> None:
        on.line(((x, y), (x + SAMPLE, y)), pen="thin", dash="dashed")

    def knee(on: Canvas, x: float, y: float) -> None:
        middle = x + SAMPLE / 2
        on.line(((middle, y - 1.5), (middle, y + 1.2)), pen="fine")
        on.area(((middle, y + 1.2), (middle - 0.8, y - 0.4), (middle + 0.8, y - 0.4)), fill="ink")

    rows = (
        (stroke("mid", "ink"), "the place that has least range over noise"),
        (stroke("hair", "rule"), "every other place"),
        (noise, "noise of that place"),
        (knee, "where it goes under"),
    )
    y = y0
    canvas.text("level, dB, over time, s", (x0, y - 1.8), size=FIGURE, colour="ink-2")
    for sample, words in rows:
        lines = wrap(words, x1 - x0 - SAMPLE - 1.6, FIGURE)
        sample(canvas, x0, y + 2.4)
        for k, line in enumerate(lines):
            canvas.text(line, (x0 + SAMPLE + 1.6, y + 3.2 + 3.2 * k), size=FIGURE, colour="ink-2")
        y += 3.2 * len(lines) + 2.4
