"""Scattered sound by place, seen from the paths of a scene."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from wellheard.acoustics.resolved import Resolved, resolve
from wellheard.arrays import Array
from wellheard.predict.propagation import Propagation, recalled

Index = npt.NDArray[np.int64]

MOST_ROOTS = 128
"""Places from which scattered sound is followed: each costs time and memory."""

KEPT = 6
"""Fields of scattered sound that are remembered: what is asked about noise or facings changes
none, and each may be tens of megabytes."""

_known: OrderedDict[tuple[object, ...], Resolved] = OrderedDict()

LEAST_STEP = 0.25
"""Mouths nearer to each other than this on the plan are the first to share one [m]."""
Found = tuple[
    npt.NDArray[np.floating[Any]],
    npt.NDArray[np.floating[Any]],
    npt.NDArray[np.complexfloating[Any, Any]],
]


@dataclass(frozen=True, eq=False)
class FromMouths:
    """Rays that started at the mouths, heard wherever the microphones are."""

    resolved: Resolved
    root: Index
    """Of each row: mouths of several facings are one."""

    @classmethod
    def of(cls, propagation: Propagation, mouths: Array) -> FromMouths:
        """Follow them; of more than `MOST_ROOTS` mouths, neighbours share one root."""
        step = 1e-6
        while True:
            places, which = np.unique(np.round(mouths[:, :2] / step), axis=0, return_inverse=True)
            if len(places) <= MOST_ROOTS:
                break
            step = max(2.0 * step, LEAST_STEP)
        which = which.ravel()
        shared = np.bincount(which)[:, None]
        roots = np.zeros((len(places), 3))
        np.add.at(roots, which, mouths)
        return cls(_resolved(propagation, roots / shared), which)

    def lookup(self, row: Index, points: Array, t0: Array) -> Found:
        """Early, late and modulation at the points, see :class:`Resolved`."""
        return self.resolved.lookup(self.root[row], points, t0)


@dataclass(frozen=True, eq=False)
class FromMicrophones:
    """Rays that started at the microphones, the other way round; sound does not mind."""

    resolved: Resolved
    column: Index
    mouths: Array

    @classmethod
    def of(
        cls, propagation: Propagation, at: Array, column: Index, mouths: Array
    ) -> FromMicrophones:
        """Follow them."""
        return cls(_resolved(propagation, at), column, mouths)

    def lookup(self, row: Index, points: Array, t0: Array) -> Found:
        """Early, late and modulation from the rows, whatever the points, which are the roots."""
        return self.resolved.lookup(self.column, self.mouths[row], t0)


def _resolved(propagation: Propagation, roots: Array) -> Resolved:
    def follow() -> Resolved:
        return resolve(
            propagation.enclosure,
            roots,
            propagation.absorption,
            propagation.tables,
            speed=propagation.speed,
            air=propagation.air,
        )

    given = (roots, propagation.absorption, propagation.air, np.asarray(propagation.speed))
    key = (propagation.enclosure.path_key, *(each.tobytes() for each in given))
    return recalled(_known, key, KEPT, follow)
