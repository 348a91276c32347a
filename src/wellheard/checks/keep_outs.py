"""Devices at the ceiling against everything else that is overhead."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.separation import TOUCH, plan_distance
from wellheard.checks.wording import length
from wellheard.predict.evidence import Evidence, Point


def in_the_way(
    evidence: Evidence, what: str, name: str, *, at: Point, size: tuple[float, float, float]
) -> Iterator[Draft]:
    """Everything under ``overhead`` that a device at the ceiling does not keep clear of.

    Its housing is taken as a disc about its middle.
    """
    reach = max(size[:2]) / 2
    for other, item in evidence.room.overhead.items():
        gap = plan_distance(at, item.outline) - reach
        if gap >= item.clearance - TOUCH:
            continue
        where = "in" if gap < TOUCH else f"{length(evidence, gap)} from"
        yield Draft(
            at=f"devices.{name}",
            message=(
                f"{what} {name} is {where} the {item.kind} {other}, which keeps "
                f"{length(evidence, item.clearance)} around it free."
            ),
            value=max(gap, 0.0),
            limit=item.clearance,
            unit="m",
            remedy=f"Move {name} clear of {other}.",
        )
