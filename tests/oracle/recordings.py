"""Invented responses with known decays, and recorders with clocks of their own; all from seeds."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wellheard.arrays import Array
from wellheard.bands import EXACT_OCTAVES

TO_60_DB = 6.0 * np.log(10.0)


def tones(times: Sequence[float], *, rate: float, lasting: float, before: float = 0.05) -> Array:
    """One tone in each octave that dies away in a time of its own, of the same first energy.

    Without chance: the energy of an octave is its envelope, ripples at twice the tone apart.
    """
    t = np.arange(round(lasting * rate)) / rate
    total = np.zeros(len(t))
    for frequency, time in zip(EXACT_OCTAVES, times, strict=True):
        if frequency < rate / 2.8:
            total += np.sin(2.0 * np.pi * frequency * t) * np.exp(-0.5 * TO_60_DB * t / time)
    return np.concatenate([np.zeros(round(before * rate)), total])


def noise_decay(
    seed: int, time: float, *, rate: float, lasting: float, floor_db: float, before: float = 0.05
) -> Array:
    """White noise that dies away from variance 1, in noise of a level re that."""
    rng = np.random.default_rng(seed)
    lead, count = round(before * rate), round(lasting * rate)
    decay = np.exp(-0.5 * TO_60_DB * np.arange(count) / rate / time)
    noise = 10.0 ** (floor_db / 20.0) * rng.standard_normal(lead + count)
    noise[lead:] += rng.standard_normal(count) * decay
    return noise


def by_another_clock(samples: Array, ppm: float) -> Array:
    """What a recorder whose clock runs so much faster stores of samples that another played.

    Interpolated by a windowed sinc of 64 samples, even up to 0.45 of the rate.
    """
    half, ratio = 32, 1.0 + 1e-6 * ppm
    when = np.arange(int(len(samples) * ratio)) / ratio
    whole = np.floor(when).astype(np.int64)
    part = when - whole
    padded = np.pad(samples, (half, half + 2))
    sine = np.sin(np.pi * part) / np.pi
    sine[part == 0.0] = 1.0
    cosine, slow_sine = np.cos(np.pi * part / half), np.sin(np.pi * part / half)
    total = np.zeros(len(when))
    for k in range(1 - half, half + 1):  # sinc of part − k, under half a period of a cosine
        window = cosine * np.cos(np.pi * k / half) + slow_sine * np.sin(np.pi * k / half)
        away = part - k
        away[part == 0.0] = 1.0 if k == 0 else np.inf
        total += padded[whole + k + half] * ((-1.0) ** k * 0.5) * (1.0 + window) / away
    return total * sine


def at_another_rate(samples: Array, rate: float, wanted: float) -> Array:
    """The same sound at another rate, by spectra; nothing above half the lower rate is left."""
    length = round(np.ceil(len(samples) / rate) * rate)
    spectrum = np.fft.rfft(samples, length)
    count = round(length / rate * wanted)
    return np.fft.irfft(spectrum[: count // 2 + 1], count) * (count / length)


def between_samples(samples: Array, times: int = 8) -> Array:
    """The same sound at a multiple of its rate."""
    spectrum = np.fft.rfft(samples)
    return np.fft.irfft(spectrum, times * len(samples)) * times
