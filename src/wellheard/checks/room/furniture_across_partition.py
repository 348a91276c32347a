"""Furniture that stands where a partition closes."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence
from wellheard.room.divide import closed_in, division, pieces


@rule(
    "furniture-across-partition",
    "warning",
    strength="house",
    cites="a partition closes over a free floor",
)
def furniture_across_partition(evidence: Evidence) -> Iterator[Draft]:
    """Nothing stands where a partition closes.

    A table, soft seat, cupboard or solid obstacle that a closed partition runs through has to be
    moved before it closes. For the prediction it is cut at the
    partition, and people look across at their piece of it.
    """
    room = evidence.room
    where: dict[str, list[str]] = {}
    for key in room.arrangements:
        closed = closed_in(room, key)
        if not closed:
            continue
        cells = division(room, closed).cells
        for path, outline in (
            *((f"furniture.{k}", getattr(f, "outline", None)) for k, f in room.furniture.items()),
            *((f"space.obstacles.{k}", o.outline) for k, o in room.space.obstacles.items()),
        ):
            if outline is not None and len(pieces(cells, outline)) > 1:
                where.setdefault(path, []).append(key)
    for path, keys in where.items():
        name = path.rpartition(".")[2]
        yield Draft(
            at=path,
            message=f"A closed partition runs through {name} in {listed(keys)}; it is taken as cut "
            "there.",
            remedy=f"Part {name} at the partition, or draw it on one side.",
        )
