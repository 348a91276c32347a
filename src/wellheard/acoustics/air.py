"""Sound in still air: its speed and what the air takes away."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from wellheard.arrays import Array
from wellheard.units import kelvin

ATMOSPHERE = 101_325.0
"""Standard pressure. [Pa]"""

_TRIPLE_POINT = 273.16
_REFERENCE = 293.15
_NEPERS = 10.0 * np.log10(np.e)


def speed_of_sound(temperature_c: npt.ArrayLike) -> Array:
    """Speed of sound in dry air at room temperatures.

    Parameters
    ----------
    temperature_c : array_like
        [°C]

    Returns
    -------
    ndarray
        Same shape. [m/s]

    References
    ----------
    .. [1] iso9613-1:1993, reference speed 343.2 m/s at 20 °C, via python-acoustics.

    Examples
    --------
    >>> speed_of_sound([20.0, 22.0]).round(2)
    array([343.2 , 344.37])
    """
    return 343.2 * np.sqrt((_celsius(temperature_c)) / _REFERENCE)


def attenuation_db_per_m(
    frequency: npt.ArrayLike,
    *,
    temperature_c: float,
    humidity: float,
    pressure: float = ATMOSPHERE,
) -> Array:
    """Pure-tone attenuation by still air.

    Parameters
    ----------
    frequency : array_like
        Nominal and exact mid-bands differ by up to 1.4 % at 8 kHz: choose one. [Hz]
    temperature_c : float
        −20 to 50 for the ±10 % that the standard claims. [°C]
    humidity : float
        Relative humidity, 0–1.
    pressure : float
        [Pa]

    Returns
    -------
    ndarray
        Same shape as ``frequency``. [dB/m]

    Raises
    ------
    ValueError
        If the humidity is no ratio between 0 and 1.

    Notes
    -----
    Over long paths a wide band loses less than its mid-band tone.

    References
    ----------
    .. [1] iso9613-1:1993, clause 6, via python-acoustics and pyfar.

    Examples
    --------
    >>> attenuation_db_per_m([1000.0, 4000.0], temperature_c=20.0, humidity=0.5).round(4)
    array([0.0047, 0.0297])
    """
    if not 0.0 <= humidity <= 1.0:
        raise ValueError(f"humidity {humidity} is not a ratio between 0 and 1; 50 % is 0.5")
    p = pressure / ATMOSPHERE
    T = kelvin(temperature_c)
    t = T / _REFERENCE
    saturation = 10.0 ** (4.6151 - 6.8346 * (_TRIPLE_POINT / T) ** 1.261)
    h = 100.0 * humidity * saturation / p  # molar concentration of water vapour, percent
    f_o = p * (24.0 + 40_400.0 * h * (0.02 + h) / (0.391 + h))
    f_n = p * t**-0.5 * (9.0 + 280.0 * h * np.exp(-4.170 * (t ** (-1.0 / 3.0) - 1.0)))
    f2 = np.square(np.asarray(frequency, dtype=np.float64))
    oxygen = 0.01275 * np.exp(-2239.1 / T) / (f_o + f2 / f_o)
    nitrogen = 0.1068 * np.exp(-3352.0 / T) / (f_n + f2 / f_n)
    return 8.686 * f2 * (1.84e-11 * np.sqrt(t) / p + t**-2.5 * (oxygen + nitrogen))


def power_attenuation(
    frequency: npt.ArrayLike,
    *,
    temperature_c: float,
    humidity: float,
    pressure: float = ATMOSPHERE,
) -> Array:
    """Share of the power that still air takes per metre: the m of 4mV.

    Parameters
    ----------
    frequency : array_like
        [Hz]
    temperature_c : float
        [°C]
    humidity : float
        Relative humidity, 0–1.
    pressure : float
        [Pa]

    Returns
    -------
    ndarray
        Same shape as ``frequency``. [1/m]

    Raises
    ------
    ValueError
        If the humidity is no ratio between 0 and 1.

    References
    ----------
    .. [1] iso9613-1:1993, clause 6, via python-acoustics and pyfar.

    Examples
    --------
    >>> power_attenuation([4000.0], temperature_c=20.0, humidity=0.5).round(5)
    array([0.00683])
    """
    attenuation = attenuation_db_per_m(
        frequency, temperature_c=temperature_c, humidity=humidity, pressure=pressure
    )
    return attenuation / _NEPERS


def _celsius(temperature_c: npt.ArrayLike) -> Array:
    return kelvin(0.0) + np.asarray(temperature_c, dtype=np.float64)
