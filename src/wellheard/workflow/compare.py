"""Two documents side by side: what changed, and what it does to the promise."""

from __future__ import annotations

from dataclasses import dataclass

from wellheard.checks.model import Finding
from wellheard.predict.evidence import Evidence, Outbound
from wellheard.workflow import design
from wellheard.workflow.design import Judged
from wellheard.workflow.difference import Change, changes
from wellheard.workflow.load import Loaded

MOVED_STI = 0.005
MOVED_DB = 0.05
MOVED_CHANCE = 0.005
"""Below these a seat is told as it was: what a reader sees printed does not change."""


@dataclass(frozen=True)
class Promise:
    """How a document stands: talking points kept, of how many, and the worst of them."""

    kept: int
    of: int
    microphones: int
    worst: str
    worst_sti: float | None
    worst_chance: float | None
    reverberation: float
    """Mid-frequency decay time, mean of 500 Hz and 1 kHz. [s]"""
    noise: str


@dataclass(frozen=True)
class SeatChange:
    """One talking point before and after; None where there is no such seat or no microphone."""

    id: str
    before: Outbound | None
    after: Outbound | None

    @property
    def lost(self) -> bool:
        """It was kept and is not any more."""
        return (
            self.before is not None
            and self.before.state == "kept"
            and (self.after is not None and self.after.state != "kept")
        )

    @property
    def won(self) -> bool:
        """It is kept and was not."""
        return (
            self.after is not None
            and self.after.state == "kept"
            and (self.before is not None and self.before.state != "kept")
        )


@dataclass(frozen=True)
class Comparison:
    """What changed between two documents.

    Parameters
    ----------
    changes : tuple of Change
        Of the documents, in their order.
    before, after : Promise
    seats : tuple of SeatChange
        Those that are told otherwise than before: lost ones first, then by how much they change.
    new_findings, gone_findings : tuple of Finding
        Errors and warnings of one document only.
    """

    changes: tuple[Change, ...]
    before: Promise
    after: Promise
    seats: tuple[SeatChange, ...]
    new_findings: tuple[Finding, ...]
    gone_findings: tuple[Finding, ...]

    @property
    def worse(self) -> bool:
        """A talking point that was kept is not any more."""
        return any(seat.lost for seat in self.seats)


def compare(old: Loaded, new: Loaded) -> Comparison:
    """Compare two documents and predict both."""
    was, now = (design.judge(one.room, one.catalogue, assumptions=False) for one in (old, new))
    return compared(old, was, new, now)


def compared(old: Loaded, was: Judged, new: Loaded, now: Judged) -> Comparison:
    """Compare two documents whose predictions are there already."""
    before = {o.talker.id: o for o in was.evidence.outbound}
    after = {o.talker.id: o for o in now.evidence.outbound}
    seats = [
        SeatChange(name, before.get(name), after.get(name))
        for name in dict.fromkeys((*before, *after))
        if _moved(before.get(name), after.get(name))
    ]
    known = {(f.code, f.at) for f in was.findings}
    left = {(f.code, f.at) for f in now.findings}
    return Comparison(
        changes=changes(old.room, new.room, new.catalogue),
        before=_promise(was.evidence),
        after=_promise(now.evidence),
        seats=tuple(sorted(seats, key=lambda s: (not s.lost, -_step(s)))),
        new_findings=tuple(
            f for f in now.findings if f.severity != "note" and (f.code, f.at) not in known
        ),
        gone_findings=tuple(
            f for f in was.findings if f.severity != "note" and (f.code, f.at) not in left
        ),
    )


def _moved(before: Outbound | None, after: Outbound | None) -> bool:
    if before is None or after is None:
        return before is not after
    return (
        before.state != after.state
        or before.path.microphone != after.path.microphone
        or abs(before.sti.value - after.sti.value) >= MOVED_STI
        or abs(before.chance - after.chance) >= MOVED_CHANCE
        or any(
            abs(a.value - b.value) >= MOVED_DB
            for a, b in zip(before.quantities[1:], after.quantities[1:], strict=True)
        )
    )


def _step(seat: SeatChange) -> float:
    if seat.before is None or seat.after is None:
        return 1.0
    return abs(seat.after.chance - seat.before.chance)


def _promise(evidence: Evidence) -> Promise:
    worst = evidence.worst()
    return Promise(
        kept=sum(o.state == "kept" for o in evidence.outbound),
        of=len(evidence.talkers),
        microphones=len(evidence.microphones),
        worst="" if worst is None else worst.talker.id,
        worst_sti=None if worst is None else worst.sti.value,
        worst_chance=None if worst is None else worst.chance,
        reverberation=(evidence.reverberation.time[2] + evidence.reverberation.time[3]) / 2,
        noise=evidence.noise.label,
    )
