"""The graduated border: one unit system south and west, the other north and east."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from wellheard.drawings.boxes import Placer
from wellheard.drawings.canvas import Canvas, Point
from wellheard.drawings.sheet import FOOT, Projection
from wellheard.drawings.view import Unit

_STEPS: dict[Unit, tuple[float, ...]] = {
    "m": (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0),
    "ft": (1.0, 2.0, 5.0, 10.0, 20.0, 50.0),
}
_METRES: dict[Unit, float] = {"m": 1.0, "ft": FOOT}


@dataclass(frozen=True, slots=True)
class Border:
    """A frame of alternating lengths; labelled every ``2`` segments from the datum on."""

    x0: float
    y0: float
    x1: float
    y1: float
    thickness: float
    label_size: float
    least_spacing: float


def label_step(mm_per_unit: float, unit: Unit, *, least: float) -> float:
    """Return the smallest round step whose labels stand at least ``least`` mm apart.

    Examples
    --------
    >>> label_step(40.0, "m", least=18.0), label_step(12.192, "ft", least=18.0)
    (1.0, 2.0)
    """
    for step in _STEPS[unit]:
        broken = step < 1.0 and mm_per_unit <= 60.0  # whole numbers read better
        if step * mm_per_unit >= least and not broken:
            return step
    return _STEPS[unit][-1]


def draw(
    canvas: Canvas,
    placer: Placer,
    border: Border,
    *,
    project: Projection,
    size: Point,
    units: Unit,
) -> None:
    """Draw the border round the drawing area.

    Parameters
    ----------
    canvas : Canvas
        Drawn on.
    placer : Placer
        Is told where labels stand.
    border : Border
        Corners, thickness and lettering.
    project : Projection
        Its datum is 0 of every side.
    size : (float, float)
        Extent of the room, labelled up to there. [m]
    units : {"m", "ft"}
        Counted south and west; the other north and east.
    """
    other: Unit = "ft" if units == "m" else "m"
    b, t = border, border.thickness
    canvas.rectangle(b.x0, b.y0, b.x1 - b.x0, b.y1 - b.y0, pen="fine")
    canvas.rectangle(b.x0 + t, b.y0 + t, b.x1 - b.x0 - 2 * t, b.y1 - b.y0 - 2 * t, pen="fine")
    zero_x, zero_y = project.origin
    cap = 0.7 * b.label_size

    def level(y: float, baseline: float, unit: Unit) -> None:
        step, bars = _graduation((b.x0, b.x1), zero_x, unit, project, least=b.least_spacing, dark=0)
        for u0, u1 in bars:
            canvas.rectangle(u0, y, u1 - u0, t, fill="ink")
        for text, u in _labels(step, size[0], unit, project, lambda mm: zero_x + mm):
            record = canvas.text(
                text, (u, baseline), size=b.label_size, colour="ink-2", anchor="middle"
            )
            placer.take(record.box)

    def upright(x: float, baseline: float, unit: Unit) -> None:
        step, bars = _graduation((b.y0, b.y1), zero_y, unit, project, least=b.least_spacing, dark=1)
        for u0, u1 in bars:
            canvas.rectangle(x, u0, t, u1 - u0, fill="ink")
        for text, u in _labels(step, size[1], unit, project, lambda mm: zero_y - mm):
            record = canvas.text(
                text,
                (baseline, u),
                size=b.label_size,
                colour="ink-2",
                anchor="middle",
                angle_deg=-90.0,
            )
            placer.take(record.box)

    level(b.y1 - t, b.y1 - t - 1.0, units)
    upright(b.x0, b.x0 + t + 0.9 + cap, units)
    level(b.y0, b.y0 + t + 0.9 + cap, other)
    upright(b.x1 - t, b.x1 - t - 1.0, other)


def _graduation(
    span: tuple[float, float],
    zero: float,
    unit: Unit,
    project: Projection,
    *,
    least: float,
    dark: int,
) -> tuple[float, list[tuple[float, float]]]:
    """Return the label step, and the dark bars between two paper coordinates.

    ``dark`` is 0 where the scale counts with the paper coordinate and 1 where it counts against
    it, so that the first bar after 0 is dark on every side.
    """
    low, high = span
    mm = project.length(_METRES[unit])
    step = label_step(mm, unit, least=least)
    half = step * mm / 2
    bars = []
    for k in range(math.floor((low - zero) / half), math.ceil((high - zero) / half)):
        u0, u1 = max(zero + k * half, low), min(zero + (k + 1) * half, high)
        if k % 2 == dark and u1 - u0 > 0.02:
            bars.append((u0, u1))
    return step, bars


def _labels(
    step: float, extent: float, unit: Unit, project: Projection, at: Callable[[float], float]
) -> Iterator[tuple[str, float]]:
    count = int(extent / _METRES[unit] / step + 1e-6)
    places = 0 if step >= 1 else 1
    for k in range(count + 1):
        text = f"{k * step:.{places}f}" if k else f"0 {unit}"
        yield text, at(project.length(k * step * _METRES[unit]))
