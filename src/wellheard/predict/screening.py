"""What stands in the direct sound's way, and what still comes round it.

::

        talker ●──────╲         ╱──● microphone        over a cupboard, or, on the plan,
                    ┌──╲───────╱──┐                    round the corner of a wall
                    │ cupboard    │
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from wellheard.acoustics.diffraction import diffraction_db
from wellheard.acoustics.levels import energy
from wellheard.arrays import Array
from wellheard.bands import EXACT_OCTAVES
from wellheard.geometry.polygons import TOUCH
from wellheard.geometry.sight import bent_path, clear_line
from wellheard.predict.scene import Scene
from wellheard.room.document import Room


def factors(scene: Scene, mouths: Array, at: Array, *, upper_only: bool = False) -> Array:
    """Direct energy re plain sight.

    Parameters
    ----------
    scene : Scene
        The room.
    mouths, at : ndarray, shape (..., 3)
        Ends of each path. [m]
    upper_only : bool
        Whether the microphones are set into a table top, which hides a mouth below it.

    Returns
    -------
    ndarray, shape (..., 7)
        1 in plain sight; what is bent round one or two corners, or over what is lower than the
        room, by Kurze and Anderson's form of Maekawa's curve; 0 where there is no such way. A
        table top that hides a mouth below it does so as on the edge of its shadow.
    """
    enclosure = scene.propagation.enclosure
    found = np.ones((*mouths.shape[:-1], 7))
    hidden = np.zeros(mouths.shape[:-1], dtype=bool)
    if not enclosure.is_box:
        hidden = ~clear_line(enclosure.walls, mouths[..., :2], at[..., :2])
    if np.any(hidden):
        ways = bent_path(enclosure.walls, mouths[hidden][:, :2], at[hidden][:, :2])
        rise = (at - mouths)[hidden][:, 2]
        straight = np.linalg.norm((at - mouths)[hidden], axis=-1)
        found[hidden] = _bent(scene, np.hypot(ways.length, rise) - straight)
    below = mouths[..., 2] < at[..., 2] - TOUCH
    if upper_only and np.any(below):
        found[below] *= _bent(scene, np.zeros(np.count_nonzero(below)))
    for corners, top in _low(scene.room):
        detour = _over(corners, top, mouths, at)
        over = np.isfinite(detour)
        if np.any(over):
            found[over] *= _bent(scene, detour[over])
    return found


def _bent(scene: Scene, detour: Array) -> Array:
    loss_db = np.full((len(detour), 7), np.inf)
    there = np.isfinite(detour)
    loss_db[there] = diffraction_db(
        np.maximum(detour[there], 0.0),
        frequency=np.asarray(EXACT_OCTAVES),
        speed=scene.propagation.speed,
    )
    return energy(-loss_db)


def _low(room: Room) -> Iterator[tuple[Array, float]]:
    """Outlines and heights of what is solid from the floor up but lower than the room [m]."""
    for obstacle in room.space.obstacles.values():
        if obstacle.height is not None and obstacle.height < room.space.height - 1e-6:
            yield np.asarray(obstacle.outline, dtype=np.float64), float(obstacle.height)
    for item in room.furniture.values():
        if item.kind == "cupboard":
            yield np.asarray(item.outline, dtype=np.float64), float(item.height)


def _over(corners: Array, top: float, a: Array, b: Array) -> Array:
    """Detour over an upright prism from the floor; infinite where it is not in the way [m]."""
    way = b - a
    enter, leave = _stretch(corners, a[..., :2], way[..., :2])
    through = enter < leave
    ends = [np.clip(one, 0.0, 1.0) for one in (enter, leave)]
    heights = [a[..., 2] + share * way[..., 2] for share in ends]
    blocked = through & (np.minimum(*heights) < top)
    # A string pulled tight over the top: from below it bends at the nearer edge, too.
    edges = [a + share[..., None] * way for share in ends]
    for edge in edges:
        edge[..., 2] = top
    first = np.where(a[..., 2:] < top, edges[0], edges[1])
    last = np.where(b[..., 2:] < top, edges[1], edges[0])
    length = (
        np.linalg.norm(first - a, axis=-1)
        + np.linalg.norm(last - first, axis=-1)
        + np.linalg.norm(b - last, axis=-1)
    )
    detour = np.maximum(length - np.linalg.norm(way, axis=-1), 0.0)
    return np.where(blocked, detour, np.inf)


def _stretch(corners: Array, start: Array, way: Array) -> tuple[Array, Array]:
    """Shares of lines on the plan between which they first enter and last leave a polygon."""
    first = np.full(start.shape[:-1], np.inf)
    last = np.full(start.shape[:-1], -np.inf)
    for p, q in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        side = q - p
        cross = way[..., 0] * side[1] - way[..., 1] * side[0]
        off = p - start
        with np.errstate(divide="ignore", invalid="ignore"):
            share = (off[..., 0] * side[1] - off[..., 1] * side[0]) / cross
            along = (off[..., 0] * way[..., 1] - off[..., 1] * way[..., 0]) / cross
        met = (np.abs(cross) > 1e-12) & (along >= 0) & (along <= 1) & (share >= 0) & (share <= 1)
        first = np.where(met, np.minimum(first, share), first)
        last = np.where(met, np.maximum(last, share), last)
    return first, last
