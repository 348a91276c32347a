"""Power for loudspeakers and the wires that bring it: levels, taps, constant-voltage lines, copper.

::

    amplifier ═════ R/2 ═════╗          loss 20 lg(1 + R/Z)
     70.7 V                  Z = V²/P   R: both wires, Z: all taps,
              ═════ R/2 ═════╝             lumped at the far end
"""

from __future__ import annotations

import math
from collections.abc import Iterable

COPPER = 17.241e-9
"""Resistivity of annealed copper at 20 °C. [Ω m]"""

COPPER_PER_KELVIN = 0.00393
"""What a copper wire's resistance gains for each kelvin above 20 °C. [1/K]"""

STRANDED = 1.02
"""Resistance of stranded wire re solid of the same gauge."""

GAUGES = (18, 16, 14, 12, 10)
"""American wire gauges that loudspeaker cable is bought in, the thinnest first."""

LOSS_LIMIT_DB = 0.5
"""Loss in the wire that a loudspeaker line may have (common practice, no source). [dB]"""

AMPLIFIER_RESERVE = 0.2
"""Share of an amplifier's rating that taps leave free (common practice, no source)."""

RATED_VOLTAGE = math.sqrt(8.0)
"""Voltage of 1 W in 8 Ω, 2.83 V, at which many sheets state sensitivity. [V]"""


def level_at(distance: float, *, sensitivity_db: float, power: float) -> float:
    """Level of one loudspeaker's direct sound on its axis.

    Parameters
    ----------
    distance : float
        [m]
    sensitivity_db : float
        At 1 W and 1 m. [dB]
    power : float
        [W]

    Returns
    -------
    float
        [dB]

    Examples
    --------
    >>> round(level_at(1.8, sensitivity_db=90, power=4), 2)
    90.92
    """
    return sensitivity_db + 10 * math.log10(power) - 20 * math.log10(distance)


def power_for(level_db: float, *, crest_db: float, sensitivity_db: float, distance: float) -> float:
    """Power that an amplifier has to have for an average level with its peaks.

    Parameters
    ----------
    level_db : float
        Average on the axis. [dB]
    crest_db : float
        Of peaks over it: speech 12 to 18, programme 10 to 20 (common practice). [dB]
    sensitivity_db : float
        At 1 W and 1 m. [dB]
    distance : float
        [m]

    Returns
    -------
    float
        [W]

    Examples
    --------
    >>> round(power_for(70, crest_db=12, sensitivity_db=88, distance=1.8), 3)
    0.814
    """
    needed_db = level_db + crest_db - level_at(distance, sensitivity_db=sensitivity_db, power=1.0)
    return float(10 ** (needed_db / 10))


def sensitivity_per_watt_db(sensitivity_db: float, *, impedance: float) -> float:
    """Sensitivity at 1 W of one that a sheet states at 2.83 V. [dB]

    Examples
    --------
    >>> round(sensitivity_per_watt_db(90.0, impedance=4.0), 2)
    86.99
    """
    return sensitivity_db - 10 * math.log10(RATED_VOLTAGE**2 / impedance)


def amplifier_rating(powers: Iterable[float], *, reserve: float = AMPLIFIER_RESERVE) -> float:
    """Least rating of an amplifier channel for taps or loads of these powers.

    Parameters
    ----------
    powers : iterable of float
        [W]
    reserve : float
        Share of its rating that stays free.

    Returns
    -------
    float
        [W]

    Examples
    --------
    >>> amplifier_rating([6.0] * 8)
    60.0
    """
    return math.fsum(powers) / (1.0 - reserve)


def tap_impedance(power: float, *, voltage: float) -> float:
    """Load that a tap is to a constant-voltage line, ``V²/P``. [Ω]

    Parameters
    ----------
    power : float
        Of one tap, or of all of them together. [W]
    voltage : float
        Of the line. [V]

    Examples
    --------
    >>> tap_impedance(16, voltage=100)
    625.0
    """
    return voltage**2 / power


def tap_power(power: float, *, rated: float, voltage: float) -> float:
    """Power that a tap takes on a line of another voltage than it is marked for. [W]

    Parameters
    ----------
    power : float
        Marked. [W]
    rated, voltage : float
        Line that the mark is for, and the one that there is. [V]

    Examples
    --------
    >>> round(tap_power(8, rated=70.7, voltage=100), 2)
    16.0
    """
    return power * (voltage / rated) ** 2


def parallel(impedances: Iterable[float]) -> float:
    """Impedance of loads side by side. [Ω]

    Examples
    --------
    >>> parallel([8.0, 8.0])
    4.0
    """
    return 1.0 / math.fsum(1.0 / one for one in impedances)


def wire_diameter(awg: int) -> float:
    """Diameter of a solid wire, ``0.127 mm · 92^((36 − n)/39)``. [m]

    References
    ----------
    .. [1] astm-b258, diameter by gauge.

    Examples
    --------
    >>> round(1000 * wire_diameter(18), 3)
    1.024
    """
    return float(0.127e-3 * 92 ** ((36 - awg) / 39))


def wire_resistance(awg: int, *, temperature_c: float = 20.0, stranded: bool = False) -> float:
    """Resistance of one copper wire per metre.

    Parameters
    ----------
    awg : int
        American wire gauge, 0 to 40.
    temperature_c : float
        Of the wire. [°C]
    stranded : bool
        2 % more than solid.

    Returns
    -------
    float
        [Ω/m]

    Notes
    -----
    Copper-clad aluminium has more than half as much again.

    References
    ----------
    .. [1] astm-b258, diameter by gauge.

    Examples
    --------
    >>> round(1000 * wire_resistance(18), 2)
    20.95
    """
    solid = COPPER / (math.pi / 4 * wire_diameter(awg) ** 2)
    warm = 1.0 + COPPER_PER_KELVIN * (temperature_c - 20.0)
    return solid * warm * (STRANDED if stranded else 1.0)


def line_loss_db(length: float, *, awg: int, load: float) -> float:
    """Level lost in the two wires to a load at their far end.

    Parameters
    ----------
    length : float
        Of the cable, one way. [m]
    awg : int
        American wire gauge.
    load : float
        Impedance at the end; of a constant-voltage line V²/P of all its taps. [Ω]

    Returns
    -------
    float
        [dB]

    Notes
    -----
    ``20 lg(1 + R/Z)`` with R the loop; the whole load at the far end is the worst case.

    Examples
    --------
    >>> round(line_loss_db(30, awg=16, load=8.0), 3)
    0.818
    """
    loop = 2 * length * wire_resistance(awg)
    return 20 * math.log10(1 + loop / load)


def wire_share(length: float, *, awg: int, load: float) -> float:
    """Share of the amplifier's power that heats the wires instead of reaching the load.

    Parameters
    ----------
    length : float
        Of the cable, one way. [m]
    awg : int
        American wire gauge.
    load : float
        Impedance at the end. [Ω]

    Returns
    -------
    float
        ``R/(R + Z)``.

    Examples
    --------
    >>> round(wire_share(30, awg=18, load=8.0), 3)
    0.136
    """
    loop = 2 * length * wire_resistance(awg)
    return loop / (loop + load)


def longest_line(*, awg: int, load: float, loss_db: float = LOSS_LIMIT_DB) -> float:
    """Longest cable whose wires lose no more than ``loss_db``. [m]

    Examples
    --------
    >>> round(longest_line(awg=18, load=8.0), 1)
    11.3
    """
    return float(load * (10 ** (loss_db / 20) - 1) / (2 * wire_resistance(awg)))
