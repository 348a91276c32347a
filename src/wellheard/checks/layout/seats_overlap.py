"""Two people in one place."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.seating import DRAWN, seated
from wellheard.checks.wording import length
from wellheard.predict.evidence import Evidence

CODE = "seats-overlap"
HEAD = 0.15
"""Breadth of a head (from memory [M]); nearer than this, two people are one. [m]"""


@rule(CODE, "warning", strength="house", cites="", thresholds=(CODE,))
def seats_overlap(evidence: Evidence) -> Iterator[Draft]:
    """No two seats are in one place.

    Heads keep at least a shoulder's width between them, 0.45 m. Nearer than a head is broad,
    0.15 m, is an error: the same seat was entered twice, or a coordinate is wrong. Each seat is
    held against the nearest of those before it in the document.
    """
    people = seated(evidence)
    if len(people) < 2:
        return
    limit = limit_in_force(evidence, CODE)
    heads = np.array([one.at[:2] for one in people])
    apart = np.linalg.norm(heads[:, None] - heads[None], axis=-1)
    apart[np.triu_indices(len(people))] = np.inf
    nearest = np.argmin(np.round(apart, 6), axis=1)
    for index, before in enumerate(nearest.tolist()):
        distance = float(apart[index, before])
        if distance >= limit - DRAWN:
            continue
        one, other = people[index], people[before]
        yield Draft(
            at=one.owner,
            message=(
                f"{one.id} and {other.id} are {length(evidence, distance)} apart; two people need "
                f"at least {length(evidence, limit)} between their heads."
            ),
            value=distance,
            limit=limit,
            unit="m",
            remedy=f"Move {one.id} or {other.id}, or leave one of them out.",
            severity="error" if distance < HEAD else None,
        )
