"""Where the things of a room are on its plan, by their paths in the document."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from typing import Any

from pydantic import BaseModel

from wellheard.room.document import Room

_DEPTH = {
    "people": 3,
    "noise": 3,
    "furniture": 2,
    "devices": 2,
    "overhead": 2,
    "equipment": 2,
    "partitions": 2,
}


def item_of(at: str, room: Room) -> str:
    """The item that a place in the document belongs to; '' where that is nothing on the plan.

    Examples
    --------
    >>> from wellheard.room.document import Room
    >>> room = Room.model_validate(
    ...     {
    ...         "wellheard": 1,
    ...         "space": {"outline": [[0, 0], [4, 0], [4, 3], [0, 3]], "height": 2.7},
    ...         "people": {"seats": {"s1": {"at": [1, 1]}}},
    ...     }
    ... )
    >>> item_of("people.seats.s1.facing", room), item_of("targets.sti_outbound", room)
    ('people.seats.s1', '')
    """
    steps = at.split(".")
    depth = _DEPTH.get(steps[0], 0)
    if steps[:2] == ["space", "obstacles"]:
        depth = 3
    if steps[:3] == ["space", "finishes", "patches"]:
        depth = 4
    item = ".".join(steps[:depth]) if depth and len(steps) >= depth else ""
    return item if item and thing_at(item, room) is not None else ""


def thing_at(item: str, room: Room) -> Any:
    """What stands at an item's path; None where nothing does."""
    found: Any = room
    for step in item.split("."):
        if isinstance(found, Mapping):
            found = found.get(step)
        else:  # a path may come from anybody: fields of the document and nothing else
            found = getattr(found, step, None) if step in _fields(found) else None
        if found is None:
            return None
    return found


def _fields(thing: Any) -> Collection[str]:
    return type(thing).model_fields if isinstance(thing, BaseModel) else ()


def place_on_plan(item: str, room: Room) -> tuple[float, float] | None:
    """Middle of an item on the plan; None for what has no place there. [m]"""
    thing = thing_at(item, room)
    if thing is None:
        return None
    at = getattr(thing, "at", None)
    if at is None and getattr(thing, "equipment", None) in room.equipment:
        at = room.equipment[thing.equipment].at
    if at is not None:
        return float(at[0]), float(at[1])
    outline = getattr(thing, "outline", None)
    if outline is not None:
        return middle_of(outline)
    if item.startswith("partitions."):
        return middle_of((thing.from_, thing.to))
    wall = getattr(thing, "wall", None)
    if wall in room.space.walls:
        (x0, y0), (x1, y1) = room.space.wall_ends(wall)
        length = math.hypot(x1 - x0, y1 - y0)
        centre = getattr(thing, "centre", None)
        along = centre[0] if centre is not None else (thing.from_ + thing.to) / 2
        return x0 + (x1 - x0) * along / length, y0 + (y1 - y0) * along / length
    return None


def middle_of(outline: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Middle of the bounds of some points. [m]

    Examples
    --------
    >>> middle_of([(0.0, 0.0), (4.0, 0.0), (4.0, 1.0)])
    (2.0, 0.5)
    """
    xs, ys = zip(*outline, strict=True)
    return (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
