"""Everything that hangs below the ceiling."""

from __future__ import annotations

from wellheard.catalog.products import Loudspeaker
from wellheard.predict.evidence import Evidence, Point
from wellheard.predict.hanging import Hung, hung_at
from wellheard.signal.mounted import mounting_of


def hung(evidence: Evidence) -> tuple[Hung, ...]:
    """Microphones and loudspeakers that hang; one that is flush in the ceiling does not."""
    placed: list[tuple[str, Point, tuple[float, float, float]]] = [
        (one.id, one.at, one.product.size) for one in evidence.microphones if one.drop is not None
    ]
    placed += [
        (one.id, one.at, one.product.size)
        for one in evidence.others
        if isinstance(one.product, Loudspeaker)
        and one.at is not None
        and mounting_of(evidence.room, one.product, one.at) == "ceiling"
    ]
    found = (hung_at(*one, height=evidence.room.space.height) for one in placed)
    return tuple(one for one in found if one is not None)
