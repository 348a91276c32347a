"""Digital levels with too little headroom."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.echo.preamplifier_clips import STAGES as BEFORE
from wellheard.checks.echoes import headroom_said, lacks_headroom
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.wording import decibels, some_decibels
from wellheard.predict.evidence import Evidence

LIMIT = "headroom-db"
STAGES = frozenset({"converter", "gain", "mixer", "canceller", "send"})


@rule("converter-clips", "warning", strength="house", cites="", thresholds=(LIMIT,))
def converter_clips(evidence: Evidence) -> Iterator[Draft]:
    """Average speech stays well below full scale, from the converter to what is sent.

    Peaks of speech are 12 to 18 dB above its average; at the usual −20 dBFS they have room. Stated
    gains count. An error where average speech itself is beyond full scale. Where the preamplifier
    clips already, `preamplifier-clips` alone says so.
    """
    limit = limit_in_force(evidence, LIMIT)
    for diagram in evidence.levels:
        if diagram.path != "outbound" or lacks_headroom(diagram, BEFORE, limit) is not None:
            continue
        stage = lacks_headroom(diagram, STAGES, limit)
        if stage is None:
            continue
        left = stage.headroom_db or 0.0
        yield Draft(
            at=f"devices.{diagram.device}",
            message=(
                f"The way of {diagram.device}, at its {stage.name} ({stage.at}), "
                f"{headroom_said(stage)}; {decibels(limit)} are wanted."
            ),
            value=left,
            limit=limit,
            unit="dB",
            remedy=f"Lower the stated gains on its way by {some_decibels(limit - left)}.",
            severity="error" if left < 0.0 else None,
        )
