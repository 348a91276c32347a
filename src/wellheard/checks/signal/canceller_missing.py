"""Microphones whose way to the far end has no echo canceller."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.cancelling import PRACTICE, plays_far_end
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence


@rule("canceller-missing", "error", strength="house", cites=PRACTICE)
def canceller_missing(evidence: Evidence) -> Iterator[Draft]:
    """Every microphone's way to the far end passes an echo canceller.

    Without one the far end hears itself, later by the delay both ways. A canceller is one that
    the document states and does not bypass, one that a processor has behind each of its
    microphone ports, or that of a combined device. Every way counts, of a splitter's two as well.
    Without a loudspeaker that plays the far end nothing is known of an echo, and without a known
    way to the far end nothing of its cancellers: both are not assessed.
    """
    graph = evidence.signal
    playing = plays_far_end(graph)
    bare: dict[tuple[str, ...], list[str]] = {}
    lost: list[str] = []
    for microphone in graph.microphones:
        paths = graph.paths_of(microphone)
        if not paths:
            lost.append(microphone)
        for path in paths:
            if not path.cancellers:
                bare.setdefault(path.devices[1:], []).append(microphone)
    for devices, microphones in bare.items():
        yield _bare(evidence, devices, microphones, playing)
    if lost and playing:
        yield Draft(
            at="devices",
            message=(
                f"No way from {listed(lost)} to the far end is known, so whether the echo of "
                f"{listed(playing)} is cancelled is not assessed."
            ),
            remedy="Add the processor, or state the links.",
            severity="note",
            status="not-assessed",
        )


def _bare(
    evidence: Evidence, devices: tuple[str, ...], microphones: list[str], playing: tuple[str, ...]
) -> Draft:
    names = [*dict.fromkeys(microphones)]
    many = len(names) > 1
    through = f" through {listed(devices)}" if devices else ""
    way = f"{listed(names)} {'reach' if many else 'reaches'} the far end{through}"
    off = [
        f"processing.{name}"
        for name, stage in evidence.room.processing.items()
        if stage.kind == "canceller"
        and stage.bypassed
        and stage.on.partition(".")[0] in (*devices, *names)
    ]
    hint = f", or switch {listed(off)} on" if off else ""
    first = next((d for d in (*devices, *names) if d in evidence.room.devices), names[0])
    if not playing:
        return Draft(
            at=f"devices.{first}",
            message=(
                f"{way} without an echo canceller. No loudspeaker of the document plays the far "
                "end, so whether there is an echo is not assessed."
            ),
            remedy="Say what plays the far end; a canceller is then wanted on this way.",
            severity="note",
            status="not-assessed",
        )
    return Draft(
        at=f"devices.{first}",
        message=(
            f"{way} without an echo canceller, while {listed(playing)} "
            f"{'play' if len(playing) > 1 else 'plays'} the far end in the same room."
        ),
        value=0.0,
        limit=1.0,
        remedy=(
            f"Lead {'them' if many else 'it'} through a processor that cancels echo, or state the "
            f"canceller under processing with its reference{hint}."
        ),
    )
