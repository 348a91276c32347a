"""Energy arithmetic on levels."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from wellheard import units
from wellheard.arrays import Array
from wellheard.bands import A_WEIGHT_DB, C_WEIGHT_DB, OCTAVES


def energy(level_db: npt.ArrayLike) -> Array:
    """Energy ratio of a level.

    Parameters
    ----------
    level_db : array_like
        Minus infinity stands for nothing at all. [dB]

    Returns
    -------
    ndarray
        Same shape, re the reference of the level.

    Examples
    --------
    >>> energy([0.0, 20.0])
    array([  1., 100.])
    """
    return units.energy(np.asarray(level_db, dtype=np.float64))


def energy_level_db(energy: npt.ArrayLike) -> Array:
    """Level of an energy ratio; nothing at all is minus infinity.

    Parameters
    ----------
    energy : array_like
        Not negative.

    Returns
    -------
    ndarray
        Same shape. [dB]

    Examples
    --------
    >>> energy_level_db([1.0, 100.0, 0.0])
    array([  0.,  20., -inf])
    """
    return units.level_db(np.asarray(energy, dtype=np.float64))


def sum_levels_db(levels_db: npt.ArrayLike, axis: int | tuple[int, ...] | None = -1) -> Array:
    """Level of the energy sum of incoherent levels.

    Parameters
    ----------
    levels_db : array_like
        [dB]
    axis : int, tuple of int or None
        Axis to collapse; None collapses all.

    Returns
    -------
    ndarray
        [dB]

    Examples
    --------
    >>> sum_levels_db([60.0, 60.0]).round(3)
    np.float64(63.01)
    """
    return energy_level_db(np.sum(energy(levels_db), axis=axis))


def mean_level_db(levels_db: npt.ArrayLike) -> float:
    """Level of the mean energy of some levels.

    Parameters
    ----------
    levels_db : array_like
        One at least. [dB]

    Examples
    --------
    >>> round(mean_level_db([70.0, 73.0]), 2)
    71.75
    """
    return float(energy_level_db(energy(levels_db).mean()))


def a_weights_db(octaves: tuple[float, ...] = OCTAVES) -> Array:
    """A-weights of nominal octaves as an array.

    Parameters
    ----------
    octaves : tuple of float
        Nominal. [Hz]

    Returns
    -------
    ndarray, shape (bands,)
        [dB]

    Raises
    ------
    ValueError
        If an octave is not in the table.

    References
    ----------
    .. [1] iec61672-1:2013, octave values of the nominal table, via python-acoustics.

    Examples
    --------
    >>> a_weights_db((63.0, 4000.0))
    array([-26.2,   1. ])
    """
    return _weights(A_WEIGHT_DB, octaves)


def c_weights_db(octaves: tuple[float, ...] = OCTAVES) -> Array:
    """C-weights of nominal octaves as an array.

    Parameters
    ----------
    octaves : tuple of float
        Nominal. [Hz]

    Returns
    -------
    ndarray, shape (bands,)
        [dB]

    Raises
    ------
    ValueError
        If an octave is not in the table.

    References
    ----------
    .. [1] iec61672-1:2013, octave values of the nominal table, via python-acoustics.

    Examples
    --------
    >>> c_weights_db((63.0, 4000.0))
    array([-0.8, -0.8])
    """
    return _weights(C_WEIGHT_DB, octaves)


def a_weighted_level_db(levels_db: npt.ArrayLike, *, octaves: tuple[float, ...] = OCTAVES) -> Array:
    """A-weighted total of octave levels; collapses the band axis.

    Parameters
    ----------
    levels_db : array_like, shape (..., bands)
        [dB]
    octaves : tuple of float
        Nominal octaves of the last axis. [Hz]

    Returns
    -------
    ndarray, shape (...)
        [dB(A)]

    Raises
    ------
    ValueError
        If the last axis does not have one level per octave.

    Notes
    -----
    Uses the nominal table, so a spectrum that falls steeply inside a band differs by some
    tenths of a decibel from a narrow-band reading.

    References
    ----------
    .. [1] iec61672-1:2013, octave values of the nominal table, via python-acoustics.

    Examples
    --------
    >>> a_weighted_level_db([49.9, 54.3, 58.0, 52.0, 44.8, 38.8, 33.5]).round(1)
    np.float64(57.4)
    """
    return _weighted(levels_db, a_weights_db(octaves))


def c_weighted_level_db(levels_db: npt.ArrayLike, *, octaves: tuple[float, ...] = OCTAVES) -> Array:
    """C-weighted total of octave levels; collapses the band axis.

    Parameters
    ----------
    levels_db : array_like, shape (..., bands)
        [dB]
    octaves : tuple of float
        Nominal octaves of the last axis. [Hz]

    Returns
    -------
    ndarray, shape (...)
        [dB(C)]

    Raises
    ------
    ValueError
        If the last axis does not have one level per octave.

    References
    ----------
    .. [1] iec61672-1:2013, octave values of the nominal table, via python-acoustics.

    Examples
    --------
    >>> c_weighted_level_db([60.0, 60.0], octaves=(500.0, 1000.0)).round(2)
    np.float64(63.01)
    """
    return _weighted(levels_db, c_weights_db(octaves))


def scaled_to_a_weighted_level_db(
    shape_db: npt.ArrayLike, *, level_dba: npt.ArrayLike, octaves: tuple[float, ...] = OCTAVES
) -> Array:
    """Shift a spectrum so that its A-weighted total is the wanted one.

    Parameters
    ----------
    shape_db : array_like, shape (..., bands)
        Any spectrum; only its shape matters. [dB]
    level_dba : array_like, shape (...)
        Wanted total. [dB(A)]
    octaves : tuple of float
        Nominal octaves of the last axis. [Hz]

    Returns
    -------
    ndarray, shape (..., bands)
        [dB]

    Raises
    ------
    ValueError
        If the last axis does not have one level per octave, or all is silence.

    Examples
    --------
    >>> pink = scaled_to_a_weighted_level_db(np.zeros(7), level_dba=40.0)
    >>> a_weighted_level_db(pink).round(6)
    np.float64(40.0)
    """
    shape = np.asarray(shape_db, dtype=np.float64)
    total = a_weighted_level_db(shape, octaves=octaves)
    if np.isneginf(total).any():
        raise ValueError("a silent spectrum cannot be scaled to a level; give at least one band")
    return shape + (np.asarray(level_dba, dtype=np.float64) - total)[..., None]


def _weights(table: Mapping[float, float], octaves: tuple[float, ...]) -> Array:
    unknown = [f for f in octaves if f not in table]
    if unknown:
        raise ValueError(f"octaves {unknown} Hz have no weight; the table has {sorted(table)} Hz")
    return np.array([table[f] for f in octaves])


def _weighted(levels_db: npt.ArrayLike, weights_db: Array) -> Array:
    levels = np.asarray(levels_db, dtype=np.float64)
    if levels.ndim == 0 or levels.shape[-1] != weights_db.size:
        raise ValueError(
            f"levels of shape {levels.shape} do not fit {weights_db.size} octaves; "
            "the last axis is the band"
        )
    return sum_levels_db(levels + weights_db)
