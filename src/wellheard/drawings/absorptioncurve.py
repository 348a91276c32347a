"""What a finish absorbs, octave by octave: a curve with its figures, beside that of another.

SVG for a page, its colours left to the page's style sheet. Lengths are pixels, y downwards.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias
from xml.sax.saxutils import escape

from wellheard.bands import OCTAVES
from wellheard.drawings.lettering import text_width

Role: TypeAlias = Literal["chosen", "present"]
Along: TypeAlias = Callable[..., float]

WIDTH, HEIGHT = 460.0, 236.0
LEFT, RIGHT, TOP, BOTTOM = 34.0, 16.0, 34.0, 34.0
STEP = 0.2
"""Between two lines of the grid."""
FIGURE = 11.0
"""Size of the letters. [px]"""


@dataclass(frozen=True, slots=True)
class Curve:
    """One finish: its name, seven figures, and which of the two it is."""

    name: str
    absorption: Sequence[float]
    role: Role


def absorption_curve(curves: Sequence[Curve], *, title: str, unit: str = "") -> str:
    """Draw one finish or two.

    Parameters
    ----------
    curves : sequence of Curve
        The present one is dashed, the chosen one full with a figure at each point.
    title : str
        Accessible name.
    unit : str
        ``m²`` for what is counted in items; the scale then follows the figures.

    Returns
    -------
    str
        An ``svg`` element; names are escaped.

    Examples
    --------
    >>> felt = Curve("Felt", (0.02, 0.02, 0.05, 0.15, 0.3, 0.4, 0.4), "chosen")
    >>> svg = absorption_curve([felt], title="Felt")
    >>> svg.count('class="dot'), "0.15" in svg
    (7, True)
    """
    most = max([1.0, *(value for curve in curves for value in curve.absorption)])
    lines = int(most / STEP - 1e-9) + 1
    top = lines * STEP

    def x(band: int) -> float:
        return LEFT + (WIDTH - LEFT - RIGHT) * (band + 0.5) / len(OCTAVES)

    def y(value: float) -> float:
        return TOP + (HEIGHT - TOP - BOTTOM) * (1 - value / top)

    parts = [*_grid(lines, x, y, unit)]
    ordered = sorted(curves, key=lambda one: one.role == "chosen")
    parts += [_line(curve, x, y) for curve in ordered]
    other = next((c.absorption for c in curves if c.role == "present"), None)
    parts += [text for c in ordered if c.role == "chosen" for text in _figures(c, other, x, y)]
    parts += _key(ordered)
    return (
        f'<svg class="curve" viewBox="0 0 {WIDTH:g} {HEIGHT:g}" role="img" '
        f'aria-label="{escape(title, {chr(34): "&quot;"})}">{"".join(parts)}</svg>'
    )


def _grid(lines: int, x: Along, y: Along, unit: str) -> list[str]:
    parts = []
    for number in range(lines + 1):
        value = number * STEP
        kind = "base" if number == 0 else "one" if number * STEP == 1.0 else "grid"
        parts.append(
            f'<path class="{kind}" d="M{LEFT:g} {y(value):.1f}H{WIDTH - RIGHT:g}"/>'
            f'<text class="tick" x="{LEFT - 6:g}" y="{y(value) + 4:.1f}" '
            f'text-anchor="end">{value:.1f}</text>'
        )
    foot = HEIGHT - BOTTOM
    for band, frequency in enumerate(OCTAVES):
        word = f"{frequency:g}" if frequency < 1000 else f"{frequency / 1000:g}k"
        parts.append(
            f'<path class="base" d="M{x(band):.1f} {foot:g}v4"/>'
            f'<text class="tick" x="{x(band):.1f}" y="{foot + 17:g}" '
            f'text-anchor="middle">{word}</text>'
        )
    parts.append(
        f'<text class="tick" x="{WIDTH - RIGHT:g}" y="{HEIGHT - 3:g}" '
        'text-anchor="end">octave, Hz</text>'
        f'<text class="tick" x="4" y="12">α{f", {unit}" if unit else ""}</text>'
    )
    return parts


def _line(curve: Curve, x: Along, y: Along) -> str:
    points = [(x(band), y(value)) for band, value in enumerate(curve.absorption)]
    run = "L".join(f"{px:.1f} {py:.1f}" for px, py in points)
    dots = "".join(
        f'<circle class="dot {curve.role}" cx="{px:.1f}" cy="{py:.1f}" r="2.6"/>'
        for px, py in points
    )
    return f'<path class="run {curve.role}" d="M{run}"/>{dots}'


def _figures(curve: Curve, other: Sequence[float] | None, x: Along, y: Along) -> list[str]:
    """Above its point, or below it where the other curve is above."""
    found = []
    for band, value in enumerate(curve.absorption):
        below = other is not None and other[band] > value and value > 0.12
        at = y(value) + (15.0 if below else -7.0)
        found.append(
            f'<text class="figure" x="{x(band):.1f}" y="{at:.1f}" '
            f'text-anchor="middle">{value:.2f}</text>'
        )
    return found


def _key(curves: Sequence[Curve]) -> list[str]:
    """Which is which, on one line above; of two long names each has half of it."""
    parts, at = [], LEFT + 20.0
    room = (WIDTH - RIGHT - at) / max(len(curves), 1) - 32.0
    for curve in sorted(curves, key=lambda one: one.role == "present"):
        name = _fitting(curve.name, room)
        parts.append(
            f'<path class="run {curve.role}" d="M{at:.1f} 8h20"/>'
            f'<text class="name" x="{at + 26:.1f}" y="12">{escape(name)}</text>'
        )
        at += 26.0 + text_width(name, FIGURE) + 20.0
    return parts


def _fitting(name: str, room: float) -> str:
    if text_width(name, FIGURE) <= room:
        return name
    while name and text_width(name + "…", FIGURE) > room:
        name = name[:-1]
    return name.rstrip() + "…"
