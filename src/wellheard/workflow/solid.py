"""A room as faces, lines and marks in space, for whoever turns it about.

The room is its plan drawn up to one flat ceiling. Metres, z up; nothing is predicted.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any, Literal, TypeAlias

from wellheard.room.document import Room
from wellheard.room.furniture import Lectern
from wellheard.units import format_length
from wellheard.workflow import planmodel, sheets
from wellheard.workflow.load import Loaded

FaceKind: TypeAlias = Literal[
    "wall", "floor", "ceiling", "table", "display", "obstacle", "panel", "keep-out"
]
Json: TypeAlias = dict[str, Any]
Plan: TypeAlias = Sequence[Sequence[float]]

DROP = 0.02
"""A device this far below the ceiling hangs from something. [m]"""
OFF_WALL = 0.01
"""What is on a wall is drawn this far in front of it. [m]"""


def solid(loaded: Loaded) -> Json:
    """Faces, lines and marks of a room.

    Parameters
    ----------
    loaded : Loaded
        The document with its catalogue.

    Returns
    -------
    dict
        ``faces`` and ``lines`` with ``kind`` and ``points`` [x, y, z], ``marks`` with ``path``,
        ``kind``, ``symbol``, ``at`` and ``words``, and ``bounds`` [x0, y0, z0, x1, y1, z1]. Faces
        are flat; those of the room have their front inside. [m]
    """
    room = loaded.room
    outline, height = room.space.outline, room.space.height
    plan = planmodel.plan(loaded, unit=room.units)
    (x0, x1), (y0, y1) = ((min(c), max(c)) for c in zip(*outline, strict=True))
    return {
        "faces": [
            *_shell(room),
            *_on_walls(room),
            *_standing_things(room),
            *_overhead(room),
            *_level_patches(room),
        ],
        "lines": [*_drops(room), *_tiles(plan, height)],
        "marks": list(_marks(room, plan)),
        "bounds": [x0, y0, 0.0, x1, y1, height],
    }


def _face(kind: FaceKind, points: Sequence[Sequence[float]], path: str = "") -> Json:
    face: Json = {"kind": kind, "points": [[float(c) for c in point] for point in points]}
    return {**face, "path": path} if path else face


def _flat(outline: Plan, z: float) -> list[tuple[float, float, float]]:
    return [(x, y, z) for x, y in outline]


def _upright(a: Sequence[float], b: Sequence[float], low: float, high: float) -> list[Any]:
    return [(*a, low), (*b, low), (*b, high), (*a, high)]


def _sides(outline: Plan, low: float, high: float) -> Iterator[list[Any]]:
    for i, corner in enumerate(outline):
        yield _upright(corner, outline[(i + 1) % len(outline)], low, high)


def _shell(room: Room) -> Iterator[Json]:
    outline, height = room.space.outline, room.space.height
    yield _face("floor", _flat(outline, 0.0))
    yield _face("ceiling", _flat(outline, height)[::-1])
    for index, side in enumerate(_sides(outline, 0.0, height)):
        # Seen from inside, counter-clockwise.
        yield _face("wall", [side[1], side[0], side[3], side[2]], f"space.walls.{index}")


def _on_walls(room: Room) -> Iterator[Json]:
    for one in sheets.patches(room):
        a, b = _stretch(room, one.wall, one.start, one.end)
        top = room.space.height if one.top is None else one.top
        path = f"space.finishes.patches.{one.id}"
        yield _face("panel", _upright(b, a, one.bottom, top), path)
    for picture in sheets.displays(room):
        a, b = _stretch(room, picture.wall, picture.start, picture.end)
        points = _upright(b, a, picture.bottom, picture.top)
        yield _face("display", points, f"furniture.{picture.id}")


def _stretch(room: Room, wall: int, start: float, end: float) -> tuple[Any, Any]:
    """Ends of a stretch of wall, a little inside the room."""
    (x0, y0), (x1, y1) = room.space.wall_ends(room.space.walls[wall])
    length = math.dist((x0, y0), (x1, y1))
    ux, uy = (x1 - x0) / length, (y1 - y0) / length
    ends = [
        (x0 + ux * along - uy * OFF_WALL, y0 + uy * along + ux * OFF_WALL) for along in (start, end)
    ]
    return ends[0], ends[1]


def _standing_things(room: Room) -> Iterator[Json]:
    for one in sheets.furniture(room):
        path, top = f"furniture.{one.id}", one.height or 0.0
        yield _face("table", _flat(one.outline, top), path)
        if one.kind != "table" or isinstance(room.furniture[one.id], Lectern):
            for side in _sides(one.outline, 0.0, top):
                yield _face("obstacle", side, path)
    for key, obstacle in room.space.obstacles.items():
        path = f"space.obstacles.{key}"
        top = room.space.height if obstacle.height is None else obstacle.height
        for side in _sides(obstacle.outline, 0.0, top):
            yield _face("obstacle", side, path)
        yield _face("obstacle", _flat(obstacle.outline, top), path)


def _overhead(room: Room) -> Iterator[Json]:
    for key, one in room.overhead.items():
        path, height = f"overhead.{key}", room.space.height
        low = height if one.bottom is None else one.bottom
        yield _face("keep-out", _flat(one.outline, low)[::-1], path)
        if low < height:
            for side in _sides(one.outline, low, height):
                yield _face("keep-out", side, path)


def _level_patches(room: Room) -> Iterator[Json]:
    for one in sheets.level_patches(room):
        path, height = f"space.finishes.patches.{one.id}", room.space.height
        if one.surface == "ceiling":
            yield _face("panel", _flat(one.outline, height - OFF_WALL)[::-1], path)
        else:
            yield _face("panel", _flat(one.outline, OFF_WALL), path)


def _line(kind: Literal["drop", "tile"], *points: Sequence[float]) -> Json:
    return {"kind": kind, "points": [[float(c) for c in point] for point in points]}


def _drops(room: Room) -> Iterator[Json]:
    """What holds a device up to the ceiling that hangs over no table and stands nowhere."""
    height = room.space.height
    for device in room.devices.values():
        if device.at is not None and height / 2 < device.at[2] < height - DROP:
            yield _line("drop", device.at, (*device.at[:2], height))


def _tiles(plan: Json, height: float) -> Iterator[Json]:
    tiles = plan["tiles"]
    for xa, ya, xb, yb in tiles["lines"] if tiles is not None else ():
        yield _line("tile", (xa, ya, height), (xb, yb, height))


def _marks(room: Room, plan: Json) -> Iterator[Json]:
    for key, seat in room.people.seats.items():
        yield _mark(f"people.seats.{key}", "seat", "seat", (*seat.at, seat.height), key)
    for one in plan["devices"]:
        words = f"{one['label']} {format_length(one['at'][2], unit=room.units)}"
        yield _mark(one["path"], "device", one["symbol"], one["at"], words)
    for one in plan["sources"]:
        yield _mark(one["path"], "source", one["symbol"], one["at"], one["words"])


def _mark(path: str, kind: str, symbol: str, at: Sequence[float], words: str) -> Json:
    place = [float(c) for c in at]
    return {"path": path, "kind": kind, "symbol": symbol, "at": place, "words": words}
