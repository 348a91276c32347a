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
from wellheard.bands import OCTAVES, spoken_octave
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
    without_noise,
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
from wellheard.proving.verdict import WORDS, Compared
from wellheard.units import energy

UNITS: Final = {"sti_outbound": "", "direct_to_reverberant_db": "dB", "speech_to_noise_db": "dB"}

LEAST_SHARE: Final = 0.5
"""By which the direct-to-reverberant ratio moves with C50 where the decay is another: −0.8 dB of
−1.4 dB from 0.5 to 0.6 s, of closed forms."""

SURROUNDINGS = "people and air"
SOURCE = "source and open microphones"


@dataclass(frozen=True, eq=False)
class Group:
    """Recordings of one path: one source at one place, facing one way, at one microphone."""

    microphone: str
    facing_deg: float | None
    mixed: bool
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
    worst = {m: min(those, key=_goodness) for m, those in each.items()}
    serving = row.path.microphone
    if serving in worst:
        return worst[serving]
    if worst:
        best = max(worst.values(), key=_goodness)
        return best if best.word == "kept" else _at_another(promise, best, worst, serving)
    if flaws:
        return undecided(promise, flaws[0].why, decide=flaws[0].decide)
    return undecided(promise, "Not measured.")


def _goodness(one: Compared) -> tuple[int, float]:
    return WORDS.index(one.word), -math.inf if one.estimate is None else one.estimate


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
        mixed = _mixed(case, one)
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
            groups[key] = Group(microphone, recording.facing_deg, mixed, tested, {})
        groups[key].taken[one] = taken
    return list(groups.values()), flaws


def _mixed(case: Case, name: str) -> bool:
    """Whether an automatic mixer had the other microphones open too."""
    return "mixer" in case.session.active_in(name)


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
    """Speech at the promised effort and noise at one output, by one instrument, shape (7,) each.

    Of speech the most that there can be, and nothing in ``least_db`` where noise hides it.
    ``lasting_db`` is what of σ is the source's.
    """

    speech_db: Array
    least_db: Array
    noise_db: Array
    sigma_db: float
    lasting_db: float
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

    heard = {
        name: one
        for name, one in case.recordings(("speech",), spoken).items()
        if one.facing_deg == group.facing_deg and _mixed(case, name) == group.mixed
    }
    quiet = {
        name: one
        for name, one in case.recordings(("noise",), silent).items()
        if _mixed(case, name) == group.mixed
    }
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
    alone = without_noise(speech.speech_octaves_db, noise_db)
    more_db = speech_levels_db(case.alike.room.people.effort) - source_db
    source_sigma_db = case.session.source.sigma_db
    # The sensitivity of the one instrument cancels, whatever is known of it.
    return Referred(
        speech_db=alone.most_db + more_db,
        least_db=alone.least_db + more_db,
        noise_db=noise_db,
        sigma_db=math.hypot(source_sigma_db, speech.by_chance_db, noise.by_chance_db),
        lasting_db=source_sigma_db,
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
    how = f"Referred to {case.alike.room.people.effort} effort, octave by octave."
    counting = [
        spoken_octave(octave)
        for octave, least in zip(OCTAVES, found.least_db, strict=True)
        if octave in outbound.IMPORTANT and least == -math.inf
    ]
    if counting:
        how += f" At {listed(counting)} speech is not 3 dB over the noise."
    return Reading(
        value,
        found.sigma_db,
        found.recordings,
        how,
        lasting=found.lasting_db,
        bound="most" if counting else "",
        sharper="Record it again with the source louder." if counting else "",
    )


# From a response ---------------------------------------------------------------------------------


def _sti(case: Case, talker: str, group: Group) -> Reading | Flaw:
    results = _results(group)
    flaw = case.without_modulation(results)
    if flaw is not None:
        return flaw
    referred = _referred(case, talker, group)
    if isinstance(referred, Flaw) or not np.all(np.isfinite(referred.speech_db)):
        speech_db, sent_db = group.tested.speech_db, group.tested.sent_noise_db
        least_db, sigma_db = speech_db, group.tested.scene.noise_sigma_db()
        how = (
            "Its modulation is measured; speech and noise at the far end are as predicted, for "
            f"they were not recorded at {group.microphone}."
        )
        others: tuple[str, ...] = ()
    else:
        room = case.alike.room
        gain = room.far_end.listening_level_dba - float(a_weighted_level_db(referred.speech_db))
        speech_db, least_db = referred.speech_db + gain, referred.least_db + gain
        sent_db = referred.noise_db + gain
        sigma_db, others = referred.sigma_db, referred.recordings
        how = "With speech and noise as measured, and the far end’s own room."

    def index(speech_db: Array, louder_db: float = 0.0) -> float:
        noise_db = outbound.with_far_room(group.tested.scene, sent_db + louder_db)
        return _mean([_index(one, speech_db, noise_db) for one in results.values()])

    value = index(speech_db)
    lasting = math.hypot(index(speech_db, sigma_db) - value, index(least_db) - value)
    sigma = math.hypot(STI_SIGMA / math.sqrt(len(results)), lasting)
    return Reading(value, sigma, (*results, *others), how, lasting=lasting, count=len(results))


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
    ratio_db = tested.direct_to_reverberant.value
    more_db = _mean(known) - tested.c50_db
    sigma = math.hypot(tested.clarity_sigma_db, unshared_db(more_db, ratio_db, tested.c50_db))
    return Reading(
        ratio_db + more_db,
        sigma,
        tuple(results),
        how="Inferred: the direct sound cannot be cut out of a small room’s response at 500 Hz, so "
        f"it is the ratio predicted as tested and what C50 lies above its prediction "
        f"({signed(more_db, 'dB')}); ± is the model’s, and what C50 leaves open.",
        lasting=sigma,
    )


def unshared_db(more_db: float, ratio_db: float, c50_db: float) -> float:
    """σ of a direct-to-reverberant ratio that is moved by as much as C50 is off.

    Parameters
    ----------
    more_db : float
        C50 over its prediction. [dB]
    ratio_db, c50_db : float
        Predicted direct-to-reverberant ratio and C50. [dB]

    Notes
    -----
    Where the decay is another one, the ratio moves by about half as much as C50. Where the direct
    sound is another one, it moves more: C50 feels a decibel of it only by its share in the early
    sound. Anything between is as likely; this is its root mean square off what is taken, as much.

    Examples
    --------
    >>> round(unshared_db(-1.0, -6.0, 6.0), 2), round(unshared_db(-1.0, 6.0, 12.0), 2)
    (1.6, 0.25)
    """
    early, direct = energy(c50_db), energy(ratio_db)
    most = max(early / (1.0 + early) * (1.0 + direct) / direct, 1.0)
    cubes = (most - 1.0) ** 3 + (1.0 - LEAST_SHARE) ** 3
    return abs(more_db) * math.sqrt(cubes / (3.0 * (most - LEAST_SHARE)))


def clarity_db(result: ResponseResult) -> float | None:
    """C50, mean of 500 Hz–4 kHz [dB]; None where an octave has none."""
    each = [one.c50_db for one in result.decays if 500.0 <= one.octave <= 4000.0]
    known = [value for value in each if value is not None]
    return _mean(known) if known and len(known) == len(each) else None


def _results(group: Group) -> dict[str, ResponseResult]:
    return {name: one.response for name, one in group.taken.items() if one.response is not None}


def _mean(values: Sequence[float]) -> float:
    return math.fsum(values) / len(values)
