"""Clarity of a direct sound followed at once by an exponential decay.

The direct-to-reverberant ratio is an energy ratio; 0 gives the ideal decay without a direct
sound, infinity an open field.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from wellheard.acoustics.field import DECAY
from wellheard.acoustics.levels import energy_level_db
from wellheard.arrays import Array


def early_share(
    direct_to_reverberant: npt.ArrayLike,
    *,
    reverberation_time: npt.ArrayLike,
    early_time: float = 0.05,
) -> Array:
    """Share of all energy that arrives early, direct sound included; D50 by default.

    Parameters
    ----------
    direct_to_reverberant : array_like
        Energy ratio, not decibels.
    reverberation_time : array_like
        [s]
    early_time : float
        After the direct sound. [s]

    Returns
    -------
    ndarray
        Broadcast shape, 0–1.

    References
    ----------
    .. [1] iso3382-1:2009, definition; ideal decay computed.

    Examples
    --------
    >>> early_share([0.0, 1.0], reverberation_time=0.5).round(4)
    array([0.7488, 0.8744])
    """
    return 1.0 - _late_share(direct_to_reverberant, reverberation_time, early_time)


def clarity_direct_plus_exponential(
    direct_to_reverberant: npt.ArrayLike,
    *,
    reverberation_time: npt.ArrayLike,
    early_time: float = 0.05,
) -> Array:
    """Early over late energy; C50 by default, C80 with 0.08 s.

    Parameters
    ----------
    direct_to_reverberant : array_like
        Energy ratio, not decibels.
    reverberation_time : array_like
        [s]
    early_time : float
        After the direct sound. [s]

    Returns
    -------
    ndarray
        Broadcast shape; infinite without late energy. [dB]

    References
    ----------
    .. [1] iso3382-1:2009, definition; ideal decay computed.

    Examples
    --------
    >>> clarity_direct_plus_exponential([0.0, 1.0], reverberation_time=0.5).round(3)
    array([4.744, 8.427])
    """
    late = _late_share(direct_to_reverberant, reverberation_time, early_time)
    return energy_level_db(1.0 - late) - energy_level_db(late)


def centre_time_direct_plus_exponential(
    direct_to_reverberant: npt.ArrayLike, *, reverberation_time: npt.ArrayLike
) -> Array:
    """Centre of gravity of the energy over time.

    Parameters
    ----------
    direct_to_reverberant : array_like
        Energy ratio, not decibels.
    reverberation_time : array_like
        [s]

    Returns
    -------
    ndarray
        Broadcast shape. [s]

    References
    ----------
    .. [1] iso3382-1:2009, definition; ideal decay computed.

    Examples
    --------
    >>> centre_time_direct_plus_exponential([0.0, 1.0], reverberation_time=0.5).round(5)
    array([0.03619, 0.0181 ])
    """
    return np.asarray(reverberation_time, dtype=np.float64) / DECAY / _total(direct_to_reverberant)


def _late_share(
    direct_to_reverberant: npt.ArrayLike, reverberation_time: npt.ArrayLike, early_time: float
) -> Array:
    time = np.asarray(reverberation_time, dtype=np.float64)
    return np.exp(-DECAY * early_time / time) / _total(direct_to_reverberant)


def _total(direct_to_reverberant: npt.ArrayLike) -> Array:
    return 1.0 + np.asarray(direct_to_reverberant, dtype=np.float64)
