"""A session of measurement made ready for the documents: verdict, map, charts, files."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from wellheard.dossier.proven import WIDTH, Charts, Proven, grouped
from wellheard.dossier.sections.verdict import MOST_TOLD
from wellheard.dossier.words import NOT_ASSESSED, percent
from wellheard.drawings.spots import Spot, SpotKind
from wellheard.drawings.verdictmap import Found, verdict_map
from wellheard.drawings.view import PlanView
from wellheard.measurement.session import Session
from wellheard.measurement.taken import SessionResults
from wellheard.predict.evidence import Evidence
from wellheard.predict.talkers import talkers
from wellheard.proving.alike import Alike
from wellheard.proving.conditions import Place, Way, ways
from wellheard.proving.verdict import QUANTITIES, WORDS, Compared
from wellheard.room.document import Room
from wellheard.units import Unit
from wellheard.workflow import proving
from wellheard.workflow.design import Progress, quiet
from wellheard.workflow.load import Loaded
from wellheard.workflow.manifest import json_bytes
from wellheard.workflow.measuring import measure_session

VERDICT = "verdict.json"
FOLDER = "measured"
"""Of the charts, among the documents."""
MAP_HEIGHT: Mapping[Unit, float] = {"m": 58.0, "ft": 42.0}
"""Of the plan on the customer's page where that is full, by paper. [mm]"""
LINE, REMARK, TALLEST = 4.4, 10.0, 112.0
"""What a line of the promise and a remark leave to the plan where there is none; its most. [mm]"""
FIGURES = "least chance of what is promised there"


def prove_session(
    loaded: Loaded, session: str | os.PathLike[str], *, say: Progress = quiet
) -> Proven:
    """Measure a session and hold a document against it, for its documents.

    Raises
    ------
    InputError, DocumentError
        There is no such session, or it cannot be read.
    """
    return proven_by(loaded, measure_session(session, say=say), say=say)


def proven_by(loaded: Loaded, results: SessionResults, *, say: Progress = quiet) -> Proven:
    """The same of a session that was measured already."""
    verdict = proving.verdict(loaded, results, say=say)
    return Proven(verdict, results, predicted_modulation=_modulation(loaded, results))


def _modulation(
    loaded: Loaded, results: SessionResults
) -> dict[str, tuple[tuple[float, ...], ...]]:
    """Modulation transfer with people and air of the session, of every way out that has one."""
    session = results.folder.session
    where = _ways(loaded, session)
    out = {n: where[n] for n in results.responses if where[n].goes("talker", "microphone")}
    if not out:
        return {}
    alike = Alike(loaded.room, loaded.catalogue, session)
    found = {}
    for name, way in out.items():
        if way.source is not None and way.receiver is not None:
            path = alike.surrounded_path(way.source.id, way.receiver.id)
            if path is not None:
                found[name] = path.room_transfer
    return found


def _ways(loaded: Loaded, session: Session) -> Mapping[str, Way]:
    room, catalogue = loaded.room, loaded.catalogue
    return ways(room, catalogue, talkers(room), session)[0]


def mapped(proven: Proven, view: PlanView, loaded: Loaded) -> Proven:
    """The same with the plan of what was found at every place."""
    room = loaded.room
    where = _ways(loaded, proven.session)
    drawn = verdict_map(
        view,
        found_at(room, proven.verdict.rows),
        tuple(dict.fromkeys(_spots(proven, where))),
        figures=FIGURES,
        width=WIDTH[room.units],
        height=_map_height(proven, room.units),
    )
    return replace(proven, map=drawn)


def _map_height(proven: Proven, unit: Unit) -> float:
    """How tall the plan may be beside what the customer's page has to say. [mm]"""
    rows = proven.verdict.rows
    lines = len({row.quantity for row in rows})
    remarks = len(grouped([row for row in rows if row.word != "kept"]))
    spare = LINE * (len(QUANTITIES) - lines) + REMARK * max(MOST_TOLD - remarks, 0)
    return min(MAP_HEIGHT[unit] + spare, TALLEST)


def found_at(room: Room, rows: Sequence[Compared]) -> dict[str, Found]:
    """What was found at every seat and standing area: its worst word and its least chance."""
    places: dict[str, list[Compared]] = {}
    for row in rows:
        owner = row.place if row.place in room.people.seats else row.place.partition(".")[0]
        if owner in room.people.seats or owner in room.people.standing:
            places.setdefault(owner, []).append(row)
    return {owner: _found(mine) for owner, mine in places.items()}


def _found(rows: Sequence[Compared]) -> Found:
    word = next(one for one in WORDS if any(row.word == one for row in rows))
    # What is not known has no chance: a figure of the rest would say too much.
    decided = [row.chance for row in rows if row.word == word and row.chance is not None]
    return Found(word, percent(min(decided)) if decided else NOT_ASSESSED)


def _spots(proven: Proven, where: Mapping[str, Way]) -> Iterator[Spot]:
    """Where sound came from and was recorded, besides devices, of what was really taken."""
    for name in proven.results.taken:
        ends: tuple[tuple[SpotKind, Place | None], ...] = (
            ("source", where[name].source),
            ("microphone", where[name].receiver),
        )
        for kind, place in ends:
            if place is not None and place.at is not None and place.kind in ("talker", "elsewhere"):
                yield Spot(kind, (float(place.at[0]), float(place.at[1])))


def proven_files(proven: Proven, evidence: Evidence) -> dict[str, bytes]:
    """The verdict, and every chart of the session, by name."""
    files = {VERDICT: json_bytes(proving.as_json(proven.verdict))}
    for chart in Charts(proven, evidence.room).all():
        files[f"{FOLDER}/{chart.stem}.svg"] = chart.svg().encode()
    return files
