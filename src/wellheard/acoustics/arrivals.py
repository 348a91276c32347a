"""Arrivals in bins of a millisecond, and how they become energies and modulation.

::

    energy
      │ ┃            image sources, one by one, up to the limit
      │ ┃ ╻          each bin takes the air's and the objects' share once
      │ ┃ ┃╻╻ ╻
      │ ┃ ┃┃┃╻┃╻▒▒▒▒▒▒▒▒▒▒▒▒   specular tail of the room, from the limit on
      │▒┃▒┃┃┃┃┃┃▒▒▒▒▒▒▒▒▒▒▒▒▒▒▒▒   scattered energy, from the direct sound on
      └─┴─────────┴──────────────▶ t
        t₀        t₀ + limit

The specification of ``native/arrivals.h``, and the tables that it reads.
"""

from __future__ import annotations

import ctypes
import math
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt

from wellheard.acoustics.modulation import MODULATION_FREQUENCIES
from wellheard.arrays import Array

Numbers = npt.NDArray[np.int64]
Lanes = npt.NDArray[np.float32]
"""Seven octaves and a lane of nothing, so that eight fit one register."""

STEP = 0.001
"""Width of a bin. Against exact times it costs 0.0007 in the transmission index at most. [s]"""

EARLY = 0.050
"""Until when sound helps speech, re the direct sound (ISO 3382-1, D50 and C50). [s]"""

NEAREST = 0.05
"""No path counts as shorter: nobody speaks closer, and 1/d² ends somewhere. [m]"""

_ANGULAR = 2.0 * np.pi * np.array(MODULATION_FREQUENCIES)


class LateField(Protocol):
    """What the room adds to the images, as tables over time in steps; see the module ``late``."""

    @property
    def step(self) -> float:
        """Of the tables. [s]"""

    @property
    def specular_energy(self) -> npt.NDArray[np.float32]:
        """All mirrored energy from here on, shape (K, 8)."""

    @property
    def specular_modulation(self) -> npt.NDArray[np.complex64]:
        """Its transform re the time of the row, shape (K, 14, 8)."""

    @property
    def scattered_energy(self) -> npt.NDArray[np.float32]:
        """All scattered energy from here on, shape (K, 8)."""

    @property
    def scattered_modulation(self) -> npt.NDArray[np.complex64]:
        """Its transform re the time of the row, shape (K, 14, 8)."""

    @property
    def clear(self) -> npt.NDArray[np.float32]:
        """Share of the mirrored energy that has met no object by now, shape (K,)."""


@dataclass(frozen=True, eq=False)
class Reflected:
    """All that reaches the microphones but the direct sound, P pairs.

    Parameters
    ----------
    joined : ndarray, shape (P, 7)
        Energy that the ear joins to the direct sound: within a millisecond of it.
    early, late : ndarray, shape (P, 7)
        Before and after 50 ms.
    modulation : ndarray, complex, shape (P, 14, 7)
        Transform of early and late at the modulation frequencies, re the direct sound, in single
        precision.
    """

    joined: Array
    early: Array
    late: Array
    modulation: npt.NDArray[np.complex64]


@dataclass(frozen=True, eq=False)
class Tables:
    """What all pairs of a call share; ``native/arrivals.h`` says what each is.

    Parameters
    ----------
    first : float
        Time of the direct sound that row 0 of ``clear`` and ``tail`` is for. [bins]
    reach : float
        How much farther than the direct sound an image may be. [m]
    bin_air : ndarray, shape (bins, 8)
    turns : ndarray, shape (bins, 14, 2)
    clear : ndarray, shape (rows + bins, 8)
    tail : ndarray, shape (rows, 30, 8)
    """

    speed: float
    first: float
    reach: float
    bin_air: Lanes
    turns: Lanes
    clear: Lanes
    tail: Lanes

    @property
    def bins(self) -> int:
        """Bins between the direct sound and the limit."""
        return len(self.bin_air)

    def native(self, entries: int) -> _Native:
        """Return the same as the kernels read it; it must not outlive this."""
        return _Native(
            self.bins,
            round(EARLY / STEP),
            len(self.tail),
            entries,
            self.speed,
            STEP,
            self.reach,
            NEAREST,
            self.first,
            *(each.ctypes.data for each in (self.bin_air, self.turns, self.clear, self.tail)),
        )


class _Native(ctypes.Structure):
    _fields_ = (
        ("bins", ctypes.c_int32),
        ("early_bins", ctypes.c_int32),
        ("tail_rows", ctypes.c_int32),
        ("entries", ctypes.c_int32),
        ("speed", ctypes.c_double),
        ("step", ctypes.c_double),
        ("reach", ctypes.c_double),
        ("nearest", ctypes.c_double),
        ("first", ctypes.c_double),
        ("bin_air", ctypes.c_void_p),
        ("turns", ctypes.c_void_p),
        ("clear", ctypes.c_void_p),
        ("tail", ctypes.c_void_p),
    )


TABLES = ctypes.POINTER(_Native)
"""The ctypes type of a parameter ``const Tables *``; pass ``ctypes.byref(tables.native(…))``."""


@dataclass(frozen=True, eq=False)
class Job:
    """P pairs as the kernels take them: checked, contiguous, in their number types.

    Parameters
    ----------
    tables : Tables
        What all pairs share.
    row, column, pattern : ndarray of int64, shape (P,)
        Source, microphone and pattern of each pair.
    axis : ndarray, shape (P, 3)
        Unit vectors.
    upper_only : ndarray of uint8, shape (P,)
        1 where nothing arrives from below.
    at, facing : ndarray, shape (R, 3)
        Of the sources; unit vectors. [m]
    talker : ndarray of float32, shape (entries, 8)
    microphone : ndarray, shape (M, 3)
        [m]
    patterns : ndarray of float32, shape (K, entries, 8)
    diffuse : ndarray of float32, shape (K, 8)
        Mean of the source's pattern times diffuse efficiency of each microphone pattern.
    direct : ndarray, shape (P,)
        Distances, held at :data:`NEAREST`. [m]
    front_air : ndarray of float32, shape (P, 8)
        What air leaves up to the direct sound.
    """

    tables: Tables
    row: Numbers
    column: Numbers
    pattern: Numbers
    axis: Array
    upper_only: npt.NDArray[np.uint8]
    at: Array
    facing: Array
    talker: Lanes
    microphone: Array
    patterns: Lanes
    diffuse: Lanes
    direct: Array
    front_air: Lanes

    @property
    def count(self) -> int:
        """Number of pairs."""
        return len(self.row)

    def part(self, pairs: slice) -> Job:
        """Return the same with some of the pairs."""
        by_pair = ("row", "column", "pattern", "axis", "upper_only", "direct", "front_air")
        return replace(self, **{name: getattr(self, name)[pairs] for name in by_pair})


def lanes(values: npt.ArrayLike) -> Lanes:
    """Return octaves with the empty lane behind them, contiguous, shape (..., 7) to (..., 8).

    Examples
    --------
    >>> lanes(np.ones(7))
    array([1., 1., 1., 1., 1., 1., 1., 0.], dtype=float32)
    """
    given = np.asarray(values)
    padded = np.zeros((*given.shape[:-1], 8), dtype=np.float32)
    padded[..., :7] = given
    return padded


def bin_count(limit: float) -> int:
    """Return how many bins lie between the direct sound and the limit.

    Examples
    --------
    >>> bin_count(0.060)
    60
    """
    return max(1, math.ceil(limit / STEP - 1e-6))


def tables(
    late: LateField,
    direct: Array,
    *,
    limit: float,
    speed: float,
    air: npt.ArrayLike,
    scattered: bool = True,
) -> Tables:
    """Make the tables that the bins of some pairs need.

    Parameters
    ----------
    late : LateField
        Of the room.
    direct : ndarray, shape (P,)
        Distances of the pairs; at least one. [m]
    limit : float
        Up to when images are followed one by one, re the direct sound. [s]
    speed : float
        Of sound. [m/s]
    air : array_like, shape (7,)
        Power that air takes. [1/m]
    scattered : bool
        Whether scattered energy is that of the room's mean; False where it is added later.

    Returns
    -------
    Tables

    Notes
    -----
    Their rows cover the times of the direct sounds of these pairs only.
    """
    count = bin_count(limit)
    middle = (np.arange(count) + 0.5) * STEP
    per_metre = lanes(air).astype(np.float64)
    angle = middle[:, None] * _ANGULAR
    first = math.floor(float(direct.min()) / (speed * STEP))
    rows = math.floor(float(direct.max()) / (speed * STEP)) + 2 - first
    start: Array = (first + np.arange(rows, dtype=np.float64)) * STEP
    all_middles = (first + np.arange(rows + count) + 0.5) * STEP
    clear = np.interp(all_middles, np.arange(len(late.clear)) * late.step, late.clear)
    return Tables(
        speed=speed,
        first=float(first),
        reach=speed * limit,
        bin_air=np.exp(-per_metre * (speed * middle)[:, None]).astype(np.float32),
        turns=np.stack([np.cos(angle), -np.sin(angle)], axis=-1).astype(np.float32),
        clear=np.repeat(clear[:, None], 8, axis=1).astype(np.float32),
        tail=late_rows(late, start, limit=limit, scattered=scattered),
    )


def late_rows(late: LateField, start: Array, *, limit: float, scattered: bool) -> Lanes:
    """Return all the energy that is in no bin, by the time of the direct sound.

    Parameters
    ----------
    late : LateField
        Of the room.
    start : ndarray, shape (rows,)
        Times of the direct sound. [s]
    limit : float
        From when mirrored energy is taken from the room's mean, re the direct sound. [s]
    scattered : bool
        Whether scattered energy is in it, from the direct sound on.

    Returns
    -------
    ndarray, shape (rows, 30, 8)
        Early and late energy, and the real and imaginary parts of their transform re the direct
        sound.
    """
    rows = np.zeros((len(start), 30, 8), dtype=np.float32)
    from_limit = _at(late.specular_energy, late.step, start + limit)
    from_late = _at(late.specular_energy, late.step, start + max(limit, EARLY))
    turned = np.exp(-1j * _ANGULAR * limit)[:, None]
    modulation = _at(late.specular_modulation, late.step, start + limit) * turned
    if scattered:
        all_of_it = _at(late.scattered_energy, late.step, start)
        later = _at(late.scattered_energy, late.step, start + EARLY)
        from_limit, from_late = from_limit + all_of_it, from_late + later
        modulation = modulation + _at(late.scattered_modulation, late.step, start)
    rows[:, 0], rows[:, 1] = from_limit - from_late, from_late
    rows[:, 2:16], rows[:, 16:] = modulation.real, modulation.imag
    return rows


def finish(bins: Lanes, job: Job) -> Reflected:
    """Sum and transform the bins of P pairs, and add what is in no bin.

    Parameters
    ----------
    bins : ndarray, shape (P, bins, 8)
        Energy of the images without air and objects; overwritten.
    job : Job
        The same pairs.

    Returns
    -------
    Reflected
    """
    tables = job.tables
    place = job.direct / (tables.speed * STEP) - tables.first
    row = np.clip(place.astype(np.int64), 0, len(tables.tail) - 2)
    share = (place - row).astype(np.float32)[:, None]
    at = row[:, None] + np.arange(tables.bins)
    clear = (1 - share) * tables.clear[at, 0] + share * tables.clear[at + 1, 0]
    bins *= clear[:, :, None]
    bins *= tables.bin_air
    share = share[:, :, None]
    tail = tables.tail[row] * (1 - share) + tables.tail[row + 1] * share
    tail *= job.diffuse[job.pattern][:, None, :]
    # One product of matrices: all pairs and octaves by bins, times bins by frequencies and parts.
    by_octave = np.ascontiguousarray(bins[:, 1:].transpose(0, 2, 1))
    turned = (by_octave @ tables.turns[1:].reshape(-1, 28)).reshape(-1, 8, 14, 2)
    turned *= job.front_air[:, :, None, None]
    transform = np.empty((len(bins), 14, 7), dtype=np.complex64)
    transform.real = (turned[..., 0].transpose(0, 2, 1) + tail[:, 2:16])[..., :7]
    transform.imag = (turned[..., 1].transpose(0, 2, 1) + tail[:, 16:])[..., :7]
    split = round(EARLY / STEP)
    sums = np.stack([bins[:, 0], bins[:, 1:split].sum(axis=1), bins[:, split:].sum(axis=1)], axis=1)
    sums *= job.front_air[:, None, :]
    sums[:, 1:] += tail[:, :2]
    return reflected(sums, transform)


def reflected(energies: Lanes, modulation: npt.NDArray[np.complex64]) -> Reflected:
    """Return what a kernel wrote: energies (P, 3, 8) and modulation (P, 14, 7)."""
    joined, early, late = (energies[:, i, :7].astype(np.float64) for i in range(3))
    return Reflected(joined, early, late, modulation)


def in_parts(
    run: Callable[[slice, Lanes, npt.NDArray[np.complex64]], None], count: int, *, threads: int
) -> Reflected:
    """Run a kernel over the pairs in one or several threads.

    Parameters
    ----------
    run : callable
        Takes which pairs, and where to write their energies, shape (pairs, 3, 8), and their
        modulation, shape (pairs, 14, 7); called once a thread.
    count : int
        Number of pairs.
    threads : int
        At least 1.

    Returns
    -------
    Reflected
    """
    energies = np.empty((count, 3, 8), dtype=np.float32)
    modulation = np.empty((count, 14, 7), dtype=np.complex64)
    if min(threads, count) < 2:
        run(slice(0, count), energies, modulation)
    else:
        edges = np.linspace(0, count, min(threads, count) + 1).astype(int).tolist()
        parts = [slice(*edge) for edge in pairwise(edges)]
        with ThreadPoolExecutor(len(parts)) as pool:
            calls = [pool.submit(run, part, energies[part], modulation[part]) for part in parts]
        for call in calls:
            call.result()
    return reflected(energies, modulation)


def _at(table: npt.NDArray[Any], step: float, time: Array) -> npt.NDArray[Any]:
    """Rows of a table at any time, between its rows in proportion; its last row at its end."""
    place = np.minimum(time / step, len(table) - 1.0)
    row = np.minimum(place.astype(np.int64), max(len(table) - 2, 0))
    share = (place - row).astype(np.float32).reshape(-1, *(1,) * (table.ndim - 1))
    return table[row] * (1 - share) + table[np.minimum(row + 1, len(table) - 1)] * share
