"""A DXF floor plan to the rooms in it, and a report of what was taken and what was left."""

from __future__ import annotations

import gc
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from wellheard.cad import Role
from wellheard.errors import InputError, visible
from wellheard.importers.dxf.flatten import flattened
from wellheard.importers.dxf.furnish import Stock, Taken, furnished
from wellheard.importers.dxf.opening import NEXT, Opened, opened
from wellheard.importers.dxf.pieces import Flattened
from wellheard.importers.dxf.preview import strokes_of
from wellheard.importers.dxf.rooms import Sought, sought
from wellheard.importers.dxf.things import seen_in
from wellheard.importers.dxf.units import GUESSED, METRES, ROOM, unit_of, unstated
from wellheard.importers.found import Asked, FoundPlan, FoundRoom, Noted
from wellheard.importers.names import OURS, Roles

PLURALS: dict[Role, str] = {
    "table": "tables",
    "seat": "chairs",
    "soft-seating": "sofas",
    "luminaire": "luminaires",
    "air-outlet": "air outlets",
    "air-return": "air returns",
    "sprinkler": "sprinklers",
    "projector": "projectors",
    "column": "columns",
    "display": "displays",
    "rack": "racks",
    "keep-out": "areas kept free",
    "door": "doors",
    "window": "windows",
}


def read_dxf(path: Path, asked: Asked) -> FoundPlan:
    """Read the rooms of a DXF floor plan.

    Parameters
    ----------
    path : Path
        A DXF file of any version from R10 to R2018, as text or binary.
    asked : Asked
        The unit, and layers or blocks that are picked for roles.

    Raises
    ------
    UnitUnstated
        The file does not state its unit, and none is asked for.
    InputError
        The file is none that can be read, or comes to more than is read.

    Notes
    -----
    Only model space is read, and what is visible in it. Heights are read where a text, an extrusion
    or a block of our own tells them.
    """
    with _without_collecting():
        return _read(path, asked)


@contextmanager
def _without_collecting() -> Iterator[None]:
    """A drawing is a hundred thousand objects that all live until it is read: none is garbage."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


def _read(path: Path, asked: Asked) -> FoundPlan:
    name = visible(path.name)
    drawing = opened(path)
    unit = unit_of(drawing.document, asked.unit, name)
    if unit is None:
        plain = flattened(drawing.document, name, METRES[GUESSED])
        _refuse_empty(plain, drawing.document, name)
        raise unstated(drawing.document, name, plain.pieces)
    flat = flattened(drawing.document, name, unit[1])
    _refuse_empty(flat, drawing.document, name)
    roles = Roles(asked)
    seen = seen_in(flat, roles)
    found = sought(flat, roles, seen)
    labels = frozenset(
        layer for layer in flat.counts if roles.layer(layer) in ("room", "note") and layer != "0"
    )
    stock = Stock(flat, roles, seen, labels, Taken(set(), set(), set(), set()), len(found.sites))
    rooms = tuple(furnished(stock, str(number), site) for number, site in enumerate(found.sites, 1))
    layers = {
        visible(layer): (count, roles.layer(layer)) for layer, count in sorted(flat.counts.items())
    }
    unfitted = roles.picks.unfitted("layer or block")
    return FoundPlan(
        drawing.format,
        unit[0],
        unit[2],
        rooms,
        (*_taken(rooms, found, stock), *_left(stock, drawing)),
        strokes_of(flat),
        layers,
        tuple(
            dict.fromkeys((*found.warnings, *_warnings(flat, drawing, rooms, unit[0]), *unfitted))
        ),
    )


def _refuse_empty(flat: Flattened, document: Any, name: str) -> None:
    if flat.pieces:
        return
    lost = {why for (_, _, why) in flat.left}
    sheets = sum(len(layout) for layout in document.layouts if not layout.is_modelspace)
    said = "; ".join(sorted(lost)[:3])
    raise InputError(
        f"{name}: there are no lines in the model space of the drawing"
        + (f" that can be read ({said})" if said else "")
        + (f"; {sheets} entities are on sheets, which are not read" if sheets else "")
        + f"; draw the room in model space, or {NEXT}"
    )


def _taken(rooms: tuple[FoundRoom, ...], found: Sought, stock: Stock) -> Iterator[Noted]:
    for source, count in Counter(room.source for room in rooms).items():
        yield Noted(True, "rooms", count, source)
    if found.bridges:
        yield Noted(True, "gaps bridged", len(found.bridges), "", "to enclose rooms between walls")
    groups: Counter[tuple[Role, str]] = Counter()
    for number in sorted(stock.taken.seen):
        one = stock.seen[number]
        if one.role not in ("door", "window"):
            groups[one.role, (one.block and f"block {one.block}") or one.where] += 1
    for (role, where), count in groups.items():
        yield Noted(True, PLURALS[role], count, visible(where))
    openings = Counter(opening.kind for room in rooms for opening in room.openings)
    drawn = Counter(stock.seen[number].role for number in stock.taken.seen)
    for kind, count in openings.items():
        # a door is in the walls of two rooms, a window drawn as several lines
        yield Noted(True, PLURALS[kind], min(count, drawn[kind]))
    devices = Counter(device.role for room in rooms for device in room.devices)
    for device, count in devices.items():
        yield Noted(True, f"{device}s", count, f"blocks {OURS}…")
    grids = sum(room.grid is not None for room in rooms)
    if grids:
        yield Noted(True, "ceiling grids", grids)
    heights = sum(room.height is not None for room in rooms)
    if heights:
        yield Noted(True, "ceiling heights", heights)


def _left(stock: Stock, drawing: Opened) -> Iterator[Noted]:
    flat, taken = stock.flat, stock.taken
    things: Counter[tuple[str, str, str]] = Counter()
    used = set(taken.pieces)
    for number, one in enumerate(stock.seen):
        if number not in taken.seen:
            used.update(one.pieces)
            where = (one.block and f"block {one.block}") or one.where
            why = (
                "no wall of a room beside it"
                if one.role in ("door", "window")
                else "in none of the rooms"
            )
            things[PLURALS[one.role], where, why] += 1
    lines: Counter[tuple[str, str]] = Counter()
    for i, piece in enumerate(flat.pieces):
        if i not in used:
            lines[piece.layer, _why(stock, piece.layer)] += 1
    words = Counter(
        word.layer for i, word in enumerate(flat.words) if i not in taken.words and not word.tag
    )
    for (what, where, why), count in sorted(things.items()):
        yield Noted(False, what, count, visible(where), why)
    for (layer, why), count in sorted(lines.items()):
        yield Noted(False, "lines and outlines", count, visible(layer), why)
    for layer, count in sorted(words.items()):
        yield Noted(False, "texts", count, visible(layer), "neither name nor height of a room")
    for (kind, layer, why), count in sorted(flat.left.items()):
        yield Noted(False, kind, count, visible(layer), why)
    sheets = sum(len(layout) for layout in drawing.document.layouts if not layout.is_modelspace)
    if sheets:
        yield Noted(False, "entities on sheets", sheets, "paper space", "only model space is read")


def _why(stock: Stock, layer: str) -> str:
    roles = stock.roles
    if roles.ignored(layer):
        return "left out as asked for"
    role = roles.layer(layer)
    if role is None:
        return "the name of the layer says nothing; pick it for a role to take it"
    if role == "wall":
        return "walls that bound no room, or whose room has an outline of its own"
    if role == "room":
        return "no closed outline of the size of a room"
    if role == "grid":
        return "no raster of equal distances"
    if role in PLURALS:
        return f"no shape of the size of {PLURALS[role]}"
    return f"{role}: not of a room's shape"


def _warnings(
    flat: Flattened, drawing: Opened, rooms: tuple[FoundRoom, ...], unit: str
) -> Iterator[str]:
    if drawing.mended:
        yield f"the file is damaged and was mended in {drawing.mended} places; look at the preview"
    if rooms:
        return
    xs = [x for piece in flat.pieces for x, _ in piece.points]
    ys = [y for piece in flat.pieces for _, y in piece.points]
    width, depth = max(xs) - min(xs), max(ys) - min(ys)
    if not ROOM[0] <= max(width, depth) <= 5 * ROOM[1]:
        others = ", ".join(u for u in METRES if u != unit)
        yield (
            f"the whole drawing is {width:.4g} × {depth:.4g} m with {unit} as its unit; say "
            f"another unit if that is wrong: {others}"
        )
    yield (
        "no room was found; pick the layer of its closed outline, or that of its walls, and look "
        "for gaps in them"
    )
