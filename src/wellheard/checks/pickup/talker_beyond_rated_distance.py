"""Distance from each talker to the microphone that serves it, against its data."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.separation import TOUCH
from wellheard.checks.wording import length, place, some_length
from wellheard.predict.evidence import Evidence, Outbound


@rule(
    "talker-beyond-rated-distance",
    "error",
    strength="product",
    cites="the product's rated talker distances",
)
def talker_beyond_rated_distance(evidence: Evidence) -> Iterator[Draft]:
    """Every talker is within the rated distance of the microphone that serves it.

    Products rate up to three distances: clear, usual and last resort. Beyond the
    last is an error, beyond the usual a warning. A microphone without rated
    distances is not assessed. Of the points of one standing area the farthest
    is reported.
    """
    microphones = {microphone.id: microphone for microphone in evidence.microphones}
    unrated = set()
    farthest: dict[str, Outbound] = {}
    for row in evidence.outbound:
        before = farthest.get(row.talker.owner)
        if before is None or row.path.distance > before.path.distance:
            farthest[row.talker.owner] = row
    for owner, row in farthest.items():
        microphone = microphones[row.path.microphone]
        rated = microphone.product.rated_distances
        if not rated:
            unrated.add(microphone.id)
            continue
        last = rated[-1]
        usual = rated[1] if len(rated) > 2 else rated[0]
        distance = row.path.distance
        if distance <= usual + TOUCH:
            continue
        beyond_last = distance > last + TOUCH
        step, limit = ("last", last) if beyond_last else ("usual", usual)
        yield Draft(
            at=owner,
            message=(
                f"{place(row.talker)} is {length(evidence, distance)} from {microphone.id}, its "
                f"best microphone; {microphone.product.name} is rated to "
                f"{length(evidence, limit)} ({step} distance)."
            ),
            value=distance,
            limit=limit,
            unit="m",
            remedy=(
                f"Bring {microphone.id} nearer by "
                f"{some_length(evidence, distance - limit)}, or add a "
                "microphone."
            ),
            severity="error" if beyond_last else "warning",
        )
    for name in sorted(unrated):
        yield Draft(
            at=f"devices.{name}",
            message=f"{name} has no rated talker distance: how far it may be is not assessed.",
            remedy="Use it for measuring only, or enter its rated distances in the catalogue.",
            severity="note",
            status="not-assessed",
        )
