"""The documents of a design: made in memory, written as a whole folder."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from wellheard import __version__
from wellheard.catalog.catalogue import Catalogue
from wellheard.dossier.compose import map_quantity, outline
from wellheard.dossier.model import Identity, Outline, Section
from wellheard.dossier.positions import Position, positions
from wellheard.dossier.proven import Proven
from wellheard.drawings.plan import plan_small
from wellheard.drawings.view import PlanView
from wellheard.place.proposal import Proposal
from wellheard.predict.coverage import Coverage, coverage
from wellheard.predict.evidence import Evidence
from wellheard.predict.listening_map import inbound_coverage
from wellheard.predict.parts import PartEvidence
from wellheard.predict.scene import Scene, build
from wellheard.predict.sureness import Sureness, sureness
from wellheard.room.divide import closed_in
from wellheard.room.document import Room
from wellheard.schedules.whole import Schedules, schedules
from wellheard.workflow import answers, wiring
from wellheard.workflow.applying import computed
from wellheard.workflow.design import Designed, Judged, Progress, quiet
from wellheard.workflow.drawn import drawings
from wellheard.workflow.edition import Edition, needed_by
from wellheard.workflow.ledger_table import ledger_csv
from wellheard.workflow.load import Loaded, document_hash
from wellheard.workflow.manifest import MANIFEST, check_folder, json_bytes, write_folder
from wellheard.workflow.map_pictures import dossier_maps
from wellheard.workflow.remedying import Offer
from wellheard.workflow.schedule_book import schedules_book
from wellheard.workflow.schedule_tables import schedule_files
from wellheard.workflow.scheduling import schedule_answer
from wellheard.workflow.set_out import set_out_doubts
from wellheard.workflow.sheets import Space, plan_view
from wellheard.workflow.treating import before_treatment

BOOK, MODEL = "schedules.xlsx", "room.ifc"
EVERYBODY = Edition()
SMALL_PLAN_WIDTH = 112.0
"""Width of the customer page's plan [mm]."""


@dataclass(frozen=True)
class Made:
    """The documents of a design or of a room.

    Attributes
    ----------
    files : dict of str to bytes
        By name, without the manifest.
    dossier : Outline
        What the dossier among them says.
    """

    files: dict[str, bytes]
    dossier: Outline


@dataclass(frozen=True)
class Enclosed:
    """What else a design's folder has: sections of its dossier, files, fields.

    Parameters
    ----------
    sections : tuple of Section
    files : mapping of str to bytes
        By name; folders are parted by ``/``.
    answer : mapping
        Fields of the answer beside the design's own.
    """

    sections: tuple[Section, ...] = ()
    files: Mapping[str, bytes] = field(default_factory=dict)
    answer: Mapping[str, Any] = field(default_factory=dict)


def made(
    loaded: Loaded,
    answer: Designed | Judged,
    *,
    enclosed: Enclosed | None = None,
    offers: Sequence[Offer] = (),
    edition: Edition = EVERYBODY,
    proven: Proven | None = None,
    say: Progress = quiet,
) -> Made:
    """Every document of a design, or of a room as it stands, with the changes tried for it.

    ``proven`` is what a session of measurement says of a room as it stands.
    """
    if isinstance(answer, Designed):
        whole = _of_design(loaded, answer, enclosed or Enclosed(), offers, edition, say=say)
    else:
        whole = _as_it_stands(loaded, answer, offers, edition, proven, say=say)
    return Made(needed_by(edition.readers, whole.files), whole.dossier)


def design_files(loaded: Loaded, designed: Designed, *, say: Progress = quiet) -> dict[str, bytes]:
    """Every file of a design folder but its manifest, by name."""
    return made(loaded, designed, say=say).files


def published_files(loaded: Loaded, judged: Judged, *, say: Progress = quiet) -> dict[str, bytes]:
    """Documents of a room as it stands: the same files, nothing placed."""
    return made(loaded, judged, say=say).files


def _of_design(
    loaded: Loaded,
    designed: Designed,
    enclosed: Enclosed,
    offers: Sequence[Offer],
    edition: Edition,
    *,
    say: Progress,
) -> Made:
    text = designed.text
    judged = designed.judged
    stem = room_file_name(loaded)
    files = {stem: text.encode(), **loaded.companions(designed.room)}
    documents = _documents(
        shown_spaces(designed.room, loaded.catalogue, judged),
        judged,
        designed.placed.proposal,
        text=text,
        enclosed=enclosed.sections,
        offers=offers,
        edition=edition,
        say=say,
    )
    result = design_answer(designed, offers) | dict(enclosed.answer)
    # How long it took is no part of the answer: the same input gives the same bytes.
    result["placement"].pop("seconds")
    return _whole(files | dict(enclosed.files), documents, result)


def design_answer(designed: Designed, offers: Sequence[Offer] = ()) -> dict[str, Any]:
    """What ``design --format json`` prints, with the changes that were tried for its findings."""
    evidence = designed.judged.evidence
    return {
        "prediction": answers.judgement(designed.judged, offers),
        "placement": answers.placement(designed.placed.proposal),
        "wiring": wiring.as_json(designed.wired.wired) if designed.wired else None,
        "schedules": schedule_answer(schedules(evidence.room, evidence.catalogue)),
    }


def _as_it_stands(
    loaded: Loaded,
    judged: Judged,
    offers: Sequence[Offer],
    edition: Edition,
    proven: Proven | None,
    *,
    say: Progress,
) -> Made:
    text = loaded.document.text
    files = {room_file_name(loaded): text.encode(), **loaded.companions()}
    spaces = shown_spaces(loaded.room, loaded.catalogue, judged)
    evidence = judged.evidence
    if proven is not None:
        from wellheard.workflow.proven import mapped, proven_files

        key = proven.session.arrangement or judged.leads.partition(".")[0]
        shown = _view(evidence, spaces[key], key, document_hash(text), "sti_outbound", proven.state)
        proven = mapped(proven, shown, loaded)
        files |= proven_files(proven, evidence)
    documents = _documents(
        spaces,
        judged,
        None,
        text=text,
        offers=offers,
        edition=edition,
        proven=proven,
        say=say,
    )
    answer = {
        "prediction": answers.judgement(judged, offers),
        "schedules": schedule_answer(schedules(evidence.room, evidence.catalogue)),
    }
    return _whole(files, documents, answer)


def _whole(files: dict[str, bytes], documents: Made, result: Mapping[str, Any]) -> Made:
    every = files | documents.files | {"result.json": json_bytes(result)}
    return Made(dict(sorted(every.items())), documents.dossier)


def shown_spaces(room: Room, catalogue: Catalogue, judged: Judged) -> dict[str, tuple[Space, ...]]:
    """What each plan sheet shows, by arrangement, the leading sheet first.

    A room without arrangements is one space under ''. Of a room that divides, the first
    arrangement without a closed partition leads: its sheet is what is set out from.
    """
    if not judged.parts:
        return {"": (_space(build(room, catalogue), judged.evidence),)}
    found: dict[str, tuple[Space, ...]] = {}
    for key in sorted(room.arrangements, key=lambda k: bool(closed_in(room, k))):
        mine = [part for part in judged.parts if part.part.arrangement == key]
        found[key] = tuple(_space(part.scene, part.evidence) for part in mine)
    return found


def _space(scene: Scene, evidence: Evidence) -> Space:
    maps: dict[str, Coverage] = {}
    if evidence.microphones:
        maps |= coverage(scene, evidence)
    if evidence.playback is not None:
        maps |= inbound_coverage(scene, evidence.playback)
    return Space(scene, evidence, maps)


def _documents(
    spaces: Mapping[str, tuple[Space, ...]],
    judged: Judged,
    proposal: Proposal | None,
    *,
    text: str,
    enclosed: Sequence[Section] = (),
    offers: Sequence[Offer] = (),
    edition: Edition,
    proven: Proven | None = None,
    say: Progress,
) -> Made:
    evidence = judged.evidence
    digest = document_hash(text)
    state = "" if proven is None else proven.state
    say("drawing …")
    views = {
        key: edition.signed(_view(evidence, shown, key, digest, "direct_to_reverberant_db", state))
        for key, shown in spaces.items()
    }
    found = schedules(evidence.room, evidence.catalogue)
    sheets = drawings(evidence, views, found)
    rows = positions(evidence)
    worst = judged.leads.partition(".")[0]
    quantity = map_quantity(evidence, proposal)
    small = plan_small(
        _view(evidence, spaces[worst], worst, digest, quantity, state), SMALL_PLAN_WIDTH
    )
    say("mapping …")
    maps = tuple(
        (key, svg) for key, shown in spaces.items() for svg in dossier_maps(evidence, shown, key)
    )
    say("setting the dossier …")
    dossier = outline(
        evidence,
        judged.findings,
        proposal,
        tuple(sheet.svg for sheet in sheets),
        small,
        identity=_identity(evidence, digest),
        parts=tuple(PartEvidence(part.part, part.evidence) for part in judged.parts),
        maps=maps,
        sureness=_opened(spaces, judged),
        enclosed=enclosed,
        computed=computed(offers),
        untreated=before_treatment(judged, say=say),
        readers=edition.readers,
        letterhead=edition.letterhead,
        set_out_doubts=set_out_doubts(evidence.room, evidence.catalogue, rows, judged.findings),
        proven=proven,
    )
    files = _pages(dossier, say) | {"ledger.csv": ledger_csv(evidence).encode()}
    files |= _tables(evidence, found, rows, dossier.identity, edition)
    for sheet in sheets:
        files |= sheet.files(edition.wants, date=dossier.identity.date)
    return Made(files, dossier)


def _view(
    evidence: Evidence,
    shown: tuple[Space, ...],
    key: str,
    digest: str,
    quantity: str,
    measured: str,
) -> PlanView:
    """What the plan of an arrangement shows; its sheet is numbered when it is drawn."""
    unmeasured = (
        "designed, not yet measured" if evidence.microphones else "surveyed, not yet designed"
    )
    return plan_view(
        evidence,
        shown,
        quantity=quantity,
        sheet="",
        of="",
        document_hash=digest,
        state=measured or unmeasured,
        arrangement=key,
    )


def _identity(evidence: Evidence, digest: str) -> Identity:
    project = evidence.room.project
    return Identity(
        document_hash=digest,
        tool_version=__version__,
        date=str(project.date) if project.date else "",
        revision=project.revision,
        project=project.number,
    )


def _pages(dossier: Outline, say: Progress) -> dict[str, bytes]:
    from wellheard.dossier.writers.typst_pdf import is_accessible, write_pdf

    pdf = write_pdf(dossier)
    if not is_accessible(pdf):
        say("dossier.pdf has letters that its typeface lacks: it is tagged, but no PDF/UA")
    return {"dossier.pdf": pdf}


def _tables(
    evidence: Evidence,
    found: Schedules,
    rows: Sequence[Position],
    identity: Identity,
    edition: Edition,
) -> dict[str, bytes]:
    """Schedules as tables and as one workbook, and the building model where it is asked for."""
    from wellheard.dossier.writers.ifc.write import write_ifc

    files = dict(schedule_files(found, rows))
    if (rows or found.cables.rows) and edition.wants(BOOK):
        files[BOOK] = schedules_book(found, rows, evidence, identity)
    if edition.model:
        files[MODEL] = write_ifc(evidence.room, evidence.catalogue, identity)
    return files


def _opened(spaces: Mapping[str, tuple[Space, ...]], judged: Judged) -> Sureness | None:
    """The range of the worst place, opened; in a room that divides in the part that leads."""
    for part in judged.parts:
        if part.name == judged.leads:
            return sureness(part.scene, part.evidence, part=part.name)
    (space,) = spaces[""]
    return sureness(space.scene, judged.evidence)


def publish(
    loaded: Loaded,
    answer: Designed | Judged,
    folder: str | os.PathLike[str],
    *,
    enclosed: Enclosed | None = None,
    offers: Sequence[Offer] = (),
    edition: Edition = EVERYBODY,
    proven: Proven | None = None,
    say: Progress = quiet,
) -> tuple[Path, ...]:
    """Write the documents of a design, or of a room as it stands, as a whole folder.

    Parameters
    ----------
    loaded : Loaded
        The document that the answer was worked out from.
    answer : Designed or Judged
        Of ``design`` or of ``predict``.
    folder : path
        New, empty, or written by this function before and unchanged since.
    enclosed : Enclosed, optional
        What comes with a design besides.
    offers : sequence of Offer
        Changes that were tried for its findings.
    edition : Edition
        For whom: which parts and files.
    proven : Proven, optional
        What a session of measurement says of a room as it stands.
    say : callable
        Told how far things are.

    Returns
    -------
    tuple of Path
        The files, the manifest last.

    Raises
    ------
    InputError
        Something else is in the folder, or it cannot be written; it is left as it was.
    """
    check_folder(Path(folder))
    whole = made(
        loaded, answer, enclosed=enclosed, offers=offers, edition=edition, proven=proven, say=say
    )
    files = whole.files
    write_folder(Path(folder), loaded, files)
    return tuple(Path(folder) / name for name in (*files, MANIFEST))


def room_file_name(loaded: Loaded) -> str:
    """Name of the document inside the folder: the one it was read from."""
    name = Path(loaded.document.name).name
    return name if name.endswith(".room.yaml") else f"{Path(name).stem}.room.yaml"
