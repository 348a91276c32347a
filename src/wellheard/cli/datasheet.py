"""Entries of the catalogue as text: lists, and whole data sheets."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

from wellheard.cli.render import WIDTH, table

if TYPE_CHECKING:
    from wellheard.catalog.catalogue import Catalogue
    from wellheard.catalog.datasheets import Entry
    from wellheard.workflow.products import Added, Checked

OCTAVES = ("125", "250", "500", "1k", "2k", "4k", "8k")
NBSP = "\u00a0"
"""Holds what belongs together on a line while a text is wrapped; printed as a blank."""
LABEL = 22
"""Width of the names of fields."""


def listing(catalogue: Catalogue, kind: str, entries: Sequence[Entry]) -> str:
    """Entries of one kind as a table."""
    from wellheard.units import plain_money
    from wellheard.workflow.datasheet import length, one_of
    from wellheard.workflow.product_answers import origin

    def whose(entry: Entry) -> str:
        own = origin(catalogue, entry)
        return "" if own is None else PurePath(own.file).name

    rows: list[list[str]] = []
    for entry in entries:
        one: Any = entry
        if kind == "finishes":
            rows.append([one.id, one.name, *(f"{a:.2f}" for a in one.absorption), one.trust])
        elif kind == "accessories":
            metre = plain_money(one.price_per_metre) if one.price_per_metre else ""
            rows.append([one.id, one.name, one.needed, plain_money(one.price, one.currency), metre])
        elif kind == "cables":
            metre = "" if one.length is not None else plain_money(one.price_per_metre)
            long = "by the metre" if one.length is None else length(one.length)
            carries = ", ".join(one.carries)
            price = plain_money(one.price, one.currency)
            rows.append([one.id, one.name, carries, long, price, metre])
        else:
            mountings = ", ".join(one.mountings)
            status = "" if one.status == "current" else one.status
            price = plain_money(one.price, one.currency, cents=False)
            rows.append([one.id, one.name, mountings, price, status])
        rows[-1].append(whose(entry))
    heads = {
        "finishes": ["finish", "", *OCTAVES, "trust"],
        "accessories": ["accessory", "", "needed", "price", "per metre"],
        "cables": ["cable", "", "carries", "length", "price", "per metre"],
    }
    head = heads.get(kind, [one_of(kind), "", "mounting", "price", "status"])
    # A column that nothing is in says nothing.
    full = [[*head, "from"], *rows]
    keep = [i for i in range(len(full[0])) if i < 2 or any(row[i] for row in rows)]
    lean = [[row[i] for i in keep] for row in full]
    text = table(lean[0], lean[1:], left=2 if kind == "finishes" else 3)
    return text.replace(NBSP, " ")


def closing(catalogue: Catalogue) -> str:
    """What is true of the products listed: invented, or whose."""
    said = "Every product and price that comes with the program is invented."
    if not catalogue.own:
        return said
    files = ", ".join(dict.fromkeys(one.file for one in catalogue.own))
    count = len(catalogue.own)
    entries = "one entry" if count == 1 else f"{count} entries"
    return f"{said}\nYour own, {entries}: {files}"


def sheet(catalogue: Catalogue, entry: Entry) -> str:
    """The whole data sheet of an entry."""
    from wellheard.workflow import datasheet

    title = f"{entry.id}: {entry.name}"
    lines = [title, "─" * min(len(title), WIDTH)]
    for label, value in datasheet.rows(catalogue, entry):
        # The name of a file is not broken: it is there to be copied.
        lines.append(label.ljust(LABEL) + value if label == "figures" else _line(label, value))
    if datasheet.is_product(entry):
        lines += ["", datasheet.INSTALLED]
        lines.append(table(datasheet.INSTALLED_HEAD, datasheet.ways(catalogue, entry), left=3))
        lines += ["", table(datasheet.PARTS_HEAD, datasheet.parts(catalogue, entry), left=3)]
    return "\n".join(lines).replace(NBSP, " ")


def _line(label: str, value: str) -> str:
    return textwrap.fill(
        value,
        WIDTH,
        initial_indent=label.ljust(LABEL),
        subsequent_indent=" " * LABEL,
        break_long_words=False,
        break_on_hyphens=False,
    )


def addition(one: Added) -> str:
    """What became of a file of products, and of its entries where it replaced another."""
    if not one.replaced:
        return f"{one.path}: {'there already' if one.before else 'added'}"
    said = []
    for change in one.changes:
        fields = f" ({', '.join(change.fields)})" if change.fields else ""
        said.append(f"  {change.id}: {change.what}{fields}")
    return "\n".join([f"{one.path}: replaced", *(said or ["  no figure of it is another"])])


def check_report(answer: Checked) -> str:
    """What was found in files of products: entries, defaults taken, what is implausible."""
    from wellheard.workflow.datasheet import one_of

    blocks = []
    for one in answer.files:
        counts = ", ".join(
            f"{len(entries)} {one_of(kind) if len(entries) == 1 else kind}"
            for kind, entries in one.collections.items()
        )
        lines = [f"{one.file}: {counts}"]
        for kind, entries in one.collections.items():
            for entry in entries:
                start = f"{kind}.{entry.id}."
                own = [t for t in one.taken if t.path.startswith(start)]
                if own:
                    said = ", ".join(f"{t.path.removeprefix(start)} {t.words}" for t in own)
                    lines.append(
                        textwrap.fill(
                            f"{entry.id} taken: {said}",
                            WIDTH,
                            initial_indent="  ",
                            subsequent_indent="    ",
                            break_long_words=False,
                            break_on_hyphens=False,
                        )
                    )
        blocks.append("\n".join(lines))
    if answer.implausible:
        blocks.append("\n".join(map(str, answer.implausible)))
    count = len(answer.implausible)
    found = "No problems." if not count else f"{count} problem{'' if count == 1 else 's'}."
    return "\n\n".join([*blocks, found])
