"""How far links and loudspeaker lines run: stated limits, and the loss of a copper pair."""

from __future__ import annotations

import math
from dataclasses import dataclass

from wellheard import tables
from wellheard.catalog.ports import PortKind, Signal

COPPER = 17.241e-9
"""Resistivity of annealed copper at 20 °C. [Ω m]"""

LOSS_LIMIT_DB = 0.5
"""Loss in the wire that a loudspeaker line may have (common practice, no source). [dB]"""

GAUGES = (18, 16, 14, 12, 10)
"""American wire gauges that loudspeaker cable is bought in, the thinnest first."""


@dataclass(frozen=True)
class LinkLimit:
    """Longest run of a kind of link where the product states none. [m]"""

    length: float
    says: str
    source: str
    trust: str


def link_limit(kind: PortKind, signal: Signal) -> LinkLimit | None:
    """Usual limit of a kind of link; None for a loudspeaker line, whose loss decides.

    Examples
    --------
    >>> link_limit("usb", "audio").length
    5.0
    """
    for row in tables.load("link_limits").rows:
        if (row["kind"], row["signal"]) == (kind, signal):
            return LinkLimit(float(row["length"]), row["says"], row["source"], row["trust"])
    return None


def wire_resistance(awg: int) -> float:
    """Resistance of one solid copper wire per metre at 20 °C.

    Parameters
    ----------
    awg : int
        American wire gauge, 0 to 40.

    Returns
    -------
    float
        [Ω/m]

    Notes
    -----
    Stranded wire has about 2 % more; copper-clad aluminium more than half as much again.

    References
    ----------
    .. [1] astm-b258, diameter by gauge.

    Examples
    --------
    >>> round(1000 * wire_resistance(18), 2)
    20.95
    """
    diameter = 0.127e-3 * 92 ** ((36 - awg) / 39)
    return COPPER / (math.pi / 4 * diameter**2)


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


def longest_line(*, awg: int, load: float, loss_db: float = LOSS_LIMIT_DB) -> float:
    """Longest cable whose wires lose no more than ``loss_db``. [m]

    Examples
    --------
    >>> round(longest_line(awg=18, load=8.0), 1)
    11.3
    """
    return load * (10 ** (loss_db / 20) - 1) / (2 * wire_resistance(awg))
