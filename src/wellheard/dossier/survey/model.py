"""What a survey sheet holds, before a writer sets it: parts with fields, rows and ticks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

from wellheard.dossier.model import Identity, Paper, Sheet
from wellheard.predict.alternatives import Standing
from wellheard.predict.sensitivity import Moved

Who: TypeAlias = Literal["customer", "architect", "facility", "IT", "us"]
"""Who knows: ``facility`` also for heating and ventilation; ``us`` is what we measure ourselves."""
_ASKED: dict[Who, str] = {"facility": "facility, ventilation", "us": "ourselves, on a visit"}

Known: TypeAlias = Standing | Literal["stated"]
"""How an answer is known; ``stated`` is what needs no basis, such as a name."""


@dataclass(frozen=True)
class Answer:
    """What stands in a field; empty where nobody knows yet."""

    text: str = ""
    standing: Known = "left out"

    @property
    def italic(self) -> bool:
        """Told and assumed values are italic, drawn and measured ones upright."""
        return self.standing in ("told", "assumed")


@dataclass(frozen=True)
class Field:
    """One thing to find out, with a line to write on.

    ``taken`` is the default that stands in as long as the field is empty.
    """

    label: str
    path: str = ""
    answer: Answer = Answer()
    unit: str = ""
    options: tuple[str, ...] = ()
    taken: str = ""
    wide: bool = False
    with_basis: bool = True
    """Whether it matters how the answer is known."""


@dataclass(frozen=True)
class Rows:
    """Several things of one kind, a line each, and lines for more."""

    path: str
    thing: str
    """What one row is, in the singular."""
    columns: tuple[tuple[str, float], ...]
    """Heads with widths in millimetres; 0 takes what the others leave."""
    rows: tuple[tuple[Answer, ...], ...]
    blank: int


@dataclass(frozen=True)
class Plan:
    """The plan as far as it is known, and squares to sketch on."""

    drawn: Sheet | None


@dataclass(frozen=True)
class Ticks:
    """Things to do, each with a box to tick."""

    items: tuple[str, ...]


@dataclass(frozen=True)
class Notes:
    """What to heed, each with its heading."""

    rows: tuple[tuple[str, str], ...]


Block: TypeAlias = Field | Rows | Plan | Ticks | Notes


@dataclass(frozen=True)
class Part:
    """One step of the survey."""

    number: int
    title: str
    aside: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class Question:
    """One thing that is open, whom to ask for it and how, and what it does to the worst seat."""

    topic: str
    part: int
    """Step of the survey that it belongs to."""
    path: str
    taken: str
    standing: Standing
    moved: tuple[Moved, ...]
    weight: float | None
    """Shift of the worst seat in standard deviations; None where no prediction depends on it."""
    who: Who
    sentence: str
    why: str
    subject: str
    """What it is about, in a few words; empty where no prediction depends on it."""

    @property
    def asked(self) -> str:
        """Who is asked, as it is printed."""
        return _ASKED.get(self.who, self.who)

    @property
    def ask_to(self) -> str:
        """What is wanted: an answer, or that a told value is measured or confirmed."""
        return "measure or confirm" if self.standing in ("told", "assumed") else "find out"


@dataclass(frozen=True)
class Worst:
    """The seat that every effect is about, as the room stands."""

    seat: str
    direct_to_reverberant_db: float
    sti: float
    speech_to_noise_db: float
    chance: float


@dataclass(frozen=True)
class Survey:
    """The whole sheet."""

    title: str
    whose: str
    paper: Paper
    identity: Identity
    parts: tuple[Part, ...]
    questions: tuple[Question, ...]
    """Those that move the worst seat first, most first; then the others in the order of work."""
    worst: Worst | None
    ground: str
    """With which microphones the effects were reckoned, or why there are none."""
