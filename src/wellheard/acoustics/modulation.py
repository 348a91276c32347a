"""Modulation transfer of rooms, and what noise and hearing leave of it."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from wellheard import tables
from wellheard.acoustics.field import DECAY
from wellheard.acoustics.levels import energy, energy_level_db
from wellheard.arrays import Array

MODULATION_FREQUENCIES: tuple[float, ...] = (
    0.63,
    0.8,
    1.0,
    1.25,
    1.6,
    2.0,
    2.5,
    3.15,
    4.0,
    5.0,
    6.3,
    8.0,
    10.0,
    12.5,
)
"""The fourteen modulation frequencies of the full method. [Hz]"""

RECEPTION_THRESHOLD_DB: tuple[float, ...] = tables.load("sti_weights").floats(
    "reception_threshold_db"
)
"""Absolute reception threshold over :data:`wellheard.bands.OCTAVES`. [dB re 20 µPa]"""

_ANGULAR = 2.0 * np.pi * np.array(MODULATION_FREQUENCIES)


def transfer_exponential(reverberation_time: npt.ArrayLike) -> Array:
    """Modulation transfer of an ideal exponential decay.

    Parameters
    ----------
    reverberation_time : array_like, shape (..., bands)
        [s]

    Returns
    -------
    ndarray, shape (..., bands, 14)
        0–1.

    References
    ----------
    .. [1] iec60268-16:2020, full method; the relation of Houtgast and Steeneken.

    Examples
    --------
    >>> transfer_exponential([0.5])[0, [0, -1]].round(4)
    array([0.9899, 0.3319])
    """
    return np.sqrt(_tail_power(reverberation_time))


def transfer_direct_plus_exponential(
    direct_to_reverberant: npt.ArrayLike, *, reverberation_time: npt.ArrayLike
) -> Array:
    """Modulation transfer of a direct sound followed at once by an exponential decay.

    Parameters
    ----------
    direct_to_reverberant : array_like, shape (..., bands)
        Energy ratio g, not decibels; infinity is a room without reverberation.
    reverberation_time : array_like, shape (..., bands)
        [s]

    Returns
    -------
    ndarray, shape (..., bands, 14)
        0–1.

    Notes
    -----
    |g + z|/(1 + g) with z = 1/(1 + j2πFT/13.8155). Because |z|² equals the real part of z,
    its square is d² + (1 − d²)·|z|² with the direct share d = g/(1 + g): no complex numbers.

    References
    ----------
    .. [1] iec60268-16:2020, full method; the relation of Houtgast and Steeneken.

    Examples
    --------
    >>> transfer_direct_plus_exponential([1.0], reverberation_time=[0.5])[0, -1].round(4)
    np.float64(0.5767)
    """
    share = np.square(direct_share(direct_to_reverberant))[..., None]
    power = (1.0 - share) * _tail_power(reverberation_time)
    power += share
    return np.sqrt(power, out=power)


def direct_share(direct_to_reverberant: npt.ArrayLike) -> Array:
    """Share of the direct sound in all energy.

    Parameters
    ----------
    direct_to_reverberant : array_like
        Energy ratio, 0 to infinity.

    Returns
    -------
    ndarray
        Same shape, 0–1.

    Examples
    --------
    >>> direct_share([0.0, 1.0, np.inf])
    array([0. , 0.5, 1. ])
    """
    return 1.0 - 1.0 / (1.0 + np.asarray(direct_to_reverberant, dtype=np.float64))


def masking_offset_db(level_db: npt.ArrayLike) -> Array:
    """Level of the masking that an octave throws on the next higher one, re its own level.

    Parameters
    ----------
    level_db : array_like
        Level of the masking octave, signal plus noise. [dB re 20 µPa]

    Returns
    -------
    ndarray
        Same shape. [dB]

    Notes
    -----
    The published line drops by 0.2 dB at 100 dB; that is kept.

    References
    ----------
    .. [1] iec60268-16:2020, auditory masking, via phonometry; same in 2011.

    Examples
    --------
    >>> masking_offset_db([50.0, 65.0, 80.0, 100.0]).round(1)
    array([-40. , -29.9, -19.8, -10. ])
    """
    level = np.asarray(level_db, dtype=np.float64)
    return np.select(
        [level < 63.0, level < 67.0, level < 100.0],
        [0.5 * level - 65.0, 1.8 * level - 146.9, 0.5 * level - 59.8],
        -10.0,
    )


def noise_and_hearing_factor(
    speech_db: npt.ArrayLike,
    *,
    noise_db: npt.ArrayLike | None = None,
    hearing: bool = True,
) -> Array:
    """Factor by which noise, masking and threshold scale every modulation of a band.

    Parameters
    ----------
    speech_db : array_like, shape (..., 7)
        Octave levels of the speech at the ear. [dB re 20 µPa]
    noise_db : array_like, shape (..., 7), optional
        Octave levels of the noise at the ear; none if omitted. [dB re 20 µPa]
    hearing : bool
        Whether masking and reception threshold count; False where levels are only relative.

    Returns
    -------
    ndarray, shape (..., 7)
        0–1.

    Raises
    ------
    ValueError
        If the last axis is not the seven octaves.

    Notes
    -----
    The masking offset is that of the next *lower* octave's total level. Taking the masked
    band's own level changes nothing below 70 dBA and 0.05 in the index at 90 dBA.

    References
    ----------
    .. [1] iec60268-16:2020, auditory masking and reception threshold, via phonometry.

    Examples
    --------
    >>> noise_and_hearing_factor(np.full(7, 40.0), noise_db=np.full(7, 40.0), hearing=False)
    array([0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5])
    """
    speech = energy(speech_db)
    total = speech
    if noise_db is not None:
        total = speech + energy(noise_db)
    if total.ndim == 0 or total.shape[-1] != 7:
        raise ValueError(f"levels of shape {total.shape} do not end in the seven octaves")
    heard = total
    if hearing:
        lower = total[..., :-1]
        heard = total + _THRESHOLD
        heard[..., 1:] += lower * energy(masking_offset_db(energy_level_db(lower)))
    return np.divide(speech, heard, out=np.zeros_like(heard), where=heard > 0.0)


def with_noise_and_hearing(
    m: npt.ArrayLike,
    *,
    speech_db: npt.ArrayLike,
    noise_db: npt.ArrayLike | None = None,
    hearing: bool = True,
) -> Array:
    """Modulation transfer after noise, masking and reception threshold.

    Parameters
    ----------
    m : array_like, shape (..., 7, 14)
        Modulation transfer of the room, without noise; cut at 1.
    speech_db : array_like, shape (..., 7)
        Octave levels of the speech at the ear. [dB re 20 µPa]
    noise_db : array_like, shape (..., 7), optional
        Octave levels of the noise at the ear; none if omitted. [dB re 20 µPa]
    hearing : bool
        Whether masking and reception threshold count; False where levels are only relative.

    Returns
    -------
    ndarray, shape (..., 7, 14)
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
    >>> m = with_noise_and_hearing(np.ones((7, 14)), speech_db=np.full(7, 46.0))
    >>> m[0, 0].round(3)  # speech at the threshold of the lowest octave
    np.float64(0.5)
    """
    factor = noise_and_hearing_factor(speech_db, noise_db=noise_db, hearing=hearing)
    return np.minimum(np.asarray(m, dtype=np.float64), 1.0) * factor[..., None]


def _tail_power(reverberation_time: npt.ArrayLike) -> Array:
    lag = np.asarray(reverberation_time, dtype=np.float64)[..., None] * (_ANGULAR / DECAY)
    return 1.0 / (1.0 + np.square(lag))


_THRESHOLD = energy(RECEPTION_THRESHOLD_DB)
