"""Designs to choose from as text."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from wellheard.workflow.alternatives import Alternatives
    from wellheard.workflow.load import Loaded


PRICES = (
    "Prices are of the whole bill, what the document had already included: devices, electronics, "
    "cables, work and finishes. The search above weighs microphones, loudspeakers and their "
    "amplifiers only, so that what it proves cheapest need not be cheapest here."
)


def text(loaded: Loaded, found: Alternatives) -> str:
    """A table of them, cheapest first; what each is, why one would take it, what was tried."""
    from wellheard.cli.render import chance, table, wrapped
    from wellheard.dossier.words import NBSP
    from wellheard.units import plain_money
    from wellheard.workflow.alternative_answers import says
    from wellheard.workflow.alternatives import currency_of
    from wellheard.workflow.naming import bought

    currency = currency_of(found.tried)
    rows = [
        [
            f"{one.name}{' *' if one.leading else ''}",
            plain_money(one.tried.price, currency, cents=False),
            chance(one.tried.figures.chance),
        ]
        for one in found.chosen
    ]
    lines = [table(["to choose from", "price", "chance"], rows)]
    if any(one.leading for one in found.chosen):
        lines.append("* the design of this folder")
    for one in found.chosen:
        placed = bought(one.tried, loaded.catalogue)
        done = one.tried.disruption.words(loaded.room.units)
        said = f"{one.name}: {placed}. To the building: {done}. {one.why}"
        lines.append(wrapped(said.replace(NBSP, " ")))
    lines.append(wrapped(PRICES))
    if not found.kept:
        lines.append("None of them keeps the promise.")
    lines.append(wrapped(says(found).replace(NBSP, " ")))
    return "\n".join(lines)
