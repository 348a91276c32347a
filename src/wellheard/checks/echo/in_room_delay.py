"""Rooms that add much delay to a call."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.predict.evidence import Evidence
from wellheard.predict.wayback import DelayPart

CODE = "in-room-delay"
HALF_A_TENTH = 0.05
"""Printed to a tenth. [ms]"""


@rule(CODE, "warning", strength="house", cites="", thresholds=(CODE,))
def in_room_delay(evidence: Evidence) -> Iterator[Draft]:
    """The room adds no more than its share to the delay of a call.

    From the farthest mouth to the computer, and from the computer to the last ear: air, devices by
    their sheets, stated delays, and a millisecond for each hop of networked audio.
    """
    if evidence.delays is None:
        return
    limit = 1000.0 * limit_in_force(evidence, CODE)
    for parts, way in (
        (evidence.delays.outbound, "from mouth to computer"),
        (evidence.delays.inbound, "from computer to ear"),
    ):
        total = sum(part.ms for part in parts)
        if total <= limit + HALF_A_TENTH:
            continue
        longest = max((p for p in parts if p.name != "air"), key=lambda p: p.ms, default=parts[0])
        yield Draft(
            at=_place(longest),
            message=(
                f"The room takes {total:.1f} ms {way}; at most {limit:g} ms are wanted: "
                + ", ".join(f"{p.name} {p.ms:.1f} ms" for p in parts)
                + "."
            ),
            value=total,
            limit=limit,
            unit="ms",
            remedy=f"The most is that of {longest.at}: take a faster one, or shorten what is set.",
        )


def _place(part: DelayPart) -> str:
    return part.at if part.at.startswith(("devices.", "processing.")) else "far_end"
