"""Direct-to-reverberant ratio at the microphone, seat by seat."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.seat_targets import less_reverberation, nearer, shortfalls
from wellheard.checks.wording import decibels
from wellheard.predict.evidence import Evidence, Outbound


@rule(
    "target-missed-direct-to-reverberant",
    "error",
    strength="house",
    cites="targets.direct_to_reverberant_db of this document",
    relaxable=False,
)
def target_missed_direct_to_reverberant(evidence: Evidence) -> Iterator[Draft]:
    """Every talking point reaches the promised direct-to-reverberant ratio.

    Beyond the critical distance STI hardly notices distance any more, the ear
    does: the voice sounds hollow. An error where the predicted middle value
    misses the target, a warning where the chance is below `targets.chance`. The
    remedy is computed: direct sound rises by 6 dB per halved distance,
    reverberant sound falls by 3 dB per doubled absorption.
    """
    yield from shortfalls(
        evidence,
        "direct_to_reverberant_db",
        title="direct to reverberant",
        shown=decibels,
        remedy=_remedy,
    )


def _remedy(evidence: Evidence, row: Outbound, lacking: float) -> str:
    away = row.path.off_axis_deg
    facing = f"; the worst facing looks {away:.0f}° away from it" if away > 90 else ""
    closer = nearer(evidence, row, lacking)
    return f"{closer[0].upper()}{closer[1:]}{facing}, or {less_reverberation(lacking)}."
