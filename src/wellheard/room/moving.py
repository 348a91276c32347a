"""Things of a room moved, turned, copied and taken away, whatever they are made of.

An item is named by its path: ``people.seats.s1``, ``furniture.table``,
``space.finishes.patches.door``. What goes takes with it what would point nowhere:

* a device its links and the processing on or for it;
* a partition its mention in arrangements, and an arrangement that then says nothing;
* a piece of equipment nothing: what it housed stands where it stood;
* the last picture the word ``display`` in facings; who looked nowhere else looks across.

Lengths are metres; nothing is checked against the rest of the document until its text is read.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, TypeAlias

from wellheard.forms.fields import Frozen
from wellheard.room.amend import entries_of, with_entries
from wellheard.room.arrangements import Partition
from wellheard.room.devices import Device
from wellheard.room.document import Room
from wellheard.room.edit import without_devices, without_ends
from wellheard.room.finishes import Patch
from wellheard.room.furniture import Display, Screen
from wellheard.room.refused import OperationError, Steps, steps_of, unknown
from wellheard.room.typed import EXACT

Point: TypeAlias = tuple[float, float]

COLLECTIONS: tuple[Steps, ...] = (
    ("people", "seats"),
    ("people", "standing"),
    ("furniture",),
    ("devices",),
    ("overhead",),
    ("noise", "sources"),
    ("equipment",),
    ("space", "obstacles"),
    ("space", "finishes", "patches"),
    ("partitions",),
)
"""Where items live."""
LONGEST_ID = 40


@dataclass(frozen=True, slots=True)
class Item:
    """One thing of a room: the collection it lives in, its id, and what it is."""

    collection: Steps
    id: str
    thing: Any

    @property
    def path(self) -> str:
        """Its dotted path."""
        return ".".join((*self.collection, self.id))


def item_at(room: Room, path: str) -> Item:
    """Item of a path.

    Raises
    ------
    OperationError
        No item is there.
    """
    steps = steps_of(path)
    for collection in COLLECTIONS:
        if steps[: len(collection)] == collection and len(steps) == len(collection) + 1:
            entries = entries_of(room, collection)
            if steps[-1] not in entries:
                raise unknown(steps, steps[-1], list(entries))
            return Item(collection, steps[-1], entries[steps[-1]])
    raise OperationError(path, "is no item", "as in people.seats.s1, furniture.table, devices.m1")


def refuse_locked(item: Item) -> None:
    """Leave what is locked alone.

    Raises
    ------
    OperationError
        It is a locked device.
    """
    if isinstance(item.thing, Device) and item.thing.locked:
        raise OperationError(item.path, f"{item.id} is locked", "unlock it first")


def put(room: Room, item: Item) -> Room:
    """Room with an item in place of that of the same id, or after all others."""
    entries = entries_of(room, item.collection)
    return with_entries(room, item.collection, {**entries, item.id: item.thing})


# Moving --------------------------------------------------------------------------------------


def moved(room: Room, items: Sequence[Item], by: Point) -> Room:
    """Room with items moved on the plan; what hangs on a wall slides along it, to its ends.

    Raises
    ------
    OperationError
        One of them is locked, or has no place of its own.
    """
    for item in items:
        refuse_locked(item)
        room = put(room, _shifted(room, item, by))
    return room


def plus(value: float, by: float) -> float:
    """Sum without the noise of floating point, so that there and back is where it was."""
    return float(Decimal(repr(value)) + Decimal(repr(by))) + 0.0


def _shifted(room: Room, item: Item, by: Point) -> Item:
    thing = item.thing
    if isinstance(thing, Patch):
        slide = _slide(room, thing.wall, by, (thing.from_, thing.to))
        change: dict[str, Any] = {"from_": plus(thing.from_, slide), "to": plus(thing.to, slide)}
    elif isinstance(thing, Display | Screen):
        middle, half = thing.centre[0], thing.size[0] / 2
        slide = _slide(room, thing.wall, by, (middle - half, middle + half))
        change = {"centre": (plus(middle, slide), thing.centre[1])}
    elif isinstance(thing, Partition):
        change = {"from_": _point(thing.from_, by), "to": _point(thing.to, by)}
    elif hasattr(thing, "outline"):
        change = {"outline": tuple(_point(corner, by) for corner in thing.outline)}
    elif thing.at is not None:
        change = {"at": (*_point(thing.at[:2], by), *thing.at[2:])}
    else:
        housed = f"move equipment.{thing.equipment}" if thing.equipment else "give it a place first"
        raise OperationError(item.path, f"{item.id} has no place of its own", housed)
    return Item(item.collection, item.id, thing.model_copy(update=change))


def _point(at: Sequence[float], by: Point) -> Point:
    return plus(at[0], by[0]), plus(at[1], by[1])


def _slide(room: Room, wall: str, by: Point, stretch: Point) -> float:
    """Share of a move that goes along a wall, up to where a stretch meets the wall's ends. [m]"""
    if wall not in room.space.walls:
        raise unknown(("space", "walls"), wall, room.space.walls)
    (x0, y0), (x1, y1) = room.space.wall_ends(wall)
    length = math.hypot(x1 - x0, y1 - y0)
    if not length:
        return 0.0
    along = ((x1 - x0) * by[0] + (y1 - y0) * by[1]) / length
    low, high = min(-stretch[0], 0.0), max(length - stretch[1], 0.0)
    return round(min(max(along, low), high), EXACT) + 0.0


# Turning -------------------------------------------------------------------------------------


def turned(room: Room, items: Sequence[Item], by_deg: float) -> Room:
    """Room with items turned anticlockwise: one about its own middle, several about theirs.

    Facings and aims in degrees turn too; words such as ``across`` stay what they are.

    Raises
    ------
    OperationError
        One of them is locked, or hangs on a wall.
    """
    for item in items:
        refuse_locked(item)
        if isinstance(item.thing, Patch | Display | Screen):
            raise OperationError(item.path, f"{item.id} is on a wall", "move it along the wall")
    points = [p for item in items for p in points_of(item.thing)]
    if not points:
        return room
    (x0, x1), (y0, y1) = ((min(c), max(c)) for c in zip(*points, strict=True))
    middle = ((x0 + x1) / 2, (y0 + y1) / 2)
    for item in items:
        room = put(room, _turned(item, middle, by_deg))
    return room


def points_of(thing: Frozen) -> list[Point]:
    """Points on the plan that a thing is made of; none of what is housed or on a wall."""
    if isinstance(thing, Partition):
        return [thing.from_, thing.to]
    outline, at = getattr(thing, "outline", None), getattr(thing, "at", None)
    if outline is not None:
        return list(outline)
    return [(at[0], at[1])] if at is not None else []


def _turned(item: Item, middle: Point, by_deg: float) -> Item:
    thing = item.thing
    change: dict[str, Any] = {}
    if isinstance(thing, Partition):
        change = {n: _round(getattr(thing, n), middle, by_deg) for n in ("from_", "to")}
    elif hasattr(thing, "outline"):
        change["outline"] = tuple(_round(p, middle, by_deg) for p in thing.outline)
    elif thing.at is not None:
        change["at"] = (*_round(thing.at[:2], middle, by_deg), *thing.at[2:])
    if hasattr(thing, "facing"):
        change["facing"] = tuple(
            one if isinstance(one, str) else _angle(one, by_deg) for one in thing.facing
        )
    if isinstance(thing, Device):
        name = "rotation_deg" if thing.aim_deg is None else "aim_deg"
        change[name] = _angle(getattr(thing, name), by_deg)
    fresh = {name: value for name, value in change.items() if value != getattr(thing, name)}
    return Item(item.collection, item.id, thing.model_copy(update=fresh))


def _angle(angle_deg: float, by_deg: float) -> float:
    total = plus(angle_deg, by_deg)
    return total if -360 <= total <= 360 else math.fmod(total, 360.0)


def _round(at: Sequence[float], middle: Point, by_deg: float) -> Point:
    """Point turned about another, quarter turns without any noise."""
    quarter = by_deg / 90
    if quarter == round(quarter):
        c, s = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[round(quarter) % 4]
    else:
        c, s = math.cos(math.radians(by_deg)), math.sin(math.radians(by_deg))
    x, y = at[0] - middle[0], at[1] - middle[1]
    return (
        round(middle[0] + c * x - s * y, 6) + 0.0,
        round(middle[1] + s * x + c * y, 6) + 0.0,
    )


# Copying -------------------------------------------------------------------------------------


def copied(room: Room, items: Sequence[Item], by: Point) -> tuple[Room, tuple[str, ...]]:
    """Room with copies of items beside them, and the paths of the copies.

    A copy has all that the original has. A device is one more to buy and to place: its copy is
    neither owned, installed nor locked.
    """
    created: list[str] = []
    for item in items:
        thing = item.thing
        if isinstance(thing, Device):
            known = {"locked": False, "owned": False, "installed": None}
            values = {n: getattr(thing, n) for n in thing.model_fields_set - set(known)}
            thing = Device.model_construct(set(values), **values)
        entries = entries_of(room, item.collection)
        fresh = Item(item.collection, next_id(entries, item.id), thing)
        if points_of(thing) or isinstance(thing, Patch | Display | Screen):
            fresh = _shifted(room, fresh, by)
        room = put(room, fresh)
        created.append(fresh.path)
    return room, tuple(created)


def next_id(taken: Iterable[str], like: str) -> str:
    """Free id in the manner of another one.

    Examples
    --------
    >>> next_id(["s1", "s2", "table"], "s1"), next_id(["table"], "table")
    ('s3', 'table-2')
    """
    known = set(taken)
    digits = like[len(like.rstrip("0123456789")) :][-6:]
    stem = like[: len(like) - len(digits)]
    if not digits:
        stem, number = f"{like}-", 2
    else:
        number = int(digits) + 1
    while True:
        fresh = f"{stem[: LONGEST_ID - len(str(number))]}{number}"
        if fresh not in known:
            return fresh
        number += 1


def first_id(taken: Iterable[str], stem: str) -> str:
    """First free one of ``stem``, ``stem-2``, …; of ``s1``, ``s2``, … if it ends in a figure.

    Examples
    --------
    >>> first_id(["table"], "table"), first_id(["table"], "lamp"), first_id(["s1"], "s1")
    ('table-2', 'lamp', 's2')
    """
    known = set(taken)
    return stem if stem not in known else next_id(known, stem)


# Taking away ---------------------------------------------------------------------------------


def removed(room: Room, items: Sequence[Item]) -> Room:
    """Room without items, and without what would point to them.

    Raises
    ------
    OperationError
        One of them is locked.
    """
    for item in items:
        refuse_locked(item)
    devices = [item.id for item in items if item.collection == ("devices",)]
    for item in items:
        if item.collection == ("equipment",):
            room = without_ends(_unhoused(room, item), [item.id])
        if isinstance(item.thing, Display) and item.id not in (*room.devices, *room.equipment):
            room = without_ends(room, [item.id])
        if item.collection != ("devices",):
            entries = entries_of(room, item.collection)
            rest = {k: v for k, v in entries.items() if k != item.id}
            room = with_entries(room, item.collection, rest)
        if item.collection == ("partitions",):
            room = _undivided(room, item.id)
    if devices:
        room = without_devices(room, devices)
    if any(isinstance(item.thing, Display | Screen) for item in items):
        room = _without_pictures(room)
    return room


def _unhoused(room: Room, item: Item) -> Room:
    """Devices that stood in a piece of equipment stand where it stood."""
    housed = {k: d for k, d in room.devices.items() if d.equipment == item.id}
    if not housed:
        return room
    devices = dict(room.devices)
    for name, device in housed.items():
        kept = {n: getattr(device, n) for n in device.model_fields_set - {"equipment"}}
        devices[name] = Device.model_construct({*kept, "at"}, **{**kept, "at": item.thing.at})
    return room.model_copy(update={"devices": devices})


def _undivided(room: Room, partition: str) -> Room:
    if not room.arrangements:
        return room
    kept = {}
    for key, arrangement in room.arrangements.items():
        states = {
            name: tuple(p for p in getattr(arrangement, name) if p != partition)
            for name in arrangement.model_fields_set
        }
        if any(states.values()):
            kept[key] = arrangement.model_copy(update=states)
    return room.model_copy(update={"arrangements": kept})


def _without_pictures(room: Room) -> Room:
    """Nobody faces a display that is not there."""
    if any(isinstance(item, Display | Screen) for item in room.furniture.values()):
        return room
    for collection in (("people", "seats"), ("people", "standing")):
        entries: dict[str, Any] = dict(entries_of(room, collection))
        looking = [name for name, person in entries.items() if "display" in person.facing]
        for name in looking:
            others = tuple(one for one in entries[name].facing if one != "display")
            entries[name] = entries[name].model_copy(update={"facing": others or ("across",)})
        if looking:
            room = with_entries(room, collection, entries)
    return room
