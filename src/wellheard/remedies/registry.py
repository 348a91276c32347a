"""Every remedy, by the code of the rule whose finding it may mend."""

from __future__ import annotations

import importlib
import itertools
from collections.abc import Iterator

from wellheard.checks.model import Finding
from wellheard.remedies.model import Change, Maker, Situation

MODULES: tuple[str, ...] = (
    "moving",
    "signal_order",
    "levels",
    "products",
    "wiring_again",
    "placing_again",
    "treating",
    "seating",
)
"""Modules of this package; each has ``MAKERS``, makers by code."""


def makers(code: str) -> tuple[Maker, ...]:
    """What may mend a finding of this code, the gentlest first."""
    modules = (importlib.import_module(f"{__package__}.{name}") for name in MODULES)
    return tuple(itertools.chain.from_iterable(m.MAKERS.get(code, ()) for m in modules))


def changes_for(situation: Situation, finding: Finding) -> Iterator[Change]:
    """Changes that may mend a finding; untried."""
    for maker in makers(finding.code):
        yield from maker(situation, finding)
