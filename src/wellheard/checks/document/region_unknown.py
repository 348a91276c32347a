"""Where the room stands, which decides what the codes ask."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.predict.evidence import Evidence

DECIDES = {
    "region": "cable jackets, mains and fixings",
    "seismic": "bracing of what hangs",
}


@rule(
    "region-unknown",
    "note",
    strength="law",
    cites="local codes; an engineering prediction does not replace licensed practice",
)
def region_unknown(evidence: Evidence) -> Iterator[Draft]:
    """It is known which codes apply.

    `site.region` decides cable jackets in air-return voids, mains and fixings,
    `site.seismic` the bracing of everything overhead. While one is unknown, none of that is
    assessed.
    """
    for name, decides in DECIDES.items():
        if getattr(evidence.room.site, name).strip().lower() in ("", "unknown"):
            yield Draft(
                at=f"site.{name}",
                message=f"site.{name} is unknown. Not assessed: {decides}.",
                remedy=f"Ask the customer and enter site.{name}.",
                status="not-assessed",
            )
