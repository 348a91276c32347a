"""Lift that is louder than it should be."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.lifting import at, in_use
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import decibels, listed, some_decibels
from wellheard.predict.evidence import Evidence
from wellheard.predict.wayback import Lift

CODE, INCREASE = "lift-too-loud", "lift-increase-db"


@rule(CODE, "warning", strength="house", cites="", thresholds=(CODE, INCREASE))
def lift_too_loud(evidence: Evidence) -> Iterator[Draft]:
    """A lift helps the far seats without being noticed.

    At no seat does it make the voice that is heard worst there more than 6 dB louder, and lifted
    and natural voice together stay at or below 65 dBA: beyond, people hear the loudspeakers and
    lower their voices, and the rest of the room hears less. A seat where the voice alone is
    louder than that is not held to the level.
    """
    found = in_use(evidence)
    if found is None:
        return
    yield from _increase(evidence, found)
    yield from _level(evidence, found)


def _increase(evidence: Evidence, found: Lift) -> Iterator[Draft]:
    limit = evidence.room.targets.house_limit(INCREASE)
    if limit is None:
        return
    over = sorted(
        (row for row in found.rows if row.gain_db > limit + 1e-6), key=lambda row: -row.gain_db
    )
    if not over:
        return
    worst = over[0]
    yield Draft(
        at=at(evidence),
        message=(
            f"The lift makes {worst.speaker} {decibels(worst.gain_db)} louder at "
            f"{worst.talker.id}; at most {decibels(limit)} are usual. Over it: "
            f"{listed([row.talker.id for row in over])}."
        ),
        value=worst.gain_db,
        limit=limit,
        unit="dB",
        remedy=_lower(found),
    )


def _level(evidence: Evidence, found: Lift) -> Iterator[Draft]:
    limit = evidence.room.targets.house_limit(CODE)
    if limit is None:
        return
    over = sorted(
        (row for row in found.rows if row.natural_dba <= limit < row.lifted_dba - 1e-6),
        key=lambda row: -row.lifted_dba,
    )
    if not over:
        return
    worst = over[0]
    yield Draft(
        at=at(evidence),
        message=(
            f"With the lift {worst.speaker} is heard at {worst.talker.id} with "
            f"{worst.lifted_dba:.1f} dBA; at most {limit:.0f} dBA are usual. Over it: "
            f"{listed([row.talker.id for row in over])}."
        ),
        value=worst.lifted_dba,
        limit=limit,
        unit="dBA",
        remedy=_lower(found),
    )


def _lower(found: Lift) -> str:
    by = found.gain_db - found.advised_gain_db
    return (
        f"Lower the lift by {some_decibels(by)}: margin, increase and level are then as wanted."
        if by > 0.0
        else "Lower the lift, or the trims of the loudspeakers there."
    )
