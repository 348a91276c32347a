"""Models of our own read back: what our property sets say beside the standard's."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal

from wellheard.cad import LAYERS, ROOM_PROPERTIES, Role
from wellheard.importers.found import FoundDevice, FoundGrid, FoundOpening, Point, Point3
from wellheard.importers.ifc.asking import Entity, finite, text

CEILINGS: tuple[Literal["tiles", "hard", "open"], ...] = ("tiles", "hard", "open")
Said = Mapping[str, Any]


def word(said: Said, name: str) -> str:
    """Return a property that is a text, else an empty one."""
    found = said.get(name)
    return found if isinstance(found, str) else ""


def pair(said: Said, name: str) -> Point | None:
    """Return a property of two numbers, else None."""
    found = said.get(name)
    if not isinstance(found, list) or len(found) != 2:
        return None
    x, y = finite(found[0]), finite(found[1])
    return None if x is None or y is None else (x, y)


def room_said(sets: Mapping[str, Said]) -> Said | None:
    """Return what our property set says of a space; None of one that is not ours."""
    return sets.get(ROOM_PROPERTIES)


def materials_said(said: Said) -> dict[str, str]:
    """Return the finishes of a room of ours by surface, as ids of the catalogue."""
    found = {"floor": word(said, "FloorFinish"), "ceiling": word(said, "CeilingFinish")}
    walls = said.get("WallFinishes")
    for i, finish in enumerate(walls if isinstance(walls, list) else []):
        found[f"wall {i}"] = str(finish)
    return {surface: finish for surface, finish in found.items() if finish}


def wall_names_said(said: Said) -> tuple[str, ...]:
    """Return the names of the walls of a room of ours, in order."""
    names = said.get("WallNames")
    return tuple(str(name) for name in names) if isinstance(names, list) else ()


def grid_said(said: Said, datum: Point) -> FoundGrid | None:
    """Return the grid of the ceiling of a room of ours."""
    module, origin = pair(said, "GridModule"), pair(said, "GridOrigin")
    if module is None or origin is None or min(module) <= 0:
        return None
    turn = finite(said.get("GridRotationDeg")) or 0.0
    return FoundGrid(module, (origin[0] + datum[0], origin[1] + datum[1]), turn)


def own_thing(said: Said) -> tuple[Role, str] | None:
    """Return the role and kind that our property set gives a thing."""
    named = word(said, "Role")
    role = next((role for role in LAYERS if role == named), None)
    return None if role is None or role in ("wall", "treatment") else (role, word(said, "Kind"))


def own_device(product: Entity, said: Said, at: Point3) -> FoundDevice | None:
    """Return a microphone or loudspeaker of ours; None of what is neither."""
    kind = word(said, "Kind")
    if kind not in ("microphone", "loudspeaker", "combined"):
        return None
    return FoundDevice(
        "loudspeaker" if kind == "loudspeaker" else "microphone",
        at,
        word(said, "Id"),
        word(said, "Product"),
        text(product, "Description", "Name"),
        kind,
        finite(said.get("AimDeg")),
        finite(said.get("RotationDeg")) or 0.0,
    )


def own_opening(
    said: Said, start: float, width: float, low: float, high: float
) -> FoundOpening | None:
    """Return a window or door of ours, by its id or finish; None of a panel."""
    wall = said.get("Wall")
    if not isinstance(wall, int):
        return None
    finish = word(said, "Finish")
    named = f"{word(said, 'Id')} {finish}"
    if "door" in named:
        return FoundOpening("door", wall, start, start + width, low, high, finish)
    if any(one in named for one in ("window", "glaz")):
        return FoundOpening("window", wall, start, start + width, low, high, finish)
    return None


def facing_said(said: Said) -> float | None:
    """Return which way a chair of ours faces."""
    facing = finite(said.get("FacingDeg"))
    return None if facing is None else facing % 360.0


def bottom_said(said: Said, low: float) -> float:
    """Return where cables end at equipment of ours, else the underside of a thing. [m]"""
    at = said.get("At")
    height = finite(at[2]) if isinstance(at, list) and len(at) == 3 else None
    return low if height is None else height
