"""Plain data as YAML that reads back equal, laid out as a person would."""

from __future__ import annotations

import json
import re
from typing import Any

from wellheard.forms.source import plain_scalar

WIDTH = 96
_PLAIN = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9 ._/()+×–-]*[A-Za-z0-9._/()+-])?")
# Words that other YAML readers take for something else than text.
_ELSEWHERE = re.compile(r"(?i:y|n|yes|no|on|off|true|false|null)|[0-9][0-9_.:-]*")


def scalar(value: Any) -> str:
    """One value that is no collection.

    Examples
    --------
    >>> [scalar(v) for v in (None, True, 4.0, 0.45, "Tide Room", "yes", "17'-4\\"", "")]
    ['null', 'true', '4', '0.45', 'Tide Room', '"yes"', '"17\\'-4\\\\""', '""']
    """
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        # A whole number of more digits would come back as a float.
        return str(value) if len(str(value)) <= 30 else repr(float(value))
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    text = value if isinstance(value, str) else str(value.isoformat())
    if (
        _PLAIN.fullmatch(text)
        and len(text) <= 200
        and "  " not in text
        and isinstance(plain_scalar(text), str)
        and not (isinstance(value, str) and _ELSEWHERE.fullmatch(text))
    ):
        return text
    quoted = json.dumps(text, ensure_ascii=False)
    return "".join(c if c.isprintable() else _escape(c) for c in quoted)


def _escape(c: str) -> str:
    return f"\\u{ord(c):04x}" if ord(c) < 0x10000 else f"\\U{ord(c):08x}"


def flow(value: Any) -> str:
    """Value on one line."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{scalar(k)}: {flow(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(flow, value)) + "]"
    return scalar(value)


def block(data: dict[str, Any], *, indent: int = 0) -> str:
    """Mapping as lines, small mappings and all lists inside it in brackets."""
    return "".join(entry(key, value, indent=indent) for key, value in data.items())


def entry(key: str, value: Any, *, indent: int) -> str:
    """One entry of a mapping as one or more lines."""
    head = " " * indent + scalar(key) + ":"
    line = f"{head} {flow(value)}"
    if isinstance(value, dict) and value:
        nested = any(
            isinstance(v, dict) or (isinstance(v, list | tuple) and v and isinstance(v[0], tuple))
            for v in value.values()
        )
        if len(line) > WIDTH or (nested and indent == 0):
            return f"{head}\n" + block(value, indent=indent + 2)
    if len(line) > WIDTH and isinstance(value, list | tuple) and value:
        return head + _wrapped(value, indent=indent + 2) + "\n"
    return line + "\n"


def _wrapped(values: list[Any] | tuple[Any, ...], *, indent: int) -> str:
    lines, line = [], " ["
    for i, value in enumerate(values):
        piece = flow(value) + ("," if i < len(values) - 1 else "]")
        if len(line) + len(piece) > WIDTH - indent and line.strip() != "[":
            lines.append(line.rstrip())
            line = " " * (indent + 1)
        line += piece + " "
    return "\n".join([*lines, line.rstrip()])
