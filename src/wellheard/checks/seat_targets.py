"""One promised quantity against every talking point, with a computed remedy.

The three rules on seat targets share this: they differ in the quantity and in
what raises it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from itertools import groupby
from statistics import NormalDist
from typing import Literal

import numpy as np

from wellheard.acoustics.intelligibility import speech_transmission_index
from wellheard.acoustics.levels import a_weighted_level_db
from wellheard.acoustics.modulation import with_noise_and_hearing
from wellheard.checks.model import Draft
from wellheard.checks.wording import decibels, length, percent, place, short_of
from wellheard.predict.evidence import SEAT_TARGETS, Evidence, Outbound, Path, Quantity

Target = Literal["sti_outbound", "direct_to_reverberant_db", "speech_to_noise_db"]
Remedy = Callable[[Evidence, Outbound, float], str]

CLOSEST = 0.3
"""A microphone nearer to a mouth than this belongs on the head. [m]"""


def shortfalls(
    evidence: Evidence, name: Target, *, title: str, shown: Callable[[float], str], remedy: Remedy
) -> Iterator[Draft]:
    """Seats whose middle value misses a target, and seats that keep it with too little chance.

    Of the sample points of one standing area the worst is reported. ``remedy``
    gets what the quantity lacks to be reached with the wanted chance, in its own unit.
    """
    target: float | None = getattr(evidence.room.targets, name)
    if target is None:
        return
    if not evidence.outbound:
        yield Draft(
            at=f"targets.{name}",
            message=f"No microphone is placed: {title} {shown(target)} is promised, not assessed.",
            limit=target,
            remedy="Place microphones, or let wellheard place do it.",
            severity="note",
            status="not-assessed",
        )
        return
    wanted = evidence.room.targets.chance
    index = SEAT_TARGETS.index(name)
    rows = sorted(evidence.outbound, key=lambda row: row.talker.owner)
    for owner, samples in groupby(rows, key=lambda row: row.talker.owner):
        row = min(samples, key=lambda one: (one.quantities[index].value, one.talker.id))
        quantity = row.quantities[index]
        missed = quantity.value < target
        chance = chance_of(quantity, target)
        likely = percent(chance)
        value = shown(quantity.value)
        if not missed and (wanted is None or chance >= wanted):
            continue
        if missed:
            value = short_of(value, shown(target))
        if wanted is not None and chance < wanted:
            likely = short_of(likely, percent(wanted))
        asked = "" if wanted is None else f" ({percent(wanted)} wanted)"
        verb = "misses" if missed else "is at risk of missing"
        yield Draft(
            at=owner,
            message=(
                f"{place(row.talker)} {verb} {title} {shown(target)}: "
                f"{value} through {row.path.microphone} at "
                f"{length(evidence, row.path.distance)}, chance {likely}{asked}."
            ),
            value=quantity.value,
            limit=target,
            unit=quantity.unit,
            remedy=remedy(evidence, row, lacking(quantity, target, wanted)),
            severity="error" if missed else "warning",
        )


def chance_of(quantity: Quantity, target: float) -> float:
    """Chance that the quantity reaches the target, from the ledger or its own spread."""
    if quantity.chance is not None:
        return quantity.chance
    if quantity.sigma <= 0:
        return float(quantity.value >= target)
    return NormalDist().cdf((quantity.value - target) / quantity.sigma)


def lacking(quantity: Quantity, target: float, wanted: float | None) -> float:
    """By how much the middle value must rise for the wanted chance, in the quantity's unit."""
    reserve = 0.0 if wanted is None else NormalDist().inv_cdf(wanted) * quantity.sigma
    return target + reserve - quantity.value


def nearer(evidence: Evidence, row: Outbound, lacking_db: float) -> str:
    """Distance at which the direct sound is stronger by ``lacking_db``, in words."""
    if row.path.screened:
        return (
            f"something solid stands between {place(row.talker)} and {row.path.microphone}: see "
            "the plan, and move it or the microphone"
        )
    distance = row.path.distance * 10 ** (-lacking_db / 20)
    if distance < CLOSEST:
        return (
            f"no place of {row.path.microphone} makes up {decibels(lacking_db)}: give "
            f"{place(row.talker)} a microphone of its own"
        )
    return (
        f"bring a microphone to within {length(evidence, distance)} of {place(row.talker)} "
        f"(now {length(evidence, row.path.distance)})"
    )


def sti_without_noise(path: Path) -> float:
    """STI of a path if nothing but speech reached the far end's ear."""
    heard = with_noise_and_hearing(
        np.asarray(path.room_transfer), speech_db=np.asarray(path.far_end_speech_db)
    )
    return float(speech_transmission_index(heard))


def sti_without_reverberation(path: Path) -> float:
    """STI of a path if its direct sound came alone, at the same level."""
    heard = with_noise_and_hearing(
        np.ones_like(path.room_transfer),
        speech_db=np.asarray(path.far_end_speech_db),
        noise_db=np.asarray(path.far_end_noise_db),
    )
    return float(speech_transmission_index(heard))


def loudest_noise(evidence: Evidence, path: Path) -> str:
    """The part that makes most of the A-weighted noise at a microphone, named."""
    name = max(path.noise_parts_db, key=lambda part: (_dba(path, part), part), default="background")
    if name == "background":
        return f"the background of the room ({evidence.noise.told_as})"
    if name == "self-noise":
        return f"the self-noise of {path.microphone}"
    return f"{name} ({_dba(path, name):.0f} dBA there)"


def less_reverberation(lacking_db: float) -> str:
    """The absorption that lowers the reverberant sound by ``lacking_db``, in words."""
    return f"raise the room's absorption to {10 ** (lacking_db / 10):.1f} times what it is"


def _dba(path: Path, part: str) -> float:
    level = float(a_weighted_level_db(path.noise_parts_db[part]))
    return level if math.isfinite(level) else -math.inf
