"""What a wall lets through, and whether speech beyond it is understood."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from wellheard import tables
from wellheard.acoustics.levels import energy_level_db
from wellheard.arrays import Array
from wellheard.bands import OCTAVES

PRIVACY_OCTAVES = (250.0, 500.0, 1000.0, 2000.0, 4000.0)
"""Octaves that privacy is judged by; as third octaves the measure has 160 Hz to 5 kHz. [Hz]"""

INAUDIBLE_DB = 32.0
"""Speech that lies further below the noise counts no further. [dB]"""

_CONTOUR = dict(
    zip(
        tables.load("stc_contour").floats("octave"),
        tables.load("stc_contour").floats("relative_db"),
        strict=True,
    )
)
_CONTOUR_DB = np.array([_CONTOUR[octave] for octave in OCTAVES])
_PRIVACY = [OCTAVES.index(octave) for octave in PRIVACY_OCTAVES]


def contour_reduction_db(transmission_class: npt.ArrayLike) -> Array:
    """Sound reduction by octave of a wall of which only its class is known.

    Parameters
    ----------
    transmission_class : array_like
        Sound transmission class, or weighted sound reduction index Rw, which lies within a
        decibel or two of it. [dB]

    Returns
    -------
    ndarray, shape (..., 7)
        Over :data:`wellheard.bands.OCTAVES`. [dB]

    Notes
    -----
    The contour that the rating is read from, not a measured wall: by the rule of the rating a
    wall may fall short of it by 8 dB in one third octave and by 2 dB on the mean (32 dB over
    sixteen third octaves). 8 kHz is not in it and takes the 4 kHz value.

    References
    ----------
    .. [1] astm-e413:2016, reference contour, via an open rating library.

    Examples
    --------
    >>> contour_reduction_db(45.0)
    array([29., 38., 45., 48., 49., 49., 49.])
    """
    return np.asarray(transmission_class, dtype=np.float64)[..., None] + _CONTOUR_DB


def level_difference_db(
    reduction_db: npt.ArrayLike, *, area: npt.ArrayLike, absorption_area: npt.ArrayLike
) -> Array:
    """Level in a room minus that behind one of its walls, L1 − L2 = R − 10 lg(S/A).

    Parameters
    ----------
    reduction_db : array_like
        Sound reduction index of the wall. [dB]
    area : array_like
        Of the wall, S. [m²]
    absorption_area : array_like
        Of the room behind it, A. [m²]

    Returns
    -------
    ndarray
        [dB]

    Notes
    -----
    Diffuse fields on both sides, and all the sound through this wall: what goes round it, by
    the void above, ducts, the door's seals or the façade, is in the reduction or nowhere.

    References
    ----------
    .. [1] iso16283-1:2014, apparent sound reduction index, via open texts.

    Examples
    --------
    >>> level_difference_db(33.01, area=10.0, absorption_area=5.0).round(2)
    np.float64(30.0)
    """
    share = np.asarray(area, dtype=np.float64) / np.asarray(absorption_area, dtype=np.float64)
    return np.asarray(reduction_db, dtype=np.float64) - energy_level_db(share)


def privacy_margin_db(speech_db: npt.ArrayLike, *, noise_db: npt.ArrayLike) -> Array:
    """How far speech lies below noise where an uninvited listener stands.

    Parameters
    ----------
    speech_db, noise_db : array_like, shape (..., 7)
        Octave levels there, over :data:`wellheard.bands.OCTAVES`. [dB]

    Returns
    -------
    ndarray, shape (...)
        Plain mean of the octaves 250 Hz to 4 kHz, each counted to 32 dB at most: minus the
        uniformly weighted, clipped speech-to-noise ratio of Gover and Bradley. [dB]

    Notes
    -----
    At about 16 dB every second good listener still catches a word, at 22 dB every second one
    hears something (both from memory of the paper). Octaves stand in for its third octaves. Simple
    A-weighted differences do not follow intelligibility well, says the same paper.

    References
    ----------
    .. [1] gover-bradley:2004, SNR uni32.

    Examples
    --------
    >>> privacy_margin_db([0, 30, 30, 20, 10, 0, 0], noise_db=[40.0] * 7).round(1)
    np.float64(20.4)
    """
    gap = np.asarray(noise_db, dtype=np.float64) - np.asarray(speech_db, dtype=np.float64)
    return np.minimum(gap, INAUDIBLE_DB)[..., _PRIVACY].mean(axis=-1)
