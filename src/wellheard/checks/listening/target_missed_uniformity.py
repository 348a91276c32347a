"""Loudest and quietest ear."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.ears import dba
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import decibels, percent, place
from wellheard.predict.evidence import Evidence


@rule(
    "target-missed-uniformity",
    "error",
    strength="house",
    cites="targets.uniformity_db of this document",
    relaxable=False,
)
def target_missed_uniformity(evidence: Evidence) -> Iterator[Draft]:
    """No seat hears the far end much louder than another.

    The A-weighted level of the loudest seat less that of the quietest is at most
    `targets.uniformity_db`. An error where the predicted difference is greater, a warning where
    the chance that these two are near enough is below `targets.chance`. The difference in the
    2 kHz octave, by which loudspeaker coverage is judged, stands beside it.
    """
    found = evidence.playback
    if found is None or found.uniformity.target is None or found.uniformity.chance is None:
        return
    value, limit = found.uniformity.value, found.uniformity.target
    chance, wanted = found.uniformity.chance, evidence.room.targets.chance
    missed = value > limit
    if not missed and (wanted is None or chance >= wanted):
        return
    loudest = max(found.rows, key=lambda row: row.level.value)
    quietest = min(found.rows, key=lambda row: row.level.value)
    nearest = min(loudest.arrivals, key=lambda one: one.distance)
    asked = "" if wanted is None else f" ({percent(wanted)} wanted)"
    yield Draft(
        at="targets.uniformity_db",
        message=(
            f"{place(loudest.talker)} hears the far end at {dba(loudest.level.value)}, "
            f"{place(quietest.talker)} at {dba(quietest.level.value)}: {decibels(value)} apart "
            f"({decibels(found.uniformity_speech_db)} at 2 kHz), {limit:g} dB are promised, chance "
            f"{percent(chance)}{asked}."
        ),
        value=value,
        limit=limit,
        unit="dB",
        remedy=(
            f"Move {nearest.loudspeaker} away from {place(loudest.talker)}, or take more "
            "loudspeakers at a lower level, each nearer to its own seats."
        ),
        severity="error" if missed else "warning",
    )
