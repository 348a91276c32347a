"""Where the cable of a device leaves it: into the void, down to the floor, or into a wall."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

import numpy as np

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import AnyProduct, Extender, Loudspeaker, Microphone
from wellheard.errors import CatalogError
from wellheard.geometry.points import contains_points, distance_outside
from wellheard.room.document import Room
from wellheard.room.equipment import EquipmentKind
from wellheard.signal.mounted import mounting_of, wall_distance

Point: TypeAlias = tuple[float, float, float]
Plane: TypeAlias = Literal["void", "floor", "wall", "open"]
"""Where a piece of cable lies: above the ceiling (or at the height of an open one), under the
floor, in or on a wall, or in the open between two ends that are next to each other."""

BESIDE_WALL = 1.0
"""What stands nearer than this to a wall or a column has its cable on it [m]."""
IN_CEILING = 0.3
"""What is nearer than this to the ceiling, of unknown mounting, has its cable above it [m]."""

FAR_BOX = ("far", "run-far")
"""Sockets of the box of an extender that does not stand where the document places it."""

PLANES: dict[str, Plane] = {
    "ceiling": "void",
    "wall": "wall",
    "front": "wall",
    "table": "floor",
    "lectern": "floor",
    "stand": "floor",
    "table-box": "floor",
}
"""By mounting; what stands in a rack has the plane of its rack."""

EQUIPMENT: dict[EquipmentKind, Plane] = {
    "rack": "wall",
    "wall-plate": "wall",
    "entry": "wall",
    "table-box": "floor",
}
"""By kind of equipment; of what the customer brings it is told from where it stands."""


@dataclass(frozen=True)
class End:
    """One end of a cable.

    Parameters
    ----------
    device : str
        Id of the device, the equipment or the picture that it ends at.
    port : str
        Empty where the document names none.
    at : Point or None
        None where it has no place. [m]
    plane : {"void", "floor", "wall", "open"}
        Where its cable leaves.
    housing : str
        Equipment that it stands in, or is; empty for what has a place of its own.
    """

    device: str
    port: str
    at: Point | None
    plane: Plane
    housing: str = ""

    @property
    def place(self) -> Point:
        """Where it is, of an end that has a place. [m]"""
        if self.at is None:
            raise ValueError(f"{self.device} has no place")
        return self.at


class Ends:
    """The ends of one document."""

    def __init__(self, room: Room, catalogue: Catalogue) -> None:
        self.room = room
        self.catalogue = catalogue
        self._known: dict[str, End] = {}
        self.outline = np.asarray(room.space.outline, dtype=np.float64)
        self.columns = [
            np.asarray(one.outline, dtype=np.float64)
            for one in room.space.obstacles.values()
            if one.height is None or one.height >= room.space.height
        ]
        self.tables = {
            name: np.asarray(one.outline, dtype=np.float64)
            for name, one in room.furniture.items()
            if one.kind == "table"
        }

    def end(self, port: str) -> End:
        """End of a cable at ``device.port``, or at a device, equipment or picture as such."""
        name, _, socket = port.partition(".")
        beside = self._far_box(name, socket)
        if beside:
            return replace(self.end(beside), device=name, port=socket)
        if name not in self._known:
            self._known[name] = self._end(name)
        return replace(self._known[name], port=socket)

    def _far_box(self, name: str, socket: str) -> str:
        """Port beside which the far one of an extender's two boxes stands; empty for all else."""
        device = self.room.devices.get(name)
        if device is None or socket not in FAR_BOX:
            return ""
        try:
            product = self.catalogue.product(device.product)
        except CatalogError:
            return ""
        if not isinstance(product, Extender) or product.over == product.carries:
            return ""
        for link in self.room.links.values():
            for here, there in ((link.from_, link.to), (link.to, link.from_)):
                if here == f"{name}.far":
                    return there
        return ""

    def _end(self, name: str) -> End:
        device = self.room.devices.get(name)
        if device is not None:
            if device.at is None:
                housed = self.room.equipment.get(device.equipment or "")
                if housed is None:
                    return End(name, "", None, "open")
                plane = self._equipment_plane(housed.kind, housed.at)
                return End(name, "", housed.at, plane, device.equipment or "")
            plane = self._device_plane(device.product, device.at)
            return End(name, "", device.at, plane, device.equipment or "")
        if name in self.room.equipment:
            item = self.room.equipment[name]
            return End(name, "", item.at, self._equipment_plane(item.kind, item.at), name)
        picture = self.room.furniture.get(name)
        if picture is not None and (picture.kind == "display" or picture.kind == "screen"):
            at = self.room.space.on_wall(picture.wall, *picture.centre)
            return End(name, "", at, "wall")
        return End(name, "", None, "open")

    def table_under(self, at: Point) -> str:
        """Id of the table that something stands on or over; empty where there is none."""
        plan = np.asarray([at[:2]])
        over = (name for name, top in self.tables.items() if contains_points(top, plan)[0])
        return next(over, "")

    def mounted(self, mounting: str, at: Point) -> Plane:
        """Where the cable of a device leaves, by how and where it is mounted."""
        plane = PLANES.get(mounting)
        if plane == "wall":
            return self._foot(at)
        return self._by_place(at) if plane is None else plane

    def _device_plane(self, product_id: str, at: Point) -> Plane:
        try:
            product = self.catalogue.product(product_id)
        except CatalogError:
            return self._by_place(at)
        if isinstance(product, Microphone | Loudspeaker):
            return self.mounted(mounting_of(self.room, product, at), at)
        if _hangs(product) and self.room.space.height - at[2] <= IN_CEILING:
            return "void"
        return self._by_place(at)

    def _equipment_plane(self, kind: EquipmentKind, at: Point) -> Plane:
        plane = EQUIPMENT.get(kind)
        if plane is not None:
            return self._foot(at) if plane == "wall" else plane
        if self.room.space.height - at[2] <= IN_CEILING:
            return "void"
        return self._by_place(at)

    def _by_place(self, at: Point) -> Plane:
        return "floor" if self.table_under(at) else self._foot(at)

    def _foot(self, at: Point) -> Plane:
        """In the wall that it stands at; in the middle of the room there is the floor only."""
        return "wall" if self.beside_wall(at) else "floor"

    def beside_wall(self, at: Point) -> bool:
        """Whether a point is so near to a wall or a column that cable there lies on it."""
        plan = np.asarray([at[:2]])
        return wall_distance(self.outline, at) <= BESIDE_WALL + 1e-9 or any(
            float(distance_outside(column, plan)[0]) <= BESIDE_WALL + 1e-9
            for column in self.columns
        )


def _hangs(product: AnyProduct) -> bool:
    return "ceiling" in product.mountings
