"""How long an ear may be exposed to a level at work.

A tool does not make a loud room safe: what binds is the law of the place.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from wellheard.arrays import Array


def allowed_hours(level_dba: npt.ArrayLike, *, criterion_dba: float, exchange_db: float) -> Array:
    """Time that a steady level is allowed for in a day.

    Parameters
    ----------
    level_dba : array_like
        At the ear. [dB(A)]
    criterion_dba : float
        Level that is allowed for eight hours. [dB(A)]
    exchange_db : float
        Rise of level that halves the time. [dB]

    Returns
    -------
    ndarray
        ``8/2^((L − criterion)/exchange)``; more than a day is no limit. [h]

    References
    ----------
    .. [1] niosh1998, recommended exposure limit, via open texts.

    Examples
    --------
    >>> allowed_hours([85.0, 88.0], criterion_dba=85.0, exchange_db=3.0)
    array([8., 4.])
    """
    over = np.asarray(level_dba, dtype=np.float64) - criterion_dba
    return np.asarray(8.0 / 2.0 ** (over / exchange_db), dtype=np.float64)


def allowed_hours_niosh(level_dba: npt.ArrayLike) -> Array:
    """Time that a steady level is recommended for at most: 85 dB(A) for eight hours, 3 dB halve.

    Parameters
    ----------
    level_dba : array_like
        At the ear. [dB(A)]

    Returns
    -------
    ndarray
        [h]

    Notes
    -----
    The stricter of the two, and that of equal energy: the one to plan by.

    References
    ----------
    .. [1] niosh1998, recommended exposure limit, via open texts.

    Examples
    --------
    >>> allowed_hours_niosh([94.0, 100.0])
    array([1.  , 0.25])
    """
    return allowed_hours(level_dba, criterion_dba=85.0, exchange_db=3.0)


def allowed_hours_osha(level_dba: npt.ArrayLike) -> Array:
    """Time that a steady level is permitted for: 90 dB(A) for eight hours, 5 dB halve.

    Parameters
    ----------
    level_dba : array_like
        At the ear, time constant slow. [dB(A)]

    Returns
    -------
    ndarray
        [h]

    Notes
    -----
    The printed table rounds: 6 h at 92, 1½ h at 102 dB(A). Above 115 dB(A) no steady sound is
    permitted at any length.

    References
    ----------
    .. [1] cfr-29-1910-95, Table G-16.

    Examples
    --------
    >>> allowed_hours_osha([90.0, 95.0, 105.0])
    array([8., 4., 1.])
    """
    return allowed_hours(level_dba, criterion_dba=90.0, exchange_db=5.0)
