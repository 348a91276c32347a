"""One room of a plan with all that is in it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from wellheard.cad import KIND
from wellheard.importers.dxf import own
from wellheard.importers.dxf.grid import Line, grid_of, grid_of_pattern
from wellheard.importers.dxf.names import Roles
from wellheard.importers.dxf.openings import openings_of
from wellheard.importers.dxf.pieces import NOBODY, Flattened, Placed, Words
from wellheard.importers.dxf.rooms import Site
from wellheard.importers.dxf.texts import HIGHEST, LOWEST, height_among, name_among
from wellheard.importers.dxf.things import Seen
from wellheard.importers.found import (
    FoundGrid,
    FoundRoom,
    FoundSeat,
    FoundThing,
    Point,
    Ring,
)

EDGE = 0.05
"""How far outside an outline something may have its middle and be in the room. [m]"""
MANY = 6
"""Lines of each family that make a raster on a layer of no known kind."""
THINGS = frozenset(
    {
        "table",
        "soft-seating",
        "luminaire",
        "air-outlet",
        "air-return",
        "sprinkler",
        "projector",
        "column",
        "display",
        "rack",
        "keep-out",
    }
)


@dataclass(slots=True)
class Taken:
    """Which pieces, texts and things have become part of a room."""

    pieces: set[int]
    words: set[int]
    seen: set[int]
    placed: set[int]


@dataclass(frozen=True, slots=True)
class Stock:
    """Everything of a plan that rooms are furnished from."""

    flat: Flattened
    roles: Roles
    seen: Sequence[Seen]
    labels: frozenset[str]
    taken: Taken
    count: int = 0
    """Of rooms."""


def furnished(stock: Stock, key: str, site: Site) -> FoundRoom:
    """Return the room of a site: name, height, openings, furniture, what hangs, devices."""
    inside = _Inside(site.outline)
    flat, taken = stock.flat, stock.taken
    taken.pieces.update(site.pieces)
    words = [(i, word) for i, word in enumerate(flat.words) if inside(word.at)]
    mark = _mark(stock, inside)
    name, named = name_among([w for _, w in words if not _of_ours(flat, w)], stock.labels)
    height, height_source, spoken = _height(site, [w for _, w in words], mark)
    if mark is not None:
        name = own.attribute(mark, "NAME") or name
        taken.placed.add(mark.index)
    taken.words.update(i for i, w in words if w in named or w is spoken)
    openings, of_openings = openings_of(
        site.outline,
        flat,
        [s for s in stock.seen if s.role in ("door", "window") and inside(s.at, near=1.5)],
    )
    within = [(k, s) for k, s in enumerate(stock.seen) if inside(s.at)]
    floor = mark.at[2] if mark is not None else 0.0
    devices = []
    for placed, device in own.devices_in(flat, floor):
        if inside(device.at[:2], near=0.5):
            devices.append(device)
            taken.placed.add(placed.index)
            taken.pieces.update(flat.within(placed.index))
    for k, one in within:
        if one.role == "seat" or one.role in THINGS:
            _take(taken, k, one)
    for one in of_openings:
        _take(taken, next(k for k, s in enumerate(stock.seen) if s is one), one)
    grid = _grid(stock, site.outline, inside)
    return FoundRoom(
        key,
        name,
        site.outline,
        site.source,
        datum=mark.at[:2] if mark is not None else (0.0, 0.0),
        owned=mark is not None,
        height=height,
        height_source=height_source,
        ceiling_kind="tiles" if grid is not None else None,
        grid=grid,
        openings=openings,
        things=tuple(
            _thing(flat, s, floor if mark is not None else None)
            for _, s in within
            if s.role in THINGS and s.outline
        ),
        seats=tuple(_seat(flat, s) for _, s in within if s.role == "seat"),
        devices=tuple(devices),
    )


def _mark(stock: Stock, inside: _Inside) -> Placed | None:
    """Our block of this room: the one that lies in it, or the only one beside the only room."""
    marks = list(own.room_blocks(stock.flat))
    within = [mark for mark in marks if inside(mark.at[:2], near=0.5)]
    if within:
        return within[0]
    return marks[0] if len(marks) == stock.count == 1 else None


def _take(taken: Taken, number: int, one: Seen) -> None:
    taken.seen.add(number)
    taken.pieces.update(one.pieces)
    if one.placed != NOBODY:
        taken.placed.add(one.placed)


class _Inside:
    """Whether points are in a room; quick for those that are far off."""

    def __init__(self, outline: Ring) -> None:
        import shapely

        self.polygon: Any = shapely.Polygon(outline)
        shapely.prepare(self.polygon)
        self.box = self.polygon.bounds

    def __call__(self, at: Point, *, near: float = EDGE) -> bool:
        import shapely

        left, low, right, high = self.box
        if not (left - near <= at[0] <= right + near and low - near <= at[1] <= high + near):
            return False
        return bool(shapely.dwithin(self.polygon, shapely.Point(at), near))


def _of_ours(flat: Flattened, word: Words) -> bool:
    return word.owner != NOBODY and own.is_ours(flat.placed[word.owner])


def _height(
    site: Site, words: Sequence[Words], mark: Placed | None
) -> tuple[float | None, str, Words | None]:
    told = own.height_of(mark) if mark is not None else None
    if told is not None:
        return told, "our own room block", None
    spoken = height_among(words)
    if spoken is not None:
        return spoken[0], f"the text {spoken[1].text!r} on {spoken[1].layer}", spoken[1]
    if LOWEST <= site.thickness <= HIGHEST:
        return site.thickness, "how high the walls are extruded", None
    return None, "", None


def _thing(flat: Flattened, one: Seen, floor: float | None) -> FoundThing:
    """A thing as it was seen; ``floor`` is that of a room of our own, else None."""
    bottom, top = one.bottom, one.top
    name = ident = kind = ""
    if one.placed != NOBODY:
        placed = flat.placed[one.placed]
        name = placed.block
        if own.is_ours(placed):
            name = own.attribute(placed, "NAME")
            ident, kind = own.attribute(placed, "ID"), own.attribute(placed, KIND)
            bottom, top = placed.at[2] - (floor or 0.0), None
    elif floor is not None and top is None and one.role in ("table", "soft-seating"):
        bottom, top = None, bottom  # our own plans draw furniture at the height of its top
    return FoundThing(one.role, one.outline, one.at, bottom, top, name, ident, kind)


def _seat(flat: Flattened, one: Seen) -> FoundSeat:
    if one.placed != NOBODY and own.is_ours(flat.placed[one.placed]):
        placed = flat.placed[one.placed]
        x, y = placed.across  # our symbol of a seat looks along its own y
        facing = round(math.degrees(math.atan2(y, x)), 6) % 360.0
        return FoundSeat(placed.at[:2], facing, own.attribute(placed, "ID"))
    return FoundSeat(one.at, one.facing_deg)


def _grid(stock: Stock, outline: Ring, inside: _Inside) -> FoundGrid | None:
    """The raster of the ceiling: lines on layers of ceilings, a hatch, or very many lines."""
    flat, roles = stock.flat, stock.roles
    there: list[tuple[int, Line]] = []
    anywhere: list[tuple[int, Line]] = []
    for i, piece in enumerate(flat.pieces):
        role = roles.layer(piece.layer)
        if role not in ("grid", None) or i in stock.taken.pieces or piece.centre is not None:
            continue
        for a, b in zip(piece.points, piece.points[1:], strict=False):
            if inside(((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)):
                (there if role == "grid" else anywhere).append((i, (a, b)))
    for lines, fewest in ((there, 2), (anywhere, MANY)):
        grid = grid_of([line for _, line in lines], fewest=fewest) if lines else None
        if grid is not None:
            stock.taken.pieces.update(i for i, _ in lines)
            return grid
    for pattern in flat.patterns:
        role = roles.layer(pattern.layer)
        middles = [_middle(ring) for ring in pattern.outlines]
        if role in ("grid", "room", None) and any(inside(m) for m in middles):
            grid = grid_of_pattern(pattern)
            if grid is not None:
                return grid
    return None


def _middle(ring: Sequence[Point]) -> Point:
    xs, ys = [x for x, _ in ring], [y for _, y in ring]
    return (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
