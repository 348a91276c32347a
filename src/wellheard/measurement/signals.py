"""Test signals: exponential sweeps, pink noise, and noise with the spectrum of speech.

Noise is one period without seam, repeated: every line of its spectrum has the magnitude it should
have and a phase by chance, so that no octave is off by the chance of a short stretch, and the same
seed gives the same samples everywhere.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from wellheard.acoustics.speech import iec_male_spectrum_2020
from wellheard.arrays import Array
from wellheard.bands import EXACT_OCTAVES
from wellheard.errors import InputError
from wellheard.measurement.audio import HIGHEST_RATE, LOWEST_RATE, MOST_SAMPLES, MOST_SECONDS
from wellheard.measurement.session import SweepSignal

NOISE_FADE: Final = 0.05
"""In and out, at both ends of noise; common practice, no source. [s]"""
LOWEST_PINK: Final = 20.0
"""Pink noise begins here: what is below only moves membranes. [Hz]"""
QUIETEST_NOISE_DBFS: Final = -80.0
SHORTEST_NOISE: Final = 1.0
"""Fades do not count for much yet. [s]"""

_PERIOD = 1 << 21
_HALF_OCTAVE = 10.0**0.15
_ROUNDS = 20


def growth_time(signal: SweepSignal) -> float:
    """Time in which the frequency of a sweep grows e-fold.

    Parameters
    ----------
    signal : SweepSignal
        Its range, length and rate.

    Returns
    -------
    float
        L of the reference; L·from_hz is whole. Harmonic n of whatever is not linear comes
        ``L·ln n`` before the linear response. [s]

    References
    ----------
    .. [1] novak2015:2015, eq. 49.

    Examples
    --------
    >>> growth_time(SweepSignal(from_hz=20, to_hz=20000, seconds=10))
    1.45
    """
    wanted = signal.from_hz * signal.seconds / math.log(signal.to_hz / signal.from_hz)
    return max(1, round(wanted)) / signal.from_hz


def sweep_seconds(signal: SweepSignal) -> float:
    """How long one sweep is without the silence: what was asked for, to the nearest L.

    Parameters
    ----------
    signal : SweepSignal
        Its range, length and rate.

    Returns
    -------
    float
        ``L·ln(to_hz/from_hz)`` [s]

    Examples
    --------
    >>> round(sweep_seconds(SweepSignal(from_hz=20, to_hz=20000, seconds=10)), 5)
    10.01625
    """
    return growth_time(signal) * math.log(signal.to_hz / signal.from_hz)


def period_samples(signal: SweepSignal) -> int:
    """Samples from the begin of a sweep to the begin of the next, its silence included.

    Parameters
    ----------
    signal : SweepSignal
        Its range, length and rate.
    """
    return round(sweep_seconds(signal) * signal.rate) + round(signal.silence * signal.rate)


def one_sweep(signal: SweepSignal) -> Array:
    """Return one sweep with its fades, without silence.

    Parameters
    ----------
    signal : SweepSignal
        Its range, length and rate.

    Returns
    -------
    ndarray, shape (samples,)
        ``sin(2π·f1·L·e^(t/L))`` times its level, re full scale.

    References
    ----------
    .. [1] novak2015:2015, eq. 47 to 49: the synchronized form, whose harmonics are in phase.

    Examples
    --------
    >>> one_sweep(SweepSignal(seconds=0.5, rate=48000)).shape
    (23007,)
    """
    growth = growth_time(signal)
    time = np.arange(round(sweep_seconds(signal) * signal.rate)) / signal.rate
    phase = 2.0 * np.pi * signal.from_hz * growth * np.exp(time / growth)
    samples = 10.0 ** (signal.level_dbfs / 20.0) * np.sin(phase)
    return faded(samples, round(signal.fade * signal.rate))


def sweep(signal: SweepSignal) -> Array:
    """Return all that is played: each sweep with the silence after it.

    Parameters
    ----------
    signal : SweepSignal
        Its range, length and rate.

    Returns
    -------
    ndarray, shape (samples,)
        Re full scale.

    Raises
    ------
    InputError
        It would be longer than a recording may be.

    Examples
    --------
    >>> sweep(SweepSignal(seconds=0.5, silence=0.5, repeats=2, rate=48000)).shape
    (94014,)
    """
    total = period_samples(signal) * signal.repeats
    _not_too_long(total, signal.rate, "sweeps")
    one = np.zeros(period_samples(signal))
    played = one_sweep(signal)
    one[: len(played)] = played
    return np.tile(one, signal.repeats)


def pink_noise(seconds: float, rate: float, *, level_dbfs: float, seed: int) -> Array:
    """Return noise with the same energy in every octave from 20 Hz up.

    Parameters
    ----------
    seconds : float
        [s]
    rate : float
        [Hz]
    level_dbfs : float
        Of its root mean square; 0 is that of samples which are all at full scale. [dB]
    seed : int
        The same gives the same samples.

    Returns
    -------
    ndarray, shape (samples,)
        Re full scale.

    Raises
    ------
    InputError
        It would be too long, or exceed full scale.
    """
    frequency = _lines(seconds, rate)
    power = np.zeros(len(frequency))
    above = frequency >= LOWEST_PINK
    power[above] = 1.0 / frequency[above]
    return _noise(power, seconds, rate, level_dbfs=level_dbfs, seed=seed)


def speech_noise(seconds: float, rate: float, *, level_dbfs: float, seed: int) -> Array:
    """Return steady noise with the octave levels of the male test spectrum of IEC 60268-16.

    Parameters
    ----------
    seconds : float
        [s]
    rate : float
        Above 22.4 kHz, since octaves over half the rate are missing. [Hz]
    level_dbfs : float
        Of its root mean square; 0 is that of samples which are all at full scale. [dB]
    seed : int
        The same gives the same samples.

    Returns
    -------
    ndarray, shape (samples,)
        Re full scale; nothing below the 125 Hz octave and above the 8 kHz octave.

    Raises
    ------
    InputError
        It would be too long, or exceed full scale.

    References
    ----------
    .. [1] iec60268-16:2020, A.6.1, via phonometry.
    """
    frequency = _lines(seconds, rate)
    fits = [f * _HALF_OCTAVE <= rate / 2.0 for f in EXACT_OCTAVES]
    power = _speech_power(frequency, iec_male_spectrum_2020()[fits])
    return _noise(power, seconds, rate, level_dbfs=level_dbfs, seed=seed)


def faded(samples: Array, length: int) -> Array:
    """Return samples that begin and end softly, along a raised cosine.

    Parameters
    ----------
    samples : ndarray, shape (samples,)
        Re full scale.
    length : int
        Samples of each fade, at most half of them all.

    Examples
    --------
    >>> faded(np.ones(6), 2).round(3)
    array([0.146, 0.854, 1.   , 1.   , 0.854, 0.146])
    """
    length = min(length, len(samples) // 2)
    rise = 0.5 - 0.5 * np.cos(np.pi * (np.arange(length) + 0.5) / max(length, 1))
    soft = samples.copy()
    soft[:length] *= rise
    soft[len(soft) - length :] *= rise[::-1]
    return soft


def _lines(seconds: float, rate: float) -> Array:
    """Frequencies of the lines of one period."""
    if not LOWEST_RATE <= rate <= HIGHEST_RATE:
        raise InputError(f"noise at {rate:g} Hz; 8,000 to 192,000 Hz are allowed")
    if not seconds >= SHORTEST_NOISE:
        raise InputError(f"noise of {seconds:g} s; {SHORTEST_NOISE:g} s at least are allowed")
    _not_too_long(seconds * rate, rate, "noise")
    total = round(seconds * rate)
    return np.asarray(np.fft.rfftfreq(min(total, _PERIOD), 1.0 / rate), dtype=np.float64)


def _speech_power(frequency: Array, levels_db: Array) -> Array:
    """Power of lines that gives the octaves from 125 Hz up their levels, without steps inside."""
    middles = np.array(EXACT_OCTAVES[: len(levels_db)])
    edges = np.append(middles / _HALF_OCTAVE, middles[-1] * _HALF_OCTAVE)
    inside = (frequency >= edges[0]) & (frequency < edges[-1])
    octave = np.digitize(frequency[inside], edges) - 1
    place, through_db = np.log(frequency[inside]), levels_db.copy()
    wanted = 10.0 ** (levels_db / 10.0)
    power = np.zeros(len(frequency))
    for _ in range(_ROUNDS):
        by_line = 10.0 ** (np.interp(place, np.log(middles), through_db) / 10.0)
        power[inside] = by_line / frequency[inside]
        through_db += 10.0 * np.log10(wanted / np.bincount(octave, power[inside], len(wanted)))
    return power


def _noise(power: Array, seconds: float, rate: float, *, level_dbfs: float, seed: int) -> Array:
    if not QUIETEST_NOISE_DBFS <= level_dbfs <= 0.0:
        raise InputError(
            f"noise at {level_dbfs:g} dB; {QUIETEST_NOISE_DBFS:g} to 0 dB re full scale are allowed"
        )
    if seed < 0:
        raise InputError(f"seed {seed}; a whole number from 0 up is allowed")
    raw = np.random.PCG64(seed).random_raw(len(power))
    phase = 2.0 * np.pi * (raw >> np.uint64(11)) / 2.0**53
    total = round(seconds * rate)
    period = np.fft.irfft(np.sqrt(power) * np.exp(1j * phase), min(total, _PERIOD))
    period *= 10.0 ** (level_dbfs / 20.0) / math.sqrt(float(np.mean(period**2)))
    highest = float(np.abs(period).max())
    if highest > 1.0:
        most = math.floor(level_dbfs - 20.0 * math.log10(highest))
        raise InputError(
            f"noise at {level_dbfs:g} dB exceeds full scale; at most {most:g} dB are possible"
        )
    whole = np.tile(period, math.ceil(total / len(period)))[:total]
    return faded(whole, round(NOISE_FADE * rate))


def _not_too_long(total: float, rate: float, what: str) -> None:
    if total > min(MOST_SAMPLES, MOST_SECONDS * rate):
        raise InputError(
            f"{total / rate:,.0f} s of {what}; at most {MOST_SECONDS:g} s and {MOST_SAMPLES:,} "
            "samples are allowed"
        )
