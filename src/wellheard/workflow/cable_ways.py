"""Ways of the cables of a document, for drawings that are in space."""

from __future__ import annotations

from collections.abc import Sequence

from wellheard.drawings.view import CableMark
from wellheard.schedules.cables import CableRow


def cable_marks(rows: Sequence[CableRow]) -> tuple[CableMark, ...]:
    """Every cable of a schedule whose way is known, by its number on it."""
    return tuple(
        CableMark(row.id, row.number, row.run.route) for row in rows if len(row.run.route) > 1
    )
