"""What a decay says: the energy still to come at any time, its modulation, and times.

Everything is re the free field of the source at 1 m in front: an omnidirectional source that
fills a volume V evenly adds 4πc/V of that every second.
"""

from __future__ import annotations

import ctypes
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from wellheard.acoustics import compiled
from wellheard.acoustics.decay_table import LEAST_KEPT, DecayTable, decay_table
from wellheard.acoustics.field import DECAY
from wellheard.acoustics.modulation import MODULATION_FREQUENCIES
from wellheard.acoustics.rays import Flights
from wellheard.arrays import Array

ANGULAR = 2.0 * np.pi * np.array(MODULATION_FREQUENCIES)
"""Of the fourteen modulation frequencies, shape (14,). [rad/s]"""

_STILL = 1e-9
"""A decay slower than this has none: its time is infinite. [1/s]"""

_ROUNDS = 12
_CLOSE = 0.002
_SCALES = (1e-3, 1e3)


@dataclass(frozen=True, eq=False)
class Late:
    """Energy still to come at multiples of a step, re the free field at 1 m, air included.

    Parameters
    ----------
    step : float
        [s]
    specular_energy, scattered_energy : ndarray of float32, shape (K, 8)
        Mirrored by all it met, and the rest; seven octaves and a lane of 0.
    specular_modulation, scattered_modulation : ndarray of complex64, shape (K, 14, 8)
        Their transforms at the modulation frequencies, re the time of the row.
    clear : ndarray of float32, shape (K,)
        Chance that a mirrored path has met no object by then.
    """

    step: float
    specular_energy: npt.NDArray[np.float32]
    specular_modulation: npt.NDArray[np.complex64]
    scattered_energy: npt.NDArray[np.float32]
    scattered_modulation: npt.NDArray[np.complex64]
    clear: npt.NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class Calibration:
    """By how much absorption must change for a decay to last as long as it was found to.

    Parameters
    ----------
    scale : ndarray, shape (7,)
        Factor on −ln(1 − α) of every surface.
    time : ndarray, shape (7,)
        T20 that the model then has. [s]
    reached : ndarray of bool, shape (7,)
        Whether that is the time wanted. It cannot be where the air alone absorbs more.
    rounds : int
        Decays that were weighed.
    """

    scale: Array
    time: Array
    reached: npt.NDArray[np.bool_]
    rounds: int


def late_tables(
    table: DecayTable, *, volume: float, speed: float, air: Array, until: float | None = None
) -> Late:
    """Energy still to come and its transform.

    Parameters
    ----------
    table : DecayTable
        Of the room.
    volume : float
        Of the air. [m³]
    speed : float
        Of sound. [m/s]
    air : ndarray, shape (7,)
        Power attenuation of the air. [1/m]
    until : float, optional
        Time of the last row that is wanted; all that comes later is in it. [s]

    Examples
    --------
    >>> from wellheard.acoustics.enclosure import box
    >>> from wellheard.acoustics.rays import trace
    >>> room = box((6.0, 5.0, 3.0), absorption=np.full(6, 0.2), scattering=1.0)
    >>> table = decay_table(trace(room, rays=500, length=60.0), room.absorption, speed=343.0)
    >>> late = late_tables(table, volume=room.volume, speed=343.0, air=np.zeros(7))
    >>> bool(late.specular_energy[100, 0] == 0.0), late.scattered_modulation.shape[1:]
    (True, (14, 8))
    """
    rows = len(table.total)
    if until is not None:
        rows = min(rows, int(np.ceil(until / table.step)) + 1)
    loss = speed * np.asarray(air)
    gain = 4.0 * np.pi * speed / volume
    total, total_end = _density(table.total, table, loss)
    specular, end = _density(table.specular, table, loss)
    # Past the last row exponentials go on for ever; one without any loss would be infinite.
    k = np.stack([table.total_rate, table.specular_rate]) + loss
    k = np.maximum(k, _STILL)
    rests = np.stack([total_end, end]) / k
    turned = np.stack([total_end, end])[:, None] / (k[:, None] + 1j * ANGULAR[:, None])
    mirrored = _to_come(gain * specular, gain * rests[1], gain * turned[1], table.step, rows)
    scattered = _to_come(
        gain * (total - specular),
        gain * (rests[0] - rests[1]),
        gain * (turned[0] - turned[1]),
        table.step,
        rows,
    )
    return Late(table.step, *mirrored, *scattered, clear=table.clear[:rows].astype(np.float32))


def reverberation_times(
    table: DecayTable,
    *,
    speed: float,
    air: Array,
    low_db: float = -5.0,
    high_db: float = -25.0,
) -> Array:
    """T20 of the mean decay; T30 with a ``high_db`` of −35, EDT with 0 and −10.

    Parameters
    ----------
    table : DecayTable
        Of the room.
    speed : float
        Of sound. [m/s]
    air : ndarray, shape (7,)
        Power attenuation of the air. [1/m]
    low_db, high_db : float
        Where the line through the backward-integrated decay begins and ends. [dB]

    Returns
    -------
    ndarray, shape (7,)
        Infinite where nothing absorbs. [s]

    References
    ----------
    .. [1] iso3382-1:2009, backward integration and a line by least squares; from memory.
    """
    bins, rest = _density(table.total, table, speed * np.asarray(air))
    rate = table.total_rate + speed * np.asarray(air)
    rest = rest / np.maximum(rate, _STILL * 1e-3)
    left = np.concatenate([bins, rest[None]])[::-1].cumsum(axis=0)[::-1]
    with np.errstate(divide="ignore"):
        level_db = 10.0 * np.log10(left / left[0])
    return _slope_times(level_db, table.step, rate, low_db, high_db)


def steady_energy(table: DecayTable, *, volume: float, speed: float, air: Array) -> Array:
    """Reverberant energy of a steady source, re its free field at 1 m, shape (7,).

    16π/A in a diffuse room with little absorption; direct sound is not in it. Arguments as in
    :func:`late_tables`.
    """
    late = late_tables(table, volume=volume, speed=speed, air=air, until=0.0)
    sums = late.specular_energy[0, :7] + late.scattered_energy[0, :7]
    return np.asarray(sums, dtype=np.float64)


def scaled(absorption: Array, scale: Array) -> Array:
    """Absorption whose −ln(1 − α) is ``scale`` times as much, octave by octave, shape (S, 7).

    Examples
    --------
    >>> scaled(np.full((1, 7), 0.19), np.full(7, 0.5))[0, :2].round(6)
    array([0.1, 0.1])
    """
    keep = np.maximum(1.0 - np.asarray(absorption, dtype=np.float64), LEAST_KEPT)
    return 1.0 - keep**scale


def calibrate(
    flights: Flights, absorption: Array, *, target_time: Array, speed: float, air: Array
) -> Calibration:
    """Scale absorption until the model's own T20 is the one wanted, octave by octave.

    Parameters
    ----------
    flights : Flights
        Followed once; each round only weighs them again.
    absorption : ndarray, shape (S, 7)
        0–1.
    target_time : ndarray, shape (7,)
        [s]
    speed : float
        Of sound. [m/s]
    air : ndarray, shape (7,)
        Power attenuation of the air. [1/m]

    Notes
    -----
    The scale follows the losses: a room that rings twice as long as it should, air left aside,
    gets twice the exponent, and from the third round on a secant in logarithms. Three to seven
    rounds do in ordinary rooms.
    """
    target = np.asarray(target_time, dtype=np.float64)
    if not np.all(target > 0.0):
        raise ValueError(f"reverberation times {target}; more than 0 s is allowed")
    wanted = DECAY / target - speed * np.asarray(air)
    possible = wanted > 0.0
    # Where the air alone absorbs too much, surfaces that absorb next to nothing come nearest.
    scale = np.where(possible, 1.0, _SCALES[0])
    before: tuple[Array, Array] | None = None
    rounds = 0
    while rounds < _ROUNDS:
        rounds += 1
        used = scale
        table = decay_table(flights, scaled(absorption, scale), speed=speed)
        time = reverberation_times(table, speed=speed, air=air)
        reached = possible & (np.abs(time / target - 1.0) < _CLOSE)
        if bool(np.all(reached | ~possible)):
            break
        rate = np.maximum(DECAY / time - speed * np.asarray(air), _STILL)
        miss = np.log(np.where(possible, wanted, 1.0) / rate)
        step = _secant(np.log(scale), miss, before)
        before = np.log(scale), miss
        move = possible & ~reached
        scale = np.clip(np.where(move, scale * np.exp(step), scale), *_SCALES)
    return Calibration(used, time, reached, rounds)


def _secant(log_scale: Array, miss: Array, before: tuple[Array, Array] | None) -> Array:
    """How far to move in the logarithm of the scale."""
    if before is None:
        return miss
    moved, less = log_scale - before[0], before[1] - miss
    gain = np.divide(moved, less, out=np.ones_like(miss), where=np.abs(less) > 1e-12)
    return miss * np.clip(np.where(moved == 0.0, 1.0, gain), 0.3, 3.0)


def _density(energy: Array, table: DecayTable, loss: Array) -> tuple[Array, Array]:
    """Energy in each step by the trapezoidal rule, and at the end, air included."""
    there = energy * np.exp(-loss * table.times[:, None])
    return 0.5 * table.step * (there[:-1] + there[1:]), there[-1]


def _to_come(
    bins: Array, rest: Array, turned: npt.NDArray[np.complex128], step: float, rows: int
) -> tuple[npt.NDArray[np.float32], npt.NDArray[np.complex64]]:
    """Sums and transforms from each row on; ``rest`` and ``turned`` are past the last one."""
    if not bins.any() and not rest.any():
        return np.zeros((rows, 8), np.float32), np.zeros((rows, 14, 8), np.complex64)
    f64 = compiled.array(np.float64)
    kernel = compiled.function(
        "to_come",
        [
            ctypes.c_int64,
            ctypes.c_int64,
            *[f64] * 6,
            compiled.array(np.float32),
            compiled.array(np.complex64),
        ],
    )
    if kernel is None:
        return _to_come_numpy(bins, rest, turned, step, rows)
    sums = np.empty((rows, 8), dtype=np.float32)
    transform = np.empty((rows, 14, 8), dtype=np.complex64)
    half, whole = np.exp(-0.5j * ANGULAR * step), np.exp(-1j * ANGULAR * step)
    kernel(
        len(bins), rows, _lanes(bins), _lanes(rest), _lanes(turned.real), _lanes(turned.imag),
        half.view(np.float64), whole.view(np.float64), sums, transform,
    )  # fmt: skip
    return sums, transform


def _to_come_numpy(
    bins: Array, rest: Array, turned: npt.NDArray[np.complex128], step: float, rows: int
) -> tuple[npt.NDArray[np.float32], npt.NDArray[np.complex64]]:
    """Sum from the end: the specification of ``native/decay.c``."""
    sums = np.concatenate([bins, rest[None]])[::-1].cumsum(axis=0)[::-1][:rows]
    transform = np.zeros((rows, 14, 8), dtype=np.complex64)
    middle = (np.arange(len(bins)) + 0.5) * step
    edge = np.arange(len(bins) + 1) * step
    for f, angular in enumerate(ANGULAR):
        parts = bins * np.exp(-1j * angular * middle)[:, None]
        last = turned[f] * np.exp(-1j * angular * edge[-1])
        all_of_it = np.concatenate([parts, last[None]])[::-1].cumsum(axis=0)[::-1][:rows]
        transform[:, f, :7] = all_of_it * np.exp(1j * angular * edge[:rows])[:, None]
    return _lanes(sums).astype(np.float32), transform


def _lanes(values: Array) -> Array:
    padded = np.zeros((*values.shape[:-1], 8))
    padded[..., :7] = values
    return padded


def _slope_times(level_db: Array, step: float, rate: Array, low_db: float, high_db: float) -> Array:
    """Times of a fall by 60 dB along the line through what lies between two levels."""
    time = np.arange(len(level_db)) * step
    within = (level_db <= low_db) & (level_db >= high_db)
    count = within.sum(axis=0)
    t = np.where(within, time[:, None], 0.0)
    level = np.where(within, level_db, 0.0)
    n = np.maximum(count, 1)
    spread = (t * t).sum(axis=0) - t.sum(axis=0) ** 2 / n
    joint = (t * level).sum(axis=0) - t.sum(axis=0) * level.sum(axis=0) / n
    fitted = np.divide(-60.0 * spread, joint, out=np.full(7, np.inf), where=joint < 0.0)
    # Hardly anything of the decay lies in the table: it is all drawn on, at one rate.
    alone = np.divide(DECAY, rate, out=np.full(7, np.inf), where=rate > _STILL)
    return np.where(count >= 3, fitted, alone)
