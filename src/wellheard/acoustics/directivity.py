"""Directivity of first-order microphones and of a talking person."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from wellheard import tables
from wellheard.acoustics.levels import energy_level_db
from wellheard.arrays import Array
from wellheard.bands import OCTAVES

TALKER_ANGLES_DEG = (0, 30, 60, 90, 120, 150, 180)

_ANGLES = np.radians(TALKER_ANGLES_DEG)
_COLUMNS = tuple(f"deg_{angle}" for angle in TALKER_ANGLES_DEG)
_TALKER = tables.load("talker_directivity")
_TALKER_DB = np.array(_TALKER.float_rows(_COLUMNS))  # (7 octaves, 7 angles)
_A_WEIGHTED_DB = dict(
    zip(
        tables.load("talker_directivity_a_weighted").strings("model"),
        np.array(tables.load("talker_directivity_a_weighted").float_rows(_COLUMNS)),
        strict=True,
    )
)

TALKER_DIRECTIVITY_INDEX_DB: tuple[float, ...] = _TALKER.floats("directivity_index_db")
"""Directivity index of a talker over :data:`wellheard.bands.OCTAVES`. [dB]"""

if _TALKER.floats("octave") != OCTAVES:
    raise ValueError("talker_directivity.csv must list the octaves 125 Hz to 8 kHz in order")


def first_order_gain(cosine: npt.ArrayLike, *, a: npt.ArrayLike) -> Array:
    """Pressure gain of a first-order pattern, signed, re its axis.

    Parameters
    ----------
    cosine : array_like
        Cosine of the angle from the axis.
    a : array_like
        Omnidirectional share: 1 omni, 0.5 cardioid, 0.25 hypercardioid, 0 bidirectional.

    Returns
    -------
    ndarray
        Broadcast shape; negative in the rear lobe.

    Notes
    -----
    The same at all frequencies. Real patterns widen below 200 Hz and narrow above 5 kHz.

    References
    ----------
    .. [1] first-order-patterns, integrated numerically; via pyroomacoustics CardioidFamily.

    Examples
    --------
    >>> first_order_gain([1.0, 0.0, -1.0], a=0.25)
    array([ 1.  ,  0.25, -0.5 ])
    """
    omni = np.asarray(a, dtype=np.float64)
    return omni + (1.0 - omni) * np.asarray(cosine, dtype=np.float64)


def random_energy_efficiency(a: npt.ArrayLike) -> Array:
    """Diffuse-field energy of a first-order pattern re an omnidirectional one.

    Parameters
    ----------
    a : array_like
        Omnidirectional share, 0–1.

    Returns
    -------
    ndarray
        Same shape, 1/4–1.

    References
    ----------
    .. [1] first-order-patterns, integrated numerically; via pyroomacoustics CardioidFamily.

    Examples
    --------
    >>> random_energy_efficiency([1.0, 0.5, 0.25]).round(4)
    array([1.    , 0.3333, 0.25  ])
    """
    omni = np.asarray(a, dtype=np.float64)
    return np.square(omni) + np.square(1.0 - omni) / 3.0


def directivity_factor(a: npt.ArrayLike) -> Array:
    """Directivity factor Q of a first-order pattern.

    Parameters
    ----------
    a : array_like
        Omnidirectional share, 0–1.

    Returns
    -------
    ndarray
        Same shape, 1–4.

    References
    ----------
    .. [1] first-order-patterns, integrated numerically; via pyroomacoustics CardioidFamily.

    Examples
    --------
    >>> directivity_factor([1.0, 0.5, 0.25])
    array([1., 3., 4.])
    """
    return 1.0 / random_energy_efficiency(a)


def distance_factor(a: npt.ArrayLike) -> Array:
    """How much farther than an omni a pattern may stand for the same direct-to-reverberant ratio.

    Parameters
    ----------
    a : array_like
        Omnidirectional share, 0–1.

    Returns
    -------
    ndarray
        Same shape, 1–2.

    References
    ----------
    .. [1] first-order-patterns, integrated numerically; via pyroomacoustics CardioidFamily.

    Examples
    --------
    >>> distance_factor([1.0, 0.5, 0.25]).round(3)
    array([1.   , 1.732, 2.   ])
    """
    return np.sqrt(directivity_factor(a))


def off_axis_angle(level_db: float, *, a: float) -> float:
    """Smallest angle from the axis at which a first-order pattern has fallen by a given amount.

    Parameters
    ----------
    level_db : float
        Level re the axis, negative; minus infinity asks for the null. [dB]
    a : float
        Omnidirectional share, 0–1.

    Returns
    -------
    float
        Not a number where the pattern never falls that far. [rad]

    Examples
    --------
    >>> round(2 * math.degrees(off_axis_angle(-6.0, a=0.5)), 1)  # total acceptance angle
    179.7
    """
    if a >= 1.0:
        return math.nan
    cosine = (10.0 ** (level_db / 20.0) - a) / (1.0 - a)
    return math.acos(cosine) if -1.0 <= cosine <= 1.0 else math.nan


def front_to_rear_db(a: npt.ArrayLike) -> Array:
    """Diffuse energy taken from the front half-space over that from the rear.

    Parameters
    ----------
    a : array_like
        Omnidirectional share, 0–1.

    Returns
    -------
    ndarray
        Same shape. [dB]

    References
    ----------
    .. [1] first-order-patterns, integrated numerically; via pyroomacoustics CardioidFamily.

    Examples
    --------
    >>> front_to_rear_db([1.0, 0.5, 0.0]).round(2)
    array([0.  , 8.45, 0.  ])
    """
    omni = np.asarray(a, dtype=np.float64)
    even = np.square(omni) + np.square(1.0 - omni) / 3.0
    odd = omni * (1.0 - omni)
    return energy_level_db((even + odd) / (even - odd))


def talker_level_db(angle: npt.ArrayLike) -> Array:
    """Level of running speech off the mouth axis re in front, by octave.

    Parameters
    ----------
    angle : array_like, shape (...)
        From the mouth axis, any plane through it; 0 to π. [rad]

    Returns
    -------
    ndarray, shape (..., 7)
        Over :data:`wellheard.bands.OCTAVES`. [dB]

    Raises
    ------
    ValueError
        If an angle lies outside 0 to π.

    Notes
    -----
    Piecewise linear in angle between the seven measured ones, so nothing lies outside what
    was measured. Measured in the horizontal plane and used for every plane: what the torso
    and papers on the table do to sound going down, or up, is not in it.

    References
    ----------
    .. [1] kocon-monson:2018, Table 1, via an open copy; octaves computed.

    Examples
    --------
    >>> talker_level_db(np.pi)
    array([ -3.7,  -5.2,  -5.9,  -5.3, -13. , -18.8, -26. ])
    """
    at = _checked(angle)
    level = np.empty((*at.shape, len(OCTAVES)))
    for band, measured in enumerate(_TALKER_DB):
        level[..., band] = np.interp(at, _ANGLES, measured)
    return level


def talker_level_dba(angle: npt.ArrayLike) -> Array:
    """A-weighted level of running speech off the mouth axis re in front.

    Parameters
    ----------
    angle : array_like
        From the mouth axis; 0 to π. [rad]

    Returns
    -------
    ndarray
        Same shape. [dB]

    Raises
    ------
    ValueError
        If an angle lies outside 0 to π.

    References
    ----------
    .. [1] kocon-monson:2018, Table 1, via an open copy; A-weighted sums computed.

    Examples
    --------
    >>> talker_level_dba(np.radians([90.0, 180.0]))
    array([-1.8, -6.3])
    """
    return np.interp(_checked(angle), _ANGLES, _A_WEIGHTED_DB["measured"])


def talker_level_dba_steep(angle: npt.ArrayLike) -> Array:
    """Pessimistic bound of the A-weighted level of speech off the mouth axis re in front.

    Parameters
    ----------
    angle : array_like
        From the mouth axis; 0 to π. [rad]

    Returns
    -------
    ndarray
        Same shape; up to 2.7 dB below :func:`talker_level_dba`. [dB]

    Raises
    ------
    ValueError
        If an angle lies outside 0 to π.

    References
    ----------
    .. [1] chu-warnock:2002, from memory.

    Examples
    --------
    >>> talker_level_dba_steep(np.radians([90.0, 180.0]))
    array([-3.5, -9. ])
    """
    return np.interp(_checked(angle), _ANGLES, _A_WEIGHTED_DB["steep"])


def _checked(angle: npt.ArrayLike) -> Array:
    at = np.asarray(angle, dtype=np.float64)
    # a rounding error past π is an angle of π
    if not np.all((at >= 0.0) & (at <= np.pi + 1e-9)):
        raise ValueError("angles from the mouth axis must lie between 0 and π rad")
    return at
