"""The sheet as a list: every field by its step, with what is known and what stands in for it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from wellheard.dossier.survey.model import Answer, Field, Part, Rows


@dataclass(frozen=True)
class Line:
    """One field of the sheet."""

    part: Part
    label: str
    path: str
    answer: Answer
    unit: str = ""
    options: tuple[str, ...] = ()
    taken: str = ""


def lines(parts: tuple[Part, ...]) -> Iterator[Line]:
    """Every field to fill in, in the order of the sheet; rows give one for each of their cells."""
    for part in parts:
        for block in part.blocks:
            if isinstance(block, Field):
                if block.label:
                    yield Line(
                        part,
                        block.label,
                        block.path,
                        block.answer,
                        block.unit,
                        block.options,
                        block.taken,
                    )
            elif isinstance(block, Rows):
                yield from _cells(part, block)


def _cells(part: Part, block: Rows) -> Iterator[Line]:
    heads = [head for head, _ in block.columns[1:]]
    for name, *cells in block.rows:
        for head, cell in zip(heads, cells, strict=True):
            yield Line(part, f"{name.text}: {head}", block.path, cell)
    for number in range(1, block.blank + 1):
        for head in (block.columns[0][0], *heads):
            yield Line(part, f"another {block.thing} ({number}): {head}", block.path, Answer())
