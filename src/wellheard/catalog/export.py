"""An entry as a user would type it: a file to copy, rename and edit."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from wellheard.catalog.datasheets import SHEETS, Entry, kind_of, sheet_data
from wellheard.catalog.entries import SCHEMA, VERSION
from wellheard.forms.writing import block


def written(entries: Iterable[Entry]) -> str:
    """YAML of entries, in metres and without what is a default, that reads back equal.

    Examples
    --------
    >>> from wellheard.catalog.catalogue import Catalogue
    >>> print(written([Catalogue.shipped().accessory("tile-bridge")]), end="")
    wellheard-products: 1
    accessories:
      tile-bridge:
        name: Bridge across a lay-in tile
        price: 38
        currency: EUR
        fits: [tile]
        note: "Carries the load to the grid: a tile alone carries nothing."
    """
    data: dict[str, dict[str, Any]] = {}
    for entry in entries:
        data.setdefault(kind_of(entry), {})[entry.id] = sheet_data(entry)
    lines = [f"{VERSION}: {SCHEMA}\n"]
    for kind in SHEETS:
        for number, (entry_id, sheet) in enumerate(data.get(kind, {}).items()):
            head = f"{kind}:\n" if number == 0 else ""
            lines.append(f"{head}  {entry_id}:\n{block(sheet, indent=4)}")
    return "".join(lines)
