"""Designs to choose from as text."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from wellheard.workflow.alternatives import Alternatives
    from wellheard.workflow.load import Loaded


def text(loaded: Loaded, found: Alternatives) -> str:
    """A table of them, cheapest first, why one would take each, and what else was tried."""
    from wellheard.cli.render import chance, table, wrapped
    from wellheard.workflow.alternative_answers import says
    from wellheard.workflow.alternatives import currency_of
    from wellheard.workflow.naming import bought

    currency = currency_of(found.tried)
    rows = [
        [
            f"{one.name}{' *' if one.leading else ''}",
            bought(one.tried, loaded.catalogue),
            one.tried.disruption.words(loaded.room.units),
            f"{one.tried.price:,.0f}",
            chance(one.tried.figures.chance),
        ]
        for one in found.chosen
    ]
    head = ["to choose from", "what is placed", "done to the building", currency, "chance"]
    lines = [table(head, rows, left=3)]
    lines += [wrapped(f"{one.name}: {one.why}") for one in found.chosen]
    if any(one.leading for one in found.chosen):
        lines.append("* the design of this folder")
    if not found.kept:
        lines.append("None of them keeps the promise.")
    lines.append(wrapped(says(found)))
    return "\n".join(lines)
