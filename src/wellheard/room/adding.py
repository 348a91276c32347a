"""New things in a room, with the sizes and heights that the trade starts from.

What a document has already is the pattern for one more of its kind. All figures here are common
practice without a source [C]; they are where a design starts, not where it ends.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

from wellheard.forms.refusals import listed, near
from wellheard.room.amend import entries_of
from wellheard.room.devices import Device, DeviceKind
from wellheard.room.document import Room
from wellheard.room.equipment import Equipment
from wellheard.room.finishes import Patch
from wellheard.room.furniture import Display, Lectern, Screen, Soft, Table
from wellheard.room.mounts import Mount
from wellheard.room.moving import Item, Point, first_id, next_id, put
from wellheard.room.noise import NoiseSource
from wellheard.room.overhead import Overhead
from wellheard.room.people import Seat, Standing
from wellheard.room.refused import OperationError
from wellheard.room.space import Obstacle
from wellheard.room.surfaces import nearest_on_wall, stretch_free
from wellheard.room.typed import EXACT
from wellheard.units import INCH

TABLE_TOP = 0.74
EYE_LEVEL = 1.4
"""Middle of a picture above the floor. [m]"""
MICROPHONE_ON_WALL = 1.5
LOUDSPEAKER_ON_WALL = 2.1
BELOW_PICTURE = 0.1
"""Gap between a picture and the bar below it. [m]"""
IN_A_RACK = 0.6
PLATE_HEIGHT = 0.4
"""Equipment above the floor. [m]"""
OVER_TABLE = 0.3
"""A projector hangs so far below the ceiling. [m]"""
OUTLET_DBA, PROJECTOR_DBA = 30.0, 36.0
"""Level at 1 m of an air outlet and of a projector that nobody has measured. [dBA]"""


@dataclass(frozen=True, slots=True)
class Wish:
    """What is to be added where.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    at : (float, float)
        On the plan. [m]
    product : str
        Catalogue id of a device; empty takes what the document would.
    """

    kind: str
    at: Point
    product: str = ""


def added(room: Room, wish: Wish, *, mounts: Mapping[str, Mount]) -> tuple[Room, str]:
    """Room with one more thing, and the path of it.

    Raises
    ------
    OperationError
        There is no such kind of thing or product, or no room for it on its wall.
    """
    make = _MAKERS.get(wish.kind)
    if make is None:
        known = listed(_MAKERS)
        raise OperationError(
            "kind", f"there is no {wish.kind!r:.44}", near(wish.kind, _MAKERS, else_=known)
        )
    item = make(room, wish, mounts)
    room = put(room, item)
    if isinstance(item.thing, NoiseSource) and room.basis:
        # A level that nobody has told is not told because the other sources are.
        room = room.model_copy(update={"basis": {**room.basis, item.path: "assumed"}})
    return room, item.path


def tidy(metres: float, room: Room) -> float:
    """A length as somebody would order it: to the half inch where the document is in feet. [m]"""
    if room.units == "ft":
        return round(round(metres / INCH * 2) / 2 * INCH, EXACT)
    return round(metres, EXACT)


def _box(room: Room, at: Point, wide: float, deep: float) -> tuple[Point, ...]:
    """Rectangle about a point. [m]"""
    w, d = tidy(wide, room) / 2, tidy(deep, room) / 2
    (x0, x1), (y0, y1) = (at[0] - w, at[0] + w), (at[1] - d, at[1] + d)
    corners = ((x0, y0), (x1, y0), (x1, y1), (x0, y1))
    return tuple((round(x, EXACT) + 0.0, round(y, EXACT) + 0.0) for x, y in corners)


def _like(room: Room, collection: tuple[str, ...], kind: str) -> tuple[str, Any] | None:
    """Last entry of a collection that is of a kind."""
    entries = entries_of(room, collection)
    alike = [(key, one) for key, one in entries.items() if getattr(one, "kind", kind) == kind]
    return alike[-1] if alike else None


def _named(room: Room, collection: tuple[str, ...], stem: str, like: str | None = None) -> str:
    entries = entries_of(room, collection)
    return next_id(entries, like) if like is not None else first_id(entries, stem)


# People and furniture ------------------------------------------------------------------------


def _seat(room: Room, wish: Wish, mounts: Mapping[str, Mount]) -> Item:
    return new_seat(room, wish.at, room.people.seats.values())


def new_seat(room: Room, at: Point, like: Any) -> Item:
    """A seat that faces as most others do, if they do it in words; else across."""
    others = list(like)
    change: dict[str, Any] = {"at": at}
    facings = Counter(s.facing for s in others if all(isinstance(f, str) for f in s.facing))
    if facings:
        facing = facings.most_common(1)[0][0]
        if facing != ("across",):
            change["facing"] = facing
    heights = Counter(s.height for s in others)
    if heights and heights.most_common(1)[0][0] != Seat(at=at).height:
        change["height"] = heights.most_common(1)[0][0]
    last = next(reversed(room.people.seats), None)
    name = _named(room, ("people", "seats"), "s1", last)
    return Item(("people", "seats"), name, _in_metres(Seat, change))


def _in_metres(kind: type[Any], values: dict[str, Any]) -> Any:
    """Model of values in metres, with nothing but them told."""
    return kind.model_validate(values, context={"unit": "m"}, by_name=True, by_alias=True)


def _standing(room: Room, wish: Wish, mounts: Mapping[str, Mount]) -> Item:
    outline = _box(room, wish.at, 1.0, 1.0)
    name = _named(room, ("people", "standing"), "presenter")
    return Item(("people", "standing"), name, _in_metres(Standing, {"outline": outline}))


def _furniture(kind: type[Any], word: str, stem: str, wide: float, deep: float) -> _Maker:
    def make(room: Room, wish: Wish, mounts: Mapping[str, Mount]) -> Item:
        values: dict[str, Any] = {"kind": word, "outline": _box(room, wish.at, wide, deep)}
        found = _like(room, ("furniture",), word)
        if found is not None:
            values["height"] = found[1].height
        return Item(("furniture",), _named(room, ("furniture",), stem), _in_metres(kind, values))

    return make


def _lectern(room: Room, wish: Wish, mounts: Mapping[str, Mount]) -> Item:
    thing = _in_metres(Lectern, {"kind": "lectern", "at": wish.at})
    return Item(("furniture",), _named(room, ("furniture",), "lectern"), thing)


def _display(room: Room, wish: Wish, mounts: Mapping[str, Mount]) -> Item:
    wall, along, length = nearest_on_wall(room, wish.at)
    wide = tidy(min(1.6, length), room)
    tall = tidy(wide * 9 / 16, room)
    middle = min(max(along, wide / 2), length - wide / 2)
    high = min(EYE_LEVEL, room.space.height - tall / 2)
    values = {
        "kind": "display",
        "wall": wall,
        "centre": (round(middle, 4), tidy(high, room)),
        "size": (wide, tall),
    }
    name = _named(room, ("furniture",), "display")
    return Item(("furniture",), name, _in_metres(Display, values))


# Walls and the ceiling -----------------------------------------------------------------------


def _patch(stem: str, finish: str, wide: float, bottom: float, top: float) -> _Maker:
    def make(room: Room, wish: Wish, mounts: Mapping[str, Mount]) -> Item:
        wall, along, length = nearest_on_wall(room, wish.at)
        high = tidy(min(top, room.space.height), room)
        low = tidy(bottom, room)
        width = tidy(min(wide, length), room)
        start = stretch_free(room, wall, along, width, low, high)
        if start is None:
            raise OperationError(
                f"space.walls.{room.space.walls.index(wall)}",
                f"no room for a {stem} on wall {wall}",
                "a wall with a free stretch, or take something away first",
            )
        values = {
            "wall": wall,
            "from": start,
            "to": round(start + width, EXACT),
            "bottom": low,
            "top": high,
            "finish": finish,
        }
        collection = ("space", "finishes", "patches")
        return Item(collection, _named(room, collection, stem), _in_metres(Patch, values))

    return make


def _obstacle(room: Room, wish: Wish, mounts: Mapping[str, Mount]) -> Item:
    thing = _in_metres(Obstacle, {"outline": _box(room, wish.at, 0.4, 0.4)})
    collection = ("space", "obstacles")
    return Item(collection, _named(room, collection, "column"), thing)


def _luminaire(room: Room, wish: Wish, mounts: Mapping[str, Mount]) -> Item:
    found = _like(room, ("overhead",), "luminaire")
    ceiling = room.space.ceiling
    if found is None:
        wide, deep = ceiling.module if ceiling.kind == "tiles" else (1.2, 0.3)
        values: dict[str, Any] = {"outline": _box(room, wish.at, wide, deep), "clearance": 0.2}
        name = _named(room, ("overhead",), "lamp")
    else:
        key, like = found
        values = {n: getattr(like, n) for n in like.model_fields_set}
        values["outline"] = _centred(like.outline, wish.at)
        name = _named(room, ("overhead",), "lamp", key)
    values |= {"kind": "luminaire", "clearance": tidy(values.get("clearance", 0.0), room)}
    return Item(("overhead",), name, _in_metres(Overhead, values))


def _keep_out(room: Room, wish: Wish, mounts: Mapping[str, Mount]) -> Item:
    values = {"kind": "other", "outline": _box(room, wish.at, 1.0, 1.0)}
    name = _named(room, ("overhead",), "keep-out")
    return Item(("overhead",), name, _in_metres(Overhead, values))


def _centred(outline: Sequence[Point], at: Point) -> tuple[Point, ...]:
    """Outline moved so that the middle of its bounds is at a point."""
    (x0, x1), (y0, y1) = ((min(c), max(c)) for c in zip(*outline, strict=True))
    dx, dy = at[0] - (x0 + x1) / 2, at[1] - (y0 + y1) / 2
    return tuple((round(x + dx, EXACT) + 0.0, round(y + dy, EXACT) + 0.0) for x, y in outline)


# Noise and equipment -------------------------------------------------------------------------


def _source(word: str, stem: str, dba: float, below: float) -> _Maker:
    def make(room: Room, wish: Wish, mounts: Mapping[str, Mount]) -> Item:
        collection = ("noise", "sources")
        found = _like(room, collection, word)
        values: dict[str, Any] = {"kind": word, "dba_at_1m": dba}
        height = room.space.height - below
        if found is not None:
            key, like = found
            values = {n: getattr(like, n) for n in like.model_fields_set}
            height = like.at[2]
        values["at"] = (*wish.at, height)
        name = _named(room, collection, stem, None if found is None else key)
        return Item(collection, name, _in_metres(NoiseSource, values))

    return make


def _equipment(word: str, height: float) -> _Maker:
    def make(room: Room, wish: Wish, mounts: Mapping[str, Mount]) -> Item:
        found = _like(room, ("equipment",), word)
        at = (*wish.at, found[1].at[2] if found is not None else tidy(height, room))
        if word == "wall-plate":
            at = (*_against_wall(room, wish.at, 0.0)[0], at[2])
        if word == "table-box":
            at = (*wish.at, _top_under(room, wish.at) or at[2])
        name = _named(room, ("equipment",), word, None if found is None else found[0])
        return Item(("equipment",), name, _in_metres(Equipment, {"kind": word, "at": at}))

    return make


def _top_under(room: Room, at: Point) -> float | None:
    """Height of the table top at a point, if there is one. [m]"""
    import numpy as np

    from wellheard import geometry

    for item in room.furniture.values():
        if (
            isinstance(item, Table)
            and geometry.contains_points(
                np.array(item.outline, dtype=float), np.array([at], dtype=float)
            ).all()
        ):
            return item.height
    return None


def _against_wall(room: Room, at: Point, off: float) -> tuple[Point, str]:
    """Point so far off the nearest wall, and the wall. [m]"""
    wall, along, length = nearest_on_wall(room, at)
    (x0, y0), (x1, y1) = room.space.wall_ends(wall)
    ux, uy = (x1 - x0) / length, (y1 - y0) / length
    # The room is on the left of its walls.
    x, y = x0 + ux * along - uy * off, y0 + uy * along + ux * off
    return (round(x, 4) + 0.0, round(y, 4) + 0.0), wall


# Devices -------------------------------------------------------------------------------------


def _device(kind: DeviceKind, stem: str) -> _Maker:
    def make(room: Room, wish: Wish, mounts: Mapping[str, Mount]) -> Item:
        product = wish.product or _usual_product(room, kind, mounts)
        mount = mounts.get(product) or _mount_of_another(room, product)
        if mount is None:
            known = [name for name, one in mounts.items() if kind in one.kinds]
            some = listed(known[:8]) if known else f"a product of a {kind} in the document"
            raise OperationError(
                "product", f"no product {product!r:.44}", near(product, known, else_=some)
            )
        named = next((k for k in mount.kinds if k == kind or k == "combined"), None)
        if named is None:
            raise OperationError("product", f"{product} is a {mount.kinds[0]}", f"a {kind}")
        like = _like(room, ("devices",), named)
        values = {"kind": named, "product": product, **_put_up(room, wish.at, mount)}
        name = _named(room, ("devices",), stem, like[0] if like is not None else None)
        return Item(("devices",), name, _in_metres(Device, values))

    return make


def _usual_product(room: Room, kind: DeviceKind, mounts: Mapping[str, Mount]) -> str:
    """What a document has already of a kind, or prefers, or allows; else the first usual one."""
    used = [d.product for d in room.devices.values() if d.kind == kind]
    wanted = [p for p in (*room.choices.prefer, *room.choices.allow) if p in mounts]
    usual = [p for p, m in mounts.items() if m.usual and p not in room.choices.exclude]
    for product in (*reversed(used), *wanted, *usual):
        if product in used or kind in mounts[product].kinds:
            return product
    raise OperationError("product", f"which {kind} is not said", "product: an id of the catalogue")


def _mount_of_another(room: Room, product: str) -> Mount | None:
    """How a device of the document is mounted, for a product that nothing else is known of."""
    for device in room.devices.values():
        if device.product != product:
            continue
        if device.at is None:
            return Mount((device.kind,), ("rack",))
        drop = round(room.space.height - device.at[2], EXACT)
        return Mount((device.kind,), ("ceiling",), (max(drop, 0.0),))
    return None


def _put_up(room: Room, at: Point, mount: Mount) -> dict[str, Any]:
    """Place of a device by the first way of mounting that the room has something for."""
    allowed = [w for w in mount.ways if w in room.choices.mounting]
    for way in (*allowed, *mount.ways):
        place = _WAYS[way](room, at, mount)
        if place is not None:
            return place
    # On the floor or a shelf, until somebody says where.
    return {"at": (*at, tidy(min(max(mount.stem, IN_A_RACK), room.space.height), room))}


_Way: TypeAlias = Callable[[Room, Point, Mount], dict[str, Any] | None]


def _from_ceiling(room: Room, at: Point, mount: Mount) -> dict[str, Any] | None:
    longest = room.choices.max_drop
    drops = [d for d in mount.drops if longest is None or d <= longest + 1e-9] or [*mount.drops]
    drop = min(drops, default=0.0)
    if drop >= room.space.height:
        return None
    return {"at": (*at, round(room.space.height - drop, EXACT))}


def _on_table(room: Room, at: Point, mount: Mount) -> dict[str, Any] | None:
    top = _top_under(room, at)
    return None if top is None else {"at": (*at, round(top + mount.stem, EXACT))}


def _on_lectern(room: Room, at: Point, mount: Mount) -> dict[str, Any] | None:
    lecterns = [f for f in room.furniture.values() if isinstance(f, Lectern)]
    if not lecterns:
        return None
    nearest = min(lecterns, key=lambda f: math.dist(f.at, at))
    if math.dist(nearest.at, at) > 1.0:
        return None
    return {"at": (*nearest.at, round(nearest.height + mount.stem, EXACT))}


def _on_wall(room: Room, at: Point, mount: Mount) -> dict[str, Any] | None:
    place, wall = _against_wall(room, at, mount.size[1] / 2)
    loud = mount.kinds[0] == "loudspeaker"
    height = min(LOUDSPEAKER_ON_WALL if loud else MICROPHONE_ON_WALL, room.space.height - 0.1)
    values: dict[str, Any] = {"at": (*place, tidy(height, room))}
    if loud:
        values["aim_deg"] = _inwards(room, wall)
    return values


def _inwards(room: Room, wall: str) -> float:
    """Azimuth square off a wall. [deg]"""
    (x0, y0), (x1, y1) = room.space.wall_ends(wall)
    return round(math.degrees(math.atan2(x1 - x0, y0 - y1)) % 360, 3) % 360


def _below_picture(room: Room, at: Point, mount: Mount) -> dict[str, Any] | None:
    pictures = [f for f in room.furniture.values() if isinstance(f, Display | Screen)]
    if not pictures:
        return None

    def middle(item: Any) -> Point:
        (x0, y0), (x1, y1) = room.space.wall_ends(item.wall)
        share = item.centre[0] / math.dist((x0, y0), (x1, y1))
        return x0 + share * (x1 - x0), y0 + share * (y1 - y0)

    nearest = min(pictures, key=lambda item: math.dist(middle(item), at))
    (place, wall) = _against_wall(room, middle(nearest), mount.size[1] / 2)
    below = nearest.centre[1] - nearest.size[1] / 2 - BELOW_PICTURE - mount.size[2] / 2
    return {
        "at": (*place, round(max(below, mount.size[2] / 2), 4)),
        "aim_deg": _inwards(room, wall),
    }


def _housed(word: str) -> _Way:
    def way(room: Room, at: Point, mount: Mount) -> dict[str, Any] | None:
        there = {k: e for k, e in room.equipment.items() if e.kind == word}
        if not there:
            return None
        return {"equipment": min(there, key=lambda k: math.dist(there[k].at[:2], at))}

    return way


def _on_stand(room: Room, at: Point, mount: Mount) -> dict[str, Any] | None:
    return {"at": (*at, tidy(min(mount.stem or 1.2, room.space.height), room))}


_WAYS: dict[str, _Way] = {
    "ceiling": _from_ceiling,
    "table": _on_table,
    "lectern": _on_lectern,
    "wall": _on_wall,
    "front": _below_picture,
    "stand": _on_stand,
    "rack": _housed("rack"),
    "table-box": _housed("table-box"),
}

_Maker: TypeAlias = Callable[[Room, Wish, Mapping[str, Mount]], Item]
_MAKERS: dict[str, _Maker] = {
    "seat": _seat,
    "standing": _standing,
    "table": _furniture(Table, "table", "table", 1.6, 0.8),
    "soft-seating": _furniture(Soft, "soft", "sofa", 1.8, 0.8),
    "lectern": _lectern,
    "display": _display,
    "microphone": _device("microphone", "m1"),
    "loudspeaker": _device("loudspeaker", "l1"),
    "processor": _device("processor", "p1"),
    "amplifier": _device("amplifier", "a1"),
    "rack": _equipment("rack", IN_A_RACK),
    "table-box": _equipment("table-box", TABLE_TOP),
    "wall-plate": _equipment("wall-plate", PLATE_HEIGHT),
    "air-outlet": _source("air-outlet", "vent", OUTLET_DBA, 0.0),
    "projector": _source("projector", "projector", PROJECTOR_DBA, OVER_TABLE),
    "luminaire": _luminaire,
    "keep-out": _keep_out,
    "panel": _patch("panel", "fabric-panel", 1.2, 0.9, 2.1),
    "window": _patch("window", "double-glazing", 1.5, 0.9, 2.1),
    "door": _patch("door", "wood-door", 0.9, 0.0, 2.1),
    "board": _patch("board", "hard-surface", 1.8, 0.9, 2.1),
    "obstacle": _obstacle,
}
KINDS = tuple(_MAKERS)
"""What can be added."""
