"""Lift that cannot bring what the farthest seat needs."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.lifting import at, in_use
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import decibels, length
from wellheard.predict.evidence import Evidence


@rule(
    "lift-not-enough",
    "warning",
    strength="house",
    cites="potential and needed acoustic gain, Davis and Patronis, via an open code [L]; "
    "distances of quiet and noisy rooms common practice [C]",
    thresholds=("acoustic-distance-quiet", "acoustic-distance-noisy"),
)
def lift_not_enough(evidence: Evidence) -> Iterator[Draft]:
    """A lift can bring what the seat farthest from a talker needs.

    The potential acoustic gain of the pair that is farthest apart is at least the needed one:
    what brings the talker acoustically as near as one is heard well from, 3 m in a quiet room
    and 1.2 m in a noisy one. Both are worked out with the level changes of this room; by the
    four distances alone, as in the free field, they are in the working. Where potential falls
    short of needed, more gain howls before it helps.
    """
    found = in_use(evidence)
    if found is None or found.farthest is None:
        return
    if found.potential_gain_db >= found.needed_gain_db or found.needed_gain_db <= 0.0:
        return
    pair = found.farthest
    yield Draft(
        at=at(evidence, pair.microphone, pair.loudspeaker),
        message=(
            f"{pair.listener}, {length(evidence, pair.talker_to_listener)} from {pair.speaker}, "
            f"needs {decibels(found.needed_gain_db)} to hear as from "
            f"{length(evidence, found.equivalent_distance)}; {pair.microphone} and "
            f"{pair.loudspeaker} can bring {decibels(found.potential_gain_db)} with "
            f"{decibels(found.wanted_margin_db)} left before howling."
        ),
        value=found.potential_gain_db,
        limit=found.needed_gain_db,
        unit="dB",
        remedy=(
            f"Bring the microphone nearer to {pair.speaker}, now "
            f"{length(evidence, pair.talker_to_microphone)}: half the distance brings up to 6 dB. "
            "Or hang loudspeakers nearer to the listeners and farther from microphones, open fewer "
            "microphones at once, quieten the room, or do without lift."
        ),
    )
