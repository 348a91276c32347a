"""Beams of arrays of capsules: weights, response, what they take from a diffuse field, own noise.

::

        o   o   o   o      capsules, each delayed so that a plane wave from
         ╲   ╲   ╲   ╲     the talker adds up in all of them
          ╲   ╲   ╲   ╲
           talker, far away

Two designs. *Delay and sum* is the sturdiest there is: evenly weighted, each capsule delayed. The
*superdirective* one takes as little as possible from a diffuse field while the talker's voice
passes unchanged, loaded so far that its gain over the capsules' own noise keeps a floor.

Plane waves, free field, omnidirectional capsules alike. Above the frequency at which capsules are
half a wavelength apart, beams grow side lobes as strong as themselves: those are real, and kept.
"""

from __future__ import annotations

from typing import Literal, TypeAlias

import numpy as np
import numpy.typing as npt

from wellheard.acoustics.air import speed_of_sound
from wellheard.arrays import Array
from wellheard.bands import EXACT_OCTAVES

Design: TypeAlias = Literal["delay-and-sum", "superdirective"]
Weights: TypeAlias = np.ndarray[tuple[int, ...], np.dtype[np.complex128]]

THIRDS = 10.0 ** np.array([-0.1, 0.0, 0.1])
"""Third-octave mid-bands of an octave re its own (IEC 61260-1)."""

WHITE_NOISE_GAIN_FLOOR_DB = -10.0
"""Least gain of a superdirective beam over the own noise of its capsules, at every frequency.

Common practice, no source [C]. Errors of gain and phase with the variance σ² (0.5 dB and 3°:
σ² = .006) add an even response of σ²/G to the beam, G the gain: 12 dB below its axis at this
floor, which is as deep as a diffuse field asks for. Lower, no production keeps the promise."""

_LEAST_LOADING, _MOST_LOADING = 1e-9, 1e6
"""Bounds of the loading, re the power of a capsule: rounding, and as good as delay and sum."""


def third_frequencies() -> Array:
    """Third-octave mid-bands that stand for each octave, shape (7, 3). [Hz]

    Examples
    --------
    >>> third_frequencies()[3].round()
    array([ 794., 1000., 1259.])
    """
    return np.multiply.outer(np.array(EXACT_OCTAVES), THIRDS)


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


def steering_vector(
    positions: npt.ArrayLike, *, toward: npt.ArrayLike, wavenumber: npt.ArrayLike
) -> Weights:
    """Phases of a plane wave at the capsules, re the array's centre.

    Parameters
    ----------
    positions : array_like, shape (capsules, 3)
        [m]
    toward : array_like, shape (..., 3)
        Unit vector to where the wave comes from.
    wavenumber : array_like, shape (frequencies,)
        [rad/m]

    Returns
    -------
    ndarray of complex, shape (..., frequencies, capsules)
        ``exp(jk p·u)``: earlier where the capsule is nearer.
    """
    at = np.asarray(positions, dtype=np.float64)
    ahead = np.asarray(toward, dtype=np.float64) @ at.T
    k = np.asarray(wavenumber, dtype=np.float64)
    return np.exp(1j * k[:, None] * ahead[..., None, :])


def beam_weights(
    positions: npt.ArrayLike,
    *,
    toward: npt.ArrayLike,
    frequency: npt.ArrayLike,
    speed: float,
    design: Design = "delay-and-sum",
    floor_db: float = WHITE_NOISE_GAIN_FLOOR_DB,
) -> Weights:
    """Weights w of a beam, its output being ``wᴴp``, with a response of 1 where it points.

    Parameters
    ----------
    positions : array_like, shape (capsules, 3)
        [m]
    toward : array_like, shape (directions, 3)
        Unit vectors, each that of a beam.
    frequency : array_like, shape (frequencies,)
        [Hz]
    speed : float
        Of sound. [m/s]
    design : {"delay-and-sum", "superdirective"}
        See the top of this module.
    floor_db : float
        Least white-noise gain of a superdirective beam; where even delay and sum does not reach
        it, that. [dB]

    Returns
    -------
    ndarray of complex, shape (directions, frequencies, capsules)
        ``d/n`` for delay and sum; ``(Γ + μ)⁻¹d / dᴴ(Γ + μ)⁻¹d`` for the superdirective one, with
        the least loading μ that keeps the floor.

    References
    ----------
    .. [1] cox-zeskind-owen:1987, optimum directivity under a constraint on white-noise gain.
    .. [2] brandstein-ward:2001, superdirective weights with loading.

    Examples
    --------
    >>> pair = [[-0.01, 0, 0], [0.01, 0, 0]]
    >>> w = beam_weights(pair, toward=[[1, 0, 0]], frequency=[1000.0], speed=343.0)
    >>> abs(w).round(2)
    array([[[0.5, 0.5]]])
    """
    at, aims = _checked(positions, toward)
    k = 2.0 * np.pi * np.asarray(frequency, dtype=np.float64) / speed
    steering = steering_vector(at, toward=aims, wavenumber=k)
    if design == "delay-and-sum":
        return steering / len(at)
    power, modes = np.linalg.eigh(diffuse_coherence(at, wavenumber=k))
    power = np.maximum(power, 0.0)  # rounding
    seen = np.einsum("fij,dfi->dfj", modes, steering)
    loading = _loading(np.abs(seen) ** 2, power, 10.0 ** (floor_db / 10.0))
    loaded = seen / (power + loading[..., None])
    gain = np.sum(np.abs(seen) ** 2 / (power + loading[..., None]), axis=-1)
    return np.einsum("fij,dfj->dfi", modes, loaded) / gain[..., None]


def _loading(seen: Array, power: Array, floor: float) -> Array:
    """Least loading whose white-noise gain keeps the floor; it grows with the loading."""

    def gain(lg: Array) -> Array:
        share = seen / (power + 10.0 ** lg[..., None])
        return np.asarray(
            share.sum(axis=-1) ** 2 / (share / (power + 10.0 ** lg[..., None])).sum(axis=-1)
        )

    low = np.full(seen.shape[:-1], np.log10(_LEAST_LOADING))
    high = np.full(seen.shape[:-1], np.log10(_MOST_LOADING))
    enough = gain(low) >= floor
    for _ in range(50):  # halves 15 decades to rounding
        middle = 0.5 * (low + high)
        kept = gain(middle) >= floor
        high, low = np.where(kept, middle, high), np.where(kept, low, middle)
    return np.asarray(np.where(enough, _LEAST_LOADING, 10.0**high), dtype=np.float64)


def beam_response(
    weights: Weights,
    positions: npt.ArrayLike,
    *,
    toward: npt.ArrayLike,
    frequency: npt.ArrayLike,
    speed: float,
) -> Array:
    """Energy response ``|wᴴd(u)|²`` of beams to plane waves from any direction.

    Parameters
    ----------
    weights : ndarray of complex, shape (..., frequencies, capsules)
        From :func:`beam_weights`.
    positions : array_like, shape (capsules, 3)
        [m]
    toward : array_like, shape (directions, 3)
        Unit vectors to where the waves come from.
    frequency : array_like, shape (frequencies,)
        [Hz]
    speed : float
        [m/s]

    Returns
    -------
    ndarray, shape (..., frequencies, directions)
    """
    k = 2.0 * np.pi * np.asarray(frequency, dtype=np.float64) / speed
    waves = steering_vector(positions, toward=toward, wavenumber=k)
    heard = np.einsum("...fi,dfi->...fd", weights.conj(), waves)
    return np.square(np.abs(heard))


def diffuse_efficiency(weights: Weights, coherence: Array) -> Array:
    """Energy ``wᴴΓw`` that a beam takes from a diffuse field re the same from where it points.

    Parameters
    ----------
    weights : ndarray of complex, shape (..., frequencies, capsules)
        With a response of 1 where the beam points.
    coherence : ndarray, shape (frequencies, capsules, capsules)
        From :func:`diffuse_coherence`.

    Returns
    -------
    ndarray, shape (..., frequencies)
    """
    through = (coherence @ weights[..., None])[..., 0]
    return np.asarray(np.sum(weights.conj() * through, axis=-1).real, dtype=np.float64)


def white_noise_gain(weights: Weights) -> Array:
    """Signal-to-own-noise ratio of a beam re that of one of its capsules, ``1/wᴴw``.

    Parameters
    ----------
    weights : ndarray of complex, shape (..., capsules)
        With a response of 1 where the beam points.

    Returns
    -------
    ndarray, shape (...)
        The number of capsules for delay and sum, the most there is.

    References
    ----------
    .. [1] cox-zeskind-owen:1987, white-noise gain.
    """
    return np.asarray(1.0 / np.sum(np.square(np.abs(weights)), axis=-1), dtype=np.float64)


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
    asked = np.asarray(frequency, dtype=np.float64)
    at, aim = _checked(positions, np.atleast_2d(np.asarray(toward, dtype=np.float64)))
    w = beam_weights(at, toward=aim, frequency=asked.ravel(), speed=speed)
    coherence = diffuse_coherence(at, wavenumber=2.0 * np.pi * asked.ravel() / speed)
    return diffuse_efficiency(w, coherence)[0].reshape(asked.shape)


def beam_directivity_index_db(
    positions: npt.ArrayLike,
    *,
    toward: npt.ArrayLike,
    temperature_c: float = 20.0,
    design: Design = "delay-and-sum",
) -> Array:
    """Directivity index of a beam by octave.

    Parameters
    ----------
    positions : array_like, shape (capsules, 3)
        [m]
    toward : array_like, shape (3,)
        Direction it points in.
    temperature_c : float
        [°C]
    design : {"delay-and-sum", "superdirective"}
        See the top of this module.

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
    at, aim = _checked(positions, np.atleast_2d(np.asarray(toward, dtype=np.float64)))
    frequency = third_frequencies().ravel()
    speed = float(speed_of_sound(temperature_c))
    w = beam_weights(at, toward=aim, frequency=frequency, speed=speed, design=design)
    coherence = diffuse_coherence(at, wavenumber=2.0 * np.pi * frequency / speed)
    taken = diffuse_efficiency(w, coherence)[0].reshape(-1, len(THIRDS))
    return np.asarray(-10.0 * np.log10(taken.mean(axis=-1)), dtype=np.float64)


def _checked(positions: npt.ArrayLike, toward: npt.ArrayLike) -> tuple[Array, Array]:
    """Positions, and directions of length 1."""
    at = np.asarray(positions, dtype=np.float64)
    aims = np.asarray(toward, dtype=np.float64)
    if at.ndim != 2 or at.shape[0] == 0 or at.shape[1] != 3:
        raise ValueError(f"positions must be (capsules, 3) with a capsule at least, not {at.shape}")
    length = np.linalg.norm(aims, axis=-1, keepdims=True)
    if aims.ndim != 2 or aims.shape[1] != 3 or not np.all(length > 0):
        raise ValueError(
            f"toward must be a direction of three numbers, or several, not {aims.tolist()}"
        )
    return at, aims / length
