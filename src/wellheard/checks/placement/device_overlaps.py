"""Devices in one another, in a wall or in a column."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from wellheard.arrays import Array
from wellheard.checks.model import Draft
from wellheard.checks.overlap import depth_of_overlap, width_of
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.separation import plan_distance
from wellheard.checks.wording import length
from wellheard.geometry import distance_outside
from wellheard.predict.evidence import Evidence, Point

CODE = "device-overlaps"
ON_WALLS = frozenset({"wall", "front"})


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


@rule(CODE, "error", strength="house", cites="", thresholds=(CODE,))
def device_overlaps(evidence: Evidence) -> Iterator[Draft]:
    """Every housing has its own place.

    Microphones, loudspeakers and electronics with a place are boxes of their product's size about
    it, turned as they are aimed; a capsule on a stem has its box below it. No two may reach into
    each other, nor one into a wall or column unless it is made to hang on it. What is
    housed in equipment has no place of its own. 0.01 m is taken for rounding.
    """
    limit = limit_in_force(evidence, CODE)
    boxes = _boxes(evidence)
    for i, one in enumerate(boxes):
        for other in boxes[i + 1 :]:
            if math.dist(one.at[:2], other.at[:2]) >= one.reach + other.reach:
                continue
            depth = min(_shared(one, other), depth_of_overlap(one.corners, other.corners))
            if depth > limit + 1e-6:
                yield _draft(
                    evidence, other.id, f"{one.id} and {other.id} are in one place", depth, limit
                )
    outline = np.asarray(evidence.room.space.outline, dtype=np.float64)
    for box in boxes:
        if not box.free:
            continue
        depth = float(distance_outside(outline, box.corners).max())
        if depth > limit + 1e-6:
            yield _draft(evidence, box.id, f"{box.id} sticks into the wall", depth, limit)
        for name, obstacle in evidence.room.space.obstacles.items():
            top = evidence.room.space.height if obstacle.height is None else obstacle.height
            if box.bottom >= top - limit or plan_distance(box.at, obstacle.outline) >= box.reach:
                continue
            depth = _depth_in(box.corners, obstacle.outline)
            if depth > limit + 1e-6:
                yield _draft(evidence, box.id, f"{box.id} sticks into {name}", depth, limit)


def _draft(evidence: Evidence, name: str, what: str, depth: float, limit: float) -> Draft:
    return Draft(
        at=f"devices.{name}",
        message=(
            f"{what}: the housings overlap by {length(evidence, depth)}."
            if " and " in what
            else f"{what} by {length(evidence, depth)}; a housing is free all round."
        ),
        value=depth,
        limit=limit,
        unit="m",
        remedy=f"Move {name} by {length(evidence, depth)} or more, or correct devices.{name}.at.",
    )


def _boxes(evidence: Evidence) -> list[Box]:
    found = []
    for microphone in evidence.microphones:
        stem = microphone.product.stem
        found.append(
            _box(
                microphone.id,
                microphone.at,
                microphone.product.size,
                microphone.aim_deg,
                below=max(stem, microphone.product.size[2] / 2),
                free=microphone.mounting not in ON_WALLS,
            )
        )
    for device in evidence.others:
        if device.at is None or device.equipment is not None:
            continue
        own = evidence.room.devices[device.id]
        found.append(
            _box(
                device.id,
                device.at,
                device.product.size,
                own.rotation_deg if own.aim_deg is None else own.aim_deg,
                below=device.product.size[2] / 2,
                free=device.kind == "loudspeaker" and not ON_WALLS & set(device.product.mountings),
            )
        )
    return found


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


def _shared(one: Box, other: Box) -> float:
    """Common height of two boxes, negative if one is above the other. [m]"""
    return min(one.top, other.top) - max(one.bottom, other.bottom)


def _depth_in(corners: Array, outline: tuple[tuple[float, float], ...]) -> float:
    """Width of what a housing and a column share on the plan. [m]"""
    import shapely  # 0.1 s, and only for a housing at a column

    return width_of(shapely.Polygon(corners).intersection(shapely.Polygon(outline)))
