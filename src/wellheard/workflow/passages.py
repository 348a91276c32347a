"""Pieces of the dossier as plain data: what a page or a script sets as its own text and tables."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Literal

from wellheard.dossier.model import Block, Cell, Entries, Facts, Heading, Paragraph, Run, Table
from wellheard.predict.evidence import State


@dataclass(frozen=True)
class Passage:
    """A heading, a paragraph, labels with words, remarks or a table.

    Attributes
    ----------
    kind : {"heading", "paragraph", "facts", "list", "table"}
    rows : tuple of tuple of str
        One text of a heading or a paragraph; label and words; of a list what it is about, which
        may be empty, and what is said of it; the cells of a table.
    head : tuple of str
        Of a table.
    right : tuple of bool
        Which of its columns are figures.
    aside : str
        Said beside a heading, softer.
    states : tuple of State or None
        Marks of the rows of a list.
    small : bool
        A note.
    """

    kind: Literal["heading", "paragraph", "facts", "list", "table"]
    rows: tuple[tuple[str, ...], ...]
    head: tuple[str, ...] = ()
    right: tuple[bool, ...] = ()
    aside: str = ""
    states: tuple[State | None, ...] = ()
    small: bool = False

    @property
    def plain(self) -> dict[str, Any]:
        """The same as JSON has it."""
        return asdict(self)


def passages_of(blocks: Iterable[Block]) -> Iterator[Passage]:
    """Blocks of a dossier; pictures and charts are left out."""
    for block in blocks:
        yield from _passage(block)


def from_heading(blocks: Sequence[Block], *, apart_from: Collection[str]) -> Sequence[Block]:
    """Blocks from the first heading on that is none of those."""
    first = next(
        i for i, b in enumerate(blocks) if isinstance(b, Heading) and b.text not in apart_from
    )
    return blocks[first:]


def up_to_heading(blocks: Sequence[Block], heading: str) -> Sequence[Block]:
    """Blocks before a heading; all where there is none such."""
    ends = (i for i, b in enumerate(blocks) if isinstance(b, Heading) and b.text == heading)
    return blocks[: next(ends, len(blocks))]


def _passage(block: Block) -> Iterator[Passage]:
    if isinstance(block, Heading):
        yield Passage("heading", ((block.text,),), aside=block.aside)
    elif isinstance(block, Paragraph):
        yield Passage("paragraph", ((_line(block.line),),), small=block.size == "note")
    elif isinstance(block, Facts):
        yield Passage("facts", tuple((label, _line(line)) for label, line in block.rows))
    elif isinstance(block, Entries):
        rows = tuple(
            (one.lead, " ".join(filter(None, map(_line, (one.body, one.remedy, one.change)))))
            for one in block.rows
        )
        yield Passage("list", rows, states=tuple(one.state for one in block.rows))
    elif isinstance(block, Table):
        yield Passage(
            "table",
            tuple(tuple(map(_cell, row)) for row in block.rows),
            tuple(column.head for column in block.columns),
            tuple(column.align == "right" for column in block.columns),
        )


def _line(line: Sequence[Run]) -> str:
    return "".join(run.text for run in line)


def _cell(cell: Cell) -> str:
    return cell.text if isinstance(cell, Run) else ""
