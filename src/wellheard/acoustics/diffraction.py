"""What still comes round an edge that hides the talker."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from wellheard.arrays import Array


def diffraction_db(
    detour: npt.ArrayLike, *, frequency: npt.ArrayLike, speed: npt.ArrayLike
) -> Array:
    """Loss of the direct sound behind a screen, 5 + 20 lg(√(2πN) / tanh √(2πN)).

    Parameters
    ----------
    detour : array_like, shape (...)
        Shortest way round the edge minus the straight distance, 0 on the edge of the shadow,
        infinite where there is no way. [m]
    frequency : array_like, shape (B,)
        [Hz]
    speed : array_like
        Of sound. [m/s]

    Returns
    -------
    ndarray, shape (..., B)
        By how much the sound is weaker than in plain sight. [dB]

    Raises
    ------
    ValueError
        If a detour is negative: the formula is for the shadow.

    Notes
    -----
    N = 2·detour/wavelength is Fresnel's number. The closed form follows Maekawa's measured curve
    within about 1.5 dB. One thin edge that is long against the wavelength; a thick wall with two
    edges shadows a few decibels more. No bound at large N: in rooms other paths are stronger
    there long before.

    References
    ----------
    .. [1] kurze-anderson:1971, closed form for a thin screen and a point source.
    .. [2] maekawa:1968, measured curve.

    Examples
    --------
    >>> diffraction_db([0.0, 0.1715], frequency=[1000.0], speed=343.0).round(1).ravel()
    array([ 5. , 13.1])
    """
    way = np.asarray(detour, dtype=np.float64)
    if np.any(way < 0):
        raise ValueError("a detour of less than 0 m; behind a screen it is 0 m or more")
    number = 2.0 * way[..., None] * np.asarray(frequency, dtype=np.float64) / np.asarray(speed)
    root = np.sqrt(2.0 * np.pi * number)
    # x / tanh x → 1 at the edge of the shadow.
    ratio = np.where(root < 1e-6, 1.0, root / np.tanh(np.maximum(root, 1e-6)))
    return np.asarray(5.0 + 20.0 * np.log10(ratio))
