"""Evidence and findings of a room: what every answer of the workflow rests on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from wellheard.catalog.catalogue import Catalogue
from wellheard.checks.arranged import findings_of_part, findings_of_parts
from wellheard.checks.model import Finding
from wellheard.checks.run import findings as run_checks
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
from wellheard.room.divide import Part
from wellheard.room.document import Room

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
