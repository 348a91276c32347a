"""A plan cut into cells that sound fills alike, and how they hang together.

::

    ┌────┬────┬────┐
    │ 0  │ 1  │ 2  │     cells of about a metre; where a wall cuts one, each side of it is a piece
    ├────┼──┬─┼────┤     of its own; a sliver joins the neighbour that it is most open to
    │ 3  │ 4│5│ 6  │
    └────┴──┴─┴────┘
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from wellheard.acoustics.enclosure import Enclosure
from wellheard.acoustics.solids import layers
from wellheard.arrays import Array

if TYPE_CHECKING:
    import shapely

LEAST_SIDE = 0.75
"""Of a cell; larger in large rooms, so that no plan has many more than a hundred. [m]"""

_ABOUT = 100

_LEAST_AIR = 0.02
"""Share of a region that counts as air at least: one that is all but solid holds no energy."""
_FINE = 8
"""A cell is looked up by so many squares along each side."""

_SLIVER = 0.3
"""A piece with less than this share of a whole cell joins a neighbour."""

_OPEN = 1e-3
"""Two pieces with a longer common border than this are open to each other. [m]"""


@dataclass(frozen=True, eq=False)
class PlanCells:
    """Regions of a plan, N of them, made of the pieces of its cells.

    Parameters
    ----------
    low : ndarray, shape (2,)
        Low corner of the net. [m]
    side : ndarray, shape (2,)
        Of the cells. [m]
    columns, rows : int
        Of cells.
    piece_at : ndarray of int32, shape (rows · fine, columns · fine)
        Piece at each small square; the nearest where that lies outside the plan.
    fine : int
        Small squares along a cell.
    region : ndarray of int32, shape (pieces,)
        To which region each piece belongs.
    beside : ndarray of int32, shape (pieces, 3, 3)
        Piece that each is open to, by step along y and x, each −1, 0 or 1; itself if none.
    volume : ndarray, shape (N,)
        Of the air in each region. [m³]
    """

    low: Array
    side: Array
    columns: int
    rows: int
    piece_at: npt.NDArray[np.int32]
    fine: int
    region: npt.NDArray[np.int32]
    beside: npt.NDArray[np.int32]
    volume: Array

    def pieces(self, plan: Array) -> npt.NDArray[np.int32]:
        """Piece at each point of the plan, shape (points, 2) [m]."""
        small = ((plan - self.low) * (1.0 / self.side) * self.fine).astype(np.int64)
        column, row = np.clip(small, 0, [self.columns * self.fine - 1, self.rows * self.fine - 1]).T
        return self.piece_at[row, column]

    def whole(self) -> npt.NDArray[np.int32]:
        """Region of each cell that has only one, −1 where it has several, shape (rows, columns)."""
        squares = self.region[self.piece_at].reshape(self.rows, self.fine, self.columns, self.fine)
        low, high = squares.min(axis=(1, 3)), squares.max(axis=(1, 3))
        return np.ascontiguousarray(np.where(low == high, low, -1), dtype=np.int32)

    def blend(self, plan: Array) -> tuple[npt.NDArray[np.int32], npt.NDArray[np.float32]]:
        """Regions to blend at each point and their weights, each of shape (points, 4).

        Between the middles of the cells around it; what a wall keeps apart gives its weight to
        the cell that the point is in.
        """
        home = self.pieces(plan)
        place = (plan - self.low) / self.side
        cell = np.clip(np.floor(place), 0, [self.columns - 1, self.rows - 1])
        off = np.clip(place - cell - 0.5, -0.5, 0.5)
        step = np.where(off < 0.0, 0, 2)
        x, y = np.abs(off).T
        pieces = np.stack(
            [
                home,
                self.beside[home, 1, step[:, 0]],
                self.beside[home, step[:, 1], 1],
                self.beside[home, step[:, 1], step[:, 0]],
            ],
            axis=1,
        )
        weights = np.stack([(1 - x) * (1 - y), x * (1 - y), (1 - x) * y, x * y], axis=1)
        return self.region[pieces], weights.astype(np.float32)


@lru_cache(maxsize=16)
def plan_cells(enclosure: Enclosure) -> PlanCells:
    """Cut the plan of an enclosure into cells."""
    import shapely

    plan = shapely.Polygon(enclosure.outline, enclosure.columns)
    low, high = enclosure.outline.min(axis=0), enclosure.outline.max(axis=0)
    wanted = max(LEAST_SIDE, float(np.sqrt(enclosure.floor_area / _ABOUT)))
    columns, rows = (int(n) for n in np.maximum(np.ceil((high - low) / wanted - 1e-9), 1))
    side = (high - low) / [columns, rows]
    held: list[list[int]] = []
    shapes: list[shapely.Polygon] = []
    for row in range(rows):
        for column in range(columns):
            corner = low + side * [column, row]
            cut = shapely.box(*corner, *(corner + side)).intersection(plan)
            parts = [p for p in shapely.get_parts(cut) if p.geom_type == "Polygon" and p.area > 0.0]
            held.append(list(range(len(shapes), len(shapes) + len(parts))))
            shapes.extend(parts)
    beside, borders = _neighbours(shapes, held, columns, rows)
    region = _joined(shapes, borders, _SLIVER * float(side.prod()))
    return PlanCells(
        low=low,
        side=side,
        columns=columns,
        rows=rows,
        piece_at=_looked_up(shapes, held, low, side, columns, rows),
        fine=_FINE,
        region=region,
        beside=beside,
        volume=_volumes(enclosure, shapes, region),
    )


def _neighbours(
    shapes: list[shapely.Polygon], held: list[list[int]], columns: int, rows: int
) -> tuple[npt.NDArray[np.int32], dict[tuple[int, int], float]]:
    """Pieces that each is open to, and how wide."""
    beside = np.repeat(np.arange(len(shapes), dtype=np.int32), 9).reshape(-1, 3, 3)
    borders: dict[tuple[int, int], float] = {}
    for cell, pieces in enumerate(held):
        row, column = divmod(cell, columns)
        for down, right in ((0, 1), (1, 0)):
            if row + down >= rows or column + right >= columns:
                continue
            for a in pieces:
                for b in held[cell + down * columns + right]:
                    width = shapes[a].intersection(shapes[b]).length
                    if width > _OPEN:
                        borders[a, b] = borders[b, a] = width
    cell_of = {piece: divmod(cell, columns) for cell, pieces in enumerate(held) for piece in pieces}
    for (a, b), _ in sorted(borders.items(), key=lambda item: item[1]):
        (row, column), (to_row, to_column) = cell_of[a], cell_of[b]
        beside[a, 1 + to_row - row, 1 + to_column - column] = b  # the widest comes last
    for piece in range(len(shapes)):
        for down in (0, 2):
            for right in (0, 2):
                along_x, along_y = beside[piece, 1, right], beside[piece, down, 1]
                if along_x != piece and beside[along_x, down, 1] != along_x:
                    beside[piece, down, right] = beside[along_x, down, 1]
                elif along_y != piece and beside[along_y, 1, right] != along_y:
                    beside[piece, down, right] = beside[along_y, 1, right]
    return beside, borders


def _joined(
    shapes: list[shapely.Polygon], borders: dict[tuple[int, int], float], least: float
) -> npt.NDArray[np.int32]:
    """Region of each piece: slivers join what they are most open to, the smallest first."""
    owner = list(range(len(shapes)))
    area = [shape.area for shape in shapes]
    open_to: dict[int, dict[int, float]] = {piece: {} for piece in range(len(shapes))}
    for (a, b), width in borders.items():
        open_to[a][b] = width
    while True:
        small = [p for p in open_to if area[p] < least and open_to[p]]
        if not small:
            break
        piece = min(small, key=lambda p: area[p])
        into = max(open_to[piece], key=lambda p: (open_to[piece][p], -p))
        area[into] += area[piece]
        for other, width in open_to.pop(piece).items():
            del open_to[other][piece]
            if other != into:
                open_to[into][other] = open_to[into].get(other, 0.0) + width
                open_to[other][into] = open_to[into][other]
        owner = [into if own == piece else own for own in owner]
    _, region = np.unique(owner, return_inverse=True)
    return region.astype(np.int32)


def _looked_up(
    shapes: list[shapely.Polygon],
    held: list[list[int]],
    low: Array,
    side: Array,
    columns: int,
    rows: int,
) -> npt.NDArray[np.int32]:
    import shapely

    tree = shapely.STRtree(shapes)
    found = np.empty((rows * _FINE, columns * _FINE), dtype=np.int32)
    for cell, pieces in enumerate(held):
        row, column = divmod(cell, columns)
        part = np.s_[row * _FINE : (row + 1) * _FINE, column * _FINE : (column + 1) * _FINE]
        if len(pieces) == 1:
            found[part] = pieces[0]
            continue
        j, i = np.mgrid[part]
        x, y = (np.stack([i, j], axis=-1).reshape(-1, 2) + 0.5).T / _FINE
        points = shapely.points(low[0] + x * side[0], low[1] + y * side[1])
        if pieces:
            apart = shapely.distance(points[:, None], np.array([shapes[p] for p in pieces]))
            found[part] = np.array(pieces)[apart.argmin(axis=1)].reshape(_FINE, _FINE)
        else:
            found[part] = tree.nearest(points).reshape(_FINE, _FINE)
    return found


def _volumes(
    enclosure: Enclosure, shapes: list[shapely.Polygon], region: npt.NDArray[np.int32]
) -> Array:
    import shapely

    area = np.array([shape.area for shape in shapes])
    volume = np.zeros(region.max() + 1)
    np.add.at(volume, region, area * enclosure.height)
    least = _LEAST_AIR * volume
    tree = shapely.STRtree(shapes)
    for thickness, solid in layers(enclosure.objects):
        near = tree.query(solid)
        taken = shapely.area(shapely.intersection(np.array(shapes)[near], solid))
        np.subtract.at(volume, region[near], taken * thickness)
    return np.maximum(volume, least)
