"""Voltage along a run of direct current, and why its wires are copper.

Resistances are those of `wellheard.acoustics.line.wire_resistance`: by gauge, as warm as the wire
is, stranded or solid.
"""

from __future__ import annotations

import math
from typing import Literal, TypeAlias

from wellheard.errors import InputError

Conductor: TypeAlias = Literal["copper", "copper-clad aluminium"]

CLAD = 1.6
"""Resistance of copper-clad aluminium over copper of its gauge, 1.55 to 1.6 (common practice)."""


def conductor_resistance(copper: float, *, conductor: Conductor) -> float:
    """Resistance of a wire by its metal. [Ω/m]

    Parameters
    ----------
    copper : float
        Of copper of its gauge. [Ω/m]
    conductor : {"copper", "copper-clad aluminium"}
        Metal of its wires.

    Examples
    --------
    >>> round(conductor_resistance(0.084, conductor="copper-clad aluminium"), 4)
    0.1344
    """
    return copper * (CLAD if conductor == "copper-clad aluminium" else 1.0)


def powered_loop(length: float, *, per_metre: float, conductor: Conductor) -> float:
    """Resistance there and back of two wires that carry power. [Ω]

    Parameters
    ----------
    length : float
        Of the cable, one way. [m]
    per_metre : float
        Of one wire. [Ω/m]
    conductor : {"copper", "copper-clad aluminium"}
        Metal of its wires.

    Raises
    ------
    InputError
        Copper-clad aluminium is refused: it heats more than half as much again, breaks at
        terminals, and no standard for power over twisted pair admits it.

    Examples
    --------
    >>> powered_loop(50, per_metre=0.02, conductor="copper")
    2.0
    """
    if conductor != "copper":
        raise InputError(
            f"a cable with conductors of {conductor} carries no power: "
            f"take solid copper, which has {100 / CLAD:.0f} % of its resistance"
        )
    return 2 * length * per_metre


def voltage_drop(current: float, *, resistance: float) -> float:
    """Voltage lost on a loop, ``I·R``. [V]

    Examples
    --------
    >>> voltage_drop(0.5, resistance=2.0)
    1.0
    """
    return current * resistance


def end_voltage(voltage: float, *, power: float, resistance: float) -> float | None:
    """Voltage at a device that takes the same power whatever it gets. [V]

    Parameters
    ----------
    voltage : float
        Of the supply. [V]
    power : float
        Taken by the device. [W]
    resistance : float
        Of the loop. [Ω]

    Returns
    -------
    float or None
        The greater root of ``U² − V·U + P·R = 0``; None where so much power does not arrive: the
        voltage collapses.

    Examples
    --------
    >>> end_voltage(24, power=20, resistance=4.0), end_voltage(24, power=40, resistance=4.0)
    (20.0, None)
    """
    inside = voltage**2 - 4 * power * resistance
    return None if inside < 0 else (voltage + math.sqrt(inside)) / 2


def longest_run(
    voltage: float, *, power: float, least_voltage: float, per_metre: float, wires: int = 1
) -> float:
    """Longest cable at whose end a device still gets its least voltage. [m]

    Parameters
    ----------
    voltage, least_voltage : float
        Of the supply; that the device works with. [V]
    power : float
        Taken by the device. [W]
    per_metre : float
        Of one wire, as warm as it is. [Ω/m]
    wires : int
        Side by side, each way.

    Examples
    --------
    >>> round(longest_run(24, power=20, least_voltage=20, per_metre=0.04), 1)
    50.0
    """
    loop = (voltage - least_voltage) * least_voltage / power
    return max(loop, 0.0) * wires / (2 * per_metre)
