"""What is overhead already in a section: luminaires on their rods, ducts and beams, sprinklers."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from wellheard.drawings.boxes import Box, Placer
from wellheard.drawings.canvas import Canvas, Point, points
from wellheard.drawings.dimensions import printed
from wellheard.drawings.lettering import text_width
from wellheard.drawings.sectionpanels import write
from wellheard.drawings.tokens import Pen
from wellheard.drawings.view import OverheadMark, PlanView

BODY = 0.06
"""Height of a luminaire's body; the document does not know the real one. [m]"""
LEAST_MM = 0.7
"""Height of a body on paper, at least."""
FLUSH = 0.02
"""What hangs no lower is in the ceiling. [m]"""


@dataclass(frozen=True, slots=True)
class Part:
    """A part overhead on paper, and whether the cut meets it."""

    mark: OverheadMark
    box: Box
    met: bool

    @property
    def pen(self) -> Pen:
        """What is cut is drawn heavier than what is beyond."""
        return "thin" if self.met else "hair"

    @property
    def deep(self) -> bool:
        """Whether it fills all that is between its underside and the ceiling, as a duct does."""
        return self.mark.kind != "luminaire" and self.box.height > 2 * LEAST_MM


def parts_of(
    view: PlanView, y: float, *, px: Callable[[float], float], pz: Callable[[float], float]
) -> list[Part]:
    """Return what a cut at ``y`` [m] meets or has in view overhead, what is beyond first.

    ``px`` and ``pz`` take metres east, and above the floor, to paper.
    """
    ceiling, found = pz(view.height), []
    for mark in view.overhead:
        hangs = mark.bottom is not None and view.height - mark.bottom > FLUSH
        low = pz(mark.bottom) if hangs and mark.bottom is not None else ceiling + LEAST_MM
        body = max(pz(0.0) - pz(BODY), LEAST_MM)
        top = low - body if mark.kind == "luminaire" and hangs else ceiling
        for start, end, met in _spans(mark, y):
            if px(end) - px(start) > 0.2:
                found.append(Part(mark, Box.spanning(px(start), top, px(end), low), met))
    return sorted(found, key=lambda part: part.met)


def draw_hung(canvas: Canvas, parts: Sequence[Part], placer: Placer, *, ceiling: float) -> None:
    """Draw luminaires on their rods and what is flush, under all devices; text keeps off them."""
    for part in parts:
        if part.deep:
            continue
        left, top, right, bottom = part.box.bounds
        if top - ceiling > 0.1:
            for share in (0.2, 0.8):
                at = left + share * (right - left)
                canvas.line(((at, ceiling), (at, top)), pen="hair")
                placer.take(Box.spanning(at - 0.1, ceiling, at + 0.1, top))
        canvas.rectangle(left, top, right - left, bottom - top, fill="paper", pen=part.pen)
        placer.take(part.box)


def draw_deep(canvas: Canvas, parts: Sequence[Part], placer: Placer) -> None:
    """Draw the edges of ducts and beams, broken at everything that is written by then."""
    from shapely import LineString, union_all
    from shapely import box as rectangle

    written = union_all([rectangle(*one.grown(0.4).bounds) for one in placer.taken])
    for part in parts:
        if part.deep:
            left, top, right, bottom = part.box.bounds
            edge = LineString(((left, top), (left, bottom), (right, bottom), (right, top)))
            free: Any = edge.difference(written)
            runs = [points(one.coords) for one in getattr(free, "geoms", [free])]
            canvas.line(*runs, pen=part.pen)


def name_overhead(
    canvas: Canvas,
    view: PlanView,
    parts: Sequence[Part],
    placer: Placer,
    *,
    size: float,
) -> None:
    """Write under each part what it is and how high its underside hangs, where there is room.

    What is deep enough has its name in it: under it hangs something else as often as not.
    """
    for part in parts:
        mark = part.mark
        words = mark.id.replace("-", " ")
        if mark.bottom is not None and view.height - mark.bottom > FLUSH:
            words = f"{words}, underside {printed(mark.bottom, view.units)}"
        write(canvas, placer, words, _spots(part, text_width(words, size) / 2, size), size=size)


def _spots(part: Part, half: float, size: float) -> list[Point]:
    """Where a name of a part may stand, the best first."""
    left, top, right, bottom = part.box.bounds
    across = [left + share * (right - left) for share in (0.5, 0.25, 0.75, 0.1, 0.9)]
    spots = []
    if part.deep and bottom - top > 1.2 * size:
        inside = [at for at in across if left + half < at < right - half]
        spots += [(at, bottom - 0.9) for at in inside]
    base = bottom + 0.9 + 0.7 * size
    across += [right + half + 1.0, left - half - 1.0]
    spots += [(at, base + row * 1.5 * size) for row in range(2) for at in across]
    # Of what is small beside what has a name of its own: further off, yet nearest to it.
    aside = [away + half for away in (3.0, 5.0, 7.0)]
    ends = [at for away in aside for at in (right + away, left - away)]
    return [*spots, *((at, base + row * 1.5 * size) for at in ends for row in range(2))]


def _spans(mark: OverheadMark, y: float) -> Iterator[tuple[float, float, bool]]:
    """Stretches from west to east that a cut at y meets, or the whole of what is beyond it. [m]"""
    from shapely.geometry import LineString, Polygon

    shape: Any = Polygon(mark.outline)
    x0, y0, x1, y1 = shape.bounds
    if y0 > y:
        yield x0, x1, False
        return
    if y1 < y:
        return
    met: Any = shape.intersection(LineString(((x0 - 1.0, y), (x1 + 1.0, y))))
    for part in getattr(met, "geoms", [met]):
        if part.length > 0:
            yield part.bounds[0], part.bounds[2], True
