"""How a device of the document is mounted, of the ways that its product allows."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from wellheard.arrays import Array
from wellheard.catalog.products import AnyProduct, Fit, Loudspeaker, Microphone
from wellheard.geometry.points import contains_points, nearest_point_on_polygon
from wellheard.room.devices import Device
from wellheard.room.document import Room

AT_WALL = 0.35
"""A device nearer than this to a wall may be mounted on it [m]."""

Point = tuple[float, float, float]


def mounting_of(room: Room, product: Microphone | Loudspeaker, at: Point) -> str:
    """How a device at ``at`` is mounted, of the ways its product allows.

    One way only is that way. Otherwise: at a wall within 35 cm, over a table within half a
    metre of its top, else at the ceiling; what the product does not allow is passed over.
    """
    ways = product.mountings
    if len(ways) == 1:
        return ways[0]
    guesses = []
    plan = np.asarray([at[:2]])
    outline = np.asarray(room.space.outline, dtype=np.float64)
    if wall_distance(outline, at) <= AT_WALL:
        guesses += ["front", "wall"]
    for item in room.furniture.values():
        if item.kind == "lectern" and math.dist(item.at, at[:2]) < 0.5:
            guesses.append("lectern")
        if (
            item.kind == "table"
            and contains_points(np.asarray(item.outline, dtype=np.float64), plan)[0]
            and at[2] - item.height < 0.5
        ):
            guesses.append("table")
    if product.drops and room.space.height - at[2] <= max(product.drops) + 0.05:
        guesses.append("ceiling")
    for guess in guesses:
        if guess in ways:
            return guess
    return ways[0]


def wall_distance(outline: Array, at: Point) -> float:
    """Distance of a point from the nearest wall on the plan [m]."""
    near = nearest_point_on_polygon(np.asarray([at[:2]]), outline)[0]
    return float(np.hypot(near[0] - at[0], near[1] - at[1]))


@dataclass(frozen=True)
class Mounted:
    """How one device is held.

    Parameters
    ----------
    mounting : str
        One of its product's mountings.
    drop : float or None
        Below the ceiling, 0 for flush; None where it is not on a ceiling. [m]
    fit : {"tile", "hole", "hard", "open"} or None
        How it holds to the ceiling; None where the product's usual one is taken.
    """

    mounting: str
    drop: float | None = None
    fit: Fit | None = None


def as_mounted(room: Room, product: AnyProduct, device: Device) -> Mounted:
    """How a device of the document is mounted, as it is bought and put up.

    What stands in a rack or a table box is mounted for it, where its product can be; electronics
    without a place are mounted the usual way.
    """
    if device.at is None or not isinstance(product, Microphone | Loudspeaker):
        housing = room.equipment.get(device.equipment or "")
        kind = "" if housing is None else str(housing.kind)
        return Mounted(kind if kind in product.mountings else product.mountings[0])
    mounting = mounting_of(room, product, device.at)
    if mounting != "ceiling":
        return Mounted(mounting)
    below = max(round(room.space.height - device.at[2], 6), 0.0)
    return Mounted(mounting, below, next(iter(held_by(room, product)), None))


def held_by(room: Room, product: AnyProduct) -> tuple[Fit, ...]:
    """The ways a product can hold to the ceiling here, kindest to the ceiling first.

    Where the document tells the tiles' module, what takes the place of a tile needs one that it
    lies on: within 10 mm, so that it does not fall past the tees. Where nothing else holds it
    either, it is still meant for a tile and comes with a frame or adapter; whether the sizes
    agree to the millimetre is for the rule ``grid-mixed`` to say. Empty where it cannot be
    mounted at all.
    """
    ceiling, holes = room.space.ceiling, room.choices.new_holes
    any_grid = product.fits_for_ceiling(ceiling.kind, new_holes=holes)
    grid = told_module(room)
    if grid is None:
        return any_grid
    return product.fits_for_ceiling(ceiling.kind, new_holes=holes, module=grid) or any_grid


def told_module(room: Room) -> tuple[float, float] | None:
    """Size of the ceiling's tiles; None where there are none or the document does not say. [m]

    The usual module of the document's units is no evidence.
    """
    ceiling = room.space.ceiling
    if ceiling.kind != "tiles" or "module" not in ceiling.model_fields_set:
        return None
    return ceiling.module
