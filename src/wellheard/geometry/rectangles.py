"""Free rectangles: what is left of a net of cells, largest first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wellheard.arrays import Array, Mask


@dataclass(frozen=True, slots=True)
class Rectangle:
    """Sides along two axes [m]."""

    left: float
    bottom: float
    right: float
    top: float

    @property
    def width(self) -> float:
        """Along the first axis."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """Along the second axis."""
        return self.top - self.bottom

    @property
    def area(self) -> float:
        """[m²]."""
        return self.width * self.height

    def grown(self, by: float) -> Rectangle:
        """The same with a margin all round."""
        return Rectangle(self.left - by, self.bottom - by, self.right + by, self.top + by)

    def overlaps(self, other: Rectangle, *, slack: float = 1e-9) -> bool:
        """Whether the two share more than an edge."""
        return (
            min(self.right, other.right) - max(self.left, other.left) > slack
            and min(self.top, other.top) - max(self.bottom, other.bottom) > slack
        )


def free_rectangles(
    whole: Rectangle, taken: Sequence[Rectangle], *, least: float
) -> tuple[Rectangle, ...]:
    """Part what is free of a rectangle into rectangles, each time the largest there is.

    Parameters
    ----------
    whole : Rectangle
        What is looked at.
    taken : sequence of Rectangle
        What of it is not free.
    least : float
        Rectangles with a shorter side are left out. [m]

    Returns
    -------
    tuple of Rectangle
        Disjoint, largest first.

    Examples
    --------
    >>> whole = Rectangle(0.0, 0.0, 4.0, 2.0)
    >>> free_rectangles(whole, [Rectangle(1.0, 0.0, 2.0, 1.0)], least=0.5)  # doctest: +ELLIPSIS
    (Rectangle(left=2.0, bottom=0.0, right=4.0, top=2.0), Rectangle(left=0.0, ...
    """
    if whole.width < least or whole.height < least:
        return ()
    x = _edges(whole.left, whole.right, [(t.left, t.right) for t in taken])
    y = _edges(whole.bottom, whole.top, [(t.bottom, t.top) for t in taken])
    free = np.ones((len(y) - 1, len(x) - 1), dtype=bool)
    for one in taken:
        rows = (y[1:] > one.bottom + 1e-9) & (y[:-1] < one.top - 1e-9)
        columns = (x[1:] > one.left + 1e-9) & (x[:-1] < one.right - 1e-9)
        free[np.ix_(rows, columns)] = False
    return rectangles_of_cells(free, x, y, least=least)


def _edges(low: float, high: float, spans: Sequence[tuple[float, float]]) -> Array:
    inside = [edge for span in spans for edge in span if low < edge < high]
    return np.unique(np.round([low, high, *inside], 6))


def rectangles_of_cells(
    free: Mask, x: Array, y: Array, *, least: float = 0.0
) -> tuple[Rectangle, ...]:
    """Part the free cells of a net into rectangles, each time the largest there is.

    Parameters
    ----------
    free : ndarray of bool, shape (rows, columns)
        Which cells are free.
    x, y : ndarray, shape (columns + 1,), (rows + 1,)
        Lines of the net, rising. [m]
    least : float
        Rectangles with a shorter side are left out. [m]
    """
    left = np.array(free, dtype=bool)
    found: list[Rectangle] = []
    while left.any():
        best = _largest(left, x, y, least)
        if best is None:
            break
        bottom, top, start, stop = best
        left[bottom:top, start:stop] = False
        found.append(Rectangle(float(x[start]), float(y[bottom]), float(x[stop]), float(y[top])))
    return tuple(found)


def _largest(free: Mask, x: Array, y: Array, least: float) -> tuple[int, int, int, int] | None:
    """Rows and columns of the largest rectangle of free cells; the first of equals."""
    best, where = 1e-9, None
    rows = len(free)
    for bottom in range(rows):
        columns = free[bottom].copy()
        for top in range(bottom + 1, rows + 1):
            columns &= free[top - 1]
            if not columns.any():
                break
            tall = y[top] - y[bottom]
            if tall < least - 1e-9:
                continue
            edge = np.diff(np.concatenate([[0], columns.astype(np.int8), [0]]))
            for start, stop in zip(
                np.flatnonzero(edge == 1), np.flatnonzero(edge == -1), strict=True
            ):
                wide = x[stop] - x[start]
                if wide >= least - 1e-9 and wide * tall > best + 1e-9:
                    best, where = wide * tall, (bottom, top, int(start), int(stop))
    return where
