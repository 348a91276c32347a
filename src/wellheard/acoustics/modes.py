"""Modes of a box with hard walls."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from wellheard.arrays import Array


@dataclass(frozen=True)
class RoomModes:
    """Modes in rising frequency.

    ``frequency`` has shape (modes,) [Hz]; ``order`` shape (modes, 3) counts the nodes along
    length, width and height.
    """

    frequency: Array
    order: npt.NDArray[np.int64]


def room_modes(
    dimensions: npt.ArrayLike, *, up_to: float, speed_of_sound: float = 343.0
) -> RoomModes:
    """Modes of a box up to a frequency.

    Parameters
    ----------
    dimensions : array_like, shape (3,)
        [m]
    up_to : float
        Highest frequency, included. [Hz]
    speed_of_sound : float
        [m/s]

    Returns
    -------
    RoomModes

    Raises
    ------
    ValueError
        If a dimension is not positive.

    References
    ----------
    .. [1] kuttruff2009, rigid rectangular room.

    Examples
    --------
    >>> modes = room_modes([6.0, 4.5, 2.7], up_to=50.0)
    >>> modes.frequency.round(2)
    array([28.58, 38.11, 47.64])
    >>> modes.order.tolist()
    [[1, 0, 0], [0, 1, 0], [1, 1, 0]]
    """
    size = _sides(dimensions)
    most = np.floor(2.0 * up_to * size / speed_of_sound).astype(np.int64)
    orders = np.stack(
        np.meshgrid(*(np.arange(n + 1) for n in most), indexing="ij"), axis=-1
    ).reshape(-1, 3)
    frequency = 0.5 * speed_of_sound * np.sqrt(np.sum(np.square(orders / size), axis=-1))
    kept = (frequency <= up_to) & np.any(orders > 0, axis=-1)
    frequency, orders = frequency[kept], orders[kept]
    rising = np.argsort(frequency, kind="stable")
    return RoomModes(frequency[rising], orders[rising])


def mode_count(dimensions: npt.ArrayLike, *, up_to: float, speed_of_sound: float = 343.0) -> int:
    """How many modes a box has up to a frequency, counted.

    Parameters
    ----------
    dimensions : array_like, shape (3,)
        [m]
    up_to : float
        Highest frequency, included. [Hz]
    speed_of_sound : float
        [m/s]

    Returns
    -------
    int

    Raises
    ------
    ValueError
        If a dimension is not positive.

    References
    ----------
    .. [1] kuttruff2009, rigid rectangular room.

    Examples
    --------
    >>> mode_count([6.0, 4.5, 2.7], up_to=100.0)
    17
    """
    return len(room_modes(dimensions, up_to=up_to, speed_of_sound=speed_of_sound).frequency)


def mode_count_estimate(
    dimensions: npt.ArrayLike, *, up_to: npt.ArrayLike, speed_of_sound: float = 343.0
) -> Array:
    """How many modes a box has up to a frequency, by the closed formula.

    Parameters
    ----------
    dimensions : array_like, shape (3,)
        [m]
    up_to : array_like
        [Hz]
    speed_of_sound : float
        [m/s]

    Returns
    -------
    ndarray
        Shape of ``up_to``.

    Raises
    ------
    ValueError
        If a dimension is not positive.

    References
    ----------
    .. [1] kuttruff2009, number of modes from volume, surface and edges.

    Examples
    --------
    >>> mode_count_estimate([6.0, 4.5, 2.7], up_to=100.0).round(2)
    np.float64(16.88)
    """
    x, y, z = _sides(dimensions)
    k = np.asarray(up_to, dtype=np.float64) / speed_of_sound
    volume, surface, edges = x * y * z, 2.0 * (x * y + y * z + x * z), 4.0 * (x + y + z)
    return 4.0 * np.pi / 3.0 * volume * k**3 + np.pi / 4.0 * surface * k**2 + edges / 8.0 * k


def _sides(dimensions: npt.ArrayLike) -> Array:
    size = np.asarray(dimensions, dtype=np.float64)
    if size.shape != (3,) or not np.all(size > 0.0):
        raise ValueError(f"a box has three sides longer than 0 m, not {size.tolist()}")
    return size
