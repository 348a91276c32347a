"""An enclosure as rays meet it: flat tables that the kernel and its numpy twin both read.

Every edge of the plan carries its normal into the air, so a face is met from one side only: a
ray that has just left it cannot meet it again, and one in an object by its own making gets out.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from wellheard.acoustics.enclosure import Enclosure, Prism
from wellheard.arrays import Array, Mask
from wellheard.geometry.polygons import perimeter, polygon_area

TOUCH = 1e-9
"""Faces reach so far past their edges that no ray slips through where two meet. [m]"""

_SLACK = 1e-6
"""What is looked up by place is looked up this much wider. [m]"""
_LEAST_CELL = 0.25
_MOST_CELLS = 128  # along each side of the look-up of objects

Indices = npt.NDArray[np.int32]


@dataclass(frozen=True, eq=False)
class Facets:
    """Faces of an enclosure, coordinates from the low corner of its plan.

    Parameters
    ----------
    origin : ndarray, shape (3,)
        The low corner, on the floor. [m]
    height : float
        [m]
    mean_free_path : float
        4V/S, objects included. [m]
    walls : ndarray, shape (W, 7)
        Normal x and y, its offset, direction x and y, its offset, length.
    patch_first : ndarray, shape (W + 1,)
        Rows of ``patches`` that belong to each wall.
    patches : ndarray, shape (P, 4)
        Start, end, bottom, top. [m]
    patch_surface : ndarray, shape (P,)
    edges : ndarray, shape (E, 9)
        Of all objects, as ``walls``, then x and y of the first corner.
    edge_first : ndarray, shape (O + 1,)
        Rows of ``edges`` that belong to each object.
    solids : ndarray, shape (O, 7)
        Bottom, top, whether the bottom and the top face the air, centre x and y, radius.
    solid_surface : ndarray, shape (O,)
    scattering : ndarray, shape (S,)
    cells : ndarray, shape (5,)
        Look-up of objects by place: low x and y, side of a cell, lowest and highest z. [m]
    columns, rows : int
        Number of its cells along x and y.
    cell_first : ndarray, shape (columns · rows + 1,)
    cell_solids : ndarray
        Objects by cell, row by row.
    """

    origin: Array
    height: float
    mean_free_path: float
    walls: Array
    patch_first: Indices
    patches: Array
    patch_surface: Indices
    edges: Array
    edge_first: Indices
    solids: Array
    solid_surface: Indices
    scattering: Array
    cells: Array
    columns: int
    rows: int
    cell_first: Indices
    cell_solids: Indices


@lru_cache(maxsize=8)
def facets(enclosure: Enclosure) -> Facets:
    """Return the tables of an enclosure; those of the last few are kept."""
    origin = np.append(enclosure.outline.min(axis=0), 0.0)
    rings = [enclosure.outline, *(column[::-1] for column in enclosure.columns)]
    patches = sorted(enclosure.patches, key=lambda patch: patch.wall)
    solids = [_solid(one, origin, enclosure.height) for one in enclosure.objects]
    # Objects run through clockwise, so that the air is on their left too.
    outlines = [_turned(one)[::-1] for one in enclosure.objects]
    table = np.array(solids).reshape(-1, 7)
    cells, columns, rows, cell_first, cell_solids = _by_place(outlines, table, origin)
    return Facets(
        origin=origin,
        height=float(enclosure.height),
        mean_free_path=mean_free_path(enclosure),
        walls=np.concatenate([_edges(ring, origin)[:, :7] for ring in rings]),
        patch_first=_first([p.wall for p in patches], len(enclosure.walls)),
        patches=np.array([(p.start, p.end, p.bottom, p.top) for p in patches]).reshape(-1, 4),
        patch_surface=np.array([p.surface for p in patches], dtype=np.int32),
        edges=np.concatenate([np.empty((0, 9)), *(_edges(ring, origin) for ring in outlines)]),
        edge_first=np.cumsum([0, *map(len, outlines)], dtype=np.int32),
        solids=table,
        solid_surface=np.array([one.surface for one in enclosure.objects], dtype=np.int32),
        scattering=np.ascontiguousarray(enclosure.scattering, dtype=np.float64),
        cells=cells,
        columns=columns,
        rows=rows,
        cell_first=cell_first,
        cell_solids=cell_solids,
    )


def free_of_solids(enclosure: Enclosure, points: Array) -> Mask:
    """Tell which points lie in the air: within the walls, in no column and no object.

    Parameters
    ----------
    enclosure : Enclosure
        The room.
    points : ndarray, shape (points, 3)
        [m]
    """
    free = within(enclosure.outline, points)
    for column in enclosure.columns:
        free &= ~within(column, points)
    for one in enclosure.objects:
        x, y, z = points.T
        low, high = one.outline.min(axis=0), one.outline.max(axis=0)
        near = np.flatnonzero(
            (x >= low[0]) & (x <= high[0]) & (y >= low[1]) & (y <= high[1])
            & (z >= one.bottom) & (z <= one.top)
        )  # fmt: skip
        free[near] &= ~within(one.outline, points[near])
    return free


def within(outline: Array, points: Array) -> Mask:
    """Tell which points a plan holds, by the number of edges that they lie left of."""
    x, y = points[:, 0], points[:, 1]
    inside = np.zeros(len(points), dtype=bool)
    for (x0, y0), (x1, y1) in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        if y0 != y1:
            crosses = (y0 > y) != (y1 > y)
            inside ^= crosses & (x < x0 + (y - y0) * ((x1 - x0) / (y1 - y0)))
    return inside


def _edges(ring: Array, origin: Array) -> Array:
    start = ring - origin[:2]
    along = np.roll(start, -1, axis=0) - start
    length = np.hypot(along[:, 0], along[:, 1])
    # An edge without length has no normal, so nothing ever meets it.
    unit = along / np.where(length > 0.0, length, 1.0)[:, None]
    normal = np.stack([-unit[:, 1], unit[:, 0]], axis=1)
    offsets = [(normal * start).sum(axis=1)], [(unit * start).sum(axis=1)]
    return np.concatenate(
        [normal.T, offsets[0], unit.T, offsets[1], [length], start.T], axis=0
    ).T.copy()


def _turned(one: Prism) -> Array:
    return one.outline if polygon_area(one.outline) > 0.0 else one.outline[::-1]


def _solid(one: Prism, origin: Array, height: float) -> tuple[float, ...]:
    low, high = one.outline.min(axis=0) - origin[:2], one.outline.max(axis=0) - origin[:2]
    centre = (low + high) / 2.0
    radius = float(np.hypot(*(one.outline - origin[:2] - centre).T).max()) + _SLACK
    return (
        one.bottom,
        one.top,
        float(one.bottom > TOUCH),
        float(one.top < height - TOUCH),
        float(centre[0]),
        float(centre[1]),
        radius,
    )


def mean_free_path(enclosure: Enclosure) -> float:
    """4V/S, objects included [m]. Kuttruff, Room Acoustics."""
    surface = 2.0 * enclosure.floor_area + float(enclosure.wall_lengths.sum()) * enclosure.height
    for one in enclosure.objects:
        surface += perimeter(one.outline) * (one.top - one.bottom)
        surface += 2.0 * abs(polygon_area(one.outline)) * (one.bottom > TOUCH)
    return 4.0 * enclosure.volume / surface if surface > 0.0 else 0.0


def _first(owners: list[int], count: int) -> Indices:
    return np.searchsorted(np.array(owners, dtype=int), np.arange(count + 1)).astype(np.int32)


def _by_place(
    outlines: list[Array], solids: Array, origin: Array
) -> tuple[Array, int, int, Indices, Indices]:
    """Lay a square net over the objects and list which of them each cell may meet."""
    if not outlines:
        return np.zeros(5), 0, 0, np.zeros(1, dtype=np.int32), np.zeros(0, dtype=np.int32)
    low = np.array([outline.min(axis=0) for outline in outlines]) - origin[:2] - _SLACK
    high = np.array([outline.max(axis=0) for outline in outlines]) - origin[:2] + _SLACK
    corner, extent = low.min(axis=0), high.max(axis=0) - low.min(axis=0)
    side = max(
        _LEAST_CELL,
        float(np.sqrt(extent[0] * extent[1] / (2 * len(outlines)))),
        float(extent.max()) / _MOST_CELLS,
    )
    columns, rows = (int(n) for n in np.ceil(extent / side))
    lists: list[list[int]] = [[] for _ in range(columns * rows)]
    start = ((low - corner) / side).astype(int)
    stop = np.minimum(((high - corner) / side).astype(int), [columns - 1, rows - 1])
    for solid, ((i0, j0), (i1, j1)) in enumerate(zip(start, stop, strict=True)):
        for j in range(j0, j1 + 1):
            for i in range(i0, i1 + 1):
                lists[j * columns + i].append(solid)
    cells = np.array([corner[0], corner[1], side, solids[:, 0].min(), solids[:, 1].max()])
    first = np.cumsum([0, *map(len, lists)], dtype=np.int32)
    held = np.array([solid for one in lists for solid in one], dtype=np.int32)
    return cells, columns, rows, first, held
