"""Automatic mixers: how many open microphones a talker is heard through.

::

    gating         ──●──   talker's channel 0 dB       gain sharing   ──◐──  −1 dB
                   ──○──   the others held down                       ──◔──  −8 dB
                   ──○──                                              ──◔──  −9 dB
                                                       power gains add up to 1

Noise and reverberation that are alike at all microphones come out of the mix as if from n open
microphones while the voice comes through one, at whatever gain: n is what everything here returns.
"""

from __future__ import annotations

from typing import Literal, TypeAlias

import numpy as np
import numpy.typing as npt

from wellheard.arrays import Array

Sharing: TypeAlias = Literal["gating", "gain-sharing"]

CLOSED_CHANNEL_DB = -15.0
"""What a gating mixer does to a channel that nobody talks into: 12 to 20 dB down, the middle taken
(common practice, no source [C])."""


def shared_gains(levels_db: npt.ArrayLike) -> Array:
    """Power gains of a gain-sharing mixer's channels.

    Parameters
    ----------
    levels_db : array_like, shape (..., channels)
        What each channel hears; −∞ if nothing. One at least is finite. [dB]

    Returns
    -------
    ndarray, shape (..., channels)
        Each channel's share of the summed power: they add up to 1.

    Notes
    -----
    The gain of a channel in dB is its own level less that of the sum of all. In steady state: what
    the time constants of a real mixer do to the first syllable is not in it.

    References
    ----------
    .. [1] dugan:1975, gain of a channel in decibels.

    Examples
    --------
    Ten microphones in the same noise: each 10 dB down.

    >>> (10 * np.log10(shared_gains([50.0] * 10))).round(1)[:2]
    array([-10., -10.])
    """
    heard = np.asarray(levels_db, dtype=np.float64)
    power = 10.0 ** ((heard - heard.max(axis=-1, keepdims=True)) / 10.0)
    return np.asarray(power / power.sum(axis=-1, keepdims=True), dtype=np.float64)


def gated_gains(levels_db: npt.ArrayLike, *, closed_db: float = CLOSED_CHANNEL_DB) -> Array:
    """Power gains of a gating mixer's channels: the loudest is open, the others are held down.

    Parameters
    ----------
    levels_db : array_like, shape (..., channels)
        What each channel hears. [dB]
    closed_db : float
        Gain of a closed channel. [dB]

    Returns
    -------
    ndarray, shape (..., channels)
        1 for the first of the loudest.

    Examples
    --------
    >>> gated_gains([60.0, 52.0, 50.0], closed_db=-20.0)
    array([1.  , 0.01, 0.01])
    """
    heard = np.asarray(levels_db, dtype=np.float64)
    gains = np.full(heard.shape, 10.0 ** (closed_db / 10.0))
    np.put_along_axis(gains, np.argmax(heard, axis=-1)[..., None], 1.0, axis=-1)
    return gains


def channel_gains(levels_db: npt.ArrayLike, *, sharing: Sharing) -> Array:
    """Power gains of the channels of either kind of mixer.

    Parameters
    ----------
    levels_db : array_like, shape (..., channels)
        The talker's level at every microphone, with noise if it is near. [dB]
    sharing : {"gating", "gain-sharing"}
        Kind of mixer.

    Returns
    -------
    ndarray, shape (..., channels)
    """
    return shared_gains(levels_db) if sharing == "gain-sharing" else gated_gains(levels_db)


def mixed_re_channel(
    gains: npt.ArrayLike, energy: npt.ArrayLike, *, channel: npt.ArrayLike
) -> Array:
    """What all channels bring into the mix, re what the talker's own channel brings.

    Parameters
    ----------
    gains : array_like, shape (..., channels)
        Power gains.
    energy : array_like, shape (..., channels, 7)
        Reverberation, or noise, at every microphone.
    channel : array_like of int, shape (...)
        Which one the talker is heard through.

    Returns
    -------
    ndarray, shape (..., 7)
        By which reverberation, or noise, of that channel alone is to be multiplied; 1 or more.

    Notes
    -----
    Sound of different channels adds in energy. The talker's direct sound in the other channels,
    which comes within a few milliseconds, is left out of the voice and of this.

    Examples
    --------
    >>> energy = np.ones((2, 7))
    >>> mixed_re_channel([1.0, 0.1], energy, channel=0)[:2]
    array([1.1, 1.1])
    """
    power = np.asarray(gains, dtype=np.float64)[..., None] * np.asarray(energy, dtype=np.float64)
    own = np.take_along_axis(power, np.asarray(channel)[..., None, None], axis=-2)[..., 0, :]
    return np.asarray(power.sum(axis=-2) / own, dtype=np.float64)


def open_microphones(
    levels_db: npt.ArrayLike, *, channel: npt.ArrayLike, sharing: Sharing
) -> Array:
    """Equivalent number of open microphones, for noise and reverberation alike at all of them.

    Parameters
    ----------
    levels_db : array_like, shape (..., channels)
        The talker's level at every microphone. [dB]
    channel : array_like of int, shape (...)
        Which one the talker is heard through; it opens, even if another hears the talker louder.
    sharing : {"gating", "gain-sharing"}
        Kind of mixer.

    Returns
    -------
    ndarray, shape (...)
        Gating: ``1 + (N − 1)·10^(−15/10)``. Gain sharing: the summed power re that of the channel,
        1 where no other microphone hears the talker, N where all hear alike.

    Examples
    --------
    >>> open_microphones([60.0, 50.0, 50.0], channel=0, sharing="gain-sharing").round(3)
    np.float64(1.2)
    >>> open_microphones([60.0, 50.0, 50.0], channel=0, sharing="gating").round(3)
    np.float64(1.063)
    """
    heard = np.asarray(levels_db, dtype=np.float64)
    used = np.asarray(channel)
    if sharing == "gating":
        return np.full(heard.shape[:-1], most_open_microphones(heard.shape[-1], sharing=sharing))
    gains = shared_gains(heard)
    return np.asarray(1.0 / np.take_along_axis(gains, used[..., None], axis=-1)[..., 0])


def most_open_microphones(count: int, *, sharing: Sharing) -> float:
    """Bound on the open microphones that depends on nothing but how many there are.

    Parameters
    ----------
    count : int
        Microphones on the mixer.
    sharing : {"gating", "gain-sharing"}
        Kind of mixer.

    Returns
    -------
    float
        Gating: exact. Gain sharing: N, reached where all microphones hear the talker as loud as
        the loudest does; where `channel` is the loudest it is never more.

    Examples
    --------
    >>> round(most_open_microphones(4, sharing="gating"), 4)
    1.0949
    >>> most_open_microphones(4, sharing="gain-sharing")
    4.0
    """
    others = max(0, count - 1)
    if sharing == "gain-sharing":
        return 1.0 + others
    return 1.0 + others * float(10.0 ** (CLOSED_CHANNEL_DB / 10.0))


def open_microphones_in_reverberation(ratio: npt.ArrayLike, *, count: int) -> Array:
    """Open microphones of a gain-sharing mixer whose other channels hear the talker's room alone.

    Parameters
    ----------
    ratio : array_like
        Direct to reverberant energy at the talker's own microphone.
    count : int
        Microphones on the mixer.

    Returns
    -------
    ndarray
        Same shape, ``(D/R + N) / (D/R + 1)``: the least that a room with that reverberation
        everywhere allows, between 1 (dry) and N.

    Notes
    -----
    Why sharing gain saves less than gating in a lively room: at the critical distance (D/R = 1)
    half of all microphones are as good as open.

    Examples
    --------
    >>> open_microphones_in_reverberation([1.0, 9.0], count=5)
    array([3. , 1.4])
    """
    direct = np.asarray(ratio, dtype=np.float64)
    return np.asarray((direct + max(1, count)) / (direct + 1.0), dtype=np.float64)
