"""What the fields of a data sheet are made of, beyond what every text has."""

from __future__ import annotations

import math
import re
import unicodedata
from typing import Annotated, Any

from pydantic import BeforeValidator, Field

from wellheard.catalog.products import Fit, PortKind
from wellheard.forms.fields import (
    Extent,
    Length,
    LengthRule,
    Number,
    Text,
    items,
    refuse,
    shown,
)

_INVISIBLE = frozenset({"Cc", "Cf", "Co", "Cs", "Zl", "Zp"})
_PATH = re.compile(r"(^|[\\/])\.\.([\\/]|$)|^[\\/~]|^[A-Za-z]:[\\/]")


def _name(value: Any) -> Any:
    if not isinstance(value, str):
        return value  # the field itself says that it is no text
    if not value.strip():
        refuse("an empty text", "a name of 1 to 100 characters")
    if len(value) > 100:
        refuse(f"text of {len(value)} characters", "at most 100 characters")
    if any(unicodedata.category(c) in _INVISIBLE for c in value):
        refuse("text with line ends, control or invisible characters", "printable text on one line")
    if _PATH.search(value):
        refuse(f"{shown(value)} reads like the path of a file", "a name for people")
    return value


def _stated(value: Any) -> Any:
    if isinstance(value, str) and not value.strip():
        refuse("an empty text", "where the figures come from, to be found again")
    return value


def _whole(value: Any) -> Any:
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if not number or not math.isfinite(value) or value != int(value):
        refuse(f"{shown(value)} is no whole number", "a whole number without quotes")
    return int(value)


def _currency(value: Any) -> Any:
    if not isinstance(value, str) or not re.fullmatch(r"[A-Z]{3}", value):
        refuse(f"{shown(value)} is no currency", "three capital letters (ISO 4217), as in EUR")
    return value


def _box(value: Any) -> Any:
    if not isinstance(value, list | tuple) or len(value) != 3:
        refuse(f"{shown(value)} is no size", "three lengths, [width, depth, height]")
    return tuple(value)


def _steps(value: Any) -> Any:
    if not isinstance(value, list | tuple) or len(value) not in (0, 3):
        refuse(
            f"{shown(value)} is no set of rated distances",
            "three lengths, [clear, usual, last resort]",
        )
    return tuple(value)


def _tile(value: Any) -> Any:
    if not isinstance(value, list | tuple) or len(value) != 2:
        refuse(f"{shown(value)} is no tile", "two lengths, [width, length]")
    return tuple(value)


Name = Annotated[Text, BeforeValidator(_name)]
"""Text on one line, for people."""
Whole = Annotated[int, BeforeValidator(_whole)]
Count = Annotated[Whole, Field(ge=0, le=1024)]
Amount = Annotated[Number, Field(ge=0)]
"""0 or more: money, time, power."""
Share = Annotated[Number, Field(gt=0, le=1)]
"""A ratio: 0.01 is 1 %."""
Currency = Annotated[str, BeforeValidator(_currency)]
Run = Annotated[float, LengthRule(above=0.0, at_most=2000.0)]
"""Length of a cable. [m]"""
Fits = Annotated[tuple[Fit, ...], BeforeValidator(items)]
Names = Annotated[tuple[Name, ...], BeforeValidator(items)]
Kinds = Annotated[tuple[PortKind, ...], BeforeValidator(items)]
Amounts = Annotated[tuple[Amount, ...], BeforeValidator(items)]
Lengths = Annotated[tuple[Length, ...], BeforeValidator(items)]
Box = Annotated[tuple[Extent, Extent, Extent], BeforeValidator(_box)]
"""(width, depth, height) [m]"""
Tile = Annotated[tuple[Extent, Extent], BeforeValidator(_tile)]
"""(width, length) [m]"""
Steps = Annotated[tuple[Extent, ...], BeforeValidator(_steps)]
"""Clear, usual, last resort, or none. [m]"""
Stated = Annotated[Text, BeforeValidator(_stated)]
"""Text that has to say something."""
