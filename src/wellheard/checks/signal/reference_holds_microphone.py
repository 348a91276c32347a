"""Local voices in what a canceller listens to."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.cancelling import PRACTICE, at, begin, cancels
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence


@rule("reference-holds-microphone", "error", strength="house", cites=PRACTICE)
def reference_holds_microphone(evidence: Evidence) -> Iterator[Draft]:
    """No canceller listens to the microphone that it works on.

    It would cancel the talker. A microphone comes into a reference through a mix that is sent to
    the far end, an output that holds local microphones, or a lift that is played in front of the
    place where the reference is picked off. Other local microphones do not belong there either:
    what the canceller then removes is a voice of this room. They are warned of.
    """
    graph = evidence.signal
    for canceller in graph.all_cancellers():
        reference = graph.reference(canceller)
        own = [name for name in reference.microphones if name in canceller.microphones]
        others = [name for name in reference.microphones if name not in canceller.microphones]
        for names, severe in ((own, True), (others, False)):
            if not names:
                continue
            lifts = [
                f"processing.{stage.id}"
                for held in reference.holds
                if held.source in names
                for stage in held.path.stages
                if stage.kind == "lift"
            ]
            through = f", through {listed([*dict.fromkeys(lifts)])}" if lifts else ""
            voices = f"the voices at {listed(names)}"
            yield Draft(
                at=at(canceller.stage),
                message=(
                    f"{begin(cancels(canceller))}, listens to "
                    f"{reference.port}, which holds {listed(names)}{through}: it takes {voices} "
                    f"for echo and cancels {'them' if severe else 'what it hears of them'}."
                ),
                severity="error" if severe else "warning",
                remedy=(
                    "Take the reference in front of the lift, or where only the far end and the "
                    "programme are."
                    if lifts
                    else "Take the reference where only the far end and the programme are, such as "
                    "far-end or the output that plays them."
                ),
            )
