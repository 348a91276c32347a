"""Products that somebody pastes or hands over as a file: read, looked through, and taken in.

A name that comes along is only ever a name: letters, digits and hyphens of it are kept, and its
ending is one of ours.
"""

from __future__ import annotations

import dataclasses
import datetime
import re
import tempfile
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from wellheard.catalog.datasheets import SHEETS
from wellheard.catalog.entries import CSV_ENDINGS, YAML_ENDING
from wellheard.dossier.words import counted
from wellheard.errors import InputError, Problem
from wellheard.forms.source import MOST_BYTES
from wellheard.workflow import products
from wellheard.workflow.datasheet import one_of
from wellheard.workflow.products import Added, Checked

LARGEST = MOST_BYTES
"""Of a file that is handed over. [bytes]"""
SEVERAL = "several"
"""Form of a file with sheets of several kinds, YAML; the others are tables of one kind."""
FORMS: tuple[tuple[str, str], ...] = (
    (SEVERAL, "YAML, any kinds"),
    *((kind, f"CSV, {kind}") for kind in SHEETS),
)
LONGEST_NAME = 40


def form_of(file_name: str, text: bytes) -> str:
    """Form that a file has by its name, else by what is in it.

    Examples
    --------
    >>> form_of("ours.switches.csv", b""), form_of("ours.yaml", b""), form_of("", b"id,name\\n")
    ('switches', 'several', 'microphones')
    """
    low = file_name.lower()
    for ending, kind in CSV_ENDINGS.items():
        if low.endswith(ending):
            return kind
    if low.endswith((".yaml", ".yml")) or b"wellheard-products" in text[:4000]:
        return SEVERAL
    first = text[:200].split(b"\n", 1)[0]
    return "microphones" if b"," in first and b":" not in first else SEVERAL


def name_of(called: str, form: str) -> str:
    """Name of a file in the user's own catalogue, from whatever it is called.

    Raises
    ------
    InputError
        There is no such form.

    Examples
    --------
    >>> name_of("../../etc/Our Heads.products.yaml", "several"), name_of("", "switches")
    ('etc-our-heads.products.yaml', 'own.switches.csv')
    """
    if form not in dict(FORMS):
        raise InputError(f"no form {form[:40]!r} of products; {', '.join(dict(FORMS))}")
    stem = called.lower()
    for ending in (YAML_ENDING, *CSV_ENDINGS, ".yaml", ".yml", ".csv"):
        stem = stem.removesuffix(ending)
    stem = re.sub(r"[^a-z0-9]+", "-", stem).strip("-")[:LONGEST_NAME].strip("-") or "own"
    return stem + (YAML_ENDING if form == SEVERAL else f".{form}.csv")


def is_there(name: str) -> bool:
    """Whether the user's own catalogue has a file of this name."""
    return any(path.name == name for path in products.files_in(products.own_folder()))


@dataclass(frozen=True)
class Offer:
    """Products that were handed over, looked through.

    Attributes
    ----------
    name : str
        The file they would be kept in.
    problems : tuple of Problem
        Why they cannot be read, in reading order.
    error : str
        The same where it has no place in the text.
    implausible : tuple of Problem
        What is read but out of range or inconsistent; it may be taken in all the same.
    holds : str
        What is in it, counted.
    taken : tuple of str
        Every default taken.
    replaces : bool
        Whether it takes the place of a file of that name.
    """

    name: str
    problems: tuple[Problem, ...] = ()
    error: str = ""
    implausible: tuple[Problem, ...] = ()
    holds: str = ""
    taken: tuple[str, ...] = ()
    replaces: bool = False
    checked: Checked | None = dataclasses.field(default=None, repr=False)

    @property
    def fit(self) -> bool:
        """Whether it can be taken in."""
        return self.checked is not None


def look_through(
    raw: bytes, *, called: str, form: str, today: datetime.date, update: bool = False
) -> Offer:
    """Read products and look them through, together with the user's own catalogue.

    Parameters
    ----------
    raw : bytes
        The text.
    called : str
        What the user calls it.
    form : str
        One of `FORMS`.
    today : date
        Prices dated later are told.
    update : bool
        Whether it is to take the place of the file of that name.

    Raises
    ------
    InputError
        There is no such form, or the user's own catalogue cannot be read.
    """
    name = name_of(called, form)
    if len(raw) > LARGEST:
        said = f"{len(raw) / 1e6:.1f} MB; at most {LARGEST / 1e6:g} MB"
        return Offer(name, error=said)
    if not raw.strip():
        return Offer(name, error="nothing is here; paste data sheets, or choose a file")
    with tempfile.TemporaryDirectory(prefix="wellheard-") as folder:
        path = Path(folder) / name
        path.write_bytes(raw)
        try:
            checked = products.check([path], today=today, update=update)
        except InputError as error:
            problems = tuple(_called(one, path, name) for one in error.problems)
            text = "" if problems else str(error).replace(str(path), name)
            return Offer(name, problems, error=text)
    entries = checked.files[0]
    kinds = Counter({kind: len(found) for kind, found in entries.collections.items()})
    return Offer(
        name,
        implausible=tuple(_called(one, path, name) for one in checked.implausible),
        holds=", ".join(counted(n, one_of(kind), kind) for kind, n in kinds.items() if n),
        taken=tuple(f"line {one.line}: {one}" for one in entries.taken),
        replaces=update and is_there(name),
        checked=checked,
    )


def take_in(offer: Offer) -> Added:
    """Keep what was looked through in the user's own catalogue.

    Raises
    ------
    InputError
        A file of that name came there meanwhile, or the folder cannot be written to.
    """
    if offer.checked is None:
        raise InputError(f"{offer.name}: {offer.error or 'it cannot be read'}; nothing was added")
    return products.add(offer.checked, update=offer.replaces)[0]


def _called(problem: Problem, path: Path, name: str) -> Problem:
    """Problem of a file as the user knows it."""
    return dataclasses.replace(
        problem,
        file=problem.file.replace(str(path), name),
        what=problem.what.replace(str(path), name),
        allowed=problem.allowed.replace(str(path), name),
    )
