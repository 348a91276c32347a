"""From the recording of a sweep to the impulse response of what it went through.

The spectrum of the recording is divided by that of the sweep. Whatever is not linear then comes
before the direct sound, each harmonic at its own time, and is cut off with what lies there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt

from wellheard.acoustics.waveform import fast_length
from wellheard.arrays import Array
from wellheard.bands import OCTAVES
from wellheard.measurement.arrivals import first_arrival
from wellheard.measurement.filters import fits, octave_bands
from wellheard.measurement.results import Fault, ImpulseResponse
from wellheard.measurement.session import SweepSignal
from wellheard.measurement.signals import (
    growth_time,
    one_sweep,
    period_samples,
    sweep_seconds,
)

Spectrum: TypeAlias = npt.NDArray[np.complex128]

BEFORE: Final = 0.05
"""How much is kept before what comes first, and as noise only. [s]"""

MOST_DRIFT: Final = 500e-6
"""Of two clocks that are looked for. Crystals keep within 100; common practice, no source."""

_LONGEST = 4.0  # of a response, unless more silence follows a sweep [s]
_LEAST = 0.1  # of silence after a sweep that is worth looking at [s]
_MARGIN = 0.001  # between zero and what comes first, where zero is not known [s]
_STANDS_OUT = 7.0  # a response over the noise before it; noise alone reaches 5
_TOGETHER = 0.06  # within which octaves of one response come [s]
_EDGE = 2.0 ** (1.0 / 3.0)  # over which the ends of a sweep are faded in and out
_WEAKEST = 0.03  # power in the sweep's ripples, re its even power, that is still divided by
_SHARP_FROM, _SHARP_TO = 2500.0, 16000.0  # where drift is read off one direct sound [Hz]
_SHARP_BEFORE, _SHARP_AFTER = 0.0015, 0.0025  # around its peak [s]
_SHARPER = 1.10  # by which drift must be felt; a crossover alone is felt by 1.07
_WORTH_A_NOTE = 10e-6
_WORTH_A_WARNING = 100e-6


def deconvolve(
    recorded: Array, signal: SweepSignal, rate: float, *, played: Array | None = None
) -> ImpulseResponse:
    """Impulse response from the recording of one or more sweeps.

    Parameters
    ----------
    recorded : ndarray, shape (samples,)
        Re full scale; it may begin before or after the first sweep.
    signal : SweepSignal
        What was played.
    rate : float
        Of the recording; it need not be that of the signal. [Hz]
    played : ndarray, shape (samples,), optional
        A channel of the same recorder that took the signal from the player's output. With it the
        response is absolute: time and sign are counted from there.

    Returns
    -------
    ImpulseResponse
        As long as silence was recorded after each sweep. With the error ``no-sweep`` or
        ``short-tail`` nothing can be read off it.

    Notes
    -----
    Clocks of player and recorder differ. With a loop-back, or from repeats, the difference is
    found within a few millionths. Of one sweep without loop-back it is what makes the direct sound
    sharpest from 2.5 to 16 kHz. A crossover in that range looks like drift, by 40 ppm of a sweep
    that grows e-fold in a second, and the other way round: only what is felt more than that is
    taken for drift, which is 80 ppm of a sweep of 6 s and 50 of one of 10 s. What is less smears an
    octave by 0.06 ms, which no result here feels. A sweep that is stretched by drift delays
    frequency f by ``δ·L·ln(f/f1)`` more; that is taken back, and repeats are brought together
    before their mean is taken.

    References
    ----------
    .. [1] farina:2000, the sweep, and harmonics before the direct sound.
    .. [2] novak2015:2015, eq. 47 to 49, its synchronized form.
    .. [3] iso18233:2006, repeats gain 10·lg n, via a guide on it.

    Examples
    --------
    >>> from wellheard.measurement.signals import sweep
    >>> signal = SweepSignal(seconds=1.0, silence=0.5)
    >>> found = deconvolve(0.5 * sweep(signal), signal, signal.rate)
    >>> found.faults, [round(float(f)) for f in found.covers]
    ((), [63, 15874])
    """
    whole = _divided(recorded, signal, rate)
    found = _Found.of(whole, len(recorded), signal, rate)
    if not found.stands_out(whole):
        return _nothing(whole, rate, NO_SWEEP)
    if found.smeared(whole):
        return _nothing(whole, rate, OTHER_SWEEP)
    if found.tail < _LEAST * rate:
        return _nothing(whole, rate, _short_tail(found.tail / rate))
    parts = found.parts(whole)
    covers = found.covers()
    reference = None
    if played is not None:
        direct = _divided(played, signal, rate)
        reference = _Found.of(direct, len(played), signal, rate)
        if not reference.stands_out(direct):
            return _nothing(whole, rate, NO_LOOPBACK)
        direct_parts = reference.like(found).parts(direct)
    drift = (
        _drift(parts, found, covers, certain=False)
        if played is None
        else _drift(direct_parts, found, covers, certain=True)
    )
    samples = _together(parts, found, drift or 0.0)
    if played is None:
        first = first_arrival(samples, found.before)
        zero, absolute = max(first - round(_MARGIN * rate), 0), False
    else:
        back = _together(direct_parts, found, drift or 0.0)
        zero, absolute = int(np.argmax(np.abs(back))), True
        samples = samples * float(np.sign(back[zero]))
    told = None if drift is None else 1e6 * drift
    return ImpulseResponse(samples, rate, zero, absolute, told, covers, _drift_faults(drift))


NO_SWEEP: Final = Fault(
    "no-sweep",
    "error",
    "the sweep that was looked for is not in the recording",
    "check that from_hz, to_hz and seconds are those of the signal that was played; else play it "
    "louder than the noise, and record again",
)

OTHER_SWEEP: Final = Fault(
    "other-sweep",
    "error",
    "a sweep is in the recording, but its octaves do not come at the times that were said",
    "say from_hz, to_hz and seconds of the signal that was played",
)

NO_LOOPBACK: Final = Fault(
    "no-loopback",
    "error",
    "the loop-back channel does not hold the sweep",
    "feed the player's output into that channel as well, or leave loopback out",
)


def _short_tail(tail: float) -> Fault:
    return Fault(
        "short-tail",
        "error",
        f"the recording ends {max(tail, 0.0):.2f} s after the sweep, before the room has died away",
        "let it run on for as long as the silence of the signal",
    )


def _nothing(whole: Array, rate: float, fault: Fault) -> ImpulseResponse:
    return ImpulseResponse(np.zeros(min(len(whole), round(rate))), rate, 0, False, faults=(fault,))


def _drift_faults(drift: float | None) -> tuple[Fault, ...]:
    if drift is None or abs(drift) < _WORTH_A_NOTE:
        return ()
    how = "faster" if drift > 0.0 else "slower"
    return (
        Fault(
            "drift",
            "warning" if abs(drift) >= _WORTH_A_WARNING else "note",
            f"the recorder's clock ran {abs(drift) * 1e6:.0f} ppm {how} than the player's; "
            "corrected",
            "play and record through one interface, or record a loop-back beside",
        ),
    )


def _divided(recorded: Array, signal: SweepSignal, rate: float) -> Array:
    """Return the recording with every sweep in it made a click, round a circle."""
    sweep_length = math.ceil(sweep_seconds(signal) * rate)
    length = fast_length(max(len(recorded), sweep_length + round(_LEAST * rate)))
    spectrum = np.fft.rfft(recorded, length)
    spectrum *= _inverse(signal.model_copy(update={"repeats": 1, "silence": 0.0}), rate, length)
    return np.fft.irfft(spectrum, length)


@lru_cache(maxsize=2)
def _inverse(signal: SweepSignal, rate: float, length: int) -> Spectrum:
    """Inverse of the spectrum of one sweep, nothing outside of what it covers.

    A recorder that runs slower than a sweep is high gets the sweep at a multiple of its rate, of
    which the upper part of the spectrum is left out.
    """
    times = math.ceil(2.0 * signal.to_hz / rate * (1.0 - 1e-12))
    finer = one_sweep(signal.model_copy(update={"rate": times * rate}))
    spectrum = np.fft.rfft(finer, times * length)[: length // 2 + 1]
    spectrum /= times
    frequency = _lines(length, 1.0 / rate)
    low, high = _faded_from(signal, rate)
    inside = slice(*np.searchsorted(frequency, (low / _EDGE, high * _EDGE)))
    some, lines = frequency[inside], spectrum[inside]
    power = np.square(lines.real) + np.square(lines.imag)
    level = 10.0 ** (signal.level_dbfs / 20.0) * rate
    even = 0.25 * level * level * growth_time(signal) / some
    inverse = np.zeros(len(frequency), dtype=np.complex128)
    weight = _faded(some, low, high) / np.maximum(power, _WEAKEST * even)
    inverse[inside] = weight * np.conj(lines)
    return inverse


def _lines(length: int, spacing: float) -> Array:
    return np.asarray(np.fft.rfftfreq(length, spacing), dtype=np.float64)


def _faded_from(signal: SweepSignal, rate: float) -> tuple[float, float]:
    """Where a sweep is whole."""
    return signal.from_hz * _EDGE, min(signal.to_hz, 0.5 * rate) / _EDGE


def _faded(frequency: Array, low: float, high: float) -> Array:
    """Raised cosine of the logarithm of frequency outside of low and high."""
    outside = np.maximum(np.log(low / frequency), np.log(frequency / high)) / math.log(_EDGE)
    return 0.5 + 0.5 * np.cos(np.pi * np.clip(outside, 0.0, 1.0))


@dataclass(frozen=True)
class _Found:
    """Where sweeps begin in a recording, by its strongest sound, in samples."""

    lags: tuple[int, ...]
    period: float
    sweep: float
    tail: int
    before: int
    recorded: int
    signal: SweepSignal
    rate: float

    @classmethod
    def of(cls, whole: Array, recorded: int, signal: SweepSignal, rate: float) -> _Found:
        sweep = sweep_seconds(signal) * rate
        period = period_samples(signal) / signal.rate * rate
        lags = _lags(np.abs(whole), recorded, period, sweep, signal.repeats)
        longest = round(max(signal.silence, _LONGEST if len(lags) == 1 else 0.0) * rate)
        tail = min(min(recorded - lags[-1] - math.ceil(sweep), longest), len(whole) // 2)
        harmonics = 0.5 * growth_time(signal) * math.log(2.0)
        before = round(min(BEFORE, harmonics) * rate)
        return cls(lags, period, sweep, tail, before, recorded, signal, rate)

    def like(self, other: _Found) -> _Found:
        """The same places as another's, of another channel of one recording."""
        return _Found(
            other.lags, self.period, self.sweep, other.tail, other.before, self.recorded,
            self.signal, self.rate,
        )  # fmt: skip

    def stands_out(self, whole: Array) -> bool:
        """Whether there is a response rather than noise, or another sweep smeared."""
        lag, span = self.lags[0], round(self._clear() * self.rate)
        gap = min(round(0.02 * self.rate), span // 2)
        before = whole.take(np.arange(lag - span, lag - gap), mode="wrap")
        noise = math.sqrt(float(np.square(before).mean()))
        return bool(abs(whole[lag % len(whole)]) > _STANDS_OUT * noise)

    def smeared(self, whole: Array) -> bool:
        """Whether octaves that stand out come at times of their own: the sweep was another."""
        low, high = self.covers()
        octaves = [
            f for f in OCTAVES[1:] if low < f / 1.5 and f * 1.5 < high and fits(f, self.rate)
        ]
        span = round(self._clear() * self.rate)
        around = whole.take(self.lags[0] + np.arange(-span, span), mode="wrap")
        bands = np.abs(octave_bands(around, self.rate, octaves))
        clear = bands.max(axis=1) > _STANDS_OUT * np.median(bands, axis=1)
        times = np.argmax(bands, axis=1)[clear] / self.rate
        return len(times) > 1 and float(np.ptp(times)) > _TOGETHER

    def _clear(self) -> float:
        """How long before a response no harmonic comes [s]."""
        return min(0.3, 0.8 * growth_time(self.signal) * math.log(2.0))

    def parts(self, whole: Array) -> Array:
        """Response of each sweep, shape (sweeps, before + tail)."""
        window = np.arange(-self.before, self.tail)
        return np.stack([whole.take(lag + window, mode="wrap") for lag in self.lags])

    def covers(self) -> tuple[float, float]:
        """Frequencies that were played and recorded."""
        low, high = _faded_from(self.signal, self.rate)
        growth = growth_time(self.signal) * self.rate
        missed, kept = -self.lags[0], self.recorded - self.lags[-1]
        if missed > 0:
            low = max(low, self.signal.from_hz * _EDGE * math.exp(missed / growth))
        if kept < self.sweep:
            high = min(high, self.signal.from_hz / _EDGE * math.exp(kept / growth))
        return low, high


def _lags(size: Array, recorded: int, period: float, sweep: float, repeats: int) -> tuple[int, ...]:
    """Samples at which the sweeps of a recording begin; before 0 where one began before it."""
    peak = int(np.argmax(size))
    slack = math.ceil(period * repeats * MOST_DRIFT) + 1

    def near(middle: float) -> int:
        start = max(round(middle) - slack, 0)
        piece = size[start : round(middle) + slack + 1]
        return start + int(np.argmax(piece)) if len(piece) else -1

    best: list[int] = []
    strength = 0.0
    for place in range(repeats):
        wanted = [peak + (k - place) * period for k in range(repeats)]
        found = [near(at) for at in wanted if -slack < at and at + sweep <= recorded + slack]
        total = float(size[found].sum())
        if total > strength * (1.0 + 1e-9):
            best, strength = found, total
    if best and best[0] >= 0:
        return tuple(best)
    late = peak > len(size) - sweep / 2
    return (peak - len(size) if late else peak,)


def _drift(
    parts: Array, found: _Found, covers: tuple[float, float], *, certain: bool
) -> float | None:
    """How much faster the recorder's clock ran, as a ratio."""
    if len(parts) > 1:
        return _drift_of_repeats(parts, found, covers)
    gain, drift = _sharpest(parts[0], found, covers)
    return drift if certain or gain >= _SHARPER else None


def _drift_of_repeats(parts: Array, found: _Found, covers: tuple[float, float]) -> float:
    """By how much the last sweep came later than it should after the first."""
    first, last = parts[0], parts[-1]
    length = fast_length(2 * len(first))
    frequency = _lines(length, 1.0 / found.rate)
    cross = np.fft.rfft(last, length) * np.conj(np.fft.rfft(first, length))
    cross *= _faded(np.maximum(frequency, 1.0), max(covers[0], 300.0), min(covers[1], 8000.0))
    shift = _peak_of(cross, length)
    apart = found.lags[-1] - found.lags[0]
    nominal = (len(parts) - 1) * found.period
    return (apart + shift - nominal) / nominal


def _peak_of(cross: Spectrum, length: int) -> float:
    """Time of the highest point of a correlation, between samples by a parabola."""
    correlation = np.fft.irfft(cross, length)
    at = int(np.argmax(correlation))
    left, top, right = correlation.take(np.arange(at - 1, at + 2), mode="wrap")
    aside = 0.5 * (left - right) / (left - 2.0 * top + right)
    return float(at + aside - (length if at > length // 2 else 0))


def _sharpest(part: Array, found: _Found, covers: tuple[float, float]) -> tuple[float, float]:
    """Drift that makes the direct sound sharpest, and by how much."""
    low, high = max(_SHARP_FROM, covers[0]), min(_SHARP_TO, covers[1])
    if high < 2.0 * low:
        return 1.0, 0.0
    rate, peak = found.rate, int(np.argmax(np.abs(part)))
    start = max(peak - round(_SHARP_BEFORE * rate), 0)
    direct = part[start : peak + round(_SHARP_AFTER * rate)]
    length = fast_length(4 * len(direct))
    frequency = _lines(length, 1.0 / rate)
    inside = (frequency > low / _EDGE) & (frequency < high * _EDGE)
    some = frequency[inside]
    lines = np.fft.rfft(direct, length)[inside] * _faded(some, low, high)

    def sharpness(drifts: Array) -> Array:
        positive = np.zeros((len(drifts), length), dtype=np.complex128)
        positive[:, : len(inside)][:, inside] = lines * _undone(
            some, drifts[:, None], found.signal, math.sqrt(low * high)
        )
        envelope = np.abs(np.fft.ifft(positive, axis=1))
        return np.power(envelope, 4.0).sum(axis=1) ** 0.25

    coarse = np.linspace(-MOST_DRIFT, MOST_DRIFT, 101)
    middle = coarse[int(np.argmax(sharpness(coarse)))]
    fine = middle + np.linspace(-10e-6, 10e-6, 41)
    by_fine = sharpness(fine)
    best = int(np.argmax(by_fine))
    return float(by_fine[best] / sharpness(np.zeros(1))[0]), float(fine[best])


def _undone(frequency: Array, drift: npt.ArrayLike, signal: SweepSignal, anchor: float) -> Spectrum:
    """Turn of each frequency that takes drift back; the anchor keeps its time [Hz]."""
    some = np.maximum(frequency, 1e-3)
    phase = some * (np.log(some / anchor) - 1.0)
    return np.exp(2j * np.pi * growth_time(signal) * np.asarray(drift) * phase)


def _together(parts: Array, found: _Found, drift: float) -> Array:
    """Mean response of all sweeps after drift is taken back."""
    if len(parts) == 1 and drift == 0.0:
        return parts[0]
    length = fast_length(parts.shape[1] + round(0.01 * found.rate))
    frequency = _lines(length, 1.0 / found.rate)
    total = np.zeros(len(frequency), dtype=np.complex128)
    for number, (lag, part) in enumerate(zip(found.lags, parts, strict=True)):
        due = found.lags[0] + number * found.period * (1.0 + drift)
        early = (due - lag) / found.rate  # by which this part was cut out too early
        total += np.fft.rfft(part, length) * np.exp(2j * np.pi * frequency * early)
    total *= _undone(frequency, drift, found.signal, 1000.0) / len(parts)
    return np.fft.irfft(total, length)[: parts.shape[1]]
