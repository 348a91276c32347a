"""A session held against its room, as plain data for a page: verdict, charts, what to mend."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from wellheard.dossier.model import Block, Cell, Mark, Run
from wellheard.dossier.proven import Charts, Proven
from wellheard.dossier.sections.measured import measured_section
from wellheard.dossier.sections.verdict import RULE, headline, rows_table
from wellheard.drawings.tokens import ThemeName
from wellheard.drawings.verdictmap import STATE_OF
from wellheard.drawings.view import PlanView
from wellheard.measurement.session import FILE
from wellheard.predict.evidence import State
from wellheard.predict.scene import build
from wellheard.workflow import proving
from wellheard.workflow.design import Progress, quiet
from wellheard.workflow.judging import Judged, judge
from wellheard.workflow.load import Loaded, document_hash, load_text
from wellheard.workflow.manifest import json_bytes
from wellheard.workflow.passages import Passage, passages_of
from wellheard.workflow.proven import mapped, prove_session
from wellheard.workflow.sheets import Space, plan_view

PROVE: Final = "wellheard.workflow.proved:prove_task"
THEMES: Final[tuple[ThemeName, ...]] = ("white", "slate")
_MAPPED: Final = "sti_outbound"
"""What a plan is drawn for, before its map is left out."""


@dataclass(frozen=True)
class ProvedRow:
    """One promise at one place.

    Attributes
    ----------
    cells : tuple of str
        As ``head`` names them; the word comes apart.
    state : str
        Whose mark it has.
    word : str
        Kept, broken, cannot tell.
    said : str
        How it was found, and what would decide it.
    """

    cells: tuple[str, ...]
    state: State
    word: str
    said: str


@dataclass(frozen=True)
class Chart:
    """A chart or the plan of the verdict, as SVG with its fonts.

    Attributes
    ----------
    stem : str
        Of its file.
    title : str
    svg : dict of str to bytes
        By theme.
    """

    stem: str
    title: str
    svg: dict[ThemeName, bytes]


@dataclass(frozen=True)
class Proved:
    """What a session says of a room.

    Attributes
    ----------
    sentence : str
        The verdict in two sentences.
    state : str
        Whose mark it has.
    head : tuple of str
        Of the table.
    right : tuple of bool
        Which of its columns are figures.
    rows : tuple of ProvedRow
        The worst first.
    rule : str
        What the words mean.
    notes : tuple of str
        What could not be compared, and why.
    charts : tuple of Chart
    measured : tuple of Passage
        What was set alike, noise, instruments, faults of recordings.
    document, session : str
        Short hashes of the texts that it speaks of.
    answer : bytes
        The verdict as JSON.
    """

    sentence: str
    state: State
    head: tuple[str, ...]
    right: tuple[bool, ...]
    rows: tuple[ProvedRow, ...]
    rule: str
    notes: tuple[str, ...]
    charts: tuple[Chart, ...]
    measured: tuple[Passage, ...]
    document: str
    session: str
    answer: bytes


def prove_task(*, text: str, path: str, folder: str, say: Progress = quiet) -> Proved:
    """Measure a session and hold a document against it.

    Parameters
    ----------
    text : str
        The document.
    path : str
        Where it lies, for messages and for products beside it; not opened.
    folder : str
        Of the session.
    say : callable
        Told how far things are.

    Raises
    ------
    DocumentError, CatalogError, InputError
        The document or the session cannot be used.
    """
    loaded = load_text(text, path)
    session = session_hash(Path(folder))
    say("reading the recordings")
    proven = prove_session(loaded, folder, say=say)
    say("drawing what was found")
    judged = judge(loaded.room, loaded.catalogue, assumptions=False)
    return proved(mapped(proven, _view(loaded, judged, proven.state), loaded), judged, session)


def proved(proven: Proven, judged: Judged, session: str) -> Proved:
    """The same of a session that was held against its document already."""
    verdict = proven.verdict
    table = rows_table(verdict.rows)
    shown = [k for k, column in enumerate(table.columns) if not _is_word(table.rows, k)]
    rows = tuple(
        ProvedRow(
            tuple(_text(cells[k]) for k in shown),
            STATE_OF[row.word],
            row.word,
            "".join(run.text for run in under).strip(),
        )
        for row, cells, under in zip(verdict.rows, table.rows, table.under, strict=True)
    )
    return Proved(
        headline(proven),
        STATE_OF[verdict.word],
        tuple(table.columns[k].head for k in shown),
        tuple(table.columns[k].align == "right" for k in shown),
        rows,
        RULE,
        verdict.notes,
        tuple(_charts(proven, judged)),
        tuple(passages_of(_measured(proven, judged))),
        verdict.document,
        session,
        json_bytes(proving.as_json(verdict)),
    )


def session_hash(folder: Path) -> str:
    """Short name of the exact text of a session; '' where there is none."""
    try:
        return hashlib.sha256((folder / FILE).read_bytes()).hexdigest()[:8]
    except OSError:
        return ""


def is_of(found: Proved, loaded: Loaded, folder: Path) -> bool:
    """Whether a verdict speaks of a document and a session as they are now."""
    return (found.document, found.session) == (
        document_hash(loaded.document.text),
        session_hash(folder),
    )


def _is_word(rows: tuple[tuple[Cell, ...], ...], column: int) -> bool:
    return any(isinstance(cells[column], Mark) for cells in rows)


def _text(cell: Cell) -> str:
    return cell.text if isinstance(cell, Run) else ""


def _measured(proven: Proven, judged: Judged) -> tuple[Block, ...]:
    return measured_section(judged.evidence, proven).blocks


def _charts(proven: Proven, judged: Judged) -> Iterator[Chart]:
    for one in Charts(proven, judged.evidence.room).all():
        svg = {theme: one.svg(theme=theme).encode() for theme in THEMES}
        yield Chart(one.stem, one.title, svg)


def _view(loaded: Loaded, judged: Judged, state: str) -> PlanView:
    """The plan of the room, or of the arrangement that is shown first; without a map."""
    key = judged.leads.partition(".")[0]
    parts = [part for part in judged.parts if part.part.arrangement == key]
    shown = [Space(part.scene, part.evidence, {}) for part in parts]
    return plan_view(
        judged.evidence,
        shown or [Space(build(loaded.room, loaded.catalogue), judged.evidence, {})],
        quantity=_MAPPED,
        sheet="",
        of="",
        document_hash=document_hash(loaded.document.text),
        state=state,
        arrangement=key,
    )
