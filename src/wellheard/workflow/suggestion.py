"""What was worked out for a document and is not in it yet: words, a drawing, and the new text.

A suggestion travels from the process that worked it out as plain data; taking it is one change.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from wellheard.dossier.words import NOT_ASSESSED, fixed_spaces, full_stop
from wellheard.predict.evidence import State
from wellheard.schedules.bill import Bill
from wellheard.units import money
from wellheard.workflow.compare import Comparison
from wellheard.workflow.passages import Passage

Flat = tuple[float, float]


@dataclass(frozen=True)
class Drawn:
    """What a suggestion would put on the plan. [m]

    Attributes
    ----------
    areas, lines : tuple of polygons, tuple of polylines
    points : tuple of points
    """

    areas: tuple[tuple[Flat, ...], ...] = ()
    lines: tuple[tuple[Flat, ...], ...] = ()
    points: tuple[Flat, ...] = ()

    @property
    def plain(self) -> Mapping[str, list[list[Flat]] | list[Flat]]:
        """The same as JSON has it."""
        return {
            "areas": [list(one) for one in self.areas],
            "lines": [list(one) for one in self.lines],
            "points": list(self.points),
        }


@dataclass(frozen=True)
class Suggestion:
    """A changed document, not yet in place of the one that it was worked out from.

    Attributes
    ----------
    base, text : str
        The document as it was, and as it is suggested.
    version : int
        Of the document as it was.
    what : str
        What taking it does, in a few words, for undo.
    state : State
        How the room stands with it, as far as this is what it is for.
    sentence : str
        What it comes to.
    passages : tuple of Passage
        All that is to be known of it.
    drawn : Drawn
    """

    base: str = field(repr=False)
    text: str = field(repr=False)
    version: int
    what: str
    state: State
    sentence: str
    passages: tuple[Passage, ...]
    drawn: Drawn

    @property
    def changes_nothing(self) -> bool:
        """Whether it suggests what is there already."""
        return self.text == self.base


def heading(text: str, aside: str = "") -> Passage:
    """A heading with what is said beside it."""
    return Passage("heading", ((text,),), aside=aside)


def note(text: str) -> Passage:
    """A paragraph in small print."""
    return Passage("paragraph", ((text,),), small=True)


def remarks(title: str, said: tuple[str, ...]) -> tuple[Passage, ...]:
    """Sentences under a heading; nothing for none."""
    if not said:
        return ()
    rows = tuple(("", one) for one in said)
    return heading(title), Passage("list", rows, states=(None,) * len(rows))


def findings(found: Comparison) -> tuple[Passage, ...]:
    """Errors and warnings that come with a change, and those that go."""
    come, go = (
        tuple(fixed_spaces(full_stop(one.message)) for one in some)
        for some in (found.new_findings, found.gone_findings)
    )
    return (
        *remarks("Findings that come with it", come),
        *remarks("Findings that go", go),
    )


def bill_words(bill: Bill) -> str:
    """What a bill comes to, as it is read."""
    return NOT_ASSESSED if bill.total is None else money(bill.total, bill.currency)
