"""Direct and reverberant sound in a room: statistical theory and Barron's revision of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from wellheard.acoustics.levels import energy, energy_level_db
from wellheard.arrays import Array

DECAY = 6.0 * np.log(10.0)
"""Decay constant times reverberation time: 60 dB as a natural exponent, 13.8155."""

BARRON_SLOPE = 0.04
"""Loss of reverberant energy by the time the direct sound has come 1 m, times the reverberation
time, as a natural exponent, as Barron prints it (13.8155/c is 0.0403). [s/m]"""


def sabine_constant(speed_of_sound: npt.ArrayLike = 343.0) -> Array:
    """Constant between volume over absorption area and reverberation time, 24·ln 10/c.

    Parameters
    ----------
    speed_of_sound : array_like
        [m/s]

    Returns
    -------
    ndarray
        [s/m]

    References
    ----------
    .. [1] kuttruff2009, the reverberation formula of a diffuse field.

    Examples
    --------
    >>> sabine_constant(343.0).round(5)
    np.float64(0.16111)
    """
    return 24.0 * np.log(10.0) / np.asarray(speed_of_sound, dtype=np.float64)


def schroeder_frequency(reverberation_time: npt.ArrayLike, *, volume: npt.ArrayLike) -> Array:
    """Frequency below which single modes, not statistics, rule.

    Parameters
    ----------
    reverberation_time : array_like
        [s]
    volume : array_like
        [m³]

    Returns
    -------
    ndarray
        [Hz]

    References
    ----------
    .. [1] kuttruff2009, 2000·√(T/V).

    Examples
    --------
    >>> schroeder_frequency(0.5157, volume=90.0).round(1)
    np.float64(151.4)
    """
    return 2000.0 * np.sqrt(_f(reverberation_time) / _f(volume))


def mean_free_path(volume: npt.ArrayLike, *, area: npt.ArrayLike) -> Array:
    """Mean distance between two reflections, 4V/S.

    Parameters
    ----------
    volume : array_like
        [m³]
    area : array_like
        Total boundary. [m²]

    Returns
    -------
    ndarray
        [m]

    References
    ----------
    .. [1] kuttruff2009, diffuse field.

    Examples
    --------
    >>> mean_free_path(90.0, area=126.0).round(3)
    np.float64(2.857)
    """
    return 4.0 * _f(volume) / _f(area)


def room_constant(mean_absorption: npt.ArrayLike, *, area: npt.ArrayLike) -> Array:
    """Room constant R = Sᾱ/(1 − ᾱ): absorption area that sound meets after its first reflection.

    Parameters
    ----------
    mean_absorption : array_like
        Below 1.
    area : array_like
        Total boundary. [m²]

    Returns
    -------
    ndarray
        [m²]

    References
    ----------
    .. [1] bies-hansen-howard, steady field of a room, via phonometry.

    Examples
    --------
    >>> room_constant(0.2, area=126.0).round(3)
    np.float64(31.5)
    """
    alpha = _f(mean_absorption)
    return _f(area) * alpha / (1.0 - alpha)


def critical_distance(absorption_area: npt.ArrayLike, *, directivity: npt.ArrayLike = 1.0) -> Array:
    """Distance at which direct and reverberant energy are equal, √(QA/16π).

    Parameters
    ----------
    absorption_area : array_like
        The room constant for the form of Bies, the plain absorption area for Kuttruff's; they
        differ, so say which one a printed value used. [m²]
    directivity : array_like
        Directivity factors of source and receiver, multiplied.

    Returns
    -------
    ndarray
        [m]

    References
    ----------
    .. [1] kuttruff2009, with the absorption area.
    .. [2] bies-hansen-howard, with the room constant.

    Examples
    --------
    >>> critical_distance([31.5, 25.2]).round(3)
    array([0.792, 0.708])
    """
    return np.sqrt(_f(directivity) * _f(absorption_area) / (16.0 * np.pi))


def steady_level_db(
    distance: npt.ArrayLike,
    *,
    absorption_area: npt.ArrayLike,
    directivity: npt.ArrayLike = 1.0,
) -> Array:
    """Steady sound pressure level of a source re its sound power level.

    Parameters
    ----------
    distance : array_like
        [m]
    absorption_area : array_like
        Room constant. [m²]
    directivity : array_like
        Directivity factor of the source towards the receiver.

    Returns
    -------
    ndarray
        [dB]

    Notes
    -----
    The reverberant part is the same everywhere. Against image sources in a bare box within
    1.3 dB from 0.5 to 3 m.

    References
    ----------
    .. [1] bies-hansen-howard, steady field of a room, via phonometry.

    Examples
    --------
    >>> steady_level_db([1.0, 3.0], absorption_area=30.0, directivity=2.0).round(2)
    array([-5.34, -8.21])
    """
    direct = _f(directivity) / (4.0 * np.pi * np.square(_f(distance)))
    return energy_level_db(direct + 4.0 / _f(absorption_area))


def direct_to_reverberant_db(
    distance: npt.ArrayLike,
    *,
    absorption_area: npt.ArrayLike,
    source_directivity: npt.ArrayLike = 1.0,
    receiver_directivity: npt.ArrayLike = 1.0,
) -> Array:
    """Direct over reverberant energy in a uniform reverberant field.

    Parameters
    ----------
    distance : array_like
        [m]
    absorption_area : array_like
        Room constant. [m²]
    source_directivity, receiver_directivity : array_like
        Directivity factors towards each other.

    Returns
    -------
    ndarray
        [dB]

    References
    ----------
    .. [1] bies-hansen-howard, steady field of a room, via phonometry.

    Examples
    --------
    >>> direct_to_reverberant_db(2.0, absorption_area=40.843).round(2)
    np.float64(-6.92)
    """
    q = _f(source_directivity) * _f(receiver_directivity)
    return energy_level_db(q * _f(absorption_area) / (16.0 * np.pi * np.square(_f(distance))))


def diffuse_energy(
    distance: npt.ArrayLike,
    *,
    reverberation_time: npt.ArrayLike,
    volume: npt.ArrayLike,
    directivity_index_db: npt.ArrayLike = 0.0,
    random_energy_efficiency: npt.ArrayLike = 1.0,
    speed_of_sound: npt.ArrayLike = 343.0,
) -> Array:
    """Reverberant energy re the source's free-field energy 1 m in front of it.

    All arguments broadcast against each other; give ``distance`` a last axis of one to meet
    bands.

    Parameters
    ----------
    distance : array_like
        From the source. [m]
    reverberation_time : array_like
        [s]
    volume : array_like
        [m³]
    directivity_index_db : array_like
        Of the source: a directive source feeds the room less for the same level in front. [dB]
    random_energy_efficiency : array_like
        Of the receiver, 1 for an omnidirectional one.
    speed_of_sound : array_like
        [m/s]

    Returns
    -------
    ndarray
        Ratio.

    Notes
    -----
    Steady diffuse field 16π/A with A = 24·ln 10/c·V/T, times Barron's e^(−0.04 r/T): at a
    distance, what the room had lost before the direct sound arrived cannot be heard. Made for
    distances from the critical one up to 40 m in proportionate rooms.

    References
    ----------
    .. [1] barron-lee:1988, revised theory, from memory.
    .. [2] kuttruff2009, steady diffuse field.

    Examples
    --------
    >>> diffuse_energy([2.0, 4.0], reverberation_time=0.5, volume=100.0).round(3)
    array([1.329, 1.133])
    """
    t = _f(reverberation_time)
    area = sabine_constant(speed_of_sound) * _f(volume) / t
    source = energy(-_f(directivity_index_db))
    late = np.exp(-BARRON_SLOPE * _f(distance) / t)
    return 16.0 * np.pi * source / area * late * _f(random_energy_efficiency)


@dataclass(frozen=True)
class BarronField:
    """Energies re the free field at 10 m, and the measures made of them.

    Early and late are split at 80 ms and at 50 ms after the direct sound.
    """

    direct: Array
    early_80ms: Array
    late_80ms: Array
    early_50ms: Array
    late_50ms: Array
    strength_db: Array
    c80_db: Array
    c50_db: Array
    d50: Array
    direct_to_reverberant_db: Array


def barron_levels(
    distance: npt.ArrayLike, *, reverberation_time: npt.ArrayLike, volume: npt.ArrayLike
) -> BarronField:
    """Strength and clarity of an omnidirectional source by Barron's revised theory.

    Parameters
    ----------
    distance : array_like
        [m]
    reverberation_time : array_like
        [s]
    volume : array_like
        [m³]

    Returns
    -------
    BarronField

    Notes
    -----
    The early share follows 13.8155·t/T exactly and early and late parts carry the same
    distance factor, so both fall together with distance.

    References
    ----------
    .. [1] barron-lee:1988, revised theory, from memory.

    Examples
    --------
    >>> hall = barron_levels(4.0, reverberation_time=0.5, volume=100.0)
    >>> float(hall.strength_db.round(2)), float(hall.c50_db.round(2))
    (20.77, 5.05)
    """
    r, t = _f(distance), _f(reverberation_time)
    direct = 100.0 / np.square(r)
    reverberant = 31200.0 * t / _f(volume) * np.exp(-BARRON_SLOPE * r / t)
    late_80, late_50 = (reverberant * np.exp(-DECAY * early / t) for early in (0.08, 0.05))
    early_80, early_50 = reverberant - late_80, reverberant - late_50
    total = direct + reverberant
    return BarronField(
        direct=direct,
        early_80ms=early_80,
        late_80ms=late_80,
        early_50ms=early_50,
        late_50ms=late_50,
        strength_db=energy_level_db(total),
        c80_db=energy_level_db((direct + early_80) / late_80),
        c50_db=energy_level_db((direct + early_50) / late_50),
        d50=(direct + early_50) / total,
        direct_to_reverberant_db=energy_level_db(direct / reverberant),
    )


def _f(value: npt.ArrayLike) -> Array:
    return np.asarray(value, dtype=np.float64)
