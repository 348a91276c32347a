"""Work that takes seconds: functions from a document's text to an answer, for another process.

Arguments and answers are plain data, so that they can travel; ``say`` is told how far things are.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from wellheard.room import codec
from wellheard.room.operations import apply
from wellheard.units import Unit
from wellheard.workflow import design, offers, publish, remedying
from wellheard.workflow.asking import Asked
from wellheard.workflow.design import Designed, Progress, quiet
from wellheard.workflow.load import Loaded, document_hash, load_text
from wellheard.workflow.manifest import with_manifest
from wellheard.workflow.offers import Offer
from wellheard.workflow.sidebyside import SideBySide, side_by_side
from wellheard.workflow.wiring_offer import wiring_offer

if TYPE_CHECKING:
    from wellheard.workflow.choosing import Choices
    from wellheard.workflow.remedy_offers import Remedies
    from wellheard.workflow.suggestion import Suggestion

DESIGN = "wellheard.workflow.tasks:design_task"
PUBLISH = "wellheard.workflow.tasks:publish_task"
COMPARE = "wellheard.workflow.tasks:compare_task"
WIRE = "wellheard.workflow.tasks:wire_task"
CHOOSE = "wellheard.workflow.tasks:choose_task"
TREAT = "wellheard.workflow.tasks:treat_task"
REMEDY = "wellheard.workflow.tasks:remedy_task"


def design_task(
    *,
    text: str,
    path: str,
    asked: Asked,
    version: int = 0,
    unit: Unit = "m",
    say: Progress = quiet,
) -> Offer:
    """Place microphones and loudspeakers, wire them, and say what that does.

    Parameters
    ----------
    text : str
        The document.
    path : str
        Where it lies, for messages and for products beside it; not opened.
    asked : Asked
        Changes of its choices and promise, and the time allowed.
    version : int
        Of the document, for whoever accepts the offer.
    unit : {"m", "ft"}
        Of lengths that are read.
    say : callable
        Told how far things are.

    Raises
    ------
    DocumentError, CatalogError, InputError
        The document cannot be used, or nothing is left to choose from.
    """
    say("1 of 5: predicting every seat as it stands")
    base, wanted = _asked(text, path, asked, unit)
    was = design.judge(wanted.room, wanted.catalogue)
    say(f"2 of 5: searching for the best places, at most {asked.time_limit:g} s")
    placed = design.place(wanted, time_limit=asked.time_limit)
    say("3 of 5: predicting every seat with what was found")
    designed = Designed(placed, design.judge(placed.room, wanted.catalogue))
    say("4 of 5: wiring it at least cost")
    proposed = codec.edit(base.document, placed.room)
    wiring = wiring_offer(
        load_text(proposed, path), version=version, unit=unit, time_limit=asked.time_limit
    )
    say("5 of 5: writing the offer down")
    return offers.offer(
        base, asked, was, designed, proposed, version=version, unit=unit, wiring=wiring
    )


def _asked(text: str, path: str, asked: Asked, unit: Unit) -> tuple[Loaded, Loaded]:
    """A document as it stands, and with what was asked of its choices and promise."""
    base = load_text(text, path)
    if not asked.operations:
        return base, base
    room = apply(base.room, asked.operations, unit=unit).room
    return base, load_text(codec.edit(base.document, room), path)


def choose_task(
    *,
    text: str,
    path: str,
    asked: Asked,
    version: int = 0,
    unit: Unit = "m",
    say: Progress = quiet,
) -> Choices:
    """Find several designs to choose from; parameters and errors as in `design_task`."""
    from wellheard.workflow.choosing import choices

    base, wanted = _asked(text, path, asked, unit)
    limit = asked.time_limit
    return choices(base, wanted, version=version, unit=unit, time_limit=limit, say=say)


@dataclass(frozen=True)
class Published:
    """The documents of a room, and their pages to look at.

    Attributes
    ----------
    title : str
    files : dict of str to bytes
        By name, the manifest last.
    pages : tuple of bytes
        Every page of the dossier as PNG.
    document : str
        Short hash of the text that they speak of.
    dated : str
        Date that the document states; '' for none.
    proved : bool
        Whether they say why fewer would not do.
    remark : str
        Why they do not, where that was asked for.
    """

    title: str
    files: dict[str, bytes]
    pages: tuple[bytes, ...]
    document: str
    dated: str
    proved: bool
    remark: str = ""


def publish_task(
    *,
    text: str,
    path: str,
    prove: bool = True,
    time_limit: float = 60.0,
    say: Progress = quiet,
) -> Published:
    """Make the documents of a room as it stands.

    Parameters
    ----------
    text, path : str
        As in `design_task`.
    prove : bool
        Search anew, and where that proposes the very devices of the document, say so with the
        proof. Devices are never changed.
    time_limit : float
        For that search. [s]
    say : callable
        Told how far things are.

    Raises
    ------
    DocumentError, CatalogError
        The document cannot be used.
    """
    loaded = load_text(text, path)
    answer, remark = _answer(loaded, prove=prove, time_limit=time_limit, say=say)
    judged = answer.judged if isinstance(answer, Designed) else answer
    changes = remedying.offers(loaded.room, loaded.catalogue, judged, say=say)
    made = publish.made(loaded, answer, offers=changes, say=say)
    say("drawing the pages for the screen …")
    from wellheard.dossier.writers.typst_png import write_pages

    date: datetime.date | None = loaded.room.project.date
    return Published(
        title=loaded.room.title or "Untitled room",
        files=with_manifest(loaded, made.files),
        pages=write_pages(made.dossier),
        document=document_hash(text),
        dated=date.isoformat() if date else "",
        proved=isinstance(answer, Designed),
        remark=remark,
    )


def _answer(loaded: Loaded, *, prove: bool, time_limit: float, say: Progress) -> tuple[Any, str]:
    """What there is to publish, and why it has no proof."""
    judged = design.judge(loaded.room, loaded.catalogue, say=say)
    if not prove:
        return judged, ""
    if not judged.evidence.microphones:
        return judged, "no microphone is placed, so there is nothing to prove"
    say(f"searching whether fewer would do, at most {time_limit:g} s …")
    placed = design.place(loaded, time_limit=time_limit)
    if placed.room.devices != loaded.room.devices:
        return judged, (
            "the microphones are not those that a search proposes, so no proof speaks of them; "
            "ask for a design to have one"
        )
    return Designed(placed, judged), ""


def compare_task(
    *,
    old: str,
    new: str,
    old_path: str,
    new_path: str,
    unit: Unit = "m",
    say: Progress = quiet,
) -> SideBySide:
    """Two documents side by side, in words and pictures.

    Parameters
    ----------
    old, new : str
        The documents.
    old_path, new_path : str
        As ``path`` in `design_task`.
    unit : {"m", "ft"}
        Of lengths that are read.
    say : callable
        Told how far things are.

    Raises
    ------
    DocumentError, CatalogError
        One of them cannot be used.
    """
    return side_by_side(load_text(old, old_path), load_text(new, new_path), unit=unit, say=say)


def wire_task(
    *,
    text: str,
    path: str,
    version: int = 0,
    unit: Unit = "m",
    time_limit: float = 30.0,
    say: Progress = quiet,
) -> Suggestion:
    """Wire a document; parameters and errors as in `design_task`."""
    base = load_text(text, path)
    return wiring_offer(base, version=version, unit=unit, time_limit=time_limit, say=say)


def treat_task(
    *,
    text: str,
    path: str,
    version: int = 0,
    unit: Unit = "m",
    curtains: bool = False,
    time_limit: float = 10.0,
    say: Progress = quiet,
) -> Suggestion:
    """Find the cheapest treatment of a document; see `design_task` and `treating_offer`."""
    from wellheard.workflow.treating_offer import treating_offer

    return treating_offer(
        load_text(text, path),
        version=version,
        unit=unit,
        curtains=curtains,
        time_limit=time_limit,
        say=say,
    )


def remedy_task(*, text: str, path: str, version: int = 0, say: Progress = quiet) -> Remedies:
    """Try what may mend the findings of a document; see `design_task` and `remedies`."""
    from wellheard.workflow.remedy_offers import remedies

    return remedies(load_text(text, path), version=version, say=say)
