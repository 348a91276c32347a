"""Housings of devices as upright boxes, and how deep they stick into each other and the room."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from wellheard.arrays import Array
from wellheard.catalog.products import Loudspeaker, Microphone
from wellheard.geometry import distance_outside
from wellheard.geometry.overlap import depth_of_overlap, width_of
from wellheard.predict.evidence import PlacedDevice, PlacedMicrophone, Point
from wellheard.room.document import Room

ON_WALLS = frozenset({"wall", "front"})
"""Mountings that let a housing touch a wall."""


@dataclass(frozen=True)
class Box:
    """The housing of a device: an upright box, turned on the plan."""

    id: str
    at: Point
    corners: Array
    """On the plan, shape (4, 2). [m]"""
    bottom: float
    top: float
    free: bool
    """It touches no wall: it is not made to hang on one."""

    @property
    def reach(self) -> float:
        """Half its diagonal on the plan. [m]"""
        return float(np.linalg.norm(self.corners[2] - self.corners[0])) / 2


def microphone_box(
    name: str, product: Microphone, at: Point, *, aim_deg: float, mounting: str
) -> Box:
    """Housing of a microphone; a capsule on a stem has its box below it."""
    below = max(product.stem, product.size[2] / 2)
    return _box(name, at, product.size, aim_deg, below=below, free=mounting not in ON_WALLS)


def housings(
    room: Room, microphones: Iterable[PlacedMicrophone], others: Iterable[PlacedDevice]
) -> list[Box]:
    """Boxes of all that has a place of its own; what is housed in equipment has none."""
    found = [
        microphone_box(one.id, one.product, one.at, aim_deg=one.aim_deg, mounting=one.mounting)
        for one in microphones
    ]
    for device in others:
        if device.at is None or device.equipment is not None:
            continue
        own = room.devices[device.id]
        turned = own.rotation_deg if own.aim_deg is None else own.aim_deg
        found.append(
            loudspeaker_box(device.id, device.product, device.at, aim_deg=turned)
            if isinstance(device.product, Loudspeaker)
            else _box(
                device.id,
                device.at,
                device.product.size,
                turned,
                below=device.product.size[2] / 2,
                free=False,
            )
        )
    return found


def loudspeaker_box(name: str, product: Loudspeaker, at: Point, *, aim_deg: float = 0.0) -> Box:
    """Housing of a loudspeaker, turned as the document turns it."""
    return _box(
        name,
        at,
        product.size,
        aim_deg,
        below=product.size[2] / 2,
        free=not ON_WALLS & set(product.mountings),
    )


def _box(
    name: str,
    at: Point,
    size: tuple[float, float, float],
    aim_deg: float,
    *,
    below: float,
    free: bool,
) -> Box:
    angle = math.radians(aim_deg)
    ahead, aside = (
        np.array([math.cos(angle), math.sin(angle)]),
        np.array([-math.sin(angle), math.cos(angle)]),
    )
    deep, wide = ahead * size[1] / 2, aside * size[0] / 2
    middle = np.asarray(at[:2])
    corners = np.stack(
        [middle - deep - wide, middle + deep - wide, middle + deep + wide, middle - deep + wide]
    )
    return Box(name, at, corners, at[2] - below, at[2] + size[2] / 2, free)


def depth_in_each_other(one: Box, other: Box) -> float:
    """Shortest way that parts two housings, 0 or less where they are apart. [m]"""
    over = min(one.top, other.top) - max(one.bottom, other.bottom)
    if over <= 0 or math.dist(one.at[:2], other.at[:2]) >= one.reach + other.reach:
        return 0.0
    return min(over, float(depth_of_overlap(one.corners, other.corners)))


def depth_in_wall(room: Room, box: Box) -> float:
    """How far a free housing sticks out of the room on the plan. [m]"""
    if not box.free:
        return 0.0
    outline = np.asarray(room.space.outline, dtype=np.float64)
    return float(distance_outside(outline, box.corners).max())


def depths_in_obstacles(room: Room, box: Box, *, rounding: float) -> Iterator[tuple[str, float]]:
    """Every obstacle that a free housing touches, and the width on the plan that they share.

    What stands on an obstacle, or reaches below its top by no more than ``rounding``, is over
    it. [m]
    """
    if not box.free:
        return
    at = np.asarray(box.at[:2], dtype=np.float64)
    for name, obstacle in room.space.obstacles.items():
        top = room.space.height if obstacle.height is None else obstacle.height
        outline = np.asarray(obstacle.outline, dtype=np.float64)
        if box.bottom >= top - rounding or float(distance_outside(outline, at)) >= box.reach:
            continue
        import shapely  # 0.1 s, and only for a housing at a column

        shared = shapely.Polygon(box.corners).intersection(shapely.Polygon(outline))
        yield name, width_of(shared)
