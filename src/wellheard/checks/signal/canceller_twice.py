"""Two echo cancellers in series."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from wellheard.checks.cancelling import PRACTICE, at, said
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence
from wellheard.signal.graph import Graph
from wellheard.signal.model import Stage
from wellheard.signal.ports import split


@rule("canceller-twice", "error", strength="house", cites=PRACTICE)
def canceller_twice(evidence: Evidence) -> Iterator[Draft]:
    """Every echo is cancelled exactly once.

    The second of two cancellers in series sees a residue that moves and is no longer linear: it
    pumps. A processor with a canceller has one behind each microphone port, whether the document
    states it or not, and a combined device one of its own; what is switched off is stated with
    `bypassed: true`.
    """
    found: dict[tuple[Stage, Stage], list[str]] = {}
    graph = evidence.signal
    for microphone in graph.microphones:
        for path in graph.paths_of(microphone):
            for pair in pairwise(path.cancellers):
                names = found.setdefault(pair, [])
                if microphone not in names:
                    names.append(microphone)
    for (first, second), microphones in found.items():
        off = _off(graph, first, second)
        yield Draft(
            at=at(second),
            message=(
                f"The echo of {listed(microphones)} is cancelled twice: by {said(first)}, and "
                f"again by {said(second)}."
            ),
            value=2.0,
            limit=1.0,
            remedy=(
                "Keep the one that hears the whole reference and switch the other off: "
                + (
                    f"{at(off)}.bypassed: true."
                    if off.id
                    else f"enter a canceller on {off.at} with bypassed: true under processing."
                )
            ),
        )


def _off(graph: Graph, first: Stage, second: Stage) -> Stage:
    """The one to switch off: a computer's, else the one that the document does not state."""
    for stage in (second, first):
        if graph.units[split(stage.at)[0]].has_far_end:
            return stage
    return second if not second.id else first
