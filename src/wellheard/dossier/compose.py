"""From evidence, findings and proof to the whole outline, and from there to a PDF."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from wellheard.checks.model import Finding
from wellheard.dossier.chapters import NOBODY, Material, chapters
from wellheard.dossier.figures import sheet
from wellheard.dossier.model import (
    READERS,
    Customer,
    Identity,
    Letterhead,
    Outline,
    Reader,
    Run,
    Section,
)
from wellheard.dossier.proven import Proven
from wellheard.dossier.sections.customer import customer_page, map_quantity
from wellheard.dossier.sections.findings import Computed
from wellheard.dossier.sections.treatment import Untreated
from wellheard.dossier.sections.verdict import HEADLINES
from wellheard.dossier.words import shortened
from wellheard.place.proposal import Proposal
from wellheard.predict.evidence import Evidence
from wellheard.predict.parts import PartEvidence
from wellheard.predict.sureness import Sureness
from wellheard.schedules.whole import schedules

__all__ = ["map_quantity", "outline", "pdf"]

CAUTION = "Engineering predictions: local codes and licensed practice decide."
UNTITLED = "Untitled room"
HEAD_ROOM = 72
"""Characters that the head of a page holds beside its reader."""


def outline(
    evidence: Evidence,
    findings: Sequence[Finding],
    proposal: Proposal | None,
    plan_sheets: Sequence[str] = (),
    small_plan: str = "",
    *,
    identity: Identity,
    parts: Sequence[PartEvidence] = (),
    maps: Sequence[tuple[str, str]] = (),
    sureness: Sureness | None = None,
    enclosed: Sequence[Section] = (),
    readers: Sequence[Reader] = READERS,
    letterhead: Letterhead = NOBODY,
    computed: Mapping[Finding, Computed] | None = None,
    untreated: Untreated | None = None,
    set_out_doubts: Sequence[str] = (),
    proven: Proven | None = None,
) -> Outline:
    """Return everything that the dossier says, before it is set in type.

    Parameters
    ----------
    evidence : Evidence
        What was predicted for the room, with the proposed devices in it.
    findings : sequence of Finding
        What the rules found in that evidence.
    proposal : Proposal or None
        What placement proposed and proved; None where nothing was searched, and the dossier
        then says so.
    plan_sheets : sequence of str
        Drawings as SVG text, each with its paper size; one page each.
    small_plan : str
        The plan of the customer page as SVG text; empty for none.
    identity : Identity
        Which document this is.
    parts : sequence of PartEvidence
        Every space of every arrangement of a room that divides; ``evidence`` is then that of the
        whole, each talking point as it is in its worst arrangement.
    maps : sequence of (str, str)
        Maps as SVG text, each after the key of its arrangement; '' for a room that has none.
    sureness : Sureness, optional
        The range of the worst place, opened; of a room that divides that of the part that leads.
        Where it is left out though somebody is heard, the dossier has no page on it.
    enclosed : sequence of Section
        Made elsewhere: each comes first in the part of its reader.
    readers : sequence of Reader
        Whose parts are printed.
    letterhead : Letterhead
        Whose documents these are.
    computed : mapping of Finding to Computed, optional
        Changes that were tried for findings.
    untreated : Untreated, optional
        The room without the finishes that were bought for it, where some were.
    set_out_doubts : sequence of str
        What a place as it is printed would break.
    proven : Proven, optional
        What a session of measurement says.

    Returns
    -------
    Outline
        Worst first throughout; what was not predicted is marked as not assessed.

    Raises
    ------
    ValueError
        A drawing is no SVG with a width and a height.
    """
    room = evidence.room
    found = schedules(room, evidence.catalogue) if room.devices else None
    whose = " · ".join(part for part in (room.project.client, room.project.site) if part)
    title = room.title or UNTITLED
    material = Material(
        evidence,
        findings,
        proposal,
        found,
        identity,
        parts,
        maps,
        sureness,
        enclosed,
        computed or {},
        untreated,
        set_out_doubts,
        letterhead,
        proven,
    )
    customer = customer_page(evidence, findings, proposal, parts, found)
    return Outline(
        title=title,
        whose=shortened(whose, HEAD_ROOM),
        running=shortened(f"{title} · {whose}" if whose else title, HEAD_ROOM),
        paper="us-letter" if room.units == "ft" else "a4",
        identity=identity,
        caution=CAUTION,
        customer=customer if proven is None else _measured(customer, proven),
        letterhead=letterhead,
        small_plan=sheet(small_plan) if small_plan else None,
        chapters=chapters(material, readers, tuple(map(sheet, plan_sheets))),
    )


def _measured(customer: Customer, proven: Proven) -> Customer:
    """The customer's page: what was measured answers, what was predicted is a remark."""
    on = f" on {proven.date}" if proven.date else ""
    said = HEADLINES[proven.verdict.word].rstrip(".")
    answer = f"Measured{on}: {said[0].lower()}{said[1:]}. The next page has it line by line."
    predicted = ("Predicted", (Run(customer.answer),))
    return replace(customer, answer=answer, remarks=(predicted, *customer.remarks))


def pdf(
    evidence: Evidence,
    findings: Sequence[Finding],
    proposal: Proposal | None,
    plan_sheets: Sequence[str] = (),
    small_plan: str = "",
    *,
    identity: Identity,
    parts: Sequence[PartEvidence] = (),
    maps: Sequence[tuple[str, str]] = (),
    sureness: Sureness | None = None,
    readers: Sequence[Reader] = READERS,
    letterhead: Letterhead = NOBODY,
) -> bytes:
    """Return the dossier as a PDF; the same input gives the same bytes.

    Parameters are those of `outline`. Text pages are A4, or US Letter for a document in feet;
    plan sheets keep the size they were drawn at.

    Raises
    ------
    ValueError
        A drawing is no SVG with a width and a height.
    """
    from wellheard.dossier.writers.typst_pdf import write_pdf

    return write_pdf(
        outline(
            evidence,
            findings,
            proposal,
            plan_sheets,
            small_plan,
            identity=identity,
            parts=parts,
            maps=maps,
            sureness=sureness,
            readers=readers,
            letterhead=letterhead,
        )
    )
