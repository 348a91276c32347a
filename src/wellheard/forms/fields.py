"""What the fields of a user's text are made of: lengths, points, plain numbers, ids.

Lengths arrive as numbers in the document's declared units or as text with a unit, and are metres
ever after. The declared unit reaches them through pydantic's validation context
(``context={"unit": "ft"}``); a whole `Room` sets it itself from its ``units``. What is already a
model, and every default, is SI.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from typing import Annotated, Any, NoReturn

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    PlainSerializer,
    SerializationInfo,
    ValidationInfo,
    WithJsonSchema,
)
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from wellheard.units import FOOT, INCH, LENGTH_FORMS, Unit, parse_length

LONGEST = 200.0
"""Largest coordinate or dimension that a meeting room may have. [m]"""

_declared: ContextVar[Unit | None] = ContextVar("declared unit of length", default=None)


class Frozen(BaseModel):
    """Base of every part of the document: immutable, no unknown fields."""

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        allow_inf_nan=False,
        populate_by_name=True,
        protected_namespaces=(),
    )


def refuse(what: str, allowed: str) -> NoReturn:
    """Refuse a value while it is validated, saying what it is and what is allowed."""
    raise PydanticCustomError("refused", "{what}; {allowed}", {"what": what, "allowed": allowed})


def shown(value: object) -> str:
    """Found value in a message: short, and of one line."""
    if isinstance(value, dict):
        return "a mapping"
    if isinstance(value, list | tuple):
        return f"a list of {len(value)}" if value else "an empty list"
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return str(value).lower()
    text = repr(value)
    return text if len(text) <= 44 else text[:40] + "…" + text[:1]


@contextmanager
def declared_unit(unit: Unit) -> Iterator[None]:
    """Let bare lengths be in ``unit`` while a document is validated."""
    token = _declared.set(unit)
    try:
        yield
    finally:
        _declared.reset(token)


def default_unit() -> Unit:
    """Unit of the document under validation, for defaults that go with it; else metres."""
    return _declared.get() or "m"


def unit_of(info: ValidationInfo) -> Unit:
    """Unit of bare lengths: the document's, else the validation context's, else metres."""
    return _declared.get() or (info.context or {}).get("unit", "m")


LENGTH_SCHEMA: dict[str, Any] = {
    "anyOf": [{"type": "number"}, {"type": "string", "pattern": "[0-9½¼¾⅛⅜⅝⅞]"}],
    "description": "Length: a number in the document's units, or text with a unit",
}


@dataclass(frozen=True)
class LengthRule:
    """Pydantic annotation: a float in metres from a number or text, within limits in metres."""

    at_least: float = -LONGEST
    at_most: float = LONGEST
    above: float | None = None

    def _validate(self, value: Any, info: ValidationInfo) -> float:
        unit = unit_of(info)
        try:
            metres = parse_length(value, unit=unit)
        except ValueError as error:
            if isinstance(value, dict | list | tuple | bool) or value is None:
                refuse(f"{shown(value)} is no length", LENGTH_FORMS)
            what, _, allowed = str(error).partition("; ")
            refuse(what, allowed)
        if self.above is not None and not metres > self.above:
            refuse(f"{_said(value)} is too small", f"more than {_limit(self.above, unit)}")
        if not self.at_least <= metres <= self.at_most:
            hint = ""
            if metres > self.at_most and not isinstance(value, str):
                hint = _other_reading(float(value), self.at_most, unit)
            refuse(
                f"{_said(value)} is too {'small' if metres < self.at_least else 'large'}",
                f"{_limit(self.at_least if self.above is None else self.above, unit)} to "
                f"{_limit(self.at_most, unit)}{hint}",
            )
        # No room is drawn finer than a nanometre, and a zero has no sign.
        return metres if abs(metres) >= 1e-9 else 0.0

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        return core_schema.with_info_plain_validator_function(
            self._validate,
            serialization=core_schema.plain_serializer_function_ser_schema(
                _as_written, info_arg=True, return_schema=core_schema.any_schema()
            ),
        )

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        return dict(LENGTH_SCHEMA)


def document_unit(info: SerializationInfo) -> Unit | None:
    """Unit to write lengths in when a document is written; nothing for data in SI."""
    return (info.context or {}).get("unit")


def _as_written(metres: float, info: SerializationInfo) -> float | str:
    """Metres as they are, or as a document in that unit writes them without losing a digit."""
    unit = document_unit(info)
    return _in_feet(metres) if unit == "ft" else metres


@lru_cache(maxsize=4096)  # a document is written at every change, and little of it is new
def _in_feet(metres: float) -> float | str:
    for places in range(10):
        feet = round(metres / FOOT, places)
        if parse_length(feet, unit="ft") == metres:
            return feet
    inches = _feet_and_inches(metres)
    if parse_length(inches, unit="ft") == metres:
        return inches
    return f"{Decimal(repr(metres)):f}".removesuffix(".0") + " m"


def _feet_and_inches(metres: float) -> str:
    """Nearest text in feet, inches and sixty-fourths.

    Examples
    --------
    >>> _feet_and_inches(0.7239), _feet_and_inches(-0.0254 / 8), _feet_and_inches(1.2192)
    ('2 ft 4 1/2 in', '-1/8 in', '4 ft')
    """
    parts = Fraction(round(abs(metres) / INCH * 64), 64)
    feet, inches = divmod(parts, 12)
    whole, rest = divmod(inches, 1)
    words = [f"{feet} ft"] if feet else []
    if inches or not feet:
        words.append(" ".join(str(one) for one in (whole, rest) if one) or "0")
        words.append("in")
    return ("-" if metres < 0 else "") + " ".join(words)


def _said(value: object) -> str:
    return value if isinstance(value, str) else f"{value:g}"


def _limit(metres: float, unit: Unit) -> str:
    return f"{metres:g} m" if unit == "m" else f"{metres / 0.3048:.4g} ft"


def _other_reading(value: float, at_most: float, unit: Unit) -> str:
    """Question to ask when a number makes sense in a smaller unit."""
    for smaller, factor in (("mm", 1000.0), ("cm", 100.0), ("in", 1 / 0.0254)):
        if unit == "m" and smaller == "in":
            continue
        metres = value / factor
        if 0 < metres <= min(at_most, 50.0):
            return f" (did you mean {value:g} {smaller}?)"
    return ""


def _number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        refuse(f"{shown(value)} is no number", "a number without quotes")
    if not math.isfinite(value) or abs(value) > 1e9:
        refuse(f"{value!r:.24} is out of all reason", "a finite number")
    return float(value)


def _text(value: Any) -> str:
    if not isinstance(value, str):
        hint = f'write "{value}" in quotes' if isinstance(value, int | float) else "text"
        refuse(f"{shown(value)} is no text", hint if not isinstance(value, bool) else "text")
    if len(value) > 2000:
        refuse(f"text of {len(value)} characters", "at most 2000 characters")
    _refuse_unprintable(value)
    return value


def _line(value: Any) -> str:
    if isinstance(value, str) and len(value) > 200:
        refuse(f"text of {len(value)} characters", "at most 200 characters, printed on one line")
    return " ".join(_text(value).split())


# Halves and non-characters; what breaks a line, and what turns the order of what follows around.
_UNPRINTABLE = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069"
    "\ud800-\udfff\ufdd0-\ufdef\ufffe\uffff]"
)


def _refuse_unprintable(text: str) -> None:
    found = _UNPRINTABLE.search(text)
    if found is not None:
        refuse(f"text with the control character U+{ord(found[0]):04X}", "printable text")


def printable(text: str) -> bool:
    """Whether text is nothing but what is seen: no character that a screen obeys instead.

    Tabs and line feeds are allowed; marks that turn the reading direction are not, since what is
    read would not be what stands there.

    Examples
    --------
    >>> [printable(t) for t in ("Café ½ ☕", "two\\nlines", "\\x1b[2J", "\\u202emoor")]
    [True, True, False, False]
    """
    return _UNPRINTABLE.search(text) is None


def _free(value: Any, depth: int = 0) -> Any:
    """Plain data of any shape, as JSON has it, copied."""
    if depth > 10:
        refuse("nested more than 10 deep", "flatter data")
    if isinstance(value, dict):
        if not all(isinstance(k, str) and len(k) <= 100 and printable(k) for k in value):
            refuse("a key that is no short text", "text of at most 100 characters as keys")
        return {key: _free(item, depth + 1) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_free(item, depth + 1) for item in value]
    if isinstance(value, str):
        _refuse_unprintable(value)
        return value
    if isinstance(value, date):
        return value.isoformat()
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, int | float) and math.isfinite(value) and abs(value) < 1e300:
        return value
    refuse(f"{shown(value)} is no plain data", "text, finite numbers, lists and mappings")


def _free_map(value: Any) -> Any:
    if not isinstance(value, dict):
        refuse(f"{shown(value)} is no mapping", "a mapping of fields")
    return _free(value)


def _label(value: Any) -> str:
    # Project numbers and revisions are often bare whole numbers.
    return _line(str(value) if isinstance(value, int) and not isinstance(value, bool) else value)


ID_PATTERN = "[a-z0-9][a-z0-9-]{0,39}"


def _id(value: Any) -> str:
    allowed = "an id of lower-case letters, digits and hyphens, 1 to 40 of them"
    if isinstance(value, int) and not isinstance(value, bool):
        value = str(value)  # an id such as 12 is a number to YAML
    if not isinstance(value, str):
        refuse(f"{shown(value)} is no id", allowed)
    if not re.fullmatch(ID_PATTERN, value):
        near = re.sub(r"[^a-z0-9]+", "-", value.lower()).strip("-")[:40]
        refuse(f"{shown(value)} is no id", allowed + (f" ({near}, say)" if near else ""))
    return value


def _port(value: Any) -> str:
    if not isinstance(value, str) or not re.fullmatch(rf"{ID_PATTERN}\.{ID_PATTERN}", value):
        refuse(f"{shown(value)} is no port", "device.port, as in m1.link")
    return value


def _date(value: Any) -> date:
    if isinstance(value, date):
        return value
    try:
        # Python reads 2026-W05-6 and other forms too.
        if isinstance(value, str) and re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", value):
            return date.fromisoformat(value)
    except ValueError:
        pass
    refuse(f"{shown(value)} is no date", "year-month-day, as in 2026-01-31")


def _truth(value: Any) -> bool:
    if isinstance(value, bool):
        return value
    hint = ""
    if isinstance(value, str) and value.lower() in ("yes", "on", "no", "off", "true", "false"):
        hint = f" (here {'true' if value.lower() in ('yes', 'on', 'true') else 'false'})"
    refuse(f"{shown(value)} is neither true nor false", f"true or false{hint}")


def items(value: Any) -> Any:
    """Tuple of a list, for fields that hold several."""
    if not isinstance(value, list | tuple):
        refuse(f"{shown(value)} is no list", "a list in square brackets")
    return tuple(value)


def _pair(value: Any) -> Any:
    if not isinstance(value, list | tuple) or len(value) != 2:
        refuse(f"{shown(value)} is no point on the plan", "two lengths, [x, y]")
    return tuple(value)


def _triple(value: Any) -> Any:
    if not isinstance(value, list | tuple) or len(value) != 3:
        refuse(f"{shown(value)} is no point in the room", "three lengths, [x, y, z]")
    return tuple(value)


def _polygon(value: Any) -> Any:
    if not isinstance(value, list | tuple) or len(value) < 3:
        refuse(f"{shown(value)} is no outline", "a list of three or more corners [x, y]")
    return tuple(value)


def _extent(value: Any) -> Any:
    if not isinstance(value, list | tuple) or len(value) != 2:
        refuse(f"{shown(value)} is no size", "two lengths, [width, height]")
    return tuple(value)


Number = Annotated[float, BeforeValidator(_number), WithJsonSchema({"type": "number"})]
"""A finite number, never text, never true or false."""
Text = Annotated[str, BeforeValidator(_text), WithJsonSchema({"type": "string"})]
Line = Annotated[str, BeforeValidator(_line), WithJsonSchema({"type": "string"})]
"""Text that is printed on one line: every gap in it is one space."""
Label = Annotated[str, BeforeValidator(_label), WithJsonSchema({"type": ["string", "integer"]})]
"""Such text, which may also be written as a bare whole number."""
Flag = Annotated[bool, BeforeValidator(_truth), WithJsonSchema({"type": "boolean"})]
Id = Annotated[
    str, BeforeValidator(_id), WithJsonSchema({"type": "string", "pattern": f"^{ID_PATTERN}$"})
]
Port = Annotated[
    str,
    BeforeValidator(_port),
    WithJsonSchema({"type": "string", "pattern": rf"^{ID_PATTERN}\.{ID_PATTERN}$"}),
]
Date = Annotated[
    date,
    BeforeValidator(_date),
    PlainSerializer(date.isoformat, return_type=str),
    WithJsonSchema({"type": "string", "format": "date"}),
]

Free = Annotated[Any, BeforeValidator(_free)]
"""Plain data that this tool keeps and does not read."""
FreeMap = Annotated[dict[str, Any], BeforeValidator(_free_map)]
"""A mapping of such data."""

Coordinate = Annotated[float, LengthRule()]
"""A place along an axis, of either sign. [m]"""
Length = Annotated[float, LengthRule(at_least=0.0)]
"""[m], 0 or more"""
Extent = Annotated[float, LengthRule(above=0.0)]
"""[m], more than 0"""
PlanPoint = Annotated[tuple[Coordinate, Coordinate], BeforeValidator(_pair)]
"""(x, y) [m]"""
SpacePoint = Annotated[tuple[Coordinate, Coordinate, Coordinate], BeforeValidator(_triple)]
"""(x, y, z) [m]"""
Outline = Annotated[tuple[PlanPoint, ...], BeforeValidator(_polygon)]
"""Corners of a polygon, counter-clockwise, the first not repeated. [m]"""
Size = Annotated[tuple[Extent, Extent], BeforeValidator(_extent)]
"""(width, height) [m]"""
Ids = Annotated[tuple[Id, ...], BeforeValidator(items)]
