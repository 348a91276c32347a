"""Stages that change their gain by themselves, in front of a canceller."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.cancelling import PRACTICE, at, begin, in_front, said
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence

KINDS = ("leveller", "limiter", "noise-reduction", "volume")


@rule("gain-changes-before-canceller", "warning", strength="house", cites=PRACTICE)
def gain_changes_before_canceller(evidence: Evidence) -> Iterator[Draft]:
    """Nothing between a microphone and its canceller changes its gain in use.

    A leveller, a limiter, a gate, noise reduction or a volume control there makes a new echo of
    the same room each time it moves. The order is: gain, canceller, noise reduction, leveller,
    automatic mixer. A fixed gain may stand anywhere. An automatic mixer and a mute have rules of
    their own.
    """
    for one in in_front(evidence.signal, KINDS):
        yield Draft(
            at=at(one.stage),
            message=(
                f"{begin(said(one.stage))} is in front of {said(one.canceller)}, on the way "
                f"of {listed(one.microphones)}: each change of its gain is a new room to the "
                "canceller."
            ),
            remedy="Put it behind the canceller.",
        )
