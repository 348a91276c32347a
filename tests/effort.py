"""How much a test tries: fewer random rooms in the usual run, all of them in `make thorough`."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TypeVar

import pytest

from wellheard.predict import sensitivity

T = TypeVar("T")

THOROUGH = bool(os.environ.get("WELLHEARD_THOROUGH"))
_EFFECT = sensitivity._effect


def rooms(usual: int, *, thorough: int) -> int:
    """How many are tried."""
    return thorough if THOROUGH else usual


def some(every: Sequence[T], usual: Sequence[int]) -> Sequence[T]:
    """Entries that are tried: in the usual run those at the places of ``usual``."""
    return every if THOROUGH else [every[i] for i in usual]


@contextmanager
def effects(*, tried: bool) -> Iterator[None]:
    """Whether a prediction tries what each assumption does to the worst seat.

    It takes most of the time of one. Untried, none is said, as where an input has no effect.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sensitivity, "_effect", _EFFECT if tried else lambda *_: None)
        yield
