"""A trial of an echo canceller: return loss over time while the far end talks."""

from __future__ import annotations

from wellheard.drawings.canvas import Canvas
from wellheard.drawings.chartfield import (
    FIGURE,
    NOTE,
    SAMPLE,
    Axis,
    Entry,
    Figure,
    across,
    key,
    promise_line,
    promise_sample,
    round_steps,
    signed,
    upward,
)
from wellheard.measurement.results import CancellerResult

LEFT, RIGHT, TOP, FOOT = 12.0, 6.0, 6.0, 52.0


def trial_chart(
    trial: CancellerResult, *, needed_db: float | None, name: str, width: float
) -> Figure | None:
    """Return how the return loss grew; None where the recording gave no curve.

    Parameters
    ----------
    trial : CancellerResult
        What the canceller did.
    needed_db : float or None
        Return loss that is promised with the canceller. [dB]
    name : str
        Of the recording, for the title and the file.
    width : float
        Of the drawing. [mm]
    """
    if len(trial.curve) < 2:
        return None
    canvas = Canvas()
    levels = [level for _, level in trial.curve] + [0.0]
    levels += [] if needed_db is None else [needed_db]
    steps = round_steps(min(levels), max(levels) + 2.0)
    times = round_steps(0.0, trial.curve[-1][0], most=8)
    up = Axis(steps[0], steps[-1], FOOT, TOP)
    along = Axis(0.0, times[-1], LEFT, width - RIGHT)
    upward(canvas, up, steps, left=LEFT, right=width - RIGHT, decimals=0)
    canvas.line(((LEFT, FOOT), (width - RIGHT, FOOT)), pen="thin")
    decimals = 0 if times[1] >= 1.0 else 1
    across(canvas, [(along.at(t), signed(t, decimals)) for t in times], foot=FOOT)
    canvas.text("return loss, dB", (0.2, 2.4), size=NOTE, colour="ink-2")
    canvas.text(
        "after the far end began, s",
        (width - 0.2, FOOT + 7.6),
        size=FIGURE,
        colour="ink-2",
        anchor="end",
    )
    canvas.line([(along.at(t), up.at(level)) for t, level in trial.curve], pen="bold")
    if needed_db is not None:
        promise_line(canvas, up.at(needed_db), (LEFT, width - RIGHT), fails="below")
    _events(canvas, trial, along, up)
    entries = [Entry(_line_sample, "measured, echo sent over what came from the far end")]
    entries += _event_entries(trial)
    if needed_db is not None:
        said = f"promised: at least {signed(needed_db, 0)} dB together"
        entries.append(Entry(promise_sample, said))
    top = FOOT + 11.0
    height = top + key(canvas, entries, left=0.2, top=top, right=width)
    return Figure(f"canceller-{name}", f"Canceller trial {name}", canvas, width, height)


def _events(canvas: Canvas, trial: CancellerResult, along: Axis, up: Axis) -> None:
    """When it had settled, and where it did."""
    if trial.after_db is not None:
        y = up.at(trial.after_db)
        start = along.at(trial.converged or 0.0)
        canvas.line(((start, y), (along.end, y)), pen="thin", dash="dashed")
    if trial.converged is not None and trial.converged <= along.high:
        x = along.at(trial.converged)
        canvas.line(((x, up.start), (x, up.end)), pen="thin")


def _event_entries(trial: CancellerResult) -> list[Entry]:
    found = []
    if trial.converged is not None:
        said = f"within 3 dB of its end after {signed(trial.converged, 1)} s"
        found.append(Entry(_thin_sample, said))
    if trial.after_db is not None:
        added = "" if trial.added_db is None else f", of it {signed(trial.added_db, 0)} dB added"
        found.append(Entry(_dash_sample, f"settled at {signed(trial.after_db, 0)} dB{added}"))
    return found


def _line_sample(canvas: Canvas, x: float, y: float) -> None:
    canvas.line(((x, y), (x + SAMPLE, y)), pen="bold")


def _dash_sample(canvas: Canvas, x: float, y: float) -> None:
    canvas.line(((x, y), (x + SAMPLE, y)), pen="thin", dash="dashed")


def _thin_sample(canvas: Canvas, x: float, y: float) -> None:
    canvas.line(((x, y), (x + SAMPLE, y)), pen="thin")
