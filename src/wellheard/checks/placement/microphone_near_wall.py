"""Hanging microphones near a wall, a column, a beam or a duct."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.separation import HANGING, TOUCH, prism_distance
from wellheard.checks.wording import length, some_length
from wellheard.geometry import distance_to_edges
from wellheard.predict.evidence import Evidence, Point

CODE = "microphone-near-wall"
SOLID = frozenset({"beam", "duct"})
"""Overhead things with a hard side, where they hang below the ceiling."""


@rule(CODE, "warning", strength="house", cites="", thresholds=(CODE,))
def microphone_near_wall(evidence: Evidence) -> Iterator[Draft]:
    """Hanging microphones keep away from hard upright faces.

    Near a wall, a column or the side of a beam the reflection arrives with the voice and
    combs it. Microphones on a table, a lectern, a wall or the display are exempt: they use
    the surface that they lie on. One that is flush in the ceiling is not exempt.
    """
    limit = limit_in_force(evidence, CODE)
    for microphone in evidence.microphones:
        if microphone.mounting not in HANGING:
            continue
        for name, distance in _faces(evidence, microphone.at):
            if distance < limit - TOUCH:
                yield Draft(
                    at=f"devices.{microphone.id}",
                    message=(
                        f"Microphone {microphone.id} is {length(evidence, distance)} from {name}; "
                        f"at least {length(evidence, limit)} is wanted."
                    ),
                    value=distance,
                    limit=limit,
                    unit="m",
                    remedy=f"Move {microphone.id} by {some_length(evidence, limit - distance)}.",
                )


def _faces(evidence: Evidence, at: Point) -> Iterator[tuple[str, float]]:
    space = evidence.room.space
    outline = np.asarray(space.outline, dtype=np.float64)
    walls = distance_to_edges(np.asarray(at[:2], dtype=np.float64), outline)
    for name, distance in zip(space.walls, walls, strict=True):
        yield f"wall {name}", float(distance)
    for name, obstacle in space.obstacles.items():
        top = space.height if obstacle.height is None else obstacle.height
        yield name, prism_distance(at, obstacle.outline, bottom=0.0, top=top)
    for name, item in evidence.room.overhead.items():
        if item.kind in SOLID and item.bottom is not None and item.bottom < space.height:
            yield (
                f"the {item.kind} {name}",
                prism_distance(at, item.outline, bottom=item.bottom, top=space.height),
            )
