"""Microphones in which a loudspeaker is far louder than the talker."""

from __future__ import annotations

import math
from collections.abc import Iterator

from wellheard.checks.echoes import LEAST
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.wording import decibels
from wellheard.predict.evidence import Evidence
from wellheard.predict.wayback import Echo

LIMIT = "loudspeaker-over-talker-db"


@rule("loudspeaker-over-talker", "warning", strength="house", cites="", thresholds=(LIMIT,))
def loudspeaker_over_talker(evidence: Evidence) -> Iterator[Draft]:
    """No microphone hears the loudspeakers much louder than its talker.

    Compared are A-weighted levels at the capsule, far-end speech at playback level and a talker of
    the document's effort. A canceller can take much away; while both talk, what it takes from the
    talker with it grows with that ratio. A combined device is exempt within its own housing.
    """
    limit = limit_in_force(evidence, LIMIT)
    for one in evidence.echo:
        others = [(name, loss) for name, loss in one.by_loudspeaker_db if name != one.microphone]
        if not others:
            continue
        over = one.echo_to_speech_db + _share_db(one, others)
        if over <= limit + LEAST:
            continue
        loud = min(others, key=lambda pair: pair[1])[0]
        yield Draft(
            at=f"devices.{one.microphone}",
            message=(
                f"At {one.microphone} the loudspeakers are {decibels(over)} louder than "
                f"{one.talker}; at most {decibels(limit)} are wanted. {loud} is the loudest."
            ),
            value=over,
            limit=limit,
            unit="dB",
            remedy=(
                f"Bring {one.microphone} nearer to {one.talker} or farther from {loud}, or play "
                "less loudly."
            ),
        )


def _share_db(one: Echo, others: list[tuple[str, float]]) -> float:
    """What is left of the echo without the loudspeaker in the microphone's own housing. [dB]"""
    kept = sum(10 ** (-loss / 10) for _, loss in others)
    whole = sum(10 ** (-loss / 10) for _, loss in one.by_loudspeaker_db)
    return 10 * math.log10(kept / whole)
