"""The assumed inputs that move the result most."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import decibels
from wellheard.predict.evidence import Assumed, Evidence

MOST = 3
RANKS = ("Most", "Second most", "Third most")
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
    to ask the customer first. Where no effect could be computed, that is said instead.
    """
    moving = [a for a in evidence.assumptions if _moves(a)]
    for rank, assumed in zip(RANKS, moving[:MOST], strict=False):
        effects = []
        if assumed.effect_db is not None:
            effects.append(f"{decibels(abs(assumed.effect_db))} of direct to reverberant")
        if assumed.effect_sti is not None:
            effects.append(f"{abs(assumed.effect_sti):.3f} of STI")
        yield Draft(
            at=assumed.path,
            message=(
                f"{rank} of the result hangs on an assumption: {assumed.text.rstrip('.')}; the "
                f"worst seat moves by {' and '.join(effects)}."
            ),
            value=assumed.effect_db if assumed.effect_db is not None else assumed.effect_sti,
            unit="dB" if assumed.effect_db is not None else "",
            remedy=f"Find out and enter {assumed.path}, with its basis.",
        )
    unknown = [a for a in evidence.assumptions if a.effect_db is None and a.effect_sti is None]
    if unknown and not moving:
        yield Draft(
            at=unknown[0].path,
            message=(
                f"{len(unknown)} inputs are assumed; what they do to the result is not assessed "
                "while no microphone is placed."
            ),
            value=float(len(unknown)),
            remedy="Place microphones, then look again.",
            status="not-assessed",
        )


def _moves(assumed: Assumed) -> bool:
    return abs(assumed.effect_db or 0.0) >= LEAST_DB or abs(assumed.effect_sti or 0.0) >= LEAST_STI
