"""Chairs that would stand in a wall, a column or a cupboard."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.seating import DRAWN, on_soft_seat, seated, solids
from wellheard.checks.wording import length, some_length
from wellheard.geometry import distance_outside, distance_to_edges
from wellheard.predict.evidence import Evidence

CODE = "chair-in-wall"


@rule(CODE, "warning", strength="house", cites="", thresholds=(CODE,))
def chair_in_wall(evidence: Evidence) -> Iterator[Draft]:
    """There is room for every chair before the wall.

    A head keeps 0.25 m from walls, columns and cupboards: half the depth of a body and the back
    of its chair, or half the breadth of its shoulders. The nearest of them is named. Sofas and
    benches, which stand at the wall, are exempt from walls; seats inside a thing are left to
    `seat-in-furniture`.
    """
    people = seated(evidence)
    if not people:
        return
    limit = limit_in_force(evidence, CODE)
    space = evidence.room.space
    heads = np.array([one.at[:2] for one in people])
    soft = on_soft_seat(evidence.room, heads) >= 0
    walls = distance_to_edges(heads, np.asarray(space.outline, dtype=np.float64))
    names = [f"wall {name}" for name in space.walls]
    gaps = [np.where(soft, np.inf, walls[:, i]) for i in range(len(names))]
    for name, (_, outline) in solids(evidence.room).items():
        outside = distance_outside(outline, heads)
        names.append(name)
        gaps.append(np.where(outside > 0, outside, np.inf))
    nearest = np.argmin(np.stack(gaps), axis=0)
    for index, which in enumerate(nearest.tolist()):
        one, distance = people[index], float(gaps[which][index])
        if distance >= limit - DRAWN:
            continue
        yield Draft(
            at=one.owner,
            message=(
                f"The head of {one.id} is {length(evidence, distance)} from {names[which]}; a "
                f"chair and who sits on it need {length(evidence, limit)}."
            ),
            value=distance,
            limit=limit,
            unit="m",
            remedy=(
                f"Move {one.id} away from {names[which]} by "
                f"{some_length(evidence, limit - distance)}."
            ),
        )
