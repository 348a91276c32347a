"""How a command ends."""

from __future__ import annotations

from enum import IntEnum


class Exit(IntEnum):
    """Exit codes of every command."""

    OK = 0
    FINDINGS = 1
    FAILED = 2
    INTERRUPTED = 130
