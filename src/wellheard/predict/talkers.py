"""Who talks from where, and which way they look."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from wellheard.arrays import Array
from wellheard.geometry.points import (
    contains_points,
    nearest_point_on_polygon,
    samples_in_polygon,
)
from wellheard.geometry.polygons import centroid
from wellheard.predict.evidence import Talker
from wellheard.room.document import Room

STANDING_SPACING = 0.8
"""Largest distance between sampled points of a standing area [m]."""


def talkers(room: Room) -> tuple[Talker, ...]:
    """Every seat, and sampled points of every standing area, in the document's order.

    Points of a standing area are named ``presenter.1``, ``presenter.2``, … from its
    south-west corner.
    """
    found: list[Talker] = []
    for name, seat in room.people.seats.items():
        at = (seat.at[0], seat.at[1], seat.height)
        found.append(
            Talker(
                id=name,
                kind="seat",
                owner=f"people.seats.{name}",
                at=at,
                facings_deg=facings_deg(room, at[:2], seat.facing),
            )
        )
    for name, area in room.people.standing.items():
        outline = np.asarray(area.outline, dtype=np.float64)
        for number, (x, y) in enumerate(
            samples_in_polygon(outline, spacing=STANDING_SPACING), start=1
        ):
            point = (float(x), float(y))
            found.append(
                Talker(
                    id=f"{name}.{number}",
                    kind="standing",
                    owner=f"people.standing.{name}",
                    at=(*point, area.height),
                    facings_deg=facings_deg(room, point, area.facing),
                )
            )
    return tuple(found)


def facings_deg(room: Room, at: tuple[float, float], facing: object) -> tuple[float, ...]:
    """Azimuths a person at ``at`` looks along [°, anticlockwise from +x].

    ``across`` looks at the nearest point of the nearest table (from inside its outline, at
    its centre; without a table, at the middle of all seats); ``display`` looks at the nearest
    display.
    """
    stated = facing if isinstance(facing, (list, tuple)) else (facing,)
    found: list[float] = []
    for one in stated:
        if one == "across":
            target = _across(room, at)
        elif one == "display":
            target = _nearest_display(room, at)
        else:
            found.append(float(one) % 360.0)
            continue
        found.append(_azimuth_deg(at, target))
    return tuple(dict.fromkeys(round(f, 6) for f in found))


def azimuth_vectors(azimuth_deg: Sequence[float] | Array) -> Array:
    """Horizontal unit vectors, shape (n, 3), of azimuths in degrees."""
    angle = np.radians(np.asarray(azimuth_deg, dtype=np.float64))
    return np.stack([np.cos(angle), np.sin(angle), np.zeros_like(angle)], axis=-1)


def _azimuth_deg(start: tuple[float, float], end: tuple[float, float]) -> float:
    dx, dy = end[0] - start[0], end[1] - start[1]
    if math.hypot(dx, dy) < 1e-9:
        return 0.0
    return math.degrees(math.atan2(dy, dx)) % 360.0


def _across(room: Room, at: tuple[float, float]) -> tuple[float, float]:
    point = np.asarray(at, dtype=np.float64)
    best: tuple[float, tuple[float, float]] | None = None
    for item in room.furniture.values():
        if item.kind != "table":
            continue
        outline = np.asarray(item.outline, dtype=np.float64)
        near = nearest_point_on_polygon(point[None], outline)[0]
        distance = float(np.hypot(*(near - point)))
        if bool(contains_points(outline, point[None])[0]) or distance < 0.02:
            near, distance = centroid(outline), 0.0
        if best is None or distance < best[0]:
            best = (distance, (float(near[0]), float(near[1])))
    if best is not None:
        return best[1]
    seats = [s.at for s in room.people.seats.values()]
    if not seats:
        middle = centroid(np.asarray(room.space.outline, dtype=np.float64))
        return (float(middle[0]), float(middle[1]))
    return (
        sum(s[0] for s in seats) / len(seats),
        sum(s[1] for s in seats) / len(seats),
    )


def _nearest_display(room: Room, at: tuple[float, float]) -> tuple[float, float]:
    places = [
        display_place(room, name)
        for name, item in room.furniture.items()
        if item.kind in ("display", "screen")
    ]
    return min(places, key=lambda p: math.hypot(p[0] - at[0], p[1] - at[1]))[:2]


def display_place(room: Room, name: str) -> tuple[float, float, float]:
    """Centre of a display or screen on its wall [m]."""
    item = room.furniture[name]
    if item.kind != "display" and item.kind != "screen":
        raise KeyError(f"furniture.{name} is no picture")
    (x0, y0), (x1, y1) = room.space.wall_ends(item.wall)
    share = item.centre[0] / math.hypot(x1 - x0, y1 - y0)
    return (x0 + (x1 - x0) * share, y0 + (y1 - y0) * share, item.centre[1])
