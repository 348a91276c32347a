"""Sizes and lengths as they are typed on a command line."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from wellheard.units import Unit


def room_size(text: str, unit: Unit) -> tuple[float, float, float]:
    """Length, width and height of ``6.4x4.6x2.75``. [m]"""
    from wellheard.errors import UsageError

    parts = text.replace("×", "x").replace("X", "x").split("x")
    try:
        long, wide, high = (_length(part, unit) for part in parts)
    except ValueError:
        raise UsageError(
            f"--size: {text!r} is no size; three lengths with x between them, as 6.4x4.6x2.75, or "
            "20x14x9 with --units ft"
        ) from None
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


def _length(text: str, unit: Unit) -> float:
    """A bare number has the command's unit; anything else says its own."""
    from wellheard.units import parse_length

    try:
        return parse_length(float(text), unit=unit)
    except ValueError:
        return parse_length(text.strip(), unit=unit)
