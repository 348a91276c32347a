"""Gain structure: volts, digital levels, and the noise of a chain of stages."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from wellheard.acoustics.levels import energy, energy_level_db, sum_levels_db
from wellheard.arrays import Array

DBU_RE_DBV: Final = -10.0 * float(np.log10(0.6))
"""What a level gains when it is told in dBu instead of dBV: 0 dBu is √0.6 V. 2.218. [dB]"""

PASCAL_DB: Final = -20.0 * float(np.log10(20e-6))
"""Sound pressure level of one pascal, 93.98. [dB]"""

EBU_FULL_SCALE_DBU: Final = 18.0
"""What 0 dBFS stands for in European broadcasting, EBU R 68 (from memory [M]). [dBu]"""

SMPTE_FULL_SCALE_DBU: Final = 24.0
"""What 0 dBFS stands for where −20 dBFS is +4 dBu, SMPTE RP 155 (from memory [M]). [dBu]"""

_BOLTZMANN = 1.380649e-23  # [J/K]


def dbu_of_dbv(level_dbv: npt.ArrayLike) -> Array:
    """Level re 0.7746 V of a level re 1 V.

    Parameters
    ----------
    level_dbv : array_like
        [dBV]

    Returns
    -------
    ndarray
        [dBu]

    Examples
    --------
    >>> dbu_of_dbv(-10.0).round(2)
    np.float64(-7.78)
    """
    return np.asarray(level_dbv, dtype=np.float64) + DBU_RE_DBV


def dbv_of_dbu(level_dbu: npt.ArrayLike) -> Array:
    """Level re 1 V of a level re 0.7746 V.

    Parameters
    ----------
    level_dbu : array_like
        [dBu]

    Returns
    -------
    ndarray
        [dBV]

    Examples
    --------
    >>> dbv_of_dbu(4.0).round(2)
    np.float64(1.78)
    """
    return np.asarray(level_dbu, dtype=np.float64) - DBU_RE_DBV


def dbu_of_volts(voltage: npt.ArrayLike) -> Array:
    """Level re 0.7746 V of a voltage.

    Parameters
    ----------
    voltage : array_like
        Effective value. [V]

    Returns
    -------
    ndarray
        [dBu]

    Examples
    --------
    >>> dbu_of_volts([1.228, 12.28]).round(1)
    array([ 4., 24.])
    """
    return dbu_of_dbv(energy_level_db(np.square(np.asarray(voltage, dtype=np.float64))))


def volts_of_dbu(level_dbu: npt.ArrayLike) -> Array:
    """Effective voltage of a level re 0.7746 V.

    Parameters
    ----------
    level_dbu : array_like
        [dBu]

    Returns
    -------
    ndarray
        [V]

    Examples
    --------
    >>> volts_of_dbu([0.0, 4.0]).round(4)
    array([0.7746, 1.2277])
    """
    return np.sqrt(energy(dbv_of_dbu(level_dbu)))


def sensitivity_db(millivolts_per_pascal: npt.ArrayLike) -> Array:
    """Sensitivity of a microphone as a level.

    Parameters
    ----------
    millivolts_per_pascal : array_like
        [mV/Pa]

    Returns
    -------
    ndarray
        [dB re 1 V/Pa]

    Examples
    --------
    >>> sensitivity_db([10.0, 31.6]).round(2)
    array([-40.  , -30.01])
    """
    return energy_level_db(np.square(np.asarray(millivolts_per_pascal, dtype=np.float64) / 1000.0))


def sensitivity_millivolts_per_pascal(sensitivity_db: npt.ArrayLike) -> Array:
    """Sensitivity of a microphone as a voltage, the inverse of :func:`sensitivity_db`.

    Parameters
    ----------
    sensitivity_db : array_like
        [dB re 1 V/Pa]

    Returns
    -------
    ndarray
        [mV/Pa]

    Examples
    --------
    >>> sensitivity_millivolts_per_pascal(-40.0).round(3)
    np.float64(10.0)
    """
    return 1000.0 * np.sqrt(energy(sensitivity_db))


def microphone_output_dbu(sound_level_db: npt.ArrayLike, *, sensitivity_db: npt.ArrayLike) -> Array:
    """Voltage that a microphone gives at a sound level, unloaded.

    Parameters
    ----------
    sound_level_db : array_like
        At the capsule, on axis; weighted or not, as the answer then is. [dB]
    sensitivity_db : array_like
        [dB re 1 V/Pa]

    Returns
    -------
    ndarray
        [dBu]

    Examples
    --------
    >>> microphone_output_dbu(60.0, sensitivity_db=-40.0).round(2)
    np.float64(-71.76)
    """
    level = np.asarray(sound_level_db, dtype=np.float64)
    return dbu_of_dbv(np.asarray(sensitivity_db, dtype=np.float64) + level - PASCAL_DB)


def dbfs_of_dbu(level_dbu: npt.ArrayLike, *, full_scale_dbu: npt.ArrayLike) -> Array:
    """Digital level of an analogue one.

    Parameters
    ----------
    level_dbu : array_like
        At the input of the converter. [dBu]
    full_scale_dbu : array_like
        Effective value of the sine that just fills the converter, such as
        :data:`EBU_FULL_SCALE_DBU`. [dBu]

    Returns
    -------
    ndarray
        Re the effective value of a full-scale sine, so that a square wave can reach +3. [dBFS]

    References
    ----------
    .. [1] ebu-r68:2000, alignment level −18 dBFS.
    .. [2] smpte-rp155:2004, reference level −20 dBFS.

    Examples
    --------
    >>> dbfs_of_dbu(4.0, full_scale_dbu=SMPTE_FULL_SCALE_DBU)
    np.float64(-20.0)
    """
    level = np.asarray(level_dbu, dtype=np.float64)
    return level - np.asarray(full_scale_dbu, dtype=np.float64)


def preamplifier_gain_db(
    sound_level_db: npt.ArrayLike,
    *,
    sensitivity_db: npt.ArrayLike,
    full_scale_dbu: npt.ArrayLike,
    average_dbfs: npt.ArrayLike = -20.0,
) -> Array:
    """Gain before the converter that brings average speech to a digital level.

    Parameters
    ----------
    sound_level_db : array_like
        Average speech at the capsule. [dB(A)]
    sensitivity_db : array_like
        [dB re 1 V/Pa]
    full_scale_dbu : array_like
        What fills the converter. [dBu]
    average_dbfs : array_like
        Wanted. [dBFS]

    Returns
    -------
    ndarray
        [dB]

    Notes
    -----
    Peaks of speech stand 12 to 18 dB over its average (common practice): −20 dBFS leaves them
    room. What a louder talker leaves is :func:`headroom_db`.

    Examples
    --------
    To −10 dBu from a microphone of 10 mV/Pa at 60 dB:

    >>> gain_db = preamplifier_gain_db(
    ...     60.0, sensitivity_db=-40.0, full_scale_dbu=10.0, average_dbfs=-20.0
    ... )
    >>> gain_db.round(1)
    np.float64(61.8)
    """
    wanted = np.asarray(full_scale_dbu, dtype=np.float64) + np.asarray(average_dbfs)
    return wanted - microphone_output_dbu(sound_level_db, sensitivity_db=sensitivity_db)


def headroom_db(
    sound_level_db: npt.ArrayLike,
    *,
    sensitivity_db: npt.ArrayLike,
    gain_db: npt.ArrayLike,
    full_scale_dbu: npt.ArrayLike,
    crest_db: npt.ArrayLike = 12.0,
) -> Array:
    """What the peaks of a sound leave of a converter.

    Parameters
    ----------
    sound_level_db : array_like
        Average at the capsule, of the loudest talker say. [dB]
    sensitivity_db : array_like
        [dB re 1 V/Pa]
    gain_db : array_like
        Before the converter. [dB]
    full_scale_dbu : array_like
        What fills the converter. [dBu]
    crest_db : array_like
        Peaks over average; speech has 12 to 18 (common practice). [dB]

    Returns
    -------
    ndarray
        Negative where peaks clip. [dB]

    Notes
    -----
    A peak is told as the effective value of the sine that is as high.

    Examples
    --------
    >>> headroom_db(60.0, sensitivity_db=-40.0, gain_db=61.76, full_scale_dbu=10.0).round(1)
    np.float64(8.0)
    """
    output = microphone_output_dbu(sound_level_db, sensitivity_db=sensitivity_db)
    level = dbfs_of_dbu(output + np.asarray(gain_db), full_scale_dbu=full_scale_dbu)
    return -level - np.asarray(crest_db, dtype=np.float64)


def thermal_noise_dbu(
    resistance: npt.ArrayLike, *, bandwidth: npt.ArrayLike = 20_000.0, temperature_c: float = 20.0
) -> Array:
    """Noise that a resistance has by itself: no preamplifier is quieter than its source.

    Parameters
    ----------
    resistance : array_like
        [Ω]
    bandwidth : array_like
        [Hz]
    temperature_c : float
        [°C]

    Returns
    -------
    ndarray
        [dBu]

    References
    ----------
    .. [1] nyquist-thermal:1928, mean squared voltage 4kTRB.

    Examples
    --------
    >>> thermal_noise_dbu(150.0).round(1)
    np.float64(-130.9)
    """
    source = np.asarray(resistance, dtype=np.float64) * np.asarray(bandwidth, dtype=np.float64)
    return dbu_of_dbv(energy_level_db(4.0 * _BOLTZMANN * (temperature_c + 273.15) * source))


def equivalent_acoustic_noise_db(
    input_noise_dbu: npt.ArrayLike, *, sensitivity_db: npt.ArrayLike
) -> Array:
    """Sound level that would be as loud as the noise of a preamplifier.

    Parameters
    ----------
    input_noise_dbu : array_like
        Equivalent input noise. [dBu]
    sensitivity_db : array_like
        Of the microphone before it. [dB re 1 V/Pa]

    Returns
    -------
    ndarray
        Weighted as the input noise is. [dB]

    Examples
    --------
    >>> equivalent_acoustic_noise_db(-129.0, sensitivity_db=-40.0).round(1)
    np.float64(2.8)
    """
    noise = dbv_of_dbu(input_noise_dbu)
    return noise - np.asarray(sensitivity_db, dtype=np.float64) + PASCAL_DB


def stage_noise_db(noise_db: npt.ArrayLike, *, gain_db: npt.ArrayLike) -> Array:
    """Noise at the end of a chain of stages.

    Parameters
    ----------
    noise_db : array_like, shape (..., stages)
        Of each stage at its own input, the first stage first; −∞ for one without. [dB]
    gain_db : array_like, shape (..., stages)
        [dB]

    Returns
    -------
    ndarray, shape (...)
        In the unit of the noises; less the sum of gains it is the noise at the first input. [dB]

    Examples
    --------
    A preamplifier of 60 dB before a line stage with much more noise:

    >>> stage_noise_db([-129.0, -90.0], gain_db=[60.0, 0.0]).round(2)
    np.float64(-68.97)
    """
    gains = np.asarray(gain_db, dtype=np.float64)
    after = np.cumsum(gains[..., ::-1], axis=-1)[..., ::-1]
    return sum_levels_db(np.asarray(noise_db, dtype=np.float64) + after)
