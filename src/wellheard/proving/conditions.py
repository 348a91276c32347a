"""The room as it was when it was measured, and where its recordings were taken.

What was promised is promised of people who talk, with seats as full as the document says. What is
measured is another matter: a source on a stand, an empty room, one microphone open. To compare
alike, the room is predicted again as the session had it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal, TypeAlias

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import Loudspeaker, Microphone
from wellheard.measurement.session import NOT_LINEAR, Active, Recording, Session
from wellheard.predict.evidence import Point, Talker
from wellheard.room.document import Room
from wellheard.room.processing import Processing, ProcessKind
from wellheard.units import format_length

NEAR: Final = 0.3
"""A point this near to a talking point stands for it [m]; common practice, no source [C]: a
person who leans back moves as far."""

FAR_END: Final = "far-end"

Kind: TypeAlias = Literal["talker", "microphone", "loudspeaker", "far end", "elsewhere"]

STAGES: Final[Mapping[Active, ProcessKind]] = {
    "canceller": "canceller",
    "mixer": "mixer",
    "leveller": "leveller",
    "noise-reduction": "noise-reduction",
}
"""Kind of stage in a document by what a session says was active; gates and codecs are none."""


@dataclass(frozen=True)
class Place:
    """One end of what a recording is of.

    Attributes
    ----------
    kind : str
        A talking point, or a point that stands for one; a microphone's output; a loudspeaker; the
        far end's side of the system; or somewhere else in the room.
    id : str
        Of the talking point or device; for somewhere else its coordinates in words.
    at : tuple of float or None
        [m]; None for the far end, and for a device without a place.
    """

    kind: Kind
    id: str
    at: Point | None


@dataclass(frozen=True)
class Way:
    """From where to where a recording was taken; None is not said, or unknown."""

    source: Place | None
    receiver: Place | None

    def goes(self, source: Kind, receiver: Kind) -> bool:
        """Whether it leads from such a place to such a place."""
        return (
            self.source is not None
            and self.receiver is not None
            and (self.source.kind, self.receiver.kind) == (source, receiver)
        )


def surroundings(room: Room, session: Session) -> Room:
    """The document with the people and the air of the session; source and devices as promised.

    Chairs and bodies stay where they are: only how many of them are taken differs.
    """
    people = room.people.model_copy(update={"occupancy": session.occupancy})
    space = room.space.model_copy(update={"climate": session.climate})
    return room.model_copy(update={"people": people, "space": space})


def as_measured(room: Room, session: Session, recordings: Mapping[str, Recording]) -> Room:
    """The document as it was measured: test source, people, air, and what was switched off.

    Parameters
    ----------
    room : Room
        As promised.
    session : Session
        What it was like.
    recordings : mapping of str to Recording
        Those that count: where the source faced is theirs.

    Notes
    -----
    No seat is taken away, for chairs absorb and stand in the way where nobody measures too. A
    source at a point of its own is a row of the prediction, see
    `wellheard.proving.alike.Alike`, and no seat of the document.
    """
    room = surroundings(room, session)
    seats = dict(room.people.seats)
    for name, seat in seats.items():
        facings = _facings(name, recordings.values())
        if facings:
            seats[name] = seat.model_copy(update={"facing": facings})
    people = room.people.model_copy(
        update={"directivity": session.source.directivity, "seats": seats}
    )
    return room.model_copy(
        update={"people": people, "processing": _switched(room, session.processing)}
    )


def _facings(seat: str, recordings: Iterable[Recording]) -> tuple[float, ...]:
    """Where a source at a seat faced, each once; none where that is left to the document."""
    said = [one.facing_deg for one in recordings if one.from_ == seat]
    if None in said:
        return ()
    return tuple(dict.fromkeys(float(f) for f in said if f is not None))


def _switched(room: Room, active: Sequence[Active]) -> dict[str, Processing]:
    kinds = {STAGES[one] for one in active if one in STAGES}
    return {
        name: stage.model_copy(update={"bypassed": stage.kind not in kinds})
        if stage.kind in STAGES.values()
        else stage
        for name, stage in room.processing.items()
    }


def ways(
    room: Room, catalogue: Catalogue, talkers: Sequence[Talker], session: Session
) -> tuple[dict[str, Way], tuple[str, ...]]:
    """From where to where every recording was taken, and what of that the document does not know.

    Parameters
    ----------
    room : Room
        The document.
    catalogue : Catalogue
        Its products.
    talkers : sequence of Talker
        Its talking points.
    session : Session
        The recordings.
    """
    known = _known(room, catalogue, talkers)
    found, unknown = {}, []
    for name, one in session.recordings.items():
        ends = []
        for said in (one.from_, one.to):
            place = None
            if isinstance(said, str):
                place = known.get(said)
                if place is None:
                    unknown.append(
                        f"Recording {name} names {said}, which the document does not have."
                    )
            elif said is not None:
                place = _at(room, said, talkers)
            ends.append(place)
        found[name] = Way(ends[0], ends[1])
    return found, tuple(unknown)


def _known(room: Room, catalogue: Catalogue, talkers: Sequence[Talker]) -> dict[str, Place]:
    known = {FAR_END: Place("far end", FAR_END, None)}
    known |= {one.id: Place("talker", one.id, one.at) for one in talkers}
    for name, device in room.devices.items():
        product = catalogue.product(device.product)
        if isinstance(product, Microphone):
            known[name] = Place("microphone", name, device.at)
        elif isinstance(product, Loudspeaker):
            known[name] = Place("loudspeaker", name, device.at)
    return known


def _at(room: Room, at: Point, talkers: Sequence[Talker]) -> Place:
    """A talking point where one is near enough, else somewhere in the room."""
    nearest = min(talkers, key=lambda one: math.dist(one.at, at), default=None)
    if nearest is not None and math.dist(nearest.at, at) <= NEAR:
        return Place("talker", nearest.id, at)
    shown = " / ".join(format_length(metres, unit=room.units) for metres in at)
    return Place("elsewhere", shown, at)


def not_linear(active: Sequence[Active]) -> tuple[Active, ...]:
    """What of the processing forbids to suppose a linear and unchanging path."""
    return tuple(one for one in active if one in NOT_LINEAR)
