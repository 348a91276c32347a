"""How long a unit of a drawing is: what the user says, what the file says, or a question."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from wellheard.errors import InputError
from wellheard.importers.dxf.pieces import Piece
from wellheard.importers.found import UnitUnstated

METRES = {"mm": 0.001, "cm": 0.01, "m": 1.0, "in": 0.0254, "ft": 0.3048}
"""Units that a user may name."""
STATED = {
    1: ("in", 0.0254),
    2: ("ft", 0.3048),
    4: ("mm", 0.001),
    5: ("cm", 0.01),
    6: ("m", 1.0),
    7: ("km", 1000.0),
    8: ("microinch", 0.0254e-6),
    9: ("mil", 0.0254e-3),
    10: ("yd", 0.9144),
    13: ("micron", 1e-6),
    14: ("dm", 0.1),
    15: ("dam", 10.0),
    16: ("hm", 100.0),
    21: ("US survey foot", 1200 / 3937),
    22: ("US survey inch", 100 / 3937),
    23: ("US survey yard", 3600 / 3937),
}
"""Units that a file may state in $INSUNITS, as the DXF reference numbers them (from memory)."""
GUESSED = "mm"
"""Unit in which a drawing is laid out that states none, to measure it."""
ROOM = (2.0, 60.0)
"""How wide and deep rooms are. [m]"""
LEAF = (0.6, 1.3)
"""How wide leaves of doors are. [m]"""


def unit_of(document: Any, asked: str | None, name: str) -> tuple[str, float, str] | None:
    """Return the unit, its metres and who says so; None where neither file nor user does."""
    if asked is not None:
        if asked not in METRES:
            raise InputError(
                f"{name}: {asked!r} is no unit of a drawing; write one of {', '.join(METRES)}"
            )
        return asked, METRES[asked], "as asked for"
    code = document.header.get("$INSUNITS", 0)
    if code in STATED:
        unit, metres = STATED[code]
        return unit, metres, "stated in the file ($INSUNITS)"
    return None


def unstated(document: Any, name: str, pieces: Iterable[Piece]) -> UnitUnstated:
    """Return the question for the unit, with the sizes that each would give.

    Parameters
    ----------
    document : ezdxf document
        Whose header hints at metres or feet.
    name : str
        Of the file, for the message.
    pieces : iterable of Piece
        As if its unit were the `GUESSED`.
    """
    everything = list(pieces)
    guessed = METRES[GUESSED]
    size = _largest_outline(everything) or _extents(p for piece in everything for p in piece.points)
    radii = [
        math.dist(piece.centre, piece.points[0]) / guessed
        for piece in everything
        if piece.kind == "ARC" and piece.centre is not None and 60 < _sweep_deg(piece) < 120
    ]
    metric = document.header.get("$MEASUREMENT", 1) == 1
    width, depth = max(size) / guessed, min(size) / guessed

    def likely(unit: str) -> tuple[float, float, float]:
        metres = METRES[unit]
        off = sum(_off_a_room(side * metres) for side in (width, depth))
        doors = sum(LEAF[0] <= radius * metres <= LEAF[1] for radius in radii)
        hinted = (unit in ("mm", "cm", "m")) == metric
        return off - (3.0 if doors * 2 > len(radii) else 0.0) - 0.5 * hinted, -doors, metres

    order = sorted(METRES, key=likely)
    sizes = tuple((unit, width * METRES[unit], depth * METRES[unit]) for unit in order)
    said = "; ".join(f"{u}: {w:.4g} × {d:.4g} m" for u, w, d in sizes)
    return UnitUnstated(
        f"{name}: the drawing does not say its unit ($INSUNITS is absent or 0); say which, "
        f"the largest outline would be in {said}",
        sizes,
    )


def _off_a_room(side: float) -> float:
    """How many times too small or too large a side is for a room, as a logarithm."""
    if not side > 0:
        return 0.0
    return max(0.0, math.log(ROOM[0] / side), math.log(side / ROOM[1]))


def _sweep_deg(piece: Piece) -> float:
    assert piece.centre is not None
    (x, y), (ax, ay), (bx, by) = piece.centre, piece.points[0], piece.points[-1]
    turn = math.atan2(by - y, bx - x) - math.atan2(ay - y, ax - x)
    angle = abs(math.degrees(turn)) % 360
    return min(angle, 360 - angle)


def _largest_outline(pieces: Iterable[Piece]) -> tuple[float, float] | None:
    sizes = [_extents(piece.points) for piece in pieces if piece.closed and len(piece.points) > 3]
    return max(sizes, key=lambda s: s[0] * s[1], default=None)


def _extents(points: Iterable[tuple[float, float]]) -> tuple[float, float]:
    xs, ys = zip(*points, strict=True)
    return max(xs) - min(xs), max(ys) - min(ys)
