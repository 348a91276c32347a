"""What of a room that divides takes no part in the prediction."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence
from wellheard.room.divide import HEARD, closed_in, division, home, inhabited
from wellheard.room.document import Room


@rule(
    "arrangements-not-assessed",
    "note",
    strength="house",
    cites="the extent of this version",
    relaxable=False,
)
def arrangements_not_assessed(evidence: Evidence) -> Iterator[Draft]:
    """Everything about a room that divides takes part in the prediction.

    Each space that the closed partitions of an arrangement leave is predicted as a room of its
    own. What that leaves out is said: partitions that no arrangement
    names, which are taken as open; the stacked panels of an open partition, and sound from
    beyond a closed one; decay times that were measured, which are those of the undivided room;
    spaces where nobody sits or stands, which are not judged.
    """
    room = evidence.room
    if not room.partitions and not room.arrangements:
        return
    if not room.arrangements:
        yield _draft(
            "partitions",
            f"No arrangement is given: {listed(list(room.partitions))} "
            f"{'is' if len(room.partitions) == 1 else 'are'} taken as open.",
            "Name the states of the room under arrangements.",
        )
        return
    used = {name for a in room.arrangements.values() for name in (*a.open, *a.closed)}
    if used:
        yield _draft(
            "partitions",
            "The stacked panels of an open partition and the sound from beyond a closed one take "
            "no part in the speech figures.",
            f"Judge by hand what is heard through {listed(sorted(used))} while the spaces beside "
            "it are in use.",
        )
    dividing = [key for key in room.arrangements if closed_in(room, key)]
    if room.space.measured_reverberation is not None and dividing:
        yield _draft(
            "space.measured_reverberation",
            "The measured decay times are those of the undivided room: the decay is predicted in "
            f"{listed(dividing)}.",
            "Measure each space with its partitions closed.",
        )
    for key in dividing:
        yield from _deserted(room, key)


def _deserted(room: Room, key: str) -> Iterator[Draft]:
    """Spaces of an arrangement that are none to be judged."""
    cells = division(room, closed_in(room, key)).cells
    empty = sorted(set(range(len(cells))) - inhabited(room, cells))
    if not empty:
        return
    idle = [
        name
        for name, device in room.devices.items()
        if device.kind in HEARD and device.at is not None and home(cells, device.at) in empty
    ]
    also = f"; {listed(idle)} {'is' if len(idle) == 1 else 'are'} there" if idle else ""
    spaces = "One space" if len(empty) == 1 else f"{len(empty)} spaces"
    yield _draft(
        f"arrangements.{key}",
        f"{spaces} of {key} {'has' if len(empty) == 1 else 'have'} neither a seat nor a standing "
        f"area and {'is' if len(empty) == 1 else 'are'} not judged{also}.",
        "Add the people who will be there, if any.",
    )


def _draft(at: str, message: str, remedy: str) -> Draft:
    return Draft(at=at, message=message, remedy=remedy, status="not-assessed")
