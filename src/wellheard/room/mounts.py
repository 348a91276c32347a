"""What the document must know of a product to put one in a room: how it is mounted.

The catalogue is no part of the document; whoever has both says it (`wellheard.workflow.mounting`).
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Mount:
    """How a product is mounted.

    Parameters
    ----------
    kinds : tuple of str
        Kinds of device that it may be, the usual one first.
    ways : tuple of str
        Ways it may be mounted, the usual one first: ceiling, table, lectern, wall, front, stand,
        rack, table-box.
    drops : tuple of floats
        Allowed lengths below the ceiling, ascending, 0 is flush; empty if it never hangs. [m]
    stem : float
        Height of its acoustic centre above the base it stands on. [m]
    size : tuple of 3 floats
        Width, depth, height. [m]
    usual : bool
        It may be taken without being asked for by name.
    """

    kinds: tuple[str, ...]
    ways: tuple[str, ...]
    drops: tuple[float, ...] = ()
    stem: float = 0.0
    size: tuple[float, float, float] = (0.0, 0.0, 0.0)
    usual: bool = True
