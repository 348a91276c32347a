"""A room as small as a stamp: SVG for a page, its colours left to the page's style sheet.

Lengths are pixels, y downwards. Nothing but numbers and our own words goes into the text, so it
may stand in a page as it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

from wellheard.drawings.symbols import with_classes

Point: TypeAlias = tuple[float, float]
Outline: TypeAlias = Sequence[Point]
State: TypeAlias = Literal["kept", "at risk", "broken", "not assessed", ""]
"""Of a place; empty as long as nobody has predicted it."""

BAR = 20.0
"""Length of a bar of the shelf. [px]"""
COUNTED = (1, 2, 5, 10, 20, 50)
"""Metres that a bar may stand for: 1 wherever the room has space."""
MARGIN = 4.0
"""Round the plan, for the thickness of its walls. [px]"""
WIDEST, TALLEST = 296.0, 196.0
"""The place of a plan on its shelf. [px]"""
MARK = 7.5
"""Side of the mark of a state. [px]"""
INTERVAL_WIDTH, INTERVAL_HEIGHT = 120.0, 14.0
"""Size of a drawn range. [px]"""


@dataclass(frozen=True, slots=True)
class Stamp:
    """What is drawn of a room. Lengths in metres, x east, y north."""

    outline: Outline
    obstacles: tuple[Outline, ...] = ()
    tables: tuple[Outline, ...] = ()
    areas: tuple[tuple[Outline, State], ...] = ()
    """Where somebody stands."""
    partitions: tuple[tuple[Point, Point], ...] = ()
    seats: tuple[tuple[Point, State], ...] = ()
    microphones: tuple[Point, ...] = ()


@dataclass(frozen=True, slots=True)
class Thumbnail:
    """A plan as SVG, and the metres that a bar of `BAR` pixels stands for below it."""

    svg: str
    metres: int


def metres_per_bar(wide: float, deep: float) -> int:
    """What a bar has to stand for, so that a plan of these sides [m] keeps to its place.

    Examples
    --------
    >>> metres_per_bar(6.4, 4.6), metres_per_bar(60.0, 30.0)
    (1, 5)
    """
    for metres in COUNTED:
        scale = BAR / metres
        if wide * scale <= WIDEST - 2 * MARGIN and deep * scale <= TALLEST - 2 * MARGIN:
            return metres
    return COUNTED[-1]


def thumbnail(stamp: Stamp) -> Thumbnail:
    """Draw a room to the scale of all others, or to a smaller one where it needs that."""
    xs, ys = [x for x, _ in stamp.outline], [y for _, y in stamp.outline]
    west, north = min(xs), max(ys)
    wide, deep = max(xs) - west, north - min(ys)
    metres = metres_per_bar(wide, deep)
    scale = BAR / metres
    # Marks shrink less than the room: they are there to be seen.
    size = max(metres**-0.5, 0.3)

    def px(point: Point) -> str:
        x, y = MARGIN + (point[0] - west) * scale, MARGIN + (north - point[1]) * scale
        return f"{x:.1f} {y:.1f}"

    def ring(points: Outline) -> str:
        return f"M{'L'.join(px(p) for p in points)}Z"

    parts = [f'<path class="floor" d="{ring(stamp.outline)}"/>']
    parts += [f'<path class="column" d="{ring(one)}"/>' for one in stamp.obstacles]
    parts += [f'<path class="thing" d="{ring(one)}"/>' for one in stamp.tables]
    parts += [f'<path class="area" d="{ring(one)}"/>' for one, _ in stamp.areas]
    parts += [f'<path class="fold" d="M{px(a)}L{px(b)}"/>' for a, b in stamp.partitions]
    for outline, state in stamp.areas:
        parts.append(_place(px(_middle(outline)), state, size))
    parts += [_place(px(at), state, size) for at, state in stamp.seats]
    parts += [_microphone(px(at), size) for at in stamp.microphones]
    parts.append(f'<path class="walls" d="{ring(stamp.outline)}"/>')
    width, height = wide * scale + 2 * MARGIN, deep * scale + 2 * MARGIN
    svg = (
        f'<svg class="stamp" width="{width:.1f}" height="{height:.1f}" '
        f'viewBox="0 0 {width:.1f} {height:.1f}" aria-hidden="true">{"".join(parts)}</svg>'
    )
    return Thumbnail(svg, metres)


def _middle(outline: Outline) -> Point:
    count = len(outline)
    return sum(x for x, _ in outline) / count, sum(y for _, y in outline) / count


def _place(at: str, state: State, size: float) -> str:
    """A place that is kept, or not predicted yet, is a quiet ring; the worse, the more ink."""
    if state in ("", "kept"):
        kind = "seat" if state else "seat unknown"
        x, y = at.split()
        return f'<circle class="{kind}" cx="{x}" cy="{y}" r="{2.6 * size:.2f}"/>'
    return f'<g transform="translate({at}) scale({MARK / 20 * size:.3f})">{_shapes(state)}</g>'


def _microphone(at: str, size: float) -> str:
    return (
        f'<g transform="translate({at}) scale({size:.2f})"><circle class="mic" r="3.4"/>'
        '<path class="mic-top" d="M-3.8 -3.6H3.8"/></g>'
    )


def _shapes(state: State) -> str:
    return with_classes(f"state-{state.replace(' ', '-')}")


def mark(state: State, *, side: float = 14.0) -> str:
    """The mark of a state by itself, beside its word."""
    return (
        f'<svg class="st" width="{side:g}" height="{side:g}" viewBox="-10 -10 20 20" '
        f'aria-hidden="true">{_shapes(state)}</svg>'
    )


def interval(
    low: float, middle: float, high: float, *, promise: float | None, span: tuple[float, float]
) -> str:
    """A 10–90 % range on a scale: hollow where it misses the promise, a stroke at the middle.

    Parameters
    ----------
    low, middle, high : float
        What lies beyond the scale ends at its edge.
    promise : float or None
        None: nothing was promised, so nothing misses it.
    span : (float, float)
        Both ends of the scale.
    """
    start, end = span

    def x(value: float) -> float:
        return INTERVAL_WIDTH * min(max((value - start) / (end - start), 0.0), 1.0)

    left, centre, right = x(low), x(middle), x(high)
    turn = left if promise is None else min(max(x(promise), left), right)
    parts = [f'<path class="scale" d="M0 7H{INTERVAL_WIDTH:g}"/>']
    if turn > left:
        parts.append(f'<path class="misses" d="{_box(left, turn)}"/>')
    if right > turn:
        parts.append(f'<path class="holds" d="{_box(turn, right)}"/>')
    parts.append(f'<path class="gap" d="M{centre:.1f} 2V12"/>')
    parts.append(f'<path class="middle" d="M{centre:.1f} 2V12"/>')
    if promise is not None:
        parts.append(f'<path class="promise" d="M{x(promise):.1f} 0V14"/>')
    return (
        f'<svg class="range" width="{INTERVAL_WIDTH:g}" height="{INTERVAL_HEIGHT:g}" '
        f'viewBox="0 0 {INTERVAL_WIDTH:g} {INTERVAL_HEIGHT:g}" aria-hidden="true">'
        f"{''.join(parts)}</svg>"
    )


def _box(left: float, right: float) -> str:
    return f"M{left:.1f} 4.5H{right:.1f}V9.5H{left:.1f}Z"
