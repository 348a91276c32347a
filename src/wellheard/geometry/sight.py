"""Who sees whom on a plan, and the shortest way round corners.

A plan is a set of wall segments with the room on their left: the edges of a counter-clockwise
outline and of clockwise columns.

::

        ┌────────┐
        │ a      │            a does not see b; the shortest way bends
        │    ┌───┘            at the corner that reaches into the room
        │    │ solid
        │    └───┐
        │      b │
        └────────┘
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from wellheard.arrays import Array, Mask
from wellheard.geometry.polygons import TOUCH

STAND_OFF = 1e-5
"""A point on a wall is taken this far in front of it. [m]"""

GRAZE = 1e-9
"""A corner this near to a line is on it. [m]"""


@dataclass(frozen=True, eq=False)
class BentPaths:
    """Shortest ways on a plan.

    Parameters
    ----------
    length : ndarray, shape (...)
        Infinite where two bends are not enough. [m]
    detour : ndarray, shape (...)
        Length minus the straight distance. [m]
    bends : ndarray of int, shape (...)
        0 in plain sight, 1 or 2 corners, −1 where there is no such way.
    """

    length: Array
    detour: Array
    bends: npt.NDArray[np.int64]


def off_walls(walls: Array, points: Array) -> Array:
    """Points, those on walls moved a hair into the room.

    Parameters
    ----------
    walls : ndarray, shape (W, 4)
        x0, y0, x1, y1 with the room on their left. [m]
    points : ndarray, shape (..., 2)
        [m]

    Returns
    -------
    ndarray, shape (..., 2)
        A point within :data:`wellheard.geometry.polygons.TOUCH` of a wall stands
        :data:`STAND_OFF` in front of it, also in corners; all others are as they were. [m]

    Examples
    --------
    >>> walls = np.array([[0.0, 0.0, 4.0, 0.0], [4.0, 0.0, 4.0, 3.0]])
    >>> off_walls(walls, np.array([[1.0, 0.0], [4.0, 0.0], [1.0, 1.0]])).round(5).tolist()
    [[1.0, 1e-05], [3.99999, 1e-05], [1.0, 1.0]]
    """
    points = np.array(points, dtype=np.float64)
    inward, height = _heights(walls, points)
    flat = points.reshape(-1, 2)
    for point in np.flatnonzero((np.abs(height) < TOUCH).any(axis=-1)):
        touched = _distances(flat[point], walls) < TOUCH
        if touched.any():
            short = STAND_OFF - height.reshape(-1, len(walls))[point, touched]
            flat[point] += _way_off(inward[touched], short)
    return flat.reshape(points.shape)


def _distances(point: Array, walls: Array) -> Array:
    """Distance of one point to each wall, its ends included, shape (W,). [m]"""
    offset, along = point - walls[:, :2], walls[:, 2:] - walls[:, :2]
    share = (offset * along).sum(axis=1) / np.maximum((along**2).sum(axis=1), 1e-300)
    return np.linalg.norm(offset - np.clip(share, 0.0, 1.0)[:, None] * along, axis=1)


def _heights(walls: Array, points: Array) -> tuple[Array, Array]:
    """Normals of the walls into the room (W, 2), and points before their lines (..., W). [m]"""
    along = walls[:, 2:] - walls[:, :2]
    length = np.maximum(np.hypot(along[:, 0], along[:, 1]), 1e-300)
    inward = np.stack([-along[:, 1], along[:, 0]], axis=1) / length[:, None]
    return inward, points @ inward.T - (inward * walls[:, :2]).sum(axis=1)


def _way_off(inward: Array, short: Array) -> Array:
    """Shortest step that is at least ``short`` along each of the normals ``inward``."""
    needed = np.maximum(short, 0.0)
    worst = int(np.argmax(needed))
    step = needed[worst] * inward[worst]
    left = needed - inward @ step
    if left.max() < 1e-3 * STAND_OFF:
        return np.asarray(step)
    # Into the corner between two: both at their distance. Walls back to back have no corner.
    pair = [worst, int(np.argmax(left))]
    if abs(_cross(*inward[pair])) < GRAZE:
        return np.asarray(step)
    return np.asarray(np.linalg.solve(inward[pair], needed[pair]))


def clear_line(walls: Array, a: Array, b: Array) -> Mask:
    """Whether the straight line between two points meets no wall.

    Parameters
    ----------
    walls : ndarray, shape (W, 4)
        x0, y0, x1, y1 with the room on their left. [m]
    a, b : ndarray, shape (..., 2)
        In the room; broadcast against each other. [m]

    Returns
    -------
    ndarray of bool, shape (...)
        Touching a corner or running along a wall is clear; the diagonal of a column is not.
        The same from both ends.

    Examples
    --------
    >>> column = np.array([[1.0, 1.0], [1.0, 2.0], [2.0, 2.0], [2.0, 1.0]])  # clockwise
    >>> walls = np.hstack([column, np.roll(column, -1, axis=0)])
    >>> clear_line(walls, np.array([0.0, 0.0]), np.array([[3.0, 3.0], [3.0, 2.0], [2.0, 4.0]]))
    array([False, False,  True])
    """
    a, b = off_walls(walls, a), off_walls(walls, b)
    return _sees(walls, a, b)


def _sees(walls: Array, a: Array, b: Array) -> Mask:
    """Clear line between points that are on no wall."""
    way = b - a
    length = np.maximum(np.hypot(way[..., 0], way[..., 1]), 1e-300)
    left_of_way = np.stack([-way[..., 1], way[..., 0]], axis=-1) / length[..., None]
    at_a = (left_of_way * a).sum(axis=-1)[..., None]
    off_start = left_of_way @ walls[:, :2].T - at_a
    off_end = left_of_way @ walls[:, 2:].T - at_a
    apart = (_heights(walls, a)[1] > 0.0) != (_heights(walls, b)[1] > 0.0)
    # A corner on the line is put on its left once and on its right once: what is only touched
    # blocks one of the two, what is crossed blocks both.
    left = ((off_start > -GRAZE) != (off_end > -GRAZE)) & apart
    right = ((off_start > GRAZE) != (off_end > GRAZE)) & apart
    return np.asarray(~(left.any(axis=-1) & right.any(axis=-1)))


def _cross(u: Array, v: Array) -> Array:
    return np.asarray(u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0])


def corners_into_room(walls: Array) -> Array:
    """Corners that reach into the room, shape (corners, 2): those a shortest way can bend at. [m]

    Examples
    --------
    >>> plan = np.array([[0.0, 0.0], [4, 0], [4, 2], [2, 2], [2, 4], [0, 4]])
    >>> corners_into_room(np.hstack([plan, np.roll(plan, -1, axis=0)]))
    array([[2., 2.]])
    """
    return walls[_reflex(walls)[0], 2:]


def _reflex(walls: Array) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
    """Pairs of walls with a corner between them that reaches into the room."""
    along = walls[:, 2:] - walls[:, :2]
    along = along / np.maximum(np.linalg.norm(along, axis=1), 1e-300)[:, None]
    follows = np.linalg.norm(walls[:, None, 2:] - walls[None, :, :2], axis=-1) < TOUCH
    first, second = np.nonzero(follows & (_cross(along[:, None], along[None]) < -GRAZE))
    return first, second


def bent_path(walls: Array, a: Array, b: Array) -> BentPaths:
    """Shortest way between points in a room, straight or by one or two corners.

    Parameters
    ----------
    walls : ndarray, shape (W, 4)
        x0, y0, x1, y1 with the room on their left. [m]
    a, b : ndarray, shape (..., 2)
        In the room; broadcast against each other. [m]

    Returns
    -------
    BentPaths

    Notes
    -----
    Where the shortest of all ways has three bends, a longer one with two may be found, or none.
    On the plan: between points at different heights the way round an upright edge has the length
    √(length² + Δz²).

    Examples
    --------
    >>> plan = np.array([[0.0, 0.0], [4, 0], [4, 2], [2, 2], [2, 4], [0, 4]])
    >>> walls = np.hstack([plan, np.roll(plan, -1, axis=0)])
    >>> way = bent_path(walls, np.array([4.0, 2.0]), np.array([1.0, 4.0]))
    >>> way.length.round(3), way.bends  # 2 m along the wall, then √(1² + 2²)
    (np.float64(4.236), array(1))
    """
    a, b = np.broadcast_arrays(off_walls(walls, a), off_walls(walls, b))
    straight = np.linalg.norm(b - a, axis=-1)
    corners = corners_into_room(walls)
    before = _in_front(walls, corners)
    from_a = np.where(_sees(walls, a[..., None, :], before), _gap(a, corners), np.inf)
    from_b = np.where(_sees(walls, b[..., None, :], before), _gap(b, corners), np.inf)
    between = np.where(_sees(walls, before[:, None], before), _gap(corners, corners), np.inf)
    two = (from_a[..., :, None] + between).min(axis=-2, initial=np.inf)
    ways = np.stack(
        [
            np.where(_sees(walls, a, b), straight, np.inf),
            (from_a + from_b).min(axis=-1, initial=np.inf),
            (two + from_b).min(axis=-1, initial=np.inf),
        ]
    )
    bends = np.argmin(ways, axis=0)
    length = ways.min(axis=0)
    return BentPaths(
        length=length,
        detour=np.maximum(length - straight, 0.0),
        bends=np.where(np.isfinite(length), bends, -1),
    )


def _gap(points: Array, corners: Array) -> Array:
    return np.asarray(np.linalg.norm(points[..., None, :] - corners, axis=-1))


def _in_front(walls: Array, corners: Array) -> Array:
    """Points a hair before the corners that reach into the room."""
    along = walls[:, 2:] - walls[:, :2]
    first, second = _reflex(walls)
    # Off the tip, away from both walls: against the way back along one and forth on the other.
    tip = along[first] / np.linalg.norm(along[first], axis=1)[:, None]
    tip = tip - along[second] / np.linalg.norm(along[second], axis=1)[:, None]
    return corners + STAND_OFF * tip / np.linalg.norm(tip, axis=1)[:, None]
