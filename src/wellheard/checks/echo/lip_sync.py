"""Voices that do not meet their lips."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.predict.evidence import Evidence

DETECTABLE_MS = (-45.0, 125.0)
ACCEPTABLE_MS = (-90.0, 185.0)
"""Sound before the picture is negative."""


@rule(
    "lip-sync",
    "warning",
    strength="house",
    cites="ITU-R BT.1359, via open broadcast texts [L]",
)
def lip_sync(evidence: Evidence) -> Iterator[Draft]:
    """Sound and picture of the call arrive together.

    Sound may be 90 ms early or 185 ms late before it is unacceptable, and is noticed from 45 ms
    early or 125 ms late on, which is told as a note. Compared are `far_end.one_way_delay_ms` and
    `far_end.picture_delay_ms`; where the picture's delay is null, nothing is known, and the
    evidence says so.
    """
    if evidence.delays is None or evidence.delays.lip_sync_ms is None:
        return
    late = evidence.delays.lip_sync_ms
    if DETECTABLE_MS[0] <= late <= DETECTABLE_MS[1]:
        return
    bad = not ACCEPTABLE_MS[0] <= late <= ACCEPTABLE_MS[1]
    limits = ACCEPTABLE_MS if bad else DETECTABLE_MS
    side = "after" if late > 0.0 else "before"
    what, other = ("picture", "sound") if late > 0.0 else ("sound", "picture")
    judged = "unacceptable" if bad else "noticed"
    yield Draft(
        at="far_end.picture_delay_ms",
        message=(
            f"Sound comes {abs(late):g} ms {side} the picture; more than "
            f"{abs(limits[late > 0.0]):g} ms is {judged}."
        ),
        value=late,
        limit=limits[late > 0.0],
        unit="ms",
        remedy=f"Delay the {what} by {abs(late):g} ms, or have the {other} processed faster.",
        severity=None if bad else "note",
    )
