"""Seats that hear their own lift from overhead."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from wellheard.checks.lifting import at, in_use
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.wording import length, listed
from wellheard.predict.evidence import Evidence
from wellheard.predict.wayback import OverHead

CODE = "lift-hears-itself"


@rule(CODE, "warning", strength="house", cites="", thresholds=(CODE,))
def lift_hears_itself(evidence: Evidence) -> Iterator[Draft]:
    """No seat hears its own microphone's lift from overhead.

    Zone-minus: a microphone is left out of the loudspeaker that is nearest to the people whom it
    serves, where that is within 3 m. One's own voice, late and from above, stops whoever talks,
    and that loudspeaker is the one that howls first.
    """
    found = in_use(evidence)
    if found is None:
        return
    limit = limit_in_force(evidence, CODE)

    def pair(one: OverHead) -> tuple[str, str]:
        return one.microphone, one.loudspeaker

    for (microphone, loudspeaker), group in groupby(sorted(found.over_head, key=pair), key=pair):
        people = list(group)
        nearest = min(one.distance for one in people)
        many = len(people) > 1
        yield Draft(
            at=at(evidence, microphone, loudspeaker),
            message=(
                f"{listed([one.talker for one in people])} {'hear' if many else 'hears'} "
                f"{'their' if many else 'its'} own lift: {microphone} is played by {loudspeaker}, "
                f"the nearest loudspeaker, {length(evidence, nearest)} away; at least "
                f"{length(evidence, limit)} are wanted."
            ),
            value=nearest,
            limit=limit,
            unit="m",
            remedy=f"Take {microphone} out of what {loudspeaker} lifts (zone-minus).",
        )
