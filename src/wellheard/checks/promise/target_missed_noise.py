"""Background noise of the room against its promised NC number."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.acoustics.noise import nc_rating
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.predict.evidence import Evidence
from wellheard.room.targets import NC_ROUNDING

LOWEST_CURVE = 15.0
"""NC number of the lowest curve there is."""


@rule(
    "target-missed-noise",
    "error",
    strength="house",
    cites="targets.noise_nc of this document; curves of ANSI/ASA S12.2-2019, via phonometry",
    relaxable=False,
)
def target_missed_noise(evidence: Evidence) -> Iterator[Draft]:
    """The noise of the room stays under its promised NC curve.

    Judged is the steady noise at the seats, the background and every located
    source together, by tangency: every octave at or below the curve, to half an NC
    point, since NC numbers are whole ones. The rating in the message may be one higher,
    because the speech interference level of an NC curve is one above its own number.
    Below NC-15 there is no curve to judge by: a lower target is not assessed.
    """
    target = evidence.room.targets.noise_nc
    if target is None:
        return
    rating = nc_rating(evidence.noise.levels_db)
    if rating.out_of_range != "above" and rating.tangency is None:
        if target < LOWEST_CURVE:
            yield Draft(
                at="targets.noise_nc",
                message=f"The noise is {rating.label}, where no curve tells it from NC-{target:g}.",
                limit=target,
                unit="NC",
                remedy="Promise NC-15 or more, or judge the octave levels.",
                severity="note",
                status="not-assessed",
            )
        return
    if rating.tangency is not None and rating.tangency < target + NC_ROUNDING:
        return
    rated = rating.label
    if rating.tangency is not None and rating.governing is None:
        rated += f", tangent to NC-{rating.tangency:.1f} at {rating.tangent:g} Hz"
    yield Draft(
        at="noise",
        message=f"The noise at the seats is {rated}; NC-{target:g} is promised.",
        value=rating.tangency,
        limit=target,
        unit="NC",
        remedy=(
            f"Have ventilation and fans quietened, the {rating.tangent or rating.governing:g} Hz "
            "octave first, or promise less."
        ),
    )
