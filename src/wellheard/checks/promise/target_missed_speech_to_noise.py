"""Speech-to-noise ratio at the microphone, seat by seat."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.seat_targets import loudest_noise, nearer, shortfalls
from wellheard.checks.wording import decibels, some_decibels
from wellheard.predict.evidence import Evidence, Outbound


@rule(
    "target-missed-speech-to-noise",
    "error",
    strength="house",
    cites="targets.speech_to_noise_db of this document; weights of ANSI/ASA S3.5",
    relaxable=False,
)
def target_missed_speech_to_noise(evidence: Evidence) -> Iterator[Draft]:
    """Every talking point reaches the promised speech-to-noise ratio.

    An error where the predicted middle value misses the target, a warning where
    the chance is below `targets.chance`. The remedy names what makes most of
    the A-weighted noise at the microphone: the background, a located source, or
    the microphone itself.
    """
    yield from shortfalls(
        evidence,
        "speech_to_noise_db",
        title="speech to noise",
        shown=decibels,
        remedy=_remedy,
    )


def _remedy(evidence: Evidence, row: Outbound, lacking: float) -> str:
    return (
        f"Quieten {loudest_noise(evidence, row.path)} by {some_decibels(lacking)}, or "
        f"{nearer(evidence, row, lacking)}."
    )
