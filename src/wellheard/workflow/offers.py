"""A design that is offered and not yet in the document: what it is, what it does, how to take it.

Everything that somebody reads is words here already, and the proof is the dossier's own: an offer
travels from the process that worked it out as plain data.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from wellheard.dossier.sections.answer import explanation
from wellheard.dossier.sections.proof import proof_section
from wellheard.dossier.words import full_stop
from wellheard.errors import InputError
from wellheard.place.proposal import ProofStatus
from wellheard.predict.evidence import Evidence, State
from wellheard.room import codec, edit
from wellheard.room.operations import apply
from wellheard.units import Unit
from wellheard.workflow import answers, figures, prices
from wellheard.workflow.asking import Asked
from wellheard.workflow.design import Designed, Judged
from wellheard.workflow.difference import changes
from wellheard.workflow.load import Loaded
from wellheard.workflow.offered_devices import OfferedDevice, offered_devices, priced_kinds
from wellheard.workflow.passages import Passage, from_heading, passages_of
from wellheard.workflow.suggestion import Suggestion


@dataclass(frozen=True)
class Standing:
    """How a place fares, as it is read."""

    state: State
    sti: str
    chance: str
    binds: str
    microphone: str


@dataclass(frozen=True)
class OfferedSeat:
    """One place before and after; None where it did not exist."""

    id: str
    path: str
    before: Standing | None
    after: Standing | None

    @property
    def lost(self) -> bool:
        """Kept before, and not any more."""
        before = self.before is not None and self.before.state == "kept"
        return before and self.after is not None and self.after.state != "kept"

    @property
    def won(self) -> bool:
        """Kept only now."""
        after = self.after is not None and self.after.state == "kept"
        return after and (self.before is None or self.before.state != "kept")


@dataclass(frozen=True)
class OfferedFinding:
    """What a rule says of the room with the offer in it."""

    code: str
    state: State
    severity: str
    message: str
    remedy: str
    new: bool
    """Not found in the room as it stands."""


@dataclass(frozen=True)
class Offer:
    """A proposed design of a document.

    Attributes
    ----------
    path : str
        Of the document, for messages and for products beside it.
    base, text : str
        The document that it was worked out from, and as it is proposed.
    version : int
        Of the document that it was worked out from.
    unit : {"m", "ft"}
        Of the lengths in its words.
    asked : Asked
        Changes of choices and promise that it was asked with.
    kept : bool
        Whether the promise is kept everywhere, without an error.
    status : {"optimal", "infeasible", "gap"}
    sentence, why : str
        How many places keep the promise; why not fewer microphones.
    gives : tuple of str
        What would have to give for the whole promise.
    devices : tuple of OfferedDevice
    price, price_before, price_step : str
        Of all devices that it decides on, as installed.
    proof : tuple of Passage
    seats : tuple of OfferedSeat
        Worst first, both judged by the promise that was asked for.
    findings : tuple of OfferedFinding
    findings_words : str
    changes : tuple of str
        What was asked differently from the document, as sentences.
    placement : dict
        What ``wellheard place --format json`` prints.
    wiring : Suggestion or None
        The proposed document wired at least cost; None where it is wired so already.
    """

    path: str
    base: str
    text: str
    version: int
    unit: Unit
    asked: Asked
    kept: bool
    status: ProofStatus
    sentence: str
    why: str
    gives: tuple[str, ...]
    devices: tuple[OfferedDevice, ...]
    price: str
    price_before: str
    price_step: str
    proof: tuple[Passage, ...]
    seats: tuple[OfferedSeat, ...]
    findings: tuple[OfferedFinding, ...]
    findings_words: str
    changes: tuple[str, ...]
    placement: dict[str, Any]
    wiring: Suggestion | None = None

    @property
    def changes_nothing(self) -> bool:
        """Whether it proposes what is there already."""
        return not any(one.can_be_taken for one in self.devices)


def offer(
    base: Loaded,
    asked: Asked,
    was: Judged,
    designed: Designed,
    text: str,
    *,
    version: int,
    unit: Unit,
    wiring: Suggestion | None = None,
) -> Offer:
    """What a design offers.

    Parameters
    ----------
    base : Loaded
        The document as it stands.
    asked : Asked
        What it was asked with.
    was : Judged
        The document with what was asked, its devices as they are.
    designed : Designed
        The same with its microphones placed.
    text : str
        The document as it is proposed.
    version : int
        Of the document as it stands.
    unit : {"m", "ft"}
        Of lengths that are read.
    wiring : Suggestion, optional
        What `wellheard.workflow.wiring_offer.wiring_offer` suggests for ``text``.
    """
    proposal, now = designed.placed.proposal, designed.judged
    room, catalogue = designed.placed.room, base.catalogue
    before = prices.total(was.evidence.room, catalogue, priced_kinds(base))
    after = prices.Total(proposal.price, proposal.currency)
    found = figures.findings(now.findings, room)
    return Offer(
        path=base.document.name,
        base=base.document.text,
        text=text,
        version=version,
        unit=unit,
        asked=asked,
        kept=designed.kept,
        status=proposal.proof.status,
        sentence=figures.headline(now)["sentence"],
        why=explanation(now.evidence, proposal),
        gives=tuple(full_stop(one) for one in proposal.would_have_to_give),
        devices=tuple(offered_devices(base, was, designed, unit)),
        price=after.words,
        price_before=before.words if _has_any(was, priced_kinds(base)) else "none",
        price_step=prices.step(before, after),
        proof=tuple(passages(now.evidence, designed)),
        seats=seats(was, now, unit=unit),
        findings=tuple(_findings(was, now, found["rows"])),
        findings_words=found["count_words"],
        changes=tuple(
            full_stop(change.text)
            for change in changes(base.room, room, catalogue)
            if change.path.split(".")[0] in ("choices", "targets")
        ),
        placement=answers.placement(proposal),
        wiring=None if wiring is None or wiring.changes_nothing else wiring,
    )


def _has_any(was: Judged, kinds: Collection[str]) -> bool:
    return any(device.kind in kinds for device in was.evidence.room.devices.values())


def seats(was: Judged, now: Judged, *, unit: Unit) -> tuple[OfferedSeat, ...]:
    """Every place before and after, the worst after it first."""
    before, after = ({r["path"]: r for r in _rows(one, unit)} for one in (was, now))
    return tuple(
        OfferedSeat(path.rpartition(".")[2], path, _stands(before, path), _stands(after, path))
        for path in dict.fromkeys((*after, *before))
    )


def _rows(judged: Judged, unit: Unit) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = figures.ledger(judged, unit=unit)["rows"]
    return rows


def _stands(rows: Mapping[str, Mapping[str, Any]], path: str) -> Standing | None:
    row = rows.get(path)
    if row is None:
        return None
    return Standing(
        row["state"],
        row["sti"],
        row["chance"],
        row["binds"],
        row["microphone"].rpartition(".")[2] or "–",
    )


def _findings(
    was: Judged, now: Judged, rows: Sequence[Mapping[str, Any]]
) -> Iterator[OfferedFinding]:
    known = {(f.code, f.at) for f in was.findings}
    for row in rows:
        yield OfferedFinding(
            code=row["code"],
            state=row["state"],
            severity=row["severity"],
            message=row["message"],
            remedy=row["remedy"],
            new=(row["code"], row["field"]) not in known,
        )


# The proof, in the dossier's words --------------------------------------------------------------


OF_DEVICES = ("The microphones", "The loudspeakers", "Behind them")
"""Headings of what the page has a table of its own for."""


def passages(evidence: Evidence, designed: Designed) -> Iterator[Passage]:
    """Why not fewer, what cannot be kept and what was searched, as the dossier says it."""
    blocks = proof_section(evidence, designed.placed.proposal).blocks
    return passages_of(from_heading(blocks, apart_from=OF_DEVICES))


# Taking it ---------------------------------------------------------------------------------------


WIRED = ("devices", "links", "equipment", "processing", "basis")
"""Parts of a document that its wiring changes."""


def accept(
    offer: Offer,
    devices: Collection[str] | None = None,
    *,
    with_choices: bool = True,
    with_wiring: bool = False,
) -> str:
    """Text of the document with the offer in it, or with a part of it.

    Parameters
    ----------
    offer : Offer
        As it was worked out; it is not changed by what happened to the document since.
    devices : collection of str, optional
        Ids of its devices to take; all others stay as they are in the document. None for all.
    with_choices : bool
        Whether the choices and the promise that it was asked with are taken as well.
    with_wiring : bool
        Whether its wiring is taken as well. That is the wiring of the whole: with a part of the
        devices it is left out, and they are wired when they are there.

    Returns
    -------
    str
        For `wellheard.workflow.desk.Desk.commit_text`, with the version it was worked out from.

    Raises
    ------
    InputError
        The offer has no device of that id.
    """
    known = {one.id: one for one in offer.devices}
    wanted = set(known) if devices is None else set(devices)
    for name in sorted(wanted - set(known)):
        raise InputError(f"the offer has no device {name!r}; it has {', '.join(known) or 'none'}")
    document = codec.parse_document(offer.base, name=offer.path)
    proposed = codec.parse(offer.text, name=offer.path)
    room = document.room
    if with_choices:
        room = apply(room, offer.asked.operations, unit=offer.unit).room
    going = [n for n, one in known.items() if n in wanted and one.what == "removed"]
    coming = {
        name: proposed.devices[name]
        for name in known
        if name in wanted and name in proposed.devices and known[name].can_be_taken
    }
    room = edit.with_devices(edit.without_devices(room, going), coming)
    if with_wiring and offer.wiring is not None and wanted == set(known):
        wired = codec.parse(offer.wiring.text, name=offer.path)
        entries = {name: getattr(wired, name) for name in WIRED}
        room = room.model_copy(
            update={k: v for k, v in entries.items() if v or k in room.model_fields_set}
        )
    return codec.edit(document, room)
