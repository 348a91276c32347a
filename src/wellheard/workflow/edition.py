"""Whom a folder of documents is for: which parts and files each reader needs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fnmatch import fnmatchcase
from pathlib import Path, PurePosixPath

from wellheard.cad import building_model_library
from wellheard.dossier.chapters import NOBODY
from wellheard.dossier.letterhead import read_letterhead
from wellheard.dossier.model import READERS, Letterhead, Reader
from wellheard.drawings.view import Logo, PlanView
from wellheard.errors import UsageError

EVERY = frozenset(READERS)
WORKING = frozenset[Reader](("commissioning", "engineer"))
"""Who works on with the room document itself, and with what was predicted."""

FILES: tuple[tuple[str, frozenset[Reader]], ...] = (
    ("dossier.pdf", EVERY),
    ("plan*", frozenset(("installer", "engineer"))),
    ("section*", frozenset(("installer", "engineer"))),
    ("wiring*", frozenset(("installer", "it", "engineer"))),
    ("room.ifc", frozenset(("installer", "engineer"))),
    ("schedules.xlsx", frozenset(("installer", "it", "engineer"))),
    ("cables.csv", frozenset(("installer", "engineer"))),
    ("positions.csv", frozenset(("installer", "engineer"))),
    ("labels.csv", frozenset(("installer", "engineer"))),
    ("bill.csv", frozenset(("customer", "installer", "engineer"))),
    ("ledger.csv", WORKING),
    ("verdict.json", WORKING),
    ("result.json", frozenset(("engineer",))),
)
"""Files by the form of their name, and who needs them. The room document, and the products of the
user's own that stand beside it, are for those who work on."""


@dataclass(frozen=True)
class Edition:
    """For whom documents are made.

    Parameters
    ----------
    readers : tuple of Reader
        Whose parts the dossier has, and whose files the folder.
    letterhead : Letterhead
        Whose documents these are.
    model : bool
        Whether a building model is among them.
    """

    readers: tuple[Reader, ...] = READERS
    letterhead: Letterhead = NOBODY
    model: bool = False

    def wants(self, name: str) -> bool:
        """Return whether a file is needed by anybody that these documents are for."""
        return bool(needers(name) & set(self.readers))

    def signed(self, view: PlanView) -> PlanView:
        """Return what a sheet shows, with company and logo in its title block."""
        whose = self.letterhead
        logo = None
        if whose.logo is not None:
            logo = Logo(whose.logo.svg, whose.logo.width, whose.logo.height)
        block = replace(view.title_block, company=whose.company, logo=logo)
        return replace(view, title_block=block)


def edition_of(
    readers: str | None,
    *,
    logo: Path | None = None,
    house: Path | None = None,
    model: bool = False,
) -> Edition:
    """Return the edition that a command was asked for.

    Parameters
    ----------
    readers : str or None
        Their names, parted by commas; None is everybody.
    logo, house : path or None
        Files of whoever hands the documents over: a PNG or SVG, and a YAML text.
    model : bool
        Whether a building model is wanted.

    Raises
    ------
    UsageError
        A reader is unknown, or none of those that are named needs the building model.
    InputError
        A file cannot be read, or is not what it should be.
    """
    edition = Edition(readers_of(readers), read_letterhead(logo, house), model)
    if model:
        building_model_library()
        if not edition.wants("room.ifc"):
            raise UsageError("--ifc: the building model is for installer and engineer")
    return edition


def readers_of(text: str | None) -> tuple[Reader, ...]:
    """Return the readers that a command was asked for, in the order of the dossier.

    Parameters
    ----------
    text : str or None
        Their names, parted by commas; None is everybody.

    Raises
    ------
    UsageError
        A name is none of a reader, or there is none.

    Examples
    --------
    >>> readers_of("installer, customer")
    ('customer', 'installer')
    """
    if text is None:
        return READERS
    named = [name.strip() for name in text.split(",") if name.strip()]
    allowed = f"{', '.join(READERS)} are allowed, parted by commas"
    for name in named:
        if name not in READERS:
            raise UsageError(f"--for: {name!r} is no reader; {allowed}")
    if not named:
        raise UsageError(f"--for: nobody is named; {allowed}")
    return tuple(reader for reader in READERS if reader in named)


def needed_by(readers: tuple[Reader, ...], files: Mapping[str, bytes]) -> dict[str, bytes]:
    """Return the files that some readers need, folders within a folder by the same rules.

    Examples
    --------
    >>> list(needed_by(("customer",), {"dossier.pdf": b"", "ledger.csv": b"", "a/bill.csv": b""}))
    ['dossier.pdf', 'a/bill.csv']
    """
    return {name: data for name, data in files.items() if needers(name) & set(readers)}


def needers(name: str) -> frozenset[Reader]:
    """Return who needs a file, by its name."""
    last = PurePosixPath(name).name
    return next((readers for form, readers in FILES if fnmatchcase(last, form)), WORKING)
