"""The acceptance sheet: what it was measured with, what was loaded, what is open, who signs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from wellheard.dossier.model import (
    Blank,
    Block,
    Cell,
    Column,
    Entries,
    Entry,
    Facts,
    Heading,
    Identity,
    Line,
    Paragraph,
    Run,
    Section,
    Table,
    Tick,
)
from wellheard.dossier.sections.grounds import open_questions
from wellheard.dossier.words import NOT_ASSESSED, counted, fixed_spaces, full_stop, sentence
from wellheard.predict.evidence import Evidence
from wellheard.schedules.settings import settings_of

TITLE = "Acceptance sheet"
LEAD = (
    "Filled in when the test plan is done, signed by who measured and by who takes over, and kept "
    "with the document of the room. What is empty was not done."
)
INSTRUMENTS = (
    "Sound level meter",
    "Calibrator",
    "Measuring microphone",
    "Test source",
    "Sound device and program",
)
SNAGS = 6
"""Empty rows of the list of what is left to do."""
DIGEST = (
    "The digest is made of what is loaded or set: products, housings and aims of the devices, "
    "which port is connected with which, every stage of processing with its figures, and the "
    "playback level. Positions, cables, prices and names are not in it. A sheet with another "
    "digest belongs to other settings."
)
FIRMWARE = (
    "Nothing is updated between measuring and signing. At least is what the data sheet asks for; "
    "an en dash: it states none."
)


@dataclass(frozen=True)
class Instrument:
    """What was measured with: all of it as text."""

    name: str
    serial: str = ""
    calibrated: str = ""


@dataclass(frozen=True)
class Snag:
    """Something left to do."""

    what: str
    where: str = ""
    who: str = ""
    until: str = ""
    done: bool | None = None


@dataclass(frozen=True)
class Signature:
    """Who signs; ``name`` and ``date`` are empty until somebody has."""

    role: str
    name: str = ""
    date: str = ""


@dataclass(frozen=True)
class Acceptance:
    """What has been filled in of the sheet; nothing of it has to be.

    Attributes
    ----------
    instruments : tuple of Instrument
        In place of the usual ones.
    firmware : tuple of (str, str)
        Version found, by device.
    snags : tuple of Snag
        Empty rows follow.
    signatures : tuple of Signature
    measured_on : str
    not_measured : tuple of str
        Besides what the document leaves open.
    """

    instruments: tuple[Instrument, ...] = tuple(map(Instrument, INSTRUMENTS))
    firmware: tuple[tuple[str, str], ...] = ()
    snags: tuple[Snag, ...] = ()
    signatures: tuple[Signature, ...] = (
        Signature("Measured by"),
        Signature("Installed by"),
        Signature("Taken over by"),
    )
    measured_on: str = ""
    not_measured: tuple[str, ...] = ()


def acceptance_section(
    evidence: Evidence, identity: Identity, filled: Acceptance | None = None
) -> Section:
    """Return the acceptance sheet, with what has been filled in so far.

    Parameters
    ----------
    evidence : Evidence
        Of the whole room.
    identity : Identity
        Which document it is accepted against.
    filled : Acceptance, optional
        Nothing is unless given.
    """
    found = filled or Acceptance()
    return Section(
        TITLE,
        "commissioning",
        (
            Paragraph((Run(LEAD),), "lead"),
            Facts(_which(evidence, identity, found)),
            Paragraph((Run(DIGEST),), "note"),
            Heading("Measured with"),
            _instruments(found.instruments),
            *_firmware(evidence, found),
            Heading("Not measured, and not assessed"),
            Entries(_not_measured(evidence, found)),
            Heading("Left to do"),
            _snags(found.snags),
            Heading("Signed"),
            _signatures(found.signatures),
        ),
    )


def _which(
    evidence: Evidence, identity: Identity, found: Acceptance
) -> tuple[tuple[str, Line], ...]:
    settings = settings_of(evidence.room)
    of = (
        f"{counted(settings.devices, 'device')}, {counted(settings.links, 'link')} and "
        f"{counted(settings.stages, 'stage')} of processing"
    )
    document = f"{identity.document_hash}, revision {identity.revision or NOT_ASSESSED}"
    rows: tuple[tuple[str, Line], ...] = (
        ("Room document", (Run(document),)),
        ("Settings", (Run(settings.short, "strong"), Run(f", of {of}"))),
        ("Software", (Run(f"Wellheard {identity.tool_version}"),)),
        ("Catalogue", (Run(evidence.catalogue.hash[:8]),)),
        ("Measured on", (Run(found.measured_on or "____________________"),)),
    )
    return rows


def _text(text: str) -> Cell:
    return Run(text, "strong") if text else Blank()


def _instruments(found: Sequence[Instrument]) -> Table:
    columns = (
        Column("Instrument", 42),
        Column("Make and type", 0),
        Column("Serial number", 38),
        Column("Calibrated on", 34),
    )
    return Table(
        columns,
        tuple((Run(one.name), Blank(), _text(one.serial), _text(one.calibrated)) for one in found),
    )


def _firmware(evidence: Evidence, found: Acceptance) -> list[Block]:
    room, catalogue = evidence.room, evidence.catalogue
    if not room.devices:
        return []
    versions = dict(found.firmware)
    columns = (
        Column("Device", 30),
        Column("Product", 0),
        Column("At least", 26),
        Column("Found", 34),
        Column("Saved", 14),
    )
    rows = []
    for name, device in room.devices.items():
        needed = catalogue.product(device.product).minimum_firmware or NOT_ASSESSED
        rows.append(
            (
                Run(name, "strong"),
                Run(device.product, "soft"),
                Run(needed),
                _text(versions.get(name, "")),
                Tick(),
            )
        )
    return [
        Heading("Firmware and settings", "tick when the settings are saved under the digest"),
        Table(columns, tuple(rows)),
        Paragraph((Run(FIRMWARE),), "note"),
    ]


def _snags(found: Sequence[Snag]) -> Table:
    columns = (
        Column("No.", 10),
        Column("What", 0),
        Column("Where", 34),
        Column("Who", 26),
        Column("Until", 22),
        Column("Done", 12),
    )
    empty = max(SNAGS - len(found), 2)
    rows: list[tuple[Cell, ...]] = [
        (
            Run(str(number)),
            _text(one.what),
            _text(one.where),
            _text(one.who),
            _text(one.until),
            Tick(one.done),
        )
        for number, one in enumerate((*found, *(Snag("") for _ in range(empty))), start=1)
    ]
    return Table(columns, tuple(rows), sticky=True)


def _not_measured(evidence: Evidence, found: Acceptance) -> tuple[Entry, ...]:
    known = [
        Entry("not assessed", label, (Run(fixed_spaces(full_stop(sentence(text)))),), (), "")
        for label, text in open_questions(evidence)
    ]
    told = [Entry("not assessed", "", (Run(full_stop(one)),), (), "") for one in found.not_measured]
    return (*told, *known)


def _signatures(found: Sequence[Signature]) -> Table:
    columns = (
        Column("", 34),
        Column("Name", 44),
        Column("Signature", 0),
        Column("Date", 28),
    )
    return Table(
        columns,
        tuple((Run(one.role), _text(one.name), Blank(), _text(one.date)) for one in found),
    )
