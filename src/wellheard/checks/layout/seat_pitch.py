"""Neighbours at a table who sit too close."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from wellheard.checks.layout.seats_overlap import CODE as OVERLAP
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.seating import DRAWN, sittings
from wellheard.checks.wording import length, some_length
from wellheard.predict.evidence import Evidence

CODE = "seat-pitch"


@rule(CODE, "warning", strength="house", cites="", thresholds=(CODE,))
def seat_pitch(evidence: Evidence) -> Iterator[Draft]:
    """Neighbours at a table have elbow room.

    From head to head 0.6 m is tight, 0.75 m usual. Everybody whose mouth is within 0.6 m of
    a table's edge sits at that table; one finding a table, for the closest pair. Chairs
    without a table may stand closer, and people nearer than `seats-overlap` allows are left to
    that rule.
    """
    limit = limit_in_force(evidence, CODE)
    least = limit_in_force(evidence, OVERLAP) - DRAWN
    people = sittings(evidence)
    if len(people) < 2:
        return
    heads = np.array([one.head for one in people])
    apart = np.linalg.norm(heads[:, None] - heads[None], axis=-1)
    apart[np.tril_indices(len(people))] = np.inf
    tight = (apart >= least) & (apart < limit - DRAWN)
    found: dict[str, list[tuple[float, int, int]]] = {}
    for i, j in np.argwhere(tight).tolist():
        found.setdefault(people[i].table, []).append((round(float(apart[i, j]), 6), i, j))
    for table, pairs in found.items():
        distance, i, j = min(pairs)
        one, other = people[i].talker.id, people[j].talker.id
        more = "" if len(pairs) == 1 else f", the closest of {len(pairs)} such pairs"
        yield Draft(
            at=f"furniture.{table}",
            message=(
                f"At {table} {one} and {other} sit {length(evidence, distance)} apart{more}; at "
                f"least {length(evidence, limit)} from head to head is wanted."
            ),
            value=distance,
            limit=limit,
            unit="m",
            remedy=(
                f"Move {one} and {other} apart by "
                f"{some_length(evidence, limit - distance)}, or take a "
                f"seat away from {table}."
            ),
        )
