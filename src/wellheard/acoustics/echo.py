"""Acoustic echo: how much loss a delay asks for, how losses are weighted, what bounds a canceller.

::

    far talker ──delay──► loudspeaker ─ ─ room ─ ─► microphone ──► canceller ──delay──► far talker
                          └───────── return loss ──────────┘     └ added loss ┘
    └───────────────────────── loudness rating of the talker's echo ─────────────────────────────┘

All losses are positive when the echo is weaker than what caused it.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from wellheard.acoustics.field import DECAY
from wellheard.acoustics.levels import a_weighted_level_db, energy, energy_level_db
from wellheard.arrays import Array
from wellheard.bands import EXACT_OCTAVES, OCTAVES

NARROWBAND: Final = (300.0, 3400.0)
"""Telephone band that terminal coupling loss is weighted over. [Hz]"""

WIDEBAND: Final = (100.0, 8000.0)
"""Band of the same weighting for wideband terminals. [Hz]"""

NOMINAL_TERMINAL_LOSS_DB: Final = 10.0
"""Send and receive loudness ratings of the far talker's terminal together, 8 + 2: what of the
echo's loudness rating the far end itself brings. [dB]"""

ACCEPTABLE_TERV_DB: Final = 14.4
"""Talker echo loudness rating, corrected for delay, that is held as acceptable: with it the curve
passes 55 dB at 300 ms. [dB]"""


def terv_db(one_way_delay_ms: npt.ArrayLike, *, telr_db: npt.ArrayLike) -> Array:
    """Talker echo loudness rating corrected for how late the echo comes.

    Parameters
    ----------
    one_way_delay_ms : array_like
        From mouth to the far loudspeaker, 0 or more; the echo comes after twice that. [ms]
    telr_db : array_like
        Talker echo loudness rating: loss from the talker's mouth round to the talker's ear. [dB]

    Returns
    -------
    ndarray
        [dB]

    References
    ----------
    .. [1] itu-g107:2015, equation 7-22, via open codes of the E-model.

    Examples
    --------
    >>> terv_db([0.0, 300.0], telr_db=55.0).round(1)
    array([61. , 14.4])
    """
    return np.asarray(telr_db, dtype=np.float64) - _delay_term_db(one_way_delay_ms)


def telr_needed_db(
    one_way_delay_ms: npt.ArrayLike, *, held_db: npt.ArrayLike = ACCEPTABLE_TERV_DB
) -> Array:
    """Talker echo loudness rating that keeps an echo acceptable at a delay.

    Parameters
    ----------
    one_way_delay_ms : array_like
        From mouth to the far loudspeaker, 0 or more. [ms]
    held_db : array_like
        Delay-corrected rating that is kept at every delay. [dB]

    Returns
    -------
    ndarray
        What room, canceller and far terminal have to lose together; less
        :data:`NOMINAL_TERMINAL_LOSS_DB` for what is left to this room. [dB]

    Notes
    -----
    The curve is the relation of [1] at one value of it, which passes the acceptable curve of [2]
    at 300 ms and 55 dB. Below some 5 ms an echo melts into the talker's own voice: the relation
    then falls to 8.4 dB at no delay at all, but was made for telephones, and the impairment of
    [1] counts nothing below 1 ms. Far beyond 400 ms it levels out at 62 dB: it is conversation
    that suffers then, which no echo loss mends.

    References
    ----------
    .. [1] itu-g107:2015, equation 7-22, via open codes of the E-model.
    .. [2] itu-g131:2003, acceptable talker echo; its point at 300 ms from memory.

    Examples
    --------
    >>> telr_needed_db([25.0, 150.0, 300.0]).round(1)
    array([33.5, 50.5, 55. ])
    """
    return np.asarray(held_db, dtype=np.float64) + _delay_term_db(one_way_delay_ms)


def _delay_term_db(one_way_delay_ms: npt.ArrayLike) -> Array:
    t = np.asarray(one_way_delay_ms, dtype=np.float64)
    return 40.0 * np.log10((1.0 + t / 10.0) / (1.0 + t / 150.0)) - 6.0 * np.exp(-0.3 * t**2)


def delayed_echo_impairment(
    one_way_delay_ms: npt.ArrayLike,
    *,
    telr_db: npt.ArrayLike,
    circuit_noise_dbm0p: float = -61.18,
    receive_loudness_rating_db: float = 2.0,
) -> Array:
    """Impairment by talker echo, in points of the transmission rating (Idte).

    Parameters
    ----------
    one_way_delay_ms : array_like
        [ms]
    telr_db : array_like
        Talker echo loudness rating. [dB]
    circuit_noise_dbm0p : float
        Sum of all noise sources. [dBm0p]
    receive_loudness_rating_db : float
        [dB]

    Returns
    -------
    ndarray
        0 below 1 ms. [points of R, of about 93 for a clean call]

    Notes
    -----
    For a sidetone masking rating between 9 and 20 dB, the default of 15 among them: outside,
    further terms apply that are not here.

    References
    ----------
    .. [1] itu-g107:2015, equations 7-19 to 7-22 and Table 3, via open codes of the E-model.

    Examples
    --------
    >>> delayed_echo_impairment(150.0, telr_db=[45.0, 55.0, 65.0]).round(1)
    array([29.8, 10.4,  2.8])
    """
    t = np.asarray(one_way_delay_ms, dtype=np.float64)
    unimpaired = -1.5 * (circuit_noise_dbm0p - receive_loudness_rating_db)  # Roe
    echo = 80.0 + 2.5 * (terv_db(t, telr_db=telr_db) - 14.0)  # Re
    half = (unimpaired - echo) / 2.0
    impairment = (half + np.sqrt(half**2 + 100.0) - 1.0) * (1.0 - np.exp(-t))
    return np.where(t < 1.0, 0.0, impairment)


def trapezoid_loss_db(loss_db: npt.ArrayLike, *, frequency: npt.ArrayLike) -> Array:
    """Weighted loss of a path of which the loss is known at some frequencies.

    Parameters
    ----------
    loss_db : array_like, shape (..., frequencies)
        [dB]
    frequency : array_like, shape (frequencies,)
        Rising, at least two; the first and the last are the edges of the band. [Hz]

    Returns
    -------
    ndarray, shape (...)
        ``10 lg(2 lg(fN/f0)) − 10 lg Σ (A_i + A_i−1)(lg f_i − lg f_i−1)``, A the power ratios; its
        first term is 3.24 dB for 300 to 3400 Hz. [dB]

    Raises
    ------
    ValueError
        Fewer than two frequencies, not rising, or not as many as losses.

    Notes
    -----
    Power ratios are taken to run straight between two frequencies, so that losses far apart weigh
    too heavily where points are sparse: 12 dB from one octave to the next counts 2 dB too little
    loss. Give points as dense as a curve bends; octaves want :func:`weighted_loss_db`.

    References
    ----------
    .. [1] itu-g122:1993, clause B.4, trapezoidal rule; the constant derived here.

    Examples
    --------
    >>> telephone = [300.0, 500.0, 1000.0, 2000.0, 3400.0]
    >>> trapezoid_loss_db([50.0, 48.0, 45.0, 42.0, 40.0], frequency=telephone).round(2)
    np.float64(43.89)
    """
    losses = np.asarray(loss_db, dtype=np.float64)
    f = np.asarray(frequency, dtype=np.float64)
    if f.ndim != 1 or f.size < 2 or losses.shape[-1:] != f.shape or not np.all(np.diff(f) > 0.0):
        raise ValueError(
            f"losses of shape {losses.shape} at frequencies of shape {f.shape}: "
            "give two or more rising frequencies and one loss for each"
        )
    ratios = energy(-losses)
    steps = np.diff(np.log10(f))
    heavy = np.sum((ratios[..., 1:] + ratios[..., :-1]) * steps, axis=-1)
    return energy_level_db(2.0 * steps.sum()) - energy_level_db(heavy)


def weighted_loss_db(
    octave_losses_db: npt.ArrayLike, *, band: tuple[float, float] = NARROWBAND
) -> Array:
    """Weighted terminal coupling loss of octave losses; collapses the band axis.

    Parameters
    ----------
    octave_losses_db : array_like, shape (..., 7)
        Over :data:`wellheard.bands.OCTAVES`; infinite where nothing comes back. [dB]
    band : (float, float)
        Edges, such as :data:`NARROWBAND` or :data:`WIDEBAND`. [Hz]

    Returns
    -------
    ndarray, shape (...)
        [dB]

    Raises
    ------
    ValueError
        If the last axis does not have seven octaves.

    Notes
    -----
    The loss runs straight in dB over lg f between exact mid-bands, level below the first and above
    the last, and its power ratio is integrated over lg f in closed form. That is the trapezoid of
    [1] with points as dense as one likes: octaves and edges alone would count a slope of 12 dB an
    octave up to 2 dB wrong. What happens inside an octave, combs and peaks, is in its mean.

    References
    ----------
    .. [1] itu-g122:1993, clause B.4, trapezoidal rule in its limit.

    Examples
    --------
    >>> weighted_loss_db([40.0, 42.0, 45.0, 45.0, 45.0, 45.0, 45.0]).round(2)
    np.float64(44.73)
    """
    losses = np.asarray(octave_losses_db, dtype=np.float64)
    if losses.shape[-1:] != (len(OCTAVES),):
        raise ValueError(
            f"losses of shape {losses.shape}: the last axis has {len(OCTAVES)} octaves"
        )
    where = np.log10(np.array(EXACT_OCTAVES))
    low, high = np.log10(band)
    inside = where[(where > low) & (where < high)]
    points = np.concatenate([[low], inside, [high]])
    at = _between(losses, where, points)
    heavy = np.sum(_mean_power(at[..., :-1], at[..., 1:]) * np.diff(points), axis=-1)
    return energy_level_db(high - low) - energy_level_db(heavy)


def _between(losses: Array, where: Array, points: Array) -> Array:
    """Losses at points, straight between octaves, level outside; shape (..., points)."""
    right = np.clip(np.searchsorted(where, points), 1, where.size - 1)
    share = np.clip((points - where[right - 1]) / (where[right] - where[right - 1]), 0.0, 1.0)
    below, above = losses[..., right - 1], losses[..., right]
    with np.errstate(invalid="ignore"):  # nothing of an infinite loss, where a point is an octave
        mixed = below * (1.0 - share) + above * share
    return np.where(share == 0.0, below, np.where(share == 1.0, above, mixed))


def _mean_power(first_db: Array, last_db: Array) -> Array:
    """Mean power ratio of a loss that runs straight in dB from the first to the last."""
    silent = np.isposinf(first_db) | np.isposinf(last_db)
    first, last = np.where(silent, 0.0, first_db), np.where(silent, 0.0, last_db)
    rise = np.log(10.0) / 10.0 * (first - last)
    level = np.abs(rise) < 1e-9
    slope = np.where(level, 1.0, rise)
    mean = energy(-first) * np.where(level, 1.0, np.expm1(slope) / slope)
    return np.where(silent, 0.0, mean)


def tail_limited_loss_db(
    tail: npt.ArrayLike,
    *,
    reverberation_time: npt.ArrayLike,
    direct_to_reverberant: npt.ArrayLike = 0.0,
    bulk_delay: npt.ArrayLike = 0.0,
) -> Array:
    """Most that a linear canceller can take away of an echo that outlasts its model of the room.

    Parameters
    ----------
    tail : array_like
        Length of the response that is modelled. [s]
    reverberation_time : array_like
        [s]
    direct_to_reverberant : array_like
        Energy ratio of the loudspeaker at the microphone, not decibels.
    bulk_delay : array_like
        Part of the tail that passes before the direct sound comes, unless compensated: converters,
        network, air. [s]

    Returns
    -------
    ndarray
        ``60·t/T + 10 lg(1 + g)`` with what is left of the tail; 0 where nothing is left. [dB]

    Notes
    -----
    The response beyond the tail is left as it is: energy ``10^(−6t/T)/(1 + g)`` of an exponential
    decay that starts with the direct sound. A decay that sags is worse than its reverberation time
    says. Signals are white within the band that the time is of.

    References
    ----------
    .. [1] kuttruff2009, exponential decay of the energy; the bound is derived here.

    Examples
    --------
    >>> tail_limited_loss_db([0.1, 0.2, 0.25], reverberation_time=0.5).round(1)
    array([12., 24., 30.])
    """
    left = np.asarray(tail, dtype=np.float64) - np.asarray(bulk_delay, dtype=np.float64)
    decayed = DECAY * 10.0 / np.log(10.0) * left / np.asarray(reverberation_time, dtype=np.float64)
    direct = energy_level_db(1.0 + np.asarray(direct_to_reverberant, dtype=np.float64))
    return np.where(left > 0.0, decayed + direct, 0.0)


def tail_needed(
    loss_db: npt.ArrayLike,
    *,
    reverberation_time: npt.ArrayLike,
    direct_to_reverberant: npt.ArrayLike = 0.0,
    bulk_delay: npt.ArrayLike = 0.0,
) -> Array:
    """Shortest tail with which a linear canceller can reach a loss.

    Parameters
    ----------
    loss_db : array_like
        To be reached. [dB]
    reverberation_time, direct_to_reverberant, bulk_delay : array_like
        As in :func:`tail_limited_loss_db`. [s], ratio, [s]

    Returns
    -------
    ndarray
        At least the bulk delay. [s]

    References
    ----------
    .. [1] kuttruff2009, exponential decay of the energy; the bound is derived here.

    Examples
    --------
    >>> tail_needed(30.0, reverberation_time=[0.3, 0.8])
    array([0.15, 0.4 ])
    """
    direct = energy_level_db(1.0 + np.asarray(direct_to_reverberant, dtype=np.float64))
    decay = np.maximum(np.asarray(loss_db, dtype=np.float64) - direct, 0.0)
    time = np.asarray(reverberation_time, dtype=np.float64)
    return np.asarray(bulk_delay, dtype=np.float64) + decay * time / 60.0


def distortion_limited_loss_db(distortion: npt.ArrayLike) -> Array:
    """Most that a linear canceller can take away where the loudspeaker path distorts.

    Parameters
    ----------
    distortion : array_like
        Total harmonic distortion after the reference is picked off, as an amplitude ratio, 0–1.

    Returns
    -------
    ndarray
        [dB]

    Notes
    -----
    What is not in the reference cannot be subtracted; that is derived, not published. Harmonics of
    a sine stand in for what speech stirs up, and rattles are worse than their harmonics.

    Examples
    --------
    >>> distortion_limited_loss_db([0.01, 0.1])
    array([40., 20.])
    """
    return -energy_level_db(np.square(np.asarray(distortion, dtype=np.float64)))


def noise_limited_loss_db(
    echo_db: npt.ArrayLike, *, noise_db: npt.ArrayLike, step: npt.ArrayLike = 1.0
) -> Array:
    """Most that an adapting canceller takes away of an echo in noise.

    Parameters
    ----------
    echo_db, noise_db : array_like
        Levels at the microphone, weighted alike; speech of the room counts as noise while it is
        talking. [dB]
    step : array_like
        Normalised step size of its adaptation, above 0 and below 2; 1 is the fastest.

    Returns
    -------
    ndarray
        ``echo − noise + 10 lg((2 − μ)/μ)``, 0 at least: the excess error of a filter that adapts
        by normalised least mean squares is ``μ/(2 − μ)`` of the noise. [dB]

    Notes
    -----
    At full speed the echo that is left is as loud as the noise; a slower filter gets under it by
    13 dB at μ = 0.1. White reference, room at rest, once it has converged.

    References
    ----------
    .. [1] haykin:2002, misadjustment of the normalised algorithm.

    Examples
    --------
    >>> noise_limited_loss_db(66.0, noise_db=35.0, step=[1.0, 0.1]).round(1)
    array([31. , 43.8])
    """
    mu = np.asarray(step, dtype=np.float64)
    over = np.asarray(echo_db, dtype=np.float64) - np.asarray(noise_db, dtype=np.float64)
    return np.maximum(over + energy_level_db((2.0 - mu) / mu), 0.0)


def echo_to_speech_db(echo_db: npt.ArrayLike, *, speech_db: npt.ArrayLike) -> Array:
    """A-weighted echo over A-weighted speech at a microphone, nothing cancelled.

    Parameters
    ----------
    echo_db, speech_db : array_like, shape (..., 7)
        Octave levels at the capsule, over :data:`wellheard.bands.OCTAVES`. [dB]

    Returns
    -------
    ndarray, shape (...)
        Positive where the echo is the louder one. [dB]

    Examples
    --------
    >>> echo_to_speech_db([65.9] * 7, speech_db=[54.0] * 7).round(1)
    np.float64(11.9)
    """
    return a_weighted_level_db(echo_db) - a_weighted_level_db(speech_db)
