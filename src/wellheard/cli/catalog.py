"""``wellheard catalog``."""

from __future__ import annotations

from typing import Any, Literal

from cyclopts import App

from wellheard.cli.exits import Exit
from wellheard.cli.output import Format

catalog = App(name="catalog", help="What the catalogue holds; every product in it is invented.")


@catalog.command(name="list")
def list_(
    kind: Literal["all", "microphones", "processors", "loudspeakers", "finishes"] = "all",
    /,
    *,
    format: Format = "text",
) -> int:
    """List products and finishes with their ids.

    Parameters
    ----------
    kind
        What to list.
    format
        text or json.
    """
    from wellheard.catalog.catalogue import Catalogue
    from wellheard.cli import output, render

    catalogue = Catalogue.shipped()
    kinds = ("microphones", "processors", "loudspeakers", "finishes") if kind == "all" else (kind,)
    if format == "json":
        output.json_payload({k: [_entry(e) for e in getattr(catalogue, k)] for k in kinds})
        return Exit.OK
    blocks = []
    for name in kinds:
        if name == "finishes":
            rows = [
                [f.id, f.name, *(f"{a:.2f}" for a in f.absorption), f.trust]
                for f in catalogue.finishes
            ]
            head = ["finish", "", "125", "250", "500", "1k", "2k", "4k", "8k", "trust"]
        else:
            rows = [
                [p.id, p.name, ", ".join(p.mountings), f"{p.price:,.0f} {p.currency}"]
                for p in getattr(catalogue, name)
            ]
            head = [name[:-1], "", "mounting", "price"]
        blocks.append(render.table(head, rows, left=3 if name != "finishes" else 2))
    output.payload("\n\n".join(blocks) + "\n\nEvery product and price here is invented.")
    return Exit.OK


def _entry(entry: Any) -> dict[str, Any]:
    from wellheard.catalog.finishes import Finish

    if isinstance(entry, Finish):
        return {
            "id": entry.id,
            "name": entry.name,
            "absorption": list(entry.absorption),
            "per_item": entry.per_item,
            "source": entry.source,
            "trust": entry.trust,
        }
    return {
        "id": entry.id,
        "name": entry.name,
        "kind": entry.kind,
        "mountings": list(entry.mountings),
        "price": entry.price,
        "currency": entry.currency,
        "invented": True,
    }
