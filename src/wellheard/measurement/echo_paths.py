"""What comes back of the far end before anything cancels it: a response read as a loss."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from wellheard.acoustics import echo
from wellheard.acoustics.levels import energy_level_db
from wellheard.bands import OCTAVES, exact_midband, spoken_octave
from wellheard.measurement import filters
from wellheard.measurement.responses import analyse
from wellheard.measurement.results import EchoLoss, Fault, ImpulseResponse, ResponseResult

FEWEST_OCTAVES: Final = 4
"""That a weighted loss is told from; fewer are an error. Common practice, no source."""

_SPEECH = (500.0, 1000.0, 2000.0, 4000.0)  # octaves whose echo is followed into the noise [Hz]
_WINDOW = 0.3  # in which an echo comes whose decay cannot be read [s]
_QUIET_FROM = 0.9  # of a response, from where it is noise
_CLEAR = 2.0  # times the noise's energy in that window, above which there is an echo
_REMEDY = (
    "play the sweep louder or longer, from 50 Hz to 16 kHz at 48 kHz, with the canceller switched "
    "off, and record again"
)


def echo_loss(response: ImpulseResponse, result: ResponseResult | None = None) -> EchoLoss:
    """Loss from what a loudspeaker is sent to what a microphone gives.

    Parameters
    ----------
    response : ImpulseResponse
        From the loudspeaker's input to the microphone's output, its gains those of the session.
    result : ResponseResult, optional
        What the response says, if that has been found already.

    Returns
    -------
    EchoLoss
        Its faults are those of the loss alone. ``no-octave``: an octave that the rate or the
        sweep lacks counts as its neighbour. ``echo-in-noise``: a loss is that much at least.

    Notes
    -----
    Full scale that was sent over full scale that was recorded, energy of the whole response, its
    noise taken from it: a canceller that is switched on, or a gate, makes it meaningless.

    References
    ----------
    .. [1] itu-g122:1993, clause B.4, over 300-3400 Hz, as what is needed is.

    Examples
    --------
    >>> import numpy as np
    >>> rate, size = 48000.0, 24000
    >>> noise = np.random.default_rng(1).normal(size=size)
    >>> samples = noise * 10.0 ** (-3.0 * np.arange(size) / rate / 0.3)
    >>> samples *= 0.01 / np.linalg.norm(samples)
    >>> round(echo_loss(ImpulseResponse(samples, rate, zero=0, absolute=False)).loss_db)
    40
    """
    heard = analyse(response) if result is None else result
    losses = {
        octave: -gain_db
        for octave, gain_db in zip(OCTAVES, heard.gain_db, strict=True)
        if math.isfinite(gain_db)
    }
    unread = tuple(f for f in OCTAVES if f not in losses and _played(f, response))
    windowed = _windowed(response, heard.arrival.onset, unread)
    losses |= {octave: one.loss_db for octave, one in windowed.items()}
    bands = tuple(_nearest(octave, losses) for octave in OCTAVES)
    weighted = float(echo.weighted_loss_db(bands)) if losses else math.inf
    return EchoLoss(
        loss_bands_db=bands,
        loss_db=weighted,
        tail_to_noise=_tail(response, heard),
        delay=heard.arrival.delay,
        faults=tuple((*_lacking(losses), *_in_noise(windowed))),
    )


@dataclass(frozen=True)
class _Windowed:
    """Loss of what came within a window, or of the noise in it where that is no less."""

    loss_db: float
    in_noise: bool


def _windowed(
    response: ImpulseResponse, onset: float, octaves: tuple[float, ...]
) -> dict[float, _Windowed]:
    """Losses of octaves whose decay cannot be read: too short a click, or too much noise."""
    if not octaves:
        return {}
    rate = response.rate
    found = {}
    bands = filters.octave_bands(response.samples, rate, octaves)
    for octave, band in zip(octaves, bands, strict=True):
        rings = filters.ringing(octave)
        first = max(0, round((onset - rings) * rate))
        came = np.square(band[first : round((onset + _WINDOW + rings) * rate)])
        noise = float(np.square(band[int(_QUIET_FROM * len(band)) :]).mean()) * len(came)
        everything = float(came.sum())
        in_noise = everything <= _CLEAR * noise
        left = everything if in_noise else everything - noise
        share = left / filters.click_energy(octave, rate)
        found[octave] = _Windowed(-float(energy_level_db(share)), in_noise)
    return found


def _played(octave: float, response: ImpulseResponse) -> bool:
    """Whether the whole octave went through the echo path."""
    low, high = response.covers or (0.0, math.inf)
    half = filters.OCTAVE_RATIO**0.5
    inside = low * half <= exact_midband(octave) <= high / half
    return inside and filters.fits(octave, response.rate)


def _nearest(octave: float, losses: dict[float, float]) -> float:
    """Loss of an octave, or of the nearest one that there is."""
    if not losses:
        return math.inf
    return losses[min(losses, key=lambda other: abs(math.log(other / octave)))]


def _tail(response: ImpulseResponse, heard: ResponseResult) -> float:
    """When the last octave of speech goes under in noise, or the response ends."""
    longest = len(response.samples) / response.rate - heard.arrival.onset
    there = [d for d in heard.decays if d.octave in _SPEECH and d.range_db > 0.0]
    return max((longest if d.knee is None else d.knee for d in there), default=0.0)


def _lacking(losses: dict[float, float]) -> Iterator[Fault]:
    lacking = [spoken_octave(octave) for octave in OCTAVES if octave not in losses]
    if lacking:
        few = len(losses) < FEWEST_OCTAVES
        yield Fault(
            "no-octave",
            "error" if few else "note" if len(lacking) == 1 else "warning",
            f"no echo loss at {', '.join(lacking)}"
            + ("" if few else "; the nearest octave stands for it in the weighted loss"),
            _REMEDY,
        )


def _in_noise(windowed: dict[float, _Windowed]) -> Iterator[Fault]:
    named = [f"{spoken_octave(f)} {w.loss_db:.0f} dB" for f, w in windowed.items() if w.in_noise]
    if named:
        yield Fault(
            "echo-in-noise",
            "warning",
            f"no echo stands out of the noise at: {', '.join(named)}; the loss is that much at "
            "least",
            _REMEDY,
        )
