"""Ceiling microphones where something else is overhead."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.separation import TOUCH, plan_distance
from wellheard.checks.wording import length
from wellheard.predict.evidence import Evidence


@rule(
    "microphone-in-keep-out",
    "error",
    strength="house",
    cites="overhead of this document",
    relaxable=False,
)
def microphone_in_keep_out(evidence: Evidence) -> Iterator[Draft]:
    """No ceiling microphone sits where the ceiling is taken.

    Everything under `overhead` keeps its outline and its clearance free on the plan, however
    far down the microphone hangs: its rod must pass there too. The whole housing must be
    clear, taken as a disc about its middle. To allow a place, change the outline or the
    clearance, not the rule.
    """
    for microphone in evidence.microphones:
        if microphone.mounting != "ceiling":
            continue
        reach = max(microphone.product.size[:2]) / 2
        for name, item in evidence.room.overhead.items():
            gap = plan_distance(microphone.at, item.outline) - reach
            if gap >= item.clearance - TOUCH:
                continue
            inside = gap < TOUCH
            where = "in" if inside else f"{length(evidence, gap)} from"
            yield Draft(
                at=f"devices.{microphone.id}",
                message=(
                    f"Microphone {microphone.id} is {where} the {item.kind} {name}, which keeps "
                    f"{length(evidence, item.clearance)} around it free."
                ),
                value=max(gap, 0.0),
                limit=item.clearance,
                unit="m",
                remedy=f"Move {microphone.id} clear of {name}.",
            )
