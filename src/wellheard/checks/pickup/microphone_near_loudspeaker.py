"""Microphones too near to a loudspeaker in another housing."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.separation import TOUCH, pairs
from wellheard.checks.wording import length
from wellheard.predict.evidence import Evidence

CODE = "microphone-near-loudspeaker"


@rule(CODE, "error", strength="house", cites="", thresholds=(CODE,))
def microphone_near_loudspeaker(evidence: Evidence) -> Iterator[Draft]:
    """Every microphone keeps its distance from every loudspeaker.

    A canceller needs the talker's voice not to drown in the loudspeaker's.
    A combined device is exempt within its own housing, where its rated coupling
    counts; towards other devices its loudspeaker is one like any other. A
    loudspeaker without a place is not assessed.
    """
    limit = limit_in_force(evidence, CODE)
    for microphone, source, distance in pairs(evidence):
        if distance < limit - TOUCH:
            yield Draft(
                at=f"devices.{microphone.id}",
                message=(
                    f"Microphone {microphone.id} is {length(evidence, distance)} from loudspeaker "
                    f"{source.id}; at least {length(evidence, limit)} is wanted."
                ),
                value=distance,
                limit=limit,
                unit="m",
                remedy=(
                    f"Move {microphone.id} or {source.id} apart by "
                    f"{length(evidence, limit - distance)}."
                ),
            )
    if not evidence.microphones:
        return
    for device in evidence.others:
        if device.kind == "loudspeaker" and device.at is None:
            yield Draft(
                at=f"devices.{device.id}",
                message=f"Loudspeaker {device.id} has no place: its distance to the microphones is "
                "not assessed.",
                limit=limit,
                unit="m",
                remedy=f"Give devices.{device.id}.at.",
                severity="note",
                status="not-assessed",
            )
