"""Image sources of a box, turned or not: the early sound, followed one by one up to a limit.

::

      ┌─────┬─────┬─────┐
      │ ·   │   · │ ·   │      each copy of the room holds one image of the source, even ones
      ├─────┼─────┼─────┤      repeated, odd ones mirrored; what faces left then faces right
      │ ·   │ × o │ ·   │
      ├─────┼─────┼─────┤      o microphone; all images nearer than direct + speed · limit
      │ ·   │   · │ ·   │
      └─────┴─────┴─────┘

How many that are is bounded by geometry: about 4π/3 · R³/V with R the direct distance plus speed
times limit, some hundreds in a meeting room as in a hall 300 m long, where V grows faster.
"""

from __future__ import annotations

import ctypes
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from wellheard.acoustics import compiled
from wellheard.acoustics.arrivals import (
    NEAREST,
    STEP,
    TABLES,
    Job,
    Lanes,
    Reflected,
    finish,
    in_parts,
    lanes,
)
from wellheard.acoustics.enclosure import Enclosure
from wellheard.acoustics.reflection import (
    floor_and_ceiling_reflection,
    wall_reflection,
    wall_reflection_at,
)
from wellheard.arrays import Array

BELOW = -1e-6
"""A direction whose vertical part is less comes from below."""

_SOUTH, _EAST, _NORTH, _WEST = 0, 1, 2, 3
_WALLS = (_WEST, _EAST, _SOUTH, _NORTH)
"""Walls at x = 0, x = length, y = 0, y = width: the order of first reflections."""

_PAIRS = 1024  # whose bins stay in the cache


def reflect_box(enclosure: Enclosure, job: Job, *, threads: int = 1) -> Reflected:
    """Everything but the direct sound of P pairs in a box.

    Parameters
    ----------
    enclosure : Enclosure
        A rectangle in plan.
    job : Job
        The pairs.
    threads : int
        Of the compiled kernel.

    Returns
    -------
    Reflected

    Notes
    -----
    Each image brings the source's pattern at the angle of departure, the microphone's at the
    angle of arrival, 1/d², and of every surface it met what is neither absorbed nor scattered:
    the mean of the wall, but for first reflections off one wall that of the very spot.

    References
    ----------
    .. [1] allen-berkley:1979, the lattice.
    """
    size, turned = _along_axes(enclosure, job)
    most = _most(size, turned)
    factors = _factors(enclosure, most)
    first = _first(enclosure, size, turned) if enclosure.patches else None
    kernel = compiled.function("box_respond", _ARGUMENTS, ctypes.c_int32)
    if kernel is None:
        parts = [slice(p, p + _PAIRS) for p in range(0, job.count, _PAIRS)]
        return _joined(
            [
                _reflect_numpy(
                    size, most, factors, None if first is None else first[part], turned.part(part)
                )
                for part in parts
            ]
        )
    flat = np.concatenate([each.ravel() for each in factors])
    native = turned.tables.native(turned.talker.shape[0])

    def run(part: slice, energies: Lanes, modulation: npt.NDArray[np.complex64]) -> None:
        some = turned.part(part)
        failed = kernel(
            ctypes.byref(native), some.count, some.row, some.column, some.pattern,
            size, most, flat, some.at, some.facing, some.talker, some.microphone,
            some.axis, some.patterns, some.diffuse, some.upper_only, some.direct, some.front_air,
            None if first is None else first[part].ctypes.data, energies, modulation,
        )  # fmt: skip
        if failed:
            raise MemoryError("no memory for the images of a box")

    return in_parts(run, turned.count, threads=threads)


def _along_axes(enclosure: Enclosure, job: Job) -> tuple[Array, Job]:
    """Size of the box, and the pairs seen from its first corner, x along its first wall."""
    x0, y0, x1, y1 = enclosure.walls[_SOUTH]
    length, width = enclosure.wall_lengths[:2]
    along = np.array([x1 - x0, y1 - y0]) / length
    turn = np.array([[along[0], -along[1], 0.0], [along[1], along[0], 0.0], [0.0, 0.0, 1.0]])
    origin = np.array([x0, y0, 0.0])
    return np.array([length, width, enclosure.height]), replace(
        job,
        at=(job.at - origin) @ turn,
        facing=job.facing @ turn,
        microphone=(job.microphone - origin) @ turn,
        axis=job.axis @ turn,
    )


def _most(size: Array, job: Job) -> npt.NDArray[np.int32]:
    """Numbers of the farthest images along each axis that any pair can need."""
    reach = float(job.direct.max()) + job.tables.reach
    return (np.ceil(reach / size) + 1).astype(np.int32)


def _factors(enclosure: Enclosure, most: npt.NDArray[np.int32]) -> list[Lanes]:
    """What the images −most … most along each axis reflect, each of shape (2·most + 1, 8)."""
    walls = wall_reflection(enclosure)
    floor, ceiling = floor_and_ceiling_reflection(enclosure)
    near_far = ((walls[_WEST], walls[_EAST]), (walls[_SOUTH], walls[_NORTH]), (floor, ceiling))
    made = []
    for (near, far), count in zip(near_far, most, strict=True):
        i = np.arange(-count, count + 1)
        # Image 1 has met the far surface once, image 2 both, image −1 the near one.
        more, less = (np.abs(i) + 1) // 2, np.abs(i) // 2
        at_far, at_near = np.where(i > 0, more, less), np.where(i > 0, less, more)
        made.append(lanes(near ** at_near[:, None] * far ** at_far[:, None]))
    return made


def _first(enclosure: Enclosure, size: Array, job: Job) -> Lanes:
    """What first reflections at x = 0, x = length, y = 0 and y = width leave, shape (P, 4, 8)."""
    source, receiver = job.at[job.row], job.microphone[job.column]
    left = np.empty((job.count, 4, 8), dtype=np.float32)
    for place, wall in enumerate(_WALLS):
        across = 0 if wall in (_WEST, _EAST) else 1
        edge = size[across] if wall in (_EAST, _NORTH) else 0.0
        a, b = np.abs(source[:, across] - edge), np.abs(receiver[:, across] - edge)
        # Where both lie on the wall, half-way.
        share = np.divide(a, a + b, out=np.full_like(a, 0.5), where=a + b > 0.0)[:, None]
        x, y, z = (source + share * (receiver - source)).T
        along = {_SOUTH: x, _EAST: y, _NORTH: size[0] - x, _WEST: size[1] - y}[wall]
        left[:, place] = lanes(wall_reflection_at(enclosure, wall, along=along, above=z))
    return left


def _reflect_numpy(
    size: Array, most: npt.NDArray[np.int32], factors: list[Lanes], first: Lanes | None, job: Job
) -> Reflected:
    """The specification of ``native/box.c``: image by image, over all pairs at once."""
    tables, pairs = job.tables, job.count
    bins = np.zeros((pairs * tables.bins, 8), dtype=np.float32)
    begin = np.arange(pairs) * tables.bins
    x, y, z = (_axis_images(job, axis, size[axis], most[axis]) for axis in range(3))
    far = (job.direct + tables.reach) ** 2
    half_entries = 0.5 * (job.talker.shape[0] - 1)
    entry = job.pattern * job.talker.shape[0]
    patterns = job.patterns.reshape(-1, 8)
    upper = job.upper_only.astype(bool)
    for i in range(-most[0], most[0] + 1):
        for j in range(-most[1], most[1] + 1):
            flat, talker, listen, _ = (
                of_x[i + most[0]] + of_y[j + most[1]] for of_x, of_y in zip(x, y, strict=True)
            )
            if np.all(flat >= far):
                continue
            plan = factors[0][i + most[0]] * factors[1][j + most[1]]
            for k in range(-most[2], most[2] + 1):
                if i == j == k == 0:
                    continue
                square_z, talker_z, listen_z, offset = (of_z[k + most[2]] for of_z in z)
                square = flat + square_z
                near = square < far
                near &= ~(upper & (offset < BELOW * np.sqrt(square)))
                at = np.flatnonzero(near)
                if not len(at):
                    continue
                distance = np.maximum(np.sqrt(square[at]), NEAREST)
                inverse = half_entries / distance
                leaves = ((talker + talker_z)[at] * inverse + (half_entries + 0.5)).astype(np.intp)
                meets = ((listen + listen_z)[at] * inverse + (half_entries + 0.5)).astype(np.intp)
                late = ((distance - job.direct[at]) / (tables.speed * STEP)).astype(np.intp)
                energy = job.talker[leaves]
                energy *= patterns[entry[at] + meets]
                energy *= (1.0 / np.square(distance)).astype(np.float32)[:, None]
                if first is not None and k == 0 and abs(i) + abs(j) == 1:
                    energy *= first[at, int(i > 0) if i else 2 + int(j > 0)]
                else:
                    energy *= plan * factors[2][k + most[2]]
                bins[begin[at] + np.clip(late, 0, tables.bins - 1)] += energy
    return finish(bins.reshape(pairs, tables.bins, 8), job)


def _axis_images(job: Job, axis: int, length: float, most: int) -> tuple[Array, ...]:
    """Of the images along one axis and each pair, shape (2·most + 1, P) each.

    Square of the distance from the microphone; part of distance times cosine at the talker, whose
    facing is mirrored in odd images, and at the microphone; distance along the axis.
    """
    i = np.arange(-most, most + 1)[:, None]
    source = job.at[job.row, axis]
    away = i * length + np.where(i % 2, length - source, source) - job.microphone[job.column, axis]
    facing = np.where(i % 2, -1.0, 1.0) * job.facing[job.row, axis]
    return np.square(away), -facing * away, job.axis[:, axis] * away, away


def _joined(parts: list[Reflected]) -> Reflected:
    return Reflected(
        *(
            np.concatenate([getattr(part, name) for part in parts])
            for name in ("joined", "early", "late", "modulation")
        )
    )


_ARGUMENTS = [
    TABLES,
    ctypes.c_int64,
    *[compiled.array(np.int64)] * 3,
    compiled.array(np.float64),
    compiled.array(np.int32),
    compiled.array(np.float32),
    *[compiled.array(np.float64)] * 2,
    compiled.array(np.float32),
    *[compiled.array(np.float64)] * 2,
    *[compiled.array(np.float32)] * 2,
    compiled.array(np.uint8),
    compiled.array(np.float64),
    compiled.array(np.float32),
    ctypes.c_void_p,
    compiled.array(np.float32),
    compiled.array(np.complex64),
]
