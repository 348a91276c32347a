"""Sizes and lengths as they are typed on a command line."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from wellheard.units import Unit

_NAMED = re.compile(r"([0-9.]+) *(m|cm|ft|feet)")
"""A number with a unit of its own."""


def room_size(text: str, unit: Unit) -> tuple[float, float, float]:
    """Length, width and height of ``6.4x4.6x2.75``, or of ``30x18x9 ft``. [m]"""
    from wellheard.errors import UsageError

    parts = [part.strip() for part in text.replace("×", "x").replace("X", "x").split("x")]
    named = _NAMED.fullmatch(parts[-1])
    if named and all(_is_bare(part) for part in parts[:-1]):
        # A unit behind the last speaks for all three.
        parts = [f"{part} {named[2]}" for part in (*parts[:-1], named[1])]
    try:
        long, wide, high = (_length(part, unit) for part in parts)
    except ValueError:
        raise UsageError(
            f"--size: {text!r} is no size; three lengths with x between them, as 6.4x4.6x2.75, or "
            "20x14x9 with --units ft"
        ) from None
    if len({_is_bare(part) for part in parts}) > 1:
        raise UsageError(
            f"--size: {text!r} has a unit with some of its lengths; give one to each, or one "
            "behind the last for all, as 30x18x9 ft"
        )
    return (long, wide, high)


def run_length(text: str, unit: Unit) -> float:
    """Length of a run such as ``40``, ``40 m`` or ``130 ft``, more than 0. [m]"""
    from wellheard.errors import UsageError

    try:
        length = _length(text, unit)
    except ValueError:
        length = 0.0
    if not 0 < length < 1e5:
        raise UsageError(f"{text!r} is no length of a run; such as 40, 40 m or 130 ft")
    return length


def place_length(text: str, unit: Unit, option: str) -> float:
    """A length such as ``1.2``, ``1.2 m`` or ``4 ft`` that an option takes. [m]"""
    from wellheard.errors import UsageError

    try:
        return _length(text, unit)
    except ValueError:
        raise UsageError(
            f"{option}: {text!r} is no length; such as 1.2, 1.2m or '3 ft 11 in'"
        ) from None


def plan_point(text: str, unit: Unit, option: str) -> tuple[float, float]:
    """A point of the plan such as ``1.2,3.4`` or ``4 ft,11 ft``. [m]"""
    from wellheard.errors import UsageError

    parts = text.split(",")
    if len(parts) != 2:
        raise UsageError(f"{option}: {text!r} is no point of the plan; x and y, as 1.2,3.4")
    x, y = (place_length(part.strip(), unit, option) for part in parts)
    return x, y


def spoken_unit(text: str, unit: Unit) -> Unit:
    """Unit that a length was typed in: its own where it names feet or inches, else ``unit``."""
    if _is_bare(text):
        return unit
    return "ft" if re.search(r"f|in|['\"′″]", text) else "m"


def _is_bare(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def _length(text: str, unit: Unit) -> float:
    """A bare number has the command's unit; anything else says its own."""
    from wellheard.units import parse_length

    try:
        return parse_length(float(text), unit=unit)
    except ValueError:
        return parse_length(text.strip(), unit=unit)
