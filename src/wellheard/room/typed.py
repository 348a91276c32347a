"""What somebody typed into a field, read as people write it: lengths, figures, words, lists."""

from __future__ import annotations

import re
from types import NoneType
from typing import Annotated, Any, get_args, get_origin

from pydantic.fields import FieldInfo

from wellheard.forms.fields import LengthRule
from wellheard.room.refused import OperationError
from wellheard.units import Unit, parse_length

EXACT = 9
"""Decimals of a length that count: a nanometre. [m]"""
NONE_WORDS = ("none", "–", "-", "unknown")
"""What one types where a field may be null."""


def is_length(field: FieldInfo) -> bool:
    """Whether a field's values are lengths, alone, in pairs or optional."""
    return any(isinstance(m, LengthRule) for m in field.metadata) or _mentions(field.annotation)


def _mentions(annotation: Any) -> bool:
    if any(isinstance(m, LengthRule) for m in getattr(annotation, "__metadata__", ())):
        return True
    return any(_mentions(one) for one in get_args(annotation))


def scalars(annotation: Any) -> frozenset[Any]:
    """Plain types that an annotation is made of.

    Examples
    --------
    >>> sorted(t.__name__ for t in scalars(tuple[float, str] | None))
    ['NoneType', 'float', 'str']
    """
    inner = get_args(annotation)
    if get_origin(annotation) is Annotated:
        return scalars(inner[0])
    if not inner:
        return frozenset({annotation if isinstance(annotation, type) else type(annotation)})
    return frozenset().union(*(scalars(a) for a in inner if a is not Ellipsis))


def read_typed(path: str, text: str, old: Any, field: FieldInfo, unit: Unit) -> Any:
    """Value of a field from its text; ``old`` says whether it holds several."""
    types = scalars(field.annotation)
    last = path.rpartition(".")[2]
    if NoneType in types and text.lower() in NONE_WORDS:
        return None
    if is_length(field):
        return _lengths(path, text, old, unit)
    if last == "facing":
        return [_numeric(word) for word in _pieces(text)]
    if bool in types:
        return {
            "yes": True,
            "true": True,
            "on": True,
            "no": False,
            "false": False,
            "off": False,
        }.get(text.lower(), text)
    if float in types or int in types:
        return _numeric(text)
    if isinstance(old, tuple):
        return _pieces(text)
    return text


def _lengths(path: str, text: str, old: Any, unit: Unit) -> Any:
    if isinstance(old, tuple):
        return [typed_length(path, piece, unit=unit) for piece in _pieces(text)]
    return typed_length(path, text, unit=unit)


def typed_length(path: str, text: str, *, unit: Unit) -> float:
    """Metres of a typed length; a bare number is in ``unit``.

    Raises
    ------
    OperationError
        It is none.

    Examples
    --------
    >>> typed_length("space.height", "14 ft 6 in", unit="m")
    4.4196
    """
    bare = _numeric(text.replace("\u00a0", " ").strip())
    try:
        return parse_length(bare, unit=unit)
    except ValueError as error:
        what, _, allowed = str(error).partition("; ")
        raise OperationError(path, what, allowed) from None


def _pieces(text: str) -> list[str]:
    return [piece.strip() for piece in re.split(r"[,;×]", text.strip("[]() ")) if piece.strip()]


_NUMBER = re.compile(r"([-+−]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+))\s*(%|°|)")


def _numeric(text: str) -> float | str:
    """Number of a text that is one, with a true minus or a percent sign too; else the text."""
    found = _NUMBER.fullmatch(text)
    if found is None or len(text) > 40:
        return text
    value = float(found[1].replace("−", "-"))
    return round(value / 100, EXACT) if found[2] == "%" else value
