"""What a calibration has to say: why it is refused, what to look at, how it was found."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from wellheard.acoustics.field import DECAY
from wellheard.arrays import Array
from wellheard.bands import OCTAVES, spoken_octave
from wellheard.errors import InputError
from wellheard.measurement.results import SpatialMean
from wellheard.measurement.session import Session
from wellheard.proving.case import listed
from wellheard.room.document import Room
from wellheard.room.space import Climate
from wellheard.units import Unit, format_temperature

if TYPE_CHECKING:
    from wellheard.proving.as_built import Calibrated
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
BY_PLACE: Final = (
    "Clarity and early decay time were not used: they hang on the direct sound and on how single "
    "surfaces scatter more than on which surface absorbs."
)
ONE_EACH: Final = (
    "A decay gives one equation per octave. Each group moves as little from what is published as "
    "the decay allows, by how unsure it was."
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


def beyond_bounds(band: float, measured: float, nearest: float, at_bound: Sequence[str]) -> str:
    """Why no plausible absorption gives such a decay."""
    short = measured < nearest
    how = "soft" if short else "hard"
    which = f" As {how} as is plausible already: {listed(at_bound)}." if at_bound else ""
    return (
        f"{octave(band)}: {measured:.2f} s were measured, and the model comes no nearer than "
        f"{nearest:.2f} s within bounds.{which} Look for {SHORTER if short else LONGER}; then "
        "correct the document or the session, and calibrate again"
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
                f"{one.name[0].upper()}{one.name[1:]}: as far as is plausible at "
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


def notes(room: Room, session: Session, mean: SpatialMean, space: str) -> tuple[str, ...]:
    """How it was found."""
    said = [f"Measured: {mean.how}.", ONE_EACH, BY_PLACE]
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
