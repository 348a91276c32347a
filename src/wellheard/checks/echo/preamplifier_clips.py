"""Preamplifiers, and what comes before them, with too little headroom."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.echoes import headroom_said, lacks_headroom
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.wording import decibels, some_decibels
from wellheard.predict.evidence import Evidence

LIMIT = "headroom-db"
STAGES = frozenset({"microphone output", "preamplifier"})


@rule("preamplifier-clips", "warning", strength="house", cites="", thresholds=(LIMIT,))
def preamplifier_clips(evidence: Evidence) -> Iterator[Draft]:
    """Every microphone and its preamplifier keep headroom above average speech.

    Judged with the gain that the document states, else with the one that brings its mean talker to
    −20 dBFS. An error where average speech itself clips. A figure that no sheet states is not
    assessed in the level diagram, and nothing is judged by it.
    """
    limit = limit_in_force(evidence, LIMIT)
    for diagram in evidence.levels:
        if diagram.path != "outbound":
            continue
        stage = lacks_headroom(diagram, STAGES, limit)
        if stage is None:
            continue
        left = stage.headroom_db or 0.0
        excess = limit - left
        advised = diagram.recommended_gain_db
        yield Draft(
            at=stage.at if stage.at.startswith("devices.") else f"devices.{diagram.device}",
            message=(
                f"The {stage.name} of {diagram.device} {headroom_said(stage)}; "
                f"{decibels(limit)} are wanted."
            ),
            value=left,
            limit=limit,
            unit="dB",
            remedy=(
                f"Lower its gain by {some_decibels(excess)}"
                + ("." if advised is None else f"; {decibels(advised)} is recommended.")
                if stage.name == "preamplifier"
                else f"Take a microphone that bears "
                f"{some_decibels(excess)} more, or keep away from it."
            ),
            severity="error" if left < 0.0 else None,
        )
