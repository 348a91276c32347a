"""What a session has of a path: usable recordings, and why the others are not."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from wellheard.acoustics import levels
from wellheard.acoustics.speech import iec_male_spectrum_2020
from wellheard.arrays import Array, Mask
from wellheard.bands import OCTAVES
from wellheard.measurement.results import NoiseResult
from wellheard.measurement.session import Kind, Recording, Session
from wellheard.measurement.taken import SessionResults, Taken
from wellheard.predict.devices import loudspeaker_places
from wellheard.proving.alike import Alike
from wellheard.proving.conditions import Way, not_linear

LEAST_OVER_NOISE_DB = 3.0
"""What lies nearer to the noise beside it is not reported: it is at most what was read less this
[M, the rule of ISO standards that take background noise out of a level]. [dB]"""

RESPONSES: tuple[Kind, ...] = ("sweep", "impulse-response")
"""Kinds that give a response."""

NO_INDEX = "no-sti"
"""Code of the fault of a response that is too short or too noisy for its modulation."""

LINEAR: tuple[Kind, ...] = (*RESPONSES, "noise", "speech")
"""Kinds that say something of a linear and unchanging path only."""


@dataclass(frozen=True)
class Flaw:
    """Why a recording counts for nothing, and what to do about it."""

    why: str
    decide: str


@dataclass(frozen=True, eq=False)
class Steady:
    """Steady sound at one place: a mean of recordings there.

    Attributes
    ----------
    levels_db : dict of float to float
        Octave levels; sound pressure where calibrated, else re full scale.
    by_chance_db : float
        σ of the levels re each other by one instrument: what a mean lessens.
    calibration_db : float
        σ of its calibration, common to all that was recorded with it; 0 for none.
    calibrated : bool
    calibration : str
        Which one; '' for none.
    recordings : tuple of str
    """

    levels_db: dict[float, float]
    by_chance_db: float
    calibration_db: float
    calibrated: bool
    calibration: str
    recordings: tuple[str, ...]

    @property
    def sigma_db(self) -> float:
        """σ of the levels in dB re 20 µPa."""
        return math.hypot(self.by_chance_db, self.calibration_db)

    @property
    def speech_octaves_db(self) -> Array:
        """Levels of 125 Hz–8 kHz, shape (7,); not a number where the recording carries none."""
        return np.array([self.levels_db.get(octave, np.nan) for octave in OCTAVES])


@dataclass(frozen=True, eq=False)
class Case:
    """A document, a session, and what was predicted of both."""

    alike: Alike
    found: SessionResults
    where: Mapping[str, Way]

    @property
    def session(self) -> Session:
        """As ``session.yaml`` says it."""
        return self.found.folder.session

    def recordings(
        self, kinds: tuple[Kind, ...], fits: Callable[[Way], bool]
    ) -> dict[str, Recording]:
        """Recordings of some kinds that are there and whose way fits, by their ids."""
        return {
            name: one
            for name, one in self.session.recordings.items()
            if name in self.found.taken and one.kind in kinds and fits(self.where[name])
        }

    def taken(self, name: str) -> Taken | Flaw:
        """What a recording says, or why it counts for nothing."""
        one = self.found.taken[name]
        if one.unusable is not None:
            fault = one.unusable
            return Flaw(f"Recording {name}: {fault.message}.", f"{sentence(fault.remedy)}.")
        active = not_linear(self.session.active_in(name))
        if active and one.kind in LINEAR:
            named = listed(active)
            return Flaw(
                f"{sentence(named)} active while {name} was recorded: nothing that supposes a "
                "linear and unchanging path can be told from it.",
                f"Record again with {named} switched off.",
            )
        return one

    def flaw_of(self, names: Iterable[str]) -> Flaw | None:
        """Why the first of these that counts for nothing does so; None where all count."""
        each = (self.taken(name) for name in names)
        return next((one for one in each if isinstance(one, Flaw)), None)

    def without_modulation(self, names: Iterable[str]) -> Flaw | None:
        """Why a response among these gives no modulation; None where all do."""
        for name in names:
            one = self.found.taken[name]
            if one.response is not None and one.response.modulation:
                continue
            said = {fault.code: fault for fault in one.faults}
            if NO_INDEX in said:
                fault = said[NO_INDEX]
                return Flaw(f"{name}: {fault.message}.", f"{sentence(fault.remedy)}.")
            return Flaw(
                f"The response of {name} gives no modulation.",
                "Record again, louder or with a longer sweep, and with silence after it.",
            )
        return None

    def steady(self, names: Iterable[str]) -> Steady | None:
        """Mean of those recordings of steady sound that are usable, of the first calibration.

        None where there is none.
        """
        usable: dict[str, NoiseResult] = {}
        calibration: str | None = None
        for name in names:
            one = self.taken(name)
            if isinstance(one, Flaw) or one.noise is None:
                continue
            said = self.session.recordings[name].calibration
            own = (said or "") if one.noise.calibrated else ""
            if calibration is None:
                calibration = own
            if own == calibration:
                usable[name] = one.noise
        if not usable or calibration is None:
            return None
        results = list(usable.values())
        shared = [f for f in results[0].levels_db if all(f in r.levels_db for r in results)]
        known = self.found.calibrations.get(calibration)
        common = 0.0 if known is None else known.sigma_db
        by_chance = sum(max(r.sigma_db**2 - common**2, 0.0) for r in results)
        return Steady(
            levels_db={f: levels.mean_level_db([r.levels_db[f] for r in results]) for f in shared},
            by_chance_db=math.sqrt(by_chance) / len(results),
            calibration_db=common,
            calibrated=results[0].calibrated,
            calibration=calibration,
            recordings=tuple(usable),
        )

    @cached_property
    def playing(self) -> tuple[str, ...]:
        """Devices that play the far end."""
        places = loudspeaker_places(self.alike.room, self.alike.catalogue)
        return tuple(dict.fromkeys(name.partition(".")[0] for name in places))

    def of_all_loudspeakers(self, name: str) -> bool:
        """Whether what was recorded came from every loudspeaker that plays the far end."""
        source = self.where[name].source
        if source is None:
            return False
        return source.kind == "far end" or self.playing == (source.id,)

    def source_db(self) -> Array | None:
        """Octave levels of the test source 1 m in front, shape (7,) [dB]; None where not said."""
        source = self.session.source
        if source.levels_db_at_1m is not None:
            return np.array([source.levels_db_at_1m[octave] for octave in OCTAVES])
        if source.dba_at_1m is not None:
            return iec_male_spectrum_2020(source.dba_at_1m)
        return None


@dataclass(frozen=True, eq=False)
class Alone:
    """A steady signal without the noise it was recorded with, shape (octaves,) each.

    Attributes
    ----------
    most_db : ndarray
    least_db : ndarray
        The same, but nothing at all where it is too near to the noise to be told.
    """

    most_db: Array
    least_db: Array

    @property
    def hidden(self) -> Mask:
        """Whether an octave is too near to the noise."""
        return np.asarray(np.isneginf(self.least_db), dtype=np.bool_)


def without_noise(heard_db: Array, noise_db: Array) -> Alone:
    """Levels of a steady signal that was recorded with the noise of the room, without that.

    Parameters
    ----------
    heard_db, noise_db : ndarray, shape (octaves,)
        Both together, and the noise alone, by one instrument. [dB]

    Examples
    --------
    >>> found = without_noise(np.array([63.01, 61.0]), np.array([60.0, 60.0]))
    >>> found.most_db.round(1), found.least_db.round(1)
    (array([60., 58.]), array([ 60., -inf]))
    """
    over = np.maximum(levels.energy(heard_db) - levels.energy(noise_db), 0.0)
    hidden = heard_db - noise_db < LEAST_OVER_NOISE_DB
    most = np.where(hidden, heard_db - LEAST_OVER_NOISE_DB, levels.energy_level_db(over))
    return Alone(most, np.where(hidden, -np.inf, most))


def listed(names: Iterable[str]) -> str:
    """Names as a sentence has them.

    Examples
    --------
    >>> listed(["canceller", "gate", "codec"])
    'canceller, gate and codec'
    """
    each = list(names)
    return " and ".join(filter(None, (", ".join(each[:-1]), *each[-1:])))


def sentence(text: str) -> str:
    """The same with a capital letter first.

    Examples
    --------
    >>> sentence("gate and codec")
    'Gate and codec'
    """
    return text[:1].upper() + text[1:]
