"""A room that divides: in which arrangements the promise holds, and pages for each of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from wellheard.dossier.model import Line, Paragraph, Run, Section
from wellheard.dossier.places import places_worst_first, together, worst_state
from wellheard.dossier.words import counted, listed, percent, sentence
from wellheard.predict.evidence import Evidence
from wellheard.predict.parts import PartEvidence
from wellheard.room.divide import Part, closed_in
from wellheard.room.document import Room

MOST_NAMED = 3
"""Places that a sentence names before it counts the rest."""


def of_part(section: Section, part: Part, room: Room) -> Section:
    """Return a section of one space under its name, led by what is open and what is closed.

    Every arrangement begins a page; its spaces follow each other.
    """
    closed = closed_in(room, part.arrangement)
    opened = [key for key in room.partitions if key not in closed]
    said = [f"{listed(closed)} closed"] if closed else []
    if opened:
        said.append(f"{listed(opened)} open")
    walls = listed(part.room.space.walls)
    lead = f"With {' and '.join(said)}: the space between {walls}." if said else ""
    blocks = (Paragraph((Run(lead),), "lead"), *section.blocks) if lead else section.blocks
    return replace(
        section,
        title=f"{section.title}: {part.title}",
        blocks=blocks,
        new_page=part.cell in ("", "a"),
    )


def holds_in(parts: Sequence[PartEvidence]) -> Line:
    """Return in which arrangements the promise holds, and what is short in the others."""
    kept: list[str] = []
    short: list[str] = []
    for key in dict.fromkeys(one.part.arrangement for one in parts):
        mine = [one for one in parts if one.part.arrangement == key]
        failing = [
            text
            for one in mine
            for text in (_failing(one.part, one.evidence), _failing_inbound(one.part, one.evidence))
            if text
        ]
        if failing:
            short.append("; ".join(failing))
        else:
            kept.append(key)
    if not short:
        return (Run(f"The promise holds in every arrangement: {listed(kept)}."),)
    held = f"The promise holds in {listed(kept)}. " if kept else "It holds in no arrangement. "
    return (Run(f"{held}{'. '.join(map(sentence, short))}."),)


def _failing(part: Part, evidence: Evidence) -> str:
    places = places_worst_first(evidence)
    if not places:
        people = counted(len({t.owner for t in evidence.talkers}), "place")
        return f"in {part.title}, no microphone hears {people}"
    rest = [place for place in places if place.state != "kept"]
    if not rest:
        return ""
    state = worst_state([place.state for place in rest])
    names = together([(place.owner, place.kind) for place in rest], most=MOST_NAMED)
    verb = "is" if len(rest) == 1 else "are"
    return f"in {part.title}, {names} {verb} {state}, chance {percent(rest[0].chance)} at worst"


def _failing_inbound(part: Part, evidence: Evidence) -> str:
    """Where the far end is not surely heard as promised; '' where it is, or nothing is promised."""
    if evidence.playback is None:
        return ""
    rest = [
        row for row in evidence.playback.rows if row.binds and row.state in ("broken", "at risk")
    ]
    if not rest:
        return ""
    state = worst_state([row.state for row in rest])
    worst = sorted(rest, key=lambda row: (row.chance, row.talker.id))
    owners = dict.fromkeys((row.talker.owner, row.talker.kind) for row in worst)
    names = together(tuple(owners), most=MOST_NAMED)
    return f"in {part.title}, the far end’s voice is {state} at {names}"
