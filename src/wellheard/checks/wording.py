"""How findings word lengths, chances and names, in the document's own units."""

from __future__ import annotations

from collections.abc import Sequence

from wellheard.predict.evidence import Evidence, Talker
from wellheard.units import FOOT, INCH, Unit, format_length

PRINTED_STEP: dict[Unit, float] = {"m": 0.01, "ft": INCH / 8}
"""Step of lengths as `length` prints them. [m]"""
PRINTED_STEP_DB = 0.1
"""Step of levels as `decibels` prints them. [dB]"""


def length(evidence: Evidence, metres: float) -> str:
    """Length as the reader of this document expects it."""
    return format_length(metres, unit=evidence.room.units)


def some_length(evidence: Evidence, metres: float) -> str:
    """Length that somebody is asked to make up: never printed as nothing."""
    return length(evidence, max(metres, PRINTED_STEP[evidence.room.units]))


def area(evidence: Evidence, square_metres: float) -> str:
    """Area as the reader of this document expects it: m², or ft² beside lengths in feet."""
    if evidence.room.units == "ft":
        return f"{square_metres / FOOT**2:.1f} ft²"
    return f"{square_metres:.2f} m²"


def volume(evidence: Evidence, cubic_metres: float) -> str:
    """Volume as the reader of this document expects it: m³, or ft³ beside lengths in feet."""
    if evidence.room.units == "ft":
        return f"{cubic_metres / FOOT**3:.0f} ft³"
    return f"{cubic_metres:.0f} m³"


def about(evidence: Evidence, square_metres: float) -> str:
    """Area that is an estimate, in whole m² or ft²."""
    if evidence.room.units == "ft":
        return f"{square_metres / FOOT**2:.0f} ft²"
    return f"{square_metres:.0f} m²"


def percent(share: float) -> str:
    """Share in whole percent; what is not quite all or nothing never reads as that.

    Examples
    --------
    >>> percent(0.123), percent(0.9996), percent(0.0), percent(1.0)
    ('12 %', 'over 99 %', '0 %', '100 %')
    """
    if 0.995 <= share < 1.0:
        return "over 99 %"
    if 0.0 < share < 0.005:
        return "under 1 %"
    return f"{100 * share:.0f} %"


def short_of(value: str, target: str) -> str:
    """A value that falls short of a target, even where both print alike.

    Examples
    --------
    >>> short_of("0.58", "0.62"), short_of("0.62", "0.62")
    ('0.58', 'just under 0.62')
    """
    return f"just under {target}" if value == target else value


def decibels(value_db: float) -> str:
    """Level with one decimal and a true minus sign.

    Examples
    --------
    >>> decibels(-6.04), decibels(3.0)
    ('−6.0 dB', '3.0 dB')
    """
    return f"{value_db:.1f} dB".replace("-", "−")


def some_decibels(value_db: float) -> str:
    """Level that somebody is asked to make up: never printed as nothing.

    Examples
    --------
    >>> some_decibels(0.004), some_decibels(1.21), some_decibels(3.0)
    ('0.1 dB', '1.2 dB', '3.0 dB')
    """
    return decibels(max(value_db, PRINTED_STEP_DB))


def place(talker: Talker) -> str:
    """Name of a talking point: its id, and that it is a standing one."""
    return talker.id if talker.kind == "seat" else f"{talker.id} (standing)"


def listed(names: Sequence[str], *, most: int = 6) -> str:
    """Names in a row, shortened where there are many.

    Examples
    --------
    >>> listed(["m1"]), listed(["m1", "m2", "m3"]), listed(list("abcd"), most=2)
    ('m1', 'm1, m2 and m3', 'a, b and 2 more')
    """
    if len(names) > most:
        return f"{', '.join(names[:most])} and {len(names) - most} more"
    return " and ".join(filter(None, (", ".join(names[:-1]), names[-1])))
