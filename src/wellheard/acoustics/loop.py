"""The loop from microphone to loudspeaker and back: its gain, its peaks, and when it howls.

::

    |H|²  dB          ╷ peak        what an octave prediction gives is the mean;
       ╭╮      ╭╮    ╭┴╮            the loop howls at the highest peak that meets phase 0
    ───┤│╭╮──╭─╯╰╮──╭╯ ╰╮── mean
       ╰╯╰╯╰╮╯   ╰╮╭╯   ╰╮
            ╰     ╰╯     ╰   f
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt

from wellheard.acoustics.field import DECAY
from wellheard.acoustics.levels import energy_level_db, sum_levels_db
from wellheard.arrays import Array
from wellheard.bands import EXACT_OCTAVES

Spectrum: TypeAlias = npt.NDArray[np.complex128]

OCTAVE_BANDWIDTH: Final = tuple(f * (10.0**0.15 - 10.0**-0.15) for f in EXACT_OCTAVES)
"""Widths of the octaves of :data:`wellheard.bands.OCTAVES`, base ten. [Hz]"""

_PADDING = 16  # points of the spectrum per turn of the last sample's phase
_POINTS = 1 << 14  # of a spectrum at least: a short response costs nothing
_STEPS = 400  # of the integral over heights of peaks; 0.001 dB
_REACH = 6.0  # diffuse standard deviations over the direct sound; beyond lies e^−36
_DRY = 1e6  # direct to reverberant energy from which nothing swings: 0.02 dB


def loop_gain_db(pair_gain_db: npt.ArrayLike, *, gain_db: npt.ArrayLike = 0.0) -> Array:
    """Mean gain of an open loop that several microphones and loudspeakers close.

    Parameters
    ----------
    pair_gain_db : array_like, shape (..., microphones, loudspeakers, bands)
        From each loudspeaker's input to each microphone's output. [dB]
    gain_db : array_like, shape (..., microphones, loudspeakers) or one that broadcasts to it
        Of the electronics between the two, −∞ for a microphone that is closed to it. [dB]

    Returns
    -------
    ndarray, shape (..., bands)
        [dB]

    Notes
    -----
    Pairs add as energies: at any one frequency their phases have nothing to do with each other,
    so that the mean of the squared sum is the sum of squares. Equal microphones add 10 lg NOM by
    it. One signal feeds all loudspeakers; zones that each play another mix make several loops
    that feed each other, and their sum taken like this is on the safe side.

    Examples
    --------
    Two microphones and two loudspeakers alike, −20 dB each way:

    >>> loop_gain_db(np.full((2, 2, 1), -20.0), gain_db=3.0).round(2)
    array([-10.98])
    """
    gain = np.asarray(gain_db, dtype=np.float64)[..., None]
    return sum_levels_db(np.asarray(pair_gain_db, dtype=np.float64) + gain, axis=(-3, -2))


def peak_excess_db(
    *,
    bandwidth: npt.ArrayLike,
    reverberation_time: npt.ArrayLike,
    direct_to_reverberant: npt.ArrayLike = 0.0,
) -> Array:
    """How far the highest peak of a room's response stands over the mean of a band.

    Parameters
    ----------
    bandwidth : array_like
        [Hz]
    reverberation_time : array_like
        In the band. [s]
    direct_to_reverberant : array_like
        Energy ratio at the microphone, of one loudspeaker; 0 where several alike reach it,
        infinity without reverberation. Not decibels.

    Returns
    -------
    ndarray
        Expected value; single rooms scatter by :func:`peak_spread_db`. [dB]

    Notes
    -----
    Above the Schroeder frequency the response is a sum of very many waves: a complex Gaussian
    variable along frequency, whose correlation an exponential decay fixes [1]; with the direct
    sound it is a sine wave in noise [2]. The level that a band exceeds h times on average,
    ``h(r) = √π·B·(T/13.8)·p(r)`` with p the density of the magnitude, is not exceeded with a
    probability e^−h, times that of starting below it. The direct sound, which leads the mean of
    the decay by T/13.8, makes the magnitude swing more by ``√(1 + πK⟨sin²⟩)`` (derived).

    It ignores what single modes do below the Schroeder frequency, where peaks stand higher; flat
    loudspeakers, microphones and electronics are assumed, what their own responses rise over the
    octave comes on top; reflections that stand out; a decay that sags; and the phase: the loop
    howls only where it is 0, which a loop with little delay meets near, not at, the top of a peak
    (on the safe side). Where bandwidth times reverberation time is below 20, the mean over the
    band of a room itself lies off what is expected of it.

    References
    ----------
    .. [1] schroeder:1964, maxima of the frequency response of rooms.
    .. [2] rice:1948, level crossings of a sine wave with noise.

    Examples
    --------
    The octave of 1 kHz; a direct sound as strong as the reverberation flattens it:

    >>> peak_excess_db(
    ...     bandwidth=707.0, reverberation_time=0.5, direct_to_reverberant=[0.0, 1.0, 10.0]
    ... ).round(1)
    array([7.7, 6.9, 4. ])
    """
    found, _ = _peaks(bandwidth, reverberation_time, direct_to_reverberant)
    return found


def peak_spread_db(
    *,
    bandwidth: npt.ArrayLike,
    reverberation_time: npt.ArrayLike,
    direct_to_reverberant: npt.ArrayLike = 0.0,
) -> Array:
    """How far the highest peaks of single rooms scatter about :func:`peak_excess_db`.

    Parameters
    ----------
    bandwidth, reverberation_time, direct_to_reverberant : array_like
        As there. [Hz], [s], energy ratio

    Returns
    -------
    ndarray
        Standard deviation, re the mean that was expected of the band. [dB]

    References
    ----------
    .. [1] schroeder:1964, maxima of the frequency response of rooms.

    Examples
    --------
    >>> peak_spread_db(bandwidth=[88.0, 707.0], reverberation_time=0.5).round(1)
    array([1.8, 1. ])
    """
    _, spread = _peaks(bandwidth, reverberation_time, direct_to_reverberant)
    return spread


def _peaks(
    bandwidth: npt.ArrayLike,
    reverberation_time: npt.ArrayLike,
    direct_to_reverberant: npt.ArrayLike,
) -> tuple[Array, Array]:
    """Mean and standard deviation of the highest peak over the mean. [dB]"""
    ratio = np.minimum(np.asarray(direct_to_reverberant, dtype=np.float64), _DRY)[..., None]
    spread = np.asarray(reverberation_time, dtype=np.float64)[..., None] / DECAY
    width = np.asarray(bandwidth, dtype=np.float64)[..., None]
    # Height over the direct sound, in diffuse standard deviations, from where the mean lies.
    start = 1.0 / (np.sqrt(ratio + 1.0) + np.sqrt(ratio))
    over = start + (_REACH - start) * np.linspace(0.0, 1.0, _STEPS)
    magnitude = np.sqrt(ratio) + over
    turn = 2.0 * np.sqrt(ratio) * magnitude
    density = 2.0 * magnitude * np.exp(-(over**2)) * _scaled_bessel(turn)
    swing = np.sqrt(1.0 + np.pi * ratio / np.sqrt(4.0 + turn**2))
    crossings = width * np.sqrt(np.pi) * spread * density * swing
    step = (_REACH - start) / (_STEPS - 1)
    slices = (density[..., 1:] + density[..., :-1]) * step / 2.0
    above = np.cumsum(slices[..., ::-1], axis=-1)[..., ::-1]
    above = np.concatenate([above, np.zeros_like(above[..., :1])], axis=-1)
    exceeded = 1.0 - (1.0 - np.minimum(above, 1.0)) * np.exp(-crossings)
    rise = exceeded * 20.0 / np.log(10.0) / magnitude
    over_db = 20.0 * np.log10(magnitude / np.sqrt(ratio + 1.0))
    mean, square = _area(rise, step), _area(2.0 * over_db * rise, step)
    return mean, np.sqrt(np.maximum(square - mean**2, 0.0))


def _area(height: Array, step: Array) -> Array:
    """Integral over the last axis by the trapezoidal rule."""
    found = np.sum((height[..., 1:] + height[..., :-1]) * step / 2.0, axis=-1)
    return np.asarray(found, dtype=np.float64)


def _scaled_bessel(x: Array) -> Array:
    """Modified Bessel function I0 times e^−x, by its asymptote where numpy's would overflow."""
    small = np.minimum(x, 50.0)
    large = np.maximum(x, 50.0)
    asymptote = (1.0 + 1.0 / (8.0 * large) + 9.0 / (128.0 * large**2)) / np.sqrt(
        2.0 * np.pi * large
    )
    return np.where(x < 50.0, np.i0(small) * np.exp(-small), asymptote)


def octave_margin_db(
    loop_gain_db: npt.ArrayLike,
    *,
    reverberation_time: npt.ArrayLike,
    direct_to_reverberant: npt.ArrayLike = 0.0,
    bandwidth: npt.ArrayLike = OCTAVE_BANDWIDTH,
) -> Array:
    """How far the highest peak of each octave stays below howling; the least octave counts.

    Parameters
    ----------
    loop_gain_db : array_like, shape (..., 7)
        Mean over the octave, of all pairs together, as of :func:`loop_gain_db`. [dB]
    reverberation_time : array_like, shape (..., 7)
        [s]
    direct_to_reverberant : array_like
        Energy ratio in the sum of pairs: that of the strongest if it rules, else 0, which is on
        the safe side.
    bandwidth : array_like
        [Hz]

    Returns
    -------
    ndarray, shape (..., 7)
        Negative where it is expected to howl. [dB]

    Notes
    -----
    All that :func:`peak_excess_db` ignores. Six decibels are kept by custom, as a loop rings and
    colours a voice before it howls.

    References
    ----------
    .. [1] schroeder:1964, maxima of the frequency response of rooms.

    Examples
    --------
    >>> octave_margin_db([-20.0] * 7, reverberation_time=[0.5] * 7).round(1)
    array([14.7, 13.7, 13. , 12.4, 11.8, 11.3, 10.9])
    """
    excess = peak_excess_db(
        bandwidth=bandwidth,
        reverberation_time=reverberation_time,
        direct_to_reverberant=direct_to_reverberant,
    )
    return -(np.asarray(loop_gain_db, dtype=np.float64) + excess)


def taps_response(
    frequency: npt.ArrayLike, *, gain: npt.ArrayLike, delay: npt.ArrayLike
) -> Spectrum:
    """Frequency response of a sum of delayed taps.

    Parameters
    ----------
    frequency : array_like, shape (frequencies,)
        [Hz]
    gain : array_like, shape (..., taps)
        Amplitude ratios, with their sign.
    delay : array_like, shape (..., taps)
        [s]

    Returns
    -------
    ndarray of complex, shape (..., frequencies)
        ``Σ a·e^(−j2πfτ)``.

    Examples
    --------
    Two taps 1 ms apart cancel at 500 Hz:

    >>> abs(taps_response([0.0, 500.0], gain=[0.5, 0.5], delay=[0.0, 0.001])).round(6) + 0.0
    array([1., 0.])
    """
    f = np.asarray(frequency, dtype=np.float64)
    turn = np.exp(-2j * np.pi * np.asarray(delay, dtype=np.float64)[..., None] * f)
    return np.asarray(np.sum(np.asarray(gain)[..., None] * turn, axis=-2), dtype=np.complex128)


@dataclass(frozen=True, slots=True)
class OpenLoop:
    """Where an open loop is nearest to howling.

    Parameters
    ----------
    critical_db : float
        Largest gain at which the loop comes round in phase; −∞ if it never does. [dB]
    critical_frequency : float or None
        Where the loop would start to howl. [Hz]
    largest_db : float
        Largest gain at any phase. [dB]
    largest_frequency : float
        [Hz]
    """

    critical_db: float
    critical_frequency: float | None
    largest_db: float
    largest_frequency: float

    @property
    def margin_db(self) -> float:
        """Gain that can be added before the loop howls, in this very path. [dB]"""
        return -self.critical_db

    @property
    def conservative_margin_db(self) -> float:
        """Gain that can be added before it could howl with any other delay. [dB]"""
        return -self.largest_db


def open_loop(
    response: npt.ArrayLike, *, sample_rate: float, band: tuple[float, float] | None = None
) -> OpenLoop:
    """Stability of a loop from the impulse response once round it, cut open.

    Parameters
    ----------
    response : array_like, shape (samples,)
        With all gains and delays of the electronics; it has died away at its end.
    sample_rate : float
        [Hz]
    band : (float, float), optional
        Frequencies that are looked at; all that there are without it. [Hz]

    Returns
    -------
    OpenLoop

    Raises
    ------
    ValueError
        No response, one of more than one dimension, or a band with nothing in it.

    Notes
    -----
    By Nyquist's criterion a loop whose gain is raised from nothing starts to howl when the first
    crossing of the positive real axis reaches 1. A loop can be stable beyond that on paper
    (crossings there and back), never in a room where somebody moves. The spectrum has sixteen
    points to each turn of the last sample; two crossings between two of them are missed, which
    may be 0.1 dB.

    References
    ----------
    .. [1] nyquist-regeneration:1932, stability from the open loop.

    Examples
    --------
    One tap of −6 dB after 10 ms: in phase at every 100 Hz.

    >>> response = np.zeros(480)
    >>> response[80] = 0.5
    >>> found = open_loop(response, sample_rate=8000.0, band=(250.0, 350.0))
    >>> round(found.margin_db, 2), round(found.critical_frequency, 2)
    (6.02, 300.0)
    """
    samples = np.asarray(response, dtype=np.float64)
    if samples.ndim != 1 or samples.size == 0:
        raise ValueError(f"a response of shape {samples.shape}: give one row of samples")
    points = max(_POINTS, 1 << int(np.ceil(np.log2(_PADDING * samples.size))))
    frequency = np.asarray(np.fft.rfftfreq(points, 1.0 / sample_rate), dtype=np.float64)
    low, high = (0.0, sample_rate / 2.0) if band is None else band
    inside = (frequency >= low) & (frequency <= high)
    if not inside.any():
        raise ValueError(
            f"band {low} to {high} Hz: nothing of 0 to {sample_rate / 2.0} Hz is in it"
        )
    frequency, spectrum = frequency[inside], np.fft.rfft(samples, points)[inside]
    magnitude = np.abs(spectrum)
    top = int(np.argmax(magnitude))
    at, height = _in_phase(frequency, spectrum)
    best = int(np.argmax(height)) if height.size else None
    return OpenLoop(
        critical_db=-np.inf if best is None else float(energy_level_db(height[best] ** 2)),
        critical_frequency=None if best is None else float(at[best]),
        largest_db=float(energy_level_db(magnitude[top] ** 2)),
        largest_frequency=float(frequency[top]),
    )


def _in_phase(frequency: Array, spectrum: Spectrum) -> tuple[Array, Array]:
    """Frequencies and magnitudes where a spectrum crosses the positive real axis."""
    ahead = spectrum.real > 0.0
    angle = np.where(ahead, np.angle(spectrum), np.nan)
    on = np.flatnonzero(angle == 0.0)
    with np.errstate(invalid="ignore"):
        between = np.flatnonzero(angle[:-1] * angle[1:] < 0.0)
    share = angle[between] / (angle[between] - angle[between + 1])
    magnitude = np.abs(spectrum)
    # Magnitudes bend far less from point to point than a spectrum turns: they are interpolated.
    height = magnitude[between] * (1.0 - share) + magnitude[between + 1] * share
    step = frequency[1] - frequency[0] if frequency.size > 1 else 0.0
    return (
        np.concatenate([frequency[on], frequency[between] + share * step]),
        np.concatenate([magnitude[on], height]),
    )
