"""Length of each microphone's cable against what its link allows."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks import wiring
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.separation import TOUCH
from wellheard.checks.wording import length
from wellheard.predict.evidence import Evidence
from wellheard.signal.matching import stated_link


@rule(
    "cable-too-long",
    "error",
    strength="product",
    cites="the longest link of the product",
)
def cable_too_long(evidence: Evidence) -> Iterator[Draft]:
    """Every microphone's cable is within the length that its link allows.

    The stated length of its link counts. Without one it is estimated: up into
    the ceiling void, along x and y to the processor, down to it, and a service
    loop of 3 m; from a table or lectern under the floor. Without a processor or a
    computer to end at, or without its place, the length is not assessed. A straight line is
    never assumed: cables follow walls and trays.
    """
    for microphone in evidence.microphones:
        limit = microphone.product.link.max_length
        found = wiring.run(evidence, microphone)
        stated = stated_link(evidence.room.links, microphone.id)
        at = f"devices.{microphone.id}" if stated is None else f"links.{stated[0]}"
        if found.length is None:
            yield Draft(
                at=at,
                message=f"The cable of {microphone.id} is not assessed: {found.how}.",
                limit=limit,
                unit="m",
                remedy="Place what it ends at, or state the link with its length.",
                severity="note",
                status="not-assessed",
            )
        elif found.length > limit + TOUCH:
            yield Draft(
                at=at,
                message=(
                    f"The cable from {microphone.id} to {found.to} is "
                    f"{length(evidence, found.length)} ({found.how}); its "
                    f"{microphone.product.link.kind} link allows {length(evidence, limit)}."
                ),
                value=found.length,
                limit=limit,
                unit="m",
                remedy=(
                    f"Shorten it by {length(evidence, found.length - limit)}: place {found.to} "
                    "nearer, or another one in between."
                ),
            )
