"""Whether neighbours understand what is said in the room."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.acoustics.levels import a_weighted_level_db
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.wording import decibels, listed
from wellheard.predict import privacy
from wellheard.predict.evidence import Evidence
from wellheard.predict.privacy import Leak

CODE = "privacy-margin"
USUAL = "privacy-class"
BOARD = "privacy-class-board"
BOARD_SEATS = 16
"""From so many seats on a meeting room is a board room; common practice, no source."""


@rule(CODE, "warning", strength="house", cites="", thresholds=(CODE, USUAL, BOARD))
def privacy_margin(evidence: Evidence) -> Iterator[Draft]:
    """Nobody next door understands what is said here.

    For each wall of `space.isolation` with its class (`stc`) and the noise beyond (`outside`),
    the speech behind it is held against that noise: the reverberant level that a talker at the
    document's vocal effort makes at the wall, or far-end speech at `targets.playback_level_dba`
    where a loudspeaker plays it, whichever is heard more clearly, less the wall's reduction.
    The margin is the plain mean of the octaves 250 Hz to 4 kHz, each counted to 32 dB at most.
    At 16 dB about every second good listener still catches a word. The remedy says which class
    would do. In a room that divides, a closed partition is a wall under its own id with the
    class of `partitions.<id>.stc`, and beyond it is the background of the document if that is
    told; `space.isolation.<id>` of the part is where the two are written.

    A wall whose class is known and the noise beyond is not is held against what is usual
    between meeting rooms, 45, and round a room of sixteen seats and more, 50; it must reach
    that, but the margin is not assessed. All walls of which too little is known share one note.

    Limits: one number stands for a spectrum (the contour of the rating, from which walls fall
    short by up to 2 dB on the mean); sound that goes round the wall, through the void, ducts
    and under doors, counts only if the class is one measured in the building; the room beyond
    absorbs as much as an open window of the wall's size; direct sound of somebody who talks
    close to the wall is left out; nothing is said about floor and ceiling.
    """
    limit = limit_in_force(evidence, CODE)
    unknown: list[str] = []
    for wall in evidence.room.space.walls:
        found = privacy.leak(evidence, wall)
        if found is None:
            unknown.append(wall)
            yield from _by_class(evidence, wall)
        elif found.margin_db < limit:
            yield _understood(evidence, found, limit)
    if unknown:
        yield _not_assessed(evidence, unknown)


def _understood(evidence: Evidence, found: Leak, limit: float) -> Draft:
    stc = evidence.room.space.isolation[found.wall].stc
    assert stc is not None  # else there is no leak to judge
    loud = found.voice == privacy.LOUDSPEAKERS
    who = "Far-end speech from the loudspeakers" if loud else f"Talker {found.voice}"
    inside, behind, noise = (
        a_weighted_level_db(levels) for levels in (found.inside_db, found.behind_db, found.noise_db)
    )
    needed = privacy.class_needed(evidence, found.wall, margin_db=limit)
    would_do = "no wall would do" if needed is None else f"a class of {needed} as built would do"
    instead = "lower targets.playback_level_dba" if loud else "absorb more in this room"
    return Draft(
        at=f"space.isolation.{found.wall}",
        message=(
            f"{who}, {inside:.0f} dBA in the room, is heard behind wall {found.wall} "
            f"(class {stc:g}) at {behind:.0f} dBA under noise of {noise:.0f} dBA: a margin of "
            f"{decibels(found.margin_db)} on the mean of the octaves 250 Hz to 4 kHz; "
            f"{decibels(limit)} are asked."
        ),
        value=found.margin_db,
        limit=limit,
        unit="dB",
        remedy=(
            f"Seal doors and joints first; {would_do}. Else {instead}, or raise the steady noise "
            "beyond by masking."
        ),
    )


def _by_class(evidence: Evidence, wall: str) -> Iterator[Draft]:
    """A class below the usual one, where nothing is known of the noise beyond."""
    told = evidence.room.space.isolation.get(wall)
    board = len(evidence.room.people.seats) >= BOARD_SEATS
    usual = evidence.room.targets.house_limit(BOARD if board else USUAL)
    if told is None or told.stc is None or usual is None or told.stc >= usual:
        return
    yield Draft(
        at=f"space.isolation.{wall}",
        message=(
            f"Wall {wall} has class {told.stc:g}; {usual:g} is usual "
            f"{'round a room of this size' if board else 'between meeting rooms'}."
        ),
        value=told.stc,
        limit=usual,
        remedy=(
            f"Seal doors and joints first, then build to {usual:g}; or find out the noise beyond "
            f"and enter space.isolation.{wall}.outside."
        ),
    )


def _not_assessed(evidence: Evidence, walls: list[str]) -> Draft:
    told = evidence.room.space.isolation
    some = len(walls) < len(evidence.room.space.walls) or bool(told)
    which = f"behind {listed(walls)}" if some else "next door"
    return Draft(
        at="space.isolation",
        message=(
            f"Whether speech is understood {which} is not assessed: class of the walls or noise "
            "beyond is unknown."
        ),
        remedy=(
            "Where privacy matters, enter space.isolation.<wall> with stc and outside, as "
            f"{{{walls[0]}: {{stc: 45, outside: {{nc: 30}}}}}}."
        ),
        severity="note",
        status="not-assessed",
    )
