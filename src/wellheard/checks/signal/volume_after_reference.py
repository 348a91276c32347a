"""Volume behind the place where the reference is picked off."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.catalog.products import Amplifier, Loudspeaker
from wellheard.checks.cancelling import PRACTICE, at, begin, said
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence
from wellheard.signal.graph import Graph
from wellheard.signal.model import Canceller, Stage
from wellheard.signal.ports import split

KINDS = ("volume", "mute", "leveller", "limiter")


@rule("volume-after-reference", "error", strength="house", cites=PRACTICE)
def volume_after_reference(evidence: Evidence) -> Iterator[Draft]:
    """The volume is set in front of the place where the canceller's reference is picked off.

    Behind it, every step of the volume is to the canceller a new room that it has to learn. So is
    what a mute, a leveller or a limiter does there: these are warned of, and so is a volume where
    the reference is not stated but taken to be the usual one. A reference is picked off behind
    all stages of its port, so that a volume on the very output it is taken from is in front.
    """
    graph = evidence.signal
    behind: dict[tuple[Stage, str, bool], tuple[list[str], list[Canceller]]] = {}
    for canceller in graph.all_cancellers():
        reference = graph.reference(canceller)
        for one in graph.playing():
            for path in one.paths:
                passed = [
                    held.path.stages for held in reference.holds if held.source == path.source
                ]
                if not passed or reference.port is None:
                    continue
                for stage in path.stages:
                    if stage.kind in KINDS and not any(stage in stages for stages in passed):
                        key = (stage, reference.port, canceller.reference_assumed)
                        speakers, cancellers = behind.setdefault(key, ([], []))
                        if one.loudspeaker not in speakers:
                            speakers.append(one.loudspeaker)
                        if canceller not in cancellers:
                            cancellers.append(canceller)
    for (stage, port, assumed), (speakers, cancellers) in behind.items():
        microphones = dict.fromkeys(m for one in cancellers for m in one.microphones)
        taken = "is taken to listen to" if assumed else "listens to"
        changes = "turns" if stage.kind == "volume" else "changes"
        sure = stage.kind == "volume" and not assumed
        yield Draft(
            at=at(stage),
            message=(
                f"{begin(said(stage))} {changes} what "
                f"{listed(speakers)} {'play' if len(speakers) > 1 else 'plays'} behind the "
                f"reference: the canceller of {listed([*microphones])} {taken} {port}, "
                f"and has to learn the room anew each time."
            ),
            severity="error" if sure else "warning",
            remedy=f"Put it in front of {port}{_or_behind(graph, stage)}.",
        )


def _or_behind(graph: Graph, stage: Stage) -> str:
    """The other remedy: what amplifiers and loudspeakers do to a signal no reference follows."""
    product = graph.units[split(stage.at)[0]].product
    if isinstance(product, Amplifier | Loudspeaker):
        return ""
    return f", or take the reference at {stage.at}"
