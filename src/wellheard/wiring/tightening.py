"""Rows that whole numbers keep by themselves and fractions do not; with them proof is fast.

Eighteen microphones are one and a half times twelve ports, so two processors of twelve ports or
less: rounding as of Chvátal and Gomory, for each size of a device that there is.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Protocol

from wellheard.wiring.task import Task

Name = tuple[str, ...]


class Rows(Protocol):
    """What takes rows; columns that are not there count nothing."""

    def row(
        self, terms: Iterable[tuple[float, Name]], *, lower: float = ..., upper: float = ...
    ) -> None:
        """Add ``lower ≤ Σ factor · column ≤ upper``."""


def tighten(made: Rows, task: Task) -> None:
    """Add all of them."""
    _whole_hubs(made, task)
    _whole_amplifiers(made, task)
    _whole_switches(made, task)


def rounded(
    made: Rows,
    holds: Sequence[tuple[float, Name]],
    left_out: Sequence[tuple[float, Name]],
    wanted: float,
) -> None:
    """From ``Σ holds + Σ left_out ≥ wanted`` the same in whole devices, for each size there is."""
    for size in sorted({size for size, _ in holds if size > 0}):
        terms = [(_ceil(held / size), name) for held, name in holds]
        terms += [(_ceil(missed / size), name) for missed, name in left_out]
        made.row(terms, lower=_ceil(wanted / size))


def _ceil(value: float) -> float:
    return float(math.ceil(value - 1e-9))


def _whole_hubs(made: Rows, task: Task) -> None:
    missed = [(1.0, ("missed", need.id)) for need in task.microphones]
    holds = [(float(hub.microphones), ("hub", hub.site.key)) for hub in task.hubs]
    rounded(made, holds, missed, float(len(task.microphones)))
    # A root that takes few branches takes few microphones in all.
    most = max((hub.microphones for hub in task.hubs if hub.branches), default=0)
    count = len(task.microphones)
    for hub in task.hubs:
        room = hub.microphones + most * min(hub.line_inputs, hub.outputs)
        if room < count and hub.computer is not None:
            root = [(float(count - room), ("root", hub.site.key))]
            made.row([*root, *((-1.0, name) for _, name in missed)], upper=0)
    networked = [need for need in task.microphones if need.network]
    holds = [(float(hub.microphones), ("on-network", hub.site.key)) for hub in task.hubs]
    missed = [(1.0, ("missed", need.id)) for need in networked]
    rounded(made, holds, missed, float(len(networked)))


def _whole_amplifiers(made: Rows, task: Task) -> None:
    channels, missed = 0.0, []
    for product in dict.fromkeys(need.product for need in task.passive):
        mine = [need for need in task.passive if need.product == product]
        feeds = [feed for feed in task.feeds if feed.loudspeaker == product]
        units = float(sum(need.units for need in mine))
        out = [(float(need.units), ("missed", need.id)) for need in mine]
        rounded(made, [(f.per_channel, ("channels", f.key)) for f in feeds], out, units)
        if feeds:
            channels += _ceil(units / max(feed.per_channel for feed in feeds))
            missed += out
    holds = [(float(one.channels), ("amplifier", one.site.key)) for one in task.amplifiers]
    rounded(made, holds, missed, channels)


def _whole_switches(made: Rows, task: Task) -> None:
    able = [need for need in task.network if need.ways]
    if not able:
        return
    powered = [need for need in able if need.power_class]
    ones = [1.0] * len(powered)
    milliwatts = [float(need.need_mw) for need in powered]
    for size, needs, weights in (
        ("powered_ports", powered, ones),
        ("budget_mw", powered, milliwatts),
        ("ports", able, [1.0] * len(able)),
    ):
        # Of each switch but the first two ports lead on, one at each end of a cable between them.
        less = 2 if size == "ports" else 0
        holds = [
            (float(getattr(one, size) - less), ("switch", one.site.key)) for one in task.switches
        ]
        missed = [(w, ("missed", need.id)) for w, need in zip(weights, needs, strict=True)]
        rounded(made, holds, missed, sum(weights) - less / 2)
    for level in {need.power_class for need in powered}:
        needs = [need for need in powered if need.power_class >= level]
        holds = [
            (float(one.powered_ports if one.power_class >= level else 0), ("switch", one.site.key))
            for one in task.switches
        ]
        missed = [(1.0, ("missed", need.id)) for need in needs]
        rounded(made, holds, missed, float(len(needs)))
