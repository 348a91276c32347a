"""The promise of a document held against a session of measurement."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Final

from wellheard.acoustics.levels import a_weighted_level_db
from wellheard.acoustics.speech import speech_levels_db
from wellheard.catalog.catalogue import Catalogue
from wellheard.measurement.session import FILE
from wellheard.measurement.taken import SessionResults
from wellheard.proving import compare_echo, compare_inbound, compare_outbound, compare_room
from wellheard.proving.alike import Alike
from wellheard.proving.case import Case, listed
from wellheard.proving.conditions import ways
from wellheard.proving.verdict import QUANTITIES, WORDS, Compared, Verdict
from wellheard.room.document import Room
from wellheard.room.space import Climate
from wellheard.units import format_temperature

MOST_ALIKE: Final = 3
"""More places than this at which a quantity was not measured are told together."""

MOST_NAMED: Final = 8
"""Of many places so many are named."""

NOT_MEASURED = "Not measured."

Say = Callable[[str], None]


def compare(
    room: Room, catalogue: Catalogue, found: SessionResults, *, document: str, say: Say
) -> Verdict:
    """Predict again as it was measured, and decide every promise that a measurement can decide.

    Parameters
    ----------
    room : Room
        The document; of one that divides the session says how it stood.
    catalogue : Catalogue
        Where its finishes and products are looked up.
    found : SessionResults
        What the recordings say.
    document : str
        Short name of the document's text.
    say : callable
        Told how far it is.

    Raises
    ------
    DocumentError
        The room divides, and the session does not say how it stood, or names an arrangement that
        the document does not have.
    """
    session = found.folder.session
    _arranged(room, found)
    alike = Alike(room, catalogue, session)
    where, unknown = ways(room, catalogue, alike.talkers, session)
    case = Case(alike, found, where)
    say("predicting what was promised …")
    _ = alike.promised
    say("predicting again as it was measured …")
    _ = alike.spaces
    say("comparing …")
    means = compare_room.means(case)
    rows = [
        *compare_outbound.rows(case),
        *compare_inbound.rows(case),
        *compare_room.noise_rows(case),
        *compare_echo.rows(case),
        *compare_room.decay_rows(case, means),
    ]
    return Verdict(
        session=found.folder.name,
        document=document,
        rows=worst_first(_few(rows)),
        decays=compare_room.decays(means[0]),
        noise=compare_room.noise(case),
        alike=tuple(_alike(case)),
        notes=(*unknown, *_notes(case)),
    )


def worst_first(rows: Iterable[Compared]) -> tuple[Compared, ...]:
    """Broken before what cannot be told before kept; in each the least likely first.

    What was not measured comes after what was.
    """

    def badness(numbered: tuple[int, Compared]) -> tuple[int, bool, float, int, int]:
        number, row = numbered
        chance = 1.0 if row.chance is None else round(row.chance, 9)
        return (
            WORDS.index(row.word),
            row.measured is None,
            chance,
            QUANTITIES.index(row.quantity),
            number,
        )

    return tuple(row for _, row in sorted(enumerate(rows), key=badness))


def _few(rows: Sequence[Compared]) -> Iterator[Compared]:
    """The same with many places at which a quantity was not measured in one row."""
    missing: dict[str, list[Compared]] = {}
    for row in rows:
        if row.place and row.why == NOT_MEASURED:
            missing.setdefault(row.quantity, []).append(row)
    told = set()
    for row in rows:
        those = missing.get(row.quantity, [])
        if len(those) <= MOST_ALIKE or row not in those:
            yield row
        elif row.quantity not in told:
            told.add(row.quantity)
            first = those[0]
            yield replace(
                first,
                place="",
                why=f"Not measured at {len(those)} places: {listed(one.place for one in those)}.",
                decide=f"{first.decide.removesuffix('.')}; in the same way for each of the others.",
            )


def _first(names: Sequence[str]) -> str:
    if len(names) <= MOST_NAMED:
        return listed(names)
    return f"{', '.join(names[:MOST_NAMED])} and {len(names) - MOST_NAMED} more"


def _arranged(room: Room, found: SessionResults) -> None:
    from wellheard.errors import DocumentError

    said = found.folder.session.arrangement
    known = list(room.arrangements)
    if (said is None and not known) or said in known:
        return
    if not known:
        what, allowed = f"arrangement {said}, of a room that does not divide", "null"
    elif said is None:
        what, allowed = "the room divides, and how it stood is not said", " or ".join(known)
    else:
        what, allowed = f"no arrangement {said}", " or ".join(known)
    raise DocumentError([found.folder.problem("arrangement", what, allowed)])


def _alike(case: Case) -> Iterator[str]:
    """What was set as in the session, and what the document promises instead."""
    session, room = case.session, case.alike.room
    people = room.people
    words = {"human": "with the directivity of a talker", "omni": "alike in all directions"}
    source = session.source.directivity
    same = (
        "as promised" if source == people.directivity else f"promised {words[people.directivity]}"
    )
    yield f"Source: {words[source]}, {same}."
    turned = sorted({r.facing_deg for r in session.recordings.values() if r.facing_deg is not None})
    if turned:
        yield f"Facing: {listed(f'{angle:g}°' for angle in turned)}, as the recordings say."
    level = float(a_weighted_level_db(speech_levels_db(people.effort)))
    source_db = case.source_db()
    if source_db is not None:
        yield (
            f"Level: {float(a_weighted_level_db(source_db)):.1f} dBA at 1 m, referred octave by "
            f"octave to {people.effort} effort, {level:.1f} dBA."
        )
    yield _beside("People", _taken(session.occupancy), _taken(people.occupancy))
    yield _beside("Air", _air(session.climate, room), _air(room.space.climate, room))
    mixed = [n for n in session.recordings if "mixer" in session.active_in(n)]
    active = listed(session.processing) or "none"
    yield (
        f"Processing: {active} active; "
        + (f"the automatic mixer while {listed(mixed)} was recorded" if mixed else "")
        + ("" if mixed else "one microphone open at a time")
        + "; promised as the document has it."
    )
    if session.arrangement is not None:
        yield f"Arrangement: {session.arrangement}; promised in every one, the worst counts."


def _beside(what: str, here: str, promised: str) -> str:
    return f"{what}: {here}, {'as promised' if here == promised else f'promised with {promised}'}."


def _taken(occupancy: float) -> str:
    return f"{100 * occupancy:.0f} % of the seats taken"


def _air(climate: Climate, room: Room) -> str:
    temperature = format_temperature(climate.temperature_c, unit=room.units)
    return f"{temperature} and {100 * climate.humidity:.0f} % relative humidity"


def _notes(case: Case) -> Iterator[str]:
    session, room = case.session, case.alike.room
    reasons: dict[str, list[str]] = {}
    for name, why in case.found.refused.items():
        reasons.setdefault(why, []).append(name)
    for why, names in reasons.items():
        yield f"{listed(names)}: {why.removesuffix('.')}."
    aside = [
        name
        for name, one in session.recordings.items()
        if one.kind in ("sweep", "impulse-response")
        and any(
            end is not None and end.kind == "elsewhere"
            for end in (case.where[name].source, case.where[name].receiver)
        )
    ]
    if aside:
        yield f"Of the decay alone, for no promise is made at their places: {listed(aside)}."
    electric = [
        one.recording
        for one in compare_room.noise(case)
        if (end := case.where[one.recording].receiver) is not None and end.kind == "microphone"
    ]
    if electric:
        yield (
            f"Noise at the outputs of microphones is shown and decides no NC number ({FILE}: "
            f"{listed(electric)}): their own noise and pattern are in it."
        )
    if room.space.measured_reverberation is not None:
        yield (
            "The document has a decay that was measured; the room as tested is predicted with it, "
            "whoever was in it."
        )
    if not case.alike.promised.microphones:
        yield "No microphone is placed: nothing is promised of the way out."
    if case.alike.promised.playback is None:
        yield "No loudspeaker is placed: nothing is promised of the way in."
    if room.targets.price is not None:
        yield "The price that is promised is no matter of measurement."
