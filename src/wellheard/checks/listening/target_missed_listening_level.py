"""Level of the far end, ear by ear, within the promised range."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.ears import LEAST_TRIM_DB, brings_most, dba, trim_for, worst_of_each
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import decibels, percent, place
from wellheard.predict.evidence import Evidence
from wellheard.predict.inbound import missed
from wellheard.predict.wayback import Inbound


@rule(
    "target-missed-listening-level",
    "error",
    strength="house",
    cites="targets.listening_level_dba of this document",
    relaxable=False,
)
def target_missed_listening_level(evidence: Evidence) -> Iterator[Draft]:
    """Every seat hears the far end within the promised range of levels.

    The loudspeakers are set so that the mean over all seats is `targets.playback_level_dba`. An
    error where the level at a seat lies outside `targets.listening_level_dba`, a warning where the
    chance of lying within it is below `targets.chance`. The remedy is computed: the trim of the
    loudspeaker that brings most there, against the others.
    """
    promised = evidence.room.targets.listening_level_dba
    if promised is None or evidence.playback is None:
        return
    low, high = promised
    wanted = evidence.room.targets.chance
    for owner, row in worst_of_each(
        evidence, lambda one: max(low - one.level.value, one.level.value - high)
    ):
        level = row.level.value
        out = missed(evidence.room, row.level)
        chance = 0.0 if row.level.chance is None else row.level.chance
        if not out and (wanted is None or chance >= wanted):
            continue
        nearer = low if abs(level - low) <= abs(level - high) else high
        what = "hears the far end at" if out else "is at risk of leaving the range: it hears"
        asked = "" if wanted is None else f" ({percent(wanted)} wanted)"
        yield Draft(
            at=owner,
            message=(
                f"{place(row.talker)} {what} {dba(level)}; {low:g} to {high:g} dBA are promised, "
                f"chance {percent(chance)}{asked}."
            ),
            value=level,
            limit=nearer,
            unit="dBA",
            remedy=_remedy(evidence, row, nearer - level),
            severity="error" if out else "warning",
        )


def _remedy(evidence: Evidence, row: Inbound, moved_db: float) -> str:
    assert evidence.playback is not None
    low, high = evidence.room.targets.listening_level_dba or (0.0, 0.0)
    mean = evidence.playback.target_dba
    if not low <= mean <= high:
        return (
            f"The mean over the seats is set to {mean:g} dBA: set targets.playback_level_dba "
            f"between {low:g} and {high:g} dBA."
        )
    trim = trim_for(row, moved_db)
    louder = moved_db > 0
    if trim is None or abs(trim) < LEAST_TRIM_DB:
        way = "nearer to" if louder else "farther from"
        return (
            f"Bring a loudspeaker {way} {place(row.talker)}, or add one that evens the seats out."
        )
    return (
        f"Trim {brings_most(row)}, which brings most there, {'up' if louder else 'down'} by "
        f"{decibels(abs(trim))} against the others (a gain stage on its input), or move it."
    )
