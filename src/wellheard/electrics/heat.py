"""Racks: what electronics turn into heat, what carries it away, and the circuit that feeds them."""

from __future__ import annotations

BTU_PER_HOUR = 3.412142
"""Of one watt. [BTU/h]"""

TON = 12000.0
"""Of cooling, 3.517 kW. [BTU/h]"""

SPEECH_SHARE = 1 / 8
"""Mean power of loud speech and music over an amplifier's rating (common practice, no source)."""

CONTINUOUS_SHARE = 0.8
"""Of a branch circuit for what runs for hours (NEC 210.20, from memory)."""

INLET_C = (27.0, 35.0)
"""Air at a rack's inlet: recommended, and the most (common practice after ASHRAE TC 9.9). [°C]"""

RACK_UNIT = 0.04445
"""Height of one unit, 1.75 in (EIA-310, from memory). [m]"""

RACK_WIDTH = 0.4826
"""Of a front panel, 19 in (EIA-310, from memory). [m]"""

SUPPLY_LOSS = 0.1
"""Lost in a power supply, of what it sends out (common practice, no source)."""

AIR = 1.2 * 1005.0
"""Heat that a cubic metre of air at 20 °C takes up for each kelvin. [J/(m³ K)]"""


def btu_per_hour(power: float) -> float:
    """Heat as air conditioning is ordered. [BTU/h]

    Examples
    --------
    >>> round(btu_per_hour(500), 1)
    1706.1
    """
    return BTU_PER_HOUR * power


def tons_of_cooling(power: float) -> float:
    """Heat in tons of cooling.

    Examples
    --------
    >>> round(tons_of_cooling(3517), 3)
    1.0
    """
    return btu_per_hour(power) / TON


def amplifier_heat(mains: float, *, audio: float) -> float:
    """Heat that an amplifier leaves where it stands: what it draws without what it sends out. [W]

    Parameters
    ----------
    mains : float
        Drawn at that level. [W]
    audio : float
        Mean power at its outputs. [W]

    Examples
    --------
    >>> amplifier_heat(230, audio=4 * 150 * SPEECH_SHARE)
    155.0
    """
    return max(mains - audio, 0.0)


def powering_heat(switch: float, *, supplied: float) -> float:
    """Heat of a switch that powers devices: its own, and what its supply loses on the way. [W]

    Parameters
    ----------
    switch : float
        Taken by the switch itself. [W]
    supplied : float
        Sent out to devices and their cables: it warms other places. [W]

    Notes
    -----
    Of what goes out a tenth more is lost in the supply (common practice, no source).

    Examples
    --------
    >>> powering_heat(32, supplied=100)
    42.0
    """
    return switch + SUPPLY_LOSS * supplied


def circuit_load(voltage: float, *, current: float) -> float:
    """Continuous load that a branch circuit may carry. [VA]

    Parameters
    ----------
    voltage : float
        [V]
    current : float
        Of its breaker. [A]

    Examples
    --------
    >>> circuit_load(120, current=15), circuit_load(120, current=20)
    (1440.0, 1920.0)
    """
    return CONTINUOUS_SHARE * voltage * current


def airflow(power: float, *, rise: float) -> float:
    """Air that carries heat away. [m³/s]

    Parameters
    ----------
    power : float
        [W]
    rise : float
        Of the air on its way through. [K]

    Examples
    --------
    >>> round(1000 * airflow(500, rise=10), 1)
    41.5
    """
    return power / (AIR * rise)
