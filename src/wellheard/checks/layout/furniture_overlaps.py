"""Tables, cupboards and sofas that stand in one another or in a column."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.wording import area, length, some_length
from wellheard.geometry.overlap import width_of
from wellheard.predict.evidence import Evidence
from wellheard.room.document import Room

CODE = "furniture-overlaps"
TABLE_TOP = 0.05
"""Thickness taken for a table top with its frame (common practice). [m]"""


@dataclass(frozen=True)
class Piece:
    """Something that stands on the floor, and from where to where it reaches. [m]"""

    id: str
    path: str
    outline: tuple[tuple[float, float], ...]
    bottom: float
    top: float


@rule(CODE, "warning", strength="house", cites="", thresholds=(CODE,))
def furniture_overlaps(evidence: Evidence) -> Iterator[Draft]:
    """No piece of furniture stands in another, or in a column.

    Tables, cupboards, sofas and benches are held against each other and against columns and
    partial walls; an overlap up to 0.05 m wide is taken for a drawing's rounding. Under a
    table top of 0.05 m there is room: what is low enough stands under it. Lecterns have
    no outline and are not assessed.
    """
    pieces = _pieces(evidence.room)
    furniture = sum(piece.path.startswith("furniture.") for piece in pieces)
    if not furniture or len(pieces) < 2:
        return
    import shapely  # 0.1 s, and most rooms have one table

    limit = limit_in_force(evidence, CODE)
    shapes = [shapely.Polygon(piece.outline) for piece in pieces]
    tree = shapely.STRtree(shapes)
    pairs = sorted(
        (i, j) for i, j in tree.query(shapes, predicate="intersects").T.tolist() if i < j
    )
    for i, j in pairs:
        one, other = pieces[i], pieces[j]
        if i >= furniture or min(one.top, other.top) <= max(one.bottom, other.bottom) + 1e-6:
            continue
        shared = shapes[i].intersection(shapes[j])
        width = width_of(shared)
        if width <= limit + 1e-6:
            continue
        later = other if other.path.startswith("furniture.") else one
        yield Draft(
            at=later.path,
            message=(
                f"{one.id} and {other.id} overlap on {area(evidence, shared.area)} of the plan, "
                f"{length(evidence, width)} wide; furniture stands side by side."
            ),
            value=width,
            limit=limit,
            unit="m",
            remedy=(
                f"Move {later.id} by {some_length(evidence, width)} or more, or correct "
                f"{one.path}.outline or {other.path}.outline."
            ),
        )


def _pieces(room: Room) -> list[Piece]:
    """Furniture first, in the document's order, then columns."""
    found = []
    for name, item in room.furniture.items():
        if item.kind == "table" or item.kind == "cupboard" or item.kind == "soft":
            bottom = item.height - TABLE_TOP if item.kind == "table" else 0.0
            found.append(Piece(name, f"furniture.{name}", item.outline, bottom, item.height))
    for name, obstacle in room.space.obstacles.items():
        top = room.space.height if obstacle.height is None else obstacle.height
        found.append(Piece(name, f"space.obstacles.{name}", obstacle.outline, 0.0, top))
    return found
