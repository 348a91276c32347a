"""Modulation transfer, seven octaves by fourteen frequencies: measured on top of predicted."""

from __future__ import annotations

from collections.abc import Sequence

from wellheard.acoustics.modulation import MODULATION_FREQUENCIES
from wellheard.bands import OCTAVES, spoken_octave
from wellheard.drawings.boxes import Box
from wellheard.drawings.canvas import Canvas
from wellheard.drawings.chartfield import (
    FIGURE,
    NOTE,
    SAMPLE,
    Axis,
    Figure,
    Grid,
    across,
    dot_sample,
    upward,
)
from wellheard.drawings.lettering import wrap

TICKS = (0, 5, 9, 13)
"""Modulation frequencies that are written at the axis: 0.63, 2, 5 and 12.5 Hz."""


def modulation_chart(
    measured: Sequence[Sequence[float]],
    predicted: Sequence[Sequence[float]] | None,
    *,
    path: str,
    width: float,
) -> Figure:
    """Return what is left of the modulation of speech by octave, of one path.

    Parameters
    ----------
    measured : sequence of sequence of float, shape (7, 14)
        Octaves by modulation frequencies; from an impulse response, without noise and hearing.
    predicted : sequence of sequence of float, shape (7, 14), or None
        The same as it was tested; None where it was not predicted.
    path : str
        From where to where, in words.
    width : float
        Of the drawing. [mm]

    Examples
    --------
    >>> chart = modulation_chart([[0.8] * 14] * 7, None, path="s1 to m1", width=168.0)
    >>> chart.title
    'Modulation transfer from s1 to m1'
    """
    canvas, grid = Canvas(), Grid(width, field=(width / 4 - 12.0, 26.0))
    for index, (octave, values) in enumerate(zip(OCTAVES, measured, strict=True)):
        _panel(
            canvas,
            grid.cell(index),
            octave,
            values,
            None if predicted is None else predicted[index],
            leftmost=index % 4 == 0,
        )
    _key(canvas, grid.cell(len(OCTAVES)), path, predicted is not None)
    return Figure(
        "modulation",
        f"Modulation transfer from {path}",
        canvas,
        width,
        grid.height(len(OCTAVES) + 1),
    )


def _panel(
    canvas: Canvas,
    box: Box,
    octave: float,
    measured: Sequence[float],
    predicted: Sequence[float] | None,
    *,
    leftmost: bool,
) -> None:
    x0, y0, x1, y1 = box.bounds
    up = Axis(0.0, 1.0, y1, y0)
    along = Axis(0.0, len(MODULATION_FREQUENCIES) - 1.0, x0 + 1.5, x1 - 1.5)
    upward(canvas, up, (0.0, 0.5, 1.0), left=x0, right=x1, decimals=1, labelled=leftmost)
    canvas.line(((x0, y1), (x1, y1)), pen="thin")
    across(canvas, [(along.at(k), f"{MODULATION_FREQUENCIES[k]:g}") for k in TICKS], foot=y1)
    if predicted is not None:
        canvas.line([(along.at(k), up.at(m)) for k, m in enumerate(predicted)], pen="mid")
    for k, value in enumerate(measured):
        canvas.circle((along.at(k), up.at(value)), 0.6, fill="paper", pen="thin")
    mean = sum(measured) / len(measured)
    canvas.text(spoken_octave(octave), (x0, y0 - 1.8), size=NOTE, face="medium")
    said = f"{mean:.2f}"
    if predicted is not None:
        said += f" ({sum(predicted) / len(predicted):.2f})"
    canvas.text(said, (x1, y0 - 1.8), size=FIGURE, anchor="end")


def _key(canvas: Canvas, box: Box, path: str, predicted: bool) -> None:
    x0, y0, x1, _ = box.bounds
    x0 -= 4.0
    y = y0 - 1.8
    for line in wrap(f"m over modulation frequency, Hz, from {path}", x1 - x0, FIGURE):
        canvas.text(line, (x0, y), size=FIGURE, colour="ink-2")
        y += 3.2
    y += 0.8
    dot_sample(canvas, x0, y)
    canvas.text("measured", (x0 + SAMPLE + 1.6, y + 0.8), size=FIGURE, colour="ink-2")
    if predicted:
        y += 4.2
        canvas.line(((x0, y), (x0 + SAMPLE, y)), pen="mid")
        canvas.text("predicted", (x0 + SAMPLE + 1.6, y + 0.8), size=FIGURE, colour="ink-2")
    y += 5.4
    brackets = ", in brackets as predicted" if predicted else ""
    for line in wrap(f"over each chart its mean{brackets}", x1 - x0, FIGURE):
        canvas.text(line, (x0, y), size=FIGURE, colour="ink-2")
        y += 3.2
