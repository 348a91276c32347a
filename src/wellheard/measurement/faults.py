"""What a recording suffers from, with figures and what to do about it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from wellheard.acoustics.waveform import fast_length
from wellheard.arrays import Array
from wellheard.measurement.clipping import clipping, smallest_step
from wellheard.measurement.dropouts import dropouts
from wellheard.measurement.hum import hum
from wellheard.measurement.results import Fault
from wellheard.measurement.session import SweepSignal
from wellheard.measurement.signals import growth_time, one_sweep, period_samples, sweep_seconds
from wellheard.units import energy, level_db

OFFSET: Final = 0.005
"""Constant value that is worth a note, re full scale; common practice, no source."""
LARGE_OFFSET: Final = 0.05
"""The same that takes headroom away; common practice, no source."""
TOO_QUIET_DBFS: Final = -85.0
"""Root mean square below which a converter itself is heard; common practice, no source. [dB]"""
TAIL: Final = 1.0
"""Silence after a sweep that a meeting room's decay wants, unless less was played. [s]"""
LEAST_TAIL: Final = 0.1
"""The same without which there is no decay at all. [s]"""
SWEEP_RANGE_DB: Final = 35.0
"""Peak of a response over its noise that T20 wants [L ISO 3382-1:2009, 5.3.3]. [dB]"""

LONGEST_RESPONSE: Final = 2.0
"""Sound that keeps its level for so long is no response: one of a decay time of 12 s, longer than
any room for speech has, has fallen by 10 dB by then. [s]"""

_FEW_STEPS, _HARDLY_ANY = 4.0, 1.5  # root mean square, in steps of the converter
_COARSEST = 2.0**-11  # step of 12 bits; what is coarser is a signal of few values
_CREST_DB = 20.0  # of a signal that is there all the time, at most
_CREST = 10.0 ** (_CREST_DB / 20.0)
_FOUND_DB = 18.0  # that a sweep's begin stands out of what lies around at least
_INSIDE = 0.9  # how far inside its range a sweep is looked at
_SMOOTH = 0.001  # [s]
_ABOUT = 0.02  # how far repeats may be from where they should be [s]
_LESS_DB = 10.0  # that a repeat, which may lack an end, is below the others at most
_SLACK = 0.003  # [s]
_PIECE = 0.1  # whose power is looked at [s]
_FALLEN_DB = 10.0  # that a response has fallen by before it is too long to be one


def of_recording(samples: Array, rate: float, *, bits: int | None) -> tuple[Fault, ...]:
    """What any recording may suffer from.

    Parameters
    ----------
    samples : ndarray, shape (samples,) or (samples, channels)
        Re full scale.
    rate : float
        [Hz]
    bits : int or None
        Whole-number bits of the file; None where its samples are floating.

    Returns
    -------
    tuple of Fault
        Codes ``silence``, ``dead-channel``, ``too-quiet``, ``offset``, ``clipping``, ``dropout``,
        ``jump`` and ``hum``; in a file of several channels messages name the channel.
    """
    if samples.ndim == 1:
        return tuple(_of_channel(samples, rate, bits))
    channels = [np.ascontiguousarray(samples[:, k]) for k in range(samples.shape[1])]
    live = [bool(len(channel)) and float(np.ptp(channel)) > 0.0 for channel in channels]
    if not any(live):
        return (_silence(),)
    dead = [str(k + 1) for k, alive in enumerate(live) if not alive]
    found = [] if not dead else [_dead(dead, len(channels))]
    several = len(channels) > 1
    for k, channel in enumerate(channels):
        if live[k]:
            found += [
                replace(fault, message=f"channel {k + 1}: {fault.message}") if several else fault
                for fault in _of_channel(channel, rate, bits)
            ]
    return tuple(found)


def _of_channel(samples: Array, rate: float, bits: int | None) -> Iterator[Fault]:
    if len(samples) == 0 or float(np.ptp(samples)) == 0.0:
        yield _silence()
        return
    mean = float(samples.mean())
    moving = float(samples.std())
    yield from _quiet(samples, moving, bits)
    if abs(mean) >= OFFSET and abs(mean) >= 0.1 * moving:
        yield _offset(mean)
    flat = clipping(samples)
    if flat is not None:
        yield flat
    yield from dropouts(samples, rate)
    humming = hum(samples, rate)
    if humming is not None:
        yield humming


def _silence() -> Fault:
    return Fault(
        "silence",
        "error",
        "nothing was recorded: every sample has the same value",
        "check cable, phantom power, mute, the chosen input and the permission to record, and "
        "record again",
    )


def _dead(dead: list[str], count: int) -> Fault:
    named = f"channel {dead[0]} is" if len(dead) == 1 else f"channels {', '.join(dead)} are"
    return Fault(
        "dead-channel",
        "warning",
        f"{named} silent, of {count}",
        "check which input the microphone is on, and name that channel",
    )


def _quiet(samples: Array, moving: float, bits: int | None) -> Iterator[Fault]:
    """Too little for the converter, or for any; a response may be short, so its peak counts too."""
    step = 0.0 if bits is None else 2.0 ** (1 - bits)
    found = smallest_step(samples)
    if found <= _COARSEST:
        step = max(step, found)
    highest = float(np.abs(samples - samples.mean()).max())
    level = level_db(moving**2)
    few = moving < _FEW_STEPS * step and highest < _CREST * _FEW_STEPS * step
    if not few and (level >= TOO_QUIET_DBFS or level_db(highest**2) >= TOO_QUIET_DBFS + _CREST_DB):
        return
    shown = f"{level:.0f} dB re full scale".replace("-", "−")
    steps = f", {moving / step:.1f} steps of {1 - math.log2(step):.0f} bits" if few else ""
    yield Fault(
        "too-quiet",
        "error" if few and moving < _HARDLY_ANY * step else "warning",
        f"hardly any signal: {shown}{steps}",
        "raise the input gain until the loudest sound peaks at 6 to 12 dB below full scale, record "
        "with 24 bits, and check that the microphone is the one chosen",
    )


def _offset(mean: float) -> Fault:
    return Fault(
        "offset",
        "warning" if abs(mean) >= LARGE_OFFSET else "note",
        f"a constant {100.0 * mean:+.1f} % of full scale in every sample".replace("-", "−"),
        "it does no harm to octaves, but takes headroom: switch on the low-cut of the input, or "
        "use another input",
    )


def of_response(samples: Array, rate: float) -> tuple[Fault, ...]:
    """What a file may suffer from that is said to hold an impulse response.

    Parameters
    ----------
    samples : ndarray, shape (samples,)
        Re full scale.
    rate : float
        [Hz]

    Returns
    -------
    tuple of Fault
        Code ``no-response`` where it holds steady sound, or a sweep as it was recorded.
    """
    piece = round(_PIECE * rate)
    count = len(samples) // piece
    if not count:
        return ()
    powers = np.square(samples[: count * piece].reshape(count, piece)).mean(axis=1)
    lasts = _PIECE * int(np.count_nonzero(powers > powers.max() * energy(-_FALLEN_DB)))
    if lasts <= LONGEST_RESPONSE:
        return ()
    return (
        Fault(
            "no-response",
            "error",
            f"sound of nearly one level for {lasts:.1f} s: this is no impulse response",
            "say what it is: a recorded sweep is of kind sweep, steady sound of kind noise or "
            "speech",
        ),
    )


@dataclass(frozen=True)
class _Placed:
    """Where a sweep lies in a recording."""

    first: int  # sample at which the first sweep begins; negative if before the recording
    range_db: float


def of_sweep(recorded: Array, signal: SweepSignal, rate: float) -> tuple[Fault, ...]:
    """What a recording of sweeps may suffer from besides.

    Parameters
    ----------
    recorded : ndarray, shape (samples,)
        Re full scale.
    signal : SweepSignal
        What was played.
    rate : float
        Of the recording. [Hz]

    Returns
    -------
    tuple of Fault
        Codes ``no-sweep``, ``late-start``, ``cut-off``, ``short-tail`` and ``sweep-in-noise``.

    References
    ----------
    .. [1] iso3382-1:2009, 5.3.3, range above noise, via phonometry.
    """
    placed = _place(recorded, signal, rate)
    if placed is None:
        return (_no_sweep(signal),)
    seconds = len(recorded) / rate
    return tuple((*_ends(placed.first / rate, seconds, signal), *_in_noise(placed.range_db)))


def _place(recorded: Array, signal: SweepSignal, rate: float) -> _Placed | None:
    """Find the first sweep by dividing spectra, also before the begin of the recording."""
    top = min(signal.to_hz, 0.5 * rate) * _INSIDE
    if len(recorded) == 0 or top < 2.0 * signal.from_hz:
        return None
    count = round(growth_time(signal) * math.log(top / signal.from_hz) * rate)
    played = one_sweep(signal.model_copy(update={"rate": rate}))[:count]
    length = fast_length(len(recorded) + len(played))
    frequency = np.arange(length // 2 + 1) * (rate / length)
    inside = (frequency > signal.from_hz / _INSIDE) & (frequency < top * _INSIDE)
    heard = np.fft.rfft(recorded - recorded.mean(), length)[inside]
    sent = np.fft.rfft(played, length)[inside]
    ratio = np.zeros(len(frequency), dtype=np.complex128)
    ratio[inside] = heard * sent.conj() / (np.square(np.abs(sent)) * np.sqrt(frequency[inside]))
    response = np.roll(np.fft.irfft(ratio, length), len(played))
    return _first(response, len(played), signal, rate)


def _first(response: Array, zero: int, signal: SweepSignal, rate: float) -> _Placed | None:
    """The first of its repeated peaks; ``zero`` is where the recording begins."""
    width = max(1, round(_SMOOTH * rate))
    power = np.convolve(np.square(response), np.full(width, 1.0 / width), "same")
    highest = int(np.argmax(power))
    noise = float(np.median(power))
    if not power[highest] > noise * energy(_FOUND_DB):
        return None
    period, about = period_samples(signal) * rate / signal.rate, round(_ABOUT * rate)
    first = highest
    for back in range(1, signal.repeats):
        middle = round(highest - back * period)
        part = power[max(0, middle - about) : max(0, middle + about)]
        if not len(part) or part.max() < power[highest] * energy(-_LESS_DB):
            break
        first = max(0, middle - about) + int(np.argmax(part))
    range_db = level_db(float(power[highest]) / noise) if noise > 0.0 else math.inf
    return _Placed(first - zero, range_db)


def _no_sweep(signal: SweepSignal) -> Fault:
    return Fault(
        "no-sweep",
        "error",
        f"no sweep from {signal.from_hz:g} to {signal.to_hz:g} Hz of {signal.seconds:g} s is found "
        "in it",
        "check that from_hz, to_hz and seconds are those of the signal that was played, that it "
        "was heard in the room, and that the right channel is named",
    )


def _ends(begin: float, seconds: float, signal: SweepSignal) -> Iterator[Fault]:
    """What is missing at both ends; ``begin`` is when the first sweep begins in the recording."""
    length, period = sweep_seconds(signal), period_samples(signal) / signal.rate
    begins = [begin + k * period for k in range(signal.repeats)]
    whole = [b for b in begins if b >= -_SLACK and b + length <= seconds + _SLACK]
    others = f"; {len(whole)} of {signal.repeats} sweeps are whole" if signal.repeats > 1 else ""
    if begin < -_SLACK:
        yield Fault(
            "late-start",
            "warning",
            f"the recording begins {-begin:.2f} s after the sweep: what is below "
            f"{_frequency(signal, -begin):.0f} Hz is missing{others}",
            "start recording first, then play",
        )
    if begins[-1] + length > seconds + _SLACK:
        missing = begins[-1] + length - seconds
        yield Fault(
            "cut-off",
            "warning" if whole else "error",
            f"the recording ends {missing:.2f} s before the sweep does: what is above "
            f"{_frequency(signal, max(0.0, length - missing)):.0f} Hz is missing{others}",
            "stop recording some seconds after the last sweep has ended",
        )
    elif seconds - begins[-1] - length < min(TAIL, signal.silence) - _SLACK:
        tail = max(0.0, seconds - begins[-1] - length)
        yield Fault(
            "short-tail",
            "error" if tail < LEAST_TAIL else "warning",
            f"the recording goes on for {tail:.2f} s after the "
            f"sweep; a decay wants {min(TAIL, signal.silence):g} s",
            "stop recording some seconds after the last sweep has ended",
        )


def _frequency(signal: SweepSignal, time: float) -> float:
    """Of a sweep after some time [Hz]."""
    return min(signal.to_hz, signal.from_hz * math.exp(time / growth_time(signal)))


def _in_noise(range_db: float) -> Iterator[Fault]:
    if range_db < SWEEP_RANGE_DB:
        yield Fault(
            "sweep-in-noise",
            "warning",
            f"the response rises {range_db:.0f} dB out of the noise; T20 wants "
            f"{SWEEP_RANGE_DB:g} dB",
            "play louder, within what ears and loudspeaker stand, or a sweep four times as long "
            "for 6 dB more, and switch off what hums and blows",
        )
