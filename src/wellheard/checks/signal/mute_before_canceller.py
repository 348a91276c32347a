"""A mute in front of a canceller."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.cancelling import PRACTICE, at, begin, in_front, said
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence


@rule("mute-before-canceller", "warning", strength="house", cites=PRACTICE)
def mute_before_canceller(evidence: Evidence) -> Iterator[Draft]:
    """Microphones are muted behind the canceller.

    In front of it the canceller hears no echo while the microphone is muted, loses the room, and
    lets echo through when the microphone opens again.
    """
    for one in in_front(evidence.signal, ("mute",)):
        yield Draft(
            at=at(one.stage),
            message=(
                f"{begin(said(one.stage))} is in front of {said(one.canceller)}, on the way "
                f"of {listed(one.microphones)}: while it is muted the canceller loses the room."
            ),
            remedy="Mute behind the canceller, on the same port or on what is sent.",
        )
