"""Conduit: which cables end at or go through a rack, a box or an entry, and the pipe they need."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal, TypeAlias

from wellheard.catalog.ports import PortKind
from wellheard.catalog.regions import region_of
from wellheard.electrics.pathways import (
    BEND_FACTORS,
    PULL_TENSION,
    Conduit,
    Family,
    conduit_bend_radius,
    fill,
    fits,
    jam_ratio,
    pull_points,
    smallest_conduit,
)
from wellheard.room.document import Room
from wellheard.room.equipment import EquipmentKind
from wellheard.schedules.cables import CableRow, CableSchedule
from wellheard.schedules.links import LOUDSPEAKER_LINES
from wellheard.signal.ports import split

PLACES: tuple[EquipmentKind, ...] = ("rack", "table-box", "wall-plate", "entry")
"""Where pipes end."""
PAIRS: tuple[PortKind, ...] = ("twisted-pair", "network")
"""Kinds that run over four twisted pairs."""
Way: TypeAlias = Literal["ceiling", "floor", "walls", ""]
"""Where the cables of a pipe come from."""
_FROM: dict[Way, str] = {
    "ceiling": " from the ceiling",
    "floor": " from the floor",
    "walls": " along walls",
    "": "",
}
AT_ENTRY = 0.01
"""A way with a corner this near to an entry goes through it [m]."""
MOST_SPARE = 50
"""Further cables are counted up to this."""


@dataclass(frozen=True)
class Pipe:
    """Cables into one place that may share a pipe.

    Parameters
    ----------
    place : str
        Id of the equipment.
    sort : {"signals", "loudspeaker lines"}
        The two lie apart.
    way : {"ceiling", "floor", "walls", ""}
        Where they come from: above the ceiling, under the floor, along walls; empty where that is
        unknown. No pipe comes from two of them.
    cables : tuple of CableRow
        With a way of their own outside cords and racks.
    trade, metric : Conduit or None
        Smallest that they may share; None where none is large enough: they need several.
    family : {"emt", "metric"}
        That is usual in the region.
    length : float or None
        Of the longest way of these cables, if it were all in pipe. [m]
    bends : int
        Most corners of any of them.
    """

    place: str
    sort: str
    way: Way
    cables: tuple[CableRow, ...]
    trade: Conduit | None
    metric: Conduit | None
    family: Family
    length: float | None
    bends: int

    @property
    def says(self) -> str:
        """Sort and way in words: "signals from the ceiling"."""
        return f"{self.sort}{_FROM[self.way]}"

    @property
    def chosen(self) -> Conduit | None:
        """The size of the family that is usual in the region."""
        return self.trade if self.family == "emt" else self.metric

    @property
    def diameters(self) -> tuple[float, ...]:
        """Outer, of each cable. [m]"""
        return tuple(diameter(row) for row in self.cables)

    @property
    def fill(self) -> float | None:
        """Share of the inside of the chosen size that is taken."""
        size = self.chosen
        return None if size is None else fill(self.diameters, area=size.area)

    @property
    def jam_ratio(self) -> float | None:
        """Inside over outside diameter of three cables; None for another number."""
        size = self.chosen
        return None if size is None else jam_ratio(self.diameters, inside=size.diameter)

    @property
    def spare(self) -> int:
        """Further cables, each as thick as the thickest of these, that the chosen size takes."""
        size = self.chosen
        if size is None:
            return 0
        added, thickest = 0, max(self.diameters)
        while added < MOST_SPARE and fits(
            (*self.diameters, *[thickest] * (added + 1)), area=size.area
        ):
            added += 1
        return added

    @property
    def pipe_bend_radius(self) -> float | None:
        """Least of the pipe's own bends. [m]"""
        size = self.chosen
        return None if size is None else conduit_bend_radius(size.diameter)

    @property
    def cable_bend_radius(self) -> float:
        """Least that every one of its cables allows once it is in. [m]"""
        return max(diameter(row) * bend_factor(row.kind) for row in self.cables)

    @property
    def pull_tension(self) -> float | None:
        """Most that the pull may take, of four twisted pairs; None where there are none. [N]"""
        return PULL_TENSION if any(row.kind in PAIRS for row in self.cables) else None

    @property
    def pull_points(self) -> int | None:
        """Boxes between its ends, if all of the worst way is in pipe; None: unknown."""
        if self.length is None:
            return None
        ways = (pairwise(row.run.route) for row in self.cables)
        return max(pull_points([math.dist(a, b) for a, b in way]) for way in ways)


def diameter(row: CableRow) -> float:
    """Outer diameter of a row's cable. [m]"""
    if row.cable is None:
        raise ValueError(f"{row.id} has no cable")
    return row.cable.outer_diameter


def bend_factor(kind: PortKind | None) -> float:
    """Least bend radius over outer diameter: of four pairs as stated, else the larger of coaxial.

    Examples
    --------
    >>> bend_factor("network"), bend_factor("balanced")
    (4.0, 10.0)
    """
    return BEND_FACTORS["twisted pair" if kind in PAIRS else "coaxial"]


def conduits_of(room: Room, schedule: CableSchedule) -> tuple[Pipe, ...]:
    """Return a pipe for every place, sort of cable and way, in the document's order.

    Parameters
    ----------
    room : Room
        With its equipment.
    schedule : CableSchedule
        Of the same room.

    Notes
    -----
    Cords, cables inside a rack and links without a cable are in none. Loudspeaker lines have a pipe
    of their own, since they may be of another class and disturb (common practice, no source).
    """
    family: Family = "emt" if _trade(room) else "metric"
    found = []
    for place, item in room.equipment.items():
        if item.kind not in PLACES:
            continue
        here = [row for row in schedule.rows if _laid(row) and _comes_to(room, row, place)]
        for sort, way, rows in _alike(here):
            sizes = [diameter(row) for row in rows]
            ways = [row.run.along + row.run.rises for row in rows if row.run.route]
            found.append(
                Pipe(
                    place=place,
                    sort=sort,
                    way=way,
                    cables=tuple(rows),
                    trade=smallest_conduit(sizes, family="emt"),
                    metric=smallest_conduit(sizes, family="metric"),
                    family=family,
                    length=max(ways) if len(ways) == len(rows) else None,
                    bends=max(row.run.bends for row in rows),
                )
            )
    return tuple(found)


def _trade(room: Room) -> bool:
    region = region_of(room.site.region)
    return region.id in ("us", "ca") if region is not None else room.units == "ft"


def _laid(row: CableRow) -> bool:
    """Whether a cable has a way that a pipe could hold."""
    run = row.run
    if row.cable is None or row.is_cord:
        return False
    return not run.route or run.in_void + run.in_floor + run.in_wall > 0.0


def _comes_to(room: Room, row: CableRow, place: str) -> bool:
    for end in (row.from_, row.to):
        name = split(end)[0]
        device = room.devices.get(name)
        if place in (name, device.equipment if device is not None else None):
            return True
    item = room.equipment[place]
    return item.kind == "entry" and any(
        math.dist(corner[:2], item.at[:2]) <= AT_ENTRY for corner in row.run.route
    )


def _alike(rows: Sequence[CableRow]) -> Iterable[tuple[str, Way, list[CableRow]]]:
    """Cables of one sort that come one way."""
    lines = [row for row in rows if row.kind in LOUDSPEAKER_LINES]
    signals = [row for row in rows if row.kind not in LOUDSPEAKER_LINES]
    for sort, some in (("signals", signals), ("loudspeaker lines", lines)):
        for way in _FROM:
            found = [row for row in some if _way(row) == way]
            if found:
                yield sort, way, found


def _way(row: CableRow) -> Way:
    run = row.run
    if not run.route:
        return ""
    return "ceiling" if run.in_void > 0.0 else "floor" if run.in_floor > 0.0 else "walls"
