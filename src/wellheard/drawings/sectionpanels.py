"""Panels of walls, ceiling and floor in a section: cut where it meets them, outlined beyond.

Windows, doors, pictures and corners of the walls are outlined beyond it, too; where a wall is cut,
whoever draws the wall draws them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Literal

from wellheard.drawings.boxes import Box, Placer
from wellheard.drawings.canvas import Anchor, Canvas, points
from wellheard.drawings.lettering import text_width
from wellheard.drawings.tokens import Face, Pen
from wellheard.drawings.view import Display, Patch, PlanView, Point

DEEP = 1.1
"""Of a panel that is cut, on paper. [mm]"""
LEAST = 0.05
"""What is narrower than this is seen from its edge. [m]"""
NEAR = 0.4
"""Kept between a line and letters. [mm]"""
SCRAP = 4.0
"""What is left of the edge of a corner between names tells nothing when it is shorter. [mm]"""
FRAME = 0.7
"""Of a window or a door that is seen, on paper. [mm]"""
SHARPEST_CURVE_DEG = 30.0
"""Where walls turn by less than this from one piece to the next, they are round."""
DOOR_HEAD = 2.1
"""Where the document does not say how high a door or a window reaches. [m]"""

Side = Literal["west", "east", "above", "below", "beyond"]
"""Where the room's surface is behind a panel that is cut; beyond is one that is seen."""
Kind = Literal["panel", "board", "window", "door", "picture"]


@dataclass(frozen=True, slots=True)
class Panel:
    """A panel on paper, or whatever else is seen of a wall."""

    name: str
    box: Box
    side: Side
    dashed: bool = False
    kind: Kind = "panel"


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
    """Draw panels that a cut at ``y`` meets, and what it has in view of the walls, with names.

    A name without room is left out.

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
    from shapely import LineString, union_all
    from shapely import box as rectangle

    panels = (*_on_walls(view, y, px, pz), *_on_level(view, y, px, pz))
    for panel in panels:
        spots, anchors = _spots(panel, size)
        write(canvas, placer, panel.name, spots, anchors=anchors, size=size)
    taken = (one.grown(NEAR).bounds for one in placer.taken)
    keep_off = union_all([rectangle(*bounds) for bounds in taken])
    for panel in panels:
        _draw(canvas, panel, keep_off)
    floor, ceiling = pz(0.0), pz(view.height)
    for at in map(px, _corners(view, y)):
        edge: Any = LineString(((at, floor), (at, ceiling)))
        canvas.line(*_runs(edge.difference(keep_off), least=SCRAP), pen="hair")


def _corners(view: PlanView, y: float) -> list[float]:
    """Corners of the walls in view beyond the cut, none at a wall that is cut. [m]"""
    ring = view.outline
    cut = [
        x0 + (x1 - x0) * (y - y0) / (y1 - y0)
        for (x0, y0), (x1, y1) in pairwise((*ring, ring[0]))
        if min(y0, y1) <= y <= max(y0, y1) and y0 != y1
    ]
    found = set()
    for k, (x, far) in enumerate(ring):
        before, after = ring[k - 1], ring[(k + 1) % len(ring)]
        came = math.atan2(far - before[1], x - before[0])
        turn = math.degrees(math.atan2(after[1] - far, after[0] - x) - came)
        sharp = abs((turn + 180.0) % 360.0 - 180.0) > SHARPEST_CURVE_DEG
        apart = all(abs(x - at) > LEAST for at in cut)
        if sharp and apart and far > y and _seen(view, y, (x, far)):
            found.add(round(x, 6))
    return sorted(found)


def _on_walls(
    view: PlanView, y: float, px: Callable[[float], float], pz: Callable[[float], float]
) -> Iterator[Panel]:
    for patch, kind, name in _flat_on_walls(view):
        (x0, y0), (x1, y1) = _ends(view, patch)
        highest = DOOR_HEAD if kind in ("window", "door") else view.height
        top = pz(highest if patch.top is None else patch.top)
        bottom = pz(patch.bottom)
        if min(y0, y1) <= y <= max(y0, y1) and y0 != y1:
            if kind not in ("panel", "board"):
                continue  # drawn with its wall
            # The outline runs anticlockwise: on its way south the room is to the east.
            at = px(x0 + (x1 - x0) * (y - y0) / (y1 - y0))
            inward = DEEP if y1 < y0 else -DEEP
            box = Box.spanning(at, top, at + inward, bottom)
            yield Panel(name, box, "west" if inward > 0 else "east")
        elif min(y0, y1) > y and x0 - x1 > LEAST and _seen(view, y, ((x0 + x1) / 2, (y0 + y1) / 2)):
            yield Panel(name, Box.spanning(px(x1), top, px(x0), bottom), "beyond", kind=kind)


def _flat_on_walls(view: PlanView) -> Iterator[tuple[Patch | Display, Kind, str]]:
    """Everything that is flat on a wall, what it is, and its name."""
    for patch in view.patches:
        yield patch, patch.kind, patch.label or patch.id
    for display in view.displays:
        yield display, "picture", display.id.replace("-", " ")


def _ends(view: PlanView, patch: Patch | Display) -> tuple[Point, Point]:
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
    pen: Pen = "thin" if panel.kind == "picture" else "hair"
    canvas.line(*_runs(ring.difference(keep_off)), pen=pen, dash=dash)
    if panel.side != "beyond" or panel.kind == "picture":
        return
    if panel.kind in ("panel", "board"):
        inner = LineString(((left, bottom), (right, top)))
    else:
        inner = _inner_frame(panel)
    canvas.line(*_runs(inner.difference(keep_off)), pen="hair", colour="rule")


def _inner_frame(panel: Panel) -> Any:
    """Inner edge of the frame of a window, or of a door, whose frame ends at the floor."""
    from shapely.geometry import LineString

    left, top, right, bottom = panel.box.bounds
    left, top, right = left + FRAME, top + FRAME, right - FRAME
    if right - left < FRAME:
        return LineString()
    if panel.kind == "door":
        return LineString(((left, bottom), (left, top), (right, top), (right, bottom)))
    low = bottom - FRAME
    return LineString(((left, top), (right, top), (right, low), (left, low), (left, top)))


def _zigzag(panel: Panel) -> list[Point]:
    """The sign of an absorber, along a panel that is cut."""
    left, top, right, bottom = panel.box.bounds
    upright = panel.side in ("west", "east")
    long = bottom - top if upright else right - left
    teeth = max(2 * round(long / 4.0), 2)
    if upright:
        return [(right if k % 2 else left, top + long * k / teeth) for k in range(teeth + 1)]
    return [(left + long * k / teeth, bottom if k % 2 else top) for k in range(teeth + 1)]


def _runs(shape: Any, *, least: float = 0.3) -> list[tuple[Point, ...]]:
    """Lines of a shape that are long enough to be seen as lines. [mm]"""
    parts = getattr(shape, "geoms", [shape])
    return [points(part.coords) for part in parts if part.length > least]


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
