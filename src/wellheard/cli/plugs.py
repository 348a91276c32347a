"""What connects to what, as text and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from wellheard.catalog.connections import Connection, Table
    from wellheard.catalog.products import AnyProduct

SHORT = {
    "twisted-pair": "pair",
    "low-impedance": "low Ω",
    "constant-voltage": "line V",
}
"""Kinds of cable as a table writes them; any other as it is."""

ACROSS = 6
"""Columns that stand side by side."""


def matrix(table: Table) -> str:
    """Products against products, the kinds of cable in each cell, in blocks that fit a page."""
    from wellheard.cli import render

    blocks = []
    for start in range(0, len(table.columns), ACROSS):
        part = slice(start, start + ACROSS)
        rows = [
            [name, *(", ".join(SHORT.get(k, k) for k in cell) or "–" for cell in kinds[part])]
            for name, kinds in zip(table.rows, table.kinds, strict=True)
        ]
        blocks.append(render.table(["", *table.columns[part]], rows))
    return "\n\n".join(
        [
            *blocks,
            "pair: a maker's own link on twisted pair; –: no cable connects them. How far: "
            "wellheard reach.",
        ]
    )


def partners(product: AnyProduct, found: Sequence[tuple[AnyProduct, Connection]]) -> str:
    """All that connects to one product, with its ports."""
    from wellheard.cli import render

    if not found:
        return f"{product.name} ({product.id}): nothing in the catalogue connects to it."
    rows = [
        [other.id, other.name, c.kind, f"{c.from_port.name} → {c.to_port.name}", c.needs or ""]
        for other, c in found
    ]
    head = ["", "", "cable", "from → to", "needs"]
    return f"{product.name} ({product.id}) connects to:\n\n{render.table(head, rows, left=5)}"


def table_json(table: Table) -> dict[str, object]:
    """Kinds of cable by row and column."""
    return {
        "rows": list(table.rows),
        "columns": list(table.columns),
        "kinds": [[list(cell) for cell in row] for row in table.kinds],
    }


def partners_json(
    found: Sequence[tuple[AnyProduct, Connection]],
) -> list[dict[str, object]]:
    """Each way to connect one product to another."""
    return [
        {
            "product": other.id,
            "kind": c.kind,
            "from": c.from_port.name,
            "to": c.to_port.name,
            "needs": c.needs or None,
        }
        for other, c in found
    ]
