"""What a calibration has to say: why it is refused, what to look at, how it was found."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from wellheard.acoustics.field import DECAY
from wellheard.arrays import Array
from wellheard.bands import OCTAVES, spoken_octave
from wellheard.errors import InputError
from wellheard.measurement.session import Session
from wellheard.proving.as_built_fit import CLEAR_ODDS
from wellheard.proving.case import listed
from wellheard.room.document import Room
from wellheard.room.space import Climate
from wellheard.units import Unit, format_temperature

if TYPE_CHECKING:
    from wellheard.proving.as_built import Accounted, Calibrated, ClarityCompared
    from wellheard.proving.as_built_data import Measured
    from wellheard.proving.as_built_fit import Fit

SCATTERING: Final = "the scattering of the surfaces"

SURPRISING_FROM: Final = 2.0
"""Deviations from which a decay is farther from its prediction than published figures explain."""

CURVED_FROM: Final = 0.1
"""Difference of T30 over T20 from which the model is said to curve otherwise; common practice, no
source [C]: a just noticeable difference of a decay time is 5 % [L ISO 3382-1, Annex A]."""

SHORTER: Final = (
    "a door or hatch that stood open, a leak to another room, people or soft things that the "
    "session does not state"
)
LONGER: Final = (
    "a finish that is not there or was painted over, furniture that was carried out, a harder "
    "room beside this one through an opening"
)
FAR_ODDS: Final = 1e-3
"""Odds below which nobody asks how small they are."""

MISSED_FROM: Final = 2.0
"""Deviations from which C50 as built is said to be missed."""

EARLY: Final = (
    "Early decay time was not used: it hangs on the direct sound and on how single surfaces "
    "scatter more than on which surface absorbs."
)
WITHOUT_BEND: Final = (
    "No T30 over two places or more in any octave: how decays bend could not be used; record "
    "louder, or with a longer sweep."
)
WITHOUT_CLARITY: Final = (
    "C50 could not be used: it takes a sweep from a talking point to a microphone of the document, "
    "with no mixer active, from a source whose facing is stated, or that sends the same everywhere."
)
ONE_EACH: Final = (
    "A decay gives one equation per octave. Each group moves as little from what is published as "
    "the data allow, by how unsure it was; scattering is one figure for all octaves."
)


def octave(nominal: float) -> str:
    """An octave as a sentence has it."""
    return spoken_octave(nominal)


def refuse_by_air(time: Array, loss: Array, climate: Climate, unit: Unit) -> None:
    """Refuse a decay that the air alone would end sooner.

    Parameters
    ----------
    time : ndarray, shape (7,)
        Measured; NaN where there is none [s].
    loss : ndarray, shape (7,)
        By the air [1/s].
    climate : Climate
        Of the session.
    unit : str
        Of temperatures.

    Raises
    ------
    InputError
        Naming the octave.
    """
    alone = DECAY / loss
    for index in np.flatnonzero(time >= alone):
        warm = format_temperature(climate.temperature_c, unit=unit)
        raise InputError(
            f"{octave(OCTAVES[index])}: {time[index]:.2f} s were measured, and the air alone, at "
            f"{warm} and {100 * climate.humidity:.0f} %, lets nothing ring for longer than "
            f"{alone[index]:.2f} s; look at the climate of the session, and at noise in the "
            "recordings of that octave"
        )


def beyond_bounds(
    band: float,
    measured: float,
    nearest: float,
    at_bound: Sequence[str],
    accounts: Sequence[Accounted],
) -> str:
    """Why no plausible absorption gives such a decay."""
    short = measured < nearest
    how = "soft" if short else "hard"
    others = [f"the {one.other}" for one in accounts if one.other and one.odds >= CLEAR_ODDS]
    asked = f" Or one finish may be another than stated: {listed(others)}." if others else ""
    which = f" As {how} as is plausible already: {listed(at_bound)}." if at_bound else ""
    look = SHORTER if short else LONGER
    return (
        f"{octave(band)}: {measured:.2f} s were measured, and the model comes no nearer than "
        f"{nearest:.2f} s within bounds.{which}{asked} Look for {look}; then correct the document "
        "or the session, and calibrate again"
    )


def cautions(
    room: Room,
    session: Session,
    best: Fit,
    groups: Sequence[Calibrated],
    curvature: tuple[float, float] | None,
) -> tuple[str, ...]:
    """What to look at before anybody relies on it."""
    return (
        *_surprises(best),
        *_bounds(groups),
        *_other_octaves(best),
        *_curved(curvature),
        *_people(room, session),
    )


def _surprises(best: Fit) -> Iterator[str]:
    there = np.isfinite(best.surprise)
    for longer, look in ((True, LONGER), (False, SHORTER)):
        far = [
            octave(OCTAVES[k])
            for k in np.flatnonzero(there)
            if abs(best.surprise[k]) > SURPRISING_FROM and (best.surprise[k] > 0) == longer
        ]
        if far:
            yield (
                f"At {listed(far)} the room rings {'longer' if longer else 'shorter'} than "
                f"published absorption explains: first look for {look}."
            )


def _bounds(groups: Sequence[Calibrated]) -> Iterator[str]:
    for one in groups:
        if one.at_bound:
            yield (
                f"{_capital(one.name)}: as far as is plausible at "
                f"{listed(octave(o) for o in one.at_bound)}; look whether the finish is what the "
                "document says."
            )


def _other_octaves(best: Fit) -> Iterator[str]:
    missing = [octave(OCTAVES[k]) for k in np.flatnonzero(~np.isfinite(best.miss))]
    if missing:
        yield (
            f"No decay was measured at {listed(missing)}: what is written there follows its "
            "neighbours."
        )


def _curved(curvature: tuple[float, float] | None) -> Iterator[str]:
    if curvature is not None and abs(curvature[0] - curvature[1]) > CURVED_FROM:
        yield (
            f"The decay bends otherwise than the model: T30 is {curvature[0]:.2f} times T20 as "
            f"measured and {curvature[1]:.2f} times as built. Absorption, or what scatters, is "
            "spread otherwise than in the document."
        )


def _people(room: Room, session: Session) -> Iterator[str]:
    if session.occupancy != room.people.occupancy:
        yield (
            f"Measured with {100 * session.occupancy:.0f} % of the seats taken; at the "
            f"{100 * room.people.occupancy:.0f} % of the document people absorb as published."
        )


def of_accounts(groups: Sequence[Calibrated], accounts: Sequence[Accounted]) -> Iterator[str]:
    """What has to be looked at: a finish that is another one, and what may be the case instead."""
    taken = next(one for one in accounts if one.taken)
    for one in groups:
        if taken.other and one.name == taken.other:
            said = one.finish or "that of the document"
            before, after = (100 * sum(a[2:6]) / 4 for a in (one.before, one.after))
            yield (
                f"{_capital(one.name)}: another finish than {said}, by all that was measured; it "
                f"absorbs {after:.0f} % at 500 Hz–4 kHz, not {before:.0f} %. Look what is there."
            )
    near = [one for one in accounts if one.odds >= CLEAR_ODDS]
    if len(near) > 1:
        where = listed([f"the {one.other}" for one in near if one.other])
        yield (
            f"The data do not settle it. Likeliest is {_account(near[0])}; "
            f"{'; '.join(f'{_account(one)} is {_odds(one)}' for one in near[1:])}. The finishes "
            f"keep to what is published as far as that goes: look at {where}, correct the "
            "document, and calibrate again."
        )


def _account(one: Accounted) -> str:
    what = f"another finish of the {one.other}" if one.other else "every finish as stated"
    return f"{what} with a scattering of {one.scattering:g}"


def _odds(one: Accounted) -> str:
    if one.odds < FAR_ODDS:
        return "more than a thousand times less likely"
    less = 1.0 / one.odds
    return "about as likely" if less < 1.5 else f"{less:.2g} times less likely"


def settled(accounts: Sequence[Accounted]) -> str:
    """Which account holds, and by how much; '' where nothing else was asked or several may."""
    if len(accounts) < 2 or accounts[1].odds >= CLEAR_ODDS:
        return ""
    first, second = accounts[:2]
    return f"Likeliest is {_account(first)}; {_account(second)} is {_odds(second)}."


def of_clarity(clarity: ClarityCompared | None) -> Iterator[str]:
    """Whether C50 is met."""
    if clarity is None:
        return
    more = clarity.measured_db - clarity.after_db
    if abs(more) > MISSED_FROM * clarity.sigma_db:
        yield (
            f"C50 is {abs(more):.1f} dB {'more' if more > 0 else 'less'} as measured than as "
            "built: look at the test source, where it faced, and what stood between it and the "
            "microphone."
        )


def _capital(name: str) -> str:
    return name[0].upper() + name[1:]


def _used(means: Measured, bent: Iterable[int]) -> Iterator[str]:
    """Which data decide, and which could not."""
    yield f"Measured: {means.t20.how}."
    octaves = [octave(OCTAVES[index]) for index in bent]
    found = ["T20"]
    if octaves:
        found.append(f"how decays bend (T30 over T20) at {listed(octaves)}")
    if means.clarity is not None:
        count = means.clarity.paths
        path = "one path" if count == 1 else f"{count} paths"
        found.append(f"C50 of {path} ({listed(means.clarity.recordings)})")
    yield f"Used: {'; '.join(found)}."
    if not octaves:
        yield WITHOUT_BEND
    if means.clarity is None:
        yield WITHOUT_CLARITY
    yield EARLY
    yield ONE_EACH


def notes(room: Room, session: Session, means: Measured, bent: Iterable[int]) -> tuple[str, ...]:
    """How it was found."""
    said, space = list(_used(means, bent)), means.space
    if room.space.measured_reverberation is not None:
        said.append(
            "The decay that the document stated is taken out: it held for the people of that "
            "day only, and the finishes now carry what was measured."
        )
    if space:
        said.append(
            f"Measured in {space.replace('.', ', space ')}; the other spaces get the same figures "
            "for the finishes that they share."
        )
    if "climate" not in session.model_fields_set:
        warm = format_temperature(session.climate.temperature_c, unit=room.units)
        humid = 100 * session.climate.humidity
        said.append(f"The session states no climate: {warm} and {humid:.0f} % were taken.")
    return tuple(said)
