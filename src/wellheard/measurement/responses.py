"""What an impulse response says, octave by octave."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt

from wellheard.acoustics.intelligibility import speech_transmission_index
from wellheard.acoustics.modulation import MODULATION_FREQUENCIES, with_noise_and_hearing
from wellheard.arrays import Array
from wellheard.bands import OCTAVES, exact_midband, spoken_octave
from wellheard.measurement import filters
from wellheard.measurement.arrivals import arrival
from wellheard.measurement.averages import deviation_of_t20
from wellheard.measurement.decays import OctaveEnergy, decay, missing, octave_energy
from wellheard.measurement.results import (
    Arrival,
    Decay,
    Fault,
    ImpulseResponse,
    ResponseResult,
    Values,
)

STI_LEAST_SECONDS: Final = 1.6
"""Of a response after its direct sound: one period of the slowest modulation."""

STI_LEAST_RANGE_DB: Final = 20.0
"""Of every octave, after noise is taken from it; what is drawn on is then 1 % at most."""

DIRECT_WINDOW: Final = 0.0025
"""After the direct sound. [s]"""

DIRECT_FROM: Final = 1000.0
"""The lowest octave that so short a window tells from others: 1/2.5 ms is 400 Hz. [Hz]"""

CURVED_PERCENT: Final = 10.0
"""Curvature from which on a decay is said to be bent."""

_BEFORE_PLAYED = 0.0005  # that the first sound may seem to come before it was played [s]
_WIRE_DB = 45.0  # range of an octave whose decay time would be told if it had one
_NOTHING = 1e-8  # of the peak: less than any recorder hears
_DIRECT_BEFORE = 0.001  # [s]
_EDGE = filters.OCTAVE_RATIO**0.5
_TOLERANCE = 1.02  # of the edges of what was covered


def analyse(response: ImpulseResponse) -> ResponseResult:
    """Decays, clarity, modulation, arrival and gain of an impulse response.

    Parameters
    ----------
    response : ImpulseResponse
        From a sweep, or taken otherwise.

    Returns
    -------
    ResponseResult
        Octaves that the rate or the sweep does not cover say so.

    Notes
    -----
    Noise is found and taken from every octave before anything is read off it, so it is not in the
    modulation: what is measured of the room's noise is added once, by :func:`sti`.

    References
    ----------
    .. [1] iso3382-1:2009, decays and clarity, via phonometry and pyrato.
    .. [2] iec60268-16:2020, modulation, via phonometry and pyrato.

    Examples
    --------
    >>> rate, size = 16000.0, 32000
    >>> noise = np.random.default_rng(1).normal(size=size)
    >>> samples = noise * 10.0 ** (-3.0 * np.arange(size) / rate / 0.5)
    >>> found = analyse(ImpulseResponse(samples, rate, zero=0, absolute=False))
    >>> found.decays[3].t20 is not None and abs(found.decays[3].t20 - 0.5) < 0.06
    True
    >>> found.decays[6].why_not, found.sti
    ('at 16 kHz samples a second there is no octave of 8 kHz', None)
    """
    heard = arrival(response)
    onset = round(heard.onset * response.rate)
    sounding, lasting = (_sounding(response.samples, share) for share in (_NOTHING, 0.0))
    why_not = {octave: _not_covered(octave, response) for octave in OCTAVES}
    there = tuple(octave for octave in OCTAVES if not why_not[octave])
    aside = onset % filters.MOST_THINNED  # so that the onset is a sample of every octave
    bands = filters.thinned_bands(response.samples[aside:sounding], response.rate, there)
    energies = {
        octave: octave_energy(
            band.samples, response.rate / band.times, octave, (onset - aside) // band.times
        )
        for octave, band in zip(there, bands, strict=True)
    }
    decays = tuple(
        decay(energies[octave], octave) if octave in energies else missing(octave, why_not[octave])
        for octave in OCTAVES
    )
    fault = _no_modulation(energies, (lasting - onset) / response.rate)
    modulation = () if fault else _modulation(energies)
    return ResponseResult(
        decays=decays,
        modulation=modulation,
        sti=float(speech_transmission_index(modulation)) if modulation else None,
        arrival=heard,
        gain_db=tuple(_gain_db(energies.get(f), f, response.rate) for f in OCTAVES),
        direct_gain_db=_direct_gain_db(response, onset, there),
        faults=(
            *response.faults,
            *_of_arrival(heard),
            *([fault] if fault else []),
            *_of_decays(decays, energies),
        ),
    )


def sti(
    result: ResponseResult, *, speech_db: npt.ArrayLike, noise_db: npt.ArrayLike | None
) -> float:
    """Speech transmission index with the level of speech and the room's own noise.

    Parameters
    ----------
    result : ResponseResult
        Of a path that is linear and does not change.
    speech_db : array_like, shape (7,)
        Octave levels of speech where the response was taken. [dB re 20 µPa]
    noise_db : array_like, shape (7,), or None
        The same of noise; None is none.

    Returns
    -------
    float
        0–1.

    Raises
    ------
    ValueError
        The response gives no modulation.

    References
    ----------
    .. [1] iec60268-16:2020, indirect method, via phonometry.
    """
    if not result.modulation:
        raise ValueError("the response gives no modulation; look at its faults")
    m = with_noise_and_hearing(result.modulation, speech_db=speech_db, noise_db=noise_db)
    return float(speech_transmission_index(m))


def _not_covered(octave: float, response: ImpulseResponse) -> str:
    if not filters.fits(octave, response.rate):
        return (
            f"at {response.rate / 1000:g} kHz samples a second there is no octave of "
            f"{spoken_octave(octave)}"
        )
    middle = exact_midband(octave)
    low, high = response.covers or (0.0, math.inf)
    if low > middle / _EDGE * _TOLERANCE or high < middle * _EDGE / _TOLERANCE:
        return (
            f"the sweep covers {low:.0f} to {high:.0f} Hz, not the whole octave of "
            f"{spoken_octave(octave)}"
        )
    return ""


def _modulation(energies: dict[float, OctaveEnergy | None]) -> tuple[tuple[float, ...], ...]:
    return tuple(
        tuple(float(m) for m in energy.modulation(MODULATION_FREQUENCIES))
        for energy in energies.values()
        if energy is not None
    )


def _no_modulation(energies: dict[float, OctaveEnergy | None], seconds: float) -> Fault | None:
    """Why there is no modulation transfer, if there is none."""
    remedy = "play a louder or longer sweep with 2 s of silence after it, from 50 Hz to 16 kHz"
    what = ""
    if seconds < STI_LEAST_SECONDS:
        what = f"the response is {seconds:.2f} s long; {STI_LEAST_SECONDS:g} s are needed"
    elif len(energies) < len(OCTAVES):
        lacking = next(octave for octave in OCTAVES if octave not in energies)
        what = f"there is no octave of {spoken_octave(lacking)}; all seven are needed"
    else:
        for octave, energy in energies.items():
            if energy is None or energy.range_db < STI_LEAST_RANGE_DB:
                has = "does not stand out of the noise"
                if energy is not None:
                    has = f"falls by {energy.range_db:.0f} dB until it goes under"
                what = f"at {spoken_octave(octave)} the decay {has}; {STI_LEAST_RANGE_DB:.0f} dB"
                what += " are needed"
                break
    if not what:
        return None
    return Fault("no-sti", "note", f"no speech transmission index: {what}", remedy)


def _of_arrival(heard: Arrival) -> tuple[Fault, ...]:
    """Sound cannot come before it was played."""
    if heard.delay is None or heard.delay >= -_BEFORE_PLAYED:
        return ()
    return (
        Fault(
            "before-played",
            "error",
            f"the first sound comes {-1000.0 * heard.delay:.1f} ms before it was played",
            "channel and loopback are exchanged, or the loop-back was itself delayed: name the "
            "channel of the microphone, and loop back the output of the player itself",
        ),
    )


def _of_decays(
    decays: Sequence[Decay], energies: dict[float, OctaveEnergy | None]
) -> tuple[Fault, ...]:
    heard = [d for d in decays if energies.get(d.octave) is not None]
    if heard and all(d.range_db >= _WIRE_DB and d.edt is None and d.t20 is None for d in heard):
        return (
            Fault(
                "no-room",
                "warning",
                "in every octave the sound dies away faster than filters can follow: no room is "
                "in it",
                "check that the channel of the microphone is named; a loop-back and the signal "
                "itself look so",
            ),
        )
    curved = [spoken_octave(d.octave) for d in decays if _is_curved(d)]
    if not curved:
        return ()
    return (
        Fault(
            "curved-decay",
            "note",
            f"the decay slows down at {', '.join(curved)}: one decay time does not describe it",
            "look at the decay curves; rooms that are joined, or absorb on some sides only, do so",
        ),
    )


def _is_curved(one: Decay) -> bool:
    """Whether a decay bends by more than the standard lets pass, and than chance does."""
    if one.curvature_percent is None or one.t20 is None:
        return False
    chance = deviation_of_t20(one.t20, octave=one.octave, places=1) / one.t20
    return one.curvature_percent > max(CURVED_PERCENT, 200.0 * chance)


def _sounding(samples: Array, share: float) -> int:
    """Samples until none follows over a share of the highest: the end of a file filled up."""
    size = np.abs(samples)
    return len(samples) - int(np.argmax(size[::-1] > share * size.max()))


def _gain_db(energy: OctaveEnergy | None, octave: float, rate: float) -> float:
    if energy is None:
        return -math.inf
    return _level_db(energy.total * rate / energy.rate / filters.click_energy(octave, rate))


def _direct_gain_db(response: ImpulseResponse, onset: int, there: tuple[float, ...]) -> Values:
    """Gain of what comes within 2.5 ms; None where octaves cannot be told apart in that."""
    rate = response.rate
    first = max(onset - round(_DIRECT_BEFORE * rate), 0)
    direct = response.samples[first : onset + round(DIRECT_WINDOW * rate)]
    octaves = tuple(octave for octave in there if octave >= DIRECT_FROM)
    padded = np.pad(direct, round(0.01 * rate))
    found = dict(zip(octaves, filters.octave_bands(padded, rate, octaves), strict=True))

    def gain_db(octave: float, band: Array) -> float:
        return _level_db(float(np.square(band).sum()) / filters.click_energy(octave, rate))

    return tuple(gain_db(f, found[f]) if f in found else None for f in OCTAVES)


def _level_db(energy: float) -> float:
    return 10.0 * math.log10(energy) if energy > 0.0 else -math.inf
