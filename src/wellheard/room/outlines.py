"""The room's own outline changed, corner by corner and wall by wall.

What is on a wall stays with it. Where a wall moves as a whole its patches and pictures move along;
where a wall only gets longer, shorter or another slope, they stay where they are in the room, or
as near to it as the wall allows. One that no longer fits on its wall is a refusal: a window is
never thrown away by a corner.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any, TypeAlias

from wellheard.room.divide import NEAR
from wellheard.room.document import Room
from wellheard.room.finishes import Patch
from wellheard.room.furniture import Display, Screen
from wellheard.room.moving import LONGEST_ID, Point, plus
from wellheard.room.refused import OperationError, unknown
from wellheard.room.typed import EXACT
from wellheard.units import format_length

Corners: TypeAlias = tuple[Point, ...]

SHORTEST = 0.01
"""No wall gets shorter. [m]"""
SAME_WAY = 1e-6
"""Sine of the angle below which two walls run the same way."""


def corners_moved(room: Room, shifts: Mapping[int, Point]) -> Room:
    """Room with corners moved by so much, by their numbers. [m]

    Raises
    ------
    OperationError
        There is no such corner, or the outline would cross itself.
    """
    for index in shifts:
        _corner(room, index)
    old = room.space.outline
    fresh = tuple(
        (plus(x, shifts[i][0]), plus(y, shifts[i][1])) if i in shifts else (x, y)
        for i, (x, y) in enumerate(old)
    )
    return _reshaped(room, fresh)


def corner_put(room: Room, index: int, to: Point) -> Room:
    """Room with one corner elsewhere.

    Raises
    ------
    OperationError
        There is no such corner, or the outline would cross itself.
    """
    _corner(room, index)
    fresh = list(room.space.outline)
    fresh[index] = to
    return _reshaped(room, tuple(fresh))


def wall_lengthened(room: Room, index: int, length: float) -> Room:
    """Room whose wall has another length; it grows at its end.

    The corners that follow shift along the wall's direction, up to the last wall in order that
    runs the same way or back: that one takes up the difference, so every angle stays, and walls
    measured one after the other keep what was typed. Where only walls before it run that way the
    first of them takes it up; where none does, the wall's end alone moves.

    Parameters
    ----------
    room : Room
        As it is.
    index : int
        Number of the wall; it runs from the corner of that number to the next.
    length : float
        [m]

    Raises
    ------
    OperationError
        There is no such wall, or the outline would cross itself.
    """
    _wall(room, index)
    if not (math.isfinite(length) and length >= SHORTEST):
        told = format_length(SHORTEST, unit=room.units)
        raise OperationError(f"space.walls.{index}", "no length for a wall", f"{told} or more")
    outline = room.space.outline
    (ux, uy), was = _direction(outline, index)
    by = (length - was) * ux, (length - was) * uy
    count = len(outline)
    taker = _taking_up(outline, index)
    last = (index + 1) if taker is None else taker if taker > index else taker + count
    fresh = list(outline)
    for corner in range(index + 1, last + 1):
        x, y = outline[corner % count]
        fresh[corner % count] = (round(x + by[0], EXACT) + 0.0, round(y + by[1], EXACT) + 0.0)
    return _reshaped(room, tuple(fresh))


def _taking_up(outline: Corners, index: int) -> int | None:
    """Wall that takes up a change of length: the last parallel one in order, else the first."""
    (ux, uy), _ = _direction(outline, index)
    parallel = []
    for other in range(len(outline)):
        (vx, vy), length = _direction(outline, other)
        if other != index and length > 0 and abs(ux * vy - uy * vx) < SAME_WAY:
            parallel.append(other)
    following = [other for other in parallel if other > index]
    if following:
        return following[-1]
    return parallel[0] if parallel else None


def corner_added(room: Room, wall: int, at: Point) -> Room:
    """Room with a wall split at the point on it that is nearest to ``at``.

    The second stretch gets the wall's name with ``-2``, and its finish and isolation; patches and
    pictures go to the stretch they are on.

    Raises
    ------
    OperationError
        There is no such wall, a corner is there, or something on the wall lies across the point.
    """
    _wall(room, wall)
    space = room.space
    start, (ux, uy), length = space.outline[wall], *_direction(space.outline, wall)
    cut = round((at[0] - start[0]) * ux + (at[1] - start[1]) * uy, EXACT)
    where = f"space.walls.{wall}"
    if not SHORTEST <= cut <= length - SHORTEST:
        raise OperationError(where, "there is a corner already", "a point between its ends")
    name = space.walls[wall]
    second = _free_name(room, name)
    corner = (round(start[0] + cut * ux, EXACT) + 0.0, round(start[1] + cut * uy, EXACT) + 0.0)

    def placed(key: str, on: str, low: float, high: float) -> tuple[str, float]:
        if on != name or high <= cut + NEAR:
            return on, 0.0
        if low >= cut - NEAR:
            return second, -cut
        raise OperationError(where, f"{key} lies across that point", "a point beside it")

    room = _with_outline(
        room,
        (*space.outline[: wall + 1], corner, *space.outline[wall + 1 :]),
        (*space.walls[: wall + 1], second, *space.walls[wall + 1 :]),
    )
    room = _on_walls(room, placed)
    return _surfaces(room, lambda walls: _with_twin(walls, name, second))


def corner_removed(room: Room, index: int) -> Room:
    """Room without a corner: the two walls that met there are one, with the name of the first.

    Raises
    ------
    OperationError
        There is no such corner, a room would be left with two, or something does not fit.
    """
    _corner(room, index)
    space, count = room.space, len(room.space.outline)
    where = f"space.outline.{index}"
    if count <= 3:
        raise OperationError(where, "a room has three corners or more", "move the corner")
    before = (index - 1) % count
    kept, gone = space.walls[before], space.walls[index]
    outline = tuple(c for i, c in enumerate(space.outline) if i != index)
    walls = tuple(w for i, w in enumerate(space.walls) if i != index)
    here = walls.index(kept)
    spots = _spots(room)
    room = _with_outline(room, outline, walls)
    (ux, uy), length = _direction(outline, here)
    start = outline[here]

    def placed(key: str, on: str, low: float, high: float) -> tuple[str, float]:
        if on not in (kept, gone):
            return on, 0.0
        x, y = spots[key]
        middle = (x - start[0]) * ux + (y - start[1]) * uy
        return kept, _fitted(key, middle, low, high, length, room, where)

    room = _on_walls(room, placed)
    _refuse_overlaps(room, kept, where)
    return _surfaces(room, lambda named: {k: v for k, v in named.items() if k != gone})


def wall_renamed(room: Room, index: int, name: str) -> Room:
    """Room whose wall has another name, wherever it is named.

    Raises
    ------
    OperationError
        There is no such wall, or another one is called so.
    """
    _wall(room, index)
    space, old = room.space, room.space.walls[index]
    if name == old:
        return room
    if name in space.walls or name in room.partitions:
        raise OperationError(f"space.walls.{index}", f"{name} is taken", "a name of its own")
    walls = tuple(name if i == index else w for i, w in enumerate(space.walls))
    room = _with_outline(room, space.outline, walls)
    room = _on_walls(room, lambda key, on, low, high: (name if on == old else on, 0.0))
    room = _surfaces(room, lambda named: {name if k == old else k: v for k, v in named.items()})
    if not room.basis:
        return room
    heads = (f"space.finishes.walls.{old}", f"space.isolation.{old}")
    basis = {}
    for path, word in room.basis.items():
        head = next((h for h in heads if path == h or path.startswith(f"{h}.")), None)
        fresh = path if head is None else head.removesuffix(old) + name + path[len(head) :]
        basis[fresh] = word
    return room if basis == room.basis else room.model_copy(update={"basis": basis})


# Parts ---------------------------------------------------------------------------------------


def _corner(room: Room, index: int) -> None:
    count = len(room.space.outline)
    if isinstance(index, bool) or not isinstance(index, int) or not 0 <= index < count:
        raise unknown(("space", "outline", str(index)[:20]), str(index)[:20], _numbers(count))


def _wall(room: Room, index: int) -> None:
    count = len(room.space.outline)
    if isinstance(index, bool) or not isinstance(index, int) or not 0 <= index < count:
        raise unknown(("space", "walls", str(index)[:20]), str(index)[:20], _numbers(count))


def _numbers(count: int) -> list[str]:
    return [str(i) for i in range(count)]


def _direction(outline: Corners, index: int) -> tuple[Point, float]:
    """Unit vector along a wall, and the wall's length; no direction for one without length."""
    (x0, y0), (x1, y1) = outline[index], outline[(index + 1) % len(outline)]
    length = math.hypot(x1 - x0, y1 - y0)
    return (((x1 - x0) / length, (y1 - y0) / length) if length else (0.0, 0.0)), length


def _free_name(room: Room, name: str) -> str:
    number = 2
    while True:
        fresh = f"{name[: LONGEST_ID - 1 - len(str(number))]}-{number}"
        if fresh not in room.space.walls and fresh not in room.partitions:
            return fresh
        number += 1


def _with_outline(room: Room, outline: Corners, walls: Sequence[str] | None = None) -> Room:
    change: dict[str, Any] = {"outline": outline}
    if walls is not None:
        change["walls"] = tuple(walls)
    return room.model_copy(update={"space": room.space.model_copy(update=change)})


def _refuse_tangled(room: Room, outline: Corners) -> None:
    """Keep the outline one that a room can have: simple, and counter-clockwise."""
    import numpy as np

    from wellheard import geometry

    polygon = np.array(outline, dtype=float)
    where = "space.outline"
    if not np.all(np.isfinite(polygon)):
        raise OperationError(where, "a corner out of all reason", "finite coordinates")
    lengths = geometry.edge_lengths(polygon)
    for index, length in enumerate(lengths):
        if length < SHORTEST:
            raise OperationError(
                where,
                f"wall {room.space.walls[index]} would have no length left",
                "take a corner away instead",
            )
    for i, j in geometry.edge_conflicts(polygon)[:1]:
        a, b = room.space.walls[i], room.space.walls[j]
        raise OperationError(where, f"wall {b} would cross or touch wall {a}", "a smaller change")
    if geometry.polygon_area(polygon) <= 0:
        raise OperationError(where, "the outline would be inside out", "a smaller change")


def _reshaped(room: Room, outline: Corners) -> Room:
    """Room of another outline with the same walls, and what is on them where it was."""
    old = room.space.outline
    if outline == old:
        return room
    _refuse_tangled(room, outline)
    spots, walls = _spots(room), room.space.walls
    changed = {
        walls[i]
        for i in range(len(old))
        if not _alike(
            _shift(old[i], outline[i]),
            _shift(old[(i + 1) % len(old)], outline[(i + 1) % len(old)]),
        )
    }
    room = _with_outline(room, outline)

    def placed(key: str, on: str, low: float, high: float) -> tuple[str, float]:
        if on not in changed:
            return on, 0.0
        index = walls.index(on)
        (ux, uy), length = _direction(outline, index)
        x, y = spots[key]
        middle = (x - outline[index][0]) * ux + (y - outline[index][1]) * uy
        where = f"space.walls.{index}"
        return on, _fitted(key, middle, low, high, length, room, where)

    room = _on_walls(room, placed)
    for name in walls:
        if name in changed:
            _refuse_overlaps(room, name, f"space.walls.{walls.index(name)}")
    return room


def _shift(a: Point, b: Point) -> Point:
    return b[0] - a[0], b[1] - a[1]


def _alike(a: Point, b: Point) -> bool:
    return math.dist(a, b) < 1e-7


def _spots(room: Room) -> dict[str, Point]:
    """Place on the plan of the middle of whatever is on a wall, by its path."""
    space, found = room.space, {}
    for key, (wall, low, high) in _hung(room).items():
        if wall not in space.walls:
            continue
        index = space.walls.index(wall)
        (ux, uy), _ = _direction(space.outline, index)
        x, y = space.outline[index]
        found[key] = (x + ux * (low + high) / 2, y + uy * (low + high) / 2)
    return found


def _hung(room: Room) -> dict[str, tuple[str, float, float]]:
    """Wall, and stretch along it, of every patch and picture, by its path."""
    space = room.space
    found = {
        f"space.finishes.patches.{key}": (patch.wall, patch.from_, patch.to)
        for key, patch in space.finishes.wall_patches.items()
    }
    found |= {
        f"furniture.{key}": (
            item.wall,
            item.centre[0] - item.size[0] / 2,
            item.centre[0] + item.size[0] / 2,
        )
        for key, item in room.furniture.items()
        if isinstance(item, Display | Screen)
    }
    return found


def _fitted(
    key: str, middle: float, low: float, high: float, length: float, room: Room, where: str
) -> float:
    """Slide that brings a stretch to a middle, or as near to it as a wall so long allows."""
    wide = high - low
    if wide > length + NEAR:
        raise OperationError(
            where,
            f"{key} is {format_length(wide, unit=room.units)} wide and the wall would be "
            f"{format_length(length, unit=room.units)} long",
            "take it away or make it narrower first",
        )
    start = min(max(middle - wide / 2, 0.0), max(length - wide, 0.0))
    slide = round(start - low, 4)
    # What did not have to move keeps its figures as they are written.
    return slide + 0.0


Placing: TypeAlias = Callable[[str, str, float, float], tuple[str, float]]
"""From path, wall and stretch of what is on a wall: its new wall, and a slide along it."""


def _on_walls(room: Room, placed: Placing) -> Room:
    """Room with what is on its walls on other walls, or further along them."""
    patches, furniture = room.space.finishes.wall_patches, dict(room.furniture)
    for key, (wall, low, high) in _hung(room).items():
        on, slide = placed(key, wall, low, high)
        if on == wall and not slide:
            continue
        name = key.rpartition(".")[2]
        if key.startswith("furniture."):
            item = furniture[name]
            assert isinstance(item, Display | Screen)
            centre = (plus(item.centre[0], slide), item.centre[1])
            furniture[name] = item.model_copy(update={"wall": on, "centre": centre})
        else:
            patches[name] = _slid(patches[name], on, slide)
    if patches != room.space.finishes.wall_patches:
        every = {**room.space.finishes.patches, **patches}  # in the document's order
        finishes = room.space.finishes.model_copy(update={"patches": every})
        space = room.space.model_copy(update={"finishes": finishes})
        room = room.model_copy(update={"space": space})
    if furniture != room.furniture:
        room = room.model_copy(update={"furniture": furniture})
    return room


def _slid(patch: Patch, wall: str, slide: float) -> Patch:
    start = plus(patch.from_, slide)
    start = 0.0 if -NEAR < start < 0 else start
    change = {"wall": wall, "from_": start, "to": plus(patch.to, slide)}
    return patch.model_copy(update={k: v for k, v in change.items() if v != getattr(patch, k)})


def _refuse_overlaps(room: Room, wall: str, where: str) -> None:
    """Keep patches beside each other that have slid on a wall."""
    on = [(k, p) for k, p in room.space.finishes.wall_patches.items() if p.wall == wall]
    for i, (key, patch) in enumerate(on):
        for other, rival in on[:i]:
            if (
                min(patch.to, rival.to) - max(patch.from_, rival.from_) > NEAR
                and min(patch.top, rival.top) - max(patch.bottom, rival.bottom) > NEAR
            ):
                raise OperationError(
                    where, f"{key} would lie over {other}", "move or take away one of them first"
                )


def _surfaces(room: Room, change: Callable[[dict[str, Any]], dict[str, Any]]) -> Room:
    """Room with what is told wall by wall, its finishes and isolation, told of other walls."""
    space = room.space
    update: dict[str, Any] = {}
    if isinstance(space.finishes.walls, dict):
        walls = change(space.finishes.walls)
        if walls != space.finishes.walls:
            update["finishes"] = space.finishes.model_copy(update={"walls": walls})
    isolation = change(space.isolation)
    if isolation != space.isolation:
        update["isolation"] = isolation
    return room.model_copy(update={"space": space.model_copy(update=update)}) if update else room


def _with_twin(named: dict[str, Any], name: str, second: str) -> dict[str, Any]:
    """Mapping in which a second name follows the first, with the same value."""
    fresh = {}
    for key, value in named.items():
        fresh[key] = value
        if key == name:
            fresh[second] = value
    return fresh
