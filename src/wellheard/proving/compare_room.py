"""The room itself: its noise and its decay."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from wellheard.acoustics.noise import SIL_OCTAVES, NoiseCriterion, nc_rating
from wellheard.bands import OCTAVES, RATING_OCTAVES
from wellheard.measurement import averages
from wellheard.measurement.results import SpatialMean
from wellheard.proving.alike import Space
from wellheard.proving.case import RESPONSES, Case, Flaw, Steady
from wellheard.proving.compare_inbound import CALIBRATE, SURROUNDINGS
from wellheard.proving.conditions import Way
from wellheard.proving.deciding import (
    LEVEL_SIGMA_DB,
    Promise,
    Reading,
    Step,
    judged,
    predicted,
    undecided,
)
from wellheard.proving.verdict import Compared, DecayCompared, NoiseCompared
from wellheard.room.targets import NC_ROUNDING

LOWEST_NC: Final = 15.0
HIGHEST_NC: Final = 70.0
"""Numbers of the first and the last curve [L ANSI/ASA S12.2-2019, Table 1]."""

MIDDLE: Final = (2, 3)
"""The 500 Hz and 1 kHz octaves, of whose decay times the promise is the mean."""


# Noise -------------------------------------------------------------------------------------------


def noise(case: Case) -> tuple[NoiseCompared, ...]:
    """Noise wherever it was recorded, microphones' outputs too, in the order of the session."""
    found = []
    for name in case.recordings(("noise",), lambda _: True):
        taken, receiver = case.taken(name), case.where[name].receiver
        if isinstance(taken, Flaw) or taken.noise is None:
            continue
        one = taken.noise
        found.append(
            NoiseCompared(
                place="" if receiver is None else receiver.id,
                recording=name,
                levels_db=dict(one.levels_db),
                calibrated=one.calibrated,
                nc=one.nc,
                label=one.nc_label,
                governing=one.nc_governing,
                dba=one.dba,
            )
        )
    return tuple(found)


def noise_rows(case: Case) -> Iterator[Compared]:
    """The promised NC number at every place in the room where the noise was recorded.

    What a microphone puts out is shown beside, and decides nothing: its own noise and pattern are
    in it.
    """
    target = case.alike.room.targets.noise_nc
    if target is None:
        return

    def in_room(way: Way) -> bool:
        return way.receiver is not None and way.receiver.kind in ("talker", "elsewhere")

    there = case.recordings(("noise",), in_room)
    by_place: dict[str, list[str]] = {}
    for name in there:
        receiver = case.where[name].receiver
        by_place.setdefault("" if receiver is None else receiver.id, []).append(name)
    if not by_place:
        yield undecided(_of_noise("", target), "Not measured.")
    for place, names in by_place.items():
        yield _noise_row(case, _of_noise(place, target), names, target)


def _of_noise(place: str, target: float) -> Promise:
    where = place or "a seat"
    return Promise(
        "noise_nc",
        place,
        "NC",
        (None, target + NC_ROUNDING),
        f"Record the silent room at {where}, calibrated, for 15 s or longer.",
    )


def _noise_row(case: Case, promise: Promise, names: list[str], target: float) -> Compared:
    steady = case.steady(names)
    if steady is None:
        flaw = case.flaw_of(names)
        if flaw is None:
            return undecided(promise, "Not measured.")
        return undecided(promise, flaw.why, decide=flaw.decide)
    if not steady.calibrated:
        return undecided(
            promise,
            "Recorded without calibration: no sound pressure can be told.",
            decide=CALIBRATE,
            recordings=steady.recordings,
        )
    rated = {f: v for f, v in steady.levels_db.items() if f in RATING_OCTAVES}
    if any(octave not in rated for octave in SIL_OCTAVES):
        return undecided(
            promise,
            "An octave from 500 Hz to 4 kHz is not in the recording.",
            decide="Record at 44.1 kHz or more.",
            recordings=steady.recordings,
        )
    rating = nc_rating(rated)
    if rating.out_of_range == "below" and target < LOWEST_NC:
        return undecided(
            promise,
            f"{rating.label}, where no curve tells it from NC-{target:g}.",
            decide="Promise NC-15 or more, or judge the octave levels.",
            recordings=steady.recordings,
        )
    return _rated(case, promise, steady, rating, target)


def _rated(
    case: Case, promise: Promise, steady: Steady, rating: NoiseCriterion, target: float
) -> Compared:
    value = rating.tangency
    how = f"By tangency at {rating.tangent:g} Hz." if rating.tangent is not None else ""
    if value is None:
        value = HIGHEST_NC if rating.out_of_range == "above" else LOWEST_NC
        how = f"{rating.label}: taken for the last curve there is."
    reading = Reading(
        value,
        _in_curves(steady, value, max(LEVEL_SIGMA_DB, steady.sigma_db)),
        steady.recordings,
        how,
        lasting=_in_curves(steady, value, steady.calibration_db),
        count=len(steady.recordings),
    )
    space = case.alike.space_of(case.where[steady.recordings[0]].receiver)
    usual = case.alike.promised.noise.nc
    there = space.evidence.noise.nc
    tested = None
    steps: tuple[Step, ...] = ()
    if there is not None:
        tested = predicted("noise_nc", "NC", there, space.scene.noise_sigma_db(), target)
        if usual is not None:
            steps = (Step(SURROUNDINGS, usual - there),)
    return judged(promise, reading, tested=tested, steps=steps)


def _in_curves(steady: Steady, value: float, sigma_db: float) -> float:
    """What a spread of levels is in numbers of the curves, which at 63 Hz lie 3 to 4 dB apart for
    a step of five, and 4 to 5 dB at 1 kHz."""
    moved = [
        nc_rating(
            {f: v + more_db for f, v in steady.levels_db.items() if f in RATING_OCTAVES}
        ).tangency
        for more_db in (-sigma_db, sigma_db)
    ]
    return max((abs(one - value) for one in moved if one is not None), default=sigma_db)


# Decay -------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Means:
    """Mean decay times over the places of one space; of the session's linear paths."""

    space: Space
    t20: SpatialMean | None
    t30: SpatialMean | None

    @property
    def count(self) -> int:
        """Places that count in the octave that has most."""
        return max((n for m in (self.t20, self.t30) if m is not None for n in m.count), default=0)

    def of(self, index: int) -> tuple[float | None, float | None, int, str]:
        """Time of an octave, its σ, places and name: T30 where all that count have it, else T20."""
        for name, mean, other in (("T30", self.t30, self.t20), ("T20", self.t20, None)):
            if mean is None or mean.values[index] is None:
                continue
            if other is None or mean.count[index] >= other.count[index]:
                return mean.values[index], mean.sigma[index], mean.count[index], name
        return None, None, 0 if self.t20 is None else self.t20.count[index], ""


def means(case: Case) -> tuple[Means, ...]:
    """Of every space, the one with most places first."""
    spaces = case.alike.spaces
    if len(spaces) == 1:
        return (Means(spaces[0], case.found.t20, case.found.t30),)
    found = []
    for space in spaces:
        there = []
        for name in case.recordings(RESPONSES, lambda _: True):
            taken, way = case.taken(name), case.where[name]
            if isinstance(taken, Flaw) or taken.response is None:
                continue
            if space.holds(way.source) and space.holds(way.receiver):
                there.append((case.session.pair(name), taken.response.decays))
        decays = averages.of_pairs(there)
        both = (
            (averages.spatial_mean_t20(decays), averages.spatial_mean_t30(decays))
            if decays
            else (None, None)
        )
        found.append(Means(space, *both))
    return tuple(sorted(found, key=lambda one: -one.count))


def decays(mean: Means) -> tuple[DecayCompared, ...]:
    """Every octave beside what was predicted as tested; none where nothing was measured."""
    if not mean.count:
        return ()
    model = mean.space.evidence.reverberation
    each = []
    for index, octave in enumerate(OCTAVES):
        value, sigma, count, _ = mean.of(index)
        each.append(
            DecayCompared(
                octave,
                value,
                sigma,
                count,
                model.time[index],
                model.low[index],
                model.high[index],
            )
        )
    return tuple(each)


def decay_rows(case: Case, found: tuple[Means, ...]) -> Iterator[Compared]:
    """The promised decay time, of every space that was measured; of one at least."""
    target = case.alike.room.targets.reverberation
    if target is None:
        return
    measured = [one for one in found if one.count] or list(found[:1])
    for one in measured:
        yield _decay_row(case, one, target)


def _decay_row(case: Case, mean: Means, target: float) -> Compared:
    promise = Promise(
        "reverberation",
        mean.space.part.name,
        "s",
        (None, target),
        "Record sweeps from two places to three each, as the engineering method of ISO 3382-2 "
        "asks.",
    )
    times = [mean.of(index) for index in MIDDLE]
    values = [time for time, *_ in times if time is not None]
    sigmas = [sigma for _, sigma, *_ in times if sigma is not None]
    if len(values) < len(MIDDLE) or len(sigmas) < len(MIDDLE):
        why = "Not measured."
        if mean.count:
            why = (
                "Fewer than two places have a decay time in the octaves of 500 Hz and 1 kHz: no "
                "mean over the room."
            )
        return undecided(promise, why)
    model = mean.space.evidence.reverberation
    usual = case.alike.promised_decay(mean.space)
    there = _mid(model.time)
    names = " and ".join(dict.fromkeys(name for *_, name in times))
    count = min(count for _, _, count, _ in times)
    return judged(
        promise,
        Reading(
            _mid_of(values),
            math.hypot(*sigmas) / len(sigmas),
            tuple(
                name
                for name in case.found.responses
                if case.session.linear(name)
                and mean.space.holds(case.where[name].source)
                and mean.space.holds(case.where[name].receiver)
            ),
            f"{names}, mean of 500 Hz and 1 kHz over {count} places; ± by ISO 3382-2, clause 7.",
        ),
        tested=predicted("reverberation", "s", there, there * _mid(model.log_sigma), target),
        steps=(Step(SURROUNDINGS, _mid(usual.time) - there),),
    )


def _mid(octaves: tuple[float, ...]) -> float:
    return _mid_of([octaves[index] for index in MIDDLE])


def _mid_of(values: list[float]) -> float:
    return math.fsum(values) / len(values)
