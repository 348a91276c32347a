"""Image sources where the plan may be concave and hold columns: the early sound up to a limit.

::

      ┌───────────────┐
      │  o            │      the walls mirror the root, which is the source or the microphone,
      │     ┌─────────┘      into a tree of images (plan_tree); each is seen from where its beam
      │     │                goes, and floor and ceiling repeat it upwards and downwards
      │  ×  │
      └─────┘
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
from wellheard.acoustics.enclosure import FIRST_WALL, Enclosure
from wellheard.acoustics.image_ways import storeys
from wellheard.acoustics.images_box import BELOW
from wellheard.acoustics.plan_tree import MOST_BEAMS, PlanTree, grow, stand
from wellheard.acoustics.reflection import (
    floor_and_ceiling_reflection,
    surface_reflection,
    wall_reflection,
    wall_reflection_at,
)
from wellheard.arrays import Array

_BINS = 60_000  # that the numpy twin fills at a time


@dataclass(frozen=True, eq=False)
class Forest:
    """The images of all sources or of all microphones, whichever are fewer.

    Parameters
    ----------
    rooted_at_source : bool
        Whether the trees are those of the sources.
    trees : tuple of PlanTree
    of_pair : ndarray of int, shape (P,)
        The tree of each pair.
    at, microphone : ndarray, shape (R, 3) and (M, 3)
        Sources and microphones, off the walls. [m]
    reach : float
        How much farther than its direct sound an image of any pair may be, so that none is
        missing. [m]
    """

    rooted_at_source: bool
    trees: tuple[PlanTree, ...]
    of_pair: Numbers
    at: Array
    microphone: Array
    reach: float


def grow_forest(
    enclosure: Enclosure,
    at: Array,
    microphone: Array,
    *,
    row: Numbers,
    column: Numbers,
    direct: Array,
    reach: float,
    most_beams: int = MOST_BEAMS,
) -> Forest:
    """Grow the trees that some pairs need.

    Parameters
    ----------
    enclosure : Enclosure
        The room.
    at, microphone : ndarray, shape (R, 3) and (M, 3)
        Sources and microphones. [m]
    row, column : ndarray of int, shape (P,)
        Source and microphone of each pair.
    direct : ndarray, shape (P,)
        Distances. [m]
    reach : float
        How much farther than the direct sound an image may be. [m]
    most_beams : int
        Where a tree stops growing.

    Returns
    -------
    Forest
        Its reach is shorter than the one asked for if a tree stopped growing: follow images no
        farther, and let the room's mean begin there.
    """
    at = np.column_stack([stand(enclosure.walls, at[:, :2]), at[:, 2]])
    microphone = np.column_stack([stand(enclosure.walls, microphone[:, :2]), microphone[:, 2]])
    # As complex numbers, for which unique() is several times faster than for rows.
    ends = [
        np.unique(points[index, 0] + 1j * points[index, 1], return_inverse=True)
        for points, index in ((at, row), (microphone, column))
    ]
    rooted_at_source = len(ends[0][0]) < len(ends[1][0])
    places, of_pair = ends[0] if rooted_at_source else ends[1]
    roots = np.column_stack([places.real, places.imag])
    of_pair = of_pair.astype(np.int64)
    farthest = np.zeros(len(roots))
    np.maximum.at(farthest, of_pair, direct)
    trees = tuple(
        grow(enclosure.walls, root, reach=float(far + reach), most_beams=most_beams)
        for root, far in zip(roots, farthest, strict=True)
    )
    complete = np.array([tree.complete_to for tree in trees])[of_pair] - direct
    kept = max(min(reach, float(complete.min(initial=reach))), 0.0)
    return Forest(rooted_at_source, trees, of_pair, at, microphone, kept)


def reflect_plan(
    enclosure: Enclosure, job: Job, *, threads: int = 1, forest: Forest | None = None
) -> Reflected:
    """Everything but the direct sound of P pairs in a room with any plan.

    Parameters
    ----------
    enclosure : Enclosure
        The room.
    job : Job
        The pairs.
    threads : int
        Of the compiled kernel.
    forest : Forest, optional
        Of the same pairs, grown at least as far as the job's tables reach.

    Returns
    -------
    Reflected

    Notes
    -----
    Each image brings the source's pattern at the angle of departure, the microphone's at the
    angle of arrival, 1/d², and of every surface it met what is neither absorbed nor scattered:
    the mean of the wall, but for reflections off a single surface that of the very spot.

    References
    ----------
    .. [1] allen-berkley:1979, the lattice of floor and ceiling.
    .. [2] borish:1984, images in rooms of any shape, and when they are seen.
    """
    if forest is None:
        forest = grow_forest(
            enclosure,
            job.at,
            job.microphone,
            row=job.row,
            column=job.column,
            direct=job.direct,
            reach=job.tables.reach,
        )
    job = replace(job, at=forest.at, microphone=forest.microphone)
    kernel = compiled.function("plan_respond", _ARGUMENTS, ctypes.c_int32)
    if kernel is None:
        return _reflect_numpy(enclosure, job, forest)
    beams, walls = _Forest.of(forest), _Walls.of(enclosure)
    native = job.tables.native(job.talker.shape[0])
    most = int((job.direct.max() + job.tables.reach) // enclosure.height) + 2
    factors, from_above = _factors(enclosure, most)

    def run(part: slice, energies: Lanes, modulation: npt.NDArray[np.complex64]) -> None:
        some = job.part(part)
        failed = kernel(
            ctypes.byref(native), some.count, some.row, some.column, some.pattern,
            forest.rooted_at_source, forest.of_pair[part], ctypes.byref(beams.native),
            ctypes.byref(walls.native), enclosure.height, most, factors, from_above, some.at,
            some.facing, some.talker, some.microphone, some.axis, some.patterns, some.diffuse,
            some.upper_only, some.direct, some.front_air, energies, modulation,
        )  # fmt: skip
        if failed:
            raise MemoryError("no memory for the images of a plan")

    return in_parts(run, job.count, threads=threads)


def _factors(enclosure: Enclosure, most: int) -> tuple[Lanes, Lanes]:
    """What floor and ceiling leave of images −most … most of a root, shape (2·most + 1, 8).

    And the same without those that reach the root from below: mirrored an odd number of times
    and low, or an even number of times and high.
    """
    floor, ceiling = floor_and_ceiling_reflection(enclosure)
    index = np.arange(-most, most + 1)
    more, less = (np.abs(index) + 1) // 2, np.abs(index) // 2
    at_ceiling, at_floor = np.where(index > 0, more, less), np.where(index > 0, less, more)
    factors = lanes(floor ** at_floor[:, None] * ceiling ** at_ceiling[:, None])
    below = ((index > 0) & (index % 2 == 0)) | ((index < 0) & (index % 2 == 1))
    return factors, np.where(below[:, None], np.float32(0.0), factors)


def _reflect_numpy(enclosure: Enclosure, job: Job, forest: Forest) -> Reflected:
    """The specification of ``plan_respond`` in ``native/plan.c``."""
    energies = np.zeros((job.count, job.tables.bins, 8), dtype=np.float32)
    some = max(_BINS // job.tables.bins, 1)
    for number, tree in enumerate(forest.trees):
        pairs = np.flatnonzero(forest.of_pair == number)
        left = _left_by_walls(enclosure, tree)
        for start in range(0, len(pairs), some):
            part = pairs[start : start + some]
            energies[part] = _bins(enclosure, job, forest, tree, left, part)
    return finish(energies, job)


def _left_by_walls(enclosure: Enclosure, tree: PlanTree) -> Array:
    """What the walls of each beam have left, shape (N, 7)."""
    walls = wall_reflection(enclosure)
    left = np.ones((len(tree.last), 7))
    for beam in np.flatnonzero(tree.last >= 0):
        left[beam] = left[tree.parent[beam]] * walls[tree.last[beam]]
    return left


def _bins(
    enclosure: Enclosure,
    job: Job,
    forest: Forest,
    tree: PlanTree,
    left_by_walls: Array,
    pairs: Numbers,
) -> Lanes:
    """Energy in bins of some pairs of one tree, without air, shape (pairs, bins, 8)."""
    tables = job.tables
    source, microphone = job.at[job.row[pairs]], job.microphone[job.column[pairs]]
    facing, axis = job.facing[job.row[pairs]], job.axis[pairs]
    at_source = forest.rooted_at_source
    root, here = (source, microphone) if at_source else (microphone, source)
    out, back = (facing, axis) if at_source else (axis, facing)
    far = job.direct[pairs] + tables.reach
    images = storeys(enclosure, 0.0, reach=float(far.max()) + enclosure.height)

    seen, beam = np.nonzero(tree.seen(here[:, :2]))
    flat = tree.image[beam] - here[seen, :2]
    # One row for each image: pair of the part, beam, storey.
    index = images.index
    height = index * enclosure.height
    height = height + np.where(
        index % 2, enclosure.height - root[seen, 2, None], root[seen, 2, None]
    )
    rise = height - here[seen, 2, None]
    square = np.square(flat).sum(axis=1)[:, None] + np.square(rise)
    kept = square < np.square(far)[seen, None]
    kept &= ~((tree.last[beam] < 0)[:, None] & (index == 0))
    which, storey = np.nonzero(kept)
    pair, beam, flat = seen[which], beam[which], flat[which]
    rise = rise[which, storey]
    distance = np.sqrt(square[which, storey])
    towards = np.column_stack([flat, rise]) / np.maximum(distance, NEAREST)[:, None]
    upright = images.upright[storey]
    away = np.column_stack(
        [-np.einsum("ni,nij->nj", towards[:, :2], tree.turn[beam]), -towards[:, 2] * upright]
    )
    at_microphone = towards if at_source else away
    heard = ~(job.upper_only[pairs].astype(bool)[pair] & (at_microphone[:, 2] < BELOW))

    from_root = np.einsum("ni,ni->n", away, out[pair])
    from_here = np.einsum("ni,ni->n", towards, back[pair])
    leaves, meets = (from_root, from_here) if at_source else (from_here, from_root)
    entries = job.talker.shape[0]
    energy = job.talker[_nearest(leaves, entries), :7].astype(np.float64)
    energy *= job.patterns[job.pattern[pairs][pair], _nearest(meets, entries), :7]
    floor, ceiling = floor_and_ceiling_reflection(enclosure)
    energy *= (floor ** images.floor[:, None] * ceiling ** images.ceiling[:, None])[storey]
    energy *= _left(enclosure, tree, left_by_walls, root[pair], here[pair], beam, index[storey])
    energy *= (heard / np.square(np.maximum(distance, NEAREST)))[:, None]

    late = (np.maximum(distance, NEAREST) - job.direct[pairs][pair]) / (tables.speed * STEP)
    place = pair * tables.bins + np.clip(late.astype(np.int64), 0, tables.bins - 1)
    summed = np.zeros((len(pairs) * tables.bins, 8), dtype=np.float32)
    for octave in range(7):
        summed[:, octave] = np.bincount(place, energy[:, octave], minlength=len(summed))
    return summed.reshape(len(pairs), tables.bins, 8)


def _left(
    enclosure: Enclosure,
    tree: PlanTree,
    left_by_walls: Array,
    root: Array,
    here: Array,
    beam: Numbers,
    index: Numbers,
) -> Array:
    """What the walls leave of each image, where a single reflection meets its wall."""
    left = left_by_walls[beam]
    if not enclosure.patches:
        return np.asarray(left)
    single = (index == 0) & (tree.last[beam] >= 0) & (tree.last[tree.parent[beam]] < 0)
    for wall in np.unique(tree.last[beam[single]]):
        rows = np.flatnonzero(single & (tree.last[beam] == wall))
        start, end = enclosure.walls[wall, :2], enclosure.walls[wall, 2:]
        along = (end - start) / enclosure.wall_lengths[wall]
        inward = np.array([-along[1], along[0]])
        near = (here[rows, :2] - start) @ inward
        behind = -(tree.image[beam[rows]] - start) @ inward
        share = near / (near + behind)
        met = here[rows, :2] + share[:, None] * (tree.image[beam[rows]] - here[rows, :2])
        left[rows] = wall_reflection_at(
            enclosure,
            int(wall),
            along=(met - start) @ along,
            above=here[rows, 2] + share * (root[rows, 2] - here[rows, 2]),
        )
    return np.asarray(left)


def _nearest(cosine: Array, entries: int) -> Numbers:
    """Nearest entry of a pattern."""
    return ((cosine + 1.0) * (0.5 * (entries - 1)) + 0.5).astype(np.int64)


class _NativeForest(ctypes.Structure):
    _fields_ = (
        ("beams", ctypes.c_int64),
        *((name, ctypes.c_void_p) for name in ("first", "parent", "last", "image", "turn")),
        *((name, ctypes.c_void_p) for name in ("planes", "bound")),
    )


class _NativeWalls(ctypes.Structure):
    _fields_ = (
        *((name, ctypes.c_void_p) for name in ("wall", "mean", "bare")),
        ("patches", ctypes.c_int32),
        *((name, ctypes.c_void_p) for name in ("on", "rectangle", "own")),
    )


@dataclass(frozen=True, eq=False)
class _Forest:
    """As the kernel reads it, with the arrays that it points into."""

    arrays: tuple[npt.NDArray[np.generic], ...]
    native: _NativeForest

    @staticmethod
    def of(forest: Forest) -> _Forest:
        """Return all trees, one after another."""
        trees = forest.trees
        first = np.cumsum([0, *(len(tree.last) for tree in trees)], dtype=np.int64)
        parent = np.concatenate(
            [
                np.where(tree.parent < 0, -1, tree.parent + start)
                for tree, start in zip(trees, first[:-1], strict=True)
            ]
        )
        bound = [np.where(t.parent < 0, 0.0, t.nearest[t.parent]) for t in trees]
        arrays = (
            first,
            parent.astype(np.int64),
            np.concatenate([tree.last for tree in trees]),
            np.ascontiguousarray(np.concatenate([tree.image for tree in trees]).T),
            np.concatenate([tree.turn for tree in trees]),
            np.ascontiguousarray(
                np.concatenate([tree.planes for tree in trees]).transpose(1, 2, 0)
            ),
            np.concatenate(bound),
        )
        pointers = (each.ctypes.data for each in arrays)
        return _Forest(arrays, _NativeForest(int(first[-1]), *pointers))


@dataclass(frozen=True, eq=False)
class _Walls:
    """As the kernel reads them, with the arrays that it points into."""

    arrays: tuple[npt.NDArray[np.generic], ...]
    native: _NativeWalls

    @staticmethod
    def of(enclosure: Enclosure) -> _Walls:
        """Return what reflects, walls and patches."""
        every = lanes(surface_reflection(enclosure))
        patches = enclosure.patches
        sides = [(patch.start, patch.end, patch.bottom, patch.top) for patch in patches]
        arrays = (
            np.ascontiguousarray(enclosure.walls, dtype=np.float64),
            lanes(wall_reflection(enclosure)),
            np.ascontiguousarray(every[FIRST_WALL : FIRST_WALL + len(enclosure.walls)]),
            np.array([patch.wall for patch in patches], dtype=np.int32),
            np.array(sides, dtype=np.float64).reshape(-1, 4),
            np.ascontiguousarray(every[[patch.surface for patch in patches]]),
        )
        pointers = [each.ctypes.data for each in arrays]
        return _Walls(arrays, _NativeWalls(*pointers[:3], len(patches), *pointers[3:]))


_INTEGERS, _NUMBERS = compiled.array(np.int64), compiled.array(np.float64)
_LANES = compiled.array(np.float32)
_ARGUMENTS = [
    *(TABLES, ctypes.c_int64, _INTEGERS, _INTEGERS, _INTEGERS, ctypes.c_int32, _INTEGERS),
    *(ctypes.POINTER(_NativeForest), ctypes.POINTER(_NativeWalls), ctypes.c_double),
    *(ctypes.c_int32, _LANES, _LANES, _NUMBERS, _NUMBERS, _LANES, _NUMBERS, _NUMBERS),
    *(_LANES, _LANES, compiled.array(np.uint8), _NUMBERS, _LANES),
    *(_LANES, compiled.array(np.complex64)),
]
