"""Places that each mounting offers in a room, whatever the rules say of them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from wellheard.arrays import Array
from wellheard.catalog.product import Hanging
from wellheard.catalog.products import Fit, Microphone
from wellheard.geometry.points import distance_outside, grid_in_polygon
from wellheard.geometry.polygons import centroid, edge_lengths, edge_normals
from wellheard.predict.devices import default_aim_deg
from wellheard.predict.evidence import Point
from wellheard.predict.scene import Scene
from wellheard.predict.talkers import display_place
from wellheard.room.document import Room
from wellheard.signal.mounted import held_by
from wellheard.units import FOOT, format_length

OPEN_GRIDS = {
    "m": (0.3, 0.4, 0.5, 0.6, 0.8, 1.0),
    "ft": (FOOT, 1.5 * FOOT, 2 * FOOT, 3 * FOOT),
}
"""Spacings of candidate places on a ceiling without tiles, by the document's units [m]."""
MOST_OPEN_PLACES = 150
"""The finest spacing that gives no more places than this is taken, else the coarsest."""

TABLE_GRID = 0.2
"""Spacing of candidate places on a table, about its centre: between the working places of two
sides often no more than the centre line is left. [m]"""
TABLE_EDGE = 0.2
"""A table microphone keeps this far from the table's edge [m]."""
WALL_GRID = 0.6
WALL_HEIGHT = 1.5
"""Spacing along a wall, and height above the floor, of wall microphones [m]."""
PICTURE_GAP = 0.1
"""Gap between a picture and a front device above or below it [m]."""
FLOOR_UP = 0.3
"""A front device keeps its centre this far above the floor [m]."""


class Standing(Protocol):
    """Whatever may be placed: a microphone or a loudspeaker at one place."""

    @property
    def product(self) -> Hanging: ...
    @property
    def at(self) -> Point: ...
    @property
    def mounting(self) -> str: ...
    @property
    def drop(self) -> float | None: ...
    @property
    def fit(self) -> Fit | None: ...
    @property
    def id(self) -> str | None: ...


@dataclass(frozen=True)
class Candidate:
    """One product at one place."""

    product: Microphone
    at: Point
    aim_deg: float
    mounting: str
    drop: float | None
    fit: Fit | None
    id: str | None = None
    """Id of a device of the document that stays; None for a new one."""


def places(scene: Scene, product: Microphone, mounting: str) -> Iterator[Candidate]:
    room = scene.room
    if mounting == "ceiling":
        fits = held_by(room, product)
        if fits:
            yield from _ceiling(room, product, fits[0])
    elif mounting == "table":
        yield from _tables(scene, product)
    elif mounting == "lectern":
        yield from _lecterns(scene, product)
    elif mounting == "front":
        yield from _fronts(scene, product)
    elif mounting == "wall":
        yield from _walls(scene, product)


def ceiling_points(room: Room, fit: Fit | None) -> Array:
    """Plan places on the ceiling, shape (n, 2): whole tiles' centres, or a grid."""
    outline = np.asarray(room.space.outline, dtype=np.float64)
    ceiling = room.space.ceiling
    if ceiling.kind != "tiles" or fit == "hard":
        return grid_in_polygon(outline, spacing=open_spacing(room))
    turn = math.radians(ceiling.rotation_deg)
    across, up = ceiling.module
    half = np.array(
        [
            (across * math.cos(turn) - up * math.sin(turn)) / 2,
            (across * math.sin(turn) + up * math.cos(turn)) / 2,
        ]
    )
    centres = grid_in_polygon(
        outline,
        spacing=ceiling.module,
        origin=(ceiling.origin[0] + half[0], ceiling.origin[1] + half[1]),
        rotation=turn,
    )
    if not len(centres):
        return centres
    x, y = (
        np.array([across / 2 * math.cos(turn), across / 2 * math.sin(turn)]),
        np.array([-up / 2 * math.sin(turn), up / 2 * math.cos(turn)]),
    )
    corners = np.stack([centres + x + y, centres + x - y, centres - x + y, centres - x - y])
    whole = np.all(distance_outside(outline, corners.reshape(-1, 2)).reshape(4, -1) < 1e-6, axis=0)
    return centres[whole]


def open_spacing(room: Room) -> float:
    """Spacing of places on a ceiling without tiles: round, and fine enough for the room [m]."""
    outline = np.asarray(room.space.outline, dtype=np.float64)
    grids = OPEN_GRIDS[room.units]
    for step in grids:
        if len(grid_in_polygon(outline, spacing=step)) <= MOST_OPEN_PLACES:
            return step
    return grids[-1]


def _ceiling(room: Room, product: Microphone, fit: Fit) -> Iterator[Candidate]:
    longest = room.choices.max_drop
    drops = [d for d in product.drops if longest is None or d <= longest + 1e-9]
    for x, y in ceiling_points(room, fit):
        for drop in drops:
            if drop >= room.space.height:
                continue
            yield Candidate(
                product=product,
                at=(float(x), float(y), room.space.height - drop),
                aim_deg=0.0,
                mounting="ceiling",
                drop=drop,
                fit=fit,
            )


def _tables(scene: Scene, product: Microphone) -> Iterator[Candidate]:
    for item in scene.room.furniture.values():
        if item.kind != "table":
            continue
        outline = np.asarray(item.outline, dtype=np.float64)
        middle = centroid(outline)
        for x, y in grid_in_polygon(
            outline, spacing=TABLE_GRID, origin=(middle[0], middle[1]), margin=TABLE_EDGE
        ):
            at = (float(x), float(y), item.height + product.stem)
            yield _aimed(scene, product, at, "table")


def _lecterns(scene: Scene, product: Microphone) -> Iterator[Candidate]:
    for item in scene.room.furniture.values():
        if item.kind == "lectern":
            at = (item.at[0], item.at[1], item.height + product.stem)
            yield _aimed(scene, product, at, "lectern")


def _fronts(scene: Scene, product: Microphone) -> Iterator[Candidate]:
    room = scene.room
    outline = np.asarray(room.space.outline, dtype=np.float64)
    inward = edge_normals(outline)
    for name, item in room.furniture.items():
        if item.kind not in ("display", "screen"):
            continue
        x, y, z = display_place(room, name)
        normal = inward[room.space.walls.index(item.wall)]
        depth, tall = product.size[1], product.size[2]
        azimuth = math.degrees(math.atan2(normal[1], normal[0])) % 360.0
        gap = item.size[1] / 2 + PICTURE_GAP + tall / 2
        for height in (z - gap, z + gap):
            if FLOOR_UP <= height <= room.space.height - tall:
                yield Candidate(
                    product=product,
                    at=(
                        float(x + normal[0] * depth / 2),
                        float(y + normal[1] * depth / 2),
                        float(height),
                    ),
                    aim_deg=azimuth,
                    mounting="front",
                    drop=None,
                    fit=None,
                )


def _walls(scene: Scene, product: Microphone) -> Iterator[Candidate]:
    room = scene.room
    outline = np.asarray(room.space.outline, dtype=np.float64)
    inward, lengths = edge_normals(outline), edge_lengths(outline)
    for index, start in enumerate(outline):
        along = (np.roll(outline, -1, axis=0)[index] - start) / lengths[index]
        normal = inward[index]
        count = int(lengths[index] // WALL_GRID)
        first = (lengths[index] - (count - 1) * WALL_GRID) / 2
        for step in range(count):
            spot = start + along * (first + step * WALL_GRID) + normal * product.size[1] / 2
            at = (float(spot[0]), float(spot[1]), min(WALL_HEIGHT, room.space.height - 0.1))
            yield _aimed(scene, product, at, "wall")


def _aimed(scene: Scene, product: Microphone, at: Point, mounting: str) -> Candidate:
    return Candidate(
        product=product,
        at=at,
        aim_deg=default_aim_deg(at, mounting, scene.talkers),
        mounting=mounting,
        drop=None,
        fit=None,
    )


def in_words(room: Room, product: Microphone, mounting: str) -> str:
    if mounting == "ceiling":
        fits = held_by(room, product)
        if not fits:
            return ""
        flush = room.choices.max_drop == 0
        height = "flush" if flush else "at every drop length that the product has"
        if room.choices.max_drop and not flush:
            height += f" up to {format_length(room.choices.max_drop, unit=room.units)}"
        if room.space.ceiling.kind == "tiles" and fits[0] != "hard":
            return f"the centre of every whole ceiling tile, {height}"
        return (
            f"a {format_length(open_spacing(room), unit=room.units)} grid on the ceiling, {height}"
        )
    return {
        "table": f"a {format_length(TABLE_GRID, unit=room.units)} grid on every table",
        "lectern": "every lectern",
        "front": "above and below every picture",
        "wall": f"every {format_length(WALL_GRID, unit=room.units)} along the walls",
    }[mounting]


def allowed_places(count: int) -> str:
    """So many of them, in words.

    Examples
    --------
    >>> allowed_places(1), allowed_places(12)
    ('1 allowed place', '12 allowed places')
    """
    return f"{count} allowed place" + ("" if count == 1 else "s")
