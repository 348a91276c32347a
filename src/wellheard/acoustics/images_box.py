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
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from wellheard.acoustics import compiled
from wellheard.acoustics.arrivals import (
    NEAREST,
    STEP,
    TABLES,
    Job,
    Lanes,
    Numbers,
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

_PAIRS = 128  # whose images stay in the cache


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
    """The specification of ``native/box.c``: every image of the lattice, for some pairs at once."""
    tables, entries = job.tables, job.talker.shape[0]
    axes = [_axis_images(job, axis, size[axis], most[axis]) for axis in range(3)]
    far = (job.direct + tables.reach) ** 2
    lattice = _lattice([one.square for one in axes], most, float(far.max()))
    step = lattice - most  # 0, 0, 0 is the source itself
    i, j, k = lattice.T
    square, leaves, meets = (
        of_axis[0][i] + of_axis[1][j] + of_axis[2][k]
        for of_axis in zip(*((one.square, one.talker, one.listen) for one in axes), strict=True)
    )
    near = square < far
    near[~step.any(axis=1)] = False
    if job.upper_only.any():
        below = axes[2].offset[k] < BELOW * np.sqrt(square)
        near &= ~(job.upper_only.astype(bool) & below)
    chosen = np.flatnonzero(near)
    image, pair = np.divmod(chosen, job.count)

    distance = np.maximum(np.sqrt(square.ravel()[chosen]), NEAREST)
    weight = (1.0 / np.square(distance)).astype(np.float32)
    late = ((distance - job.direct[pair]) / (tables.speed * STEP)).astype(np.intp)
    late = pair * tables.bins + np.clip(late, 0, tables.bins - 1)
    half = 0.5 * (entries - 1)
    at_talker, at_microphone = (
        (each.ravel()[chosen] / distance * half + (half + 0.5)).astype(np.intp)
        for each in (leaves, meets)
    )
    at_microphone += (job.pattern * entries)[pair]
    energy = (factors[0][i] * factors[1][j] * factors[2][k]).take(image, axis=0)
    if first is not None:
        once = (np.abs(step[:, :2]).sum(axis=1) == 1) & (step[:, 2] == 0)
        wall = np.where(step[:, 0] != 0, step[:, 0] > 0, 2 + (step[:, 1] > 0))
        single = np.flatnonzero(once[image])
        energy[single] = first[pair[single], wall[image[single]]]
    energy *= weight[:, None]
    energy *= job.talker.take(at_talker, axis=0)
    energy *= job.patterns.reshape(-1, 8).take(at_microphone, axis=0)
    bins = np.zeros((job.count * tables.bins, 8), dtype=np.float32)
    for octave in range(7):
        bins[:, octave] = np.bincount(late, weights=energy[:, octave], minlength=len(bins))
    return finish(bins.reshape(job.count, tables.bins, 8), job)


@dataclass(frozen=True, eq=False)
class _Images:
    """Along one axis, shape (2·most + 1, P) each, −most first."""

    square: Array  # of the offset
    talker: Array  # its part of distance · cosine at the talker, whom odd images mirror
    listen: Array  # and at the microphone
    offset: Array  # from the microphone [m]


def _axis_images(job: Job, axis: int, length: float, most: int) -> _Images:
    i = np.arange(-most, most + 1)[:, None]
    source = job.at[job.row, axis]
    offset = i * length + np.where(i % 2, length - source, source)
    offset -= job.microphone[job.column, axis]
    facing = np.where(i % 2, -1.0, 1.0) * job.facing[job.row, axis]
    return _Images(np.square(offset), -facing * offset, job.axis[:, axis] * offset, offset)


def _lattice(squares: list[Array], most: npt.NDArray[np.int32], far: float) -> Numbers:
    """Rows of the three axes for all images that may be near enough for any of the pairs."""
    x, y, z = (square.min(axis=1) for square in squares)
    return np.argwhere(x[:, None, None] + y[:, None] + z < far)


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
