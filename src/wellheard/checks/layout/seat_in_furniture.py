"""Seats in the middle of a table, a cupboard or a column."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.seating import DRAWN, seated, solids, tables
from wellheard.checks.wording import length, some_length
from wellheard.geometry import contains_points, distance_to_edges
from wellheard.predict.evidence import Evidence

CODE = "seat-in-furniture"


@rule(CODE, "warning", strength="house", cites="", thresholds=(CODE,))
def seat_in_furniture(evidence: Evidence) -> Iterator[Draft]:
    """Nobody sits in a table, a cupboard or a column.

    A head leans over the edge of its table by 0.15 m at most. A head inside a cupboard is a
    warning; inside a column or partial wall, where nobody can be, an error. Sofas and benches are
    for sitting on; an obstacle up to 0.45 m high is a platform that a chair stands on.
    """
    people = seated(evidence)
    if not people:
        return
    limit = limit_in_force(evidence, CODE)
    heads = np.array([one.at[:2] for one in people])
    kinds = [
        (name, f"furniture.{name}", outline, limit)
        for name, outline in tables(evidence.room).items()
    ]
    kinds += [(name, path, outline, 0.0) for name, (path, outline) in solids(evidence.room).items()]
    for name, path, outline, allowed in kinds:
        inside = contains_points(outline, heads, tolerance=0.0)
        depth = np.where(inside, distance_to_edges(heads, outline).min(axis=1), 0.0)
        for index in np.flatnonzero(depth > allowed + DRAWN).tolist():
            one, deep = people[index], float(depth[index])
            most = (
                f"a head leans over a table by {length(evidence, allowed)} at most"
                if allowed
                else "nobody can sit there"
            )
            yield Draft(
                at=one.owner,
                message=f"{one.id} is {length(evidence, deep)} inside {name}; {most}.",
                value=deep,
                limit=allowed,
                unit="m",
                remedy=(
                    f"Move {one.id} out by "
                    f"{some_length(evidence, deep - allowed)} or more, or correct "
                    f"{path}.outline."
                ),
                severity="error" if path.startswith("space.") else None,
            )
