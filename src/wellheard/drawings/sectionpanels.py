"""Panels of walls, ceiling and floor in a section: cut where it meets them, outlined beyond."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from wellheard.drawings.boxes import Box, Placer
from wellheard.drawings.canvas import Anchor, Canvas, points
from wellheard.drawings.lettering import text_width
from wellheard.drawings.tokens import Face
from wellheard.drawings.view import Patch, PlanView, Point

DEEP = 1.1
"""Of a panel that is cut, on paper. [mm]"""
LEAST = 0.05
"""What is narrower than this is seen from its edge. [m]"""
NEAR = 0.4
"""Kept between a line and letters. [mm]"""

Side = Literal["west", "east", "above", "below", "beyond"]
"""Where the room's surface is behind a panel that is cut; beyond is one that is seen."""


@dataclass(frozen=True, slots=True)
class Panel:
    """A panel on paper."""

    name: str
    box: Box
    side: Side
    dashed: bool = False


def draw_panels(
    canvas: Canvas,
    view: PlanView,
    y: float,
    placer: Placer,
    *,
    px: Callable[[float], float],
    pz: Callable[[float], float],
    size: float,
) -> None:
    """Draw panels that a cut at ``y`` meets or has in view, each with its name where it has room.

    Parameters
    ----------
    canvas : Canvas
        With everything else on it already.
    view : PlanView
        The room; the section looks north.
    y : float
        Of the plane. [m]
    placer : Placer
        What is written, which no line of a panel crosses.
    px, pz : callable
        From metres east, and above the floor, to paper.
    size : float
        Of the letters. [mm]
    """
    from shapely import box as rectangle
    from shapely import union_all

    panels = (*_on_walls(view, y, px, pz), *_on_level(view, y, px, pz))
    for panel in panels:
        spots, anchors = _spots(panel, size)
        write(canvas, placer, panel.name, spots, anchors=anchors, size=size)
    taken = (one.grown(NEAR).bounds for one in placer.taken)
    keep_off = union_all([rectangle(*bounds) for bounds in taken])
    for panel in panels:
        _draw(canvas, panel, keep_off)


def _on_walls(
    view: PlanView, y: float, px: Callable[[float], float], pz: Callable[[float], float]
) -> Iterator[Panel]:
    for patch in view.patches:
        if patch.kind not in ("panel", "board"):
            continue
        (x0, y0), (x1, y1) = _ends(view, patch)
        top = pz(view.height if patch.top is None else patch.top)
        bottom = pz(patch.bottom)
        name = patch.label or patch.id
        if min(y0, y1) <= y <= max(y0, y1) and y0 != y1:
            # The outline runs anticlockwise: on its way south the room is to the east.
            at = px(x0 + (x1 - x0) * (y - y0) / (y1 - y0))
            inward = DEEP if y1 < y0 else -DEEP
            box = Box.spanning(at, top, at + inward, bottom)
            yield Panel(name, box, "west" if inward > 0 else "east")
        elif min(y0, y1) > y and x0 - x1 > LEAST and _seen(view, y, ((x0 + x1) / 2, (y0 + y1) / 2)):
            yield Panel(name, Box.spanning(px(x1), top, px(x0), bottom), "beyond")


def _ends(view: PlanView, patch: Patch) -> tuple[Point, Point]:
    """Both ends of a patch on the plan. [m]"""
    a, b = view.outline[patch.wall], view.outline[(patch.wall + 1) % len(view.outline)]
    length = ((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2) ** 0.5

    def at(along: float) -> Point:
        share = along / length
        return a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])

    return at(patch.start), at(patch.end)


def _seen(view: PlanView, y: float, point: Point) -> bool:
    """Whether no wall of the room stands between the plane and a point beyond it."""
    from shapely.geometry import LineString, Polygon

    sight = LineString(((point[0], y), point))
    return bool(Polygon(view.outline).buffer(1e-6).covers(sight))


def _on_level(
    view: PlanView, y: float, px: Callable[[float], float], pz: Callable[[float], float]
) -> Iterator[Panel]:
    from shapely.geometry import LineString, Polygon

    for one in view.level_patches:
        under = one.surface == "ceiling"
        level = pz(view.height) if under else pz(0.0) - DEEP
        side: Side = "above" if under else "below"
        name = one.id.replace("-", " ")
        shape: Any = Polygon(one.outline)
        x0, y0, x1, _ = shape.bounds
        met: Any = shape.intersection(LineString(((x0 - 1.0, y), (x1 + 1.0, y))))
        if y0 > y and under:
            box = Box.spanning(px(x0), level, px(x1), level + DEEP)
            yield Panel(name, box, side, dashed=True)
        for part in getattr(met, "geoms", [met]):
            if part.length > LEAST:
                start, _, end, _ = part.bounds
                yield Panel(name, Box.spanning(px(start), level, px(end), level + DEEP), side)


def _spots(panel: Panel, size: float) -> tuple[list[Point], tuple[Anchor, ...]]:
    """Where a name may stand, the best first; of one that is seen in it or on it."""
    left, top, right, bottom = panel.box.bounds
    y = panel.box.centre[1]
    rows = [y, *(y + sign * step * 1.6 * size for step in range(1, 6) for sign in (-1, 1))]
    if panel.side in ("west", "east"):
        at = right + 1.0 if panel.side == "west" else left - 1.0
        beside = [(at, row + 0.35 * size) for row in rows if top < row < bottom] or [(at, y)]
        return beside, ("start" if panel.side == "west" else "end",)
    columns = [left + (right - left) * share for share in (0.5, 0.25, 0.75, 0.1, 0.9)]
    if panel.side == "beyond":
        half = text_width(panel.name, size) / 2 + NEAR
        columns = [at for at in columns if left + half <= at <= right - half]
        bases = [y + 0.35 * size, top + 1.4 * size, bottom - 0.7 * size]
        bases = [base for base in bases if top + 0.7 * size + NEAR <= base <= bottom - NEAR]
        bases.append(top - 0.8)
    elif panel.side == "above":
        bases = [bottom + 0.9 + 0.7 * size + row * 1.5 * size for row in range(3)]
    else:
        bases = [top - 0.9 - row * 1.5 * size for row in range(3)]
    return [(column, base) for base in bases for column in columns], ("middle",)


def _draw(canvas: Canvas, panel: Panel, keep_off: Any) -> None:
    from shapely.geometry import LineString

    left, top, right, bottom = panel.box.bounds
    if panel.side != "beyond" and not panel.dashed:
        canvas.rectangle(left, top, right - left, bottom - top, fill="paper", pen="thin")
        canvas.line(_zigzag(panel), pen="hair")
        return
    ring = LineString(((left, top), (right, top), (right, bottom), (left, bottom), (left, top)))
    dash: Literal["solid", "dashed"] = "dashed" if panel.dashed else "solid"
    canvas.line(*_runs(ring.difference(keep_off)), pen="hair", dash=dash)
    if panel.side == "beyond":
        across = LineString(((left, bottom), (right, top))).difference(keep_off)
        canvas.line(*_runs(across), pen="hair", colour="rule")


def _zigzag(panel: Panel) -> list[Point]:
    """The sign of an absorber, along a panel that is cut."""
    left, top, right, bottom = panel.box.bounds
    upright = panel.side in ("west", "east")
    long = bottom - top if upright else right - left
    teeth = max(2 * round(long / 4.0), 2)
    if upright:
        return [(right if k % 2 else left, top + long * k / teeth) for k in range(teeth + 1)]
    return [(left + long * k / teeth, bottom if k % 2 else top) for k in range(teeth + 1)]


def _runs(shape: Any) -> list[tuple[Point, ...]]:
    parts = getattr(shape, "geoms", [shape])
    return [points(part.coords) for part in parts if part.length > 0.3]


def write(
    canvas: Canvas,
    placer: Placer,
    text: str,
    spots: Sequence[Point],
    *,
    anchors: Sequence[Anchor] = ("middle",),
    size: float,
    strong: bool = False,
) -> None:
    """Write at the first free spot; a word without room is left out."""
    for index, spot in enumerate(spots):
        anchor = anchors[min(index, len(anchors) - 1)]
        face: Face = "semibold" if strong else "regular"
        trial = Canvas().text(text, spot, size=size, face=face, anchor=anchor)
        if placer.is_free(trial.box.grown(0.5)):
            colour = "ink" if strong else "ink-2"
            canvas.text(text, spot, size=size, face=face, colour=colour, anchor=anchor)
            placer.take(trial.box)
            return
