"""The room as wiring takes it: with a rack, a computer and places where the document has none."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.product import Product
from wellheard.geometry.points import contains_points
from wellheard.room.devices import Device
from wellheard.room.document import Room
from wellheard.room.equipment import Equipment
from wellheard.signal.ports import EQUIPMENT_PORTS

OFF_WALL = 0.3
"""Middle of a rack in front of its wall (common practice, no source). [m]"""
RACK_HEIGHT = 0.4
"""Middle of a low rack above the floor (common practice, no source). [m]"""


@dataclass(frozen=True)
class Setting:
    """A room with what wiring adds to it so that cables have an end.

    Parameters
    ----------
    room : Room
    said : mapping of str to str
        A sentence for each thing that was added, by its path in the document.
    """

    room: Room
    said: Mapping[str, str]

    def houses(self, product: Product) -> tuple[tuple[str, str], ...]:
        """Equipment that a product may go into, with the mounting; stated equipment first.

        What wiring adds is offered only to what no stated equipment takes.
        """
        found = [
            (name, item.kind)
            for name, item in self.room.equipment.items()
            if item.kind in product.mountings
        ]
        stated = [one for one in found if f"equipment.{one[0]}" not in self.said]
        return tuple(stated or found)


def setting(room: Room, catalogue: Catalogue) -> Setting:
    """Room with a rack, a computer, and a place for electronics that wait for one.

    A rack is added where the document has none: at the foot of the wall with the picture, else of
    the first wall. A computer is added where it has neither computer nor codec: at a table box,
    else beside the rack.
    """
    said: dict[str, str] = {}
    if not any(item.kind == "rack" for item in room.equipment.values()):
        name = free(room, "rack")
        wall, at = _foot(room)
        room = _with(room, name, Equipment(kind="rack", at=at))
        said[f"equipment.{name}"] = (
            f"The document has no rack: {name} is taken to stand at the foot of wall {wall}."
        )
    if not any(item.kind in EQUIPMENT_PORTS for item in room.equipment.values()):
        name = free(room, "computer")
        where, at = _beside(room)
        room = _with(room, name, Equipment(kind="computer", at=at))
        said[f"equipment.{name}"] = (
            f"The document has no computer and no codec: {name} is taken to be at {where}."
        )
    devices: dict[str, Device] = {}
    made = Setting(room, said)
    for name, device in room.devices.items():
        if device.at is None and device.equipment is None:
            houses = made.houses(catalogue.product(device.product))
            if houses:
                devices[name] = device.model_copy(update={"equipment": houses[0][0]})
                said[f"devices.{name}"] = (
                    f"{name} has no place: it is taken to be in {houses[0][0]}."
                )
    if devices:
        room = room.model_copy(update={"devices": {**room.devices, **devices}})
    return Setting(room, said)


def free(room: Room, stem: str) -> str:
    """Id that no device, equipment or furniture has: the stem, else with a number."""
    taken = {*room.devices, *room.equipment, *room.furniture}
    number, name = 1, stem
    while name in taken:
        number += 1
        name = f"{stem}-{number}"
    return name


def _with(room: Room, name: str, item: Equipment) -> Room:
    return room.model_copy(update={"equipment": {**room.equipment, name: item}})


def _foot(room: Room) -> tuple[str, tuple[float, float, float]]:
    """Wall with the picture, else the first, and a point in front of its foot."""
    pictures = [item for item in room.furniture.values() if item.kind in ("display", "screen")]
    walls = [item.wall for item in pictures if item.kind == "display" or item.kind == "screen"]
    name = walls[0] if walls else room.space.walls[0]
    (x0, y0), (x1, y1) = room.space.wall_ends(name)
    long = float(np.hypot(x1 - x0, y1 - y0))
    along = next(
        (
            item.centre[0]
            for item in pictures
            if (item.kind == "display" or item.kind == "screen") and item.wall == name
        ),
        long / 2,
    )
    x, y, _ = room.space.on_wall(name, min(max(along, 0.0), long), 0.0)
    inward = np.array([-(y1 - y0), x1 - x0]) / long
    outline = np.asarray(room.space.outline, dtype=np.float64)
    for sign in (1.0, -1.0):
        point = np.array([x, y]) + sign * OFF_WALL * inward
        if contains_points(outline, point[None])[0]:
            return name, (round(float(point[0]), 3), round(float(point[1]), 3), RACK_HEIGHT)
    return name, (round(x, 3), round(y, 3), RACK_HEIGHT)


def _beside(room: Room) -> tuple[str, tuple[float, float, float]]:
    for kind in ("table-box", "rack"):
        for name, item in room.equipment.items():
            if item.kind == kind:
                return name, item.at
    name, item = next(iter(room.equipment.items()))
    return name, item.at
