"""Power over twisted pair: what the wires take on the way, what is left, what a switch has.

::

    port  ═══════ R ═══════  device        I = P/V at the port, lost I²R, left P − I²R
    P, V                     P − (P/V)²R
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

RESERVE = 1.2
"""Budget of a switch over the sum of what its devices take (common practice, no source)."""


def current(power: float, *, voltage: float) -> float:
    """Current at the port, where its voltage is least. [A]

    Parameters
    ----------
    power : float
        At the port. [W]
    voltage : float
        At the port: 44 V of type 1, 50 V of types 2 and 3, 52 V of type 4. [V]

    References
    ----------
    .. [1] ieee802.3, least voltages of the types, via open tables.

    Examples
    --------
    >>> round(current(15.4, voltage=44), 3)
    0.35
    """
    return power / voltage


def cable_loss(power: float, *, voltage: float, resistance: float) -> float:
    """Power that heats a channel, ``(P/V)²·R``.

    Parameters
    ----------
    power, voltage : float
        At the port. [W], [V]
    resistance : float
        Of the whole loop: 20 Ω of 100 m for type 1, 12.5 Ω for type 2, and half of that where all
        four pairs carry. [Ω]

    Returns
    -------
    float
        [W]

    References
    ----------
    .. [1] ieee802.3, loop resistances of the types, via open tables.

    Examples
    --------
    >>> round(cable_loss(15.4, voltage=44, resistance=20), 2)
    2.45
    """
    return current(power, voltage=voltage) ** 2 * resistance


def device_power(power: float, *, voltage: float, resistance: float) -> float:
    """Power that is left at the device, ``P − (P/V)²·R``. [W]

    Parameters
    ----------
    power, voltage : float
        At the port. [W], [V]
    resistance : float
        Of the whole loop. [Ω]

    Examples
    --------
    >>> round(device_power(30, voltage=50, resistance=12.5), 2)
    25.5
    """
    return power - cable_loss(power, voltage=voltage, resistance=resistance)


def port_power(device: float, *, voltage: float, resistance: float) -> float:
    """Power that a port gives where the device takes so much. [W]

    The lesser root of ``P − (P/V)²·R = device``.

    Parameters
    ----------
    device : float
        Taken by the device. [W]
    voltage : float
        At the port. [V]
    resistance : float
        Of the whole loop. [Ω]

    Raises
    ------
    ValueError
        No power at the port leaves so much: more than ``V²/4R``.

    Examples
    --------
    >>> round(port_power(25.5, voltage=50, resistance=12.5), 3)
    30.0
    >>> port_power(8.0, voltage=50, resistance=0.0)
    8.0
    """
    if resistance == 0:
        return device
    root = voltage**2 - 4 * resistance * device
    if root < 0:
        raise ValueError(
            f"{device:g} W through {resistance:g} Ω at {voltage:g} V: at most "
            f"{voltage**2 / (4 * resistance):.1f} W arrive"
        )
    return voltage * (voltage - math.sqrt(root)) / (2 * resistance)


def loop_resistance(length: float, *, per_metre: float, pairs: int) -> float:
    """Resistance there and back, the two wires of a pair side by side. [Ω]

    Parameters
    ----------
    length : float
        Of the channel. [m]
    per_metre : float
        Of one wire. [Ω/m]
    pairs : {2, 4}
        That carry the power: two there and back, or four.

    Notes
    -----
    A pair carries on both its wires: there is half a wire's resistance, and back the same; four
    pairs halve it again.

    Examples
    --------
    >>> round(loop_resistance(100, per_metre=0.0842, pairs=2), 2)
    8.42
    """
    return length * per_metre * 2 / pairs


@dataclass(frozen=True)
class Budget:
    """What a switch must supply, against what it has.

    Parameters
    ----------
    drawn : float
        Sum of what the devices take. [W]
    wanted : float
        With the reserve. [W]
    has : float
        [W]
    """

    drawn: float
    wanted: float
    has: float

    @property
    def enough(self) -> bool:
        """Whether the switch has what is wanted."""
        return self.wanted <= self.has * (1 + 1e-9)

    @property
    def spare(self) -> float:
        """What is left over; negative where it is too little. [W]"""
        return self.has - self.wanted


def budget(powers: Iterable[float], *, has: float, reserve: float = RESERVE) -> Budget:
    """Weigh what devices take against the budget of a switch.

    Parameters
    ----------
    powers : iterable of float
        What each device takes, at the device. [W]
    has : float
        Of the switch, for all its ports together. [W]
    reserve : float
        Factor on the sum, for the cables and what is added later.

    Examples
    --------
    >>> budget([12.95] * 4, has=65.0).enough, round(budget([12.95] * 4, has=65.0).wanted, 2)
    (True, 62.16)
    """
    drawn = math.fsum(powers)
    return Budget(drawn=drawn, wanted=reserve * drawn, has=has)
