"""What the dossier says, decided before anything is typeset.

Every sentence and every figure stands here as text; a writer only sets type. Tests read the
outline, so that what a customer is told can be checked without opening a PDF.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias, get_args

from wellheard.predict.evidence import State

Reader: TypeAlias = Literal["customer", "installer", "it", "commissioning", "engineer"]
"""Who a part of the dossier is for, in the order of the parts."""

READERS: tuple[Reader, ...] = get_args(Reader)

Manner: TypeAlias = Literal["plain", "strong", "soft", "told"]
"""How words are set: ``told`` is italic, for what was told or assumed."""

Better: TypeAlias = Literal["more", "less"]
"""Which side of a promise keeps it."""

Paper: TypeAlias = Literal["a4", "us-letter"]


@dataclass(frozen=True)
class Identity:
    """Which document this dossier speaks of, so that two printouts can be told apart.

    ``date`` is the date of the document as text (ISO 8601); it also fixes the time stamp in
    the file, which makes equal inputs give equal bytes.
    """

    document_hash: str
    tool_version: str
    date: str
    revision: str = ""
    project: str = ""


@dataclass(frozen=True)
class Run:
    """Words in one manner."""

    text: str
    manner: Manner = "plain"


Line: TypeAlias = tuple[Run, ...]


@dataclass(frozen=True)
class Scale:
    """The axis of the range bars under it: in the head of a table, or of a group of its rows."""

    low: float
    high: float
    ticks: tuple[tuple[float, str], ...]
    """Fractions of the length, each with its label; a label near the promise is left out."""
    target: float | None
    label: str = ""
    """The promise as text."""


@dataclass(frozen=True)
class RangeBar:
    """A 10–90 % range on its scale, in fractions of the scale's length.

    ``better`` says which side of the promise keeps it; the other side is drawn hollow.
    """

    low: float
    value: float
    high: float
    target: float | None
    better: Better = "more"


@dataclass(frozen=True)
class Mark:
    """The shape of a state, always with its word; ``word`` is another one for the same shape."""

    state: State
    word: str = ""


@dataclass(frozen=True)
class Blank:
    """A cell to write in."""


@dataclass(frozen=True)
class Tick:
    """A box to tick; ``passed`` is what was found already, None for an empty box."""

    passed: bool | None = None


Cell: TypeAlias = Run | RangeBar | Mark | Scale | Blank | Tick


@dataclass(frozen=True)
class Column:
    """One column; ``width`` in millimetres, 0 takes what the others leave."""

    head: str
    width: float
    align: Literal["left", "right"] = "left"
    scale: Scale | None = None


@dataclass(frozen=True)
class Table:
    """Rows of figures under a head that repeats on every page."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    tight: bool = False
    """Whether its rows stand closer than is usual."""
    title: str = ""
    """Over it, never parted from it by the end of a page."""
    sticky: bool = False
    """Whether it stays on the page of what follows; for a few rows."""
    under: tuple[Line, ...] = ()
    """What is said under each row, beside its first cell and on the same page; empty for none."""


@dataclass(frozen=True)
class Heading:
    """A heading inside a section."""

    text: str
    aside: str = ""


@dataclass(frozen=True)
class Paragraph:
    """Running text; ``size`` ``note`` is small print."""

    line: Line
    size: Literal["body", "lead", "note"] = "body"


@dataclass(frozen=True)
class Facts:
    """Labels with what is to be said about each."""

    rows: tuple[tuple[str, Line], ...]
    sticky: bool = False
    """Whether they stay on the page of what follows."""


@dataclass(frozen=True)
class Curve:
    """One line of a chart, points in fractions of its width and height."""

    label: str
    points: tuple[tuple[float, float], ...]
    weight: Literal["main", "other"]
    label_at: float
    """Height of the label at the right end, moved apart from its neighbours."""


@dataclass(frozen=True)
class Chart:
    """A line chart over octaves with the range of the main line as a band."""

    title: str
    unit: str
    across: tuple[tuple[float, str], ...]
    up: tuple[tuple[float, str], ...]
    band: tuple[tuple[float, float, float], ...]
    """Position, low and high, in fractions."""
    curves: tuple[Curve, ...]


@dataclass(frozen=True)
class Entry:
    """One finding or remark: a state mark, what is the case, what to do, where it comes from."""

    state: State | None
    lead: str
    body: Line
    remedy: Line
    source: str
    change: Line = ()
    """What was tried that mends it, and what that does."""


@dataclass(frozen=True)
class Entries:
    """Findings one under the other."""

    rows: tuple[Entry, ...]


@dataclass(frozen=True)
class Picture:
    """A drawing among the text, as wide as it was drawn; ``alt`` says what it shows."""

    svg: str
    width: float
    height: float
    """[mm]"""
    alt: str


@dataclass(frozen=True)
class Beside:
    """Two halves of a page side by side."""

    left: tuple[Block, ...]
    right: tuple[Block, ...]


@dataclass(frozen=True)
class Contents:
    """What the document has, part by part, with pages; nothing where there is one part alone."""


Block: TypeAlias = (
    Heading | Paragraph | Table | Facts | Chart | Entries | Picture | Beside | Contents
)


@dataclass(frozen=True)
class Section:
    """What belongs under one title, begun on a new page where ``new_page`` says so."""

    title: str
    reader: Reader
    blocks: tuple[Block, ...]
    new_page: bool = True


@dataclass(frozen=True)
class PromiseRow:
    """One line of the promise table."""

    asked: str
    promised: str
    predicted: Run
    bar: RangeBar | None
    chance: str
    state: State
    target: str
    """Name of the target in the document."""


@dataclass(frozen=True)
class Customer:
    """The one page that the customer reads."""

    question: str
    answer: str
    explanation: str
    certainty: str
    chances: tuple[tuple[str, str], ...]
    doubt: Line
    map_note: str
    promises: tuple[PromiseRow, ...]
    remarks: tuple[tuple[str, Line], ...]


@dataclass(frozen=True)
class Sheet:
    """A drawing that fills its own page, or stands in the customer page."""

    svg: str
    width: float
    height: float
    """[mm]"""
    alt: str
    """What it shows, for who cannot see it, and in the contents."""


@dataclass(frozen=True)
class Letterhead:
    """Whose documents these are, and what is said round ours; all of it may be empty."""

    company: str = ""
    address: tuple[str, ...] = ()
    contact: str = ""
    opening: str = ""
    closing: str = ""
    terms: str = ""
    logo: Sheet | None = None


@dataclass(frozen=True)
class Chapter:
    """The part of the dossier that one reader reads: begun on a new page, under its own head."""

    reader: Reader
    title: str
    says: str
    """What is in it, in a sentence or two."""
    sections: tuple[Section, ...]
    sheets: tuple[Sheet, ...] = ()
    """Drawings, behind its sections."""


@dataclass(frozen=True)
class Outline:
    """The whole dossier."""

    title: str
    whose: str
    """Client and site, short enough for the head of a page."""
    running: str
    """Head of the pages after the first."""
    paper: Paper
    identity: Identity
    caution: str
    customer: Customer
    """Printed where there is a chapter for the customer."""
    letterhead: Letterhead
    small_plan: Sheet | None
    chapters: tuple[Chapter, ...]

    @property
    def sections(self) -> tuple[Section, ...]:
        """Of all chapters, in their order."""
        return tuple(section for chapter in self.chapters for section in chapter.sections)
