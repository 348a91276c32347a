"""Scattered energy by place, where a room is not one space: round corners, behind columns.

Rays leave each root, the place of a talker or a microphone on the plan, from all heights between
floor and ceiling and evenly all round. What of their way comes after a diffuse reflection or an
object is summed by cell of the plan, over the full height, and by time; divided by the air in the
cell it is the energy there, and by reciprocity just as well the energy that reaches the root from
there. From the horizon on the room's mean decay takes over, at the level that each cell has by
then.

Rule for the size: cells of 0.75 m, larger in rooms above 56 m² so that there are about a hundred;
2,000 rays, more in such rooms in proportion to the area, up to 16,000. Then early energy varies
from seed to seed by 3–5 % in sight of the root and 7–12 % (0.3–0.5 dB) far round a corner, late
energy by 2–5 %.
"""

from __future__ import annotations

import ctypes
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from wellheard.acoustics import compiled
from wellheard.acoustics.decay_table import LEAST_KEPT
from wellheard.acoustics.enclosure import Enclosure
from wellheard.acoustics.late import ANGULAR, Late
from wellheard.acoustics.plan_cells import PlanCells, plan_cells
from wellheard.acoustics.rays import Flights, directions_all_round, trace
from wellheard.arrays import Array
from wellheard.geometry.points import contains_points
from wellheard.geometry.polygons import is_convex
from wellheard.geometry.sight import off_walls

_LEAST_RAYS, _MOST_RAYS, _RAYS_PER_AREA = 2000, 16_000, 35.0  # the last per m²
_RAYS_IN_ALL = 256_000  # of many roots, which then have fewer each

STEP = 0.002
"""Of the time bins. [s]"""

HORIZON, _BEYOND = 0.150, 0.100
"""Until when energy is resolved, re the departure; later in rooms so large that sound takes
longer than the difference of the two to cross them. [s]"""

EARLY = 0.050
"""Until when sound helps speech, re the direct sound (ISO 3382-1, D50 and C50). [s]"""

_LAST = 0.050
"""Before the horizon: the stretch that says at which level the room's decay goes on. [s]"""

_OFF = 0.05
"""Roots stand at least so far from floor and ceiling. [m]"""

_AT_ONCE = 512  # pairs in the numpy twin

Complex = npt.NDArray[np.complex64]
Lanes = npt.NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class Resolved:
    """Scattered energy of each root by region of the plan and time, re its free field at 1 m.

    Parameters
    ----------
    cells : PlanCells
        N regions.
    energy : ndarray of float32, shape (roots, N, bins, 8)
        In each bin of :data:`STEP`, air included; seven octaves and a lane of 0.
    level : ndarray of float32, shape (roots, N, 8)
        By how much each region exceeds the room's mean decay at the horizon.
    late : Late
        That decay.
    """

    cells: PlanCells
    energy: Lanes
    level: Lanes
    late: Late

    @property
    def horizon(self) -> float:
        """End of the bins. [s]"""
        return float(self.energy.shape[2] * STEP)

    def lookup(
        self, index: npt.NDArray[np.int64], points: Array, t0: Array
    ) -> tuple[Lanes, Lanes, Complex]:
        """Scattered energy between roots and points.

        Parameters
        ----------
        index : ndarray of int, shape (P,)
            Root of each pair.
        points : ndarray, shape (P, 3)
            Its other end. [m]
        t0 : ndarray, shape (P,)
            When the direct sound gets there. [s]

        Returns
        -------
        early, late : ndarray of float32, shape (P, 8)
            Up to 50 ms after ``t0``, and after that. What the cell gets sooner than the point
            itself does counts as arriving with the direct sound.
        modulation : ndarray of complex64, shape (P, 14, 8)
            Transform of both re ``t0``.
        """
        given = np.asarray(points, dtype=np.float64).reshape(-1, 3)
        blend, weight = self.cells.blend(given[:, :2])
        root = np.ascontiguousarray(index, dtype=np.int64)
        time = np.ascontiguousarray(t0, dtype=np.float64)
        sums, transform, before = _gather(self.energy, root, blend, weight, time)
        turn = np.exp(1j * np.outer(time, ANGULAR)).astype(np.complex64)
        modulation = transform * turn[:, :, None] + before[:, None, :]

        level = (self.level[root[:, None], blend] * weight[:, :, None]).sum(axis=1)
        rest = level * _row(self.late.scattered_energy, self.horizon, self.late.step)
        end = np.maximum(time + EARLY, self.horizon)
        later = level * _rows(self.late.scattered_energy, end, self.late.step)
        past = np.exp(-1j * np.outer(np.maximum(self.horizon - time, 0.0), ANGULAR))
        goes_on = _row(self.late.scattered_modulation, self.horizon, self.late.step)
        modulation += level[:, None, :] * past.astype(np.complex64)[:, :, None] * goes_on
        return sums[:, 0] + (rest - later), sums[:, 1] + later, modulation


def needs_resolving(enclosure: Enclosure) -> bool:
    """Whether some of a room is hidden from the rest: a concave plan, or columns."""
    return bool(enclosure.columns) or not is_convex(enclosure.outline)


def resolve(
    enclosure: Enclosure,
    roots: Array,
    absorption: Array,
    late: Late,
    *,
    speed: float,
    air: Array,
    rays: int | None = None,
    seed: int = 0,
) -> Resolved:
    """Scattered energy by place for each root.

    Parameters
    ----------
    enclosure : Enclosure
        The room.
    roots : ndarray, shape (roots, 3)
        Talkers or microphones, whichever are fewer; their heights do not count, so that it is
        the same from either end. [m]
    absorption : ndarray, shape (S, 7)
        Of the surfaces, 0–1.
    late : Late
        Of the same room, speed and air.
    speed : float
        Of sound. [m/s]
    air : ndarray, shape (7,)
        Power attenuation of the air. [1/m]
    rays : int, optional
        From each root; by the rule of the module if left out.
    seed : int
        At least 0.

    References
    ----------
    .. [1] kuttruff2009, ray tracing; energy density as length of rays per volume.
    """
    if rays is None:
        rays = int(np.clip(_RAYS_PER_AREA * enclosure.floor_area, _LEAST_RAYS, _MOST_RAYS))
        rays = min(rays, max(_LEAST_RAYS // 2, _RAYS_IN_ALL // max(1, len(roots))))
    cells = plan_cells(enclosure)
    at = off_walls(enclosure.walls, np.array(roots, dtype=np.float64).reshape(-1, 3)[:, :2])
    across = np.hypot(*(cells.side * [cells.columns, cells.rows]))
    bins = int(np.ceil(max(HORIZON, across / speed + _BEYOND) / STEP))
    keep = np.zeros((len(absorption) + 1, 8), dtype=np.float32)
    keep[:-1, :7] = np.maximum(1.0 - absorption, LEAST_KEPT)
    keep[-1] = LEAST_KEPT
    middle = speed * STEP * (np.arange(bins) + 0.5)
    gain = np.zeros((bins, 8))
    gain[:, :7] = 4.0 * np.pi / rays * np.exp(-middle[:, None] * np.asarray(air))
    energy = np.empty((len(at), len(cells.volume), bins, 8), dtype=np.float32)
    ways = directions_all_round(rays, seed)
    for row, root in enumerate(at):
        flights = trace(
            enclosure,
            rays=rays,
            length=bins * STEP * speed,
            seed=seed + row,
            starts=_column(enclosure, root, rays, seed=seed + row),
            directions=ways,
        )
        spread = _spread(flights, cells, keep, 1.0 / (STEP * speed), bins)
        energy[row] = spread * (gain / np.maximum(cells.volume, 1e-9)[:, None, None])
    return Resolved(cells, energy, _level(energy, late), late)


def _column(enclosure: Enclosure, place: Array, rays: int, *, seed: int) -> Array:
    """Starts over one place of the plan, even over the air between floor and ceiling."""
    off = min(_OFF, enclosure.height / 4.0)
    heights = off + (enclosure.height - 2.0 * off) * (np.arange(2 * rays) + 0.5) / (2 * rays)
    inside = np.zeros(2 * rays, dtype=bool)
    for one in enclosure.objects:
        reach = np.ptp(one.outline, axis=0)
        near = np.abs(place - one.outline[0]) <= reach
        if near.all() and contains_points(one.outline, place[None])[0]:
            inside |= (heights >= one.bottom) & (heights <= one.top)
    free = heights[~inside] if not inside.all() else heights
    chosen = free[(np.arange(rays) * len(free)) // rays]
    # In another order than the directions, so that no height goes with a direction.
    chosen = np.random.default_rng(seed).permutation(chosen)
    return np.column_stack([np.broadcast_to(place, (rays, 2)), chosen])


def _level(energy: Lanes, late: Late) -> Lanes:
    """Energy of each region just before the horizon, re the room's mean."""
    last = round(_LAST / STEP)
    end = energy.shape[2] * STEP
    mean = _row(late.scattered_energy, end - _LAST, late.step) - _row(
        late.scattered_energy, end, late.step
    )
    own = energy[:, :, -last:].sum(axis=2)
    return np.divide(own, mean, out=np.zeros_like(own), where=mean > 0.0)


def _row(table: npt.NDArray[Any], time: float, step: float) -> npt.NDArray[Any]:
    return _rows(table, np.array([time]), step)[0]


def _rows(table: npt.NDArray[Any], time: Array, step: float) -> npt.NDArray[Any]:
    """Rows of a table at any time, between those of its steps."""
    place = np.clip(time / step, 0.0, len(table) - 1)
    row = np.minimum(place.astype(np.int64), len(table) - 2)
    share = (place - row).astype(np.float32).reshape(-1, *[1] * (table.ndim - 1))
    return (1 - share) * table[row] + share * table[row + 1]


# --- Kernels --------------------------------------------------------------------------------


class _Net(ctypes.Structure):
    """The same fields in ``native/resolved.c``."""

    _fields_ = (
        ("low", ctypes.c_double * 2),
        ("cells_per_metre", ctypes.c_double * 2),
        ("bins_per_metre", ctypes.c_double),
        ("columns", ctypes.c_int32),
        ("rows", ctypes.c_int32),
        ("fine", ctypes.c_int32),
        ("bins", ctypes.c_int32),
        ("region_in", ctypes.c_void_p),
        ("region_at", ctypes.c_void_p),
    )


def _spread(
    flights: Flights, cells: PlanCells, keep: Lanes, per_metre: float, bins: int
) -> npt.NDArray[np.floating]:
    """Energy × length of scattered rays by region and time, shape (N, bins, 8) [m]."""
    f32 = compiled.array(np.float32)
    kernel = compiled.function(
        "spread",
        [
            ctypes.POINTER(_Net),
            ctypes.c_int64,
            compiled.array(np.int64),
            f32,
            compiled.array(np.int16),
            f32,
            compiled.array(np.int32),
            f32,
            ctypes.c_int64,
            f32,
        ],
    )
    if kernel is None:
        return _spread_numpy(flights, cells, keep, per_metre, bins)
    region_at = np.ascontiguousarray(cells.region[cells.piece_at])
    region_in = cells.whole()
    net = _Net(
        tuple(cells.low), tuple(1.0 / cells.side), per_metre,
        cells.columns, cells.rows, cells.fine, bins,
        region_in.ctypes.data, region_at.ctypes.data,
    )  # fmt: skip
    out = np.zeros((len(cells.volume), bins, 8), dtype=np.float32)
    kernel(
        net, flights.rays, flights.first, flights.path, flights.surface, flights.points,
        flights.scattered, keep, len(keep) - 1, out,
    )  # fmt: skip
    return out


def _spread_numpy(
    flights: Flights, cells: PlanCells, keep: Lanes, per_metre: float, bins: int
) -> Array:
    """Cut every way at cells and bins: the specification of ``native/resolved.c``."""
    count = np.diff(flights.first)
    ray = np.repeat(np.arange(flights.rays), count)
    hit = np.arange(len(ray)) - flights.first[ray]
    path = flights.path.astype(np.float64)
    way = np.flatnonzero((hit > 0) & (hit > flights.scattered[ray]))
    way = way[path[way - 1] * per_metre < bins]
    a, b = (flights.points[rows].astype(np.float64) for rows in (way - 1, way))
    net_a, net_b = (np.column_stack([(p[:, :2] - cells.low) * (1.0 / cells.side), t * per_metre])
                    for p, t in ((a, path[way - 1]), (b, path[way])))  # fmt: skip
    cuts = [_crossings(net_a[:, axis], net_b[:, axis]) for axis in range(3)]
    ends = (np.tile(np.arange(len(way)), 2), np.repeat([0.0, 1.0], len(way)))
    of = np.concatenate([ends[0], *(cut[0] for cut in cuts)])
    at = np.concatenate([ends[1], *(cut[1] for cut in cuts)])
    order = np.lexsort((at, of))
    of, at = of[order], at[order]
    inner = of[1:] == of[:-1]
    of, low, high = of[1:][inner], at[:-1][inner], at[1:][inner]
    middle = 0.5 * (low + high)
    length = (path[way] - path[way - 1])[of]
    row = (net_a[of, 2] + middle * length * per_metre).astype(np.int64)
    place = a[of, :2] + middle[:, None] * (b[of, :2] - a[of, :2])
    region = cells.region[cells.pieces(place)]
    there = (row < bins) & (high > low)
    where = (region * bins + row)[there]
    out = np.zeros((len(cells.volume) * bins, 8))
    met = np.where(flights.surface < 0, len(keep) - 1, flights.surface)
    for octave in range(7):
        sums = np.concatenate([[0.0], np.cumsum(np.log(keep[:, octave].astype(np.float64))[met])])
        before = np.exp(sums[:-1] - np.repeat(sums[flights.first[:-1]], count))
        weight = before[way][of] * (high - low) * length
        out[:, octave] = np.bincount(where, weight[there], minlength=len(out))
    return out.reshape(len(cells.volume), bins, 8)


def _crossings(a: Array, b: Array) -> tuple[npt.NDArray[np.int64], Array]:
    """Which ways pass whole numbers, and where along them, 0 to 1."""
    up = b > a
    first = np.where(up, np.floor(a) + 1.0, np.ceil(a) - 1.0)
    count = np.where(up, np.ceil(b) - first, first - np.floor(b))
    count = np.where(a == b, 0, np.maximum(count, 0)).astype(np.int64)
    way = np.repeat(np.arange(len(a)), count)
    number = np.arange(len(way)) - np.repeat(np.cumsum(count) - count, count)
    line = first[way] + np.where(up[way], number, -number)
    return way, np.minimum((line - a[way]) / (b - a)[way], 1.0)


def _gather(
    energy: Lanes,
    root: npt.NDArray[np.int64],
    blend: npt.NDArray[np.int32],
    weight: Lanes,
    time: Array,
) -> tuple[Lanes, Complex, Lanes]:
    """Early and late sums (P, 2, 8), transform re 0 (P, 14, 8), and what came before ``time``."""
    bins = energy.shape[2]
    front = time / STEP
    middle = (np.arange(bins) + 0.5) * STEP
    turns = np.exp(-1j * np.outer(middle, ANGULAR))
    f32 = compiled.array(np.float32)
    kernel = compiled.function(
        "gather",
        [
            ctypes.c_int64,
            ctypes.c_int64,
            ctypes.c_int32,
            f32,
            compiled.array(np.int64),
            compiled.array(np.int32),
            f32,
            compiled.array(np.float64),
            ctypes.c_double,
            f32,
            f32,
            f32,
            f32,
        ],
    )
    if kernel is None:
        return _gather_numpy(energy, root, blend, weight, front, turns)
    pairs = len(root)
    sums = np.empty((pairs, 2, 8), dtype=np.float32)
    parts = np.empty((pairs, 14, 2, 8), dtype=np.float32)
    before = np.empty((pairs, 8), dtype=np.float32)
    kernel(
        pairs, energy.shape[1], bins, energy, root, np.ascontiguousarray(blend),
        np.ascontiguousarray(weight), front, EARLY / STEP,
        turns.view(np.float64).astype(np.float32), sums, parts, before,
    )  # fmt: skip
    return sums, parts[:, :, 0] + np.complex64(1j) * parts[:, :, 1], before


def _gather_numpy(
    energy: Lanes,
    root: npt.NDArray[np.int64],
    blend: npt.NDArray[np.int32],
    weight: Lanes,
    front: Array,
    turns: npt.NDArray[np.complex128],
) -> tuple[Lanes, Complex, Lanes]:
    """Blend and transform: the specification of ``native/resolved.c``."""
    bins = energy.shape[2]
    sums = np.empty((len(root), 2, 8), dtype=np.float32)
    transform = np.empty((len(root), 14, 8), dtype=np.complex64)
    before = np.empty((len(root), 8), dtype=np.float32)
    number = np.arange(bins)
    for start in range(0, len(root), _AT_ONCE):
        part = slice(start, start + _AT_ONCE)
        held = np.zeros((len(root[part]), bins, 8), dtype=np.float32)
        for k in range(4):
            held += weight[part, k, None, None] * energy[root[part], blend[part, k]]
        soon = np.clip(front[part, None] + EARLY / STEP - number, 0.0, 1.0).astype(np.float32)
        sums[part, 0] = (soon[:, :, None] * held).sum(axis=1)
        sums[part, 1] = ((1 - soon)[:, :, None] * held).sum(axis=1)
        past = (number + 0.5 <= front[part, None])[:, :, None]
        before[part] = np.where(past, held, 0).sum(axis=1)
        after = np.where(past, 0, held).transpose(0, 2, 1)
        turned = np.ascontiguousarray(after) @ turns.astype(np.complex64)
        transform[part] = turned.transpose(0, 2, 1)
    return sums, transform, before
