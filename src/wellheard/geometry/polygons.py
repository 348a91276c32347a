"""Polygons on the floor plan: area, direction, edges, and whether they are sound.

A polygon is an array of corners, shape (corners, 2), whose last corner joins the first. Edge *i*
runs from corner *i* to corner *i* + 1. Counter-clockwise polygons have their inside on the left
of every edge.
"""

from __future__ import annotations

import numpy as np

from wellheard.arrays import Array

TOUCH = 1e-6
"""Two things nearer than this are in contact. [m]"""


def polygon_area(polygon: Array) -> float:
    """Signed area: positive when the corners run counter-clockwise.

    Parameters
    ----------
    polygon : ndarray, shape (corners, 2)
        [m]

    Returns
    -------
    float
        [m²]

    Examples
    --------
    >>> polygon_area(np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 3.0], [0.0, 3.0]]))
    12.0
    """
    # Relative to the first corner, so that a room far from the origin loses no digits.
    x, y = (polygon - polygon[0]).T
    return float(0.5 * (x[:-1] @ y[1:] - x[1:] @ y[:-1] + x[-1] * y[0] - x[0] * y[-1]))


def next_corners(polygon: Array) -> Array:
    """The corner after each, shape (corners, 2): where its edge ends. [m]"""
    return np.concatenate((polygon[1:], polygon[:1]))  # a fifth of the time of numpy.roll


def edge_vectors(polygon: Array) -> Array:
    """Vector along each edge, shape (corners, 2). [m]"""
    return next_corners(polygon) - polygon


def edge_lengths(polygon: Array) -> Array:
    """Length of each edge, shape (corners,). [m]

    Examples
    --------
    >>> edge_lengths(np.array([[0.0, 0.0], [3.0, 0.0], [3.0, 4.0]]))
    array([3., 4., 5.])
    """
    return np.linalg.norm(edge_vectors(polygon), axis=1)


def perimeter(polygon: Array) -> float:
    """Sum of all edges. [m]

    Examples
    --------
    >>> perimeter(np.array([[0.0, 0.0], [3.0, 0.0], [3.0, 4.0]]))
    12.0
    """
    return float(edge_lengths(polygon).sum())


def edge_normals(polygon: Array) -> Array:
    """Unit normal of each edge, pointing into a counter-clockwise polygon.

    Parameters
    ----------
    polygon : ndarray, shape (corners, 2)
        Without edges of zero length. [m]

    Returns
    -------
    ndarray, shape (corners, 2)

    Examples
    --------
    >>> edge_normals(np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 3.0], [0.0, 3.0]])) + 0.0
    array([[ 0.,  1.],
           [-1.,  0.],
           [ 0., -1.],
           [ 1.,  0.]])
    """
    along = edge_vectors(polygon)
    left = np.stack([-along[:, 1], along[:, 0]], axis=1)
    return left / np.linalg.norm(along, axis=1)[:, None]


def centroid(polygon: Array) -> Array:
    """Centre of area, shape (2,); outside the polygon where that bends round it. [m]

    Examples
    --------
    >>> centroid(np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 3.0], [0.0, 3.0]]))
    array([2. , 1.5])
    """
    here = polygon - polygon[0]
    after = next_corners(here)
    twice = here[:, 0] * after[:, 1] - after[:, 0] * here[:, 1]
    return polygon[0] + ((here + after) * twice[:, None]).sum(axis=0) / (3.0 * twice.sum())


def is_convex(polygon: Array) -> bool:
    """Whether a simple polygon turns one way only.

    Examples
    --------
    >>> is_convex(np.array([[0.0, 0.0], [4.0, 0.0], [1.0, 1.0], [0.0, 4.0]]))
    False
    """
    along = edge_vectors(polygon)
    onward = next_corners(along)
    turn = along[:, 0] * onward[:, 1] - along[:, 1] * onward[:, 0]
    return bool(np.all(turn >= -1e-12) or np.all(turn <= 1e-12))


def edge_conflicts(polygon: Array) -> tuple[tuple[int, int], ...]:
    """Pairs of edges that cross, touch or run back over each other.

    Parameters
    ----------
    polygon : ndarray, shape (corners, 2)
        Without edges of zero length. [m]

    Returns
    -------
    tuple of (int, int)
        Indices of the two edges, the lower first; empty for a simple polygon.

    Examples
    --------
    >>> bow_tie = np.array([[0.0, 0.0], [2.0, 2.0], [2.0, 0.0], [0.0, 2.0]])
    >>> edge_conflicts(bow_tie)
    ((0, 2),)
    """
    n = len(polygon)
    first, second = np.triu_indices(n, k=1)
    a, b = polygon[first], polygon[(first + 1) % n]
    c, d = polygon[second], polygon[(second + 1) % n]
    adjacent = (second == first + 1) | ((first == 0) & (second == n - 1))

    def side(p: Array, q: Array, r: Array) -> Array:
        u, v = q - p, r - p
        return (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]) / np.linalg.norm(u, axis=1)

    cd_apart = side(a, b, c) * side(a, b, d) > 0
    ab_apart = side(c, d, a) * side(c, d, b) > 0
    crossing = ~cd_apart & ~ab_apart
    near = np.min(
        [
            _distance_to_segment(a, c, d),
            _distance_to_segment(b, c, d),
            _distance_to_segment(c, a, b),
            _distance_to_segment(d, a, b),
        ],
        axis=0,
    )
    # Collinear segments far apart satisfy both sign tests, so those need contact as well.
    parallel = np.abs(side(a, b, c)) + np.abs(side(a, b, d)) < TOUCH
    conflict = np.where(parallel, near < TOUCH, crossing | (near < TOUCH))

    # Neighbours share a corner; they conflict only if the second runs back along the first.
    u, v = b - a, d - c
    turn = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    lengths = np.linalg.norm(u, axis=1) * np.linalg.norm(v, axis=1)
    folded = (np.abs(turn) < 1e-9 * lengths) & ((u * v).sum(axis=1) < 0)
    conflict = np.where(adjacent, folded, conflict)
    return tuple((int(i), int(j)) for i, j in zip(first[conflict], second[conflict], strict=True))


def _distance_to_segment(points: Array, start: Array, end: Array) -> Array:
    along = end - start
    share = ((points - start) * along).sum(axis=-1) / np.maximum((along**2).sum(axis=-1), 1e-300)
    nearest = start + np.clip(share, 0.0, 1.0)[..., None] * along
    return np.linalg.norm(points - nearest, axis=-1)
