"""What a wall, or the glass of a display, behind a microphone does to what it hears.

::

      wall ┃   d
           ┃◄─────► ●  microphone
           ┃       ╱
           ┃ θ    ╱  voice, and its reflection 2·d·cos θ later
           ┃     ╱
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from wellheard.arrays import Array

_EDGES = (10.0**-0.15, 10.0**0.15)
"""Edges of an octave re its mid-band (IEC 61260-1)."""

_STEPS = 64
"""Frequencies that an octave's mean is taken over."""


def boundary_gain(
    distance: npt.ArrayLike,
    *,
    cosine: npt.ArrayLike,
    frequency: npt.ArrayLike,
    speed: float,
    reflection: npt.ArrayLike = 1.0,
) -> Array:
    """Energy of a plane wave in front of a wall re the same without the wall, octave mean.

    Parameters
    ----------
    distance : array_like
        From the wall. [m]
    cosine : array_like
        Of the angle between the wave's direction and the wall's normal.
    frequency : array_like
        Exact mid-band of the octave. [Hz]
    speed : float
        Of sound. [m/s]
    reflection : array_like
        Pressure reflection factor ρ, 0–1: √(1 − α).

    Returns
    -------
    ndarray
        Broadcast shape; ``1 + ρ² + 2ρ⟨cos kΔ⟩``, Δ = 2·d·cos θ: 4 at a hard wall, 2 many waves
        away.

    Notes
    -----
    The mean is over the octave, evenly in frequency.

    An engine that adds energies, and counts what arrives within 1 ms as direct, gives 1 + ρ² at
    every distance up to 17 cm, and 1 for diffuse sound. The ratio of both to each other, which
    direct-to-reverberant ratio and intelligibility are made of, is then right at the two ends: 4/2
    at the wall (kd ≪ 1) and 2/1 well beyond the first dip (kd cos θ ≫ π/2), for capsules and arrays
    that hear the mirror image as they hear the voice. Between, where d·cos θ is a quarter of the
    wavelength, the octave that holds it is up to 8 dB weaker than that: 5 cm out at 1.7 kHz, 10 cm
    at 0.9 kHz. A microphone flat against the wall, or in it, has none of this. A cardioid that
    turns its back to a near wall has 3 by the sum of energies, right at high frequencies; at low
    ones (kd ≪ 1) it cannot tell the reflection from the voice and has 2, as an omni.

    References
    ----------
    .. [1] waterhouse:1955, interference of a wave with its reflection.

    Examples
    --------
    >>> gain = boundary_gain([0.0, 0.05, 1.0], cosine=1.0, frequency=500.0, speed=343.0)
    >>> gain.round(2)
    array([4.  , 3.11, 2.04])
    """
    d, u, f, rho = np.broadcast_arrays(
        *(np.asarray(x, dtype=np.float64) for x in (distance, cosine, frequency, reflection))
    )
    low, high = (2.0 * np.pi * f * edge * 2.0 * d * u / speed for edge in _EDGES)  # kΔ
    wave = np.cos((low + high) / 2.0) * np.sinc((high - low) / (2.0 * np.pi))
    return np.asarray(1.0 + np.square(rho) + 2.0 * rho * wave, dtype=np.float64)


def diffuse_boundary_gain(
    distance: npt.ArrayLike, *, frequency: npt.ArrayLike, speed: float
) -> Array:
    """Energy of a diffuse field in front of a hard wall re that far from it, octave mean.

    Parameters
    ----------
    distance : array_like
        From the wall. [m]
    frequency : array_like
        Exact mid-band of the octave. [Hz]
    speed : float
        Of sound. [m/s]

    Returns
    -------
    ndarray
        Broadcast shape; ``1 + sin(2kd)/(2kd)``: 2 at the wall, 1 far from it.

    References
    ----------
    .. [1] waterhouse:1955, 1 + sin(2kd)/(2kd) beside one plane.

    Examples
    --------
    >>> diffuse_boundary_gain([0.0, 0.05, 1.0], frequency=500.0, speed=343.0).round(2)
    array([2.  , 1.85, 1.  ])
    """
    d, f = np.broadcast_arrays(
        np.asarray(distance, dtype=np.float64), np.asarray(frequency, dtype=np.float64)
    )
    low, high = _EDGES
    across = low + (high - low) * (np.arange(_STEPS) + 0.5) / _STEPS
    phase = 4.0 * np.pi * f[..., None] * across / speed * d[..., None]  # 2kd
    return np.asarray(1.0 + np.sinc(phase / np.pi).mean(axis=-1), dtype=np.float64)
