"""What stands in a plan and hangs over it: blocks and shapes on layers that say what they are."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from wellheard.cad import Role
from wellheard.importers.dxf.pieces import NOBODY, Flattened, Piece, Placed
from wellheard.importers.found import Point, Ring
from wellheard.importers.names import Roles
from wellheard.importers.outlines import ring_of

SIZES: dict[Role, tuple[float, float]] = {
    "seat": (0.25, 1.2),
    "table": (0.3, 14.0),
    "soft-seating": (0.4, 6.0),
    "luminaire": (0.04, 8.0),
    "air-outlet": (0.05, 6.0),
    "air-return": (0.05, 6.0),
    "sprinkler": (0.01, 0.6),
    "projector": (0.1, 1.2),
    "display": (0.3, 8.0),
    "rack": (0.2, 2.5),
    "keep-out": (0.05, 30.0),
    "column": (0.08, 3.0),
    "door": (0.3, 6.0),
    "window": (0.2, 30.0),
}
"""Longest side that a thing of a role has; anything else on its layers is no single one. [m]"""
TOUCH = 0.01
"""Loose lines nearer than this are of one thing. [m]"""
HEAVIER = 0.3
"""By how much of a side's length the back of a chair has more lines than its front."""
HIGHEST = 20.0


@dataclass(slots=True)
class Seen:
    """One thing, with the pieces it is of; ``along`` and ``across`` are its own directions."""

    role: Role
    outline: Ring
    at: Point
    where: str
    pieces: tuple[int, ...]
    block: str = ""
    placed: int = NOBODY
    facing_deg: float | None = None
    bottom: float | None = None
    top: float | None = None


@dataclass(frozen=True, slots=True)
class _Frame:
    """Directions of a thing's own axes, and its box in them."""

    along: Point
    across: Point
    low: Point
    high: Point

    @property
    def sides(self) -> Point:
        return self.high[0] - self.low[0], self.high[1] - self.low[1]

    def out(self, u: float, v: float) -> Point:
        return (
            u * self.along[0] + v * self.across[0],
            u * self.along[1] + v * self.across[1],
        )

    @property
    def ring(self) -> Ring:
        (a, b), (c, d) = self.low, self.high
        return ring_of([self.out(a, b), self.out(c, b), self.out(c, d), self.out(a, d)])

    @property
    def middle(self) -> Point:
        (a, b), (c, d) = self.low, self.high
        return self.out((a + c) / 2, (b + d) / 2)


def seen_in(flat: Flattened, roles: Roles) -> list[Seen]:
    """Return everything whose role its block or layer tells and whose size is that of its role."""
    found: list[Seen] = []
    used: set[int] = set()
    for placed in flat.placed:
        if placed.parent == NOBODY:
            _descend(flat, roles, placed, None, found, used)
    found.extend(_loose(flat, roles, used))
    return found


def role_of(roles: Roles, placed: Placed) -> Role | None:
    """Return what a block is: by what the user picks, its name, or the layer that it is on."""
    if roles.picked(placed.layer) and not roles.picked(placed.block):
        return roles.layer(placed.layer)
    return roles.block(placed.block) or roles.layer(placed.layer)


def _descend(
    flat: Flattened,
    roles: Roles,
    placed: Placed,
    within: Role | None,
    found: list[Seen],
    used: set[int],
) -> None:
    """Take a block as one thing where it can be one, else what is in it."""
    if roles.ignored(placed.block) or roles.ignored(placed.layer):
        used.update(flat.within(placed.index))
        return
    role = role_of(roles, placed)
    # Of a thing in a thing only another kind counts: the cushions of a chair are no chairs.
    if role in SIZES and role != within:
        pieces = tuple(flat.within(placed.index))
        frame = _frame(flat, pieces, placed)
        if frame is not None and _plausible(role, frame):
            others = [c for c in placed.children if _holds_other(flat, roles, c, role)]
            strangers = {p for c in others for p in flat.within(c)}
            own = tuple(p for p in pieces if p not in strangers)
            own_frame = _frame(flat, own, placed)
            if own_frame is not None and _plausible(role, own_frame):
                used.update(own)
                found.append(_of_block(flat, role, placed, own, own_frame))
                within = role
    for child in placed.children:
        _descend(flat, roles, flat.placed[child], within, found, used)


def _holds_other(flat: Flattened, roles: Roles, index: int, role: Role) -> bool:
    waiting = [index]
    while waiting:
        placed = flat.placed[waiting.pop()]
        other = roles.block(placed.block)
        if other in SIZES and other != role:
            return True
        waiting.extend(placed.children)
    return False


def _plausible(role: Role, frame: _Frame) -> bool:
    low, high = SIZES[role]
    return low <= max(frame.sides) <= high


def _frame(flat: Flattened, pieces: Sequence[int], placed: Placed) -> _Frame | None:
    along, across = _unit(placed.along), _unit(placed.across)
    # The axes of a block that is sheared are not square to one another; its box is then drawn
    # square to the first.
    square = (-along[1], along[0])
    if along[0] * across[1] - along[1] * across[0] < 0:
        square = (along[1], -along[0])
    points = [p for i in pieces for p in flat.pieces[i].points]
    return _boxed(points, along, square)


def _boxed(points: Sequence[Point], along: Point, across: Point) -> _Frame | None:
    if not points:
        return None
    us = [x * along[0] + y * along[1] for x, y in points]
    vs = [x * across[0] + y * across[1] for x, y in points]
    return _Frame(along, across, (min(us), min(vs)), (max(us), max(vs)))


def _unit(vector: Point) -> Point:
    length = math.hypot(*vector)
    return (vector[0] / length, vector[1] / length) if length else (1.0, 0.0)


def _of_block(
    flat: Flattened, role: Role, placed: Placed, pieces: tuple[int, ...], frame: _Frame
) -> Seen:
    drawn = [flat.pieces[i] for i in pieces]
    bottom, top = _heights(drawn, placed.at[2])
    return Seen(
        role,
        _outline(drawn, frame),
        frame.middle,
        placed.layer,
        pieces,
        placed.block,
        placed.index,
        _facing(drawn, frame) if role == "seat" else None,
        bottom,
        top,
    )


def _outline(drawn: Sequence[Piece], frame: _Frame) -> Ring:
    """Outline of a thing: its largest closed line where that is most of its box, else the box."""
    width, depth = frame.sides
    rings = [ring_of(piece.points) for piece in drawn if piece.closed]
    largest = max((r for r in rings if r), key=_area, default=())
    if largest and _area(largest) >= 0.5 * width * depth:
        return largest
    if width < 1e-3 or depth < 1e-3:
        return ()
    return frame.ring


def _area(ring: Ring) -> float:
    return (
        sum(
            ax * by - bx * ay for (ax, ay), (bx, by) in zip(ring, (*ring[1:], ring[0]), strict=True)
        )
        / 2
    )


def _heights(drawn: Sequence[Piece], at: float) -> tuple[float | None, float | None]:
    base = at if abs(at) > 0.005 else min((p.base for p in drawn), default=0.0)
    rise = max((p.thickness for p in drawn), default=0.0)
    bottom = base if 0.005 < base < HIGHEST else None
    top = base + rise if rise > 0.005 and 0.0 <= base + rise < HIGHEST else None
    return (0.0 if top is not None and bottom is None else bottom), top


def _facing(drawn: Sequence[Piece], frame: _Frame) -> float | None:
    """Where a chair looks: away from the side that has clearly more lines, its back."""
    width, depth = frame.sides
    if min(width, depth) < 0.1:
        return None
    band = 0.3
    (u0, v0), (u1, v1) = frame.low, frame.high
    lines = {"left": 0.0, "right": 0.0, "low": 0.0, "high": 0.0}
    for piece in drawn:
        for (ax, ay), (bx, by) in zip(piece.points, piece.points[1:], strict=False):
            length = math.hypot(bx - ax, by - ay)
            mx, my = (ax + bx) / 2, (ay + by) / 2
            u = mx * frame.along[0] + my * frame.along[1]
            v = mx * frame.across[0] + my * frame.across[1]
            lines["left"] += length if u < u0 + band * width else 0.0
            lines["right"] += length if u > u1 - band * width else 0.0
            lines["low"] += length if v < v0 + band * depth else 0.0
            lines["high"] += length if v > v1 - band * depth else 0.0
    sideways, endways = lines["right"] - lines["left"], lines["high"] - lines["low"]
    if max(abs(sideways), abs(endways)) < HEAVIER * min(width, depth):
        return None
    if min(abs(sideways), abs(endways)) > 0.5 * max(abs(sideways), abs(endways)):
        return None
    if abs(sideways) > abs(endways):
        way = frame.out(-math.copysign(1.0, sideways), 0.0)
    else:
        way = frame.out(0.0, -math.copysign(1.0, endways))
    return round(math.degrees(math.atan2(way[1], way[0])), 6) % 360.0


# Lines that are of no block ---------------------------------------------------------------------


def _loose(flat: Flattened, roles: Roles, used: set[int]) -> Iterator[Seen]:
    """Yield things of lines on layers with a role, those of one block or that touch together."""
    of_block: dict[tuple[int, Role], list[int]] = defaultdict(list)
    free: dict[Role, list[int]] = defaultdict(list)
    for i, piece in enumerate(flat.pieces):
        role = roles.layer(piece.layer)
        if i in used or role not in SIZES:
            continue
        if piece.owner != NOBODY:
            of_block[piece.owner, role].append(i)
        else:
            free[role].append(i)
    for (owner, role), pieces in of_block.items():
        frame = _frame(flat, pieces, flat.placed[owner])
        if frame is not None and _plausible(role, frame):
            yield _of_block(flat, role, flat.placed[owner], tuple(pieces), frame)
        else:
            free[role].extend(pieces)
    for role, pieces in free.items():
        yield from _outer(list(_clusters(flat, role, pieces)))


def _outer(things: Sequence[Seen]) -> Iterator[Seen]:
    """Yield things that lie in no other, each with the lines of those in it.

    A round neck drawn in a square outlet is no second outlet.
    """
    import shapely

    shapes = [shapely.Polygon(one.outline if len(one.outline) > 2 else None) for one in things]
    tree = shapely.STRtree(shapes)
    inside: set[int] = set()
    for k in sorted(range(len(things)), key=lambda k: -shapes[k].area):
        if shapes[k].is_empty or k in inside:
            continue
        within = [
            other
            for other in tree.query(shapes[k].buffer(TOUCH), predicate="contains").tolist()
            if other != k and other not in inside
        ]
        inside.update(within)
        more = tuple(piece for other in within for piece in things[other].pieces)
        things[k].pieces = (*things[k].pieces, *more)
    yield from (one for k, one in enumerate(things) if k not in inside)


def _clusters(flat: Flattened, role: Role, pieces: Sequence[int]) -> Iterator[Seen]:
    """Yield a thing for each heap of lines that touch; a heap too large by its closed lines."""
    for heap in _touching(flat, pieces):
        seen = _of_heap(flat, role, heap)
        alone = [i for i in heap if flat.pieces[i].closed] if len(heap) > 1 else []
        if seen is None or (role != "seat" and len(alone) > 1):
            parts = [_of_heap(flat, role, [i]) for i in _outermost(flat, alone)]
            whole = [part for part in parts if part is not None]
            if whole or seen is None:
                yield from whole
                continue
        yield seen


def _touching(flat: Flattened, pieces: Sequence[int]) -> Iterable[list[int]]:
    """Heaps of pieces that touch one another."""
    import shapely

    shapes = [shapely.LineString(flat.pieces[i].points) for i in pieces]
    tree = shapely.STRtree(shapes)
    parent = list(range(len(pieces)))

    def root(k: int) -> int:
        while parent[k] != k:
            parent[k] = parent[parent[k]]
            k = parent[k]
        return k

    ours, others = tree.query(shapes, predicate="dwithin", distance=TOUCH)
    for a, b in zip(ours.tolist(), others.tolist(), strict=True):
        parent[root(a)] = root(b)
    heaps: dict[int, list[int]] = defaultdict(list)
    for k, i in enumerate(pieces):
        heaps[root(k)].append(i)
    return heaps.values()


def _outermost(flat: Flattened, closed: Sequence[int]) -> Iterator[int]:
    import shapely

    shapes = {i: shapely.Polygon(ring) for i in closed if (ring := ring_of(flat.pieces[i].points))}
    largest = sorted(shapes, key=lambda i: -shapes[i].area)
    for k, i in enumerate(largest):
        middle = shapes[i].representative_point()
        if not any(shapes[other].contains(middle) for other in largest[:k]):
            yield i


def _of_heap(flat: Flattened, role: Role, heap: Sequence[int]) -> Seen | None:
    import shapely

    drawn = [flat.pieces[i] for i in heap]
    points = [p for piece in drawn for p in piece.points]
    box = shapely.oriented_envelope(shapely.MultiPoint(points))
    along = (1.0, 0.0)
    if box.geom_type == "Polygon":
        (ax, ay), (bx, by) = shapely.get_coordinates(box)[:2].tolist()
        along = _nearest_to_x(_unit((bx - ax, by - ay)))
    elif box.geom_type == "LineString":
        (ax, ay), (bx, by) = box.coords[0], box.coords[-1]
        along = _unit((bx - ax, by - ay))
    frame = _boxed(points, along, (-along[1], along[0]))
    if frame is None or not _plausible(role, frame):
        return None
    bottom, top = _heights(drawn, 0.0)
    facing = _facing(drawn, frame) if role == "seat" else None
    return Seen(
        role,
        _outline(drawn, frame),
        frame.middle,
        drawn[0].layer,
        tuple(heap),
        facing_deg=facing,
        bottom=bottom,
        top=top,
    )


def _nearest_to_x(along: Point) -> Point:
    """The same axes, named so that the first is nearest to x."""
    options = (along, (-along[1], along[0]), (-along[0], -along[1]), (along[1], -along[0]))
    return max(options, key=lambda o: o[0])
