"""Decays of filtered responses: where noise takes over, what it adds, and how fast sound dies."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from wellheard.acoustics.field import DECAY
from wellheard.arrays import Array
from wellheard.bands import spoken_octave
from wellheard.measurement.filters import ringing
from wellheard.measurement.results import Decay

RANGE_NEEDED_DB: Final = {"EDT": 25.0, "T20": 35.0, "T30": 45.0}
"""How far noise must lie below the peak: ISO 3382-1:2009, 5.3.3, via phonometry."""

EVALUATED_DB: Final = {"EDT": (0.0, -10.0), "T20": (-5.0, -25.0), "T30": (-5.0, -35.0)}
"""Of the decay curve, from its start."""

OCTAVE_WIDTH: Final = 0.71
"""Of an octave re its mid-band, as ISO 3382-2 has it."""

SHORTEST: Final = {"EDT": 16.0, "T20": 8.0, "T30": 8.0}
"""Decay times bandwidth that are followed within 3 %, by convolving decays with the filter's own
click: between ISO 3382-2:2008, 7.3, that asks for 16 of filters and for 4 if time runs backwards.
Filters without phase ring to both sides, and EDT begins where they still do."""

EARLY: Final = 0.05
"""Until when sound helps speech, after the direct sound. [s]"""

_INTERVALS = 5.0  # of the smoothing, for 10 dB of decay; 3 to 10 in the reference
_ABOVE_NOISE_DB = 10.0  # where the late line ends
_LATE_DB = 20.0  # how much of the decay it is drawn through
_PASSES = 6
_SETTLED = 0.002  # the knee moves less from pass to pass [s]
_LEAST_FALL_DB = 5.0
_POINTS = 8000  # of a line, more change nothing
_FEWEST = 64  # samples that can be a decay
_CHART = 120  # points of the curve that is kept


@dataclass(frozen=True)
class Knee:
    """Where a decay goes under in noise.

    Attributes
    ----------
    noise : float
        Mean square of the noise.
    sample : int
        From the start of what was looked at, at most its length.
    level : float
        Mean square of the decay there.
    late : float
        Decay time of what comes last [s].
    """

    noise: float
    sample: int
    level: float
    late: float


def knee(squared: Array, rate: float, *, window: float) -> Knee | None:
    """Find where a decay goes under in noise.

    Parameters
    ----------
    squared : ndarray, shape (samples,)
        Response of one octave, squared.
    rate : float
        [Hz]
    window : float
        Of the first smoothing [s]

    Returns
    -------
    Knee or None
        None where no decay of 5 dB stands out of the noise. What dies within two windows is said
        to do so by the end of them.

    References
    ----------
    .. [1] lundeby:1995, the procedure, via pyrato 1.1.0.

    Examples
    --------
    >>> time = np.arange(30000) / 10000.0
    >>> found = knee(np.exp(-DECAY * time) + 1e-5, 10000.0, window=0.03)
    >>> found is not None and round(found.sample / 10000.0, 2), found and round(found.late, 2)
    (0.83, 1.0)
    """
    noise = float(squared[int(0.9 * len(squared)) :].mean())
    blocks = _Blocks.of(squared, rate, window)
    line = blocks.line(noise, whole=True)
    if line is None:
        return blocks.at_once(noise, len(squared) / len(blocks.means) / rate, rate)
    for _ in range(_PASSES):
        crossing = line.when(noise)
        blocks = _Blocks.of(squared, rate, -10.0 / line.slope / _INTERVALS)
        quiet = min(crossing - _ABOVE_NOISE_DB / line.slope, 0.9 * len(squared) / rate)
        noise = float(squared[max(int(quiet * rate), 0) :].mean())
        again = blocks.line(noise, whole=False)
        if again is None:
            break
        line = again
        if abs(line.when(noise) - crossing) < _SETTLED:
            break
    sample = min(max(round(line.when(noise) * rate), 1), len(squared))
    level_db = line.start + line.slope * sample / rate
    return Knee(noise, sample, float(10.0 ** (level_db / 10.0)), -60.0 / line.slope)


@dataclass(frozen=True)
class _Line:
    start: float  # [dB]
    slope: float  # [dB/s]

    def when(self, energy: float) -> float:
        return (10.0 * math.log10(max(energy, 1e-300)) - self.start) / self.slope


@dataclass(frozen=True, eq=False)
class _Blocks:
    means: Array
    level_db: Array
    middle: Array  # [s]

    @classmethod
    def of(cls, squared: Array, rate: float, window: float) -> _Blocks:
        size = min(max(round(window * rate), 1), max(len(squared) // 8, 1))
        count = len(squared) // size
        means: Array = squared[: count * size].reshape(count, size).mean(axis=1)
        with np.errstate(divide="ignore"):
            level_db = 10.0 * np.log10(means)
        return cls(means, level_db, (np.arange(count, dtype=np.float64) + 0.5) * size / rate)

    def line(self, noise: float, *, whole: bool) -> _Line | None:
        """Line through the decay down to 10 dB over the noise: all of it, or its last 20 dB."""
        floor_db = 10.0 * np.log10(max(noise, 1e-300)) + _ABOVE_NOISE_DB
        top = int(np.argmax(self.level_db))
        first = top if whole else _first_below(self.level_db, floor_db + _LATE_DB, top)
        last = _first_below(self.level_db, floor_db, first + 1)
        part = slice(first, last)
        if last - first < 3 or self.level_db[first] - self.level_db[last - 1] < _LEAST_FALL_DB:
            return None
        levels = 10.0 * np.log10(self.means[part] - noise)  # all of them 10 dB over it
        time = self.middle[part]
        slope = _per_second(time - time.mean(), levels - levels.mean())
        start = float(levels.mean()) - slope * float(time.mean())
        return _Line(start, slope) if slope < 0.0 else None

    def at_once(self, noise: float, window: float, rate: float) -> Knee | None:
        """Knee of what stands out for a window or two only, such as a direct sound alone."""
        top = int(np.argmax(self.level_db))
        rise_db = self.level_db[top] - 10.0 * np.log10(max(noise, 1e-300))
        last = _first_below(self.level_db, self.level_db[top] - rise_db + _ABOVE_NOISE_DB, top)
        if rise_db < _ABOVE_NOISE_DB + _LEAST_FALL_DB or last - top > 2:
            return None
        sample = min(round((last + 1) * window * rate), round(len(self.means) * window * rate))
        return Knee(noise, sample, noise, 60.0 / float(rise_db) * window)


def _first_below(level_db: Array, limit_db: float, start: int) -> int:
    below = level_db[start:] < limit_db
    return start + int(np.argmax(below)) if below.any() else len(level_db)


def backward_integrated(squared: Array, *, noise: float = 0.0, beyond: float = 0.0) -> Array:
    """Energy still to come.

    Parameters
    ----------
    squared : ndarray, shape (samples,)
        Squared response, as far as it is integrated.
    noise : float
        Mean square that is taken from it.
    beyond : float
        Energy after its end, in samples.

    Returns
    -------
    ndarray, shape (samples,)

    References
    ----------
    .. [1] schroeder1965, the integral.
    .. [2] chu:1978, taking the noise from it.
    .. [3] iso3382-1:2009, what lies beyond, via pyrato.
    """
    return np.cumsum((squared - noise)[::-1])[::-1] + beyond


@dataclass(frozen=True)
class Slope:
    """Line through a part of a decay curve.

    Attributes
    ----------
    time : float
        That 60 dB would take [s].
    nonlinearity_permille : float
        1000·(1 − r²).
    """

    time: float
    nonlinearity_permille: float


def slope(curve_db: Array, rate: float, upper_db: float, lower_db: float) -> Slope | None:
    """Line of least squares through the curve between two levels; None where there is none.

    Parameters
    ----------
    curve_db : ndarray, shape (samples,)
        From the direct sound on, re all energy [dB]
    rate : float
        [Hz]
    upper_db : float
        Where it begins; 0 is the first sample. [dB]
    lower_db : float
        Where it ends. [dB]

    References
    ----------
    .. [1] iso3382-1:2009, via phonometry and pyrato.

    Examples
    --------
    >>> found = slope(-60.0 * np.arange(1000) / 500.0, 1000.0, -5.0, -25.0)
    >>> found and round(found.time, 6)
    0.5
    """
    first = 0 if upper_db >= 0.0 else _first_below(curve_db, upper_db, 0)
    last = _first_below(curve_db, lower_db, first)
    if last >= len(curve_db) or last - first < 3:
        return None
    step = max(1, (last - first) // _POINTS)
    level = curve_db[first : last + 1 : step]
    time = np.arange(len(level)) * (step / rate)
    time = time - time.mean()
    off = level - level.mean()
    per_second = _per_second(time, off)
    if per_second >= 0.0:
        return None
    share = per_second**2 * float(np.square(time).sum()) / float(np.square(off).sum())
    return Slope(-60.0 / per_second, 1000.0 * max(1.0 - share, 0.0))


def _per_second(time: Array, off: Array) -> float:
    """Slope by least squares, both re their means; a product of matrices would wake all threads."""
    return float((time * off).sum()) / float(np.square(time).sum())


@dataclass(frozen=True, eq=False)
class OctaveEnergy:
    """The energy of one octave over time, without its noise.

    Attributes
    ----------
    octave : float
        Nominal [Hz].
    squared : ndarray, shape (samples,)
        Less noise, until that takes over.
    lead : int
        Samples before the direct sound, in which the filter already rings.
    rate : float
        [Hz]
    beyond : float
        Energy after the last sample, which is drawn on at the late decay [samples].
    late : float
        Its decay time [s].
    buried : bool
        Whether the response goes under in noise; otherwise it ends before.
    """

    octave: float
    squared: Array
    lead: int
    rate: float
    beyond: float
    late: float
    buried: bool

    @property
    def total(self) -> float:
        """Of the octave [samples]."""
        return float(self.squared.sum()) + self.beyond

    @property
    def range_db(self) -> float:
        """From the decay curve's start to where noise takes over.

        Of an exponential decay this is its peak over the noise. Of a direct sound before it, all
        of its energy counts, however short the peak is.
        """
        return 10.0 * float(np.log10(self.total / self.beyond))

    @property
    def knee(self) -> float:
        """When noise takes over, after the direct sound [s]."""
        return (len(self.squared) - self.lead) / self.rate

    def curve_db(self) -> Array:
        """Decay curve from the direct sound on, re all energy, shape (samples,)."""
        left = backward_integrated(self.squared, beyond=self.beyond)
        return 10.0 * np.log10(np.maximum(left[self.lead :] / left[0], 1e-30))

    def late_share(self, after: float) -> float | None:
        """Share of the energy that comes later than a time [s]; 0–1; None where noise hides it."""
        start = self.lead + round(after * self.rate)
        if start >= len(self.squared):
            return None
        late = float(self.squared[start:].sum()) + self.beyond
        return min(max(late / self.total, 0.0), 1.0)

    def modulation(self, frequency: npt.ArrayLike) -> Array:
        """Modulation transfer at some frequencies [Hz], shape as given."""
        omega = 2.0 * np.pi * np.asarray(frequency, dtype=np.float64)
        size = max(1, round(self.rate / 1000.0))
        step = size / self.rate
        sums = np.add.reduceat(self.squared, np.arange(0, len(self.squared), size))
        middle = (np.arange(len(sums)) + 0.5) * step
        kept = np.einsum("fk,k->f", np.exp(-1j * np.multiply.outer(omega, middle)), sums)
        rate = DECAY / self.late
        end = len(self.squared) / self.rate
        kept += self.beyond * rate / (rate + 1j * omega) * np.exp(-1j * omega * end)
        return np.minimum(np.abs(kept) / self.total, 1.0)


def octave_energy(filtered: Array, rate: float, octave: float, start: int) -> OctaveEnergy | None:
    """Energy of a filtered response over time, its noise found and taken from it.

    Parameters
    ----------
    filtered : ndarray, shape (samples,)
        Response of the octave, filtered without phase.
    rate : float
        [Hz]
    octave : float
        Nominal [Hz].
    start : int
        Sample of the direct sound. No silence of a file that was filled up may follow the sound:
        it would pass for the noise.

    Returns
    -------
    OctaveEnergy or None
        None where no decay stands out of the noise.
    """
    lead = min(start, round(ringing(octave) * rate))
    squared = np.square(filtered[start - lead :])
    if len(squared) < _FEWEST or not squared.any():
        return None
    found = knee(squared, rate, window=0.01 + 0.8 / octave)
    if found is None or found.sample <= lead:
        return None
    beyond = found.level * found.late / DECAY * rate
    clean = squared[: found.sample] - found.noise
    buried = found.sample < 0.9 * len(squared)
    energy = OctaveEnergy(octave, clean, lead, rate, beyond, found.late, buried)
    return energy if energy.total > beyond > 0.0 else None


def decay_of(filtered: Array, rate: float, octave: float, start: int) -> Decay:
    """Decay times, clarity and range of one octave.

    Parameters
    ----------
    filtered : ndarray, shape (samples,)
        Response of the octave, filtered without phase.
    rate : float
        [Hz]
    octave : float
        Nominal [Hz].
    start : int
        Sample of the direct sound.

    Returns
    -------
    Decay

    References
    ----------
    .. [1] iso3382-1:2009, decay times and the range that they need, via phonometry.
    .. [2] iso3382-2:2008, 7.3, decays that a filter cannot follow, via phonometry.
    .. [3] lundeby:1995, where noise takes over, via pyrato.
    .. [4] chu:1978, taking the noise from it, via pyrato.

    Examples
    --------
    >>> rate = 8000.0
    >>> time = np.arange(16000) / rate
    >>> clicks = np.exp(-0.5 * DECAY * time / 0.5) * np.cos(np.pi * np.arange(16000))
    >>> found = decay_of(clicks, rate, 1000.0, 0)
    >>> round(found.t20, 3), round(found.c50_db, 2)
    (0.5, 4.74)
    """
    return decay(octave_energy(filtered, rate, octave, start), octave)


def decay(energy: OctaveEnergy | None, octave: float) -> Decay:
    """Decay times, clarity and range of the energy of an octave.

    Parameters
    ----------
    energy : OctaveEnergy or None
        None is a decay that does not stand out of the noise.
    octave : float
        Nominal [Hz].
    """
    if energy is None:
        why = f"at {spoken_octave(octave)} no decay stands out of the noise"
        return missing(octave, why)
    curve_db = energy.curve_db()
    range_db = energy.range_db
    lines = {
        name: slope(curve_db, energy.rate, *EVALUATED_DB[name])
        for name, needed_db in RANGE_NEEDED_DB.items()
        if range_db >= needed_db
    }
    for together in (("EDT",), ("T20", "T30")):
        if any(_too_short(name, lines.get(name), octave) for name in together):
            lines |= dict.fromkeys(together)
    t20, t30 = lines.get("T20"), lines.get("T30")
    best = t30 or t20
    late = energy.late_share(EARLY)
    told = late is not None and 0.0 < late < 1.0
    return Decay(
        octave,
        edt=_time(lines.get("EDT")),
        t20=_time(t20),
        t30=_time(t30),
        range_db=range_db,
        curvature_percent=100.0 * (t30.time / t20.time - 1.0) if t20 and t30 else None,
        nonlinearity_permille=best.nonlinearity_permille if best else None,
        knee=energy.knee if energy.buried else None,
        c50_db=10.0 * float(np.log10(1.0 / late - 1.0)) if told and late is not None else None,
        d50=1.0 - late if told and late is not None else None,
        why_not=_why_not(energy, lines),
        curve=_chart(curve_db, energy.rate),
    )


def _too_short(name: str, line: Slope | None, octave: float) -> bool:
    return line is not None and line.time * OCTAVE_WIDTH * octave < SHORTEST[name]


def missing(octave: float, why: str) -> Decay:
    """Return the decay of an octave of which nothing can be told.

    Parameters
    ----------
    octave : float
        Nominal [Hz].
    why : str
        In a sentence.
    """
    return Decay(octave, None, None, None, 0.0, None, None, None, None, None, why)


def _time(line: Slope | None) -> float | None:
    return None if line is None else line.time


def _why_not(energy: OctaveEnergy, lines: dict[str, Slope | None]) -> str:
    lacking = [name for name in RANGE_NEEDED_DB if lines.get(name) is None]
    if not lacking:
        return ""
    if energy.range_db >= RANGE_NEEDED_DB[lacking[0]]:
        least = f"{1000.0 * SHORTEST[lacking[-1]] / OCTAVE_WIDTH / energy.octave:.0f} ms"
        how = "dies away" if len(lacking) > 1 else "at first falls as if it died away"
        return (
            f"at {spoken_octave(energy.octave)} the sound {how} within {least}, faster than an "
            "octave filter can follow"
        )
    needs = ", ".join(f"{name} {RANGE_NEEDED_DB[name]:.0f} dB" for name in lacking)
    where = "the noise" if energy.buried else "the end of the response"
    return (
        f"at {spoken_octave(energy.octave)} the decay falls by {energy.range_db:.0f} dB until "
        f"{where}; needed for {needs}"
    )


def _chart(curve_db: Array, rate: float) -> tuple[tuple[float, float], ...]:
    at = np.unique(np.linspace(0, len(curve_db) - 1, min(_CHART, len(curve_db))).astype(int))
    return tuple((float(i) / rate, float(level)) for i, level in zip(at, curve_db[at], strict=True))
