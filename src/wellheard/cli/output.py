"""Payload to stdout, talk to stderr."""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping
from typing import Any, Literal, TypeAlias

from wellheard.errors import visible

Format: TypeAlias = Literal["text", "json"]


def payload(text: str) -> None:
    """Print what was asked for, with one line end."""
    sys.stdout.write(text if text.endswith("\n") else text + "\n")


def json_payload(value: Mapping[str, Any]) -> None:
    """Print what was asked for as JSON; a number that is none is a fault, not ``NaN``."""
    payload(json.dumps(value, indent=2, ensure_ascii=False, allow_nan=False))


def talk(message: str) -> None:
    """Say how far things are, where somebody watches."""
    if sys.stderr.isatty():
        print(message, file=sys.stderr)


def say(message: str) -> None:
    """Say something that matters, watched or not; a file's name may hold what a terminal obeys."""
    print("\n".join(map(visible, message.split("\n"))), file=sys.stderr)
