"""Cancellers that are outlasted by the room."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.echoes import only_tail_lacks
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import decibels
from wellheard.predict.evidence import Evidence


@rule(
    "tail-too-short",
    "error",
    strength="product",
    cites="tail of the product; decay of an exponential field, 60 dB in a reverberation time",
)
def tail_too_short(evidence: Evidence) -> Iterator[Draft]:
    """Every canceller hears an echo for as long as it has to be cancelled.

    What arrives after its tail stays. Needed is the time in which the room's decay, worst of
    500 Hz, 1 and 2 kHz, brings the loss that is asked of the filter, after the way of the sound to
    the microphone: more where the loudspeaker is far or its path is slow. An error where a longer
    tail alone would do; where more is lacking, `echo-loss-missed` says so too.
    """
    for one in evidence.echo:
        if one.tail is None or one.bound_tail_db is None or one.tail_needed <= one.tail:
            continue
        alone = only_tail_lacks(one)
        yield Draft(
            at=f"devices.{one.microphone}",
            message=(
                f"The canceller of {one.canceller} models {1000 * one.tail:.0f} ms of the echo in "
                f"{one.microphone}; {1000 * one.tail_needed:.0f} ms are needed, so that it takes "
                f"away {decibels(one.bound_tail_db)} at most."
            ),
            value=one.tail,
            limit=one.tail_needed,
            unit="s",
            remedy="Take a canceller with a longer tail, or absorb more in the room.",
            severity="error" if alone else "warning",
        )
