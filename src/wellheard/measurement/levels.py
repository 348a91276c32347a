"""Levels of steady recordings: calibration, octaves, NC and RC."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from wellheard.acoustics.gain import PASCAL_DB
from wellheard.acoustics.levels import (
    a_weighted_level_db,
    c_weighted_level_db,
    energy_level_db,
)
from wellheard.acoustics.noise import SIL_OCTAVES, nc_rating, rc_mark2
from wellheard.arrays import Array
from wellheard.bands import NOISE_OCTAVES, a_weighting_db
from wellheard.measurement import filters
from wellheard.measurement.clipping import clipping, runs
from wellheard.measurement.results import Audio, Calibration, Fault, NoiseResult
from wellheard.measurement.session import CalibrationFiles
from wellheard.measurement.spectra import mean_powers, piece_powers
from wellheard.units import energy

CALIBRATOR_SIGMA_DB: Final = 0.5
"""Of a level by a calibrator: the calibrator, its fit on the capsule, and a microphone that is not
flat; common practice, no source. [dB]"""
SUBSTITUTION_SIGMA_DB: Final = 1.0
"""Of a level by a meter beside: its class, its reading and that it is not at the same spot; common
practice, no source. [dB]"""
STATED_SIGMA_DB: Final = 2.0
"""Of a level by a sensitivity somebody stated; common practice, no source. [dB]"""
MOST_DRIFT_DB: Final = 0.5
"""Between calibrations before and after, from which the set is discarded [M, common practice of
procedures that ask for both]. [dB]"""
CALIBRATOR_TONE: Final = 1000.0
"""[Hz]"""
SHORTEST_STEADY: Final = 15.0
"""From this on the level of a steady signal counts [L IEC 60268-16 of the level of speech]. [s]"""
UNSTEADY_DB: Final = 6.0
"""Spread above which something came and went while noise was recorded; common practice."""

_LINES = 2.0  # of a piece whose octaves are taken [s]
_FAST = 0.125  # piece whose level is followed [s]
_BLOCK = 8  # such pieces are taken to be independent of the next ones
_OFF_PITCH = 0.04  # how far a calibrator's tone may be from 1 kHz, as a ratio
_STEADY_DB = 0.25  # how far its level may be from its median
_STEADY_FOR = 2.0  # [s]
_PURE = 0.95  # share of its octave's power that the tone has
_RATED_PLACES = 1  # decimals that a meter shows octaves with, which then are rated
_NEPER_DB = 10.0 / math.log(10.0)


@dataclass(frozen=True)
class _Reading:
    """Mean square of what a calibration file holds, in the way that is asked for."""

    power: float
    fault: Fault | None


def octave_levels_db(
    samples: Array, rate: float, *, pascal_per_unit: float | None = None
) -> dict[float, float]:
    """Octave levels of a steady recording.

    Parameters
    ----------
    samples : ndarray, shape (samples,)
        Re full scale.
    rate : float
        [Hz]
    pascal_per_unit : float, optional
        Sound pressure of a sample at full scale.

    Returns
    -------
    dict of float to float
        By nominal octave from 31.5 Hz up, as far as the rate carries them: sound pressure levels
        where calibrated, else re the root mean square of samples that are all at full scale. [dB]

    References
    ----------
    .. [1] iec61260-1:2014, filters of class 1, applied to the power spectrum.

    Examples
    --------
    >>> tone = np.sin(2.0 * np.pi * 1000.0 * np.arange(48000) / 48000.0)
    >>> levels = octave_levels_db(tone, 48000.0, pascal_per_unit=2.0**0.5)
    >>> round(levels[1000.0], 1), len(levels)
    (94.0, 9)
    """
    powers = mean_powers(samples, length=round(_LINES * rate))
    reference_db = _reference_db(pascal_per_unit)
    frequency = np.linspace(0.0, 0.5 * rate, len(powers))
    return {
        octave: float(energy_level_db(powers @ _passed(frequency, octave))) + reference_db
        for octave in NOISE_OCTAVES
        if filters.fits(octave, rate)
    }


def _passed(frequency: Array, octave: float) -> Array:
    return np.square(filters.response(frequency, octave))


def _reference_db(pascal_per_unit: float | None) -> float:
    return 0.0 if pascal_per_unit is None else 20.0 * math.log10(pascal_per_unit) + PASCAL_DB


def noise(samples: Array, rate: float, calibration: Calibration | None) -> NoiseResult:
    """What a steady recording says.

    Parameters
    ----------
    samples : ndarray, shape (samples,)
        One channel, re full scale.
    rate : float
        [Hz]
    calibration : Calibration or None
        Of its microphone and input; one with an error is not used.

    Returns
    -------
    NoiseResult
        Rated by octaves to a tenth of a decibel, as a meter shows them.

    References
    ----------
    .. [1] ansi-s12.2:2019, clause 5.2 and Annex D, via phonometry.
    """
    seconds = len(samples) / rate
    usable = calibration if calibration is not None and calibration.usable else None
    levels = octave_levels_db(
        samples, rate, pascal_per_unit=None if usable is None else usable.pascal_per_unit
    )
    octaves = tuple(levels)
    values = list(levels.values())
    nc, governing, nc_label, rc_label = (None, None, "", "") if usable is None else _rated(levels)
    pieces = _followed(samples, rate)
    spread = _spread_db(pieces)
    chance = _chance_db(pieces)
    return NoiseResult(
        levels_db=levels,
        calibrated=usable is not None,
        dba=float(a_weighted_level_db(values, octaves=octaves)),
        dbc=float(c_weighted_level_db(values, octaves=octaves)),
        nc=nc,
        nc_governing=governing,
        nc_label=nc_label,
        rc_label=rc_label,
        seconds=seconds,
        spread_db=spread,
        sigma_db=chance if usable is None else math.hypot(chance, usable.sigma_db),
        faults=(
            *(() if calibration is None else calibration.faults),
            *_steadiness(seconds, spread),
        ),
    )


def _rated(levels: dict[float, float]) -> tuple[float | None, float | None, str, str]:
    """NC by tangency, the octave that touches, and both labels."""
    if not levels.keys() >= set(SIL_OCTAVES):
        return None, None, "", ""
    shown = {octave: round(level, _RATED_PLACES) for octave, level in levels.items()}
    rated = nc_rating(shown)
    return rated.tangency, rated.tangent, rated.label, rc_mark2(shown).label


def _followed(samples: Array, rate: float) -> Array:
    """A-weighted power in pieces of 125 ms, each under a window twice as long."""
    hop = max(1, round(_FAST * rate))
    if len(samples) < 2 * hop:
        return np.zeros(0)
    weights = 10.0 ** (a_weighting_db(np.fft.rfftfreq(2 * hop, 1.0 / rate)[1:]) / 10.0)
    rows = piece_powers(samples, length=2 * hop, hop=hop)
    return np.concatenate([row[:, 1:] @ weights for row in rows])


def _spread_db(pieces: Array) -> float:
    """Level exceeded for 10 % of the time less that for 90 %."""
    if not len(pieces) or not pieces.all():
        return 0.0
    quiet, loud = np.percentile(energy_level_db(pieces), [10.0, 90.0])
    return float(loud - quiet)


def _chance_db(pieces: Array) -> float:
    """Standard deviation of the level of the whole, by how seconds of it differ."""
    blocks = pieces[: len(pieces) // _BLOCK * _BLOCK].reshape(-1, _BLOCK).mean(axis=1)
    if len(blocks) < 2 or not blocks.all():
        return UNSTEADY_DB / 2.0
    return _NEPER_DB * float(blocks.std(ddof=1) / blocks.mean()) / math.sqrt(len(blocks))


def _steadiness(seconds: float, spread: float) -> list[Fault]:
    found = []
    if seconds < SHORTEST_STEADY:
        found.append(
            Fault(
                "too-short",
                "warning",
                f"{seconds:.1f} s of steady sound; a level wants {SHORTEST_STEADY:g} s",
                f"record for {SHORTEST_STEADY:g} s at least, noise of a room better for a minute",
            )
        )
    if spread > UNSTEADY_DB:
        found.append(
            Fault(
                "unsteady",
                "warning",
                f"the level moves by {spread:.1f} dB: something came and went",
                "record while nobody talks or walks, and say so if the noise itself comes and goes",
            )
        )
    return found


def calibration(name: str, files: CalibrationFiles, read: Callable[[str], Audio]) -> Calibration:
    """What brings samples of one microphone to pascals.

    Parameters
    ----------
    name : str
        Of the calibration, for messages.
    files : CalibrationFiles
        One of three ways: a calibrator's tone, noise that a meter beside it read, or a stated
        level of a full-scale sine.
    read : callable
        Samples of a file of the session.

    Returns
    -------
    Calibration
        With an error among its faults it is not to be used: a tone that is not at 1 kHz, is
        clipped or fluctuates, or a drift of more than :data:`MOST_DRIFT_DB`.

    Raises
    ------
    InputError
        A file cannot be read, or lacks the channel.
    """
    if files.file is None or files.full_scale_db is not None:
        return _stated(files.full_scale_db or 0.0)
    if files.level_db is not None:
        how, sigma, wanted_db = "calibrator", CALIBRATOR_SIGMA_DB, files.level_db
        take: Callable[[Array, float], _Reading] = _tone
    else:
        how, sigma, wanted_db = "substitution", SUBSTITUTION_SIGMA_DB, files.level_dba or 0.0
        take = _weighted
    levels = []
    found: list[Fault] = []
    for file in (files.file, files.after):
        if file is None:
            continue
        heard = read(file)
        reading = take(heard.channel(files.channel), heard.rate)
        levels.append(float(energy_level_db(reading.power)))
        if reading.fault is not None:
            found.append(_named(reading.fault, f"calibration {name}, {file}"))
    drift = levels[1] - levels[0] if len(levels) > 1 else None
    if drift is not None and not abs(drift) <= MOST_DRIFT_DB:
        found.append(_drifted(name, drift))
    mean_db = math.fsum(levels) / len(levels)
    known = math.isfinite(mean_db)
    return Calibration(
        pascal_per_unit=10.0 ** ((wanted_db - PASCAL_DB - mean_db) / 20.0) if known else 1.0,
        how=how,
        sigma_db=sigma if drift is None else math.hypot(sigma, 0.5 * drift),
        drift_db=drift if known else None,
        faults=tuple(found),
    )


def _stated(full_scale_db: float) -> Calibration:
    """Of a full-scale sine, whose root mean square is √½."""
    return Calibration(
        pascal_per_unit=math.sqrt(2.0 * energy(full_scale_db - PASCAL_DB)),
        how="stated",
        sigma_db=STATED_SIGMA_DB,
    )


def _named(fault: Fault, where: str) -> Fault:
    return Fault(fault.code, fault.severity, f"{where}: {fault.message}", fault.remedy)


def _drifted(name: str, drift: float) -> Fault:
    shown = f"{drift:+.1f} dB".replace("-", "−")
    return Fault(
        "calibration-drift",
        "error",
        f"calibration {name}: {shown} from before to after; at most {MOST_DRIFT_DB:g} dB are "
        "allowed",
        "nothing absolute can be told from recordings in between: fix the gain, let devices warm "
        "up, calibrate and record again",
    )


def _refused(what: str) -> Fault:
    return Fault(
        "calibrator",
        "error",
        what,
        "press the calibrator on the capsule, wait until it is steady, and record 10 s of its "
        "1 kHz tone with the gain of the session",
    )


def _tone(samples: Array, rate: float) -> _Reading:
    """A calibrator's tone: its steady stretch, in the octave of 1 kHz."""
    hop = round(_FAST * rate)
    if len(samples) < (_STEADY_FOR + _FAST) * rate or not samples.any():
        return _Reading(0.0, _refused(f"no {_STEADY_FOR:g} s of a tone"))
    flat = clipping(samples)
    rows = np.concatenate(list(piece_powers(samples, length=2 * hop, hop=hop)))
    frequency = np.linspace(0.0, 0.5 * rate, rows.shape[1])
    octave = _passed(frequency, CALIBRATOR_TONE)
    first, last = _steadiest(rows @ octave)
    mean = rows[first : last + 1].mean(axis=0)
    power = float(mean @ octave)
    peak = int(np.argmax(mean[2:])) + 2
    lines = slice(peak - 2, peak + 3)
    tone = float(mean[lines].sum())
    pitch = float(mean[lines] @ frequency[lines]) / tone
    wrong = ""
    if flat is not None:
        wrong = flat.message
    elif not abs(pitch / CALIBRATOR_TONE - 1.0) <= _OFF_PITCH:
        wrong = f"the strongest tone is at {pitch:.0f} Hz, not at {CALIBRATOR_TONE:g} Hz"
    elif tone < _PURE * power:
        wrong = f"the tone has {100.0 * tone / power:.0f} % of the power around it: too much noise"
    elif (last - first + 1) * _FAST < _STEADY_FOR:
        levels = energy_level_db(rows @ octave)
        wrong = (
            f"the tone fluctuates by {float(np.ptp(levels)):.1f} dB; no {_STEADY_FOR:g} s of it "
            f"stay within {_STEADY_DB:g} dB"
        )
    return _Reading(power, _refused(wrong) if wrong else None)


def _steadiest(powers: Array) -> tuple[int, int]:
    """First and last of the longest stretch near the median."""
    levels = energy_level_db(powers)
    near = np.flatnonzero(np.abs(levels - np.median(levels)) <= _STEADY_DB)
    if not len(near):
        return 0, 0
    first, last = runs(near)
    longest = int(np.argmax(last - first))
    return int(first[longest]), int(last[longest])


def _weighted(samples: Array, rate: float) -> _Reading:
    """Noise that a meter read: its A-weighted power."""
    levels = octave_levels_db(samples, rate)
    total = energy(float(a_weighted_level_db(list(levels.values()), octaves=tuple(levels))))
    flat = clipping(samples)
    wrong = "silence" if total == 0.0 else "" if flat is None else flat.message
    if not wrong:
        spread = _spread_db(_followed(samples, rate))
        wrong = f"the noise fluctuates by {spread:.1f} dB" if spread > UNSTEADY_DB else ""
    remedy = (
        "play steady noise, read the meter beside the microphone, and record 15 s of it with the "
        "gain of the session"
    )
    return _Reading(total, Fault("substitution", "error", wrong, remedy) if wrong else None)
