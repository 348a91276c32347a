"""How much a test tries: fewer random rooms in the usual run, all of them in `make thorough`."""

from __future__ import annotations

import os
from collections import OrderedDict
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TypeVar

import pytest

from wellheard.acoustics import resolved
from wellheard.predict import propagation, scattering, sensitivity

T = TypeVar("T")

THOROUGH = bool(os.environ.get("WELLHEARD_THOROUGH"))

FEW_RAYS = (512, 256, 4.0)
ALL_RAYS = (propagation.RAYS, resolved._LEAST_RAYS, resolved._RAYS_PER_AREA)
_EFFECT = sensitivity._effect


def rooms(usual: int, *, thorough: int) -> int:
    """How many are tried."""
    return thorough if THOROUGH else usual


def some(every: Sequence[T], usual: Sequence[int]) -> Sequence[T]:
    """Entries that are tried: in the usual run those at the places of ``usual``."""
    return every if THOROUGH else [every[i] for i in usual]


@contextmanager
def rays(decay: int, least: int, per_area: float) -> Iterator[None]:
    """Trace so many; what is scattered by place is remembered apart from that of other numbers."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(propagation, "RAYS", decay)
        patch.setattr(resolved, "_LEAST_RAYS", least)
        patch.setattr(resolved, "_RAYS_PER_AREA", per_area)
        patch.setattr(scattering, "_known", OrderedDict())
        yield


@contextmanager
def effects(*, tried: bool) -> Iterator[None]:
    """Whether a prediction tries what each assumption does to the worst seat.

    It takes most of the time of one. Untried, none is said, as where an input has no effect.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sensitivity, "_effect", _EFFECT if tried else lambda *_: None)
        yield
