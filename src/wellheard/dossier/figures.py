"""Figures of the dossier as plain geometry, and drawings made ready for print."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from xml.sax.saxutils import unescape

from wellheard.bands import OCTAVES
from wellheard.dossier.model import Better, Chart, Curve, Picture, RangeBar, Scale, Sheet
from wellheard.dossier.words import figure, octave
from wellheard.predict.evidence import Bands, Reverberation

MILLIMETRES = {"mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72, "px": 25.4 / 96, "": 25.4 / 96}
LABEL_ROOM = 0.18
"""Share of an axis that a label takes."""
MOST_STEPS = 6
"""Between nought and the end of a chart's axis."""
LABEL_GAP = 0.075
"""Least distance between two line labels, as a share of the chart's height."""


def reverberation_chart(decay: Reverberation) -> Chart:
    """Return decay time against octave: the used line, its range, and the rival models."""
    lines: list[tuple[str, Bands]] = [
        ("Sabine", decay.sabine),
        ("Eyring", decay.eyring),
        ("Kuttruff", decay.kuttruff),
        ("Arau-Puchades", decay.arau_puchades),
        ("Fitzroy", decay.fitzroy),
    ]
    values = [v for v in (*decay.high, *decay.time) if math.isfinite(v)]
    # Fitzroy may leave the page in rooms with one absorbing surface; the table carries it then.
    ticks, step = round_axis(max([*values, *decay.sabine, *decay.eyring], default=1.0))
    top = ticks * step
    count = len(OCTAVES)
    across = tuple((i / (count - 1), octave(band)) for i, band in enumerate(OCTAVES))
    up = tuple((i / ticks, figure(i * step, 2 if step < 0.1 else 1)) for i in range(ticks + 1))
    drawn = [("used", decay.time)] + [
        (label, times)
        for label, times in lines
        if max(times) <= top and not _same(times, decay.time)
    ]
    heights = spread_apart([times[-1] / top for _, times in drawn])
    curves = tuple(
        Curve(
            label,
            tuple((i / (count - 1), t / top) for i, t in enumerate(times)),
            "main" if label == "used" else "other",
            height,
        )
        for (label, times), height in zip(drawn, heights, strict=True)
    )
    band = tuple(
        (i / (count - 1), min(low / top, 1.0), min(high / top, 1.0))
        for i, (low, high) in enumerate(zip(decay.low, decay.high, strict=True))
    )
    return Chart("Reverberation time", "s", across, up, band, curves)


def _same(first: Bands, second: Bands) -> bool:
    return all(abs(a - b) < 1e-6 for a, b in zip(first, second, strict=True))


def axis(
    ends: Sequence[float],
    target: float | None,
    *,
    steps: Sequence[float],
    places: int,
    most: int = 5,
    label_room: float = LABEL_ROOM,
) -> Scale:
    """Return one axis for several ranges and their promise, with round ticks.

    Parameters
    ----------
    ends : sequence of float
        All that it must hold, besides the promise.
    target : float or None
        The promise, marked on it.
    steps : sequence of float
        Between ticks, ascending; the first that needs no more than ``most`` of them is taken.
    places : int
        Decimals of the labels.
    most : int
        Steps along the axis.
    label_room : float
        Share of the axis that a label takes: none stands so near the promise.

    Examples
    --------
    >>> axis((0.61, 0.68), 0.62, steps=(0.02, 0.05), places=2).ticks
    ((0.0, '0.60'), (0.25, ''), (0.5, '0.64'), (0.75, '0.66'), (1.0, '0.68'))
    """
    ends = [*ends, *(() if target is None else (target,))]
    low, high = min(ends), max(ends)
    step = next((s for s in steps if (high - low) / s <= most), steps[-1])
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    # No index is above 1, so an axis of no length grows downwards.
    first = min(first, last - 1)
    low, high, count = step * first, step * last, last - first
    at = None if target is None else (target - low) / (high - low)
    ticks = tuple(
        (
            i / count,
            ""
            if at is not None and abs(i / count - at) < label_room
            else figure(low + i * step, places),
        )
        for i in range(count + 1)
    )
    return Scale(low, high, ticks, at, "" if target is None else figure(target, places))


MOST_SPREADS = 4.0
"""Spreads from the promise to either end of a bar's axis; surer bars stand at its edge."""


def promise_bar(
    low: float, value: float, high: float, target: float, sigma: float, better: Better
) -> RangeBar:
    """Return a range in units of its own spread, with the promise in the middle.

    Quantities with different units then share one column: how far a bar lies from the promise
    is how sure the promise is.
    """
    axis = 2 * MOST_SPREADS * max(sigma, 1e-9)
    shift = min(0.0, target + axis / 2 - high) + max(0.0, target - axis / 2 - low)

    def along(level: float) -> float:
        return 0.5 + (level + shift - target) / axis

    return RangeBar(along(low), along(value), along(high), 0.5, better)


def round_axis(value: float) -> tuple[int, float]:
    """Return an axis from nought to ``value`` or beyond: so many steps, each 1, 2 or 5 of a decade.

    Examples
    --------
    >>> round_axis(0.58), round_axis(0.71), round_axis(1.65)
    ((6, 0.1), (4, 0.2), (4, 0.5))
    """
    decade = 10.0 ** math.floor(math.log10(value / MOST_STEPS))
    step = next(f * decade for f in (1, 2, 5, 10) if value <= MOST_STEPS * f * decade * (1 + 1e-9))
    return math.ceil(value / step - 1e-9), round(step, 9)


def spread_apart(heights: Sequence[float], *, gap: float = LABEL_GAP) -> list[float]:
    """Return label heights moved apart to at least ``gap``, in the same order and near their lines.

    Examples
    --------
    >>> [round(h, 3) for h in spread_apart([0.5, 0.5, 0.9], gap=0.1)]
    [0.45, 0.55, 0.9]
    """
    order = sorted(range(len(heights)), key=lambda i: (heights[i], i))
    groups: list[list[int]] = [[i] for i in order]

    def centre(group: list[int]) -> float:
        return sum(heights[i] for i in group) / len(group)

    merged = True
    while merged:
        merged = False
        for j in range(len(groups) - 1):
            a, b = groups[j], groups[j + 1]
            if centre(b) - centre(a) < gap * (len(a) + len(b)) / 2 - 1e-12:
                groups[j : j + 2] = [a + b]
                merged = True
                break
    found = [0.0] * len(heights)
    for group in groups:
        start = centre(group) - gap * (len(group) - 1) / 2
        for k, i in enumerate(group):
            found[i] = start + k * gap
    return found


_LENGTH = re.compile(r"^\s*([0-9.]+)\s*(mm|cm|in|pt|px|)\s*$")
_ROOT = re.compile(r"<svg\b[^>]*>", re.S)


def sheet(svg: str) -> Sheet:
    """Return a drawing ready for print with its size in millimetres.

    Raises
    ------
    ValueError
        The text is no SVG with a width and a height.
    """
    root = _ROOT.search(svg)
    if root is None:
        raise ValueError("a drawing is no SVG: it has no <svg> element")
    sizes: list[float] = []
    for name in ("width", "height"):
        found = re.search(rf'\b{name}="([^"]*)"', root.group())
        length = _LENGTH.match(found.group(1)) if found else None
        if length is None:
            raise ValueError(f'a drawing has no {name}; write it in the <svg> element, as "420mm"')
        sizes.append(float(length.group(1)) * MILLIMETRES[length.group(2)])
    return Sheet(print_svg(svg), sizes[0], sizes[1], _shows(svg))


_TITLE = re.compile(r"<title>([^<]*)</title>")


def _shows(svg: str) -> str:
    """What a drawing says of itself."""
    title = _TITLE.search(svg)
    return unescape(title.group(1)) if title and title.group(1) else "Drawing"


def picture(svg: str) -> Picture:
    """Return a drawing to stand among the text; its title says what it shows.

    Raises
    ------
    ValueError
        The text is no SVG with a width and a height.
    """
    drawing = sheet(svg)
    return Picture(drawing.svg, drawing.width, drawing.height, drawing.alt)


def print_svg(svg: str) -> str:
    """Return the same drawing without style variables and embedded fonts.

    Typesetters read a smaller CSS than browsers: variables are put in place, fonts come from
    the package. Print is always the white sheet, so the first set of values counts.

    Examples
    --------
    >>> print_svg('<svg><style>:root{--ink:#111}text{fill:var(--ink)}</style></svg>')
    '<svg><style>:root{--ink:#111}text{fill:#111}</style></svg>'
    """
    svg = re.sub(r"@font-face\s*\{[^}]*\}", "", svg)
    values: dict[str, str] = {}
    for name, value in re.findall(r"--([\w-]+)\s*:\s*([^;}]+)", svg):
        values.setdefault(name, value.strip())
    return re.sub(
        r"var\(\s*--([\w-]+)\s*(?:,\s*([^()]*))?\)",
        lambda m: values.get(m.group(1), m.group(2) or m.group(0)),
        svg,
    )
