"""Ceiling loudspeakers where something else is overhead."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.catalog.products import Loudspeaker
from wellheard.checks.keep_outs import in_the_way
from wellheard.checks.model import Draft
from wellheard.checks.overhead import overhead
from wellheard.checks.registry import rule
from wellheard.predict.evidence import Evidence


@rule(
    "loudspeaker-in-keep-out",
    "error",
    strength="house",
    cites="overhead of this document",
    relaxable=False,
)
def loudspeaker_in_keep_out(evidence: Evidence) -> Iterator[Draft]:
    """No ceiling loudspeaker sits where the ceiling is taken.

    Everything under `overhead` keeps its outline and its clearance free on the plan, for a
    loudspeaker as for a microphone: its body or its wire must pass there too. The whole housing
    must be clear, taken as a disc about its middle. To allow a place, change the outline or the
    clearance, not the rule.
    """
    for one in overhead(evidence):
        if isinstance(one.product, Loudspeaker):
            yield from in_the_way(evidence, "Loudspeaker", one.id, at=one.at, size=one.product.size)
