"""Speech transmission index at the far end, seat by seat."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.seat_targets import (
    loudest_noise,
    shortfalls,
    sti_without_noise,
    sti_without_reverberation,
)
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
    seat: that without which the STI would be the higher.
    """
    yield from shortfalls(
        evidence, "sti_outbound", title="STI", shown=lambda sti: f"{sti:.2f}", remedy=_remedy
    )


def _remedy(evidence: Evidence, row: Outbound, lacking: float) -> str:
    quiet = sti_without_noise(row.path)
    dry = sti_without_reverberation(row.path)
    causes = f"{quiet:.2f} without noise, {dry:.2f} without reverberation"
    if quiet >= dry:
        return (
            f"Noise limits it ({causes}; {lacking:.3f} are lacking): quieten "
            f"{loudest_noise(evidence, row.path)}, or bring a microphone nearer."
        )
    return (
        f"Reverberation limits it ({causes}; {lacking:.3f} are lacking): absorb more in the "
        "room, or bring a microphone nearer."
    )
