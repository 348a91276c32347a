"""Invented far ends, talkers and echo paths, all from seeds."""

from __future__ import annotations

import numpy as np

from wellheard.arrays import Array


def decaying(
    seed: int, *, rate: float, time: float, direct: float = 0.0, late: float = 0.0
) -> Array:
    """Response of energy 1: an exponential decay behind a direct sound, as energies 1 to 'direct'.

    It begins after 'late', and the direct sound stands alone, a sample ahead of the rest.
    """
    rng = np.random.default_rng(seed)
    count = round(1.4 * time * rate)
    decay = np.exp(-3.0 * np.log(10.0) * np.arange(count) / rate / time)
    reverberant = rng.standard_normal(count) * decay
    response = reverberant / np.linalg.norm(reverberant)
    response = np.concatenate([[np.sqrt(direct)], response]) / np.sqrt(1.0 + direct)
    return np.concatenate([np.zeros(round(late * rate)), response])


def white(seed: int, lasting: float, *, rate: float) -> Array:
    """Noise of power 1."""
    return np.random.default_rng(seed).standard_normal(round(lasting * rate))


def speech_like(seed: int, lasting: float, *, rate: float) -> Array:
    """Noise of power 1 that falls by 6 dB per octave above 500 Hz and swells with syllables."""
    rng = np.random.default_rng(seed)
    count = round(lasting * rate)
    frequency = np.fft.rfftfreq(count, 1.0 / rate)
    shape = (frequency > 100.0) / np.hypot(1.0, frequency / 500.0)
    carrier = np.fft.irfft(np.fft.rfft(rng.standard_normal(count)) * shape, count)
    slow = np.fft.irfft(np.fft.rfft(rng.standard_normal(count)) * (frequency < 6.0), count)
    voice = carrier * np.exp(slow / slow.std())
    return np.asarray(voice / voice.std())


def played(signal: Array, response: Array) -> Array:
    """The signal at the far side of a response, as long as it was."""
    length = 1 << (len(signal) + len(response)).bit_length()
    spectrum = np.fft.rfft(signal, length) * np.fft.rfft(response, length)
    return np.fft.irfft(spectrum, length)[: len(signal)]
