"""Predict, check, place, explain, design: each from a document to its answer."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from wellheard.catalog.catalogue import Catalogue
from wellheard.checks.arranged import findings_of_part, findings_of_parts
from wellheard.checks.model import Finding
from wellheard.checks.run import findings as run_checks
from wellheard.errors import InputError
from wellheard.place.devices import place_devices, why_no_loudspeakers
from wellheard.place.microphones import TIME_LIMIT
from wellheard.place.proposal import Proposal
from wellheard.place.writing import placed_room
from wellheard.predict import ledger
from wellheard.predict.evidence import Evidence
from wellheard.predict.parts import (
    PartScene,
    build_parts,
    evidence_of_parts,
    leading,
    over_all,
)
from wellheard.predict.scene import Scene
from wellheard.room import codec
from wellheard.room.divide import Part
from wellheard.room.document import Room
from wellheard.wiring.wired import Unwired
from wellheard.workflow.load import Loaded
from wellheard.workflow.wiring import WiredRoom, wire_room

Progress = Callable[[str], None]


def quiet(message: str) -> None:
    """Progress that nobody reads."""


@dataclass(frozen=True)
class JudgedPart:
    """One space of one arrangement: its scene, its evidence and what the rules say of it alone."""

    part: Part
    scene: Scene
    evidence: Evidence
    findings: tuple[Finding, ...]

    @property
    def name(self) -> str:
        """Of the part, as in ``split.a``."""
        return self.part.name


@dataclass(frozen=True)
class Judged:
    """Evidence for a document and what its rules say.

    For a room that divides the evidence is that of the whole: every talking point as it is in
    its worst arrangement, the room's figures those of the part ``leads``; the findings are those
    of all parts, each told once.
    """

    evidence: Evidence
    findings: tuple[Finding, ...]
    parts: tuple[JudgedPart, ...] = ()
    """Every space of every arrangement; empty for a room without arrangements."""
    leads: str = ""
    """Name of the part whose worst talking point is the worst of all."""

    @property
    def errors(self) -> tuple[Finding, ...]:
        """Findings of severity error."""
        return tuple(f for f in self.findings if f.severity == "error")

    @property
    def unheard(self) -> tuple[str, ...]:
        """Talking points that no microphone hears in some arrangement of a room that has some."""
        heard = {row.talker.id for row in self.evidence.outbound}
        if not self.parts or not self.evidence.microphones:
            return ()
        return tuple(t.id for t in self.evidence.talkers if t.id not in heard)

    def worst_in(self, talker: str) -> str:
        """Part in which a talking point is worst, or is not heard; '' in an undivided room."""
        for row in self.evidence.outbound:
            if row.talker.id == talker:
                return row.arrangement
        there = [p for p in self.parts if talker in (t.id for t in p.evidence.talkers)]
        return next((p.name for p in there if not p.evidence.outbound), "")


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


def judge(
    room: Room,
    catalogue: Catalogue,
    *,
    say: Progress = quiet,
    scenes: tuple[PartScene, ...] | None = None,
    assumptions: bool = True,
) -> Judged:
    """Evidence and findings of a room; of one that divides, for every space as well.

    ``scenes`` are those of `wellheard.predict.parts.build_parts` for this room, where somebody has
    built them already. Without ``assumptions`` nothing is said of what was assumed: what each does
    to the worst seat takes most of the time, and who sets two rooms side by side does not ask.

    Raises
    ------
    CatalogError
        A finish or product of the room is not in the catalogue.
    """
    say("predicting every seat …")
    scenes = scenes or build_parts(room, catalogue)
    if not room.arrangements:
        evidence = ledger.evidence(scenes[0].scene, assumptions=assumptions)
        say("checking …")
        return Judged(evidence, run_checks(evidence))
    found = evidence_of_parts(scenes, assumptions=assumptions)
    whole = over_all(room, catalogue, found)
    say("checking …")
    parts = tuple(
        JudgedPart(one.part, built.scene, one.evidence, findings_of_part(one.evidence))
        for one, built in zip(found, scenes, strict=True)
    )
    return Judged(
        evidence=whole,
        findings=findings_of_parts(whole, {p.name: p.findings for p in parts}),
        parts=parts,
        leads=leading(found).part.name,
    )


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
    say("wiring …")
    wired = wire_room(loaded, placed.room, time_limit=time_limit)
    return Designed(placed, judge(wired.room, loaded.catalogue, say=say), wired)


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
