"""What a microphone would record of a click in a box: pressure image sources.

Everything else in the engine follows energy. Here pressures add with their sign, so neighbouring
arrivals interfere, for listening and for comparison with other simulators.
"""

from __future__ import annotations

import ctypes
import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from wellheard.acoustics import compiled
from wellheard.acoustics.enclosure import Enclosure
from wellheard.acoustics.reflection import floor_and_ceiling_reflection
from wellheard.arrays import Array
from wellheard.bands import OCTAVES

Single: TypeAlias = npt.NDArray[np.float32]

_TAPS = 80  # the window is zero at its outermost points, 40 samples to either side
_HALF = _TAPS // 2
_PHASES = 64  # of a sample; between them straight lines, −85 dB off
_THINNED = 4  # low octaves are summed at this fraction of the rate,
_THINNED_UP_TO = 0.19  # re it: an octave ends 1.83 above its centre, delays are even up to 0.45
_RINGING = 1.0 / 32.0  # of the octave filters, to either side [s]


@dataclass(frozen=True, eq=False)
class Waveform:
    """Pressure over time, re that at 1 m in the free field.

    Parameters
    ----------
    samples : ndarray, shape (samples,)
        Sample ``n`` is the time ``(n − lead) / rate`` after the click.
    rate : float
        [Hz]
    lead : int
        Samples before the click: interpolation and octave filters are symmetric in time.
    """

    samples: Array
    rate: float
    lead: int


def waveform(
    enclosure: Enclosure,
    source: Array,
    receiver: Array,
    *,
    order: int,
    rate: float,
    speed: float,
    air: Array | None = None,
) -> Waveform:
    """Impulse response between two points of a box by image sources up to an order.

    Parameters
    ----------
    enclosure : Enclosure
        An empty box; of each surface the part 1 − absorption, less what is scattered, is
        reflected.
    source, receiver : ndarray, shape (3,)
        Points inside, both without directivity. [m]
    order : int
        Most reflections of an image, 0 or more.
    rate : float
        Samples per second. [Hz]
    speed : float
        Of sound. [m/s]
    air : ndarray, shape (7,), optional
        Attenuation of power in air, none if omitted. [1/m]

    Returns
    -------
    Waveform
        As long as the farthest image of any two points may take.

    Raises
    ------
    ValueError
        The enclosure is no empty box, a point is outside or both are one, or a number is out of
        its range.

    Notes
    -----
    Every reflection is positive and in phase, so below the Schroeder frequency levels are too
    high: filter by octaves before comparing energies. What an order cuts off is not all late.
    Surfaces of equal absorption in all octaves and no air need no octave filters and get none.

    References
    ----------
    .. [1] allen-berkley:1979, image sources of a box.
    .. [2] peterson:1986, fractional delays by a windowed sinc.
    .. [3] antoni:2010, octave filters that sum to one, via pyroomacoustics.

    Examples
    --------
    >>> from wellheard.acoustics.enclosure import box
    >>> room = box((6.0, 5.0, 3.0), absorption=np.full(6, 0.2))
    >>> points = np.array([1.0, 2.0, 1.2]), np.array([4.43, 2.0, 1.2])
    >>> heard = waveform(room, *points, order=1, rate=16000.0, speed=343.0)
    >>> int(np.argmax(heard.samples)) - heard.lead  # 3.43 m take 10 ms
    160
    """
    size, (start, end) = _box_frame(enclosure, np.stack([source, receiver]))
    if order < 0 or rate <= 0.0 or speed <= 0.0:
        raise ValueError(
            f"order {order}, rate {rate} Hz, speed {speed} m/s: the order must be 0 or more, "
            "the others more than 0"
        )
    factors = _pressure_factors(enclosure, order)
    flat = air is None and bool(np.all(factors == factors[..., :1]))
    lead = _HALF if flat else _THINNED * (_HALF + math.ceil(_RINGING * rate / _THINNED))
    reach = np.square(size) + np.square(size) * order * (order + 2) * (size == size.max())
    count = int(np.sqrt(reach.sum()) * rate / speed) + 2 * lead + 1

    def summed(bands: slice, rate: float, lead: int, length: int) -> Single:
        some = np.ascontiguousarray(factors[..., bands])
        sums = np.zeros((some.shape[-1], length), dtype=np.float32)
        _sum_images(start, end, size, some, order, rate / speed, lead, sums)
        return sums

    if flat:
        return Waveform(summed(slice(1), rate, lead, count)[0].astype(np.float64), rate, lead)
    length = 2 * _THINNED * fast_length(math.ceil(count / (2 * _THINNED)))
    spectrum = np.zeros(length // 2 + 1, dtype=np.complex128)
    bank = _bank(rate, length)
    low = int(np.searchsorted(OCTAVES, _THINNED_UP_TO * rate / _THINNED, side="right"))
    for bands, thinned in ((slice(low), _THINNED), (slice(low, None), 1)):
        part = summed(bands, rate / thinned, lead // thinned, length // thinned)
        if air is not None:
            path = np.maximum(np.arange(part.shape[1]) * thinned - lead, 0) * (speed / rate)
            part *= np.exp(np.multiply.outer(-0.5 * np.asarray(air)[bands], path))
        passed = slice(part.shape[1] // 2 + 1)
        spectrum[passed] += (np.fft.rfft(part, axis=1) * bank[bands, passed]).sum(axis=0)
    return Waveform(np.fft.irfft(spectrum, n=length)[:count], rate, lead)


def octave_filters(frequency: npt.ArrayLike) -> Array:
    """Magnitudes of seven octave filters that sum to one at every frequency.

    Parameters
    ----------
    frequency : array_like, shape (frequencies,)
        [Hz]

    Returns
    -------
    ndarray, shape (7, frequencies)
        0–1.

    Notes
    -----
    Neighbours share a raised cosine of frequency about their common edge; the first and the
    last pass all below and above theirs. Used without phase, they ring to both sides in time.

    References
    ----------
    .. [1] antoni:2010, orthogonal-like octave filters, via pyroomacoustics.

    Examples
    --------
    >>> bank = octave_filters(np.array([0.0, 125.0, 150.0, 1000.0]))
    >>> bank.shape, bool(np.allclose(bank.sum(axis=0), 1.0))
    ((7, 4), True)
    """
    f = np.asarray(frequency, dtype=np.float64)
    centre = np.array(OCTAVES[1:])[:, None]
    edge = centre / np.sqrt(2.0)
    turn = (f - edge) / (0.5 * (np.sqrt(2.0) - 1.0) * centre)
    passed = np.square(np.sin(0.25 * np.pi * (1.0 + np.clip(turn, -1.0, 1.0))))
    everything, nothing = np.ones((1, len(f))), np.zeros((1, len(f)))
    return np.concatenate([everything, passed]) - np.concatenate([passed, nothing])


def _box_frame(enclosure: Enclosure, points: Array) -> tuple[Array, Array]:
    """Size of the box and points along its sides, from its first corner."""
    if not enclosure.is_box or enclosure.objects:
        raise ValueError("pressure image sources are made of empty boxes only")
    sides = enclosure.outline[[1, 3]] - enclosure.outline[0]
    lengths = np.hypot(sides[:, 0], sides[:, 1])
    size = np.array([*lengths, enclosure.height])
    local = np.empty_like(points, dtype=np.float64)
    local[:, :2] = (points[:, :2] - enclosure.outline[0]) @ (sides / lengths[:, None]).T
    local[:, 2] = points[:, 2]
    if np.any(local <= 0.0) or np.any(local >= size):
        raise ValueError(f"points {points.tolist()} are not both inside the box")
    if np.all(local[0] == local[1]):
        raise ValueError("source and receiver are one point")
    return size, local


def _pressure_factors(enclosure: Enclosure, order: int) -> Single:
    """Reflected pressure of every image along an axis, shape (3, 2·order + 1, 7) float32."""
    plan = (1.0 - enclosure.wall_absorption) * (1.0 - enclosure.wall_scattering)[:, None]
    upright = np.stack(floor_and_ceiling_reflection(enclosure))
    east, north, west, south = (1, 2, 3, 0)
    near = np.stack([plan[west], plan[south], upright[0]])[:, None]
    far = np.stack([plan[east], plan[north], upright[1]])[:, None]
    index = np.arange(-order, order + 1)
    more, fewer = (np.abs(index) + 1) // 2, np.abs(index) // 2
    at_far = np.where(index > 0, more, fewer)[:, None]
    at_near = np.where(index > 0, fewer, more)[:, None]
    return np.ascontiguousarray(np.sqrt(near**at_near * far**at_far), dtype=np.float32)


def _sum_images(
    source: Array,
    receiver: Array,
    size: Array,
    factors: Single,
    order: int,
    samples_per_metre: float,
    lead: int,
    bands: Single,
) -> None:
    """Add the taps of every image to ``bands``, shape (bands, length) float32."""
    real, single = compiled.array(np.float64), compiled.array(np.float32)
    whole, step = ctypes.c_int, ctypes.c_double
    kernel = compiled.function(
        "waveform",
        [real, real, real, single, whole, whole, step, whole, single, whole, single, ctypes.c_long],
    )
    if kernel is None:
        _sum_numpy(source, receiver, size, factors, order, samples_per_metre, lead, bands)
        return
    kernel(
        np.ascontiguousarray(source),
        np.ascontiguousarray(receiver),
        size,
        factors,
        order,
        len(bands),
        samples_per_metre,
        lead,
        _delays(),
        _PHASES,
        bands,
        bands.shape[1],
    )


def _sum_numpy(
    source: Array,
    receiver: Array,
    size: Array,
    factors: Single,
    order: int,
    samples_per_metre: float,
    lead: int,
    bands: Single,
) -> None:
    index = np.arange(-order, order + 1)
    grid = np.stack(np.meshgrid(index, index, index, indexing="ij"), axis=-1).reshape(-1, 3)
    grid = grid[np.abs(grid).sum(axis=1) <= order]
    images = grid * size + np.where(grid % 2, size - source, source)
    distance = np.sqrt(np.square(images - receiver).sum(axis=1))
    place = distance * samples_per_metre + lead
    sample = place.astype(np.int64)
    phase = (place - sample) * _PHASES
    row = np.minimum(phase.astype(np.int64), _PHASES - 1)
    share = (phase - row)[:, None]
    table = _delays()
    taps = table[row] + share * (table[row + 1] - table[row])
    at = (sample[:, None] + np.arange(1 - _HALF, _HALF + 1)).ravel()
    by_axis = [axis[image] for axis, image in zip(factors, (grid + order).T, strict=True)]
    pressure = by_axis[0] * by_axis[1] * by_axis[2] / distance[:, None]
    for band, of_images in zip(bands, pressure.T, strict=True):
        weights = (taps * of_images[:, None]).ravel()
        band += np.bincount(at, weights=weights, minlength=len(band)).astype(np.float32)


@lru_cache(maxsize=1)
def _delays() -> Single:
    """Taps of fractional delays from 0 to 1, shape (phases + 1, taps) float32."""
    tap = np.arange(1 - _HALF, _HALF + 1)
    window = 0.5 + 0.5 * np.cos(np.pi * tap / _HALF)
    late = np.arange(_PHASES + 1)[:, None] / _PHASES
    return np.ascontiguousarray(window * np.sinc(tap - late), dtype=np.float32)


@lru_cache(maxsize=8)
def _bank(rate: float, length: int) -> Single:
    """Octave filters at the frequencies of a transform, shape (7, length / 2 + 1) float32."""
    return octave_filters(np.fft.rfftfreq(length, 1.0 / rate)).astype(np.float32)


def fast_length(least: int) -> int:
    """Next length whose prime factors are 2, 3 and 5, which transforms run fast at.

    Examples
    --------
    >>> fast_length(97), fast_length(1025)
    (100, 1080)
    """
    best = 1 << (least - 1).bit_length()
    five = 1
    while five < best:
        three = five
        while three < best:
            rest = -(-least // three)
            best = min(best, three << (rest - 1).bit_length())
            three *= 3
        five *= 5
    return best
