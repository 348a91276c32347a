"""How the sound of a room dies away: rays weighed with what their surfaces leave.

Every ray counts at all times, so the mean over them is the mean over the room: no receiver has
to be hit. Only what is lost at each hit is logged, and summed from the end: a difference from 1
would lose the tail below −40 dB to rounding.
"""

from __future__ import annotations

import ctypes
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from wellheard.acoustics import compiled
from wellheard.acoustics.rays import NEVER, Flights
from wellheard.arrays import Array

STEP = 0.001
"""Of the tables. [s]"""

LEAST_KEPT = 1e-30
"""A surface leaves at least this share: logarithms stay finite, and nobody hears it."""

_LAST_PART = 0.35
"""Share of the traced time, its end, whose slope is drawn on past it."""

_DOWN_TO = 1e-6
_LONGEST = 20.0  # [s]
_FEW = 25
"""Rays that must be at risk of meeting an object for the rate of that to be read off."""

Table = Array


@dataclass(frozen=True, eq=False)
class DecayTable:
    """Mean energy in a room over time after it was even and 1, without losses in the air.

    Parameters
    ----------
    step : float
        Rows are at multiples of it, the first at 0. [s]
    total : ndarray, shape (K, 7)
        All of it; never grows.
    specular : ndarray, shape (K, 7)
        What has met plain surfaces only and was mirrored by all of them; the rest is scattered.
    clear : ndarray, shape (K,)
        Chance that a path which is mirrored all the way has met no object.
    total_rate, specular_rate : ndarray, shape (7,)
        At which each goes on dying past the last row. [1/s]
    traced : float
        Until when it is computed; after that it is drawn on. [s]
    """

    step: float
    total: Table
    specular: Table
    clear: Table
    total_rate: Array
    specular_rate: Array
    traced: float

    @property
    def scattered(self) -> Table:
        """What some surface or object has scattered, shape (K, 7)."""
        return self.total - self.specular

    @property
    def times(self) -> Array:
        """Of the rows, shape (K,) [s]."""
        return np.linspace(0.0, self.step * (len(self.total) - 1), len(self.total))


def decay_table(
    flights: Flights,
    absorption: Array,
    *,
    speed: float,
    step: float = STEP,
    until: float | None = None,
) -> DecayTable:
    """Mean decay of a room for one set of absorption.

    Parameters
    ----------
    flights : Flights
        Followed through the room.
    absorption : ndarray, shape (S, 7)
        Of the surfaces, 0–1.
    speed : float
        Of sound. [m/s]
    step : float
        Of the table. [s]
    until : float, optional
        Last row, at least; by default where every octave has died by 60 dB, 20 s at most. [s]

    Raises
    ------
    ValueError
        Absorption of too few surfaces, or outside 0–1.

    Notes
    -----
    Exact at the rows up to ``traced``, for these rays. With N rays, reverberation times are within
    about 6–13 % (1,000), 2–7 % (4,000) and 1–3 % (16,000).

    References
    ----------
    .. [1] kuttruff2009, ray tracing; the mean over the room is our own use of it.

    Examples
    --------
    >>> from wellheard.acoustics.enclosure import box
    >>> from wellheard.acoustics.rays import trace
    >>> room = box((6.0, 5.0, 3.0), absorption=np.full(6, 0.2))
    >>> table = decay_table(trace(room, rays=500, length=60.0), room.absorption, speed=343.0)
    >>> table.total[[0, 100], 0].round(1)
    array([1. , 0.1])
    """
    given = np.asarray(absorption, dtype=np.float64)
    most = int(flights.surface.max(initial=0))
    if given.ndim != 2 or given.shape[1] != 7 or len(given) <= most:
        raise ValueError(f"absorption of shape {given.shape}; ({most + 1} or more, 7) is allowed")
    if not np.all((given >= 0.0) & (given <= 1.0)):
        raise ValueError("absorption outside 0–1; cap it first")
    keep = np.zeros((len(given) + 1, 8))
    keep[:-1, :7] = np.maximum(1.0 - given, LEAST_KEPT)
    keep[-1] = LEAST_KEPT  # of rays that were lost
    per_metre = 1.0 / (step * speed)
    bins = int(flights.length * per_metre)
    if bins < 4:
        raise ValueError(f"rays of {flights.length:.3g} m; follow them for at least four steps")
    total, specular = _weigh(flights, keep, per_metre, bins)
    return _drawn_on(
        total / flights.rays,
        specular / flights.rays,
        _clear(flights, per_metre, bins),
        step=step,
        until=until,
    )


def _weigh(flights: Flights, keep: Table, per_metre: float, bins: int) -> tuple[Table, Table]:
    """Energy at multiples of the step, summed over the rays, shape (bins + 1, 7)."""
    i64, f64 = compiled.array(np.int64), compiled.array(np.float64)
    kernel = compiled.function(
        "decay",
        [
            ctypes.c_int64,
            i64,
            compiled.array(np.float32),
            compiled.array(np.int16),
            compiled.array(np.int32),
            f64,
            ctypes.c_int64,
            ctypes.c_double,
            ctypes.c_int64,
            f64,
            f64,
        ],
    )
    total, specular = np.zeros((bins + 1, 8)), np.zeros((bins + 1, 8))
    weigh = _weigh_numpy if kernel is None else kernel
    weigh(
        flights.rays, flights.first, flights.path, flights.surface, flights.scattered,
        keep, len(keep) - 1, per_metre, bins, total, specular,
    )  # fmt: skip
    return total[::-1, :7].cumsum(axis=0)[::-1], specular[::-1, :7].cumsum(axis=0)[::-1]


def _weigh_numpy(
    rays: int,
    first: npt.NDArray[np.int64],
    path: npt.NDArray[np.float32],
    surface: npt.NDArray[np.int16],
    scattered: npt.NDArray[np.int32],
    keep: Table,
    surfaces: int,
    per_metre: float,
    bins: int,
    total: Table,
    specular: Table,
) -> None:
    """Add up where energy is lost: the specification of ``native/decay.c``."""
    count = np.diff(first)
    ray = np.repeat(np.arange(rays), count)
    hit = np.arange(len(path)) - first[ray]
    row = np.minimum((path.astype(np.float64) * per_metre).astype(np.int64), bins)
    met = np.where(surface < 0, surfaces, surface)
    plain = hit <= scattered[ray]
    leaves = hit == scattered[ray]
    never = (scattered < 0) | (scattered < NEVER)
    for octave in range(7):
        logs = np.log(keep[:, octave])[met]
        sums = np.concatenate([[0.0], np.cumsum(logs)])
        before = np.exp(sums[:-1] - np.repeat(sums[first[:-1]], count))
        gone = before * (1.0 - keep[:, octave])[met]
        total[:, octave] = np.bincount(row, gone, minlength=bins + 1)
        of_mirrored = np.where(leaves, before, gone)[plain]
        specular[:, octave] = np.bincount(row[plain], of_mirrored, minlength=bins + 1)
        left = np.exp(sums[first[1:]] - sums[first[:-1]])
        total[bins, octave] += left.sum()
        specular[bins, octave] += left[~never].sum()


def _clear(flights: Flights, per_metre: float, bins: int) -> Table:
    """Product-limit estimate: rays that were scattered by a wall are at risk no longer.

    Kaplan and Meier 1958. Where too few rays are left, the rate of the last that were enough
    goes on.
    """
    none = np.ones(bins + 1)
    if not (flights.object < NEVER).any():
        return none
    met = flights.object == flights.scattered  # what scattered a ray first was an object
    ends = np.flatnonzero((flights.scattered >= 0) & (flights.scattered < NEVER))
    path = flights.path[flights.first[ends] + flights.scattered[ends]].astype(np.float64)
    row = (path * per_metre).astype(np.int64)
    within = row < bins
    end, objects = (
        np.bincount(row[within & of], minlength=bins)
        for of in (np.full(len(ends), True), met[ends])
    )
    started = int((flights.scattered >= 0).sum())
    at_risk = started - np.concatenate([[0], np.cumsum(end)[:-1]])
    enough = at_risk >= _FEW
    rate = np.divide(objects, at_risk, out=np.zeros(bins), where=at_risk > 0)
    if not enough.all():
        last = max(int(enough.sum()), 1)
        few = slice(last // 2, last)
        rate[last:] = objects[few].sum() / max(at_risk[few].sum(), 1)
    none[1:] = np.cumprod(1.0 - rate)
    return none


def _drawn_on(
    total: Table, specular: Table, clear: Table, *, step: float, until: float | None
) -> DecayTable:
    """Continue by exponentials past what was traced."""
    bins = len(total) - 1
    total_rate = _rate(total, step)
    # What is mirrored cannot outlive the whole.
    specular_rate = np.maximum(_rate(specular, step), total_rate)
    if until is None:
        fall = np.log(np.maximum(total[-1] / _DOWN_TO, 1.0))
        wanted = np.divide(fall, total_rate, out=np.full(7, np.inf), where=total_rate > 0.0)
        until = min(bins * step + float(np.where(fall > 0.0, wanted, 0.0).max()), _LONGEST)
    rows = max(int(np.ceil(until / step - 1e-9)), bins)
    later = np.arange(1, rows - bins + 1)[:, None] * step
    return DecayTable(
        step=step,
        total=np.concatenate([total, total[-1] * np.exp(-total_rate * later)]),
        specular=np.concatenate([specular, specular[-1] * np.exp(-specular_rate * later)]),
        clear=np.concatenate([clear, _clear_on(clear, rows - bins)]),
        total_rate=total_rate,
        specular_rate=specular_rate,
        traced=bins * step,
    )


def _clear_on(clear: Table, rows: int) -> Table:
    bins = len(clear) - 1
    half = bins // 2
    if clear[-1] <= 0.0:
        return np.zeros(rows)
    per_row = (clear[-1] / clear[half]) ** (1.0 / (bins - half))
    return clear[-1] * per_row ** np.arange(1, rows + 1)


def _rate(energy: Table, step: float) -> Array:
    """Slope of the logarithm over the last part, by least squares, never negative. [1/s]"""
    part = energy[int(len(energy) * (1.0 - _LAST_PART)) :]
    there = part > 0.0
    time = np.arange(len(part))[:, None] * step - 0.5 * (len(part) - 1) * step
    logs = np.log(np.where(there, part, 1.0))
    slope = np.divide((time * logs).sum(axis=0), (time * time).sum())
    # Where nothing is left to the end there is nothing to draw on either.
    return np.where(there.all(axis=0), np.maximum(-slope, 0.0), 0.0)
