"""Speech transmission index at the far end, seat by seat."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.seat_targets import FULL_MODULATION_DB, loudest_noise, shortfalls
from wellheard.checks.wording import decibels
from wellheard.predict.evidence import Evidence, Outbound


@rule(
    "target-missed-sti",
    "error",
    strength="house",
    cites="targets.sti_outbound of this document; STI after IEC 60268-16",
    relaxable=False,
)
def target_missed_sti(evidence: Evidence) -> Iterator[Draft]:
    """Every talking point reaches the promised STI at the far end.

    An error where the predicted middle value misses the target, a warning
    ("at risk") where the value keeps it but the chance is below
    `targets.chance`. The remedy says whether noise or reverberation limits the
    seat: noise does where speech is less than 15 dB above it.
    """
    yield from shortfalls(
        evidence, "sti_outbound", title="STI", shown=lambda sti: f"{sti:.2f}", remedy=_remedy
    )


def _remedy(evidence: Evidence, row: Outbound, lacking: float) -> str:
    noise_db = row.path.speech_to_noise_db
    ratio_db = row.path.direct_to_reverberant_db
    lack = f"STI lacks {lacking:.2f}" if lacking > 0 else "STI lacks chance"
    if noise_db < FULL_MODULATION_DB:
        return (
            f"{lack}; noise limits it (speech {decibels(noise_db)} above noise): quieten "
            f"{loudest_noise(evidence, row.path)}, or bring a microphone nearer."
        )
    return (
        f"{lack}; reverberation limits it (direct to reverberant {decibels(ratio_db)}): "
        "absorb more in the room, or bring a microphone nearer."
    )
