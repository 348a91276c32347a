"""Spaces of a room that divides, in which the far end is not heard."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from wellheard.catalog.products import Loudspeaker, Microphone
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence
from wellheard.room.devices import Device
from wellheard.room.divide import closed_in, parts


@rule(
    "space-without-loudspeaker",
    "error",
    strength="house",
    cites="common practice, no source [C]",
)
def space_without_loudspeaker(evidence: Evidence) -> Iterator[Draft]:
    """Every space in which people sit has a loudspeaker, in every arrangement.

    One beyond a closed partition is heard by nobody on this side of it. A room
    without any loudspeaker is not designed yet and is no case of this rule. Relax it for a space
    that meets without a far end.
    """
    room = evidence.room
    if not room.arrangements or not _plays(evidence, room.devices):
        return
    for part in parts(room):
        if not _plays(evidence, part.room.devices):
            people = [*part.room.people.seats, *part.room.people.standing]
            closed = listed(list(closed_in(room, part.arrangement)))
            yield Draft(
                at=f"arrangements.{part.arrangement}",
                message=(
                    f"{part.title}: no loudspeaker is heard by {listed(people)}"
                    + (f" while {closed} is closed." if closed else ".")
                ),
                value=0.0,
                limit=1.0,
                remedy="Place a loudspeaker there, or let wellheard place do it.",
            )


def _plays(evidence: Evidence, devices: Mapping[str, Device]) -> bool:
    """Whether any of the devices that have a place plays the far end."""
    products = (
        evidence.catalogue.product(one.product) for one in devices.values() if one.at is not None
    )
    return any(
        isinstance(one, Loudspeaker) or (isinstance(one, Microphone) and one.combined)
        for one in products
    )
