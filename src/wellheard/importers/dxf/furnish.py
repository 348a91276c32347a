"""One room of a plan with all that is in it."""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from wellheard.cad import KIND, Role
from wellheard.importers.dxf import own
from wellheard.importers.dxf.grid import FEWEST, Line, grid_of, grid_of_pattern
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
)
from wellheard.importers.names import Roles

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


@dataclass(frozen=True)
class Stock:
    """Everything of a plan that rooms are furnished from, by where it is."""

    flat: Flattened
    roles: Roles
    seen: Sequence[Seen]
    labels: frozenset[str]
    taken: Taken
    count: int
    """Of rooms."""

    @functools.cached_property
    def words_at(self) -> Places:
        return Places([word.at for word in self.flat.words])

    @functools.cached_property
    def seen_at(self) -> Places:
        return Places([one.at for one in self.seen])

    @functools.cached_property
    def marks(self) -> list[Placed]:
        return list(own.room_blocks(self.flat))

    @functools.cached_property
    def straight(self) -> list[tuple[int, Role | None, Line]]:
        """Straight lines that may be of a raster, with the piece and role they are of."""
        return [
            (i, role, (a, b))
            for i, piece in enumerate(self.flat.pieces)
            if (role := self.roles.layer(piece.layer)) in ("grid", None) and piece.centre is None
            for a, b in pairwise(piece.points)
        ]

    @functools.cached_property
    def straight_at(self) -> Places:
        return Places([_middle(line) for _, _, line in self.straight])


class Places:
    """Points, and which of them are in a room."""

    def __init__(self, points: Sequence[Point]) -> None:
        import shapely

        self.tree = shapely.STRtree(shapely.points(points) if len(points) else [])

    def within(self, room: Any, near: float = EDGE) -> list[int]:
        """Return which are in an outline, or as near to it [m], in their order."""
        return sorted(self.tree.query(room, predicate="dwithin", distance=near).tolist())


def furnished(stock: Stock, key: str, site: Site) -> FoundRoom:
    """Return the room of a site: name, height, openings, furniture, what hangs, devices."""
    import shapely

    flat, taken = stock.flat, stock.taken
    taken.pieces.update(site.pieces)
    inside = shapely.Polygon(site.outline)
    words = [(i, flat.words[i]) for i in stock.words_at.within(inside)]
    mark = _mark(stock, inside)
    name, named = name_among([w for _, w in words if not _of_ours(flat, w)], stock.labels)
    height, height_source, spoken = _height(site, [w for _, w in words], mark)
    if mark is not None:
        name = own.attribute(mark, "NAME") or name
        taken.placed.add(mark.index)
    taken.words.update(i for i, w in words if w in named or w is spoken)
    beside = [stock.seen[k] for k in stock.seen_at.within(inside, 1.5)]
    openings, of_openings = openings_of(
        site.outline, flat, [one for one in beside if one.role in ("door", "window")]
    )
    within = [(k, stock.seen[k]) for k in stock.seen_at.within(inside)]
    floor = mark.at[2] if mark is not None else 0.0
    devices = []
    for placed, device in own.devices_in(flat, floor) if stock.marks else ():
        if shapely.dwithin(inside, shapely.Point(device.at[:2]), 0.5):
            devices.append(device)
            taken.placed.add(placed.index)
            taken.pieces.update(flat.within(placed.index))
    for k, one in within:
        if one.role == "seat" or one.role in THINGS:
            _take(taken, k, one)
    for one in of_openings:
        _take(taken, next(k for k, s in enumerate(stock.seen) if s is one), one)
    grid = _grid(stock, inside)
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


def _mark(stock: Stock, inside: Any) -> Placed | None:
    """Our block of this room: the one that lies in it, or the only one beside the only room."""
    import shapely

    within = [m for m in stock.marks if shapely.dwithin(inside, shapely.Point(m.at[:2]), 0.5)]
    if within:
        return within[0]
    return stock.marks[0] if len(stock.marks) == stock.count == 1 else None


def _take(taken: Taken, number: int, one: Seen) -> None:
    taken.seen.add(number)
    taken.pieces.update(one.pieces)
    if one.placed != NOBODY:
        taken.placed.add(one.placed)


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


def _grid(stock: Stock, inside: Any) -> FoundGrid | None:
    """The raster of the ceiling: lines on layers of ceilings, very many lines, or a hatch."""
    import shapely

    lines = [stock.straight[k] for k in stock.straight_at.within(inside)]
    lines = [found for found in lines if found[0] not in stock.taken.pieces]
    for role, fewest in (("grid", FEWEST), (None, MANY)):
        there = [(i, line) for i, known, line in lines if known == role]
        grid = grid_of([line for _, line in there], fewest=fewest) if there else None
        if grid is not None:
            stock.taken.pieces.update(i for i, _ in there)
            return grid
    for pattern in stock.flat.patterns:
        if stock.roles.layer(pattern.layer) not in ("grid", "room", None):
            continue
        if any(shapely.dwithin(inside, shapely.Point(_middle(o)), EDGE) for o in pattern.outlines):
            grid = grid_of_pattern(pattern)
            if grid is not None:
                return grid
    return None


def _middle(ring: Sequence[Point]) -> Point:
    xs, ys = [x for x, _ in ring], [y for _, y in ring]
    return (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
