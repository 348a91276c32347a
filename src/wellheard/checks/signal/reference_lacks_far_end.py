"""Cancellers that do not hear the far end."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.cancelling import PRACTICE, at, begin, cancels, plays_far_end
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence


@rule("reference-lacks-far-end", "error", strength="house", cites=PRACTICE)
def reference_lacks_far_end(evidence: Evidence) -> Iterator[Draft]:
    """Every canceller listens to the far end that the loudspeakers play.

    What is not in its reference it cannot cancel. Where the document names no reference, it is
    what arrives from the far end at the canceller's device, of a combined device what its own
    loudspeaker plays, of a microphone that cancels what arrives at its processor. A reference at
    a port that does not exist is another rule's. Without a loudspeaker that plays the far end
    there is nothing to hear.
    """
    graph = evidence.signal
    playing = plays_far_end(graph)
    if not playing:
        return
    for canceller in graph.all_cancellers():
        reference = graph.reference(canceller)
        if reference.far_end or (reference.port is not None and not reference.known):
            continue
        where = (
            "has no reference for"
            if reference.port is None
            else f"listens to {reference.port}, which does not hold"
        )
        yield Draft(
            at=at(canceller.stage),
            message=(
                f"{begin(cancels(canceller))}, {where} the far "
                f"end that {listed(playing)} {'play' if len(playing) > 1 else 'plays'}."
            ),
            remedy=(
                "Take the reference where the far end is, behind its volume: far-end, or the "
                "output that feeds the loudspeakers."
            ),
        )
