"""Cords of fixed length against what they have to span."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks import cabling
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.separation import TOUCH
from wellheard.checks.wording import length
from wellheard.predict.evidence import Evidence


@rule("cord-too-short", "error", strength="product", cites="the length that the cord is sold in")
def cord_too_short(evidence: Evidence) -> Iterator[Draft]:
    """Every cord of fixed length reaches from one end to the other.

    A cord lies where it likes, but never shorter than straight. A length that the link states
    counts where it is more. What has no place is not assessed: `cable-too-long` says so where the
    length decides.
    """
    for one in cabling.cables(evidence):
        cord = None if one.cable is None else one.cable.length
        if one.cable is None or cord is None:
            continue
        run = cabling.runs_of(evidence).of_link(one.link)
        stated = one.link.length or 0.0
        wanted = max(stated, cabling.span(run))
        if wanted <= cord + TOUCH:
            continue
        longer = [
            other.id
            for other in evidence.catalogue.cables
            if other.status == "current"
            and set(other.carries) & set(one.kinds)
            and (other.length or other.max_length) >= wanted
        ]
        instead = f"Take {' or '.join(longer)}" if longer else "Take an extender"
        yield Draft(
            at=f"links.{one.id}.cable",
            message=(
                f"{one.words} has to span {length(evidence, wanted)}; {one.cable.id} is "
                f"{length(evidence, cord)} long."
            ),
            value=wanted,
            limit=cord,
            unit="m",
            remedy=f"{instead}, or bring the two nearer to each other.",
        )
