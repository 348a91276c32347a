"""A seat moved by the least that is free; tables and what stands on them stay."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from wellheard.checks.model import Finding
from wellheard.checks.registry import rules
from wellheard.geometry.points import contains_points
from wellheard.predict.evidence import Evidence
from wellheard.predict.talkers import talkers
from wellheard.remedies.model import Change, Makers, Situation
from wellheard.remedies.rewrites import EXACT, length
from wellheard.room.document import Room

STEP = 0.05
FARTHEST = 0.6
"""Steps in which a free place is looked for, and how far off. [m]"""
DIRECTIONS = 16
OF_SEATS = ("seats-overlap", "chair-in-wall", "seat-in-furniture", "seat-pitch", "chair-clearance")
"""Rules that a new place is held against before anything is predicted."""


def _aside(situation: Situation, finding: Finding) -> Iterator[Change]:
    """The seat at the nearest place where no rule on seats finds more, and this one nothing."""
    room, name = situation.room, finding.at.removeprefix("people.seats.")
    seat = room.people.seats.get(name)
    if seat is None:
        return
    limit = _found(situation.evidence)
    for x, y in _around(seat.at):
        if not contains_points(
            np.asarray(room.space.outline, dtype=np.float64), np.asarray([[x, y]])
        )[0]:
            continue
        moved = _with_seat(room, name, (x, y))
        evidence = replace(situation.evidence, room=moved, talkers=talkers(moved))
        if any(d.at == finding.at for d in rules()[finding.code].check(evidence)):
            continue
        if _found(evidence) >= limit:
            continue
        by = math.dist(seat.at, (x, y))
        note = ""
        if finding.code == "seats-overlap":
            note = "If the seat was entered twice, leave it out instead."
        yield Change(
            f"Move seat {name} by {length(room, by)} to {length(room, x)}, {length(room, y)} on "
            "the plan.",
            moved,
            note,
        )
        return


def _around(at: tuple[float, float]) -> Iterator[tuple[float, float]]:
    """Places about a seat, the nearest first, along the axes before aslant."""
    turns = sorted(range(DIRECTIONS), key=lambda i: (i % (DIRECTIONS // 4) != 0, i))
    for ring in range(1, round(FARTHEST / STEP) + 1):
        for turn in turns:
            angle = 2 * math.pi * turn / DIRECTIONS
            x, y = at[0] + ring * STEP * math.cos(angle), at[1] + ring * STEP * math.sin(angle)
            yield round(x, EXACT), round(y, EXACT)


def _with_seat(room: Room, name: str, at: tuple[float, float]) -> Room:
    seats = {**room.people.seats, name: room.people.seats[name].model_copy(update={"at": at})}
    return room.model_copy(update={"people": room.people.model_copy(update={"seats": seats})})


def _found(evidence: Evidence) -> int:
    return sum(
        draft.status == "fail" for code in OF_SEATS for draft in rules()[code].check(evidence)
    )


MAKERS: Makers = dict.fromkeys(("chair-in-wall", "seat-in-furniture", "seats-overlap"), (_aside,))
