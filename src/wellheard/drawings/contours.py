"""Contour lines of a sampled field: marching squares, joined, and smoothed for the pen.

Coordinates are the caller's (x to the right, y up); the higher side of a line is on its left.
"""

from __future__ import annotations

import numpy as np

from wellheard.arrays import Array, Mask

# Corners of a cell count 1 (south-west), 2 (south-east), 4 (north-east), 8 (north-west) when they
# are at or above the level. A line enters by the first named edge and leaves by the second.
_SOUTH, _EAST, _NORTH, _WEST = range(4)
_CASES: dict[int, tuple[tuple[int, int], ...]] = {
    1: ((_SOUTH, _WEST),),
    2: ((_EAST, _SOUTH),),
    3: ((_EAST, _WEST),),
    4: ((_NORTH, _EAST),),
    6: ((_NORTH, _SOUTH),),
    7: ((_NORTH, _WEST),),
    8: ((_WEST, _NORTH),),
    9: ((_SOUTH, _NORTH),),
    11: ((_EAST, _NORTH),),
    12: ((_WEST, _EAST),),
    13: ((_SOUTH, _EAST),),
    14: ((_WEST, _SOUTH),),
}
_ENTER, _LEAVE = (
    np.array([_CASES[k][0][end] if k in _CASES else -1 for k in range(16)]) for end in (0, 1)
)
_APART = {5: ((_SOUTH, _WEST), (_NORTH, _EAST)), 10: ((_EAST, _SOUTH), (_WEST, _NORTH))}
_JOINED = {5: ((_SOUTH, _EAST), (_NORTH, _WEST)), 10: ((_WEST, _SOUTH), (_EAST, _NORTH))}


def isolines(values: Array, *, x: Array, y: Array, level: float) -> list[Array]:
    """Return the lines along which a bilinear field takes the value ``level``.

    Parameters
    ----------
    values : ndarray, shape (ny, nx)
        Samples; cells with a NaN corner carry no line.
    x : ndarray, shape (nx,)
        Ascending.
    y : ndarray, shape (ny,)
        Ascending.
    level : float
        In the unit of ``values``.

    Returns
    -------
    list of ndarray, shape (n, 2)
        Joined lines with the higher side on the left. A closed line repeats its first point.

    Notes
    -----
    Marching squares; in a saddle cell the value at the saddle point of the bilinear interpolant
    decides which corners belong together (the asymptotic decider of [1]).

    References
    ----------
    .. [1] nielson-hamann:1991, the asymptotic decider, from memory.

    Examples
    --------
    >>> x = np.array([0.0, 1.0, 2.0])
    >>> line, = isolines(np.tile(x, (2, 1)), x=x, y=np.array([0.0, 1.0]), level=0.5)
    >>> line.tolist()
    [[0.5, 1.0], [0.5, 0.0]]
    """
    following = _segments(values, level)
    starts = set(following) - set(following.values())
    lines = []
    while following:
        edge = min(starts) if starts else min(following)
        starts.discard(edge)
        chain = [edge]
        while edge in following:
            edge = following.pop(edge)
            chain.append(edge)
        lines.append(_without_repeats(_crossings(np.array(chain), values, x, y, level)))
    return [line for line in lines if len(line) > 1]


def _segments(values: Array, level: float) -> dict[int, int]:
    """Return, for every crossed edge, the edge at which its line leaves the cell."""
    rows, columns = values.shape
    above = values >= level
    known = ~np.isnan(values)
    code = (
        above[:-1, :-1] * 1 + above[:-1, 1:] * 2 + above[1:, 1:] * 4 + above[1:, :-1] * 8
    ).astype(int)
    complete = known[:-1, :-1] & known[:-1, 1:] & known[1:, 1:] & known[1:, :-1]
    count = rows * columns
    met = (code > 0) & (code < 15) & complete
    j, i = np.nonzero(met)
    case = code[met]
    south = j * columns + i
    # edges along x are numbered first, then edges along y
    edges = np.column_stack((south, count + south + 1, south + columns, count + south))
    plain = _ENTER[case] >= 0
    cells = np.flatnonzero(plain)
    enter = edges[cells, _ENTER[case[plain]]].tolist()
    leave = edges[cells, _LEAVE[case[plain]]].tolist()
    following = dict(zip(enter, leave, strict=True))
    for cell in np.flatnonzero(~plain).tolist():
        corners = values[j[cell] : j[cell] + 2, i[cell] : i[cell] + 2]
        for first, last in _saddle(corners, level, int(case[cell])):
            following[int(edges[cell, first])] = int(edges[cell, last])
    return following


def _saddle(corners: Array, level: float, case: int) -> tuple[tuple[int, int], ...]:
    (sw, se), (nw, ne) = corners.tolist()
    saddle = (sw * ne - se * nw) / (sw + ne - se - nw)
    return _JOINED[case] if saddle >= level else _APART[case]


def _crossings(edges: np.ndarray, values: Array, x: Array, y: Array, level: float) -> Array:
    rows, columns = values.shape
    upright = edges >= rows * columns
    j, i = np.divmod(edges - upright * rows * columns, columns)
    j2, i2 = j + upright, i + ~upright
    first, second = values[j, i], values[j2, i2]
    share = np.clip((level - first) / (second - first), 0.0, 1.0)
    return np.column_stack((x[i] + share * (x[i2] - x[i]), y[j] + share * (y[j2] - y[j])))


def _without_repeats(line: Array) -> Array:
    moved = np.any(np.abs(np.diff(line, axis=0)) > 1e-12, axis=1)
    return line[np.concatenate(([True], moved))]


def level_rings(values: Array, *, x: Array, y: Array, level: float) -> list[Array]:
    """Return closed rings round everything at or above ``level``; holes run the other way.

    The border of the grid closes what reaches it, so that the rings can be filled.

    Examples
    --------
    >>> axis = np.array([0.0, 1.0, 2.0])
    >>> ring, = level_rings(np.tile(axis, (3, 1)), x=axis, y=axis, level=0.5)
    >>> bool((ring[0] == ring[-1]).all()), float(ring[:, 0].max())
    (True, 2.0)
    """
    lowest = min(float(values.min()), level) - 1.0
    padded = np.pad(values, 1, constant_values=lowest)
    return isolines(padded, x=np.pad(x, 1, mode="edge"), y=np.pad(y, 1, mode="edge"), level=level)


def round_corners(line: Array, *, passes: int = 1) -> Array:
    """Return the line with its corners cut by Chaikin's scheme; open ends stay where they are.

    Examples
    --------
    >>> round_corners(np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 4.0]])).tolist()
    [[0.0, 0.0], [3.0, 0.0], [4.0, 1.0], [4.0, 4.0]]
    """
    closed = len(line) > 3 and np.allclose(line[0], line[-1])
    for _ in range(passes):
        if len(line) < 3:
            return line
        near = 0.75 * line[:-1] + 0.25 * line[1:]
        far = 0.25 * line[:-1] + 0.75 * line[1:]
        cut = np.empty((2 * len(near), 2))
        cut[0::2], cut[1::2] = near, far
        if closed:
            line = np.vstack((cut, cut[:1]))
        else:
            cut[0], cut[-1] = line[0], line[-1]
            line = cut
    return line


def fill_gaps(values: Array) -> Array:
    """Return the field with NaN replaced by what its known neighbours say, from the edge inwards.

    Samples outside a concave room are unknown, yet lines must run smoothly up to the wall. The
    first ``GOES_ON`` samples beyond the edge go on with the slope there, where two known ones
    stand in line; all others are the mean of known neighbours.

    Raises
    ------
    ValueError
        No value is known.

    Examples
    --------
    >>> float(fill_gaps(np.array([[1.0, np.nan], [3.0, 2.0]]))[0, 1])
    2.0
    >>> fill_gaps(np.array([[1.0, 2.0, np.nan, np.nan, np.nan]])).tolist()
    [[1.0, 2.0, 3.0, 4.0, 4.0]]
    """
    known: Mask = ~np.isnan(values)
    if not known.any():
        raise ValueError("the field holds no value at all; give at least one that is not NaN")
    filled = np.where(known, values, 0.0)
    beyond = 0
    while not known.all():
        total, number = _neighbour_sums(filled * known), _neighbour_sums(known.astype(float))
        reached = ~known & (number > 0)
        found = total[reached] / number[reached]
        if beyond < GOES_ON:
            sloped, ways = _in_line(filled, known)
            here = ways[reached]
            found = np.where(here > 0, sloped[reached] / np.maximum(here, 1), found)
        filled[reached] = found
        known = known | reached
        beyond += 1
    return filled


GOES_ON = 2
"""Samples beyond the edge of the known ones that go on with the slope there."""


def _in_line(values: Array, known: Mask) -> tuple[Array, Array]:
    """Sum and number of straight continuations of two known samples along either axis."""
    rows, columns = values.shape
    field, there = np.pad(values, 2), np.pad(known, 2)
    total, number = np.zeros_like(values), np.zeros_like(values)
    for j, i in ((0, 1), (0, -1), (1, 0), (-1, 0)):
        near = (slice(2 + j, 2 + j + rows), slice(2 + i, 2 + i + columns))
        far = (slice(2 + 2 * j, 2 + 2 * j + rows), slice(2 + 2 * i, 2 + 2 * i + columns))
        both = there[near] & there[far]
        total += np.where(both, 2 * field[near] - field[far], 0.0)
        number += both
    return total, number


def _neighbour_sums(values: Array) -> Array:
    padded = np.pad(values, 1)
    rows, columns = values.shape
    return sum(
        (
            padded[j : j + rows, i : i + columns]
            for j in range(3)
            for i in range(3)
            if (j, i) != (1, 1)
        ),
        start=np.zeros_like(values),
    )


def extended(
    values: Array, *, x: Array, y: Array, to: tuple[float, float, float, float]
) -> tuple[Array, Array, Array]:
    """Return values, x and y with nodes added so that the grid covers the bounds ``to``.

    Parameters
    ----------
    values : ndarray, shape (ny, nx)
        Without NaN.
    x, y : ndarray
        Ascending axes of at least two nodes.
    to : tuple of float
        x0, y0, x1, y1.

    Returns
    -------
    tuple of ndarray
        The slope at the edge goes on for at most one step, then the value stays.

    Examples
    --------
    >>> axis = np.array([1.0, 2.0])
    >>> field, wide, _ = extended(np.tile(axis, (2, 1)), x=axis, y=axis, to=(0.5, 1, 2, 2))
    >>> wide.tolist(), field[0].tolist()
    ([0.5, 1.0, 2.0], [0.5, 1.0, 2.0])
    """
    values, x = _extended_along(values, x, to[0], to[2])
    turned, y = _extended_along(values.T, y, to[1], to[3])
    return np.ascontiguousarray(turned.T), x, y


def _extended_along(values: Array, axis: Array, low: float, high: float) -> tuple[Array, Array]:
    if low < axis[0]:
        share = min((axis[0] - low) / (axis[1] - axis[0]), 1.0)
        edge = values[:, :1] + share * (values[:, :1] - values[:, 1:2])
        values, axis = np.hstack((edge, values)), np.concatenate(([low], axis))
    if high > axis[-1]:
        share = min((high - axis[-1]) / (axis[-1] - axis[-2]), 1.0)
        edge = values[:, -1:] + share * (values[:, -1:] - values[:, -2:-1])
        values, axis = np.hstack((values, edge)), np.concatenate((axis, [high]))
    return values, axis


def refined(values: Array, *, x: Array, y: Array, step: float) -> tuple[Array, Array, Array]:
    """Return the field on an even grid no coarser than ``step``, by cubic Hermite interpolation.

    Examples
    --------
    >>> axis = np.arange(4.0)
    >>> fine, x, _ = refined(np.tile(axis, (4, 1)), x=axis, y=axis, step=0.5)
    >>> x.tolist() == fine[0].tolist() == [0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0]
    True
    """
    fine_x, fine_y = _even(x, step), _even(y, step)
    across = _hermite(values, x, fine_x)
    return np.ascontiguousarray(_hermite(across.T, y, fine_y).T), fine_x, fine_y


def _even(axis: Array, step: float) -> Array:
    count = max(int(np.ceil((axis[-1] - axis[0]) / step - 1e-9)), 1) + 1
    return np.linspace(axis[0], axis[-1], count)


def _hermite(values: Array, axis: Array, fine: Array) -> Array:
    slopes = np.gradient(values, axis, axis=1)
    k = np.clip(np.searchsorted(axis, fine, side="right") - 1, 0, len(axis) - 2)
    h = axis[k + 1] - axis[k]
    t = (fine - axis[k]) / h
    return (
        values[:, k] * (1 + 2 * t) * (1 - t) ** 2
        + slopes[:, k] * h * t * (1 - t) ** 2
        + values[:, k + 1] * t**2 * (3 - 2 * t)
        + slopes[:, k + 1] * h * t**2 * (t - 1)
    )


def smoothed(values: Array) -> Array:
    """Return the field after one pass of the binomial filter ¼, ½, ¼ along both axes.

    The border keeps its values, so that a plane stays a plane.

    Examples
    --------
    >>> smoothed(np.array([[0.0, 4.0, 0.0]] * 3))[1].tolist()
    [0.0, 2.0, 0.0]
    """
    result = values.copy()
    result[:, 1:-1] = 0.25 * values[:, :-2] + 0.5 * values[:, 1:-1] + 0.25 * values[:, 2:]
    across = result.copy()
    across[1:-1] = 0.25 * result[:-2] + 0.5 * result[1:-1] + 0.25 * result[2:]
    return across


def sample(values: Array, *, x: Array, y: Array, at: Array) -> Array:
    """Return the bilinear value of the field at points, clamped to the grid.

    Examples
    --------
    >>> axis = np.array([0.0, 1.0])
    >>> sample(np.array([[0.0, 1.0], [2.0, 3.0]]), x=axis, y=axis, at=np.array([[0.5, 0.5]]))
    array([1.5])
    """
    i = np.clip(np.searchsorted(x, at[:, 0]) - 1, 0, len(x) - 2)
    j = np.clip(np.searchsorted(y, at[:, 1]) - 1, 0, len(y) - 2)
    s = np.clip((at[:, 0] - x[i]) / (x[i + 1] - x[i]), 0.0, 1.0)
    t = np.clip((at[:, 1] - y[j]) / (y[j + 1] - y[j]), 0.0, 1.0)
    return (
        values[j, i] * (1 - s) * (1 - t)
        + values[j, i + 1] * s * (1 - t)
        + values[j + 1, i] * (1 - s) * t
        + values[j + 1, i + 1] * s * t
    )
