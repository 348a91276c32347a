"""How many random rooms a test tries: fewer in the usual run, all of them in `make thorough`."""

from __future__ import annotations

import os
from collections.abc import Sequence
from typing import TypeVar

T = TypeVar("T")

THOROUGH = bool(os.environ.get("WELLHEARD_THOROUGH"))


def rooms(usual: int, *, thorough: int) -> int:
    """How many are tried."""
    return thorough if THOROUGH else usual


def some(every: Sequence[T], usual: Sequence[int]) -> Sequence[T]:
    """Entries that are tried: in the usual run those at the places of ``usual``."""
    return every if THOROUGH else [every[i] for i in usual]
