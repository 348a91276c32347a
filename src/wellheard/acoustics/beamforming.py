"""What an array of capsules takes from a diffuse field when it points at somebody.

::

        o   o   o   o      capsules, each delayed so that a plane wave from
         ╲   ╲   ╲   ╲     the talker adds up in all of them
          ╲   ╲   ╲   ╲
           talker, far away
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from wellheard.acoustics.air import speed_of_sound
from wellheard.arrays import Array
from wellheard.bands import EXACT_OCTAVES

THIRDS = 10.0 ** np.array([-0.1, 0.0, 0.1])
"""Third-octave mid-bands of an octave re its own (IEC 61260-1)."""


def diffuse_coherence(positions: npt.ArrayLike, *, wavenumber: npt.ArrayLike) -> Array:
    """Coherence between capsules in a diffuse field, ``sin(kd)/(kd)``.

    Parameters
    ----------
    positions : array_like, shape (capsules, 3)
        [m]
    wavenumber : array_like, shape (...)
        k = 2πf/c. [rad/m]

    Returns
    -------
    ndarray, shape (..., capsules, capsules)

    References
    ----------
    .. [1] brandstein-ward:2001, spatially isotropic noise.

    Examples
    --------
    >>> diffuse_coherence([[0, 0, 0], [0.1, 0, 0]], wavenumber=5 * np.pi).round(3)
    array([[1.   , 0.637],
           [0.637, 1.   ]])
    """
    at = np.asarray(positions, dtype=np.float64)
    apart = np.linalg.norm(at[:, None] - at[None], axis=-1)
    k = np.asarray(wavenumber, dtype=np.float64)
    return np.sinc(k[..., None, None] * apart / np.pi)


def delay_and_sum_efficiency(
    positions: npt.ArrayLike, *, toward: npt.ArrayLike, frequency: npt.ArrayLike, speed: float
) -> Array:
    """Diffuse-field energy of a delay-and-sum beam re the same from where it points.

    Parameters
    ----------
    positions : array_like, shape (capsules, 3)
        Of omnidirectional capsules. [m]
    toward : array_like, shape (3,)
        Direction it points in, of any length but 0.
    frequency : array_like, shape (...)
        [Hz]
    speed : float
        Of sound. [m/s]

    Returns
    -------
    ndarray, shape (...)
        ``wᴴΓw / |wᴴd|²`` with the weights w = d/n of n capsules: 1/n where they are far apart,
        1 where all sit in one place.

    Raises
    ------
    ValueError
        ``toward`` is no direction, or there are no positions.

    Notes
    -----
    Free field, plane waves, capsules all alike and evenly weighted. A surface behind them, which
    takes away half of the directions, is not in it, nor are tolerances of gain and phase, which
    cost little here (a delay-and-sum beam is the sturdiest there is).

    References
    ----------
    .. [1] brandstein-ward:2001, directivity of an array in spatially isotropic noise.

    Examples
    --------
    Two capsules half a wavelength apart: twice as good as one, wherever they point.

    >>> pair = [[-0.0858, 0, 0], [0.0858, 0, 0]]
    >>> taken = delay_and_sum_efficiency(pair, toward=[1, 0, 0], frequency=1000.0, speed=343.2)
    >>> round(float(taken), 3)
    0.5
    """
    at = np.asarray(positions, dtype=np.float64)
    aim = np.asarray(toward, dtype=np.float64)
    if at.ndim != 2 or at.shape[0] == 0 or at.shape[1] != 3:
        raise ValueError(f"positions must be (capsules, 3) with a capsule at least, not {at.shape}")
    length = np.linalg.norm(aim)
    if aim.shape != (3,) or not length > 0:
        raise ValueError(f"toward must be a direction of three numbers, not {aim.tolist()}")
    k = 2.0 * np.pi * np.asarray(frequency, dtype=np.float64) / speed
    phase = k[..., None] * (at @ (aim / length))
    steering = np.exp(1j * phase)
    coherence = diffuse_coherence(at, wavenumber=k)
    taken = np.einsum("...i,...ij,...j->...", steering.conj(), coherence, steering).real
    return np.asarray(taken / len(at) ** 2, dtype=np.float64)


def beam_directivity_index_db(
    positions: npt.ArrayLike, *, toward: npt.ArrayLike, temperature_c: float = 20.0
) -> Array:
    """Directivity index of a delay-and-sum beam by octave.

    Parameters
    ----------
    positions : array_like, shape (capsules, 3)
        [m]
    toward : array_like, shape (3,)
        Direction it points in.
    temperature_c : float
        [°C]

    Returns
    -------
    ndarray, shape (7,)
        Over :data:`wellheard.bands.OCTAVES`; the energy mean over the three third-octave
        mid-bands of each, so that no single frequency flatters. [dB]

    References
    ----------
    .. [1] brandstein-ward:2001, directivity of an array in spatially isotropic noise.

    Examples
    --------
    >>> square = [[x, y, 0] for x in (-0.25, 0.25) for y in (-0.25, 0.25)]
    >>> beam_directivity_index_db(square, toward=[0, 0, -1]).round(1)
    array([1. , 3.9, 7.6, 5.9, 5.9, 6.1, 6. ])
    """
    frequency = np.multiply.outer(np.array(EXACT_OCTAVES), THIRDS)
    efficiency = delay_and_sum_efficiency(
        positions,
        toward=toward,
        frequency=frequency,
        speed=float(speed_of_sound(temperature_c)),
    )
    return np.asarray(-10.0 * np.log10(efficiency.mean(axis=-1)), dtype=np.float64)
