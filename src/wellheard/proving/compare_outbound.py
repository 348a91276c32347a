"""From talkers to the far end: what was measured at each microphone's output."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from wellheard.acoustics.levels import a_weighted_level_db
from wellheard.acoustics.speech import speech_levels_db
from wellheard.arrays import Array
from wellheard.measurement import responses
from wellheard.measurement.results import ResponseResult
from wellheard.measurement.session import Kind
from wellheard.measurement.taken import Taken
from wellheard.predict import outbound
from wellheard.predict.evidence import SEAT_TARGETS, Outbound, Path, Quantity
from wellheard.proving.alike import AsTested
from wellheard.proving.case import (
    RESPONSES,
    Case,
    Flaw,
    listed,
    sentence,
    without_noise_db,
)
from wellheard.proving.conditions import Way
from wellheard.proving.deciding import (
    STI_SIGMA,
    Promise,
    Reading,
    Step,
    judged,
    shown,
    signed,
    undecided,
)
from wellheard.proving.verdict import Compared

UNITS: Final = {"sti_outbound": "", "direct_to_reverberant_db": "dB", "speech_to_noise_db": "dB"}

SURROUNDINGS = "people and air"
SOURCE = "source and open microphones"


@dataclass(frozen=True, eq=False)
class Group:
    """Recordings of one path: one source at one place, facing one way, at one microphone."""

    microphone: str
    tested: AsTested
    taken: dict[str, Taken]


def rows(case: Case) -> Iterator[Compared]:
    """Every promise of the way out, in the order of the document."""
    targets = case.alike.room.targets
    for row in case.alike.promised.outbound:
        for name in SEAT_TARGETS:
            if getattr(targets, name) is not None:
                yield _row(case, name, row)


def promise_of(case: Case, name: str, row: Outbound) -> Promise:
    """What is promised of a talking point, and what to record for it."""
    talker, microphone = row.talker.id, row.path.microphone
    if name == "speech_to_noise_db":
        again = (
            f"Record speech-shaped noise from {talker} and the silent room at the output of "
            f"{microphone}, and state the level of the source at 1 m."
        )
    else:
        again = f"Record a sweep from {talker} at the output of {microphone}."
    low = getattr(case.alike.room.targets, name)
    return Promise(name, talker, UNITS[name], (low, None), again)


def _row(case: Case, name: str, row: Outbound) -> Compared:
    promise = promise_of(case, name, row)
    groups, flaws = _groups(case, name, row.talker.id)
    each: dict[str, list[Compared]] = {}
    for group in groups:
        found = _reading(case, name, row.talker.id, group)
        steps = _steps(case, name, row.talker.id, group)
        if isinstance(found, Flaw) or isinstance(steps, Flaw):
            flaws += [one for one in (found, steps) if isinstance(one, Flaw)]
            continue
        each.setdefault(group.microphone, []).append(
            judged(promise, found, tested=_quantity(group.tested, name), steps=steps)
        )
    # Of several ways that a talker faces the worst counts.
    worst = {m: min(those, key=lambda one: one.estimate or 0.0) for m, those in each.items()}
    serving = row.path.microphone
    if serving in worst:
        return worst[serving]
    if worst:
        best = max(worst.values(), key=lambda one: one.estimate or 0.0)
        return best if best.word == "kept" else _at_another(promise, best, worst, serving)
    if flaws:
        return undecided(promise, flaws[0].why, decide=flaws[0].decide)
    return undecided(promise, "Not measured.")


def _at_another(
    promise: Promise, best: Compared, measured: dict[str, Compared], serving: str
) -> Compared:
    reading = Reading(best.measured or 0.0, best.measured_sigma or 0.0, best.recordings)
    return undecided(
        promise,
        f"Measured at {listed(measured)} only: {shown(reading.value, promise.unit)}. {serving} is "
        "to serve this place.",
        reading=reading,
        tested=best.tested,
    )


def _groups(case: Case, name: str, talker: str) -> tuple[list[Group], list[Flaw]]:
    def fits(way: Way) -> bool:
        return (
            way.goes("talker", "microphone") and way.source is not None and way.source.id == talker
        )

    kinds: tuple[Kind, ...] = ("speech",) if name == "speech_to_noise_db" else RESPONSES
    groups: dict[tuple[object, ...], Group] = {}
    flaws: list[Flaw] = []
    for one, recording in case.recordings(kinds, fits).items():
        taken, way = case.taken(one), case.where[one]
        if isinstance(taken, Flaw):
            flaws.append(taken)
            continue
        mixed = "mixer" in case.session.active_in(one)
        microphone = "" if way.receiver is None else way.receiver.id
        key = (way.source, microphone, recording.facing_deg, mixed)
        if key not in groups:
            tested = case.alike.tested(recording, way, mixed=mixed)
            if tested is None:
                flaws.append(
                    Flaw(
                        f"{talker} and {microphone} were in different spaces.",
                        "Record it in an arrangement in which they are together.",
                    )
                )
                continue
            groups[key] = Group(microphone, tested, {})
        groups[key].taken[one] = taken
    return list(groups.values()), flaws


def _quantity(tested: AsTested, name: str) -> Quantity:
    return {
        "sti_outbound": tested.sti,
        "direct_to_reverberant_db": tested.direct_to_reverberant,
        "speech_to_noise_db": tested.speech_to_noise,
    }[name]


def _value(path: Path, name: str) -> float:
    return path.sti if name == "sti_outbound" else float(getattr(path, name))


def _steps(case: Case, name: str, talker: str, group: Group) -> tuple[Step, ...] | Flaw:
    tested = _quantity(group.tested, name).value
    promised = case.alike.promised_path(talker, group.microphone)
    there = case.alike.surrounded_path(talker, group.microphone)
    if promised is None or there is None:
        return Flaw(f"{talker} is promised to {group.microphone} in no such arrangement.", "")
    surroundings = SURROUNDINGS
    if case.alike.room.arrangements:
        surroundings += ", worst arrangement"
    return (
        Step(surroundings, _value(promised, name) - _value(there, name)),
        Step(SOURCE, _value(there, name) - tested),
    )


def _reading(case: Case, name: str, talker: str, group: Group) -> Reading | Flaw:
    if name == "sti_outbound":
        return _sti(case, talker, group)
    if name == "direct_to_reverberant_db":
        return _direct_to_reverberant(group)
    return _speech_to_noise(case, talker, group)


# Levels ------------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Referred:
    """Speech at the promised effort and noise at one output, by one instrument, shape (7,) each."""

    speech_db: Array
    noise_db: Array
    sigma_db: float
    recordings: tuple[str, ...]


def _referred(case: Case, talker: str, group: Group) -> Referred | Flaw:
    """Speech and noise at a microphone's output, the speech as loud as promised.

    The level at the output falls by as much as the source is louder than the promised effort, in
    each octave: the source's own spectrum cancels, and so does the microphone's sensitivity.
    """
    microphone = group.microphone

    def spoken(way: Way) -> bool:
        return (
            way.goes("talker", "microphone")
            and way.source is not None
            and way.receiver is not None
            and (way.source.id, way.receiver.id) == (talker, microphone)
        )

    def silent(way: Way) -> bool:
        return way.receiver is not None and way.receiver.id == microphone

    heard, quiet = case.recordings(("speech",), spoken), case.recordings(("noise",), silent)
    speech, noise = case.steady(heard), case.steady(quiet)
    source_db = case.source_db()
    lacking = [
        said
        for missing, said in (
            (speech is None, f"speech-shaped noise from {talker} at {microphone}"),
            (noise is None, f"the silent room at {microphone}"),
            (source_db is None, "the level of the source at 1 m"),
        )
        if missing
    ]
    if speech is None or noise is None or source_db is None:
        flaw = case.flaw_of((*heard, *quiet))
        return flaw or Flaw(f"{sentence(listed(lacking))} is not there.", "")
    if speech.calibration != noise.calibration:
        return Flaw(
            f"Speech and noise at {microphone} are by different calibrations.",
            "Record both with one input and one gain.",
        )
    noise_db = noise.speech_octaves_db
    heard_db = without_noise_db(speech.speech_octaves_db, noise_db)
    promised_db = speech_levels_db(case.alike.room.people.effort)
    return Referred(
        speech_db=heard_db + promised_db - source_db,
        noise_db=noise_db,
        sigma_db=math.hypot(case.session.source.sigma_db, speech.sigma_db, noise.sigma_db),
        recordings=(*speech.recordings, *noise.recordings),
    )


def _speech_to_noise(case: Case, talker: str, group: Group) -> Reading | Flaw:
    found = _referred(case, talker, group)
    if isinstance(found, Flaw):
        return found
    value = float(outbound.importance_mean(found.speech_db - found.noise_db))
    if not math.isfinite(value):
        return Flaw(
            "An octave from 250 Hz to 4 kHz is not in the recordings.",
            "Record at 44.1 kHz or more.",
        )
    return Reading(
        value,
        found.sigma_db,
        found.recordings,
        f"Referred to {case.alike.room.people.effort} effort, octave by octave.",
    )


# From a response ---------------------------------------------------------------------------------


def _sti(case: Case, talker: str, group: Group) -> Reading | Flaw:
    results = _results(group)
    flaw = case.without_modulation(results)
    if flaw is not None:
        return flaw
    referred = _referred(case, talker, group)
    if isinstance(referred, Flaw) or not np.all(np.isfinite(referred.speech_db)):
        speech_db, noise_db = group.tested.speech_db, group.tested.noise_db
        sigma_db = group.tested.scene.noise_sigma_db()
        how = (
            "Its modulation is measured; speech and noise at the far end are as predicted, for "
            f"they were not recorded at {group.microphone}."
        )
        others: tuple[str, ...] = ()
    else:
        room = case.alike.room
        gain = room.far_end.listening_level_dba - float(a_weighted_level_db(referred.speech_db))
        speech_db = referred.speech_db + gain
        noise_db = outbound.with_far_room(group.tested.scene, referred.noise_db + gain)
        sigma_db, others = referred.sigma_db, referred.recordings
        how = "With speech and noise as measured, and the far end’s own room."
    values = [_index(one, speech_db, noise_db) for one in results.values()]
    noisier = [_index(one, speech_db, noise_db + sigma_db) for one in results.values()]
    mean = _mean(values)
    sigma = math.hypot(STI_SIGMA / math.sqrt(len(values)), _mean(noisier) - mean)
    return Reading(mean, sigma, (*results, *others), how)


def _index(result: ResponseResult, speech_db: Array, noise_db: Array) -> float:
    return responses.sti(result, speech_db=speech_db, noise_db=noise_db)


def _direct_to_reverberant(group: Group) -> Reading | Flaw:
    results = _results(group)
    measured = [clarity_db(one) for one in results.values()]
    known = [value for value in measured if value is not None]
    if len(known) < len(measured):
        return Flaw(
            "C50 is not known in every octave from 500 Hz to 4 kHz.",
            "Record again, louder or with a longer sweep.",
        )
    tested = group.tested
    more_db = _mean(known) - tested.c50_db
    return Reading(
        tested.direct_to_reverberant.value + more_db,
        tested.clarity_sigma_db,
        tuple(results),
        how="Inferred: the direct sound cannot be cut out of a small room’s response at 500 Hz, so "
        f"it is the ratio predicted as tested and what C50 lies above its prediction "
        f"({signed(more_db, 'dB')}); ± is the model’s.",
        lasting=tested.clarity_sigma_db,
    )


def clarity_db(result: ResponseResult) -> float | None:
    """C50, mean of 500 Hz–4 kHz [dB]; None where an octave has none."""
    each = [one.c50_db for one in result.decays if 500.0 <= one.octave <= 4000.0]
    known = [value for value in each if value is not None]
    return _mean(known) if known and len(known) == len(each) else None


def _results(group: Group) -> dict[str, ResponseResult]:
    return {name: one.response for name, one in group.taken.items() if one.response is not None}


def _mean(values: Sequence[float]) -> float:
    return math.fsum(values) / len(values)
