"""Who sits at which table, how far from its edge, and where they put laptop and papers.

::

        ┌────────────── table ──────────────┐
        │          ┌─────────┐              │    working place: 0.6 m wide, 0.45 m deep
        └──────────┴────●────┴──────────────┘    ● edge
                        ↑ front
                        ○ head, gap before the edge
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from wellheard.arrays import Array
from wellheard.geometry import contains_points, nearest_point_on_polygon
from wellheard.predict.evidence import Point, Talker
from wellheard.predict.talkers import azimuth_vectors
from wellheard.room.document import Room

Plan = tuple[float, float]

AT_TABLE = 0.6
"""A person whose mouth is this near to a table's edge sits at that table (common practice). [m]"""

BEHIND = -0.5
"""Cosine from which on a table counts as behind a person: more than 120° off the facing."""

DRAWN = 0.01
"""Rounding of drawn furniture and people; what keeps a distance to within this keeps it. [m]"""

DEPTH = "working-place-depth"
WIDTH = "working-place-width"
"""Codes of the house limits that say how large a working place is."""


@dataclass(frozen=True)
class Sitting:
    """One seat, and the table before it.

    ``gap`` is the plan distance from the mouth to the nearest point ``edge`` of the table,
    negative for a mouth over the table; ``front`` is the unit vector from the mouth over it.
    """

    talker: Talker
    table: str
    gap: float
    edge: Plan
    front: Plan

    @property
    def head(self) -> Plan:
        """The mouth on the plan. [m]"""
        return self.talker.at[:2]


def tables(room: Room) -> dict[str, Array]:
    """Outlines of the tables, by id."""
    return {
        name: np.asarray(item.outline, dtype=np.float64)
        for name, item in room.furniture.items()
        if item.kind == "table"
    }


def at_tables(room: Room, talkers: Sequence[Talker]) -> tuple[Sitting, ...]:
    """Everybody who sits at a table: the nearest one that is not behind their back."""
    people = [one for one in talkers if one.kind == "seat"]
    outlines = tables(room)
    if not people or not outlines:
        return ()
    heads = np.array([one.at[:2] for one in people])
    looks = azimuth_vectors([one.facings_deg[0] for one in people])[:, :2]
    gaps, edges, fronts = [], [], []
    for outline in outlines.values():
        near = nearest_point_on_polygon(heads, outline)
        distance = np.linalg.norm(near - heads, axis=1)
        over = contains_points(outline, heads, tolerance=0.0)
        towards = np.where(over[:, None], heads - near, near - heads)
        at_edge = distance < 1e-9
        unit = np.where(
            at_edge[:, None], looks, towards / np.where(at_edge, 1.0, distance)[:, None]
        )
        gap = np.where(over, -distance, distance)
        behind = ~over & ((unit * looks).sum(axis=1) < BEHIND)
        gaps.append(np.where(behind | (gap > AT_TABLE), np.inf, gap))
        edges.append(near)
        fronts.append(unit)
    nearest = np.argmin(np.stack(gaps), axis=0)
    names = list(outlines)
    return tuple(
        Sitting(
            talker=one,
            table=names[k],
            gap=float(gaps[k][i]),
            edge=(float(edges[k][i, 0]), float(edges[k][i, 1])),
            front=(float(fronts[k][i, 0]), float(fronts[k][i, 1])),
        )
        for i, (one, k) in enumerate(zip(people, nearest.tolist(), strict=True))
        if math.isfinite(gaps[k][i])
    )


@dataclass(frozen=True)
class WorkingPlaces:
    """The place before each person at a table, from its edge inwards, on the table top."""

    sittings: tuple[Sitting, ...]
    deep: float
    wide: float
    """[m]"""
    _front: Array = field(repr=False)
    _edge: Array = field(repr=False)
    _top: Array = field(repr=False)

    @classmethod
    def of(cls, room: Room, talkers: Sequence[Talker]) -> WorkingPlaces:
        """As large as the document's house limits say."""
        people = at_tables(room, talkers)
        limit = room.targets.house_limit
        return cls(
            sittings=people,
            deep=limit(DEPTH) or 0.0,
            wide=limit(WIDTH) or 0.0,
            _front=np.array([one.front for one in people]).reshape(-1, 2),
            _edge=np.array([one.edge for one in people]).reshape(-1, 2),
            _top=np.array([_top(room, one.table) for one in people]),
        )

    def nearest(self, at: Point) -> tuple[Sitting, float] | None:
        """The one nearest to a point and how far it is, 0 inside; None where there is none. [m]"""
        if not self.sittings:
            return None
        offset = np.asarray(at[:2]) - self._edge
        inwards = (offset * self._front).sum(axis=1)
        across = offset[:, 1] * self._front[:, 0] - offset[:, 0] * self._front[:, 1]
        beyond = np.maximum(np.maximum(-inwards, inwards - self.deep), 0.0)
        aside = np.maximum(np.abs(across) - self.wide / 2, 0.0)
        over = np.maximum(at[2] - self._top, 0.0)
        distance = np.sqrt(beyond**2 + aside**2 + over**2)
        nearest = int(np.argmin(np.round(distance, 9)))
        return self.sittings[nearest], float(distance[nearest])


def _top(room: Room, table: str) -> float:
    item = room.furniture[table]
    return item.height if item.kind == "table" else math.inf
