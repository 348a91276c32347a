"""How far shapes on the plan reach into each other."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np

from wellheard.arrays import Array
from wellheard.geometry.polygons import polygon_area

if TYPE_CHECKING:
    import shapely


def depth_of_overlap(one: Array, other: Array) -> Array:
    """Shortest way that parts two convex polygons, negative if they are apart.

    Parameters
    ----------
    one, other : ndarray, shape (..., corners, 2)
        As many pairs as there are. [m]

    Returns
    -------
    ndarray, shape (...)
        [m]

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    >>> depth_of_overlap(square, square + [0.75, 0.1]).tolist()
    0.25
    """
    edges = np.concatenate([np.roll(each, -1, axis=-2) - each for each in (one, other)], axis=-2)
    normals = np.stack([-edges[..., 1], edges[..., 0]], axis=-2)
    normals = normals / np.linalg.norm(normals, axis=-2, keepdims=True)
    a, b = one @ normals, other @ normals
    ways = np.minimum(a.max(axis=-2) - b.min(axis=-2), b.max(axis=-2) - a.min(axis=-2))
    return np.asarray(ways.min(axis=-1))


def area_beside(outline: Array, others: Iterable[Array]) -> float:
    """Area of a polygon less what others take of it [m²].

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    >>> area_beside(square, [square + 0.5, square + [0.5, 0.0], square + 9.0])
    0.5
    """
    taken = [other for other in others if _boxes_meet(outline, other)]
    if not taken:
        return abs(polygon_area(outline))
    import shapely  # 0.1 s, and few polygons have anything standing on them

    shape = shapely.Polygon(outline).difference(
        shapely.union_all([shapely.Polygon(t) for t in taken])
    )
    return float(shape.area)


def _boxes_meet(one: Array, other: Array) -> bool:
    low = np.maximum(one.min(axis=0), other.min(axis=0))
    return bool(np.all(low < np.minimum(one.max(axis=0), other.max(axis=0))))


def width_of(shape: shapely.Geometry) -> float:
    """Shorter side of the smallest rectangle round a shape, in whichever direction. [m]

    Examples
    --------
    >>> import shapely
    >>> width_of(shapely.box(0.0, 0.0, 3.0, 0.5)), width_of(shapely.Point(0.0, 0.0))
    (0.5, 0.0)
    >>> width_of(shapely.Polygon())  # what two that are apart share
    0.0
    """
    import shapely  # 0.1 s, and few rooms have anything that overlaps

    around = shapely.minimum_rotated_rectangle(shape)
    if not isinstance(around, shapely.Polygon) or around.is_empty:
        return 0.0
    corners = np.asarray(around.exterior.coords)[:3]
    return float(np.linalg.norm(np.diff(corners, axis=0), axis=1).min())
