"""Acoustic gain: how much louder a listener can hear a talker before the loop howls.

::

                 Ds                                  D1
    talker ●────────► microphone ◄───────────── loudspeaker
           │                                          │
           └───────────────► listener ◄───────────────┘
                 D0                        D2

The letters are not standard, and some books exchange Ds and D1: parameters say what they join.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from wellheard.acoustics.levels import energy, energy_level_db
from wellheard.arrays import Array

FEEDBACK_MARGIN_DB: Final = 6.0
"""Feedback stability margin that potential acoustic gain keeps (common practice). [dB]"""


def open_microphones_db(count: npt.ArrayLike) -> Array:
    """What several open microphones add to the loop gain and to the noise of one, 10 lg NOM.

    Parameters
    ----------
    count : array_like
        Equivalent number of open microphones, as of :mod:`wellheard.acoustics.mixing`; 1 or more.

    Returns
    -------
    ndarray
        [dB]

    References
    ----------
    .. [1] davis-patronis:2006, number of open microphones, via an open room-acoustics code.

    Examples
    --------
    >>> open_microphones_db([1.0, 4.0]).round(2)
    array([0.  , 6.02])
    """
    return energy_level_db(np.asarray(count, dtype=np.float64))


def potential_gain_db(
    *,
    talker_to_listener: npt.ArrayLike,
    talker_to_microphone: npt.ArrayLike,
    loudspeaker_to_listener: npt.ArrayLike,
    loudspeaker_to_microphone: npt.ArrayLike,
    open_microphones: npt.ArrayLike = 1.0,
    margin_db: npt.ArrayLike = FEEDBACK_MARGIN_DB,
) -> Array:
    """Potential acoustic gain in the direct field, omnidirectional all round.

    Parameters
    ----------
    talker_to_listener, talker_to_microphone : array_like
        D0 and Ds. [m]
    loudspeaker_to_listener, loudspeaker_to_microphone : array_like
        D2 and D1. [m]
    open_microphones : array_like
        Equivalent number of them.
    margin_db : array_like
        Feedback stability margin. [dB]

    Returns
    -------
    ndarray
        How much louder the listener can hear the talker than without the system. [dB]

    Notes
    -----
    Level falls by 6 dB a doubling only within about three critical distances; elsewhere, and for
    directional products, :func:`potential_gain_of_changes_db`.

    References
    ----------
    .. [1] davis-patronis:2006, potential acoustic gain, via an open room-acoustics code.

    Examples
    --------
    >>> potential_gain_db(
    ...     talker_to_listener=6.0,
    ...     talker_to_microphone=0.6,
    ...     loudspeaker_to_listener=2.5,
    ...     loudspeaker_to_microphone=3.0,
    ...     open_microphones=4,
    ... ).round(2)
    np.float64(9.56)
    """
    return potential_gain_of_changes_db(
        talker_to_listener_db=_distance_db(talker_to_listener),
        talker_to_microphone_db=_distance_db(talker_to_microphone),
        loudspeaker_to_listener_db=_distance_db(loudspeaker_to_listener),
        loudspeaker_to_microphone_db=_distance_db(loudspeaker_to_microphone),
        open_microphones=open_microphones,
        margin_db=margin_db,
    )


def potential_gain_of_changes_db(
    *,
    talker_to_listener_db: npt.ArrayLike,
    talker_to_microphone_db: npt.ArrayLike,
    loudspeaker_to_listener_db: npt.ArrayLike,
    loudspeaker_to_microphone_db: npt.ArrayLike,
    open_microphones: npt.ArrayLike = 1.0,
    margin_db: npt.ArrayLike = FEEDBACK_MARGIN_DB,
) -> Array:
    """Potential acoustic gain from how level changes along the four ways, in any field.

    Parameters
    ----------
    talker_to_listener_db, talker_to_microphone_db : array_like
        Level there re that of the talker 1 m away; to a microphone with its directivity. [dB]
    loudspeaker_to_listener_db, loudspeaker_to_microphone_db : array_like
        The same of the loudspeaker. [dB]
    open_microphones : array_like
        Equivalent number of them.
    margin_db : array_like
        Feedback stability margin. [dB]

    Returns
    -------
    ndarray
        [dB]

    Notes
    -----
    With the loop at unity the loudspeaker is as loud at the microphone as the talker is: the
    listener then hears it ``(talker→microphone − loudspeaker→microphone) + loudspeaker→listener``
    over the talker's 1 m. Broadband, no peaks of the room: the margin stands for those.

    References
    ----------
    .. [1] davis-patronis:2006, potential acoustic gain, via an open room-acoustics code.

    Examples
    --------
    >>> potential_gain_of_changes_db(
    ...     talker_to_listener_db=-12.0,
    ...     talker_to_microphone_db=0.0,
    ...     loudspeaker_to_listener_db=-8.0,
    ...     loudspeaker_to_microphone_db=-9.0,
    ... )
    np.float64(7.0)
    """
    at_microphone = _f(talker_to_microphone_db) - _f(loudspeaker_to_microphone_db)
    at_listener = _f(loudspeaker_to_listener_db) - _f(talker_to_listener_db)
    return at_microphone + at_listener - open_microphones_db(open_microphones) - _f(margin_db)


def needed_gain_db(
    talker_to_listener: npt.ArrayLike, *, equivalent_distance: npt.ArrayLike
) -> Array:
    """Needed acoustic gain: it brings a listener acoustically as near as wanted.

    Parameters
    ----------
    talker_to_listener : array_like
        D0, of the farthest listener. [m]
    equivalent_distance : array_like
        Equivalent acoustic distance: 3 in a quiet room, 1.2 to 2.4 in a noisy one (common
        practice). [m]

    Returns
    -------
    ndarray
        Not positive where no gain is needed. [dB]

    References
    ----------
    .. [1] davis-patronis:2006, needed acoustic gain, via an open room-acoustics code.

    Examples
    --------
    >>> needed_gain_db(9.0, equivalent_distance=3.0).round(2)
    np.float64(9.54)
    """
    return _distance_db(equivalent_distance) - _distance_db(talker_to_listener)


def largest_talker_distance(
    *,
    equivalent_distance: npt.ArrayLike,
    loudspeaker_to_listener: npt.ArrayLike,
    loudspeaker_to_microphone: npt.ArrayLike,
    open_microphones: npt.ArrayLike = 1.0,
    margin_db: npt.ArrayLike = FEEDBACK_MARGIN_DB,
) -> Array:
    """Farthest that a talker may be from the microphone for the potential gain to be enough.

    Parameters
    ----------
    equivalent_distance : array_like
        Equivalent acoustic distance. [m]
    loudspeaker_to_listener, loudspeaker_to_microphone : array_like
        D2 and D1. [m]
    open_microphones : array_like
        Equivalent number of them.
    margin_db : array_like
        Feedback stability margin. [dB]

    Returns
    -------
    ndarray
        Where potential gain in the direct field equals needed gain, wherever the listener is. [m]

    References
    ----------
    .. [1] davis-patronis:2006, potential and needed acoustic gain, solved for the distance.

    Examples
    --------
    >>> largest_talker_distance(
    ...     equivalent_distance=3.0,
    ...     loudspeaker_to_listener=2.0,
    ...     loudspeaker_to_microphone=2.5,
    ...     open_microphones=4,
    ... ).round(3)
    np.float64(0.94)
    """
    ratio = _f(loudspeaker_to_microphone) / _f(loudspeaker_to_listener)
    lost = open_microphones_db(open_microphones) + _f(margin_db)
    return _f(equivalent_distance) * ratio / np.sqrt(energy(lost))


def _distance_db(distance: npt.ArrayLike) -> Array:
    """Level re that at 1 m, spherical spreading."""
    return -energy_level_db(np.square(_f(distance)))


def _f(values: npt.ArrayLike) -> Array:
    return np.asarray(values, dtype=np.float64)
