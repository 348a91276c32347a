"""A mixer in front of a canceller."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.cancelling import PRACTICE, at, begin, in_front, said
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence


@rule("mixer-before-canceller", "error", strength="house", cites=PRACTICE)
def mixer_before_canceller(evidence: Evidence) -> Iterator[Draft]:
    """Echo is cancelled microphone by microphone, in front of the mixer.

    Behind an automatic mixer each channel that opens or closes is to the canceller a new room. A
    mixer that the document states may hold its gains still; one canceller then has the rooms of
    all its microphones to learn at once, which is warned of.
    """
    for one in in_front(evidence.signal, ("mixer",)):
        automatic = one.stage.automatic
        yield Draft(
            at=at(one.canceller),
            message=(
                f"{begin(said(one.stage))} is in front of "
                f"{said(one.canceller)}, on the way of {listed(one.microphones)}: "
                + (
                    "each channel that it opens or closes is a new room to the canceller."
                    if automatic
                    else "one canceller has all their echoes to learn at once."
                )
            ),
            severity="error" if automatic else "warning",
            remedy="Cancel on each microphone port, and mix behind.",
        )
