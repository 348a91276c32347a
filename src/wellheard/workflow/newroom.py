"""What is typed to begin a room, checked field by field before anything is made of it."""

from __future__ import annotations

from collections.abc import Mapping

from wellheard.errors import UsageError
from wellheard.room.new import FEWEST_SEATS, MOST_SEATS, SIZES, starting_document
from wellheard.units import Unit, format_length, parse_length

USUAL: dict[Unit, dict[str, str]] = {
    "m": {"length": "6.4 m", "width": "4.6 m", "height": "2.75 m", "seats": "10"},
    "ft": {"length": "20 ft", "width": "14 ft", "height": "9 ft", "seats": "10"},
}
"""A room to begin with, by the unit of the reader."""


def length_typed(text: str, *, unit: Unit) -> float:
    """Length in metres of text as people type it: a bare number is in their unit.

    Raises
    ------
    ValueError
        It is no length; what was found and what is allowed.

    Examples
    --------
    >>> length_typed("6.4", unit="m"), length_typed("21'", unit="m"), length_typed("2", unit="ft")
    (6.4, 6.4008, 0.6096)
    """
    plain = text.strip()
    if not plain:
        raise ValueError("nothing is here; write a length such as 6.4 m or 21 ft")
    try:
        bare = float(plain.replace("−", "-"))
    except ValueError:
        return parse_length(plain, unit=unit)
    return parse_length(bare, unit=unit)


def problems(typed: Mapping[str, str], *, unit: Unit) -> dict[str, str]:
    """What is wrong with a room's sides and seats, by field; empty where nothing is.

    Parameters
    ----------
    typed : mapping
        Text of ``length``, ``width``, ``height`` and ``seats``.
    unit : {"m", "ft"}
        Of bare numbers, and of what is told.

    Examples
    --------
    >>> problems({"length": "6 m", "width": "4 m", "height": "9 m", "seats": "ten"}, unit="m")
    {'seats': "'ten' is no number; 2 to 24 seats fit at one table"}
    """
    found: dict[str, str] = {}
    sides: list[float] = []
    for name, (low, high) in SIZES.items():
        try:
            side = length_typed(typed.get(name, ""), unit=unit)
        except ValueError as error:
            found[name] = str(error)
            continue
        sides.append(side)
        if not low <= side <= high:
            least, most = (format_length(limit, unit=unit) for limit in (low, high))
            found[name] = (
                f"{format_length(side, unit=unit)} in {name}; {least} to {most} is allowed"
            )
    text = typed.get("seats", "").strip()
    seats = int(text) if text.isascii() and text.isdigit() and len(text) < 6 else None
    if seats is None or not FEWEST_SEATS <= seats <= MOST_SEATS:
        shown = repr(text if len(text) <= 20 else text[:20] + "…")
        said = f"{seats} seats" if seats is not None else f"{shown} is no number"
        found["seats"] = f"{said}; {FEWEST_SEATS} to {MOST_SEATS} seats fit at one table"
    if not found:
        try:
            starting_document((sides[0], sides[1], sides[2]), seats or 0, unit)
        except UsageError as error:
            found["seats"] = str(error)
    return found
