"""Who sits at which table, and what a person can walk on."""

from __future__ import annotations

import numpy as np

from wellheard.arrays import Array
from wellheard.geometry import contains_points
from wellheard.predict.evidence import Evidence, Talker
from wellheard.predict.seating import DRAWN, Sitting, at_tables, tables
from wellheard.room.document import Room

__all__ = ["DRAWN", "PLATFORM", "Sitting", "on_soft_seat", "seated", "sittings", "solids", "tables"]

PLATFORM = 0.45
"""An obstacle up to this high is a step or platform that people stand on (common practice). [m]"""


def seated(evidence: Evidence) -> tuple[Talker, ...]:
    """Everybody who sits, in the document's order."""
    return tuple(talker for talker in evidence.talkers if talker.kind == "seat")


def sittings(evidence: Evidence) -> tuple[Sitting, ...]:
    """Everybody who sits at a table: the nearest one that is not behind their back."""
    return at_tables(evidence.room, evidence.talkers)


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
