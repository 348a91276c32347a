"""Spaces of a room that divides, in which nobody is heard."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.catalog.products import Microphone
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence
from wellheard.room.divide import Part, closed_in, parts


@rule(
    "space-without-microphone",
    "error",
    strength="house",
    cites="common practice, no source [C]",
)
def space_without_microphone(evidence: Evidence) -> Iterator[Draft]:
    """Every space in which people talk has a microphone, in every arrangement.

    A microphone beyond a closed partition hears nobody on this side of it, and
    belongs to another mix. A room without any microphone is
    not designed yet and is no case of this rule. Relax it for a space that only listens.
    """
    room = evidence.room
    if not evidence.microphones or not room.arrangements:
        return
    for part in parts(room):
        if not _hears(evidence, part):
            people = [*part.room.people.seats, *part.room.people.standing]
            closed = listed(list(closed_in(room, part.arrangement)))
            yield Draft(
                at=f"arrangements.{part.arrangement}",
                message=(
                    f"{part.title}: no microphone hears {listed(people)}"
                    + (f" while {closed} is closed." if closed else ".")
                ),
                value=0.0,
                limit=1.0,
                remedy="Place one there, or let wellheard place do it.",
            )


def _hears(evidence: Evidence, part: Part) -> bool:
    return any(
        device.at is not None and isinstance(evidence.catalogue.product(device.product), Microphone)
        for device in part.room.devices.values()
    )
