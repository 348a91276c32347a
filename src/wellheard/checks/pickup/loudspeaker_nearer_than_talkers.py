"""Microphones that are nearer to a loudspeaker than to the people they serve."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.separation import TOUCH, SoundSource, pairs
from wellheard.checks.wording import length, place
from wellheard.predict.evidence import Evidence, Outbound


@rule(
    "loudspeaker-nearer-than-talkers",
    "warning",
    strength="house",
    cites="common practice, no source [C]",
)
def loudspeaker_nearer_than_talkers(evidence: Evidence) -> Iterator[Draft]:
    """Every microphone is nearer to its talkers than to any loudspeaker.

    Its talkers are those it serves best. Compared are the farthest of them and
    the nearest loudspeaker in another housing.
    """
    served: dict[str, Outbound] = {}
    for one in evidence.outbound:
        before = served.get(one.path.microphone)
        if before is None or one.path.distance > before.path.distance:
            served[one.path.microphone] = one
    nearest: dict[str, tuple[SoundSource, float]] = {}
    for microphone, source, distance in pairs(evidence):
        if microphone.id not in nearest or distance < nearest[microphone.id][1]:
            nearest[microphone.id] = (source, distance)
    for name, (source, distance) in nearest.items():
        row = served.get(name)
        if row is None or row.path.distance <= distance + TOUCH:
            continue
        yield Draft(
            at=f"devices.{name}",
            message=(
                f"Microphone {name} is {length(evidence, row.path.distance)} from "
                f"{place(row.talker)}, which it serves, but only {length(evidence, distance)} "
                f"from loudspeaker {source.id}."
            ),
            value=row.path.distance,
            limit=distance,
            unit="m",
            remedy=f"Bring {name} nearer to {place(row.talker)}, or {source.id} farther away.",
        )
