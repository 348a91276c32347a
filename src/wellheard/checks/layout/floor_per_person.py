"""More people than the floor holds."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.seating import PLATFORM, seated, sittings
from wellheard.checks.wording import area
from wellheard.geometry import polygon_area
from wellheard.predict.evidence import Evidence

CODE = "floor-per-person"
IN_ROWS = "floor-per-person-in-rows"


@rule(CODE, "warning", strength="house", cites="", thresholds=(CODE, IN_ROWS))
def floor_per_person(evidence: Evidence) -> Iterator[Draft]:
    """The floor is large enough for the seats.

    2.0 m² for everybody at a table, 1.2 m² for everybody in rows without one, of all the floor
    that columns and partial walls leave. Furniture counts as floor, and so does the room to
    walk. People who stand are left out. How many people a room may hold by law is not
    assessed.
    """
    people = seated(evidence)
    if not people:
        return
    at_table = len(sittings(evidence))
    in_rows = len(people) - at_table
    each, each_in_rows = limit_in_force(evidence, CODE), evidence.room.targets.house_limit(IN_ROWS)
    wanted = at_table * each + in_rows * (each_in_rows or 0.0)
    space = evidence.room.space
    floor = abs(polygon_area(np.asarray(space.outline, dtype=np.float64))) - sum(
        abs(polygon_area(np.asarray(item.outline, dtype=np.float64)))
        for item in space.obstacles.values()
        if item.height is None or item.height > PLATFORM
    )
    if floor >= wanted - 1e-6:
        return
    share, limit = floor / len(people), wanted / len(people)
    yield Draft(
        at="space.outline",
        message=(
            f"{len(people)} seats on {area(evidence, floor)} of floor are {area(evidence, share)} "
            f"a person; at least {area(evidence, limit)} is wanted: "
            f"{_parts(evidence, at_table, each, in_rows, each_in_rows)}."
        ),
        value=share,
        limit=limit,
        unit="m²",
        remedy=f"Plan for {int(floor / limit + 1e-9)} people, or for {area(evidence, wanted)}.",
    )


def _parts(
    evidence: Evidence, at_table: int, each: float, in_rows: int, each_in_rows: float | None
) -> str:
    parts = []
    if at_table:
        parts.append(f"{area(evidence, each)} for each of {at_table} at a table")
    if in_rows and each_in_rows is not None:
        parts.append(f"{area(evidence, each_in_rows)} for each of {in_rows} without one")
    return ", ".join(parts)
