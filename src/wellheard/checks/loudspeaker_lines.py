"""What hangs on an amplifier's output: at low impedance or as a line, and how much."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal, TypeAlias

from wellheard.acoustics.line import AMPLIFIER_RESERVE, parallel
from wellheard.catalog.products import Amplifier
from wellheard.checks.cabling import Hung
from wellheard.predict.evidence import Evidence
from wellheard.signal.ports import split

Mode: TypeAlias = Literal["low-impedance", "constant-voltage"]


def modes_of(evidence: Evidence, port: str, several: Sequence[Hung]) -> tuple[Mode, ...]:
    """Ways in which an output can drive what hangs on it, low impedance first.

    Empty where it is no amplifier's, or where amplifier and loudspeakers do not go together.
    """
    amplifier = evidence.signal.product(split(port)[0])
    if not isinstance(amplifier, Amplifier):
        return ()
    line = bool(amplifier.line_voltages) and all(one.product.taps_w for one in several)
    modes: list[Mode] = []
    # Where a line is possible, a load that is too low means that it is one.
    if amplifier.minimum_impedance > 0 and not (line and load(several) < least(amplifier)):
        modes.append("low-impedance")
    if line:
        modes.append("constant-voltage")
    return tuple(modes)


def load(several: Sequence[Hung]) -> float:
    """Impedance of loudspeakers side by side. [Ω]"""
    each = [one.product.impedance for one in several for _ in range(math.ceil(one.units))]
    return parallel(each)


def least(amplifier: Amplifier) -> float:
    """Least load of its channels, less a hair for rounding. [Ω]"""
    return amplifier.minimum_impedance * (1 - 1e-9)


def tap_of(evidence: Evidence, one: Hung) -> float | None:
    """The tap that playback needs of each of its units; None where it is not known. [W]"""
    drives = () if evidence.playback is None else evidence.playback.drives
    taps = [drive.tap_w for drive in drives if drive.loudspeaker.partition(".")[0] == one.device]
    known = [tap for tap in taps if tap is not None]
    return max(known) if known and len(known) == len(taps) else None


def line_room(amplifier: Amplifier) -> float:
    """Power that the taps of one channel may take together. [W]"""
    return amplifier.channel_power_w * (1.0 - AMPLIFIER_RESERVE)
