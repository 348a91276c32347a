"""Decay times that are recommended for rooms in which people talk with each other."""

from __future__ import annotations

import math
from typing import Final

SMALLEST: Final = 30.0
LARGEST: Final = 5000.0
"""Volumes for which the standard recommends a time for speech and communication. [m³]"""
LARGEST_INCLUSIVE: Final = 500.0

LONGEST_RE_RECOMMENDED: Final = (1.45, 1.2, 1.2, 1.2, 1.2, 1.2, 1.2)
"""Longest time over the recommended one by octave, 125 Hz to 8 kHz: upper edge of the tolerance of
group A (din18041:2016, figure 2, via two open programs)."""


def recommended_time_communication(volume: float) -> float:
    """Reverberation time of DIN 18041:2016, use A3, for a volume of 30 to 5000 m³. [s]

    Examples
    --------
    >>> [round(recommended_time_communication(v), 2) for v in (50, 100, 200)]
    [0.37, 0.47, 0.57]
    """
    return 0.32 * math.log10(volume) - 0.17


def recommended_time_inclusive(volume: float) -> float:
    """Reverberation time of DIN 18041:2016, use A4, for a volume of 30 to 500 m³. [s]

    Examples
    --------
    >>> [round(recommended_time_inclusive(v), 2) for v in (50, 100, 200)]
    [0.3, 0.38, 0.46]
    """
    return 0.26 * math.log10(volume) - 0.14
