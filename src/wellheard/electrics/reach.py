"""How far signals run in copper: lines that a cable's capacitance dulls, and serial control."""

from __future__ import annotations

import math

RS232_LOAD = 2500e-12
"""Capacitance that a driver of RS-232 feeds (TIA-232-F, from memory). [F]"""

RS485_LONGEST = 1200.0
"""At 100 kbit/s and less (TIA-485-A lineage, from memory; 4000 ft). [m]"""

RS485_PRODUCT = 1.2e8
"""Length by rate above that, on a line with terminations (common practice). [m bit/s]"""

CAPACITANCE = 100e-12
"""Of screened twisted pair, wire to wire (common practice). [F/m]"""


def corner_frequency(
    length: float, *, source_resistance: float, capacitance: float = CAPACITANCE
) -> float:
    """Frequency at which a cable has taken 3 dB, ``1/(2π R C′ ℓ)``. [Hz]

    Parameters
    ----------
    length : float
        [m]
    source_resistance : float
        Of what drives it. [Ω]
    capacitance : float
        Of the cable. [F/m]

    Examples
    --------
    >>> round(corner_frequency(300, source_resistance=200) / 1000, 1)
    26.5
    """
    return 1 / (2 * math.pi * source_resistance * capacitance * length)


def longest_line(
    corner: float, *, source_resistance: float, capacitance: float = CAPACITANCE
) -> float:
    """Longest cable that takes 3 dB no lower than ``corner``. [m]

    Examples
    --------
    >>> round(longest_line(20000, source_resistance=200))
    398
    """
    one = corner_frequency(1.0, source_resistance=source_resistance, capacitance=capacitance)
    return one / corner


def rs232_reach(*, capacitance: float = 160e-12) -> float:
    """Longest cable of RS-232 at 19.2 kbit/s. [m]

    Parameters
    ----------
    capacitance : float
        Of the cable, wire to screen and neighbours. [F/m]

    Examples
    --------
    >>> round(rs232_reach(), 1)
    15.6
    """
    return RS232_LOAD / capacitance


def rs485_reach(rate: float) -> float:
    """Longest line of RS-485. [m]

    Parameters
    ----------
    rate : float
        [bit/s]

    Examples
    --------
    >>> rs485_reach(9600), rs485_reach(1e6)
    (1200.0, 120.0)
    """
    return min(RS485_LONGEST, RS485_PRODUCT / rate)
