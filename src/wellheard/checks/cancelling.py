"""What rules about echo cancelling share: whose echo, which stages in front, and where."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass

from wellheard.checks.wording import listed
from wellheard.signal.graph import Graph
from wellheard.signal.model import Canceller, Stage

PRACTICE = "common practice, no source [C]"


@dataclass(frozen=True)
class InFront:
    """A stage in front of a canceller, on the ways of these microphones."""

    stage: Stage
    canceller: Stage
    microphones: tuple[str, ...]


def in_front(graph: Graph, kinds: Collection[str]) -> Iterator[InFront]:
    """Stages of some kinds in front of a canceller, each with the canceller next behind it."""
    found: dict[tuple[Stage, Stage], list[str]] = {}
    for microphone in graph.microphones:
        for path in graph.paths_of(microphone):
            waiting: list[Stage] = []
            for stage in path.stages:
                if stage.kind == "canceller":
                    for one in waiting:
                        names = found.setdefault((one, stage), [])
                        if microphone not in names:
                            names.append(microphone)
                    waiting = []
                elif stage.kind in kinds:
                    waiting.append(stage)
    for (stage, canceller), names in found.items():
        yield InFront(stage, canceller, tuple(names))


def plays_far_end(graph: Graph) -> tuple[str, ...]:
    """Loudspeakers that play the far end."""
    return tuple(one.loudspeaker for one in graph.playing() if one.far_end is not None)


def at(stage: Stage) -> str:
    """Place of a stage in the document: its entry, or the device that has it by itself."""
    return f"processing.{stage.id}" if stage.id else f"devices.{stage.at.partition('.')[0]}"


def said(stage: Stage) -> str:
    """A stage in a sentence: its entry and its port, or what the device has by itself.

    Examples
    --------
    >>> said(Stage("canceller", "mixer.mic-1", id="aec"))
    'canceller aec on mixer.mic-1'
    >>> said(Stage("canceller", "mixer.mic-1"))
    'the canceller of mixer itself on mixer.mic-1'
    """
    kind = stage.kind.replace("-", " ")
    if stage.id:
        return f"{kind}{f' {stage.id}' * (stage.id != stage.kind)} on {stage.at}"
    device = stage.at.partition(".")[0]
    return f"the {'automatic ' * stage.automatic}{kind} of {device} itself on {stage.at}"


def cancels(canceller: Canceller) -> str:
    """A canceller and whose echo it cancels, in a sentence."""
    return f"{said(canceller.stage)}, which cancels the echo of {listed(canceller.microphones)}"


def begin(text: str) -> str:
    """The text with a capital letter at its start.

    Examples
    --------
    >>> begin("the canceller of mixer itself")
    'The canceller of mixer itself'
    """
    return text[:1].upper() + text[1:]
