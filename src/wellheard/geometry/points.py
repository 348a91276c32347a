"""Points against polygons: inside or not, how far, nearest, and evenly spread samples."""

from __future__ import annotations

import numpy as np

from wellheard.arrays import Array, Mask
from wellheard.geometry.polygons import TOUCH, centroid, edge_vectors, is_convex, next_corners


def distance_to_edges(points: Array, polygon: Array) -> Array:
    """Distance of each point to each edge of a polygon.

    Parameters
    ----------
    points : ndarray, shape (..., 2)
        [m]
    polygon : ndarray, shape (corners, 2)
        [m]

    Returns
    -------
    ndarray, shape (..., corners)
        To the nearest point of the edge, its ends included. [m]

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]])
    >>> distance_to_edges(np.array([1.0, 2.0]), square)
    array([2., 3., 2., 1.])
    """
    nearest = _nearest_on_edges(points, polygon)
    return np.linalg.norm(np.asarray(points)[..., None, :] - nearest, axis=-1)


def _nearest_on_edges(points: Array, polygon: Array) -> Array:
    along = edge_vectors(polygon)
    offset = np.asarray(points, dtype=float)[..., None, :] - polygon
    share = (offset * along).sum(axis=-1) / np.maximum((along**2).sum(axis=-1), 1e-300)
    return polygon + np.clip(share, 0.0, 1.0)[..., None] * along


def nearest_point_on_polygon(points: Array, polygon: Array) -> Array:
    """Nearest point of the boundary to each point, inside or out.

    Parameters
    ----------
    points : ndarray, shape (..., 2)
        [m]
    polygon : ndarray, shape (corners, 2)
        [m]

    Returns
    -------
    ndarray, shape (..., 2)
        [m]

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]])
    >>> nearest_point_on_polygon(np.array([[1.0, 2.0], [9.0, 9.0]]), square)
    array([[0., 2.],
           [4., 4.]])
    """
    nearest = _nearest_on_edges(points, polygon)
    gap = np.linalg.norm(np.asarray(points)[..., None, :] - nearest, axis=-1)
    edge = np.argmin(gap, axis=-1)
    return np.take_along_axis(nearest, edge[..., None, None], axis=-2)[..., 0, :]


def contains_points(polygon: Array, points: Array, *, tolerance: float = TOUCH) -> Mask:
    """Whether each point is inside a simple polygon or on its edge.

    Parameters
    ----------
    polygon : ndarray, shape (corners, 2)
        Either direction. [m]
    points : ndarray, shape (..., 2)
        [m]
    tolerance : float
        A point this near to an edge counts as on it; negative asks for that much room to the
        edges. [m]

    Returns
    -------
    ndarray of bool, shape (...)

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]])
    >>> contains_points(square, np.array([[2.0, 2.0], [4.0, 1.0], [4.1, 1.0]]))
    array([ True,  True, False])
    >>> contains_points(square, np.array([3.8, 2.0]), tolerance=-0.5)
    array(False)
    """
    points = np.asarray(points, dtype=float)
    x, y = points[..., 0, None], points[..., 1, None]
    x0, y0 = polygon.T
    x1, y1 = next_corners(polygon).T
    # Even-odd rule: edges that a ray towards +x meets, lower end included, upper end not.
    straddles = (y0 > y) != (y1 > y)
    rise = np.where(y1 == y0, 1.0, y1 - y0)
    meets = straddles & (x < x0 + (y - y0) * (x1 - x0) / rise)
    inside = meets.sum(axis=-1) % 2 == 1
    gap = distance_to_edges(points, polygon).min(axis=-1)
    if tolerance < 0:
        return np.asarray(inside & (gap >= -tolerance))
    return np.asarray(inside | (gap <= tolerance))


def contains_polygon(outer: Array, inner: Array, *, tolerance: float = TOUCH) -> bool:
    """Whether all of one simple polygon lies inside another, edges touching or not.

    Parameters
    ----------
    outer, inner : ndarray, shape (corners, 2)
        [m]
    tolerance : float
        Allowed overhang. [m]

    Examples
    --------
    >>> room = np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 2.0], [2.0, 2.0], [2.0, 4.0], [0.0, 4.0]])
    >>> across_the_notch = np.array([[3.9, 1.5], [1.5, 3.9], [1.4, 3.8]])
    >>> bool(contains_points(room, across_the_notch).all())
    True
    >>> contains_polygon(room, across_the_notch)
    False
    """
    if not bool(np.all(contains_points(outer, inner, tolerance=tolerance))):
        return False
    if is_convex(outer):
        return True
    import shapely  # 0.1 s, and only rooms with a notch need it

    return bool(shapely.Polygon(outer).buffer(tolerance).covers(shapely.Polygon(inner)))


def distance_outside(polygon: Array, points: Array) -> Array:
    """How far each point is outside a simple polygon, 0 inside. [m]

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]])
    >>> distance_outside(square, np.array([[2.0, 2.0], [5.0, 1.0]]))
    array([0., 1.])
    """
    gap = distance_to_edges(points, polygon).min(axis=-1)
    return np.where(contains_points(polygon, points, tolerance=0.0), 0.0, gap)


def grid_in_polygon(
    polygon: Array,
    *,
    spacing: float | tuple[float, float],
    origin: tuple[float, float] = (0.0, 0.0),
    rotation: float = 0.0,
    margin: float = 0.0,
) -> Array:
    """Crossings of a rectangular grid that lie in a polygon.

    Parameters
    ----------
    polygon : ndarray, shape (corners, 2)
        [m]
    spacing : float or (float, float)
        Along the grid's own axes. [m]
    origin : (float, float)
        One crossing. [m]
    rotation : float
        Of the grid about its origin, anticlockwise. [rad]
    margin : float
        Least distance to the edges; 0 includes points on them. [m]

    Returns
    -------
    ndarray, shape (points, 2)
        Row by row; empty if nothing fits. [m]

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]])
    >>> grid_in_polygon(square, spacing=2.0, margin=1.0)
    array([[2., 2.]])
    >>> len(grid_in_polygon(square, spacing=2.0))
    9
    """
    step = np.broadcast_to(np.asarray(spacing, dtype=float), (2,))
    turn = np.array([[np.cos(rotation), -np.sin(rotation)], [np.sin(rotation), np.cos(rotation)]])
    local = (polygon - np.asarray(origin)) @ turn
    low = np.floor(local.min(axis=0) / step - 1e-9).astype(int)
    high = np.ceil(local.max(axis=0) / step + 1e-9).astype(int)
    i, j = np.meshgrid(np.arange(low[0], high[0] + 1), np.arange(low[1], high[1] + 1))
    lattice = np.stack([i.ravel() * step[0], j.ravel() * step[1]], axis=1)
    points = lattice @ turn.T + np.asarray(origin)
    # A hair of slack, so that rounding does not drop points exactly at the margin.
    tolerance = TOUCH if margin == 0 else TOUCH - margin
    return points[contains_points(polygon, points, tolerance=tolerance)]


def samples_in_polygon(polygon: Array, *, spacing: float) -> Array:
    """Points that stand for an area: evenly spread, corners included, at least one.

    Parameters
    ----------
    polygon : ndarray, shape (corners, 2)
        [m]
    spacing : float
        Largest wanted distance between neighbours along the axes. [m]

    Returns
    -------
    ndarray, shape (points, 2)
        The corners in order, then a grid centred on the polygon's extent, then points along
        long edges; none twice. [m]

    Examples
    --------
    >>> strip = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 0.5], [0.0, 0.5]])
    >>> len(samples_in_polygon(strip, spacing=0.5))
    6
    """
    if not spacing > 0:
        raise ValueError(f"spacing {spacing!r} m; more than 0 m is allowed")
    pieces = [polygon]
    low, high = polygon.min(axis=0), polygon.max(axis=0)
    count = np.maximum(np.ceil((high - low) / spacing - 1e-9), 1)
    step = np.where(high > low, (high - low) / count, 1.0)
    pieces.append(
        grid_in_polygon(
            polygon,
            spacing=(float(step[0]), float(step[1])),
            origin=(float(low[0]), float(low[1])),
        )
    )
    for start, along in zip(polygon, edge_vectors(polygon), strict=True):
        parts = int(np.ceil(np.linalg.norm(along) / spacing - 1e-9))
        if parts > 1:
            pieces.append(start + np.outer(np.arange(1, parts) / parts, along))
    points = np.concatenate(pieces)
    _, first = np.unique(np.round(points, 6), axis=0, return_index=True)
    return points[np.sort(first)]


def interior_point(polygon: Array) -> Array:
    """A point well inside a simple polygon: its centroid, unless that is outside. [m]

    Examples
    --------
    >>> interior_point(np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 3.0], [0.0, 3.0]]))
    array([2. , 1.5])
    """
    middle = centroid(polygon)
    if bool(contains_points(polygon, middle, tolerance=0.0)):
        return middle
    import shapely  # only for shapes that bend round their own centre

    inside = shapely.Polygon(polygon).representative_point()
    return np.array([inside.x, inside.y])
