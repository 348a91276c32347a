"""Parts of the document that this version reads and does not predict with."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence

KINDS = ("filter", "leveller", "limiter", "noise-reduction", "other")
"""Stages of which only the place counts: in front of a canceller or behind it."""
TARGETS = ("price",)


@rule(
    "not-used-yet",
    "note",
    strength="house",
    cites="the extent of this version",
    relaxable=False,
)
def not_used_yet(evidence: Evidence) -> Iterator[Draft]:
    """Everything in the document takes part in the prediction.

    Cables and stages decide what comes where, through which gains, delays, mixers and cancellers.
    What a filter, a leveller, a limiter or noise reduction does to a sound is not predicted; which
    of several open microphones are held down is told by the processor's own mixer, not by a
    mixer that the document states. A promise about the price that the document itself
    states is not assessed, and neither is a microphone without a place.
    """
    room = evidence.room
    stages = {name: s.kind for name, s in room.processing.items() if not s.bypassed}
    plain = [name for name, kind in stages.items() if kind in KINDS]
    if plain:
        yield _draft(
            "processing",
            f"What {listed(plain)} {'does' if len(plain) == 1 else 'do'} to the sound is not "
            "predicted by this version; only their place among the stages counts.",
            "Judge by ear or by measurement what they change.",
        )
    mixers = [name for name, kind in stages.items() if kind == "mixer"]
    if mixers:
        yield _draft(
            "processing",
            f"How {listed(mixers)} {'holds' if len(mixers) == 1 else 'hold'} microphones down is "
            "not predicted by this version; what goes where through them is.",
            "Judge noise and reverberation of several open microphones by hand.",
        )
    for name in TARGETS:
        if name in room.targets.model_fields_set and getattr(room.targets, name) is not None:
            yield _draft(
                f"targets.{name}",
                f"targets.{name} is promised, but this version does not predict it.",
                "Judge it by hand, or set it to null.",
            )
    placed = {microphone.id for microphone in evidence.microphones}
    for name, device in room.devices.items():
        if device.kind in ("microphone", "combined") and name not in placed:
            yield _draft(
                f"devices.{name}",
                f"Microphone {name} has no place and takes no part in the prediction.",
                f"Give devices.{name}.at, or let wellheard place do it.",
            )


def _draft(at: str, message: str, remedy: str) -> Draft:
    return Draft(at=at, message=message, remedy=remedy, status="not-assessed")
