"""Predict, check, place, explain, design: each from a document to its answer."""

from __future__ import annotations

from dataclasses import dataclass

from wellheard.checks.model import Finding
from wellheard.errors import InputError
from wellheard.place.devices import place_devices, why_no_loudspeakers
from wellheard.place.microphones import TIME_LIMIT
from wellheard.place.proposal import Proposal
from wellheard.place.writing import placed_room
from wellheard.predict.parts import PartScene, build_parts
from wellheard.room import codec
from wellheard.room.document import Room
from wellheard.wiring.wired import Unwired
from wellheard.workflow.judging import Judged, JudgedPart, Progress, judge, quiet
from wellheard.workflow.load import Loaded
from wellheard.workflow.wiring import WiredRoom, wire_room

__all__ = [
    "Designed",
    "Judged",
    "JudgedPart",
    "Placed",
    "Progress",
    "asked_for",
    "check",
    "design",
    "judge",
    "place",
    "predict",
    "quiet",
]


@dataclass(frozen=True)
class Placed:
    """A proposal, the room with its devices, and the document's text saying so."""

    proposal: Proposal
    room: Room
    text: str


@dataclass(frozen=True)
class Designed:
    """The main job's answer: what was placed and wired, what it does, what is wrong with it."""

    placed: Placed
    judged: Judged
    wired: WiredRoom | None = None
    """None where only devices were asked for."""

    @property
    def room(self) -> Room:
        """The whole design: devices, and their cables where they were asked for."""
        return self.wired.room if self.wired else self.placed.room

    @property
    def text(self) -> str:
        """The document that says so."""
        return self.wired.text if self.wired else self.placed.text

    @property
    def unwired(self) -> tuple[Unwired, ...]:
        """Ports that no cable can be found for."""
        return self.wired.wired.unwired if self.wired else ()

    @property
    def kept(self) -> bool:
        """Whether the promise is kept everywhere, in every arrangement, wired, without an error."""
        judged = self.judged
        feasible = self.placed.proposal.proof.status != "infeasible"
        return feasible and not (judged.errors or judged.unheard or self.unwired)


def predict(loaded: Loaded) -> Judged:
    """Evidence and findings of a document as it stands."""
    return judge(loaded.room, loaded.catalogue)


def check(loaded: Loaded) -> tuple[Finding, ...]:
    """Findings of a document as it stands, errors first."""
    return predict(loaded).findings


def place(loaded: Loaded, *, time_limit: float = TIME_LIMIT, say: Progress = quiet) -> Placed:
    """Propose devices and write them into the document's text; no file is touched.

    Loudspeakers and their amplifiers are proposed where the promise and the choices ask for them,
    see `wellheard.place.devices.place_devices`.
    """
    both = why_no_loudspeakers(loaded.room, loaded.catalogue) is None
    say("placing microphones and loudspeakers …" if both else "placing microphones …")
    divided = build_parts(loaded.room, loaded.catalogue) if loaded.room.arrangements else ()
    proposal = place_devices(loaded.scene(), parts=divided, time_limit=time_limit)
    room = placed_room(loaded.room, loaded.catalogue, proposal)
    return Placed(proposal, room, codec.edit(loaded.document, room))


def design(loaded: Loaded, *, time_limit: float = TIME_LIMIT, say: Progress = quiet) -> Designed:
    """Place and wire, then predict and check the room as it then is."""
    placed = place(loaded, time_limit=time_limit, say=say)
    wired = wire_room(loaded, placed.room, time_limit=time_limit, say=say)
    return Designed(placed, wired.judged, wired)


def asked_for(
    document: str, scenes: tuple[PartScene, ...], arrangement: str
) -> tuple[PartScene, ...]:
    """The parts of one arrangement, or the one part of that name; all of them for ''."""
    if not arrangement:
        return scenes
    found = tuple(s for s in scenes if arrangement in (s.part.name, s.part.arrangement))
    if found:
        return found
    names = [s.part.name for s in scenes if s.part.name]
    raise InputError(
        f"{document}: no arrangement {arrangement!r}; "
        + (f"there are {', '.join(names)}" if names else "the room has none: leave it out")
    )
