"""Complete image sources of a box: every arrival until a time, however often reflected.

An own, plain sum over the lattice of Allen and Berkley (1979), apart from the engine: exact air
for each bin of a quarter of a millisecond, no limit by order, no mean over the room. And what
ISO 3382-1 and IEC 60268-16 read from an echogram.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import numpy.typing as npt
from scipy.sparse import csc_matrix

from wellheard.acoustics.intelligibility import speech_transmission_index
from wellheard.arrays import Array

STEP = 0.00025
"""Of echograms. [s]"""

MODULATIONS = 10.0 ** (0.1 * np.arange(-2, 12))
"""The fourteen modulation frequencies, 0.63 to 12.5 Hz, exact thirds of an octave. [Hz]"""

Pattern: TypeAlias = Callable[[Array], Array]
"""From cosines, shape (n,), to energies re in front, shape (n, 7)."""


@dataclass(frozen=True, eq=False)
class Echogram:
    """Energy over time re the direct sound.

    Parameters
    ----------
    direct : ndarray, shape (7,)
        Re the source at 1 m in front.
    reflected : ndarray, shape (bins, 7)
        Sums in bins of :data:`STEP` from the direct sound on.
    """

    direct: Array
    reflected: Array

    @property
    def time(self) -> Array:
        """Middles of the bins, shape (bins,) [s]."""
        return np.asarray((np.arange(len(self.reflected)) + 0.5) * STEP, dtype=np.float64)


def echogram(
    size: Array,
    absorption: Array,
    source: Array,
    receiver: Array,
    *,
    until: float,
    speed: float,
    air: Array | None = None,
    facing: Array | None = None,
    talker: Pattern | None = None,
    axis: Array | None = None,
    microphone: Pattern | None = None,
) -> Echogram:
    """All image sources of a mirror-like box that arrive until a time after the direct sound.

    Surfaces are in the order of :func:`wellheard.acoustics.enclosure.box`.
    """
    floor, ceiling, south, east, north, west = 1.0 - absorption
    straight = float(np.linalg.norm(receiver - source))
    reach = straight + speed * until
    axes = [
        _axis(size[n], source[n], receiver[n], near, far, reach)
        for n, (near, far) in enumerate(((west, east), (south, north), (floor, ceiling)))
    ]
    (x, x_factor, x_flip), (y, y_factor, y_flip), (z, z_factor, z_flip) = axes
    flat = np.add.outer(np.square(y), np.square(z)).ravel()
    nearest_first = np.argsort(flat)
    flat = flat[nearest_first]
    factor = (y_factor[:, None] * z_factor[None]).reshape(-1, 7)[nearest_first]
    plane = _grid(y, z)[nearest_first]
    flips = _grid(y_flip, z_flip)[nearest_first]
    bins = int(np.ceil(until / STEP))
    total = np.zeros((bins, 7))
    direct = np.zeros(7)
    for dx, of_x, flip in zip(x, x_factor, x_flip, strict=True):
        count = int(np.searchsorted(flat, reach**2 - dx**2))
        if count == 0:
            continue
        distance = np.sqrt(flat[:count] + dx**2)
        energy = factor[:count]
        if microphone is not None and axis is not None:
            cosine = (dx * axis[0] + plane[:count] @ axis[1:]) / distance
            energy = energy * microphone(cosine)
        if talker is not None and facing is not None:
            leaving = flip * dx * facing[0] + (flips[:count] * plane[:count]) @ facing[1:]
            energy = energy * talker(-leaving / distance)
        index = ((distance - straight) / (speed * STEP)).astype(np.int64)
        if distance[0] <= straight * (1 + 1e-12):
            direct = energy[0] / straight**2 * of_x
            index[0] = bins  # not among the reflected
        into = csc_matrix(
            (1.0 / np.square(distance), np.minimum(index, bins), np.arange(count + 1)),
            shape=(bins + 1, count),
        )
        total += (into @ energy)[:bins] * of_x
    if air is not None:
        middle = straight + speed * (np.arange(bins) + 0.5) * STEP
        total *= np.exp(-np.multiply.outer(middle, air))
        direct = direct * np.exp(-air * straight)
    return Echogram(direct, total)


def rings_until(
    size: Array,
    absorption: Array,
    *,
    speed: float,
    left_db: float = -60.0,
    air: Array | None = None,
) -> float:
    """Time until which all octaves of an empty mirror-like box have lost all energy but a share.

    From the mean over directions of exp(−ct Σᵢ|uᵢ|aᵢ), which is exact for the mean over the room.
    """
    losses = -np.log(1.0 - absorption)
    pairs = np.stack([losses[5] + losses[3], losses[2] + losses[4], losses[0] + losses[1]])
    per_metre = pairs / (2.0 * size[:, None])  # (3, 7)
    k = np.arange(4000) + 0.5
    height = k / 4000
    turn = k * np.pi * (3.0 - np.sqrt(5.0))
    level = np.sqrt(1.0 - height**2)
    directions = np.abs(np.stack([level * np.cos(turn), level * np.sin(turn), height], axis=1))
    rate = speed * (directions @ per_metre + (0.0 if air is None else air))  # (n, 7)
    time = np.arange(0.01, 20.0, 0.01)
    for moment in time:
        left = (np.exp(-rate * moment) / rate).mean(axis=0) / (1.0 / rate).mean(axis=0)
        if np.all(left < 10.0 ** (left_db / 10.0)):
            return float(moment)
    raise ValueError("the room rings for longer than 20 s")


def modulation(echo: Echogram) -> npt.NDArray[np.complex128]:
    """Transform of the reflected energy re the direct sound, shape (14, 7)."""
    return np.exp(-2j * np.pi * np.multiply.outer(MODULATIONS, echo.time)) @ echo.reflected


def speech_transmission(echo: Echogram) -> float:
    """Speech transmission index without noise and without the ear's own limits."""
    total = echo.direct + echo.reflected.sum(axis=0)
    return float(speech_transmission_index((np.abs(echo.direct + modulation(echo)) / total).T))


def clarity_db(echo: Echogram, *, early: float = 0.05) -> Array:
    """C50 in seven octaves, direct sound included [dB]."""
    split = round(early / STEP)
    before = echo.direct + echo.reflected[:split].sum(axis=0)
    return 10.0 * np.log10(before / echo.reflected[split:].sum(axis=0))


def decay_time(
    energy: npt.ArrayLike, *, step: float, high_db: float = -5.0, low_db: float = -25.0
) -> Array:
    """Decay time of energies over time, (..., bins, 7) to (..., 7), T20 by default [s].

    Backward integration, then a straight line by least squares between two levels, times 60 dB
    over its slope, as ISO 3382-1 has it.
    """
    given = np.moveaxis(np.asarray(energy, dtype=np.float64), -2, -1)
    left = np.cumsum(given[..., ::-1], axis=-1)[..., ::-1]
    found = np.empty(left.shape[:-1])
    time = np.arange(left.shape[-1]) * step
    for place in np.ndindex(found.shape):
        curve = left[place]
        level = 10.0 * np.log10(np.maximum(curve / curve[0], 1e-30))
        within = (level <= high_db) & (level >= low_db)
        slope = np.polyfit(time[within], level[within], 1)[0]
        found[place] = -60.0 / slope
    return found


def _grid(y: Array, z: Array) -> Array:
    """All pairs, z fastest, shape (len(y)·len(z), 2)."""
    return np.stack(np.meshgrid(y, z, indexing="ij"), axis=-1).reshape(-1, 2)


def _axis(
    length: float, source: float, receiver: float, near: Array, far: Array, reach: float
) -> tuple[Array, Array, Array]:
    """Images along an axis: offset from the receiver, energy factor (n, 7), mirrored or not."""
    most = int(np.ceil(reach / length)) + 1
    index = np.arange(-most, most + 1)
    odd = index % 2 == 1
    offset = np.where(odd, (index + 1) * length - source, index * length + source) - receiver
    more, fewer = (np.abs(index) + 1) // 2, np.abs(index) // 2
    at_far = np.where(index > 0, more, fewer)[:, None]
    at_near = np.where(index > 0, fewer, more)[:, None]
    inside = np.abs(offset) <= reach
    factor = near**at_near * far**at_far
    return offset[inside], factor[inside], np.where(odd, -1.0, 1.0)[inside]
