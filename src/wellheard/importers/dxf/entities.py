"""What single entities are: lines in the coordinates of their block, texts, hatches."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from wellheard.errors import visible
from wellheard.importers import curves
from wellheard.importers.dxf.pieces import Pattern, Piece, Words

LONGEST_TEXT = 400
MOST_LINES = 40
"""Of one text."""


@dataclass(slots=True)
class Local:
    """An entity in the coordinates of its block."""

    piece: Piece
    points: list[Any]
    centres: list[Any]


class Unknown(Exception):
    """An entity of a kind that nothing is known of."""


def clean(text: str) -> str:
    return visible(" ".join(text[:LONGEST_TEXT].split()))


def words_of(entity: Any, kind: str, layer: str) -> Iterator[tuple[Words, Any]]:
    """Yield the lines of a text with their place, which is that of the whole."""
    from ezdxf.math import Vec3
    from ezdxf.tools.text import plain_mtext, plain_text

    if kind == "MTEXT":
        raw = entity.text[: 20 * LONGEST_TEXT]
        lines = plain_mtext(raw, split=True)[:MOST_LINES]
        for line in filter(None, map(clean, lines)):
            yield Words(line, layer, (0, 0), entity.dxf.char_height), Vec3(entity.dxf.insert)
        return
    start, end = entity.dxf.insert, entity.dxf.get("align_point")
    # Centred texts have their place in the second point; both ends of a fitted one are its own.
    aligned = end is not None and (entity.dxf.get("halign", 0) or entity.dxf.get("valign", 0))
    place = entity.ocs().to_wcs(Vec3(end if aligned else start))
    said = plain_text(entity.dxf.text[: 2 * LONGEST_TEXT])
    yield Words(clean(said), layer, (0, 0), entity.dxf.height), Vec3(place)


def pattern_of(entity: Any, layer: str, sagitta: float) -> tuple[Pattern, list[list[Any]]]:
    lines = tuple(
        (line.angle, (line.base_point.x, line.base_point.y), (line.offset.x, line.offset.y))
        for line in entity.pattern.lines[:8]
        if not line.dash_length_items
    )
    return Pattern(layer, lines, ()), list(_boundaries(entity, sagitta))


def _boundaries(entity: Any, sagitta: float) -> Iterator[list[Any]]:
    """Yield the outlines of a hatch."""
    from ezdxf import path

    for outline in path.from_hatch(entity):
        if len(outline) > curves.MOST_LINES * 10:
            continue
        points = list(outline.flattening(max(sagitta, 1e-9), segments=4))
        if len(points) > 2:
            yield points


def pieces_of(entity: Any, kind: str, layer: str, sagitta: float, left: int) -> Iterator[Local]:
    """Yield the pieces of an entity in the coordinates of its block."""
    from ezdxf.math import Vec3

    thickness = entity.dxf.get("thickness", 0.0) if entity.dxf.is_supported("thickness") else 0.0
    local = partial(_local, kind, layer, thickness)
    if kind == "LINE":
        yield local([entity.dxf.start, entity.dxf.end])
    elif kind in ("LWPOLYLINE", "POLYLINE"):
        yield _polyline(entity, kind, local, sagitta)
    elif kind in ("ARC", "CIRCLE"):
        x, y, z = Vec3(entity.dxf.center)
        start, sweep = 0.0, math.tau
        if kind == "ARC":
            start = math.radians(entity.dxf.start_angle)
            sweep = (math.radians(entity.dxf.end_angle) - start) % math.tau or math.tau
        if not math.isfinite(entity.dxf.radius):
            raise ValueError
        plane = curves.arc((x, y), abs(entity.dxf.radius), start, sweep, sagitta)
        ocs = entity.ocs()
        centre = [Vec3(ocs.to_wcs(Vec3(x, y, z)))]
        points = list(ocs.points_to_wcs(Vec3(u, v, z) for u, v in plane))
        yield local(points, closed=kind == "CIRCLE", centres=centre)
    elif kind == "ELLIPSE":
        points = curves.ellipse(entity, sagitta)
        yield local(points, closed=points[0].isclose(points[-1]))
    elif kind == "SPLINE":
        points = curves.spline(entity)
        yield local(points, closed=bool(entity.closed))
    elif kind in ("SOLID", "TRACE", "3DFACE"):
        names = ("vtx0", "vtx1", "vtx3", "vtx2") if kind != "3DFACE" else None
        corners = [entity.dxf.get(n) for n in names or ("vtx0", "vtx1", "vtx2", "vtx3")]
        points = [Vec3(c) for c in corners if c is not None]
        if names:
            points = list(entity.ocs().points_to_wcs(points))
        yield local([*points, points[0]], closed=True, solid=kind != "3DFACE")
    elif kind == "HATCH":
        for points in _boundaries(entity, sagitta):
            yield local(points, closed=True, solid=bool(entity.dxf.solid_fill))
    elif kind == "MLINE":
        for count, part in enumerate(entity.virtual_entities()):
            if count > left:
                break
            yield from pieces_of(part, part.dxftype(), layer, sagitta, left)
    else:
        raise Unknown


def _local(
    kind: str,
    layer: str,
    thickness: float,
    points: list[Any],
    *,
    closed: bool = False,
    centres: Sequence[Any] = (),
    solid: bool = False,
) -> Local:
    piece = Piece(kind, layer, [], closed, thickness=thickness, solid=solid)
    return Local(piece, points, list(centres))


def _polyline(entity: Any, kind: str, local: Callable[..., Local], sagitta: float) -> Local:
    from ezdxf.math import Vec3

    if kind == "LWPOLYLINE":
        corners = [(x, y, b) for x, y, b in entity.get_points("xyb")]
        height, closed = entity.dxf.elevation, bool(entity.closed)
    elif entity.is_2d_polyline:
        # Control points of a curve that was fitted through others are not on it.
        drawn = [v for v in entity.vertices if not v.dxf.flags & 16]
        corners = [(v.dxf.location.x, v.dxf.location.y, v.dxf.get("bulge", 0.0)) for v in drawn]
        height, closed = Vec3(entity.dxf.get("elevation", (0, 0, 0))).z, bool(entity.is_closed)
    elif entity.is_3d_polyline:
        points = [Vec3(v.dxf.location) for v in entity.vertices if not v.dxf.flags & 16]
        closed = bool(entity.is_closed)
        return local([*points, points[0]] if closed else points, closed=closed)
    else:
        raise Unknown
    plane, centres = curves.bulged(corners, closed, sagitta)
    ocs = entity.ocs()
    points = list(ocs.points_to_wcs(Vec3(x, y, height) for x, y in plane))
    return local(
        points,
        closed=closed,
        centres=list(ocs.points_to_wcs(Vec3(x, y, height) for x, y in centres)),
    )
