"""What surfaces send back as a mirror does: the share neither absorbed nor scattered."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from wellheard.acoustics.enclosure import CEILING, FIRST_WALL, FLOOR, Enclosure
from wellheard.arrays import Array


def surface_reflection(enclosure: Enclosure) -> Array:
    """Energy that each surface reflects as a mirror does, ``(1 − α)(1 − s)``, shape (S, 7)."""
    return (1.0 - enclosure.absorption) * (1.0 - enclosure.scattering)[:, None]


def floor_and_ceiling_reflection(enclosure: Enclosure) -> tuple[Array, Array]:
    """Of the floor and of the ceiling, patches by their share of the area, each of shape (7,)."""
    level = (1.0 - enclosure.level_absorption) * (1.0 - enclosure.scattering[:FIRST_WALL, None])
    return level[FLOOR], level[CEILING]


def wall_reflection(enclosure: Enclosure) -> Array:
    """Of each wall as a whole, patches by their share of its area, shape (W, 7).

    A sound that meets many walls meets some patches; which ones evens out.
    """
    own = (1.0 - enclosure.wall_absorption) * (1.0 - enclosure.wall_scattering)[:, None]
    return np.asarray(own, dtype=np.float64)


def wall_reflection_at(
    enclosure: Enclosure, wall: int, *, along: npt.ArrayLike, above: npt.ArrayLike
) -> Array:
    """Of one wall at places on it: that of the patch there, else that of the bare wall.

    Parameters
    ----------
    enclosure : Enclosure
        The room.
    wall : int
        Index in :attr:`Enclosure.walls`.
    along, above : array_like, shape (...)
        From the first point of the wall, and above the floor. [m]

    Returns
    -------
    ndarray, shape (..., 7)
    """
    s, z = np.broadcast_arrays(
        np.asarray(along, dtype=np.float64), np.asarray(above, dtype=np.float64)
    )
    surface = np.full(s.shape, FIRST_WALL + wall)
    for patch in enclosure.patches:
        if patch.wall == wall:
            within = (s >= patch.start) & (s <= patch.end) & (z >= patch.bottom) & (z <= patch.top)
            surface[within] = patch.surface
    return surface_reflection(enclosure)[surface]
