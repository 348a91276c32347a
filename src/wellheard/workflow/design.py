"""Predict, check, place, explain, design: each from a document to its answer."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from wellheard.checks.model import Finding
from wellheard.checks.run import findings as run_checks
from wellheard.errors import InputError
from wellheard.place.microphones import TIME_LIMIT, place_microphones
from wellheard.place.proposal import PlacedAt, Proposal
from wellheard.predict import ledger, scene, working
from wellheard.predict.evidence import Evidence, Outbound
from wellheard.room import codec, edit
from wellheard.room.devices import Device
from wellheard.room.document import Room
from wellheard.workflow.load import Loaded

Progress = Callable[[str], None]


def quiet(message: str) -> None:
    """Progress that nobody reads."""


@dataclass(frozen=True)
class Judged:
    """Evidence for a document and what its rules say."""

    evidence: Evidence
    findings: tuple[Finding, ...]

    @property
    def errors(self) -> tuple[Finding, ...]:
        """Findings of severity error."""
        return tuple(f for f in self.findings if f.severity == "error")


@dataclass(frozen=True)
class Placed:
    """A proposal, the room with its devices, and the document's text saying so."""

    proposal: Proposal
    room: Room
    text: str


@dataclass(frozen=True)
class Designed:
    """The main job's answer: what was placed, what it does, what is wrong with it."""

    placed: Placed
    judged: Judged

    @property
    def kept(self) -> bool:
        """Whether the promise is kept at every seat and no finding is an error."""
        return self.placed.proposal.proof.status != "infeasible" and not self.judged.errors


def predict(loaded: Loaded) -> Judged:
    """Evidence and findings of a document as it stands."""
    evidence = ledger.evidence(loaded.scene())
    return Judged(evidence, run_checks(evidence))


def check(loaded: Loaded) -> tuple[Finding, ...]:
    """Findings of a document as it stands, errors first."""
    return predict(loaded).findings


def place(loaded: Loaded, *, time_limit: float = TIME_LIMIT, say: Progress = quiet) -> Placed:
    """Propose microphones and write them into the document's text; no file is touched."""
    say("placing microphones …")
    proposal = place_microphones(loaded.scene(), time_limit=time_limit)
    room = edit.replacing_devices(
        loaded.room,
        {"microphone"},
        {d.id: _device(loaded.room, d) for d in proposal.devices},
    )
    return Placed(proposal, room, codec.edit(loaded.document, room))


def design(loaded: Loaded, *, time_limit: float = TIME_LIMIT, say: Progress = quiet) -> Designed:
    """Place, then predict and check the room as placed."""
    placed = place(loaded, time_limit=time_limit, say=say)
    say("predicting every seat …")
    evidence = ledger.evidence(scene.build(placed.room, loaded.catalogue))
    say("checking …")
    return Designed(placed, Judged(evidence, run_checks(evidence)))


@dataclass(frozen=True)
class Explained:
    """One outbound path and its stages."""

    evidence: Evidence
    row: Outbound
    stages: tuple[working.Stage, ...]


def explain(loaded: Loaded, seat: str) -> Explained:
    """Open the outbound path of one seat, or of one point of a standing area.

    Raises
    ------
    InputError
        There is no such seat, or no microphone is placed.
    """
    built = loaded.scene()
    evidence = ledger.evidence(built, assumptions=False)
    names = [t.id for t in evidence.talkers]
    if seat not in names:
        inside = [n for n in names if n.startswith(seat + ".")]
        hint = f" (a standing area is opened point by point: {', '.join(inside)})" if inside else ""
        raise InputError(
            f"{loaded.document.name}: no seat {seat!r}; the talking points are "
            f"{', '.join(names)}{hint}"
        )
    if not evidence.outbound:
        raise InputError(
            f"{loaded.document.name}: no microphone is placed, so there is no path to open; place "
            "some first with wellheard place"
        )
    row = next(o for o in evidence.outbound if o.talker.id == seat)
    return Explained(evidence, row, working.outbound_stages(built, evidence, row))


def _device(room: Room, placed: PlacedAt) -> Device:
    before = room.devices.get(placed.id)
    if before is not None and placed.locked:
        return before
    aimed = placed.mounting != "ceiling"
    return Device(
        kind="microphone",
        product=placed.product,
        at=(round(placed.at[0], 6), round(placed.at[1], 6), round(placed.at[2], 6)),
        aim_deg=round(placed.aim_deg, 3) if aimed else None,
    )
