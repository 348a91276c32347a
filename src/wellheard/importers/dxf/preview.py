"""The lines of a plan for a small picture: few, and straight."""

from __future__ import annotations

import math

from wellheard.importers.dxf.pieces import Flattened, Piece
from wellheard.importers.found import Point

MOST = 4000
MOST_POINTS = 40_000
FINE = 1 / 2000
"""What is not seen in a picture, in parts of the plan's size."""


def strokes_of(flat: Flattened) -> tuple[tuple[Point, ...], ...]:
    """Return the lines of a plan, the longest where there are more than a picture shows. [m]"""
    pieces = [piece for piece in flat.pieces if len(piece.points) > 1]
    if len(pieces) > MOST:
        pieces.sort(key=_length, reverse=True)
        pieces = pieces[:MOST]
    xs = [x for piece in pieces for x, _ in piece.points]
    ys = [y for piece in pieces for _, y in piece.points]
    if not xs:
        return ()
    fine = FINE * math.hypot(max(xs) - min(xs), max(ys) - min(ys))
    kept: list[tuple[Point, ...]] = []
    left = MOST_POINTS
    for piece in pieces:
        stroke = _straightened(piece.points, fine)
        left -= len(stroke)
        if left < 0:
            break
        kept.append(stroke)
    return tuple(kept)


def _length(piece: Piece) -> float:
    return sum(math.dist(a, b) for a, b in zip(piece.points, piece.points[1:], strict=False))


def _straightened(points: list[Point], fine: float) -> tuple[Point, ...]:
    if len(points) < 3 or not fine:
        return tuple(points)
    import shapely

    line = shapely.LineString(points).simplify(fine)
    return tuple((x, y) for x, y in line.coords)
