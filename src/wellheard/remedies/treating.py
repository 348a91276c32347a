"""Absorbers on walls and ceiling: a patch against flutter, or the cheapest treatment."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from statistics import NormalDist

from wellheard.catalog.treatments import Treatment
from wellheard.checks.model import Finding
from wellheard.checks.room.parallel_hard_walls import (
    CODE,
    LENGTH,
    SHARE,
    SPLAY,
    Facing,
    facing_walls,
)
from wellheard.checks.wording import listed
from wellheard.errors import InputError
from wellheard.geometry.rectangles import Rectangle
from wellheard.remedies.model import Change, Makers, Situation
from wellheard.remedies.rewrites import EXACT, length
from wellheard.room.document import Room
from wellheard.room.finishes import Patch
from wellheard.treatment.bays import SEATED_HEAD, bays, is_glass
from wellheard.treatment.solve import Treated, site, treat
from wellheard.treatment.task import Bay, decay_target

TALL = 1.2
"""Height of a row of panels against flutter, about a seated head. [m]"""
TIGHTENED = (1.0, 0.7)
"""Shares of the decay target that are tried: a promise at the seats may want a drier room."""
CAUTION = (
    "Fixings to suit the wall, and the fire class that the place asks for: licensed practice and "
    "local code decide."
)


# Flutter ----------------------------------------------------------------------------------------


def _against_flutter(situation: Situation, finding: Finding) -> Iterator[Change]:
    """Panels at head height on one of two hard walls, no longer than it takes."""
    panel = _panel(situation)
    if panel is None:
        return
    for pair in _flutters(situation, situation.room):
        if abs(max(pair.absorption) - (finding.value or 0.0)) > 1e-9:
            continue
        for wall in (pair.first, pair.second):
            change = _panels_on(situation, pair, wall, panel)
            if change is not None:
                yield change


def _panel(situation: Situation) -> Treatment | None:
    """The cheapest wall panel that absorbs what the rule asks for, at 1 to 4 kHz."""
    wanted = situation.room.targets.limit_in_force(CODE)
    found = [
        one
        for one in situation.catalogue.treatments
        if one.on == "wall" and one.behind == "plain" and min(one.finish.absorption[3:6]) >= wanted
    ]
    return min(found, key=lambda one: (one.price, one.id), default=None)


def _flutters(situation: Situation, room: Room) -> list[Facing]:
    """Pairs of walls that the rule finds."""
    hard_below, share, splay_deg, shortest = (
        room.targets.limit_in_force(code) for code in (CODE, SHARE, SPLAY, LENGTH)
    )
    return [
        pair
        for pair in facing_walls(room, situation.catalogue, hard_below, splay_deg)
        if pair.longest >= shortest and pair.hard > share * pair.facing
    ]


def _panels_on(situation: Situation, pair: Facing, wall: str, panel: Treatment) -> Change | None:
    """Panel after panel, where the wall is free at head height, until the pair flutters no more."""
    assert panel.width is not None
    room, area = situation.room, 0.0
    if is_glass(room.space.wall_finish(wall)):
        return None  # nothing is fixed to glass
    for bay in _free(situation, wall):
        spots = int(bay.rectangle.width / panel.width + 1e-9)
        name = _free_patch(room, panel.id)
        for number in range(1, spots + 1):
            patch = _patch(wall, bay.rectangle, number * panel.width, panel.id)
            tried = _with_patch(room, name, patch)
            covered = area + (patch.to - patch.from_) * (patch.top - patch.bottom)
            if not any(_same(one, pair) for one in _flutters(situation, tried)):
                price = panel.installed(covered) + round(panel.fixed)
                return _priced(
                    situation,
                    Change(_says(situation, wall, covered, panel), tried, CAUTION),
                    price,
                    panel.currency,
                )
        if spots:
            room, area = tried, covered
    return None


def _same(one: Facing, other: Facing) -> bool:
    return (one.first, one.second) == (other.first, other.second)


def _free(situation: Situation, wall: str) -> list[Bay]:
    """Free pieces of a wall at head height, the longest first."""
    everywhere = situation.once("bays", lambda: bays(situation.room, situation.catalogue))
    found = [
        one
        for one in everywhere
        if one.surface == "wall"
        and one.name == wall
        and one.rectangle.bottom < SEATED_HEAD < one.rectangle.top
    ]
    return sorted(found, key=lambda one: -one.rectangle.width)


def _patch(wall: str, free: Rectangle, width: float, finish: str) -> Patch:
    """A row of panels about a seated head, in the middle of a free piece of wall."""
    start = free.left + (free.width - width) / 2
    bottom = max(free.bottom, min(SEATED_HEAD - TALL / 2, free.top - TALL))
    return Patch.model_validate(
        {
            "wall": wall,
            "from": round(start, EXACT),
            "to": round(start + width, EXACT),
            "bottom": round(bottom, EXACT),
            "top": round(min(free.top, bottom + TALL), EXACT),
            "finish": finish,
        }
    )


def _with_patch(room: Room, name: str, patch: Patch) -> Room:
    finishes = room.space.finishes
    whole = finishes.model_copy(update={"patches": {**finishes.patches, name: patch}})
    return room.model_copy(update={"space": room.space.model_copy(update={"finishes": whole})})


def _free_patch(room: Room, stem: str) -> str:
    number = 1
    while f"{stem}-{number}" in room.space.finishes.patches:
        number += 1
    return f"{stem}-{number}"


def _says(situation: Situation, wall: str, area: float, panel: Treatment) -> str:
    room = situation.room
    long = length(room, area / TALL)
    return f"Fix {long} of {panel.id} to wall {wall} at head height, {length(room, TALL)} tall."


def _priced(situation: Situation, change: Change, price: float, currency: str) -> Change:
    """The change with a word on its price where the document counts in other money."""
    if currency == situation.room.project.currency:
        return change
    return replace(change, note=f"{change.note} Its price is in {currency}: {price:.0f}.")


# Decay ------------------------------------------------------------------------------------------


def _treated(situation: Situation, _: Finding) -> Iterator[Change]:
    """The cheapest treatment that meets the decay, and a drier one, each once for all findings."""
    for share in TIGHTENED:
        change = situation.once(f"treated {share:g}", partial(_treatment, situation, share))
        if change is not None:
            yield change


def _treatment(situation: Situation, share: float) -> Change | None:
    room, catalogue = situation.room, situation.catalogue
    try:
        place = situation.once("site", lambda: site(room, catalogue))
        target = decay_target(room, place.decay.volume, reserve=_reserve(situation))
        found = treat(place, target.tightened(share), time_limit=situation.time_limit)
    except InputError:
        return None  # no decay is promised, and none is recommended for such a room
    if not found.patches:
        return None
    change = Change(_bought(found), found.room, _about(room, found))
    return _priced(situation, change, found.price, found.currency)


def _reserve(situation: Situation) -> float:
    """Share of a promised decay that is kept with the wanted chance."""
    targets = situation.room.targets
    if targets.reverberation is None or targets.chance is None or targets.chance <= 0.5:
        return 1.0
    sigma = situation.evidence.reverberation.log_sigma
    return math.exp(-NormalDist().inv_cdf(targets.chance) * (sigma[2] + sigma[3]) / 2)


def _bought(found: Treated) -> str:
    parts = listed([f"{one.count} {one.id}" for one in found.products])
    return f"Treat the room: {parts}."


def _about(room: Room, found: Treated) -> str:
    said = [CAUTION]
    if found.status == "infeasible":
        said.append("It is all that the free surfaces take: some octaves ring on for too long.")
    if room.space.measured_reverberation is not None:
        said.append("The decay that was measured is no longer that of the room: measure again.")
    return " ".join([*said, "wellheard treat has the proof."])


MAKERS: Makers = {
    "parallel-hard-walls": (_against_flutter,),
    **dict.fromkeys(
        (
            "tail-too-short",
            "target-missed-direct-to-reverberant",
            "target-missed-reverberation",
            "target-missed-sti",
            "target-missed-sti-inbound",
            "uneven-absorption",
        ),
        (_treated,),
    ),
}
