"""When the first sound came, and with which sign."""

from __future__ import annotations

from typing import Final, Literal

import numpy as np

from wellheard.acoustics.waveform import fast_length
from wellheard.arrays import Array
from wellheard.measurement.results import Arrival, ImpulseResponse

ONSET_BELOW_PEAK_DB: Final = 20.0
"""The response begins with the first sample that comes so near its peak."""

POLARITY_BELOW: Final = 1000.0
"""Crossovers of loudspeakers turn the sign above, so it is read off below. [Hz]"""

_CLEAR_OF_NOISE = 4.0  # an onset, over the root mean square before it
_LOOKS = (0.001, 0.0015)  # before and after the onset, for the sign [s]
_NOISE_BEFORE, _SOUND_AFTER = 0.1, 0.05  # what the filter is given [s]
_SIGN_OVER_NOISE = 3.0
_SIGN_OVER_OTHER = 1.25  # the stronger of both signs


def first_arrival(samples: Array, before: int) -> int:
    """Sample at which a response begins.

    Parameters
    ----------
    samples : ndarray, shape (samples,)
        With one peak at least.
    before : int
        So many samples at its start are noise for the most part; 0 if that is not known.

    Returns
    -------
    int
        The first sample within 20 dB of the peak and clear of the noise before.

    References
    ----------
    .. [1] iso3382-1:2009, A.3.4, via phonometry.

    Examples
    --------
    >>> first_arrival(np.array([0.0, 0.01, 0.2, 1.0, -0.5]), 0)
    2
    """
    size = np.abs(samples)
    limit = float(size.max()) * 10.0 ** (-ONSET_BELOW_PEAK_DB / 20.0)
    quiet = samples[: before // 2]
    if len(quiet):
        limit = max(limit, _CLEAR_OF_NOISE * float(np.sqrt(np.square(quiet).mean())))
    return int(np.argmax(size >= min(limit, float(size.max()))))


def arrival(response: ImpulseResponse) -> Arrival:
    """When the first sound of a response came, and with which sign.

    Parameters
    ----------
    response : ImpulseResponse
        Not silent.

    Returns
    -------
    Arrival
        Its polarity is that of the whole way, or of what lies behind the loop-back.

    References
    ----------
    .. [1] iso3382-1:2009, A.3.4, via phonometry; the sign below 1 kHz is common practice.

    Examples
    --------
    >>> samples = np.zeros(4800)
    >>> samples[480] = -1.0
    >>> arrival(ImpulseResponse(samples, 48000.0, zero=0, absolute=True))
    Arrival(onset=0.01, delay=0.01, polarity=-1)
    """
    onset = first_arrival(response.samples, response.zero)
    delay = (onset - response.zero) / response.rate if response.absolute else None
    return Arrival(onset / response.rate, delay, _polarity(response, onset))


def _polarity(response: ImpulseResponse, onset: int) -> Literal[1, -1] | None:
    rate = response.rate
    begin = max(onset - round(_NOISE_BEFORE * rate), 0)
    low = _low_passed(response.samples[begin : onset + round(_SOUND_AFTER * rate)], rate)
    at = onset - begin
    around = low[max(at - round(_LOOKS[0] * rate), 0) : at + round(_LOOKS[1] * rate) + 1]
    high, deep = float(around.max(initial=0.0)), float(-around.min(initial=0.0))
    quiet = low[: max(at - round(0.005 * rate), 0)]
    noise = float(np.sqrt(np.square(quiet).mean())) if len(quiet) else 0.0
    strong, weak = max(high, deep), min(high, deep)
    if strong <= _SIGN_OVER_NOISE * noise or strong < _SIGN_OVER_OTHER * weak:
        return None
    return 1 if high > deep else -1


def _low_passed(samples: Array, rate: float) -> Array:
    """What lies below 1 kHz, by a bell that does not ring: half the way down at half of that."""
    length = fast_length(len(samples) + round(0.01 * rate))
    frequency = np.fft.rfftfreq(length, 1.0 / rate)
    bell = np.exp2(-np.square(frequency / (0.5 * POLARITY_BELOW)))
    return np.fft.irfft(np.fft.rfft(samples, length) * bell, length)[: len(samples)]
