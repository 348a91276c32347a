"""Doors and windows of a plan on the walls of a room."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

from wellheard.importers.dxf.pieces import Flattened, Piece
from wellheard.importers.dxf.things import Seen
from wellheard.importers.found import FoundOpening, Opening, Point, Ring

BESIDE = 0.6
"""How far the lines of an opening may lie off the inner face of its wall. [m]"""
NARROWEST = 0.3
"""Opening. [m]"""
PARALLEL_DEG = 5.0
LEAF = (0.5, 1.4)
"""How wide a leaf of a door is. [m]"""
SWEEP_DEG = (20.0, 120.0)

Line = tuple[Point, Point]


def is_leaf(piece: Piece) -> bool:
    """Whether an arc is one that the leaf of a door may describe."""
    if piece.kind != "ARC" or piece.centre is None:
        return False
    radius = math.dist(piece.centre, piece.points[0])
    if not LEAF[0] <= radius <= LEAF[1]:
        return False
    (x, y), (ax, ay), (bx, by) = piece.centre, piece.points[0], piece.points[-1]
    turn = math.degrees(math.atan2(by - y, bx - x) - math.atan2(ay - y, ax - x)) % 360.0
    return SWEEP_DEG[0] <= min(turn, 360.0 - turn) <= SWEEP_DEG[1]


def openings_of(
    ring: Ring, flat: Flattened, seen: Sequence[Seen]
) -> tuple[tuple[FoundOpening, ...], list[Seen]]:
    """Return the openings in the walls of a room, and the doors and windows they are of."""
    found: list[FoundOpening] = []
    taken: list[Seen] = []
    for one in seen:
        kind: Opening = "door" if one.role == "door" else "window"
        best: tuple[float, int, float, float] | None = None
        for wall, span in enumerate(_walls(ring)):
            for reach in _reaches(one, flat, span):
                if best is None or reach[0] < best[0]:
                    best = (reach[0], wall, reach[1], reach[2])
        if best is not None:
            found.append(FoundOpening(kind, best[1], best[2], best[3], one.bottom, one.top))
            taken.append(one)
    return tuple(_merged(found)), taken


def _walls(ring: Ring) -> Iterator[Line]:
    return zip(ring, (*ring[1:], ring[0]), strict=True)


def _reaches(one: Seen, flat: Flattened, wall: Line) -> Iterator[tuple[float, float, float]]:
    """Yield how far off a wall an opening is, and from where to where it reaches along it."""
    length = math.dist(*wall)
    if length < NARROWEST:
        return
    if one.role == "door":
        leaves = [flat.pieces[i] for i in one.pieces if is_leaf(flat.pieces[i])]
        if leaves:
            lines = [line for leaf in leaves for line in _closed_leaves(leaf)]
            near = [span for line in lines if (span := _span(line, wall)) is not None]
            if near:
                # Both leaves of a double door make one opening.
                off = min(span[0] for span in near)
                close = [span for span in near if span[0] < off + 0.15]
                reach = (min(s[1] for s in close), max(s[2] for s in close))
                yield from _clipped(off, reach, length)
            return
    spans = [
        span
        for i in one.pieces
        for a, b in zip(flat.pieces[i].points, flat.pieces[i].points[1:], strict=False)
        if (span := _span((a, b), wall)) is not None
    ]
    if spans:
        off = min(span[0] for span in spans)
        yield from _clipped(off, (min(s[1] for s in spans), max(s[2] for s in spans)), length)


def _clipped(
    off: float, reach: tuple[float, float], length: float
) -> Iterator[tuple[float, float, float]]:
    start, end = max(0.0, reach[0]), min(length, reach[1])
    if end - start >= NARROWEST:
        # Of two walls back to back the one that it reaches along counts, then the nearer.
        yield off + (0.0 if reach[0] > -0.1 and reach[1] < length + 0.1 else BESIDE), start, end


def _closed_leaves(leaf: Piece) -> Iterator[Line]:
    """Yield the leaf at both ends of its arc: one of them is the door when closed."""
    assert leaf.centre is not None
    yield leaf.centre, leaf.points[0]
    yield leaf.centre, leaf.points[-1]


def _span(line: Line, wall: Line) -> tuple[float, float, float] | None:
    """Distance of a line that is parallel with a wall, and from where to where it goes along it."""
    (ax, ay), (bx, by) = wall
    length = math.dist(*wall)
    ux, uy = (bx - ax) / length, (by - ay) / length
    (px, py), (qx, qy) = line
    size = math.dist(*line)
    if size < 1e-6:
        return None
    if abs((qx - px) * uy - (qy - py) * ux) > size * math.sin(math.radians(PARALLEL_DEG)):
        return None
    off = max(abs((x - ax) * uy - (y - ay) * ux) for x, y in line)
    if off > BESIDE:
        return None
    along = sorted((x - ax) * ux + (y - ay) * uy for x, y in line)
    if along[1] < NARROWEST / 2 or along[0] > length - NARROWEST / 2:
        return None
    return off, along[0], along[1]


def _merged(found: Iterable[FoundOpening]) -> Iterator[FoundOpening]:
    """Openings of one kind that overlap on a wall are one, drawn in parts."""
    last: FoundOpening | None = None
    for one in sorted(found, key=lambda o: (o.wall, o.kind, o.start, o.end)):
        if last and (last.wall, last.kind) == (one.wall, one.kind) and one.start < last.end + 0.02:
            last = FoundOpening(
                last.kind,
                last.wall,
                last.start,
                max(last.end, one.end),
                last.bottom,
                last.top,
            )
            continue
        if last:
            yield last
        last = one
    if last:
        yield last
