"""Section A–A: the room cut through its microphones, looking north."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Any

from wellheard.drawings.boxes import Box, Placer
from wellheard.drawings.canvas import Canvas
from wellheard.drawings.dimensions import grains, label, printed
from wellheard.drawings.sectionoverhead import draw_deep, draw_hung, parts_of
from wellheard.drawings.sectionpanels import DOOR_HEAD, draw_panels, write
from wellheard.drawings.sheet import Scale, extent, scales_for
from wellheard.drawings.tokens import Pen, size_mm
from wellheard.drawings.view import DeviceMark, PartitionMark, PlanView, Unit

_NOTE = size_mm("note")
_SMALL = 2.31
_WALL_MM = 1.0
_BETWEEN: dict[Unit, tuple[Scale, ...]] = {
    "m": (
        Scale("1 : 150", 150.0),
        Scale("1 : 250", 250.0),
        Scale("1 : 300", 300.0),
        Scale("1 : 400", 400.0),
    ),
    "ft": (Scale('3/32" = 1\'-0"', 128.0),),
}
"""Smaller steps than the plan's, so that the section fills its column."""

_BESIDE_MM = 5.9  # for the height dimension


@dataclass(frozen=True, slots=True)
class Cut:
    """Where the room is cut: y of the plane, and the stretches of floor it meets. [m]"""

    y: float
    spans: tuple[tuple[float, float], ...]
    through: tuple[DeviceMark, ...]
    beyond: tuple[DeviceMark, ...]


def cut_of(view: PlanView) -> Cut:
    """Return the cut through most microphones; of equals the southernmost, which hides least.

    Without devices the room is cut in the middle.
    """
    from shapely.geometry import LineString, Polygon

    x0, y0, x1, y1 = extent(view.outline)
    hung = [device for device in view.devices if device.microphone] or list(view.devices)
    y = (y0 + y1) / 2
    if hung:
        counts = Counter(round(device.at[1], 3) for device in hung)
        y = min(counts, key=lambda at: (-counts[at], at))
    y = min(max(y, y0 + 0.01), y1 - 0.01)
    line = LineString(((x0 - 1.0, y), (x1 + 1.0, y)))
    met: Any = Polygon(view.outline).intersection(line)
    parts = [part for part in getattr(met, "geoms", [met]) if part.length > 0.02]
    spans = tuple(sorted((part.bounds[0], part.bounds[2]) for part in parts))
    through = tuple(d for d in view.devices if abs(d.at[1] - y) < 0.05)
    beyond = tuple(d for d in view.devices if d.at[1] >= y + 0.05)
    return Cut(y, spans, through, beyond)


def section_scale(view: PlanView, *, width: float, height: float) -> Scale:
    """Return the standard scale at which the section fits a box on paper. [mm]"""
    x0, _, x1, _ = extent(view.outline)
    tall = view.height + (view.void_depth or 0.0)
    room = (width - _BESIDE_MM - 2 * _WALL_MM, height - 1.5)
    scales = (*scales_for(view.units), *_BETWEEN[view.units])
    fits = [s for s in scales if (x1 - x0) * s.mm_per_metre <= room[0]]
    fits = [s for s in fits if tall * s.mm_per_metre <= room[1]]
    if not fits:
        raise ValueError(f"a section of {x1 - x0:.1f} m × {tall:.1f} m fits at no standard scale")
    return min(fits, key=lambda scale: scale.ratio)


def draw(
    canvas: Canvas, view: PlanView, *, x: float, y: float, width: float, scale: Scale
) -> float:
    """Draw the section with its upper left corner at (x, y); return its height. [mm]"""
    cut, mm = cut_of(view), scale.mm_per_metre
    x0, _, x1, _ = extent(view.outline)
    void = view.void_depth or 0.0
    top = y + 0.35
    ceiling = top + void * mm
    floor = ceiling + view.height * mm
    left = x + _WALL_MM + max(0.0, (width - _BESIDE_MM - (x1 - x0) * mm - 2 * _WALL_MM) / 2)

    def px(metres: float) -> float:
        return left + (metres - x0) * mm

    def pz(metres: float) -> float:
        return floor - metres * mm

    placer = Placer(Box.spanning(x, top - 0.2, x + width, floor + 0.5))
    for a, b in cut.spans:
        placer.take(Box.spanning(px(a) - _WALL_MM, top, px(a), floor))
        placer.take(Box.spanning(px(b), top, px(b) + _WALL_MM, floor))
        placer.take(Box.spanning(px(a), ceiling - 0.2, px(b), ceiling + 0.2))
    placer.take(Box.spanning(px(cut.spans[-1][1]), top, x + width, floor))
    placer.take(*partition_boxes(view, cut, px=px, top=ceiling, bottom=floor))
    draw_shell(canvas, view, cut, px=px, pz=pz, top=top, ceiling=ceiling, floor=floor)
    draw_furniture(canvas, view, cut, px=px, pz=pz)
    overhead = parts_of(view, cut.y, px=px, pz=pz)
    draw_hung(canvas, overhead, placer, ceiling=ceiling)
    _draw_devices(canvas, view, cut, placer, px=px, pz=pz, ceiling=ceiling)
    draw_deep(canvas, overhead, placer)

    mouth = pz(view.mouth_height)
    for a, b in cut.spans:
        for start, end in gaps(px(a) + 3.0, px(b) - 3.0, mouth, placer):
            canvas.line(((start, mouth), (end, mouth)), pen="hair", colour="rule", dash="chain")
    text = f"mouth and ear, seated {printed(view.mouth_height, view.units)}"
    write(
        canvas,
        placer,
        text,
        [
            (px(a) + share * (px(b) - px(a)), mouth - 0.8)
            for a, b in cut.spans
            for share in (0.5, 0.35, 0.65, 0.28, 0.72)
        ],
        size=_SMALL,
    )
    if void * mm > 3.2:
        words = "air-return void" if view.air_return else "ceiling void"
        write(
            canvas,
            placer,
            words,
            [((px(a) + px(b)) / 2 + 0.3 * (px(b) - px(a)), ceiling - 1.5) for a, b in cut.spans],
            size=_SMALL,
        )
    draw_panels(canvas, view, cut.y, placer, px=px, pz=pz, size=_SMALL)

    at = px(cut.spans[-1][1]) + _WALL_MM + 2.6
    canvas.line(((at, floor), (at, ceiling)), pen="hair")
    for level in (ceiling, floor):
        canvas.line(((at - 1.6, level), (at + 0.9, level)), pen="hair")
        canvas.line(((at - 0.7, level + 0.7), (at + 0.7, level - 0.7)), pen="fine")
    canvas.text(
        printed(view.height, view.units),
        (at + 0.9 + 0.7 * _NOTE, (ceiling + floor) / 2),
        size=_NOTE,
        anchor="middle",
        angle_deg=-90.0,
    )
    return floor + 0.35 - y


def draw_shell(
    canvas: Canvas,
    view: PlanView,
    cut: Cut,
    *,
    px: Any,
    pz: Any,
    top: float,
    ceiling: float,
    floor: float,
) -> None:
    """Draw floor, ceiling and walls as they are cut, openings and pictures in them."""
    for a, b in cut.spans:
        left, right = px(a), px(b)
        for level in (top, floor):
            canvas.line(((left - _WALL_MM, level), (right + _WALL_MM, level)), pen="heavy")
        if ceiling - top > 0.5:
            canvas.line(((left, ceiling), (right, ceiling)), pen="mid")
            _draw_tile_ticks(canvas, view, a, b, px, ceiling)
        for x, edge in ((a, left - _WALL_MM), (b, right)):
            opening = _opening(view, x, cut.y)
            if opening is None:
                canvas.rectangle(edge, top, _WALL_MM, floor - top, fill="ink")
                continue
            low, high = pz(opening[0]), pz(opening[1])
            canvas.rectangle(edge, top, _WALL_MM, high - top, fill="ink")
            if floor - low > 0.05:
                canvas.rectangle(edge, low, _WALL_MM, floor - low, fill="ink")
            middle = edge + _WALL_MM / 2
            canvas.line(((middle, high), (middle, low)), pen="thin")
    for x, mark in _partitions_met(view, cut.y):
        half = _WALL_MM / 3 if mark.closed else 0.0
        for side in {-half, half}:
            canvas.line(
                ((px(x) + side, ceiling), (px(x) + side, floor)),
                pen="thin",
                dash="solid" if mark.closed else "dashed",
            )
    for display in view.displays:
        start = view.outline[display.wall]
        end = view.outline[(display.wall + 1) % len(view.outline)]
        if abs(end[0] - start[0]) > 1e-6:
            continue
        side = 1.0 if end[1] < start[1] else -1.0  # a west wall runs south in the outline
        x = px(start[0]) + (0.2 if side > 0 else -1.0)
        canvas.rectangle(x, pz(display.top), 0.8, pz(display.bottom) - pz(display.top), fill="ink")


def partition_boxes(view: PlanView, cut: Cut, *, px: Any, top: float, bottom: float) -> list[Box]:
    """Return what the partitions that a cut meets take on paper: no word crosses them."""
    met = (px(x) for x, _ in _partitions_met(view, cut.y))
    return [Box.spanning(x - _WALL_MM / 2, top, x + _WALL_MM / 2, bottom) for x in met]


def gaps(start: float, end: float, level: float, placer: Placer) -> list[tuple[float, float]]:
    """Return the stretches of a level line that cross nothing written."""
    crossed = sorted(
        (box.bounds[0] - 0.6, box.bounds[2] + 0.6)
        for box in placer.taken
        if box.bounds[1] - 0.4 < level < box.bounds[3] + 0.4
    )
    free = []
    for left, right in crossed:
        if min(left, end) - start > 1.0:
            free.append((start, min(left, end)))
        start = max(start, right)
    if end - start > 1.0:
        free.append((start, end))
    return free


def _draw_tile_ticks(
    canvas: Canvas, view: PlanView, a: float, b: float, px: Any, ceiling: float
) -> None:
    grid = view.ceiling
    if grid is None or abs(grid.rotation_deg % 90.0) > 0.01:
        return
    module = grid.module[0 if abs(grid.rotation_deg % 180.0) < 0.01 else 1]
    k = int((a - grid.origin[0]) / module) - 1
    while grid.origin[0] + k * module < b:
        at = grid.origin[0] + k * module
        if at > a:
            canvas.line(((px(at), ceiling), (px(at), ceiling - 0.9)), pen="hair")
        k += 1


def _partitions_met(view: PlanView, y: float) -> list[tuple[float, PartitionMark]]:
    """Where the cut meets which partition. [m]"""
    found = []
    for mark in view.partitions:
        (x0, y0), (x1, y1) = mark.start, mark.end
        if min(y0, y1) <= y <= max(y0, y1) and y0 != y1:
            found.append((x0 + (x1 - x0) * (y - y0) / (y1 - y0), mark))
    return found


def name_partitions(
    canvas: Canvas, view: PlanView, cut: Cut, placer: Placer, *, px: Any, pz: Any, size: float
) -> None:
    """Write beside each partition that the cut meets what it is called, and whether it is open."""
    for x, mark in _partitions_met(view, cut.y):
        words = f"{mark.id.replace('-', ' ')}, {'closed' if mark.closed else 'open'}"
        levels = [pz(share * view.height) for share in (0.8, 0.7, 0.6, 0.15, 0.1)]
        spots = [(px(x) + side * 1.4, level) for level in levels for side in (1, -1)]
        write(canvas, placer, words, spots, anchors=("start", "end") * len(levels), size=size)


def _opening(view: PlanView, x: float, y: float) -> tuple[float, float] | None:
    """Return sill and head of the window or door that the cut meets at x, if any."""
    for patch in view.patches:
        if patch.kind not in ("door", "window"):
            continue
        a = view.outline[patch.wall]
        b = view.outline[(patch.wall + 1) % len(view.outline)]
        if abs(a[0] - b[0]) > 1e-6 or abs(a[0] - x) > 0.02:
            continue
        along = abs(y - a[1])
        if patch.start <= along <= patch.end:
            return patch.bottom, patch.top if patch.top is not None else DOOR_HEAD
    return None


def draw_furniture(canvas: Canvas, view: PlanView, cut: Cut, *, px: Any, pz: Any) -> None:
    """Draw what stands at the cut and beyond it."""
    for item in view.furniture:
        x0, y0, x1, y1 = extent(item.outline)
        if item.height is None or y1 < cut.y:
            continue
        pen: Pen = "thin" if y0 <= cut.y else "hair"
        left, right, level = px(x0), px(x1), pz(item.height)
        canvas.rectangle(left, level, right - left, 0.5, fill="paper", pen=pen)
        for at in (left + 0.18 * (right - left), right - 0.18 * (right - left)):
            canvas.line(((at, level + 0.5), (at, pz(0.0))), pen=pen)


def _draw_devices(
    canvas: Canvas,
    view: PlanView,
    cut: Cut,
    placer: Placer,
    *,
    px: Any,
    pz: Any,
    ceiling: float,
) -> None:
    shown = [*cut.through, *cut.beyond]
    seen: dict[tuple[float, float], list[str]] = {}
    for device in shown:
        seen.setdefault((round(device.at[0], 2), round(device.at[2], 2)), []).append(device.label)
    spots = {key: (px(key[0]), pz(key[1])) for key in seen}
    placer.take(*(Box(at, 2.2, 2.2) for at in spots.values()))
    dimensioned = False
    for device in sorted(shown, key=lambda d: d.at[0]):
        key = (round(device.at[0], 2), round(device.at[2], 2))
        if key not in seen:
            continue
        x, z = spots[key]
        text = ", ".join(seen.pop(key))
        if device.drop is not None and device.drop > 0.02:
            canvas.line(((x, ceiling), (x, z)), pen="thin")
        canvas.circle((x, z), 1.0, fill="paper", pen="fine")
        if not dimensioned and device.drop is not None and z - ceiling > 3.0:
            dimensioned = _draw_drop(canvas, view, placer, device.drop, x=x, z=z, ceiling=ceiling)
        cap = 0.35 * _NOTE
        write(
            canvas,
            placer,
            text,
            [(x + 1.9, z + cap), (x - 1.9, z + cap), (x, z + 3.6), (x, z + 6.4)],
            anchors=("start", "end", "middle", "middle"),
            size=_NOTE,
            strong=True,
        )


def _draw_drop(
    canvas: Canvas,
    view: PlanView,
    placer: Placer,
    drop: float,
    *,
    x: float,
    z: float,
    ceiling: float,
) -> bool:
    """Dimension a drop beside its device; False where there is no room for it."""
    text = label(grains(drop, view.units), view.units)
    for away, side in ((11.0, -1), (11.0, 1), (8.0, -1), (8.0, 1), (16.0, -1), (16.0, 1)):
        at = x + side * away
        base = (at + side * 1.2, (ceiling + z) / 2 + 0.35 * _NOTE)
        record = Canvas().text(text, base, size=_NOTE, anchor="start" if side > 0 else "end")
        line = Box.spanning(at - 0.9, ceiling + 0.3, at + 0.9, z + 0.9)
        tail = ((at + side * 1.0, z), (x + side * min(7.6, away - 2.0), z))
        taken = (record.box, line, Box.spanning(*tail[0], *tail[1]).grown(0.2))
        if all(placer.is_free(box) for box in taken):
            break
    else:
        return False
    canvas.line(((at, ceiling), (at, z)), pen="hair")
    canvas.line(tail, pen="hair")
    for level in (ceiling, z):
        canvas.line(((at - 0.7, level + 0.7), (at + 0.7, level - 0.7)), pen="fine")
    canvas.commands.append(record)
    placer.take(*taken)
    return True


def note_of(cut: Cut) -> str:
    """Return what the cut meets and what stands beyond it; "" when nothing stands beyond."""
    through = ", ".join(device.label for device in cut.through if device.microphone)
    beyond = ", ".join(device.label for device in cut.beyond if device.microphone)
    return f"Through {through}; beyond: {beyond}." if through and beyond else ""
