"""Ceiling microphones where something else is overhead."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.keep_outs import in_the_way
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
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
    for one in evidence.microphones:
        if one.mounting == "ceiling":
            yield from in_the_way(evidence, "Microphone", one.id, at=one.at, size=one.product.size)
