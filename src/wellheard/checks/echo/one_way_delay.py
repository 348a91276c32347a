"""Calls that are late."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.predict.evidence import Evidence

ACCEPTABLE_MS, LARGEST_MS = 150.0, 400.0


@rule(
    "one-way-delay",
    "warning",
    strength="house",
    cites="ITU-T G.114 (1988), clause 1, via its open text [L]",
)
def one_way_delay(evidence: Evidence) -> Iterator[Draft]:
    """Mouth to ear takes no more than 150 ms, and never more than 400 ms.

    Up to 150 ms conversation is hardly touched; up to 400 ms it is acceptable to whoever knows of
    it, which is told as a note; beyond that people begin at the same time, and no echo canceller
    helps.
    """
    delay = evidence.room.far_end.one_way_delay_ms
    if delay <= ACCEPTABLE_MS:
        return
    beyond = delay > LARGEST_MS
    yield Draft(
        at="far_end.one_way_delay_ms",
        message=(
            f"The call takes {delay:g} ms from mouth to ear, {2 * delay:g} ms round; "
            + (
                f"more than {LARGEST_MS:g} ms is unacceptable for conversation."
                if beyond
                else f"above {ACCEPTABLE_MS:g} ms people notice that answers come late."
            )
        ),
        value=delay,
        limit=LARGEST_MS if beyond else ACCEPTABLE_MS,
        unit="ms",
        remedy="Take a shorter network path or a client that buffers less, and tell people of it.",
        severity=None if beyond else "note",
    )
