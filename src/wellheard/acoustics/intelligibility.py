"""From modulation transfer to the speech transmission index, and its relatives."""

from __future__ import annotations

import bisect
from typing import Literal

import numpy as np
import numpy.typing as npt

from wellheard import tables
from wellheard.acoustics.levels import energy, energy_level_db
from wellheard.acoustics.modulation import (
    noise_and_hearing_factor,
    transfer_direct_plus_exponential,
)
from wellheard.arrays import Array

Talker = Literal["male", "female_2011"]

CATEGORY_EDGES = (0.36, 0.40, 0.44, 0.48, 0.52, 0.56, 0.60, 0.64, 0.68, 0.72, 0.76)
CATEGORY_LETTERS = ("U", "J", "I", "H", "G", "F", "E", "D", "C", "B", "A", "A+")
RATING_EDGES = (0.30, 0.45, 0.60, 0.75)
RATING_WORDS = ("bad", "poor", "fair", "good", "excellent")

_ROWS = 1024  # the 98 numbers of 1024 rows stay in the cache
_RATIO_LOW, _RATIO_HIGH = 10.0**-1.5, 10.0**1.5  # effective signal-to-noise of ±15 dB
_WEIGHTS = tables.load("sti_weights")
_ALPHA: dict[Talker, Array] = {
    "male": np.array(_WEIGHTS.floats("alpha_male")),
    "female_2011": np.array(_WEIGHTS.floats("alpha_female_2011")),
}
_BETA: dict[Talker, Array] = {
    "male": np.array([b for b in _WEIGHTS.optional_floats("beta_male") if b is not None]),
    "female_2011": np.array(
        [b for b in _WEIGHTS.optional_floats("beta_female_2011") if b is not None]
    ),
}


def modulation_transfer_index(m: npt.ArrayLike) -> Array:
    """Modulation transfer index of each octave; collapses the modulation frequencies.

    Parameters
    ----------
    m : array_like, shape (..., bands, 14)
        Modulation transfer; cut to 0–1.

    Returns
    -------
    ndarray, shape (..., bands)
        0–1.

    References
    ----------
    .. [1] iec60268-16:2020, full method, via phonometry and pyrato.

    Examples
    --------
    >>> modulation_transfer_index(np.full((1, 14), 0.9)).round(4)
    array([0.8181])
    """
    given = np.asarray(m, dtype=np.float64)
    index = np.empty(given.shape[:-1])
    flat, out = given.reshape(-1, given.shape[-1]), index.reshape(-1)
    for start in range(0, len(flat), 7 * _ROWS):
        part = slice(start, start + 7 * _ROWS)
        out[part] = _mean_transmission_index(np.clip(flat[part], 0.0, 1.0))
    return index


def speech_transmission_index_from_bands(mti: npt.ArrayLike, *, talker: Talker = "male") -> Array:
    """Speech transmission index of seven modulation transfer indices.

    Parameters
    ----------
    mti : array_like, shape (..., 7)
        0–1, over :data:`wellheard.bands.OCTAVES`.
    talker : {"male", "female_2011"}
        Weights; the female set was dropped in 2020.

    Returns
    -------
    ndarray, shape (...)
        0–1.

    Raises
    ------
    ValueError
        If the last axis is not the seven octaves.

    References
    ----------
    .. [1] iec60268-16:2020, weights and redundancy, via phonometry, pyrato and others.

    Examples
    --------
    >>> speech_transmission_index_from_bands([0, 0, 0, 1, 1, 0, 0]).round(3)
    np.float64(0.531)
    """
    index = np.asarray(mti, dtype=np.float64)
    if index.ndim == 0 or index.shape[-1] != 7:
        raise ValueError(f"indices of shape {index.shape} do not end in the seven octaves")
    shared = np.sqrt(index[..., :-1] * index[..., 1:])
    return np.minimum(1.0, index @ _ALPHA[talker] - shared @ _BETA[talker])


def speech_transmission_index(m: npt.ArrayLike, *, talker: Talker = "male") -> Array:
    """Speech transmission index of a modulation transfer function.

    Parameters
    ----------
    m : array_like, shape (..., 7, 14)
        Modulation transfer, noise and hearing included.
    talker : {"male", "female_2011"}
        Weights; the female set was dropped in 2020.

    Returns
    -------
    ndarray, shape (...)
        0–1.

    Raises
    ------
    ValueError
        If the last axes are not seven octaves by fourteen frequencies.

    Notes
    -----
    Not valid for links that gate, clip, pump or code heavily. A second, equal reading may
    differ by 0.02–0.03, so a value next to a category edge decides nothing. Works through
    the rows in parts, so it needs little memory beyond ``m``.

    References
    ----------
    .. [1] iec60268-16:2020, full method, via phonometry and pyrato.

    Examples
    --------
    >>> speech_transmission_index(np.full((2, 7, 14), 0.5)).round(3)
    array([0.5, 0.5])
    """
    given = np.asarray(m, dtype=np.float64)
    if given.ndim < 2 or given.shape[-2:] != (7, 14):
        raise ValueError(f"modulation transfer of shape {given.shape} does not end in (7, 14)")
    return speech_transmission_index_from_bands(modulation_transfer_index(given), talker=talker)


def speech_transmission_index_of_path(
    direct_to_reverberant: npt.ArrayLike,
    *,
    reverberation_time: npt.ArrayLike,
    speech_db: npt.ArrayLike,
    noise_db: npt.ArrayLike | None = None,
    hearing: bool = True,
    talker: Talker = "male",
) -> Array:
    """Speech transmission index of direct sound plus exponential decay, with noise and hearing.

    The same as :func:`wellheard.acoustics.modulation.transfer_direct_plus_exponential`,
    :func:`wellheard.acoustics.modulation.with_noise_and_hearing` and
    :func:`speech_transmission_index` in turn, but never holds all modulations at once: for
    hundreds of thousands of paths.

    Parameters
    ----------
    direct_to_reverberant : array_like, shape (..., 7)
        Energy ratio, not decibels.
    reverberation_time : array_like, shape (..., 7)
        [s]
    speech_db : array_like, shape (..., 7)
        At the ear. [dB re 20 µPa]
    noise_db : array_like, shape (..., 7), optional
        At the ear; none if omitted. [dB re 20 µPa]
    hearing : bool
        Whether masking and reception threshold count.
    talker : {"male", "female_2011"}
        Weights; the female set was dropped in 2020.

    Returns
    -------
    ndarray, shape (...)
        0–1.

    Raises
    ------
    ValueError
        If the levels do not end in the seven octaves.

    References
    ----------
    .. [1] iec60268-16:2020, full method, via phonometry.

    Examples
    --------
    >>> speech_transmission_index_of_path(
    ...     np.ones((3, 7)),
    ...     reverberation_time=np.full(7, 0.6),
    ...     speech_db=np.full(7, 60.0),
    ...     hearing=False,
    ... ).round(4)
    array([0.7677, 0.7677, 0.7677])
    """
    mti = modulation_transfer_index_of_path(
        direct_to_reverberant,
        reverberation_time=reverberation_time,
        speech_db=speech_db,
        noise_db=noise_db,
        hearing=hearing,
    )
    return speech_transmission_index_from_bands(mti, talker=talker)


def modulation_transfer_index_of_path(
    direct_to_reverberant: npt.ArrayLike,
    *,
    reverberation_time: npt.ArrayLike,
    speech_db: npt.ArrayLike,
    noise_db: npt.ArrayLike | None = None,
    hearing: bool = True,
) -> Array:
    """Modulation transfer indices of direct sound plus exponential decay, noise and hearing.

    Parameters
    ----------
    direct_to_reverberant : array_like, shape (..., 7)
        Energy ratio, not decibels.
    reverberation_time : array_like, shape (..., 7)
        [s]
    speech_db : array_like, shape (..., 7)
        At the ear. [dB re 20 µPa]
    noise_db : array_like, shape (..., 7), optional
        At the ear; none if omitted. [dB re 20 µPa]
    hearing : bool
        Whether masking and reception threshold count.

    Returns
    -------
    ndarray, shape (..., 7)
        0–1.

    Raises
    ------
    ValueError
        If the levels do not end in the seven octaves.

    References
    ----------
    .. [1] iec60268-16:2020, full method, via phonometry.

    Examples
    --------
    >>> modulation_transfer_index_of_path(
    ...     np.full(7, 1e9), reverberation_time=np.full(7, 0.6), speech_db=np.full(7, 60.0)
    ... ).round(2)
    array([0.97, 1.  , 1.  , 1.  , 1.  , 1.  , 1.  ])
    """
    factor = noise_and_hearing_factor(speech_db, noise_db=noise_db, hearing=hearing)
    ratio, time, factor = np.broadcast_arrays(
        np.asarray(direct_to_reverberant, dtype=np.float64),
        np.asarray(reverberation_time, dtype=np.float64),
        factor,
    )
    index = np.empty(ratio.shape)
    out = index.reshape(-1, 7)
    ratio, factor = ratio.reshape(-1, 7), factor.reshape(-1, 7)
    # one reverberation time for all rows is the common case: do not spread it out
    shared = time.reshape(-1, 7)[:1] if _same_rows(time) else None
    times = time.reshape(-1, 7) if shared is None else shared
    for start in range(0, len(out), _ROWS):
        part = slice(start, start + _ROWS)
        m = transfer_direct_plus_exponential(
            ratio[part], reverberation_time=times if shared is not None else times[part]
        )
        m *= factor[part, :, None]
        out[part] = _mean_transmission_index(np.minimum(m, 1.0, out=m))
    return index


def category_letter(sti: float) -> str:
    """Letter band of a speech transmission index, U to A+.

    Parameters
    ----------
    sti : float
        0–1.

    Returns
    -------
    str
        Each letter is 0.04 wide and begins at its lower edge.

    References
    ----------
    .. [1] iec60268-16:2011, Annex F, via an open reading.

    Examples
    --------
    >>> category_letter(0.60), category_letter(0.599), category_letter(0.2)
    ('D', 'E', 'U')
    """
    return CATEGORY_LETTERS[bisect.bisect_right(CATEGORY_EDGES, sti)]


def rating_word(sti: float) -> str:
    """Word for a speech transmission index: bad, poor, fair, good or excellent.

    Parameters
    ----------
    sti : float
        0–1.

    Returns
    -------
    str
        A value on an edge gets the better word.

    References
    ----------
    .. [1] iso9921:2003, intelligibility ratings, via an open STIPA script.

    Examples
    --------
    >>> rating_word(0.60), rating_word(0.59)
    ('good', 'fair')
    """
    return RATING_WORDS[bisect.bisect_right(RATING_EDGES, sti)]


def alcons_from_sti(sti: npt.ArrayLike) -> Array:
    """Articulation loss of consonants that goes with a speech transmission index.

    Parameters
    ----------
    sti : array_like
        0–1.

    Returns
    -------
    ndarray
        Same shape, ratio 0–1 and above for an index near 0.

    References
    ----------
    .. [1] becker-alcons, a fit, via two open codes.

    Examples
    --------
    >>> alcons_from_sti(0.5).round(4)
    np.float64(0.1135)
    """
    return 1.705405 * np.exp(-5.419 * np.asarray(sti, dtype=np.float64))


def alcons_peutz(
    reverberation_time: npt.ArrayLike,
    *,
    distance: npt.ArrayLike,
    volume: npt.ArrayLike,
    directivity: npt.ArrayLike = 1.0,
    power_ratio: npt.ArrayLike = 1.0,
    listener: npt.ArrayLike = 0.0,
) -> Array:
    """Articulation loss of consonants without noise, the smaller of the near and the far law.

    Parameters
    ----------
    reverberation_time : array_like
        [s]
    distance : array_like
        [m]
    volume : array_like
        [m³]
    directivity : array_like
        Directivity factor of the source.
    power_ratio : array_like
        Power of all sources over that of the wanted one.
    listener : array_like
        Loss of the listener himself, 0–0.125; 0.015 for a trained one.

    Returns
    -------
    ndarray
        Ratio.

    Notes
    -----
    Textbooks switch laws at 3.16 critical distances, where the two do not meet; the smaller
    of both is continuous. Says little in rooms below 0.6 s: prefer the transmission index.

    References
    ----------
    .. [1] peutz:1971, both laws via an open room-simulation code; the rest from memory.

    Examples
    --------
    >>> alcons_peutz(1.5, distance=8.0, volume=300.0, directivity=5.0).round(3)
    np.float64(0.135)
    """
    t = np.asarray(reverberation_time, dtype=np.float64)
    r = np.asarray(distance, dtype=np.float64)
    q = np.asarray(volume, dtype=np.float64) * np.asarray(directivity, dtype=np.float64)
    near = 2.0 * np.square(r * t) * np.asarray(power_ratio, dtype=np.float64) / q
    return np.minimum(near, 0.09 * t) + np.asarray(listener, dtype=np.float64)


def u50_db(c50_db: npt.ArrayLike, *, speech_to_noise_db: npt.ArrayLike) -> Array:
    """Useful-to-detrimental ratio: early sound over late sound and noise.

    Parameters
    ----------
    c50_db : array_like
        Early-to-late ratio, 50 ms. [dB]
    speech_to_noise_db : array_like
        [dB]

    Returns
    -------
    ndarray
        [dB]

    References
    ----------
    .. [1] bradley:1986, useful/detrimental ratio; recomputed.

    Examples
    --------
    >>> u50_db(5.0, speech_to_noise_db=[15.0, 0.0]).round(3)
    array([ 4.463, -2.128])
    """
    ratio = energy(c50_db)
    early = ratio / (1.0 + ratio)
    noise = energy(-np.asarray(speech_to_noise_db, dtype=np.float64))
    return energy_level_db(early / (1.0 - early + noise))


def _mean_transmission_index(m: Array) -> Array:
    """Overwrite m (..., 14), 0–1, on the way to the mean of its transmission indices.

    Ratios are cut instead of decibels: the mean of logarithms is then one logarithm of a
    product that cannot overflow, and fourteen logarithms become one.
    """
    with np.errstate(divide="ignore"):
        np.divide(m, np.subtract(1.0, m), out=m)
    np.clip(m, _RATIO_LOW, _RATIO_HIGH, out=m)
    snr_db = 10.0 / m.shape[-1] * np.log10(np.multiply.reduce(m, axis=-1))
    return np.clip((snr_db + 15.0) / 30.0, 0.0, 1.0)


def _same_rows(broadcast: Array) -> bool:
    return all(stride == 0 for stride in broadcast.strides[:-1])
