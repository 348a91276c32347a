"""Nothing that hangs stands between people and the picture, or a camera beside it."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.hanging import hung
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.separation import TOUCH
from wellheard.checks.wording import length, some_length
from wellheard.predict.evidence import Evidence

CODE = "sight-line-crossed"


@rule(CODE, "warning", strength="house", cites="", thresholds=(CODE,))
def sight_line_crossed(evidence: Evidence) -> Iterator[Draft]:
    """Every hanging microphone and loudspeaker clears the top of the highest picture.

    Its underside, half its height below its acoustic centre, keeps 0.1 m above that top
    wherever it hangs: then no line from a seated eye to the picture, nor from a camera above
    the picture to a face, meets it. One that is flush in the ceiling does not hang. Without a
    picture there is nothing to cross.
    """
    pictures = {
        name: item.centre[1] + item.size[1] / 2
        for name, item in evidence.room.furniture.items()
        if item.kind in ("display", "screen")
    }
    clearance = evidence.room.targets.house_limit(CODE)
    if not pictures or clearance is None:
        return
    highest = max(pictures, key=lambda name: pictures[name])
    limit = pictures[highest] + clearance
    for one in hung(evidence):
        underside = one.body.middle[2] - one.body.half
        if underside < limit - TOUCH:
            yield Draft(
                at=f"devices.{one.id}",
                message=(
                    f"The underside of {one.id} hangs {length(evidence, underside)} above "
                    f"the floor; the top of {highest} is at "
                    f"{length(evidence, pictures[highest])}, and at least "
                    f"{length(evidence, clearance)} above it is wanted."
                ),
                value=underside,
                limit=limit,
                unit="m",
                remedy=f"Shorten its drop by {some_length(evidence, limit - underside)}.",
            )
