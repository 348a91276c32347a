"""Head room under everything that hangs."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.hanging import hung
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.separation import TOUCH, plan_distance
from wellheard.checks.wording import length, some_length
from wellheard.predict.evidence import Evidence, Point

CODE = "head-height-under-pendant"
OVER_TABLE = "head-height-over-table"


@rule(CODE, "error", strength="house", cites="", thresholds=(CODE, OVER_TABLE))
def head_height_under_pendant(evidence: Evidence) -> Iterator[Draft]:
    """Nobody walks into a hanging microphone or loudspeaker.

    Its underside, half its height below its acoustic centre, keeps 2.1 m above the floor
    where people walk and 1.8 m above the floor over a table or a cupboard. One that is flush
    in the ceiling does not hang.
    """
    for one in hung(evidence):
        over = _furniture_below(evidence, one.body.middle)
        limit = evidence.room.targets.house_limit(OVER_TABLE if over else CODE)
        underside = one.body.middle[2] - one.body.half
        if limit is not None and underside < limit - TOUCH:
            yield Draft(
                at=f"devices.{one.id}",
                message=(
                    f"The underside of {one.id} hangs {length(evidence, underside)} above "
                    f"the floor {f'over {over}' if over else 'where people walk'}; at least "
                    f"{length(evidence, limit)} is wanted."
                ),
                value=underside,
                limit=limit,
                unit="m",
                remedy=f"Shorten its drop by {some_length(evidence, limit - underside)}"
                f"{'' if over else ', or hang it over the table'}.",
            )


def _furniture_below(evidence: Evidence, at: Point) -> str:
    """Id of the table or cupboard under a point, '' over the open floor."""
    for name, item in evidence.room.furniture.items():
        if (item.kind == "table" or item.kind == "cupboard") and plan_distance(
            at, item.outline
        ) <= TOUCH:
            return name
    return ""
