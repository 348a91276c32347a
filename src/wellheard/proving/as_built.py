"""The model as built: absorption that makes it say what was measured, in the document.

A decay holds for the people who were there while it was measured. What it says is therefore put
into the finishes, and people come and go in the model as before.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from wellheard.arrays import Array
from wellheard.bands import OCTAVES
from wellheard.catalog.catalogue import Catalogue
from wellheard.errors import InputError
from wellheard.measurement.results import SpatialMean
from wellheard.measurement.taken import SessionResults
from wellheard.predict import tolerances
from wellheard.predict.enclosures import enclosure
from wellheard.predict.evidence import Bands
from wellheard.predict.propagation import propagation
from wellheard.predict.surfaces import bands
from wellheard.proving import as_built_words as words
from wellheard.proving.as_built_clarity import Clarity
from wellheard.proving.as_built_data import data, measured
from wellheard.proving.as_built_fit import Fit, fit, quiet
from wellheard.proving.as_built_groups import Divided, Group, Grouped, exponents, grouped
from wellheard.proving.as_built_model import Model, model
from wellheard.proving.as_built_writing import SLIGHT, undecayed, written
from wellheard.proving.case import listed
from wellheard.proving.conditions import surroundings
from wellheard.room.divide import parts
from wellheard.room.document import Room

NEEDED = (2, 3)
"""The 500 Hz and 1 kHz octaves: without them no decay says enough of a room for speech."""

REFUSED_FROM = 2.5
"""Deviations of the measurement by which a decay may be missed; more is no chance."""

DECIDED_FROM = 0.5
"""Share of its variance that the decay must take from a group for it to be known by itself."""

WEIGHTY_FROM = 0.02
"""Share in how unsure the decay was, below which nobody asks whether it can be told apart."""

QUIET_WHY = "the decay says next to nothing of it"

SPEECH = slice(2, 6)
"""500 Hz–4 kHz."""

Say = Callable[[str], None]


@dataclass(frozen=True)
class Calibrated:
    """Surfaces of one finish, before and after.

    Attributes
    ----------
    name, finish : str
        Which surfaces; id of the finish that they had, '' where the document has its figures.
    paths : tuple of str
        Of their finishes in the document.
    area : float
        [m²]
    before, after, sigma : tuple of 7 floats
        Absorption, and its standard deviation now.
    decided : tuple of 7 floats
        Share of what was not known of it that the decay decided, 0–1.
    at_bound : tuple of float
        Octaves in which it went as far as is plausible [Hz].
    written : bool
        Whether the document has it; not where it moves by less than anybody would notice.
    """

    name: str
    finish: str
    paths: tuple[str, ...]
    area: float
    before: Bands
    after: Bands
    sigma: Bands
    decided: Bands
    at_bound: tuple[float, ...]
    written: bool


@dataclass(frozen=True)
class OctaveDecay:
    """T20 of one octave, as it was measured and as the model has it, alike. [s]"""

    octave: float
    measured: float | None
    measured_sigma: float | None
    count: int
    before: float
    after: float


@dataclass(frozen=True)
class Together:
    """What the decay cannot tell apart, and the sum that it knows.

    Attributes
    ----------
    names : tuple of str
        Groups; the scattering of the surfaces may be among them.
    before, after, sigma : tuple of 7 floats
        Absorbing area of the groups together [m²].
    """

    names: tuple[str, ...]
    before: Bands
    after: Bands
    sigma: Bands


@dataclass(frozen=True)
class Scattering:
    """The scattering of the surfaces, before and after.

    ``log_sigma`` is the standard deviation of its logarithm now; ``decided`` the share of what was
    not known that the decay decided.
    """

    before: float
    after: float
    log_sigma: float
    decided: float


@dataclass(frozen=True)
class ClarityCompared:
    """C50, mean of 500 Hz–4 kHz over the paths that were measured, and of the model, alike. [dB]

    ``sigma_db`` is that of model and chance together; ``recordings`` name the paths.
    """

    measured_db: float
    sigma_db: float
    before_db: float
    after_db: float
    recordings: tuple[str, ...]


@dataclass(frozen=True)
class Accounted:
    """One account of what was measured.

    Attributes
    ----------
    other : str
        Surfaces whose finish is another than the document says; '' where all are as published.
    scattering : float
    odds : float
        Of it to the likeliest, 0–1.
    taken : bool
        Whether it is what the document has now: the likeliest, or all as published where others
        are nearly as likely.
    """

    other: str
    scattering: float
    odds: float
    taken: bool


@dataclass(frozen=True)
class AsBuilt:
    """A document calibrated to the decays of a session.

    Attributes
    ----------
    room : Room
        The document as built.
    session, space : str
        Name of the session; the space that was measured, '' for a room that does not divide.
    occupancy : float
        Share of seats taken while it was measured.
    groups : tuple of Calibrated
    held : tuple of (str, str)
        What stays as published, and why.
    scattering : Scattering
    decays : tuple of OctaveDecay
        Of the seven octaves, with people and air of the session.
    together : tuple of Together
        What the decay cannot tell apart; empty where everything is known by itself.
    curvature : (float, float) or None
        T30 over T20, mean of 500 Hz–4 kHz: measured, and of the model as built.
    clarity : ClarityCompared or None
        C50 of the measured paths; None where none of them counts.
    accounts : tuple of Accounted
        What may explain all that was measured, the likeliest first.
    cautions : tuple of str
        What to look at before anybody relies on it.
    notes : tuple of str
        How it was found.
    """

    room: Room
    session: str
    space: str
    occupancy: float
    groups: tuple[Calibrated, ...]
    held: tuple[tuple[str, str], ...]
    scattering: Scattering
    decays: tuple[OctaveDecay, ...]
    together: tuple[Together, ...]
    curvature: tuple[float, float] | None
    clarity: ClarityCompared | None
    accounts: tuple[Accounted, ...]
    cautions: tuple[str, ...]
    notes: tuple[str, ...]


def calibrate(room: Room, catalogue: Catalogue, found: SessionResults, *, say: Say) -> AsBuilt:
    """Absorption per octave that reproduces what was measured, within bounds.

    Decay times, how decays bend, and C50 of the paths whose direct sound is known.

    Parameters
    ----------
    room : Room
        The document; of one that divides the session says how it stood.
    catalogue : Catalogue
        Where its finishes are looked up.
    found : SessionResults
        What the recordings say.
    say : callable
        Told how far it is.

    Raises
    ------
    InputError
        Too little was measured, or no plausible absorption gives such a decay; which octave, and
        what to look at.
    DocumentError
        The session does not say how a room that divides stood.
    """
    session = found.folder.session
    plain = undecayed(room)
    means = measured(plain, catalogue, found)
    _enough(means.t20.values, means.t20, found.folder.name)
    there = surroundings(plain, session)
    divided = _divided(means.space)
    say("following rays …")
    groups = grouped(there, catalogue, divided)
    if not groups.groups:
        raise InputError(
            "nothing to calibrate: every surface is of glass, a door, or bought by its name; the "
            f"decay can stand in the document as {tolerances.MEASURED_TIME}, for as many people as "
            "were there"
        )
    known = data(means)
    time = np.exp(known.log_time)
    rays = model(groups, session.climate, means.clarity)
    words.refuse_by_air(time, rays.speed * rays.air, session.climate, room.units)
    say("calibrating …")
    groups = groups.holding(quiet(rays, known), QUIET_WHY)
    rays = model(groups, session.climate, means.clarity)
    best = fit(rays, known)
    accounts = _accounts(groups, best)
    _refuse(best, groups, time, accounts)
    calibrated = tuple(_calibrated(one, index, best) for index, one in enumerate(groups.groups))
    fresh = written(plain, calibrated, round(best.scattering, 4), found, means.t20.values)
    after = _decay(surroundings(fresh, session), catalogue, divided, rays)
    curvature = _curvature(means.t20, means.t30, best)
    clarity = _clarity(means.clarity, best)
    return AsBuilt(
        room=fresh,
        session=found.folder.name,
        space=means.space,
        occupancy=session.occupancy,
        groups=calibrated,
        held=tuple((one.name, one.why) for one in groups.held),
        scattering=Scattering(
            float(room.space.scattering),
            float(fresh.space.scattering),
            best.scattering_log_sigma,
            best.scattering_decided,
        ),
        decays=_decays(means.t20, best, after),
        together=_apart(groups, best),
        curvature=curvature,
        clarity=clarity,
        accounts=accounts,
        cautions=(
            *words.of_accounts(calibrated, accounts),
            *words.cautions(room, session, best, calibrated, curvature),
            *words.of_clarity(clarity),
        ),
        notes=words.notes(room, session, means, known.bent),
    )


# What was measured -------------------------------------------------------------------------------


def _enough(values: Sequence[float | None], mean: SpatialMean, session: str) -> None:
    missing = [words.octave(OCTAVES[index]) for index in NEEDED if values[index] is None]
    if missing:
        raise InputError(
            f"{session}: no mean decay time at {listed(missing)} ({mean.how}); record sweeps from "
            "two places to three each, louder where the range is short"
        )


def _divided(space: str) -> Divided:
    def of(room: Room) -> Room:
        return next(one.room for one in parts(room) if one.name == space)

    return of


def _refuse(best: Fit, groups: Grouped, measured: Array, accounts: Sequence[Accounted]) -> None:
    """Refuse a decay that is missed by more than chance does."""
    miss = np.nan_to_num(np.abs(best.miss))
    worst = int(np.argmax(miss))
    if miss[worst] <= REFUSED_FROM:
        return
    at_bound = [n.name for n, at in zip(groups.groups, best.at_bound, strict=True) if at[worst]]
    raise InputError(
        words.beyond_bounds(
            OCTAVES[worst], float(measured[worst]), float(best.after[worst]), at_bound, accounts
        )
    )


# What it says ------------------------------------------------------------------------------------


def _calibrated(one: Group, index: int, best: Fit) -> Calibrated:
    after = np.round(one.scaled(best.log_factor[index]), 3)
    steep = (1.0 - after) * exponents(after)  # of α with the logarithm of the factor
    sigma = steep * np.sqrt(best.covariance[:, index, index])
    return Calibrated(
        name=one.name,
        finish=one.finish,
        paths=one.paths,
        area=one.area,
        before=bands(one.absorption),
        after=bands(after),
        sigma=bands(sigma),
        decided=bands(best.decided[index]),
        at_bound=tuple(o for o, at in zip(OCTAVES, best.at_bound[index], strict=True) if at),
        written=bool(np.abs(after - one.absorption).max() >= SLIGHT),
    )


def _decay(room: Room, catalogue: Catalogue, divided: Divided, rays: Model) -> Array:
    """T20 of a document's space with people and air of the session, shape (7,) [s]."""
    sound = propagation(enclosure(divided(room), catalogue), speed=rays.speed, air=rays.air)
    return sound.time


def _decays(mean: SpatialMean, best: Fit, after: Array) -> tuple[OctaveDecay, ...]:
    return tuple(
        OctaveDecay(
            octave,
            mean.values[index],
            mean.sigma[index],
            mean.count[index],
            float(best.before[index]),
            float(after[index]),
        )
        for index, octave in enumerate(OCTAVES)
    )


def _apart(groups: Grouped, best: Fit) -> tuple[Together, ...]:
    """What cannot be told apart, with the sum of it."""
    measured = np.isfinite(best.miss)
    decided = np.append(best.decided[:, measured].mean(axis=1), best.scattering_decided)
    unsettled = (best.weight >= WEIGHTY_FROM) & (decided < DECIDED_FROM)
    if not unsettled.any():
        return ()
    index = np.flatnonzero(unsettled[:-1])
    members = [groups.groups[k] for k in index]
    area = np.array([one.area for one in members]).reshape(-1, 1)
    before = np.array([one.absorption for one in members]).reshape(-1, 7)
    after = np.array(
        [one.scaled(best.log_factor[k]) for k, one in zip(index, members, strict=True)]
    ).reshape(-1, 7)
    slopes = area * (1.0 - after) * exponents(after)
    inside = best.covariance[:, index][:, :, index]
    sigma = np.sqrt(np.einsum("gb,bgh,hb->b", slopes, inside, slopes))
    names = [*(one.name for one in groups.groups), words.SCATTERING]
    return (
        Together(
            tuple(names[k] for k in np.flatnonzero(unsettled)),
            bands((area * before).sum(axis=0)),
            bands((area * after).sum(axis=0)),
            bands(sigma),
        ),
    )


def _clarity(found: Clarity | None, best: Fit) -> ClarityCompared | None:
    if found is None:
        return None
    return ClarityCompared(found.measured_db, found.sigma_db, *best.clarity_db, found.recordings)


def _accounts(groups: Grouped, best: Fit) -> tuple[Accounted, ...]:
    """The best of each kind: searches that began elsewhere are none of their own."""
    found: dict[int | None, Accounted] = {}
    for one in best.accounts:
        name = "" if one.other is None else groups.groups[one.other].name
        odds = one.odds(best.accounts[0])
        found.setdefault(one.other, Accounted(name, one.scattering, odds, one.other == best.other))
    return tuple(found.values())


def _curvature(t20: SpatialMean, t30: SpatialMean | None, best: Fit) -> tuple[float, float] | None:
    if t30 is None:
        return None
    ratios = [
        (late / early, float(model_ratio))
        for early, late, model_ratio in zip(
            t20.values[SPEECH], t30.values[SPEECH], best.curvature[SPEECH], strict=True
        )
        if early is not None and late is not None
    ]
    if not ratios:
        return None
    measured, built = (float(np.mean(each)) for each in zip(*ratios, strict=True))
    return measured, built
