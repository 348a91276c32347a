"""Peaks of speech against what a loudspeaker can play."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import decibels
from wellheard.predict.evidence import Evidence


@rule(
    "loudspeaker-headroom",
    "error",
    strength="product",
    cites="maximum level of the product at 1 m",
    thresholds=("speech-crest-db",),
)
def loudspeaker_headroom(evidence: Evidence) -> Iterator[Draft]:
    """No loudspeaker is asked for more than it can play.

    At the playback level the peaks of far-end speech, 12 dB over its unweighted average, stay
    below the product's maximum level at 1 m. Beyond it a loudspeaker distorts, which no canceller
    removes, and wears out. Of a pair each half has half of the maximum.
    """
    if evidence.playback is None:
        return
    for one in evidence.playback.drives:
        if one.headroom_db >= 0.0:
            continue
        device = next(p.device for p in evidence.playback.loudspeakers if p.id == one.loudspeaker)
        over = decibels(-one.headroom_db)
        yield Draft(
            at=f"devices.{device}",
            message=(
                f"Loudspeaker {one.loudspeaker} has to play peaks of {decibels(one.peak_1m_db)} at "
                f"1 m; it plays {decibels(one.max_level_db)} at most."
            ),
            value=one.peak_1m_db,
            limit=one.max_level_db,
            unit="dB",
            remedy=(
                f"Play {over} softer, take a loudspeaker that plays {over} more, or more of them, "
                "nearer to the seats."
            ),
        )
