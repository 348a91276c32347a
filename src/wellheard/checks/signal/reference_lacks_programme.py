"""Cancellers that do not hear the programme."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.catalog.products import Processor
from wellheard.checks.cancelling import PRACTICE, at, said
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence
from wellheard.signal.model import Canceller, Playing
from wellheard.signal.ports import split


@rule("reference-lacks-programme", "warning", strength="house", cites=PRACTICE)
def reference_lacks_programme(evidence: Evidence) -> Iterator[Draft]:
    """Every canceller listens to the programme that the loudspeakers play.

    Films and music come in over line inputs, are played, and come back through the microphones:
    what is not in the reference goes to the far end a second time, as a hollow copy. What a
    computer plays over USB arrives with the far end. Judged where a line input has a cable, or a
    stage or a reference names it.
    """
    graph = evidence.signal
    playing = [one for one in graph.playing() if one.programme]
    lacking: dict[str, list[Canceller]] = {}
    for canceller in graph.all_cancellers():
        reference = graph.reference(canceller)
        if playing and reference.known and reference.port and not reference.programme:
            lacking.setdefault(reference.port, []).append(canceller)
    for port, cancellers in lacking.items():
        inputs = dict.fromkeys(
            port_ for one in playing for path in one.programme for port_ in path.ports[:2][-1:]
        )
        many = len(playing) > 1
        yield Draft(
            at=at(cancellers[0].stage),
            message=(
                f"{listed([one.loudspeaker for one in playing])} {'play' if many else 'plays'} "
                f"the programme of {listed([*inputs])}, which is not in the reference at {port} "
                f"of {listed([said(one.stage) for one in cancellers])}."
            ),
            remedy=f"Take the reference where both are, such as {_both(evidence, playing)}.",
        )


def _both(evidence: Evidence, playing: list[Playing]) -> str:
    """Last port of a processor on the way of the programme: what it plays there."""
    units = evidence.signal.units
    ports = playing[0].programme[0].ports
    out = [p for p in ports if isinstance(units[split(p)[0]].product, Processor)]
    return out[-1] if out else ports[-1]
