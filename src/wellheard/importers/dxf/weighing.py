"""What a drawing comes to with its blocks laid out, counted before any of them is.

Ten blocks in ten blocks in ten … are a billion lines in a file of some kilobytes.
"""

from __future__ import annotations

from typing import Any

from wellheard.errors import InputError, visible
from wellheard.importers.dxf.opening import NEXT

MOST_PIECES = 400_000
DEEPEST = 40
"""Blocks in blocks."""


def refuse_too_much(document: Any, name: str) -> None:
    """Refuse a drawing whose blocks come to more than is read, or hold themselves.

    Raises
    ------
    InputError
        The message names the file, the block, what is allowed and what to do.
    """
    total = _Scales(document, name).of(document.modelspace(), ())
    if total > MOST_PIECES:
        raise InputError(
            f"{name}: with all blocks laid out the drawing has {_rounded(total)} lines; at most "
            f"{MOST_PIECES} are read; take out what is not needed, then {NEXT}"
        )


def array_of(insert: Any) -> tuple[int, int]:
    """Return columns and rows of a block reference."""
    columns, rows = insert.dxf.get("column_count", 1), insert.dxf.get("row_count", 1)
    return max(1, columns), max(1, rows)


class _Scales:
    """Counts what blocks come to, each once."""

    def __init__(self, document: Any, name: str) -> None:
        self.document, self.name = document, name
        self.known: dict[str, tuple[int, int]] = {}

    def of(self, layout: Any, path: tuple[str, ...]) -> int:
        """Return how many entities and blocks a layout comes to."""
        return self._weighed(layout, path)[0]

    def _weighed(self, layout: Any, path: tuple[str, ...]) -> tuple[int, int]:
        if len(path) > DEEPEST:
            self._too_deep()
        total = deepest = 0
        for entity in layout:
            total += 1
            if entity.dxftype() != "INSERT":
                continue
            block = self.document.blocks.get(entity.dxf.get("name", ""))
            if block is None:
                continue
            key = block.name.casefold()
            if key in path:
                raise InputError(
                    f"{self.name}: the block {visible(block.name)} holds itself, which never "
                    f"ends; mend the block, then {NEXT}"
                )
            if key not in self.known:
                self.known[key] = self._weighed(block, (*path, key))
            inner, depth = self.known[key]
            columns, rows = array_of(entity)
            total += columns * rows * inner + columns * rows
            deepest = max(deepest, depth + 1)
        if len(path) + deepest > DEEPEST:
            self._too_deep()
        return total, deepest

    def _too_deep(self) -> None:
        raise InputError(
            f"{self.name}: blocks are nested deeper than {DEEPEST}; explode them, then {NEXT}"
        )


def _rounded(count: int) -> str:
    return f"{count:.1e}" if count > 10_000_000 else str(count)
