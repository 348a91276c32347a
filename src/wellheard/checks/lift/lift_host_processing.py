"""What a lift's figures leave out."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.lifting import at, in_use
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.predict.evidence import Evidence
from wellheard.predict.lift import HOST_NOT_INCLUDED


@rule(
    "lift-host-processing",
    "note",
    strength="house",
    cites="the extent of this version",
    relaxable=False,
)
def lift_host_processing(evidence: Evidence) -> Iterator[Draft]:
    """What the host does to the voices by itself is known.

    A computer, a codec or a meeting service has noise reduction, level control and suppression of
    echo of its own. Where a lift goes through it, gain and delay change from moment to moment, and
    so does what is left before howling. None of that is in the figures of a lift.
    """
    if in_use(evidence) is not None:
        yield Draft(
            at=at(evidence),
            message=HOST_NOT_INCLUDED,
            remedy="Keep the lift inside the processor, and try it with the host running.",
            status="not-assessed",
        )
