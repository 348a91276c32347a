"""Rays through an enclosure, for all of its echoes at once.

Only the geometry decides where they go: they are followed once, and then weighed with as many
sets of absorption as wanted (:mod:`wellheard.acoustics.decay_table`). Each ray is reflected as
by a mirror or by Lambert's law, drawn by the surface's scattering.

How much there may be: 32,000 surfaces; the time goes with rays × length / mean free path × walls.
Objects are looked up by place, so five hundred sitters cost little more than twenty; the numpy
twin tries every object for every ray and takes some seconds there.
"""

from __future__ import annotations

import ctypes
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from wellheard.acoustics import compiled
from wellheard.acoustics.enclosure import CEILING, FLOOR, Enclosure
from wellheard.acoustics.facets import Facets, facets, free_of_solids, within
from wellheard.acoustics.ray_walk import LOST, NEVER, Walk, walk
from wellheard.arrays import Array

__all__ = ["LOST", "NEVER", "Flights", "advised_length", "directions_all_round", "trace"]

MOST_SURFACES = 32_000
_MOST_HITS = 64
"""Rays that meet so many times more faces than the mean, and a thousand, are lost."""

_TO_ADVISE_DB = 35.0
_FEWEST_PATHS, _MOST_PATHS = 24.0, 192.0

# Powers of the root of x⁶ = x + 1: the steps of the additive recurrence that fills five
# dimensions evenly (Roberts 2018, generalised golden ratio).
_STEPS = 1.1347241384015194 ** -np.arange(1.0, 6.0)


@dataclass(frozen=True, eq=False)
class Flights:
    """Where rays went: their hits in a row, those of ray *i* from ``first[i]`` to ``first[i+1]``.

    Parameters
    ----------
    start : ndarray, shape (rays, 3)
        [m]
    first : ndarray of int, shape (rays + 1,)
    path : ndarray of float32, shape (hits,)
        Way from the start to each hit; the last hit of a ray is at or past ``length``. [m]
    surface : ndarray of int16, shape (hits,)
        Index of the surface; −1 where a ray was lost.
    points : ndarray of float32, shape (hits, 3)
        [m]
    scattered : ndarray of int32, shape (rays,)
        Which of a ray's hits scattered it first, by Lambert's law or because it was on an
        object; ``NEVER`` if none did.
    object : ndarray of int32, shape (rays,)
        Which of a ray's hits was the first on an object; ``NEVER`` if none was.
    length : float
        How far every ray was followed. [m]
    turned_back, lost : int
        How often a ray was turned back where it would have left the room, and how many rays were
        lost; both are 0 in a plan that is sound.
    mean_free_path : float
        4V/S. [m]
    """

    start: Array
    first: npt.NDArray[np.int64]
    path: npt.NDArray[np.float32]
    surface: npt.NDArray[np.int16]
    points: npt.NDArray[np.float32]
    scattered: npt.NDArray[np.int32]
    object: npt.NDArray[np.int32]
    length: float
    turned_back: int
    lost: int
    mean_free_path: float

    @property
    def rays(self) -> int:
        """How many there are."""
        return len(self.start)


def trace(
    enclosure: Enclosure,
    *,
    rays: int,
    length: float,
    seed: int = 0,
    starts: Array | None = None,
    directions: Array | None = None,
) -> Flights:
    """Follow rays through an enclosure.

    Parameters
    ----------
    enclosure : Enclosure
        The room.
    rays : int
        How many.
    length : float
        How far each is followed. [m]
    seed : int
        Of the starts, the directions and all that is drawn on the way, at least 0.
    starts : ndarray, shape (rays, 3) or (3,), optional
        Within the walls; evenly over the air if left out. [m]
    directions : ndarray, shape (rays, 3), optional
        Unit vectors; evenly all round if left out.

    Raises
    ------
    ValueError
        No rays or no length, a start outside the walls, or too many surfaces.

    Examples
    --------
    >>> from wellheard.acoustics.enclosure import box
    >>> flights = trace(box((6.0, 5.0, 3.0), absorption=np.full(6, 0.2)), rays=500, length=60.0)
    >>> flights.rays, flights.lost
    (500, 0)
    """
    if not (rays > 0 and 0.0 < length < np.inf):
        raise ValueError(f"{rays} rays over {length!r} m; more than 0 of each is allowed")
    if len(enclosure.names) > MOST_SURFACES:
        raise ValueError(
            f"{len(enclosure.names)} surfaces; rays can tell at most {MOST_SURFACES} apart"
        )
    faces = facets(enclosure)
    if not faces.mean_free_path > 0.0:
        raise ValueError("there is no air in the room; check its outline and its objects")
    even = _EvenNumbers(seed)
    if starts is None:
        start, spin = _spread(enclosure, rays, even)
    else:
        start = np.array(np.broadcast_to(starts, (rays, 3)), dtype=np.float64)
        spin = even(np.arange(rays))[:, 3:]
        if not np.all(_within_walls(enclosure, np.atleast_2d(np.asarray(starts, dtype=float)))):
            raise ValueError("a ray starts outside the walls; let it start within them")
    heading = _direction(spin) if directions is None else np.array(directions, dtype=np.float64)

    expected = length / faces.mean_free_path
    run = _follow(
        faces,
        np.ascontiguousarray(start - faces.origin),
        np.ascontiguousarray(heading),
        length=float(length),
        seed=seed,
        most_hits=int(_MOST_HITS * (expected + 16.0)),
        capacity=int(rays * (2.0 * expected + 8.0)),
    )
    points = run.points + faces.origin.astype(np.float32)
    return Flights(
        start=start,
        first=run.first,
        path=run.path,
        surface=_on_level_patches(enclosure, run.surface, points),
        points=points,
        scattered=run.scattered,
        object=run.object,
        length=float(length),
        turned_back=run.turned_back,
        lost=run.lost,
        mean_free_path=faces.mean_free_path,
    )


def _on_level_patches(
    enclosure: Enclosure, surface: npt.NDArray[np.int16], points: npt.NDArray[np.float32]
) -> npt.NDArray[np.int16]:
    """Surfaces of hits, those on a patch of floor or ceiling by the patch.

    A patch scatters as what it is on, so no ray goes elsewhere for it: the kernel needs to know
    nothing of them.
    """
    if not enclosure.level_patches:
        return surface
    met = surface.copy()
    for level in (FLOOR, CEILING):
        hits = np.flatnonzero(surface == level)
        at = points[hits].astype(np.float64)
        for patch in enclosure.level_patches:
            if patch.on == level:
                met[hits[within(patch.outline, at)]] = patch.surface
    return met


def advised_length(enclosure: Enclosure) -> float:
    """How far rays should be followed so that a decay can be read off them. [m]

    Far enough for a diffuse field to decay by 35 dB in the octave that is absorbed least, within
    24 and 192 mean free paths. In steps of √2, so that a change of absorption rarely changes it.
    What rings on longer is extrapolated.
    """
    faces = facets(enclosure)
    walls = np.concatenate(
        [
            np.repeat(enclosure.floor_area, 2),
            enclosure.wall_lengths * enclosure.height,
        ]
    )
    absorption = np.concatenate([enclosure.level_absorption, enclosure.wall_absorption])
    mean = np.minimum(walls @ absorption / walls.sum(), 0.99).min()
    wanted = _TO_ADVISE_DB / (10.0 * np.log10(np.e)) / max(-np.log1p(-mean), 1e-9)
    paths = _FEWEST_PATHS * 2.0 ** (np.ceil(2.0 * np.log2(max(wanted / _FEWEST_PATHS, 1.0))) / 2.0)
    return float(min(paths, _MOST_PATHS) * faces.mean_free_path)


def directions_all_round(rays: int, seed: int = 0) -> Array:
    """Unit vectors evenly all round, shape (rays, 3)."""
    return _direction(_EvenNumbers(seed)(np.arange(rays))[:, 3:])


class _EvenNumbers:
    """Rows of five numbers from 0 to 1 that fill their space evenly, shifted by the seed."""

    def __init__(self, seed: int) -> None:
        self._shift = np.random.default_rng(seed).random(5)

    def __call__(self, index: npt.NDArray[np.int64]) -> Array:
        return (self._shift + index[:, None] * _STEPS) % 1.0


def _spread(enclosure: Enclosure, rays: int, even: _EvenNumbers) -> tuple[Array, Array]:
    """Starts in the air and the two numbers for the direction of each."""
    low, high = enclosure.outline.min(axis=0), enclosure.outline.max(axis=0)
    origin = np.append(low, 0.0)
    extent = np.append(high - low, enclosure.height)
    share = enclosure.volume / float(np.prod(extent))
    found: list[Array] = []
    count, index = 0, 0
    while count < rays:
        more = int((rays - count) / max(share, 1e-3) * 1.1) + 16
        numbers = even(np.arange(index, index + more))
        points = origin + numbers[:, :3] * extent
        free = free_of_solids(enclosure, points)
        found.append(np.hstack([points, numbers[:, 3:]])[free])
        count += int(free.sum())
        index += more
        if index > 1000 * (rays + 1000):
            raise ValueError("there is hardly any air in the room; check its objects")
    rows = np.concatenate(found)[:rays]
    return rows[:, :3], rows[:, 3:]


def _direction(numbers: Array) -> Array:
    z = 2.0 * numbers[:, 0] - 1.0
    azimuth = 2.0 * np.pi * numbers[:, 1]
    r = np.sqrt(1.0 - z * z)
    return np.stack([r * np.cos(azimuth), r * np.sin(azimuth), z], axis=1)


def _within_walls(enclosure: Enclosure, points: Array) -> npt.NDArray[np.bool_]:
    inside = within(enclosure.outline, points)
    for column in enclosure.columns:
        inside &= ~within(column, points)
    return inside & (points[:, 2] >= 0.0) & (points[:, 2] <= enclosure.height)


# --- The kernel -----------------------------------------------------------------------------

_POINTERS = (
    *(
        (name, np.float64)
        for name in ("walls", "patches", "edges", "solids", "scattering", "cells")
    ),
    *(
        (name, np.int32)
        for name in (
            "patch_first",
            "patch_surface",
            "edge_first",
            "solid_surface",
            "cell_first",
            "cell_solids",
        )
    ),
)
"""Arrays of Facets that the kernel is given, in the order of its structure."""


class _Facets(ctypes.Structure):
    """The same fields in ``native/rays.c``."""

    _fields_ = (
        ("height", ctypes.c_double),
        *((name, ctypes.c_void_p) for name, _ in _POINTERS),
        ("wall_count", ctypes.c_int32),
        ("solid_count", ctypes.c_int32),
        ("columns", ctypes.c_int32),
        ("rows", ctypes.c_int32),
    )


def _structure(faces: Facets) -> _Facets:
    """Point at the arrays of ``faces``, which must outlive the result."""
    for name, kind in _POINTERS:
        held = getattr(faces, name)
        assert held.dtype == kind
        assert held.flags.c_contiguous
    return _Facets(
        faces.height,
        *(getattr(faces, name).ctypes.data for name, _ in _POINTERS),
        len(faces.walls),
        len(faces.solids),
        faces.columns,
        faces.rows,
    )


def _follow(
    faces: Facets,
    start: Array,
    heading: Array,
    *,
    length: float,
    seed: int,
    most_hits: int,
    capacity: int,
) -> Walk:
    """Follow the rays with the kernel, or with its twin where there is none."""
    f64, i64, i32 = (compiled.array(kind) for kind in (np.float64, np.int64, np.int32))
    kernel = compiled.function(
        "trace",
        [
            ctypes.POINTER(_Facets),
            ctypes.c_int64,
            f64,
            f64,
            ctypes.c_double,
            ctypes.c_uint64,
            ctypes.c_int64,
            ctypes.c_int64,
            i64,
            compiled.array(np.float32),
            compiled.array(np.int16),
            compiled.array(np.float32),
            i32,
            i32,
            i64,
        ],
        ctypes.c_int64,
    )
    if kernel is None:
        return walk(faces, start, heading, length=length, seed=seed, most_hits=most_hits)
    rays = len(start)
    first, trouble = np.empty(rays + 1, dtype=np.int64), np.zeros(2, dtype=np.int64)
    scattered, object_ = np.empty(rays, dtype=np.int32), np.empty(rays, dtype=np.int32)
    structure = _structure(faces)
    while True:
        path = np.empty(capacity, dtype=np.float32)
        surface = np.empty(capacity, dtype=np.int16)
        points = np.empty((capacity, 3), dtype=np.float32)
        trouble[:] = 0
        needed = kernel(
            structure, rays, start, heading, length, seed, most_hits, capacity,
            first, path, surface, points, scattered, object_, trouble,
        )  # fmt: skip
        if needed <= capacity:
            break
        capacity = needed
    return Walk(
        first, path[:needed].copy(), surface[:needed].copy(), points[:needed].copy(),
        scattered, object_, int(trouble[0]), int(trouble[1]),
    )  # fmt: skip
