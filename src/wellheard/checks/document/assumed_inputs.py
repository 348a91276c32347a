"""The assumed inputs that move the result most."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import decibels
from wellheard.predict.evidence import Assumed, Evidence

RANKS = ("most", "second", "third")
LEAST_DB, LEAST_STI = 0.05, 0.0005
"""What rounds to nothing in print moves nothing."""


@rule(
    "assumed-inputs",
    "note",
    strength="house",
    cites="the assumptions of this document, each varied within its tolerance",
)
def assumed_inputs(evidence: Evidence) -> Iterator[Draft]:
    """What was assumed and matters most is named.

    Every field that the document leaves open has a stated default. The three
    that move the worst seat most within their tolerance are named in order, as the questions
    to ask the customer first. Without a microphone
    there is no effect to name, and that is said instead.
    """
    if not evidence.outbound:
        if evidence.assumptions:
            yield Draft(
                at=evidence.assumptions[0].path,
                message=(
                    f"Assumed inputs: {len(evidence.assumptions)}. What they do to the result is "
                    "not assessed while no microphone is placed."
                ),
                value=float(len(evidence.assumptions)),
                remedy="Place microphones, then look again.",
                status="not-assessed",
            )
        return
    moving = [assumed for assumed in evidence.assumptions if _effects(assumed)]
    for rank, assumed in zip(RANKS, moving, strict=False):
        ratio_db = assumed.effect_db or 0.0
        in_db = abs(ratio_db) >= LEAST_DB
        yield Draft(
            at=assumed.path,
            message=(
                f"Of all assumptions this one moves the worst seat {rank}, by "
                f"{' and '.join(_effects(assumed))}: {assumed.text.rstrip('.')}."
            ),
            value=ratio_db if in_db else assumed.effect_sti,
            unit="dB" if in_db else "",
            remedy=f"Find out and enter {assumed.path}, with its basis.",
        )


def _effects(assumed: Assumed) -> list[str]:
    """What an assumption does to the worst seat, as far as it shows in print."""
    ratio_db, sti = abs(assumed.effect_db or 0.0), abs(assumed.effect_sti or 0.0)
    effects = []
    if ratio_db >= LEAST_DB:
        effects.append(f"{decibels(ratio_db)} of direct to reverberant")
    if sti >= LEAST_STI:
        effects.append(f"{sti:.3f} of STI")
    return effects
