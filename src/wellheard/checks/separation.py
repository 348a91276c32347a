"""Distances of devices to what they must keep away from."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from wellheard.geometry import distance_outside
from wellheard.predict.devices import loudspeaker_places
from wellheard.predict.evidence import Evidence, PlacedMicrophone, Point

TOUCH = 1e-6
"""Rounding of a coordinate; what keeps a distance to within this keeps it. [m]"""

HANGING = frozenset({"ceiling", "stand"})
"""Mountings that hold a microphone in free air; the others use the surface they lie on."""


@dataclass(frozen=True)
class SoundSource:
    """A place that sounds: a loudspeaker, one of a pair, or one built into a combined device."""

    id: str
    device: str
    at: Point


def loudspeakers(evidence: Evidence) -> tuple[SoundSource, ...]:
    """Everything that plays the far end, with a place; a pair is two."""
    places = loudspeaker_places(evidence.room, evidence.catalogue)
    return tuple(SoundSource(name, name.partition(".")[0], at) for name, at in places.items())


def pairs(evidence: Evidence) -> Iterator[tuple[PlacedMicrophone, SoundSource, float]]:
    """Every microphone with every loudspeaker in another housing, and their distance [m]."""
    for microphone in evidence.microphones:
        for source in loudspeakers(evidence):
            if source.device != microphone.id:
                yield microphone, source, math.dist(microphone.at, source.at)


def plan_distance(at: Point, outline: tuple[tuple[float, float], ...]) -> float:
    """Distance on the plan from a point to a polygon, 0 inside. [m]"""
    corners = np.asarray(outline, dtype=np.float64)
    return float(distance_outside(corners, np.asarray(at[:2], dtype=np.float64)))


def prism_distance(
    at: Point, outline: tuple[tuple[float, float], ...], *, bottom: float, top: float
) -> float:
    """Distance from a point to an upright prism, 0 inside. [m]

    Examples
    --------
    >>> square = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))
    >>> prism_distance((4.0, 0.5, 6.0), square, bottom=0.0, top=2.0)
    5.0
    """
    over = max(bottom - at[2], at[2] - top, 0.0)
    return math.hypot(plan_distance(at, outline), over)
