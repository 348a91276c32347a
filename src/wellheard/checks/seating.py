"""Who sits at which table, how far from its edge, and what a person can walk on.

::

        ┌────────────── table ──────────────┐
        │          ┌─────────┐              │    working place: 0.6 m wide, 0.45 m deep
        └──────────┴────●────┴──────────────┘    ● edge
                        ↑ front
                        ○ head, gap before the edge
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from wellheard.arrays import Array
from wellheard.geometry import contains_points, nearest_point_on_polygon
from wellheard.predict.evidence import Evidence, Talker
from wellheard.predict.talkers import azimuth_vectors
from wellheard.room.document import Room

Plan = tuple[float, float]

AT_TABLE = 0.6
"""A person whose mouth is this near to a table's edge sits at that table (common practice). [m]"""

BEHIND = -0.5
"""Cosine from which on a table counts as behind a person: more than 120° off the facing."""

PLATFORM = 0.45
"""An obstacle up to this high is a step or platform that people stand on (common practice). [m]"""

DRAWN = 0.01
"""Rounding of drawn furniture and people; what keeps a distance to within this keeps it. [m]"""


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


def seated(evidence: Evidence) -> tuple[Talker, ...]:
    """Everybody who sits, in the document's order."""
    return tuple(talker for talker in evidence.talkers if talker.kind == "seat")


def tables(room: Room) -> dict[str, Array]:
    """Outlines of the tables, by id."""
    return {
        name: np.asarray(item.outline, dtype=np.float64)
        for name, item in room.furniture.items()
        if item.kind == "table"
    }


def sittings(evidence: Evidence) -> tuple[Sitting, ...]:
    """Everybody who sits at a table: the nearest one that is not behind their back."""
    people, outlines = seated(evidence), tables(evidence.room)
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


def solids(room: Room) -> dict[str, tuple[str, Array]]:
    """Columns, partial walls and cupboards that nobody stands on: path and outline, by id.

    Low obstacles are platforms and left out.
    """
    found = {
        name: (f"space.obstacles.{name}", np.asarray(item.outline, dtype=np.float64))
        for name, item in room.space.obstacles.items()
        if item.height is None or item.height > PLATFORM
    }
    for name, piece in room.furniture.items():
        if piece.kind == "cupboard":
            found[name] = (f"furniture.{name}", np.asarray(piece.outline, dtype=np.float64))
    return found


def on_soft_seat(room: Room, heads: Array) -> Array:
    """Index of the sofa or bench that each head is over, −1 where there is none."""
    found = np.full(len(heads), -1)
    for index, piece in enumerate(room.furniture.values()):
        if piece.kind == "soft":
            outline = np.asarray(piece.outline, dtype=np.float64)
            found[contains_points(outline, heads)] = index
    return found
