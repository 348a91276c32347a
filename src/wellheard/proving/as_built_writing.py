"""A calibrated document: finishes with their own absorption, and what vouches for them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from wellheard.bands import OCTAVES
from wellheard.forms.fields import ID_PATTERN
from wellheard.measurement.taken import SessionResults
from wellheard.predict import tolerances
from wellheard.predict.alternatives import changed
from wellheard.proving.as_built_groups import WALLS, by_wall
from wellheard.room.amend import without_value
from wellheard.room.document import Room
from wellheard.room.finishes import InlineFinish

if TYPE_CHECKING:
    from wellheard.proving.as_built import Calibrated

SLIGHT: Final = 0.005
"""An absorption that moves by less keeps its finish: it is printed the same."""

FINISHES: Final = "space.finishes"
SCATTERING: Final = "space.scattering"


def undecayed(room: Room) -> Room:
    """The document without a decay that was measured before: the finishes carry it from now on."""
    if room.space.measured_reverberation is None:
        return room
    basis = {k: v for k, v in room.basis.items() if k != tolerances.MEASURED_TIME}
    plain = without_value(room, tolerances.MEASURED_TIME)
    return plain.model_copy(update={"basis": basis})


def written(
    room: Room,
    groups: Sequence[Calibrated],
    scattering: float,
    found: SessionResults,
    times: Sequence[float | None],
) -> Room:
    """The document with calibrated finishes, their basis, and an entry in its history.

    Parameters
    ----------
    room : Room
        As it was, without a measured decay.
    groups : sequence of Calibrated
        Those that are to be written are.
    scattering : float
        Of the surfaces.
    found : SessionResults
        The session that it rests on.
    times : sequence of float or None
        T20 measured in each octave [s].
    """
    moved = [one for one in groups if one.written]
    fresh = _finished(room, moved)
    fresh = changed(fresh, SCATTERING, scattering)
    paths = {path for one in moved for path in one.paths}
    basis = {
        path: word
        for path, word in fresh.basis.items()
        if path not in paths and not path.startswith(tolerances.LARGE_SURFACES)
    }
    elsewhere = sorted(path for path in paths if not path.startswith(FINISHES))
    basis |= dict.fromkeys((FINISHES, SCATTERING, *elsewhere), "measured")
    history = {**fresh.history, _name(room, found.folder.name): _entry(moved, found, times)}
    return fresh.model_copy(update={"basis": basis, "history": history})


def _finished(room: Room, groups: Sequence[Calibrated]) -> Room:
    fresh = room
    for one in groups:
        finish = InlineFinish(absorption=one.after)
        walls = [path for path in one.paths if path.startswith(f"{WALLS}.")]
        rest = [path for path in one.paths if path not in walls]
        if len(walls) == len(room.space.walls):
            fresh, walls = changed(fresh, WALLS, finish), []
        if walls:
            fresh = by_wall(fresh)
        for path in (*walls, *rest):
            fresh = changed(fresh, path, finish)
    return fresh


def _name(room: Room, session: str) -> str:
    """Of the entry: of the session, and another each time."""
    stem = f"as-built-{session}"[:36].rstrip("-")
    if not re.fullmatch(ID_PATTERN, stem):
        stem = "as-built"
    if stem not in room.history:
        return stem
    number = 2
    while f"{stem}-{number}" in room.history:
        number += 1
    return f"{stem}-{number}"


def _entry(
    groups: Sequence[Calibrated], found: SessionResults, times: Sequence[float | None]
) -> dict[str, object]:
    session = found.folder.session
    there = [(o, t) for o, t in zip(OCTAVES, times, strict=True) if t is not None]
    entry: dict[str, object] = {
        "what": "Absorption and scattering calibrated to measured decay times",
        "session": found.folder.name,
        "occupancy": session.occupancy,
        "t20": {f"{octave:g}": round(time, 3) for octave, time in there},
        "finishes_before": {
            path: one.finish or "written in the document" for one in groups for path in one.paths
        },
    }
    if session.date is not None:
        entry["date"] = session.date.isoformat()
    if session.by:
        entry["by"] = session.by
    return entry
