"""How loud people talk, by octave."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, TypeAlias, get_args

import numpy as np
import numpy.typing as npt

from wellheard import tables
from wellheard.acoustics.levels import scaled_to_a_weighted_level_db
from wellheard.arrays import Array
from wellheard.bands import OCTAVES

VocalEffort: TypeAlias = Literal["quiet", "normal", "raised", "loud", "shout"]

QUIET_LEVEL_DBA = 55.0
"""A quiet meeting voice 1 m in front of the lips; common practice, no source. [dB(A)]"""

_OCTAVE_COLUMNS = tuple(f"{octave:g}" for octave in OCTAVES)


def speech_levels_db(effort: VocalEffort | Sequence[VocalEffort]) -> Array:
    """Octave levels of speech in free field 1 m in front of the lips.

    Parameters
    ----------
    effort : str or sequence of str
        "quiet", "normal", "raised", "loud" or "shout".

    Returns
    -------
    ndarray, shape (7,) or (efforts, 7)
        Over :data:`wellheard.bands.OCTAVES`. [dB re 20 µPa]

    Raises
    ------
    ValueError
        If the effort is none of these.

    Notes
    -----
    The standard has no 125 Hz octave: 49 dB at normal effort, and 8.2 dB below the 250 Hz
    octave at the others, is common practice. "quiet" is the normal spectrum shifted to
    55 dB(A), common practice too. 2 dB above the omnidirectional spectrum of ISO 3382-3, which
    is not measured in front of the mouth.

    References
    ----------
    .. [1] ansi-s3.5:1997, octave procedure, via phonometry and mosqito.

    Examples
    --------
    >>> speech_levels_db("normal")
    array([49.  , 57.23, 59.75, 53.49, 48.8 , 43.81, 38.61])
    """
    if isinstance(effort, str):
        return _SPEECH[_known(effort)].copy()
    return np.stack([_SPEECH[_known(one)] for one in effort])


def iec_male_spectrum_2020(level_dba: npt.ArrayLike = 0.0) -> Array:
    """Male test spectrum of the 2020 edition at an A-weighted level.

    Parameters
    ----------
    level_dba : array_like
        [dB(A)]

    Returns
    -------
    ndarray, shape (..., 7)
        Over :data:`wellheard.bands.OCTAVES`. [dB]

    References
    ----------
    .. [1] iec60268-16:2020, A.6.1, via phonometry.

    Examples
    --------
    >>> iec_male_spectrum_2020(60.0).round(2)
    array([57.48, 60.48, 59.98, 53.98, 47.98, 41.98, 35.98])
    """
    return scaled_to_a_weighted_level_db(_spectrum("iec_male_2020"), level_dba=level_dba)


def iec_male_spectrum_2011(level_dba: npt.ArrayLike = 0.0) -> Array:
    """Male test spectrum of the 2011 edition at an A-weighted level.

    Parameters
    ----------
    level_dba : array_like
        [dB(A)]

    Returns
    -------
    ndarray, shape (..., 7)
        Over :data:`wellheard.bands.OCTAVES`. [dB]

    Notes
    -----
    Printed relative to the A-weighted total, which it meets within 0.05 dB; used as printed.

    References
    ----------
    .. [1] iec60268-16:2011, Table A.4, via several open codes.

    Examples
    --------
    >>> iec_male_spectrum_2011(60.0)
    array([62.9, 62.9, 59.2, 53.2, 47.2, 41.2, 35.2])
    """
    return _spectrum("iec_male_2011") + np.asarray(level_dba, dtype=np.float64)[..., None]


def iec_female_spectrum_2011(level_dba: npt.ArrayLike = 0.0) -> Array:
    """Female test spectrum of the 2011 edition, dropped in 2020, at an A-weighted level.

    Parameters
    ----------
    level_dba : array_like
        [dB(A)]

    Returns
    -------
    ndarray, shape (..., 7)
        Over :data:`wellheard.bands.OCTAVES`; minus infinity at 125 Hz, which it leaves out. [dB]

    Notes
    -----
    Printed relative to the A-weighted total, which it meets within 0.12 dB; used as printed.

    References
    ----------
    .. [1] iec60268-16:2011, Table A.4, via two open codes.

    Examples
    --------
    >>> iec_female_spectrum_2011(60.0)
    array([-inf, 65.3, 58.1, 50.9, 44.2, 43.3, 42. ])
    """
    return _spectrum("iec_female_2011") + np.asarray(level_dba, dtype=np.float64)[..., None]


def sii_octave_importance() -> Array:
    """Importance of each octave for intelligibility, none at 125 Hz.

    Returns
    -------
    ndarray, shape (7,)
        Over :data:`wellheard.bands.OCTAVES`; adds up to 1.

    References
    ----------
    .. [1] ansi-s3.5:1997, Table 4, via phonometry and mosqito.

    Examples
    --------
    >>> sii_octave_importance()
    array([0.    , 0.0617, 0.1671, 0.2373, 0.2648, 0.2142, 0.0549])
    """
    table = tables.load("sii_octave")
    by_octave = dict(zip(table.floats("octave"), table.floats("importance"), strict=True))
    return np.array([by_octave.get(octave, 0.0) for octave in OCTAVES])


def _spectrum(name: str) -> Array:
    row = tables.load("speech_spectra").by("id")[name]
    return np.array([float(row[column]) if row[column] else -np.inf for column in _OCTAVE_COLUMNS])


def _known(effort: str) -> str:
    if effort not in _SPEECH:
        raise ValueError(
            f"vocal effort {effort!r} is not one of {', '.join(get_args(VocalEffort))}"
        )
    return effort


def _speech() -> dict[str, Array]:
    filler = tables.load("speech_filler_125hz")
    levels = {}
    for effort, at_125 in zip(filler.strings("effort"), filler.floats("level_db"), strict=True):
        levels[effort] = _spectrum(f"s35_{effort}")
        levels[effort][0] = at_125
    levels["quiet"] = scaled_to_a_weighted_level_db(levels["normal"], level_dba=QUIET_LEVEL_DBA)
    return levels


_SPEECH = _speech()
