"""Power of short pieces of a recording by frequency."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from wellheard.arrays import Array

_AT_ONCE = 1 << 22  # samples in work


def piece_powers(samples: Array, *, length: int, hop: int) -> Iterator[Array]:
    """Power spectra of pieces under a raised cosine, some at a time.

    Parameters
    ----------
    samples : ndarray, shape (samples,)
        No fewer than ``length``.
    length, hop : int
        Samples of a piece, and from one to the next.

    Yields
    ------
    ndarray, shape (pieces, length // 2 + 1)
        One-sided; a row sums to the mean square of its piece under the window.

    Notes
    -----
    The window keeps rumble out of high octaves: without it the ends of a piece alone would put
    16 Hz at 78 dB into the 8 kHz octave at about 11 dB.

    Examples
    --------
    >>> tone = np.sin(2.0 * np.pi * np.arange(64) / 8.0)
    >>> [rows.sum(axis=1).round(3) for rows in piece_powers(tone, length=32, hop=16)]
    [array([0.5, 0.5, 0.5])]
    """
    window = 0.5 - 0.5 * np.cos(2.0 * np.pi * (np.arange(length) + 0.5) / length)
    scale = np.full(length // 2 + 1, 2.0 / (length * float(window @ window)))
    scale[0] /= 2.0
    if length % 2 == 0:
        scale[-1] /= 2.0
    pieces = np.lib.stride_tricks.sliding_window_view(samples, length)[::hop]
    together = max(1, _AT_ONCE // length)
    for first in range(0, len(pieces), together):
        spectra = np.fft.rfft(pieces[first : first + together] * window)
        yield scale * (np.square(spectra.real) + np.square(spectra.imag))


def mean_powers(samples: Array, *, length: int) -> Array:
    """Mean power spectrum of pieces that overlap by three quarters: all samples count alike.

    Parameters
    ----------
    samples : ndarray, shape (samples,)
        One at least.
    length : int
        Samples of a piece; all samples are one piece if there are fewer.

    Returns
    -------
    ndarray, shape (lines,)
        One-sided; it sums to the mean square.
    """
    length = min(length, len(samples))
    total, count = np.zeros(length // 2 + 1), 0
    for rows in piece_powers(samples, length=length, hop=max(1, length // 4)):
        total += rows.sum(axis=0)
        count += len(rows)
    return total / count
