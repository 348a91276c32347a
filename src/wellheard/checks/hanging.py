"""Everything that hangs below the ceiling, as upright cylinders."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wellheard.arrays import Array
from wellheard.checks.separation import TOUCH
from wellheard.predict.evidence import Evidence, Point

OVERHEAD = frozenset({"ceiling", "pendant"})
"""Ways of mounting a loudspeaker that let it hang."""


@dataclass(frozen=True)
class Cylinder:
    """An upright cylinder: its middle, its radius and half its height. [m]"""

    middle: Point
    radius: float
    half: float

    def reach(self, directions: Array) -> Array:
        """How far it reaches from its middle along unit vectors, shape (..., 3) to (...). [m]

        Examples
        --------
        >>> drum = Cylinder((0.0, 0.0, 2.0), radius=0.1, half=0.03)
        >>> drum.reach(np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0]])).tolist()
        [0.1, 0.03]
        """
        level = np.hypot(directions[..., 0], directions[..., 1])
        return np.asarray(self.radius * level + self.half * np.abs(directions[..., 2]))


@dataclass(frozen=True)
class Hung:
    """A device that hangs, and what holds it up to the ceiling."""

    id: str
    body: Cylinder
    rod: Cylinder


ROD = 0.005
"""Radius taken for the rod or cable of a hanging device. [m]"""


def hung(evidence: Evidence) -> tuple[Hung, ...]:
    """Microphones and loudspeakers that hang; one that is flush in the ceiling does not."""
    height = evidence.room.space.height
    placed: list[tuple[str, Point, tuple[float, float, float]]] = [
        (one.id, one.at, one.product.size) for one in evidence.microphones if one.drop is not None
    ]
    placed += [
        (one.id, one.at, one.product.size)
        for one in evidence.others
        if one.kind == "loudspeaker"
        and one.at is not None
        and OVERHEAD & set(one.product.mountings)
    ]
    found = []
    for name, at, size in placed:
        half = size[2] / 2
        if height - at[2] <= half + TOUCH:
            continue
        top = at[2] + half
        rod = Cylinder((at[0], at[1], (top + height) / 2), ROD, (height - top) / 2)
        found.append(Hung(name, Cylinder(at, max(size[:2]) / 2, half), rod))
    return tuple(found)
