"""Reverberation times: one function per published model, bands last.

All take keyword arguments only::

    volume           (...)                  [m³]
    areas            (..., surfaces)        [m²]
    absorption       (..., surfaces, bands) coefficients
    objects          (..., bands)           absorption area of people, chairs, tables [m²]
    air              (bands,)               power attenuation m of the air [1/m]
    speed_of_sound   (...)                  [m/s]

Fitzroy and Arau-Puchades want three "surfaces": the pairs that face x, y and z. Objects and
air act in the volume, so they add to the denominator of every model, as the air term 4mV does
in the sources; absorption then collapses to the same time in all models when surfaces are alike.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from wellheard.acoustics.absorption import absorption_area, mean_absorption
from wellheard.acoustics.field import sabine_constant
from wellheard.arrays import Array


def reverberation_time_sabine(
    *,
    volume: npt.ArrayLike,
    areas: npt.ArrayLike,
    absorption: npt.ArrayLike,
    objects: npt.ArrayLike = 0.0,
    air: npt.ArrayLike = 0.0,
    speed_of_sound: npt.ArrayLike = 343.0,
) -> Array:
    """Reverberation time after Sabine.

    Parameters
    ----------
    volume, areas, absorption, objects, air, speed_of_sound : array_like
        See the module.

    Returns
    -------
    ndarray, shape (..., bands)
        [s]

    Notes
    -----
    Diffuse field, mean absorption below about 0.2. Does not reach 0 when everything absorbs.

    References
    ----------
    .. [1] kuttruff2009, via phonometry and python-acoustics.

    Examples
    --------
    >>> reverberation_time_sabine(volume=90.0, areas=[126.0], absorption=[[0.2]]).round(4)
    array([0.5754])
    """
    area = absorption_area(absorption, areas=areas)
    return _time(area, volume, objects, air, speed_of_sound)


def reverberation_time_eyring(
    *,
    volume: npt.ArrayLike,
    areas: npt.ArrayLike,
    absorption: npt.ArrayLike,
    objects: npt.ArrayLike = 0.0,
    air: npt.ArrayLike = 0.0,
    speed_of_sound: npt.ArrayLike = 343.0,
) -> Array:
    """Reverberation time after Eyring and Norris.

    Parameters
    ----------
    volume, areas, absorption, objects, air, speed_of_sound : array_like
        See the module; no coefficient above 1.

    Returns
    -------
    ndarray, shape (..., bands)
        [s]

    Raises
    ------
    ValueError
        If a coefficient exceeds 1: cap it first.

    Notes
    -----
    Diffuse field, even absorption. In a bare box with plane walls the decay is slower, often
    nearer to Sabine.

    References
    ----------
    .. [1] kuttruff2009, via phonometry and python-acoustics.

    Examples
    --------
    >>> reverberation_time_eyring(volume=90.0, areas=[126.0], absorption=[[0.2]]).round(4)
    array([0.5157])
    """
    exponent = absorption_exponent(mean_absorption(_capped(absorption), areas=areas))
    area = _total(areas)[..., None] * exponent
    return _time(area, volume, objects, air, speed_of_sound)


def reverberation_time_millington(
    *,
    volume: npt.ArrayLike,
    areas: npt.ArrayLike,
    absorption: npt.ArrayLike,
    objects: npt.ArrayLike = 0.0,
    air: npt.ArrayLike = 0.0,
    speed_of_sound: npt.ArrayLike = 343.0,
) -> Array:
    """Reverberation time after Millington and Sette.

    Parameters
    ----------
    volume, areas, absorption, objects, air, speed_of_sound : array_like
        See the module; no coefficient above 1.

    Returns
    -------
    ndarray, shape (..., bands)
        [s]

    Raises
    ------
    ValueError
        If a coefficient exceeds 1: cap it first.

    Notes
    -----
    Fails as one coefficient nears 1: a single perfect absorber of any size gives no
    reverberation at all.

    References
    ----------
    .. [1] kuttruff2009, via phonometry.

    Examples
    --------
    >>> reverberation_time_millington(
    ...     volume=72.9, areas=[56.7, 27.0, 27.0], absorption=[[0.05], [0.3], [0.7]]
    ... ).round(4)
    array([0.2607])
    """
    area = absorption_area(absorption_exponent(_capped(absorption)), areas=areas)
    return _time(area, volume, objects, air, speed_of_sound)


def reverberation_time_fitzroy(
    *,
    volume: npt.ArrayLike,
    areas: npt.ArrayLike,
    absorption: npt.ArrayLike,
    objects: npt.ArrayLike = 0.0,
    air: npt.ArrayLike = 0.0,
    speed_of_sound: npt.ArrayLike = 343.0,
) -> Array:
    """Reverberation time after Fitzroy: the times of the three wall pairs, averaged by area.

    Parameters
    ----------
    volume, areas, absorption, objects, air, speed_of_sound : array_like
        See the module; areas (..., 3) of the pairs facing x, y and z, and their mean
        absorption (..., 3, bands), no coefficient above 1.

    Returns
    -------
    ndarray, shape (..., bands)
        [s]

    Raises
    ------
    ValueError
        If there are not three pairs, or a coefficient exceeds 1.

    Notes
    -----
    For boxes. Overshoots with one soft pair: a bare pair alone is taken to ring on undisturbed.

    References
    ----------
    .. [1] fitzroy:1959, via phonometry and python-acoustics.

    Examples
    --------
    >>> reverberation_time_fitzroy(
    ...     volume=72.9, areas=[24.3, 32.4, 54.0], absorption=[[0.05], [0.05], [0.5]]
    ... ).round(4)
    array([1.1341])
    """
    times, share = _axis_times(volume, areas, absorption, objects, air, speed_of_sound)
    return np.sum(share * times, axis=-2)


def reverberation_time_arau_puchades(
    *,
    volume: npt.ArrayLike,
    areas: npt.ArrayLike,
    absorption: npt.ArrayLike,
    objects: npt.ArrayLike = 0.0,
    air: npt.ArrayLike = 0.0,
    speed_of_sound: npt.ArrayLike = 343.0,
) -> Array:
    """Reverberation time after Arau-Puchades: the geometric mean of the three wall pairs.

    Parameters
    ----------
    volume, areas, absorption, objects, air, speed_of_sound : array_like
        See the module; areas (..., 3) of the pairs facing x, y and z, and their mean
        absorption (..., 3, bands), no coefficient above 1.

    Returns
    -------
    ndarray, shape (..., bands)
        [s]

    Raises
    ------
    ValueError
        If there are not three pairs, or a coefficient exceeds 1.

    Notes
    -----
    For boxes with uneven absorption; equals Eyring when absorption is even and never exceeds
    Fitzroy.

    References
    ----------
    .. [1] arau-puchades:1988, via phonometry and python-acoustics.

    Examples
    --------
    >>> reverberation_time_arau_puchades(
    ...     volume=72.9, areas=[24.3, 32.4, 54.0], absorption=[[0.05], [0.05], [0.5]]
    ... ).round(4)
    array([0.5808])
    """
    times, share = _axis_times(volume, areas, absorption, objects, air, speed_of_sound)
    return np.prod(np.power(times, share), axis=-2)


def reverberation_time_kuttruff(
    *,
    volume: npt.ArrayLike,
    areas: npt.ArrayLike,
    absorption: npt.ArrayLike,
    path_variance: npt.ArrayLike,
    objects: npt.ArrayLike = 0.0,
    air: npt.ArrayLike = 0.0,
    speed_of_sound: npt.ArrayLike = 343.0,
) -> Array:
    """Reverberation time after Kuttruff: Eyring's, corrected for unequal free paths.

    Parameters
    ----------
    volume, areas, absorption, objects, air, speed_of_sound : array_like
        See the module; no coefficient above 1.
    path_variance : array_like, shape (...)
        Relative variance γ² of the free paths: 0.345 in a cube, 0.36–0.41 in meeting rooms.

    Returns
    -------
    ndarray, shape (..., bands)
        Not a number where the mean absorption exceeds 1 − e^(−1/γ²), 0.92 for 0.4: there the
        correction, of second order, has turned round. [s]

    Raises
    ------
    ValueError
        If a coefficient exceeds 1: cap it first.

    Notes
    -----
    Diffusely reflecting walls.

    References
    ----------
    .. [1] kuttruff2009, path-length spread.

    Examples
    --------
    >>> reverberation_time_kuttruff(
    ...     volume=90.0, areas=[126.0], absorption=[[0.2]], path_variance=0.4
    ... ).round(4)
    array([0.5398])
    """
    a = absorption_exponent(mean_absorption(_capped(absorption), areas=areas))
    spread = np.asarray(path_variance, dtype=np.float64)[..., None]
    with np.errstate(invalid="ignore"):  # infinity times nothing, where all is absorbed
        corrected = np.where(spread * a <= 1.0, a * (1.0 - 0.5 * spread * a), np.nan)
    area = _total(areas)[..., None] * corrected
    return _time(area, volume, objects, air, speed_of_sound)


def reverberation_time_kuttruff_uneven(
    *,
    volume: npt.ArrayLike,
    areas: npt.ArrayLike,
    absorption: npt.ArrayLike,
    objects: npt.ArrayLike = 0.0,
    air: npt.ArrayLike = 0.0,
    speed_of_sound: npt.ArrayLike = 343.0,
) -> Array:
    """Reverberation time after Kuttruff: Eyring's, corrected for unequal plane walls.

    Parameters
    ----------
    volume, areas, absorption, objects, air, speed_of_sound : array_like
        See the module; one entry per plane wall, no coefficient above 1.

    Returns
    -------
    ndarray, shape (..., bands)
        [s]

    Raises
    ------
    ValueError
        If a coefficient exceeds 1: cap it first.

    Notes
    -----
    Diffusely reflecting walls. A plane wall sends nothing to itself, so how the surface is
    divided into walls matters: list each plane wall once.

    References
    ----------
    .. [1] kuttruff2009, unequal walls, from memory with the derivation done again.

    Examples
    --------
    >>> reverberation_time_kuttruff_uneven(
    ...     volume=72.9,
    ...     areas=[12.15, 12.15, 16.2, 16.2, 27.0, 27.0],
    ...     absorption=[[0.05], [0.05], [0.05], [0.05], [0.3], [0.7]],
    ... ).round(4)
    array([0.3261])
    """
    wall = np.asarray(areas, dtype=np.float64)[..., None]
    rho = 1.0 - _capped(absorption)
    total = np.sum(wall, axis=-2)
    mean = np.sum(wall * rho, axis=-2) / total
    uneven = np.sum(rho * (rho - mean[..., None, :]) * np.square(wall), axis=-2)
    even = np.square(mean * total) - np.sum(np.square(rho * wall), axis=-2)
    exponent = absorption_exponent(1.0 - mean) + np.log1p(uneven / even)
    return _time(total * exponent, volume, objects, air, speed_of_sound)


def reverberation_time_en12354_6(
    *,
    volume: npt.ArrayLike,
    areas: npt.ArrayLike,
    absorption: npt.ArrayLike,
    object_volume: npt.ArrayLike,
    objects: npt.ArrayLike = 0.0,
    air: npt.ArrayLike = 0.0,
    speed_of_sound: npt.ArrayLike = 343.0,
) -> Array:
    """Reverberation time with bulky objects: Sabine's in the volume they leave.

    Parameters
    ----------
    volume, areas, absorption, objects, air, speed_of_sound : array_like
        See the module.
    object_volume : array_like, shape (...)
        Volume that objects take out of ``volume``. [m³]

    Returns
    -------
    ndarray, shape (..., bands)
        [s]

    Notes
    -----
    The standard rounds the constant to 55.3/c; 24·ln 10/c is used here, 0.07 % less.

    References
    ----------
    .. [1] en12354-6:2003, via phonometry.

    Examples
    --------
    >>> reverberation_time_en12354_6(
    ...     volume=90.0, areas=[126.0], absorption=[[0.2]], object_volume=9.0
    ... ).round(4)
    array([0.5179])
    """
    left = np.asarray(volume, dtype=np.float64) - np.asarray(object_volume, dtype=np.float64)
    area = absorption_area(absorption, areas=areas)
    return _time(area, left, objects, air, speed_of_sound)


def absorption_exponent(absorption: npt.ArrayLike) -> Array:
    """Eyring's exponent −ln(1 − α).

    Parameters
    ----------
    absorption : array_like
        0–1; 1 gives infinity.

    Returns
    -------
    ndarray
        Same shape.

    References
    ----------
    .. [1] kuttruff2009, Eyring's formula.

    Examples
    --------
    >>> absorption_exponent([0.0, 0.2]).round(4)
    array([0.    , 0.2231])
    """
    with np.errstate(divide="ignore"):
        return -np.log1p(-np.asarray(absorption, dtype=np.float64))


def _time(
    area: Array,
    volume: npt.ArrayLike,
    objects: npt.ArrayLike,
    air: npt.ArrayLike,
    speed_of_sound: npt.ArrayLike,
) -> Array:
    v = np.asarray(volume, dtype=np.float64)[..., None]
    k = sabine_constant(speed_of_sound)[..., None]
    denominator = area + np.asarray(objects, dtype=np.float64) + 4.0 * np.asarray(air) * v
    with np.errstate(divide="ignore"):  # nothing absorbs: the room rings for ever
        return k * v / denominator


def _axis_times(
    volume: npt.ArrayLike,
    areas: npt.ArrayLike,
    absorption: npt.ArrayLike,
    objects: npt.ArrayLike,
    air: npt.ArrayLike,
    speed_of_sound: npt.ArrayLike,
) -> tuple[Array, Array]:
    """Times (..., 3, bands), as if all walls were like this pair, and shares (..., 3, 1)."""
    pairs = np.asarray(areas, dtype=np.float64)
    exponent = absorption_exponent(_capped(absorption))
    if pairs.shape[-1:] != (3,) or exponent.shape[-2:-1] != (3,):
        raise ValueError(
            f"areas {pairs.shape} and absorption {exponent.shape} need three wall pairs, x, y, z"
        )
    total = _total(pairs)[..., None, None]
    in_volume = np.asarray(objects, dtype=np.float64)
    times = _time(
        total * exponent,
        np.asarray(volume, dtype=np.float64)[..., None],
        in_volume if in_volume.ndim == 0 else in_volume[..., None, :],
        air,
        np.asarray(speed_of_sound, dtype=np.float64)[..., None],
    )
    return times, pairs[..., None] / total


def _total(areas: npt.ArrayLike) -> Array:
    return np.sum(np.asarray(areas, dtype=np.float64), axis=-1)


def _capped(absorption: npt.ArrayLike) -> Array:
    given = np.asarray(absorption, dtype=np.float64)
    if np.any(given > 1.0):
        raise ValueError(
            f"absorption {np.max(given):g} exceeds 1, which this model cannot take; cap it first"
        )
    return given
