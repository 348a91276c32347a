"""Octave filters without phase: class 1, exact mid-bands, made in the frequency domain."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from wellheard.acoustics.waveform import fast_length
from wellheard.arrays import Array
from wellheard.bands import OCTAVES, exact_midband

OCTAVE_RATIO: Final = 10.0**0.3
"""Base ten, as the standard prefers."""

MOST_THINNED: Final = 16
"""Samples of the original for one of a thinned octave, at most."""

_ENOUGH, _WHOLE = 12.0, math.inf  # samples for a period of the mid-band
_TURN = 1.2  # of each edge, from all to nothing [octaves]
_RINGS = 3.5  # periods of the mid-band until it has rung down by 30 dB, to either side
_SILENT = 16.0  # the same by 100 dB: what a transform must leave room for


def response(frequency: npt.ArrayLike, octave: float) -> Array:
    """Magnitude of an octave filter.

    Parameters
    ----------
    frequency : array_like
        [Hz]
    octave : float
        Nominal. [Hz]

    Returns
    -------
    ndarray
        Same shape, 0–1.

    Notes
    -----
    A cosine of the logarithm of frequency about each edge, its argument bent by a sine twice: the
    energies of neighbours sum to one, one octave beyond the mid-band 59 dB are gone and nothing
    is left from 1.1 octaves on, so a neighbour that rings longer stays outside. It rings down by
    30 dB in 3.5 periods of the mid-band to either side, as long as a filter of third order.

    References
    ----------
    .. [1] iec61260-1:2014, limits of class 1 via phonometry.
    .. [2] antoni:2010, edges whose energies sum to one, via pyroomacoustics.

    Examples
    --------
    >>> response([1000.0, 1000.0 * OCTAVE_RATIO**0.5, 2200.0], 1000.0).round(3) + 0.0
    array([1.   , 0.707, 0.   ])
    """
    given = np.maximum(np.asarray(frequency, dtype=np.float64), 1e-9)
    away = np.abs(np.log(given / exact_midband(octave))) / math.log(OCTAVE_RATIO)
    turn = np.clip((away - 0.5) * (2.0 / _TURN), -1.0, 1.0)
    bent = np.sin(0.5 * np.pi * np.sin(0.5 * np.pi * turn))
    return np.cos(0.25 * np.pi * (1.0 + bent))


def response_db(frequency: npt.ArrayLike, octave: float) -> Array:
    """Level of :func:`response`; minus infinity where nothing passes.

    Parameters
    ----------
    frequency : array_like
        [Hz]
    octave : float
        Nominal. [Hz]

    Returns
    -------
    ndarray
        [dB]
    """
    passed = response(frequency, octave)
    passed[passed < 1e-12] = 0.0
    with np.errstate(divide="ignore"):
        return 20.0 * np.log10(passed)


def fits(octave: float, rate: float) -> bool:
    """Whether samples at a rate carry an octave, with the whole of its upper edge.

    Parameters
    ----------
    octave : float
        Nominal. [Hz]
    rate : float
        [Hz]

    Examples
    --------
    >>> fits(4000.0, 16000.0), fits(8000.0, 16000.0)
    (True, False)
    """
    return exact_midband(octave) * OCTAVE_RATIO <= 0.5 * rate


def ringing(octave: float) -> float:
    """How long before its time a click begins to show, 30 dB down in energy still to come [s].

    Parameters
    ----------
    octave : float
        Nominal. [Hz]
    """
    return _RINGS / exact_midband(octave)


@lru_cache(maxsize=64)
def click_energy(octave: float, rate: float) -> float:
    """Energy that a filter leaves of a click of one sample of 1.

    Parameters
    ----------
    octave : float
        Nominal. [Hz]
    rate : float
        [Hz]
    """
    frequency = np.linspace(0.0, 0.5 * rate, 1 << 14)
    return float(np.square(response(frequency, octave)).mean())


def octave_bands(samples: Array, rate: float, octaves: Sequence[float] = OCTAVES) -> Array:
    """Samples of each octave, not shifted in time.

    Parameters
    ----------
    samples : ndarray, shape (samples,)
        Any length.
    rate : float
        [Hz]
    octaves : sequence of float
        Nominal. [Hz]

    Returns
    -------
    ndarray, shape (octaves, samples)
        Silence beyond both ends is assumed.

    Raises
    ------
    ValueError
        An octave that the rate does not carry.

    Examples
    --------
    >>> click = np.zeros(999)
    >>> click[500] = 1.0
    >>> bands = octave_bands(click, 48000.0, (500.0, 8000.0))
    >>> bands.shape, np.argmax(bands, axis=1).tolist()
    ((2, 999), [500, 500])
    """
    bands = [band.samples for band in _filtered(samples, rate, octaves, _WHOLE)]
    return np.array(bands).reshape(len(octaves), len(samples))


@dataclass(frozen=True, eq=False)
class Thinned:
    """Samples of one octave at a rate that is enough for it.

    Attributes
    ----------
    samples : ndarray, shape (samples,)
    times : int
        Samples of the original for one of these.
    """

    samples: Array
    times: int


def thinned_bands(samples: Array, rate: float, octaves: Sequence[float]) -> tuple[Thinned, ...]:
    """Samples of each octave, every so-manieth of :func:`octave_bands`.

    Parameters
    ----------
    samples : ndarray, shape (samples,)
        Any length.
    rate : float
        [Hz]
    octaves : sequence of float
        Nominal. [Hz]

    Returns
    -------
    tuple of Thinned
        Twelve samples at least for a period of the mid-band, so that energies over time are whole.

    Raises
    ------
    ValueError
        An octave that the rate does not carry.

    Examples
    --------
    >>> click = np.zeros(960)
    >>> click[480] = 1.0
    >>> low, high = thinned_bands(click, 48000.0, (125.0, 8000.0))
    >>> low.times, int(np.argmax(low.samples)), high.times
    (16, 30, 1)
    """
    return _filtered(samples, rate, octaves, _ENOUGH)


def _filtered(
    samples: Array, rate: float, octaves: Sequence[float], enough: float
) -> tuple[Thinned, ...]:
    over = [f for f in octaves if not fits(f, rate)]
    if over:
        raise ValueError(f"samples at {rate:g} Hz carry no octave of {over[0]:g} Hz")
    lowest = min(octaves, default=math.inf)
    room = len(samples) + math.ceil(_SILENT / lowest * rate)
    length = MOST_THINNED * fast_length(math.ceil(room / MOST_THINNED))
    spectrum = np.fft.rfft(samples, length)
    found = []
    for octave, (first, weight) in zip(octaves, _bank(rate, length, tuple(octaves)), strict=True):
        times = 1
        while times < MOST_THINNED and rate >= 2 * times * enough * octave:
            times *= 2
        part = np.zeros(length // times // 2 + 1, dtype=np.complex128)
        inside = slice(first, first + len(weight))
        np.multiply(spectrum[inside], weight, out=part[inside])
        count = -(-len(samples) // times)
        band = np.fft.irfft(part, length // times)[:count]
        band /= times
        found.append(Thinned(band, times))
    return tuple(found)


@lru_cache(maxsize=8)
def _bank(
    rate: float, length: int, octaves: tuple[float, ...]
) -> tuple[tuple[int, npt.NDArray[np.float32]], ...]:
    """First line that passes and the weights from there on, of each octave."""
    frequency = np.fft.rfftfreq(length, 1.0 / rate)
    reach = OCTAVE_RATIO ** (0.5 + 0.5 * _TURN)
    found = []
    for octave in octaves:
        middle = exact_midband(octave)
        first, last = np.searchsorted(frequency, (middle / reach, middle * reach))
        found.append((int(first), response(frequency[first:last], octave).astype(np.float32)))
    return tuple(found)
