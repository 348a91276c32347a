"""Counts of modules as patches of the document: laid side by side, whole rows first."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass

from wellheard.geometry.rectangles import Rectangle
from wellheard.room.document import Room
from wellheard.room.finishes import AnyPatch, LevelPatch, Patch
from wellheard.treatment.bays import SEATED_HEAD
from wellheard.treatment.task import Bay, Option

GRAIN = 4
"""Decimals of a length in the document."""


@dataclass(frozen=True)
class Laid:
    """Patches by id, and how many modules each stands for."""

    patches: Mapping[str, AnyPatch]
    modules: Mapping[str, int]


def lay(room: Room, bays: Sequence[Bay], options: Sequence[Option], counts: Sequence[int]) -> Laid:
    """Lay modules out in their bays.

    On a wall the rows nearest to seated heads come first; everywhere full rows make one patch and
    what is left of a row another. Blocks stand in the middle of their bay.
    """
    patches: dict[str, AnyPatch] = {}
    modules: dict[str, int] = {}
    taken = set(room.space.finishes.patches)
    for one, count in zip(options, counts, strict=True):
        if not count:
            continue
        bay = bays[one.bay]
        for place, number in _blocks(bay, one, count):
            name = _free(one.product.id, {*taken, *patches})
            patches[name] = _patch(room, bay, one, place)
            modules[name] = number
    return Laid(patches, modules)


def _free(stem: str, taken: Collection[str]) -> str:
    number = 1
    while f"{stem}-{number}" in taken:
        number += 1
    return f"{stem}-{number}"


def _blocks(bay: Bay, one: Option, count: int) -> Iterator[tuple[Rectangle, int]]:
    """Full rows, and the rest of one beside them, as rectangles with their modules."""
    place = bay.rectangle
    if bay.surface == "floor":
        yield place, count
        return
    rows, rest = divmod(count, one.columns)
    tall = (rows + (rest > 0)) * one.height
    if bay.surface == "wall" and one.product.height is not None:
        bottom = min(max(SEATED_HEAD - tall / 2, place.bottom), place.top - tall)
    elif bay.cell is None:
        bottom = place.bottom + (place.height - tall) / 2
    else:  # on the lines of the grid, middle rows first
        spare = math.floor((place.height - tall) / one.height / 2 + 1e-6)
        bottom = place.bottom + spare * one.height
    if rows:
        yield _across(bay, one, one.columns, bottom, rows), rows * one.columns
    if rest:
        yield _across(bay, one, rest, bottom + rows * one.height, 1), rest


def _across(bay: Bay, one: Option, columns: int, bottom: float, rows: int) -> Rectangle:
    place, wide = bay.rectangle, columns * one.width
    if bay.cell is None:
        left = place.left + (place.width - wide) / 2
    else:
        spare = math.floor((place.width - wide) / one.width / 2 + 1e-6)
        left = place.left + spare * one.width
    return Rectangle(left, bottom, left + wide, bottom + rows * one.height)


def _patch(room: Room, bay: Bay, one: Option, place: Rectangle) -> AnyPatch:
    finish = one.product.id
    if bay.surface == "wall":
        return Patch(
            wall=bay.name,
            **{"from": round(place.left, GRAIN)},
            to=round(place.right, GRAIN),
            bottom=round(place.bottom, GRAIN),
            top=round(place.top, GRAIN),
            finish=finish,
        )
    if bay.surface == "floor":
        return LevelPatch(surface="floor", outline=room.space.outline, finish=finish)
    turn = math.radians(bay.turn_deg)
    c, s = math.cos(turn), math.sin(turn)
    corners = (
        (place.left, place.bottom),
        (place.right, place.bottom),
        (place.right, place.top),
        (place.left, place.top),
    )
    outline = tuple(
        (round(c * u - s * v, GRAIN) + 0.0, round(s * u + c * v, GRAIN) + 0.0) for u, v in corners
    )
    return LevelPatch(surface="ceiling", outline=outline, finish=finish)
