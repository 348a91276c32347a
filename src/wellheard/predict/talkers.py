"""Who talks from where, and which way they look."""

from __future__ import annotations

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


AT_TABLE = 0.02
"""A head this near a table's edge counts as over it [m]."""


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
    """Azimuths a person at ``at`` looks along, each once [°, anticlockwise from +x].

    ``across`` looks at the nearest point of the nearest table (from inside its outline, at
    its centre; without a table, at the middle of all seats); ``display`` looks at the nearest
    display.
    """
    found = azimuths_deg(room, np.asarray([at], dtype=np.float64), facing)[0]
    return tuple(dict.fromkeys(round(float(f), 6) for f in found))


def azimuths_deg(room: Room, plan: Array, facing: object) -> Array:
    """The same for many places at once, shape (places, facings), equal ones not merged."""
    stated = facing if isinstance(facing, (list, tuple)) else (facing,)
    columns: list[Array] = []
    for one in stated:
        if one == "across":
            columns.append(_azimuth_deg(plan, _across(room, plan)))
        elif one == "display":
            columns.append(_azimuth_deg(plan, _nearest_display(room, plan)))
        else:
            columns.append(np.full(len(plan), float(one) % 360.0))
    return np.stack(columns, axis=1)


def azimuth_vectors(azimuth_deg: Sequence[float] | Array) -> Array:
    """Horizontal unit vectors, shape (n, 3), of azimuths in degrees."""
    angle = np.radians(np.asarray(azimuth_deg, dtype=np.float64))
    return np.stack([np.cos(angle), np.sin(angle), np.zeros_like(angle)], axis=-1)


def _azimuth_deg(start: Array, end: Array) -> Array:
    away = end - start
    angle = np.degrees(np.arctan2(away[:, 1], away[:, 0])) % 360.0
    return np.where(np.hypot(away[:, 0], away[:, 1]) < 1e-9, 0.0, angle)


def _across(room: Room, plan: Array) -> Array:
    """What a person at each place looks at when looking across, shape (places, 2)."""
    tables = [
        np.asarray(item.outline, dtype=np.float64)
        for item in room.furniture.values()
        if item.kind == "table"
    ]
    if not tables:
        return np.broadcast_to(_middle_of_seats(room), plan.shape)
    targets, distances = [], []
    for outline in tables:
        near = nearest_point_on_polygon(plan, outline)
        distance = np.hypot(*(near - plan).T)
        at_table = contains_points(outline, plan) | (distance < AT_TABLE)
        targets.append(np.where(at_table[:, None], centroid(outline), near))
        distances.append(np.where(at_table, 0.0, distance))
    nearest = np.argmin(np.stack(distances), axis=0)
    return np.stack(targets)[nearest, np.arange(len(plan))]


def _middle_of_seats(room: Room) -> Array:
    seats = [s.at for s in room.people.seats.values()]
    if not seats:
        return centroid(np.asarray(room.space.outline, dtype=np.float64))
    return np.asarray(seats, dtype=np.float64).mean(axis=0)


def _nearest_display(room: Room, plan: Array) -> Array:
    places = np.array(
        [
            display_place(room, name)[:2]
            for name, item in room.furniture.items()
            if item.kind in ("display", "screen")
        ]
    )
    away = np.linalg.norm(plan[:, None] - places[None], axis=-1)
    return places[np.argmin(away, axis=1)]


def display_place(room: Room, name: str) -> tuple[float, float, float]:
    """Centre of a display or screen on its wall [m]."""
    item = room.furniture[name]
    if item.kind != "display" and item.kind != "screen":
        raise KeyError(f"furniture.{name} is no picture")
    return room.space.on_wall(item.wall, *item.centre)
