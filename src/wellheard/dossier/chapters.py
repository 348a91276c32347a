"""The parts of the dossier, one for each reader, and the sections of each.

``SECTIONS`` is the list of what is printed: a new section is a function from `Material` to
sections, and a line there.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

from wellheard.checks.model import Finding
from wellheard.dossier.filled import filled_plan, filled_sheet
from wellheard.dossier.model import READERS, Chapter, Identity, Letterhead, Reader, Section, Sheet
from wellheard.dossier.planned import Results
from wellheard.dossier.positions import positions
from wellheard.dossier.proven import Proven
from wellheard.dossier.sections.acceptance import acceptance_section
from wellheard.dossier.sections.arrangements import of_part
from wellheard.dossier.sections.behind import behind_section
from wellheard.dossier.sections.bill import bill_section
from wellheard.dossier.sections.cables import cables_section
from wellheard.dossier.sections.findings import Computed, findings_section
from wellheard.dossier.sections.grounds import grounds_section
from wellheard.dossier.sections.labels import labels_sections
from wellheard.dossier.sections.ledger import ledger_section
from wellheard.dossier.sections.listening import listening_sections
from wellheard.dossier.sections.maps import maps_sections
from wellheard.dossier.sections.measured import curves_section, measured_section
from wellheard.dossier.sections.network import network_sections
from wellheard.dossier.sections.proof import proof_section
from wellheard.dossier.sections.racks import rack_sections
from wellheard.dossier.sections.room import room_section
from wellheard.dossier.sections.setting_out import setting_out_section
from wellheard.dossier.sections.sureness import sureness_section
from wellheard.dossier.sections.testplan import plan_section, steps
from wellheard.dossier.sections.tools import tools_section
from wellheard.dossier.sections.treatment import Untreated, treatment_section
from wellheard.dossier.sections.verdict import customer_section, rows_section
from wellheard.dossier.sections.wayback import settings_sections, way_back_sections
from wellheard.place.proposal import Proposal
from wellheard.predict.evidence import Evidence
from wellheard.predict.parts import PartEvidence, leading
from wellheard.predict.sureness import Sureness
from wellheard.schedules.whole import Schedules

NOBODY = Letterhead()


@dataclass(frozen=True)
class Material:
    """What the dossier is made of.

    Attributes
    ----------
    evidence : Evidence
        Of the whole room.
    findings : sequence of Finding
    proposal : Proposal or None
        None where nothing was searched.
    schedules : Schedules or None
        None where the document has no devices.
    identity : Identity
        Which document this is.
    parts : sequence of PartEvidence
        Every space of every arrangement of a room that divides.
    maps : sequence of (str, str)
        Maps as SVG text, each after the key of its arrangement.
    sureness : Sureness or None
        The range of the worst place, opened.
    enclosed : sequence of Section
        What was made elsewhere; each is printed in the part of its reader, before all others.
    computed : mapping of Finding to Computed
        Changes that were tried for findings.
    untreated : Untreated or None
        The room without the finishes that were bought for it; None where none were.
    set_out_doubts : sequence of str
        What a place as it is printed would break.
    letterhead : Letterhead
        Whose documents these are.
    proven : Proven or None
        What a session of measurement says; None where nothing was measured.
    """

    evidence: Evidence
    findings: Sequence[Finding]
    proposal: Proposal | None
    schedules: Schedules | None
    identity: Identity
    parts: Sequence[PartEvidence] = ()
    maps: Sequence[tuple[str, str]] = ()
    sureness: Sureness | None = None
    enclosed: Sequence[Section] = ()
    computed: Mapping[Finding, Computed] = field(default_factory=dict)
    untreated: Untreated | None = None
    set_out_doubts: Sequence[str] = ()
    letterhead: Letterhead = NOBODY
    proven: Proven | None = None

    def planned_results(self) -> Results:
        """What of the test plan was measured."""
        if self.proven is None:
            return {}
        return filled_plan(self.evidence, self.proven, steps(self.evidence, self.parts))


Maker: TypeAlias = Callable[[Material], Iterable[Section]]

TITLES: Mapping[Reader, tuple[str, str]] = {
    "customer": (
        "For the customer",
        "Whether it will work and how sure that is, what was promised, what was assumed.",
    ),
    "installer": (
        "For the installer",
        "What goes where, what is wired to what and with which cable, what is ordered and what is "
        "set, with the cautions of that work. The drawings stand at the end.",
    ),
    "it": (
        "For the IT department",
        "What comes onto the network, what it sends and draws, and what has to be decided.",
    ),
    "commissioning": (
        "For commissioning",
        "What is measured, in which order, what was predicted for it, and the sheet that is "
        "signed.",
    ),
    "engineer": (
        "How it was worked out",
        "Every figure with its range, the proof of the design, the room as it was taken to be, "
        "what the rules found, and what all of it stands on.",
    ),
}
"""Title of each part, and what is in it."""


def _ledgers(of: Material) -> Iterable[Section]:
    yield ledger_section(of.evidence)
    for one in of.parts:
        yield of_part(ledger_section(one.evidence), one.part, of.evidence.room)


def _heard(of: Material) -> Iterable[Section]:
    yield from listening_sections(of.evidence)
    if of.parts:
        yield from _of_each(listening_sections, of)


def _how_sure(of: Material) -> Iterable[Section]:
    led = leading(of.parts).evidence if of.parts else of.evidence
    if of.sureness is not None or not led.outbound:
        yield sureness_section(led, of.sureness)


def _proof(of: Material) -> Iterable[Section]:
    yield proof_section(of.evidence, of.proposal)


def _maps(of: Material) -> Iterable[Section]:
    return maps_sections(of.maps, playing=of.evidence.playback is not None)


def _way_back(of: Material) -> Iterable[Section]:
    return _of_each(way_back_sections, of)


def _rooms(of: Material) -> Iterable[Section]:
    if not of.parts:
        yield room_section(of.evidence)
    for one in of.parts:
        yield of_part(room_section(one.evidence), one.part, of.evidence.room)


def _treatment(of: Material) -> Iterable[Section]:
    if of.untreated is not None:
        yield treatment_section(of.evidence, of.untreated, of.parts)


def _findings(of: Material) -> Iterable[Section]:
    yield findings_section(of.findings, of.computed)


def _grounds(of: Material) -> Iterable[Section]:
    yield grounds_section(of.evidence, of.identity)


def _settings(of: Material) -> Iterable[Section]:
    return settings_sections(of.evidence)


def _setting_out(of: Material) -> Iterable[Section]:
    rows = positions(of.evidence)
    if rows:
        yield setting_out_section(of.evidence.room, rows, of.set_out_doubts)
    if of.schedules is not None:
        sound = of.evidence.playback is not None
        yield tools_section(of.schedules, of.evidence.catalogue, rows, sound=sound)


def _labels(of: Material) -> Iterable[Section]:
    if of.schedules is not None:
        yield from labels_sections(of.evidence.room, of.schedules.cables)


def _cables(of: Material) -> Iterable[Section]:
    if of.schedules is not None:
        yield cables_section(of.schedules, of.evidence.catalogue)


def _racks(of: Material) -> Iterable[Section]:
    return () if of.schedules is None else rack_sections(of.schedules)


def _bill(of: Material) -> Iterable[Section]:
    if of.schedules is not None:
        yield bill_section(of.schedules)


def _network(of: Material) -> Iterable[Section]:
    return () if of.schedules is None else network_sections(of.schedules)


def _behind(of: Material) -> Iterable[Section]:
    yield behind_section(of.evidence, of.letterhead)


def _verdict(of: Material) -> Iterable[Section]:
    if of.proven is not None:
        yield customer_section(of.evidence, of.proven)


def _measured(of: Material) -> Iterable[Section]:
    if of.proven is not None:
        yield rows_section(of.proven)
        yield measured_section(of.evidence, of.proven)


def _curves(of: Material) -> Iterable[Section]:
    found = None if of.proven is None else curves_section(of.evidence, of.proven)
    return () if found is None else (found,)


def _test_plan(of: Material) -> Iterable[Section]:
    yield plan_section(of.evidence, of.parts, of.planned_results())


def _acceptance(of: Material) -> Iterable[Section]:
    filled = None
    if of.proven is not None:
        filled = filled_sheet(of.proven, steps(of.evidence, of.parts), of.planned_results())
    yield acceptance_section(of.evidence, of.identity, filled)


NOTHING: Mapping[Reader, str] = {
    "it": "Nothing in this document comes onto the network of the building.",
}
NOTHING_THERE = "The document has no devices, so that there is nothing for this part."
"""What is said to a reader who asked for a part that is empty."""

SECTIONS: Mapping[Reader, tuple[Maker, ...]] = {
    "customer": (_verdict, _behind),
    "installer": (_setting_out, _cables, _labels, _racks, _settings, _bill),
    "it": (_network,),
    "commissioning": (_measured, _test_plan, _acceptance),
    "engineer": (
        _ledgers,
        _heard,
        _how_sure,
        _proof,
        _maps,
        _way_back,
        _rooms,
        _treatment,
        _curves,
        _findings,
        _grounds,
    ),
}
"""What each reader's part is made of, in order."""


def chapters(
    of: Material, readers: Sequence[Reader], sheets: Sequence[Sheet] = ()
) -> tuple[Chapter, ...]:
    """Return the parts for some readers; an empty one is left out, unless it was asked for.

    Parameters
    ----------
    of : Material
        What there is to tell.
    readers : sequence of Reader
        Who reads; the order of the parts is always the same.
    sheets : sequence of Sheet
        Drawings for the installer.
    """
    found = []
    for reader, makers in SECTIONS.items():
        if reader not in readers:
            continue
        enclosed = tuple(one for one in of.enclosed if one.reader == reader)
        sections = (*enclosed, *(section for maker in makers for section in maker(of)))
        drawings = tuple(sheets) if reader == "installer" else ()
        title, says = TITLES[reader]
        if sections or drawings:
            found.append(Chapter(reader, title, says, sections, drawings))
        elif len(readers) < len(READERS):
            found.append(Chapter(reader, title, NOTHING.get(reader, NOTHING_THERE), ()))
    return tuple(found)


def _of_each(made: Callable[[Evidence], tuple[Section, ...]], of: Material) -> tuple[Section, ...]:
    """Sections of the room, or of every space of one that divides."""
    if not of.parts:
        return made(of.evidence)
    return tuple(
        of_part(section, one.part, of.evidence.room)
        for one in of.parts
        for section in made(one.evidence)
    )
