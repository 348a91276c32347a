"""Everything that hangs below the ceiling."""

from __future__ import annotations

from wellheard.predict.evidence import Evidence, Point
from wellheard.predict.hanging import Hung, hung_at

OVERHEAD = frozenset({"ceiling", "pendant"})
"""Ways of mounting a loudspeaker that let it hang."""


def hung(evidence: Evidence) -> tuple[Hung, ...]:
    """Microphones and loudspeakers that hang; one that is flush in the ceiling does not."""
    placed: list[tuple[str, Point, tuple[float, float, float]]] = [
        (one.id, one.at, one.product.size) for one in evidence.microphones if one.drop is not None
    ]
    placed += [
        (one.id, one.at, one.product.size)
        for one in evidence.others
        if one.kind == "loudspeaker"
        and one.at is not None
        and OVERHEAD & set(one.product.mountings)
    ]
    found = (hung_at(*one, height=evidence.room.space.height) for one in placed)
    return tuple(one for one in found if one is not None)
