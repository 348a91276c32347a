"""From the far end to ears: what was measured at the seats."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from wellheard.acoustics.levels import a_weighted_level_db, mean_level_db
from wellheard.arrays import Array
from wellheard.bands import spoken_octave
from wellheard.measurement import averages, responses
from wellheard.measurement.session import Kind
from wellheard.predict.listening_spread import CALIBRATION_SIGMA_DB, MODEL_LEVEL_SIGMA_DB
from wellheard.predict.wayback import Inbound, Playback
from wellheard.proving.case import RESPONSES, Case, Flaw, Steady, listed, without_noise
from wellheard.proving.conditions import Way
from wellheard.proving.deciding import (
    LEVEL_SIGMA_DB,
    STI_SIGMA,
    Promise,
    Reading,
    Step,
    judged,
    predicted,
    undecided,
)
from wellheard.proving.verdict import BROKEN_TO, Compared

PLAYBACK_TOLERANCE_DB: Final = 2.0
"""How far the mean of the seats may lie from the playback level that is promised; common practice,
no source [C]. [dB]"""

SURROUNDINGS = "people and air"
CALIBRATE = "Record a calibrator through the same input, and name it with the recording."


@dataclass(frozen=True, eq=False)
class Level:
    """What an ear was measured to hear of far-end speech, without the noise of the room."""

    dba: float
    sigma_db: float
    place_db: float
    """What of σ is not that of the calibration."""
    calibration: str
    calibration_db: float
    recordings: tuple[str, ...]


Heard = Mapping[str, Level | Flaw | None]
"""By talking point; None where nobody measured."""


def rows(case: Case) -> Iterator[Compared]:
    """Every promise of the way in, in the order of the document; none without loudspeakers."""
    playback = case.alike.promised.playback
    if playback is None:
        return
    targets = case.alike.room.targets
    heard = {row.talker.id: _level(case, row.talker.id) for row in playback.rows}
    for row in playback.rows:
        if targets.sti_inbound is not None:
            yield _sti_row(case, row, heard[row.talker.id], targets.sti_inbound)
        if targets.listening_level_dba is not None:
            yield _level_row(case, row, heard[row.talker.id], targets.listening_level_dba)
    if targets.playback_level_dba is not None:
        yield _playback_row(case, playback, heard, targets.playback_level_dba)
    if targets.uniformity_db is not None and len(playback.rows) > 1:
        yield _uniformity_row(case, playback, heard, targets.uniformity_db)


# Recordings --------------------------------------------------------------------------------------


def _of_far_end(case: Case, kinds: tuple[Kind, ...], ear: str) -> tuple[list[str], list[Flaw]]:
    """Usable recordings of all loudspeakers at an ear, and why others there are not."""

    def fits(way: Way) -> bool:
        return (
            way.receiver is not None
            and (way.receiver.kind, way.receiver.id) == ("talker", ear)
            and way.source is not None
            and way.source.kind in ("far end", "loudspeaker", "microphone")
        )

    usable, flaws = [], []
    for name in case.recordings(kinds, fits):
        taken = case.taken(name)
        if isinstance(taken, Flaw):
            flaws.append(taken)
        elif case.of_all_loudspeakers(name):
            usable.append(name)
        else:
            flaws.append(
                Flaw(
                    f"{name} is of one of several loudspeakers; what is promised is of all.",
                    f"Record it from the far end at {ear}.",
                )
            )
    return usable, flaws


def _silence(case: Case, ear: str) -> Steady | None:
    """Calibrated noise at an ear, else of all ears: the noise of a room is about even."""

    def at_ear(way: Way) -> bool:
        return way.receiver is not None and way.receiver.kind == "talker"

    everywhere = case.recordings(("noise",), at_ear)
    here = [n for n in everywhere if getattr(case.where[n].receiver, "id", "") == ear]
    for several in (here, everywhere):
        found = case.steady(several)
        if found is not None and found.calibrated:
            return found
    return None


def _level(case: Case, ear: str) -> Level | Flaw | None:
    names, flaws = _of_far_end(case, ("speech",), ear)
    steady = case.steady(names)
    if steady is None:
        return flaws[0] if flaws else None
    if not steady.calibrated:
        return Flaw(
            f"{listed(steady.recordings)} without calibration: no sound pressure can be told.",
            CALIBRATE,
        )
    octaves = tuple(steady.levels_db)
    heard_db = np.array([steady.levels_db[f] for f in octaves])
    silence = _silence(case, ear)
    hidden_db = 0.0
    if silence is not None:
        noise_db = np.array([silence.levels_db.get(f, -np.inf) for f in octaves])
        alone = without_noise(heard_db, noise_db)
        heard_db = alone.most_db
        most, least = (a_weighted_level_db(v, octaves=octaves) for v in (heard_db, alone.least_db))
        hidden_db = float(most - least)
    if hidden_db > LEVEL_SIGMA_DB:
        named = listed(spoken_octave(f) for f, no in zip(octaves, alone.hidden, strict=True) if no)
        return Flaw(
            f"At {ear} far-end speech is not 3 dB over the noise at {named}: its level cannot be "
            "told.",
            f"Record it again at {ear} with less noise in the room, or louder, saying by how much.",
        )
    return Level(
        float(a_weighted_level_db(heard_db, octaves=octaves)),
        math.hypot(max(LEVEL_SIGMA_DB, steady.sigma_db), hidden_db),
        math.hypot(max(LEVEL_SIGMA_DB, steady.by_chance_db), hidden_db),
        steady.calibration,
        steady.calibration_db,
        steady.recordings,
    )


# Rows --------------------------------------------------------------------------------------------


def _level_row(
    case: Case, row: Inbound, heard: Level | Flaw | None, allowed: tuple[float, float]
) -> Compared:
    ear = row.talker.id
    promise = Promise(
        "listening_level_dba",
        ear,
        "dBA",
        allowed,
        f"Record speech-shaped noise from the far end at {ear}, calibrated.",
    )
    there = case.alike.ear(ear)
    if not isinstance(heard, Level) or there is None:
        return _not_heard(promise, heard)
    return judged(
        promise,
        Reading(
            heard.dba,
            heard.sigma_db,
            heard.recordings,
            lasting=heard.calibration_db,
            count=len(heard.recordings),
        ),
        tested=there.level,
        steps=(Step(SURROUNDINGS, row.level.value - there.level.value - _set_anew_db(row, there)),),
    )


def _set_anew_db(promised: Inbound, there: Inbound) -> float:
    """How much louder loudspeakers play as promised than as tested, by their direct sound.

    Each prediction sets playback to the mean of its own ears. Nobody turns a volume when people
    come in after it was measured, so that part of a step is taken back. A room that divides has
    its volume set for each arrangement.
    """
    if promised.arrangement:
        return 0.0
    direct = {one.loudspeaker: one.level_dba for one in there.arrivals}
    louder = [
        one.level_dba - direct[one.loudspeaker]
        for one in promised.arrivals
        if one.loudspeaker in direct
    ]
    return math.fsum(louder) / len(louder) if louder else 0.0


def _not_heard(promise: Promise, heard: Level | Flaw | None) -> Compared:
    if isinstance(heard, Flaw):
        return undecided(promise, heard.why, decide=heard.decide)
    return undecided(promise, "Not measured.")


def _sti_row(case: Case, row: Inbound, heard: Level | Flaw | None, target: float) -> Compared:
    ear = row.talker.id
    promise = Promise(
        "sti_inbound", ear, "", (target, None), f"Record a sweep from the far end at {ear}."
    )
    names, flaws = _of_far_end(case, RESPONSES, ear)
    there = case.alike.ear(ear)
    flaw = case.without_modulation(names)
    if flaw is not None:
        flaws.append(flaw)
    if not names or flaw is not None or there is None:
        return _not_heard(promise, flaws[-1] if flaws else None)
    known = {name: one for name, one in case.found.responses.items() if name in names}
    silence = _silence(case, ear)
    speech_db, noise_db, how = _levels(there, heard, silence)
    unsure_db = _unsure_db(case, there, heard, silence)
    values = [responses.sti(r, speech_db=speech_db, noise_db=noise_db) for r in known.values()]
    noisier = [
        responses.sti(r, speech_db=speech_db, noise_db=noise_db + unsure_db) for r in known.values()
    ]
    value = math.fsum(values) / len(values)
    lasting = abs(math.fsum(noisier) / len(values) - value)
    sigma = math.hypot(STI_SIGMA / math.sqrt(len(values)), lasting)
    others = heard.recordings if isinstance(heard, Level) else ()
    return judged(
        promise,
        Reading(
            value,
            sigma,
            (*known, *others, *(silence.recordings if silence else ())),
            how,
            lasting=lasting,
            count=len(values),
        ),
        tested=there.sti,
        steps=(Step(SURROUNDINGS, row.sti.value - there.sti.value),),
    )


def _unsure_db(
    case: Case, there: Inbound, heard: Level | Flaw | None, silence: Steady | None
) -> float:
    """σ of the speech over the noise at an ear, each as measured or as predicted."""
    level_db = heard.sigma_db if isinstance(heard, Level) else there.level.sigma
    if silence is None or not np.all(np.isfinite(silence.speech_octaves_db)):
        return math.hypot(level_db, case.alike.spaces[0].scene.noise_sigma_db())
    if isinstance(heard, Level) and heard.calibration == silence.calibration:
        return math.hypot(heard.place_db, silence.by_chance_db)  # what is common cancels
    return math.hypot(level_db, silence.sigma_db)


def _levels(
    there: Inbound, heard: Level | Flaw | None, silence: Steady | None
) -> tuple[Array, Array, str]:
    """Speech and noise at an ear, as far as they were measured, and in words which were."""
    speech_db, noise_db = np.asarray(there.levels_db), np.asarray(there.noise_db)
    measured, predicted = ["modulation"], []
    if isinstance(heard, Level):
        speech_db = speech_db + (heard.dba - float(a_weighted_level_db(speech_db)))
        measured.append("level")
    else:
        predicted.append("level")
    own_db = None if silence is None else silence.speech_octaves_db
    if own_db is not None and np.all(np.isfinite(own_db)):
        noise_db = own_db
        measured.append("noise")
    else:
        predicted.append("noise")
    how = f"{listed(measured).capitalize()} as measured"
    return speech_db, noise_db, f"{how}{f', {listed(predicted)} as predicted' * bool(predicted)}."


def _together(heard: Heard) -> tuple[dict[str, Level], list[str], list[Flaw]]:
    """Ears that were measured, those that were not, and why."""
    known = {name: one for name, one in heard.items() if isinstance(one, Level)}
    return (
        known,
        [name for name in heard if name not in known],
        [one for one in heard.values() if isinstance(one, Flaw)],
    )


def _playback_row(case: Case, playback: Playback, heard: Heard, target: float) -> Compared:
    known, missing, flaws = _together(heard)
    promise = Promise(
        "playback_level_dba",
        "",
        "dBA",
        (target - PLAYBACK_TOLERANCE_DB, target + PLAYBACK_TOLERANCE_DB),
        f"Record speech-shaped noise from the far end at {listed(missing or heard)}, calibrated.",
    )
    rows = {name: case.alike.ear(name) for name in heard}
    if not known:
        return _not_heard(promise, flaws[0] if flaws else None)
    tested_db = mean_level_db([r.level.value for r in rows.values() if r is not None])
    cal_db = max(one.sigma_db for one in known.values())
    how = "Mean of energies over all seats."
    value, sigma = mean_level_db([one.dba for one in known.values()]), cal_db
    if missing:
        over = [one.dba - r.level.value for n, one in known.items() if (r := rows[n]) is not None]
        value = tested_db + math.fsum(over) / len(over)
        share = len(missing) / len(heard)
        sigma = math.hypot(cal_db, MODEL_LEVEL_SIGMA_DB * math.sqrt(share / len(over)))
        how = f"Not measured at {listed(missing)}: there as predicted re the others."
    anew = [_set_anew_db(one, r) for one in playback.rows if (r := rows[one.talker.id]) is not None]
    anew_db = math.fsum(anew) / len(anew)
    lasting = max(one.calibration_db for one in known.values())
    found = judged(
        promise,
        Reading(value, sigma, _recordings(known.values()), how, lasting=lasting),
        tested=predicted("playback_level_dba", "dBA", tested_db, CALIBRATION_SIGMA_DB, target),
        steps=(Step(SURROUNDINGS, playback.mean_dba - tested_db - anew_db),),
    )
    if missing and found.word == "cannot tell":
        return replace(found, decide=promise.again)
    return found


def _recordings(known: Iterable[Level]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(name for one in known for name in one.recordings))


def _uniformity_row(case: Case, playback: Playback, heard: Heard, most: float) -> Compared:
    known, missing, flaws = _together(heard)
    promise = Promise(
        "uniformity_db",
        "",
        "dB",
        (None, most),
        f"Record speech-shaped noise from the far end at {listed(missing)} too, calibrated."
        if missing
        else "Record it again at the loudest and the quietest seat.",
    )
    if len(known) == 1:
        return undecided(promise, f"Measured at one place only: {listed(known)}.")
    if not known:
        return _not_heard(promise, flaws[0] if flaws else None)
    value, sigma = averages.uniformity_db({name: one.dba for name, one in known.items()})
    reading = Reading(value, sigma, _recordings(known.values()))
    promised = _apart([row.level.value for row in playback.rows if row.talker.id in known])
    there = [r.level.value for n in known if (r := case.alike.ear(n)) is not None]
    tested = predicted("uniformity_db", "dB", _apart(there), playback.uniformity.sigma, most)
    found = judged(
        promise,
        reading,
        tested=tested,
        steps=(Step(SURROUNDINGS, promised - tested.value),),
    )
    if not missing or (found.chance is not None and found.chance <= BROKEN_TO):
        return found
    return undecided(
        promise,
        f"{found.why} Seats that were not measured can only be farther apart: {listed(missing)}.",
        reading=reading,
        tested=tested,
    )


def _apart(levels_db: Sequence[float]) -> float:
    return max(levels_db) - min(levels_db)
