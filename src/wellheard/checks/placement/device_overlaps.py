"""Devices in one another, in a wall or in a column."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.separation import TOUCH
from wellheard.checks.wording import length, some_length
from wellheard.predict.evidence import Evidence
from wellheard.predict.housings import (
    depth_in_each_other,
    depth_in_wall,
    depths_in_obstacles,
    housings,
)

CODE = "device-overlaps"


@rule(CODE, "error", strength="house", cites="", thresholds=(CODE,))
def device_overlaps(evidence: Evidence) -> Iterator[Draft]:
    """Every housing has its own place.

    Microphones, loudspeakers and electronics with a place are boxes of their product's size about
    it, turned as they are aimed; a capsule on a stem has its box below it. No two may reach into
    each other, nor one into a wall or column unless it is made to hang on it. What is
    housed in equipment has no place of its own. 0.01 m is taken for rounding.
    """
    limit = limit_in_force(evidence, CODE)
    boxes = housings(evidence.room, evidence.microphones, evidence.others)
    for i, one in enumerate(boxes):
        for other in boxes[i + 1 :]:
            depth = depth_in_each_other(one, other)
            if depth > limit + TOUCH:
                what = f"{one.id} and {other.id} are in one place"
                yield _draft(evidence, other.id, what, depth, limit)
    for box in boxes:
        depth = depth_in_wall(evidence.room, box)
        if depth > limit + TOUCH:
            yield _draft(evidence, box.id, f"{box.id} sticks into the wall", depth, limit)
        for name, depth in depths_in_obstacles(evidence.room, box, rounding=limit):
            if depth > limit + TOUCH:
                yield _draft(evidence, box.id, f"{box.id} sticks into {name}", depth, limit)


def _draft(evidence: Evidence, name: str, what: str, depth: float, limit: float) -> Draft:
    return Draft(
        at=f"devices.{name}",
        message=(
            f"{what}: the housings overlap by {length(evidence, depth)}."
            if " and " in what
            else f"{what} by {length(evidence, depth)}; a housing is free all round."
        ),
        value=depth,
        limit=limit,
        unit="m",
        remedy=(
            f"Move {name} by {some_length(evidence, depth)} or more, or correct devices.{name}.at."
        ),
    )
