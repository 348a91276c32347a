"""The room itself from a plan: outline, height, ceiling, finishes, windows and doors."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from types import MappingProxyType

from wellheard.importers.draft import Data, Draft, free
from wellheard.importers.found import FoundOpening, FoundRoom, Noted, Ring
from wellheard.importers.materials import Surface, finish_of
from wellheard.room.document import Room
from wellheard.units import Unit

HEIGHT: Mapping[Unit, float] = MappingProxyType({"m": 2.7, "ft": 9 * 0.3048})
"""Height of a room where neither plan nor user says one. [m]"""
SILL, LINTEL, DOOR_TOP = 0.9, 2.1, 2.1
"""Of a window and of a door whose heights are not in the plan. [m]"""
NARROWEST = 0.05
"""Width of an opening that is entered. [m]"""
COMPASS = ("south", "east", "north", "west")


def space(draft: Draft, found: FoundRoom) -> Data:
    """Return ``space`` of a document, its openings left out."""
    named = len(set(found.wall_names)) == len(found.outline)
    walls = list(found.wall_names if named else wall_names(found.outline))
    entered: Data = {"outline": draft.ring(found.outline), "walls": walls}
    draft.basis["space.outline"] = "drawing"
    draft.height = _height(draft, found)
    entered["height"] = draft.length(draft.height)
    ceiling = _ceiling(draft, found)
    if ceiling:
        entered["ceiling"] = ceiling
    finishes = _finishes(draft, found.materials, walls)
    if finishes:
        entered["finishes"] = finishes
    return entered


def wall_names(outline: Ring) -> Iterator[str]:
    """Return names of walls: those of the compass in a room of four walls along the axes.

    Examples
    --------
    >>> list(wall_names(((0, 0), (4, 0), (4, 3), (0, 3))))
    ['south', 'east', 'north', 'west']
    >>> list(wall_names(((4, 0), (4, 3), (0, 3), (0, 0))))
    ['east', 'north', 'west', 'south']
    """
    ends = list(zip(outline, (*outline[1:], outline[0]), strict=True))
    quarters = [
        round(math.degrees(math.atan2(by - ay, bx - ax)) / 90.0, 4) for (ax, ay), (bx, by) in ends
    ]
    if len(outline) == 4 and all(quarter == int(quarter) for quarter in quarters):
        return (COMPASS[int(quarter) % 4] for quarter in quarters)
    return (f"w{i}" for i in range(len(outline)))


def _height(draft: Draft, found: FoundRoom) -> float:
    if draft.settled.height is not None:
        draft.basis["space.height"] = "told"
        return draft.settled.height
    if found.height is not None:
        draft.basis["space.height"] = "drawing"
        return found.height
    usual = HEIGHT[draft.unit]
    draft.assume(
        "space.height",
        f"The plan does not say how high the room is: {draft.said(usual)} is taken.",
    )
    return usual


def _ceiling(draft: Draft, found: FoundRoom) -> Data:
    ceiling: Data = {}
    if found.ceiling_kind is not None:
        ceiling["kind"] = found.ceiling_kind
    grid = found.grid
    if grid is not None and "grid" not in draft.settled.without:
        ceiling |= {
            "kind": "tiles",
            "module": draft.point(grid.module),
            "origin": draft.point(grid.origin),
        }
        turn = round((grid.rotation_deg + 45.0) % 90.0 - 45.0, 3) + 0.0
        if turn:
            ceiling["rotation_deg"] = turn
        draft.report.append(Noted(True, "grid", 1))
    if found.void_depth is not None:
        ceiling["void_depth"] = draft.length(found.void_depth)
    if ceiling:
        draft.basis["space.ceiling"] = "drawing"
    return ceiling


def _finishes(draft: Draft, materials: Mapping[str, str], walls: Sequence[str]) -> Data:
    finishes: Data = {}
    level: tuple[Surface, ...] = ("floor", "ceiling")
    for surface in level:
        finish = _finish(draft, materials.get(surface, ""), surface, f"space.finishes.{surface}")
        if finish:
            finishes[surface] = finish
    single: Data = {}
    for i, name in enumerate(walls):
        path = f"space.finishes.walls.{name}"
        finish = _finish(draft, materials.get(f"wall {i}", ""), "walls", path)
        if finish:
            single[name] = finish
    usual = _finish(draft, materials.get("walls", ""), "walls", "space.finishes.walls")
    if single:
        # a wall without a word of its own has the finish of all, or the usual one
        finishes["walls"] = (dict.fromkeys(walls, usual) if usual else {}) | single
    elif usual:
        finishes["walls"] = usual
    return finishes


def _finish(draft: Draft, material: str, surface: Surface, path: str) -> str | None:
    if not material:
        return None
    if material in draft.ids:
        draft.basis[path] = "drawing"
        return material
    finish = finish_of(material, surface, draft.settled.finishes)
    if finish is None:
        draft.unknown.append((material, surface))
        return None
    draft.assume(path, f"“{material}” in the plan is taken for the finish {finish}.")
    return finish


def openings(draft: Draft, base: Room, found: Sequence[FoundOpening]) -> None:
    """Enter windows and doors as patches; ``base`` is the empty room."""
    patches: Data = {}
    taken: list[tuple[int, float, float]] = []
    for opening in sorted(found, key=lambda one: (one.wall, one.start)):
        if opening.kind in draft.settled.without:
            continue
        wall = base.space.walls[opening.wall]
        start, end = (
            max(opening.start, 0.0),
            min(opening.end, math.dist(*base.space.wall_ends(wall))),
        )
        over = any(w == opening.wall and start < e and end > s for w, s, e in taken)
        if over or end - start < NARROWEST:
            why = "overlaps another opening" if over else "not on its wall"
            draft.report.append(Noted(False, opening.kind, 1, f"wall {wall}", why))
            continue
        taken.append((opening.wall, start, end))
        key = free(patches, opening.kind)
        patches[key] = {
            "wall": wall,
            "from": draft.length(start),
            "to": draft.length(end),
            **_upright(draft, opening, key),
        }
        draft.report.append(Noted(True, opening.kind, 1))
    if patches:
        draft.data["space"].setdefault("finishes", {})["patches"] = patches


def _upright(draft: Draft, opening: FoundOpening, key: str) -> Data:
    """Return heights and finish of an opening."""
    glass = opening.kind == "window"
    usual = (SILL, LINTEL) if glass else (0.0, DOOR_TOP)
    bottom = usual[0] if opening.bottom is None else max(opening.bottom, 0.0)
    top = min(usual[1] if opening.top is None else opening.top, draft.height)
    if opening.bottom is None or opening.top is None:
        draft.assume(
            f"space.finishes.patches.{key}",
            f"The plan has no heights of {key}: from {draft.said(bottom)} to {draft.said(top)} "
            "above the floor is taken.",
        )
    if opening.material in draft.ids:
        told: str | None = opening.material
    else:
        told = finish_of(opening.material, "walls", draft.settled.finishes)
    return {
        "bottom": draft.length(bottom),
        "top": draft.length(top),
        "finish": told or ("double-glazing" if glass else "wood-door"),
    }
