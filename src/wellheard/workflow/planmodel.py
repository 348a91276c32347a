"""The plan of a room as plain data for whoever draws it: nothing predicted, everything in words.

Lengths are metres on the plan, angles degrees anticlockwise from +x; what is read is text already.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from wellheard.catalog.catalogue import Catalogue
from wellheard.drawings import structure, view
from wellheard.drawings.dimensions import chain, printed
from wellheard.drawings.roomplan import SET_OUT_SYMBOLS
from wellheard.geometry import interior_point
from wellheard.predict.devices import other_devices, placed_microphones
from wellheard.predict.talkers import azimuths_deg, facings_deg, talkers
from wellheard.room.document import Room
from wellheard.room.finishes import InlineFinish
from wellheard.schedules.labels import room_names
from wellheard.units import INCH, Unit, format_length
from wellheard.workflow import sheets
from wellheard.workflow.load import Loaded
from wellheard.workflow.properties import aspects

STEP: dict[Unit, float] = {"m": 0.05, "ft": INCH}
"""What a hand snaps to. [m]"""
BOX = "processor"
"""Symbol of electronics and of equipment that has none of its own."""
ON_CEILING = 0.02
"""A device this near to the ceiling is in it. [m]"""

Json = dict[str, Any]


def plan(loaded: Loaded, *, unit: Unit) -> Json:
    """Everything on the plan of a document, and what may be edited on it.

    Parameters
    ----------
    loaded : Loaded
        The document with its catalogue.
    unit : {"m", "ft"}
        Of every length in words.

    Returns
    -------
    dict
        As JSON has it: only text, finite numbers, lists and mappings.
    """
    room, catalogue = loaded.room, loaded.catalogue
    corners = np.asarray(room.space.outline, dtype=np.float64)
    devices = _devices(room, catalogue, unit)
    return {
        "title": room.title or "Untitled room",
        "subtitle": _subtitle(room, unit),
        "units": room.units,
        "height": room.space.height,
        "bounds": [*corners.min(axis=0).tolist(), *corners.max(axis=0).tolist()],
        "outline": _points(room.space.outline),
        "walls": list(_walls(room, catalogue, unit)),
        "obstacles": [
            {"path": f"space.obstacles.{key}", "outline": _points(one.outline)}
            for key, one in room.space.obstacles.items()
        ],
        "patches": list(_patches(room, unit)),
        "tiles": _tiles(room),
        "furniture": [
            {
                "path": f"furniture.{one.id}",
                "id": one.id,
                "kind": one.kind,
                "outline": _points(one.outline),
                "words": _named(one.id, printed(one.height or 0.0, unit)),
            }
            for one in sheets.furniture(room)
        ],
        "displays": list(_displays(room, unit)),
        "standing": list(_standing(room)),
        "seats": list(_seats(room)),
        "overhead": [
            {
                "path": f"overhead.{one.id}",
                "id": one.id,
                "kind": one.kind,
                "outline": _points(one.outline),
                "clearance": one.clearance,
            }
            for one in sheets.overhead(room)
        ]
        + [
            {
                "path": f"space.finishes.patches.{one.id}",
                "id": one.id,
                "kind": "panel",
                "outline": _points(one.outline),
                "clearance": 0.0,
            }
            for one in sheets.level_patches(room)
            if one.surface == "ceiling"
        ],
        "sources": list(_sources(room)),
        "equipment": list(_equipment(room)),
        "devices": devices,
        "housed": list(_housed(room)),
        "partitions": [
            {
                "path": f"partitions.{key}",
                "id": key,
                "from": list(one.from_),
                "to": list(one.to),
            }
            for key, one in room.partitions.items()
        ],
        "dimensions": _dimensions(room, devices, unit),
        "snap": {"step": STEP[unit]},
        "aspects": aspects(loaded, unit=unit),
    }


def _subtitle(room: Room, unit: Unit) -> str:
    seats = len(room.people.seats)
    height = format_length(room.space.height, unit=unit)
    return f"{seats} seat{'' if seats == 1 else 's'}, {height} high"


def _points(outline: Sequence[Sequence[float]]) -> list[list[float]]:
    return [list(corner) for corner in outline]


def _named(name: str, *more: str) -> str:
    return " ".join((name.replace("-", " "), *more))


# Walls ---------------------------------------------------------------------------------------


def _walls(room: Room, catalogue: Catalogue, unit: Unit) -> Iterator[Json]:
    for index, name in enumerate(room.space.walls):
        start, end = room.space.wall_ends(name)
        finish = room.space.wall_finish(name)
        yield {
            "path": f"space.walls.{index}",
            "name": name,
            "from": list(start),
            "to": list(end),
            "length_words": format_length(math.dist(start, end), unit=unit),
            "finish": _finish_name(finish, catalogue),
        }


def _finish_name(finish: str | InlineFinish, catalogue: Catalogue) -> str:
    if isinstance(finish, InlineFinish):
        return "figures of its own"
    return catalogue.finish(finish).name


def _on_wall(room: Room, wall: int, along: float) -> list[float]:
    """Point of a wall by its distance from the wall's first corner. [m]"""
    (x0, y0), (x1, y1) = room.space.wall_ends(room.space.walls[wall])
    share = along / math.dist((x0, y0), (x1, y1))
    return [x0 + share * (x1 - x0), y0 + share * (y1 - y0)]


def _patches(room: Room, unit: Unit) -> Iterator[Json]:
    for one in sheets.patches(room):
        low, high = printed(one.bottom, unit), printed(one.top or 0.0, unit)
        yield {
            "path": f"space.finishes.patches.{one.id}",
            "id": one.id,
            "kind": one.kind,
            "from": _on_wall(room, one.wall, one.start),
            "to": _on_wall(room, one.wall, one.end),
            "hinge": one.hinge,
            "words": f"{one.label} {low}–{high}",
        }


def _displays(room: Room, unit: Unit) -> Iterator[Json]:
    for one in sheets.displays(room):
        size = f"{printed(one.end - one.start, unit)} × {printed(one.top - one.bottom, unit)}"
        yield {
            "path": f"furniture.{one.id}",
            "id": one.id,
            "from": _on_wall(room, one.wall, one.start),
            "to": _on_wall(room, one.wall, one.end),
            "words": _named(one.id, size),
        }


def _tiles(room: Room) -> Json | None:
    """Lines of the tile grid, cut at the walls."""
    grid = sheets.ceiling_grid(room)
    if grid is None:
        return None
    import shapely  # not needed for the ceiling of most other documents' questions

    lines = shapely.linestrings(structure.grid_lines(grid, room.space.outline))
    cut = shapely.get_parts(shapely.intersection(lines, shapely.polygons(room.space.outline)))
    ends = [
        [round(float(c), 6) for point in (shape.coords[0], shape.coords[-1]) for c in point]
        for shape in cut
        if shape.geom_type == "LineString" and shape.length > 1e-6
    ]
    return {
        "lines": ends,
        "module": list(grid.module),
        "origin": list(grid.origin),
        "rotation_deg": grid.rotation_deg,
    }


# People, sources, equipment ------------------------------------------------------------------


def _seats(room: Room) -> Iterator[Json]:
    alike: dict[float | str, list[str]] = {}
    for key, seat in room.people.seats.items():
        alike.setdefault(seat.facing[0], []).append(key)
    facing_deg: dict[str, float] = {}
    for facing, keys in alike.items():
        heads = np.array([room.people.seats[key].at for key in keys], dtype=np.float64)
        facing_deg |= zip(keys, azimuths_deg(room, heads, facing)[:, 0].tolist(), strict=True)
    for key, seat in room.people.seats.items():
        yield {
            "path": f"people.seats.{key}",
            "id": key,
            "at": list(seat.at),
            "facing_deg": round(facing_deg[key], 6),
            "words": f"seat {key}",
        }


def _standing(room: Room) -> Iterator[Json]:
    for key, area in room.people.standing.items():
        x, y = interior_point(np.asarray(area.outline, dtype=np.float64)).tolist()
        yield {
            "path": f"people.standing.{key}",
            "id": key,
            "outline": _points(area.outline),
            "facing_deg": facings_deg(room, (x, y), area.facing)[0],
            "at": [x, y],
        }


def _sources(room: Room) -> Iterator[Json]:
    drawn = {one.id: one for one in sheets.sources(room)}
    for key, source in room.noise.sources.items():
        mark = drawn.get(key)
        level = "" if source.dba_at_1m is None else f"{source.dba_at_1m:g} dBA at 1 m"
        yield {
            "path": f"noise.sources.{key}",
            "id": key,
            "symbol": mark.kind if mark is not None else "noise",
            "at": list(source.at),
            "facing_deg": mark.facing_deg if mark is not None else 90.0,
            "words": _named(key, level).strip(),
        }


def _equipment(room: Room) -> Iterator[Json]:
    drawn = {one.id: one.kind for one in sheets.equipment(room)}
    for key, one in room.equipment.items():
        yield {
            "path": f"equipment.{key}",
            "id": key,
            "symbol": drawn.get(key, BOX),
            "at": list(one.at),
            "words": _named(key),
        }


# Devices -------------------------------------------------------------------------------------


def _devices(room: Room, catalogue: Catalogue, unit: Unit) -> list[Json]:
    """Devices that have a place of their own, in the document's order."""
    if not any(device.at for device in room.devices.values()):
        return []
    names = room_names(room)
    marks = {
        one.id: one
        for one in sheets.device_marks(
            placed_microphones(room, catalogue, talkers(room)),
            other_devices(room, catalogue),
            room.space.height,
            names=names,
        )
    }
    found = []
    for key, device in room.devices.items():
        if device.at is None:
            continue
        mark = marks.get(key)
        facing = device.aim_deg if mark is None or mark.facing_deg is None else mark.facing_deg
        found.append(
            {
                "path": f"devices.{key}",
                "id": key,
                "label": names[key],
                "symbol": mark.symbol if mark is not None else BOX,
                "at": list(device.at),
                "aim_deg": facing,
                "height_words": printed(device.at[2], unit),
                "product": device.product,
                "locked": device.locked,
                "on_ceiling": _hangs(mark, room.space.height, device.at[2]),
                "kind": device.kind,
            }
        )
    return found


def _hangs(mark: view.DeviceMark | None, height: float, z: float) -> bool:
    if mark is not None and mark.drop is not None:
        return True
    return height - z < ON_CEILING


def _housed(room: Room) -> Iterator[Json]:
    """Devices without a place of their own, and what houses them."""
    for key, device in room.devices.items():
        if device.at is None:
            yield {
                "path": f"devices.{key}",
                "id": key,
                "product": device.product,
                "kind": device.kind,
                "in": f"equipment.{device.equipment}" if device.equipment else "",
            }


def _dimensions(room: Room, devices: Sequence[Json], unit: Unit) -> list[Json]:
    """Set-out chains of what hangs from the ceiling, from wall to wall."""
    hung = [one for one in devices if one["symbol"] in SET_OUT_SYMBOLS]
    if not hung:
        return []
    found = []
    for axis, name in enumerate(("x", "y")):
        values = [corner[axis] for corner in room.space.outline]
        low, high = min(values), max(values)
        links = chain([0.0, *(one["at"][axis] - low for one in hung), high - low], unit=unit)
        found.append(
            {
                "axis": name,
                "stops": [low + stop for stop in links.positions],
                "words": list(links.labels),
            }
        )
    return found
