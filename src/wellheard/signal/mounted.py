"""How a device of the document is mounted, of the ways that its product allows."""

from __future__ import annotations

import math

import numpy as np

from wellheard.arrays import Array
from wellheard.catalog.products import Loudspeaker, Microphone
from wellheard.geometry.points import contains_points, nearest_point_on_polygon
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
