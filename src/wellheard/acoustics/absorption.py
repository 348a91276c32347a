"""Absorption of surfaces and objects, and the numbers made of it."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from wellheard.arrays import Array


def absorption_area(absorption: npt.ArrayLike, *, areas: npt.ArrayLike) -> Array:
    """Equivalent absorption area of surfaces; collapses the surface axis.

    Parameters
    ----------
    absorption : array_like, shape (..., surfaces, bands)
        Absorption coefficients.
    areas : array_like, shape (..., surfaces)
        [m²]

    Returns
    -------
    ndarray, shape (..., bands)
        [m²]

    References
    ----------
    .. [1] kuttruff2009, equivalent absorption area.

    Examples
    --------
    >>> absorption_area([[0.1, 0.2], [0.5, 0.6]], areas=[10.0, 2.0])
    array([2. , 3.2])
    """
    surfaces = np.asarray(areas, dtype=np.float64)
    return np.einsum("...s,...sb->...b", surfaces, np.asarray(absorption, dtype=np.float64))


def mean_absorption(absorption: npt.ArrayLike, *, areas: npt.ArrayLike) -> Array:
    """Mean absorption coefficient, weighted by area; collapses the surface axis.

    Parameters
    ----------
    absorption : array_like, shape (..., surfaces, bands)
        Absorption coefficients.
    areas : array_like, shape (..., surfaces)
        Not all zero. [m²]

    Returns
    -------
    ndarray, shape (..., bands)

    References
    ----------
    .. [1] kuttruff2009, mean absorption coefficient.

    Examples
    --------
    >>> mean_absorption([[0.1, 0.2], [0.5, 0.6]], areas=[30.0, 10.0])
    array([0.2, 0.3])
    """
    total = np.sum(np.asarray(areas, dtype=np.float64), axis=-1)
    return absorption_area(absorption, areas=areas) / total[..., None]


def capped_absorption(absorption: npt.ArrayLike, *, limit: float = 1.0) -> Array:
    """Absorption with measured values above the limit brought down to it.

    Parameters
    ----------
    absorption : array_like
        Coefficients; above 1 they are real, an edge effect of the measured sample.
    limit : float
        1.0 for models with a logarithm; 1.2 for Sabine's.

    Returns
    -------
    ndarray
        Same shape.

    Raises
    ------
    ValueError
        If a coefficient is negative.

    Examples
    --------
    >>> capped_absorption([0.8, 1.1])
    array([0.8, 1. ])
    """
    given = np.asarray(absorption, dtype=np.float64)
    if np.any(given < 0.0):
        raise ValueError("absorption coefficients must not be negative")
    return np.minimum(given, limit)


def noise_reduction_coefficient(absorption: npt.ArrayLike) -> Array:
    """Mean of 250 to 2000 Hz to the nearest 0.05, ties up.

    Parameters
    ----------
    absorption : array_like, shape (..., 7)
        Over :data:`wellheard.bands.OCTAVES`; two decimals, as published.

    Returns
    -------
    ndarray, shape (...)

    References
    ----------
    .. [1] astm-c423, rounding of the single number, from memory.

    Examples
    --------
    >>> noise_reduction_coefficient([0.02, 0.04, 0.08, 0.20, 0.35, 0.40, 0.40])
    np.float64(0.15)
    """
    mean = np.mean(np.asarray(absorption, dtype=np.float64)[..., 1:5], axis=-1)
    # binary fractions must not decide ties: 0.225 is a tie although its float lies below
    return np.floor(np.round(20.0 * mean, 9) + 0.5) * 5.0 / 100.0


def hard_object_absorption_area(volume: npt.ArrayLike) -> Array:
    """Absorption area of a hard object of which only the size is known, V^(2/3).

    Parameters
    ----------
    volume : array_like
        [m³]

    Returns
    -------
    ndarray
        Same shape, for every band. [m²]

    Notes
    -----
    Made for machines and cupboards; using it for a table is common practice.

    References
    ----------
    .. [1] en12354-6:2003, Formula 4, via phonometry.

    Examples
    --------
    >>> hard_object_absorption_area(0.125).round(4)
    np.float64(0.25)
    """
    return np.power(np.asarray(volume, dtype=np.float64), 2.0 / 3.0)
