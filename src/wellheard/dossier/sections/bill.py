"""The bill: what is bought, installed and kept spare, with what it adds up to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import Loudspeaker
from wellheard.dossier.model import (
    Block,
    Cell,
    Column,
    Facts,
    Heading,
    Line,
    Paragraph,
    Reader,
    Run,
    Section,
    Table,
)
from wellheard.dossier.words import (
    NBSP,
    NOT_ASSESSED,
    brief,
    counted,
    fixed_spaces,
    full_stop,
    listed,
    sentence,
)
from wellheard.room.devices import Device
from wellheard.room.document import Room
from wellheard.schedules.bill import LINE_KINDS, Bill, BillLine, LineKind, inside
from wellheard.schedules.whole import Schedules
from wellheard.units import Unit, money

TITLE = "Bill"
READER: Reader = "installer"
GROUPS: dict[LineKind, str] = {
    "device": "Devices",
    "accessory": "What their mounting takes",
    "cable": "Cables",
    "finish": "Finishes",
    "labour": "Work",
    "spare": "Spares",
}
LEAD = (
    "List prices of the catalogue without tax, not a quotation; every product and price in it is "
    "invented. Tax, delivery, conduit, programming and commissioning are not in it."
)


def bill_section(found: Schedules) -> Section:
    """Return the page for whoever orders."""
    bill, room = found.bill, found.room
    number = {row.id: row.number for row in found.cables.rows}
    blocks: list[Block] = [Paragraph((Run(_lead(bill)), Run(f" {LEAD}")), "lead")]
    for kind in LINE_KINDS:
        lines = [line for line in bill.lines if line.kind == kind]
        if lines:
            aside = money(bill.sum_of(kind), bill.currency)
            blocks += [Heading(GROUPS[kind], aside), _table(lines, room.units, number)]
    # The sum of a bill is never alone on its page.
    blocks[-1] = _sticking(blocks[-1])
    if bill.others:
        aside = f"listed, not summed: the document counts in {bill.currency}"
        blocks += [
            Heading("In other currencies", aside),
            _table(bill.others, room.units, number, named=True),
        ]
    blocks += [Heading("In all"), Facts(_totals(bill, room))]
    return Section(TITLE, READER, tuple(blocks), new_page=False)


def _sticking(block: Block) -> Block:
    return replace(block, sticky=True) if isinstance(block, Table) else block


def contents(found: Schedules, catalogue: Catalogue) -> str:
    """Return what the total is for, in a customer's words."""
    room = found.room
    counts: dict[str, int] = {}
    for device in room.devices.values():
        if not device.owned:
            word = _kind(device, catalogue)
            counts[word] = counts.get(word, 0) + 1
    parts = [counted(count, *_NOUNS.get(kind, (kind,))) for kind, count in counts.items()]
    if found.cables.rows:
        parts.append(counted(len(found.cables.rows), "cable"))
    return listed([*parts, "accessories", "the work"])


_NOUNS = {
    "combined": ("bar", "bars"),
    "switch": ("switch", "switches"),
    "pair": ("pair of loudspeakers", "pairs of loudspeakers"),
}


def _kind(device: Device, catalogue: Catalogue) -> str:
    """What a device is counted as; a pair that is one product is no single loudspeaker."""
    product = catalogue.product(device.product)
    if isinstance(product, Loudspeaker) and product.units == 2:
        return "pair"
    return "further device" if device.kind in ("other", "bridge") else device.kind


def price_line(found: Schedules, catalogue: Catalogue) -> Line:
    """Return the price of everything for the customer's page; empty where it is not known."""
    total = found.bill.total
    if total is None or not found.bill.cables_known:
        return ()
    lead = ""
    if found.bill.lead_time_weeks:
        lead = f" Lead time {_weeks(found.bill.lead_time_weeks)}."
    what = contents(found, catalogue)
    said = f" for {what}, without tax; from the catalogue, not a quotation.{lead}"
    return (
        Run(money(total, found.bill.currency, cents=False), "strong"),
        Run(fixed_spaces(said)),
    )


def _weeks(weeks: float) -> str:
    return f"{brief(weeks, 1)}{NBSP}{'week' if weeks == 1 else 'weeks'}"


def _lead(bill: Bill) -> str:
    if bill.total is None:
        return f"Nothing here has a price in {bill.currency}."
    said = f"{money(bill.total, bill.currency)} in all"
    if not bill.cables_known:
        said += ", cables in part or not at all"
    return f"{said}."


def _table(
    lines: Sequence[BillLine], unit: Unit, number: Mapping[str, str], *, named: bool = False
) -> Table:
    columns = (
        Column("Item", 0),
        Column("For", 42),
        Column("Count", 16, "right"),
        Column("", 10),
        Column("Each", 18, "right"),
        Column("Amount", 22, "right"),
    )
    rows: list[tuple[Cell, ...]] = []
    for line in lines:
        count, word, price = line.counted(unit)
        told = [line.colour, line.note, "the customer has it" if line.owned else ""]
        said = ", ".join((line.what, *filter(None, told)))
        amount = money(line.amount)
        rows.append(
            (
                Run(fixed_spaces(said), "told" if line.owned else "plain"),
                Run(listed([number.get(one, one) for one in line.where], most=5), "soft"),
                Run(brief(round(count, 2), 2)),
                Run(word),
                Run(money(price)),
                Run(f"{line.currency}{NBSP}{amount}" if named else amount),
            )
        )
    return Table(columns, tuple(rows), tight=True)


def _totals(bill: Bill, room: Room) -> tuple[tuple[str, Line], ...]:
    total = NOT_ASSESSED if bill.total is None else money(bill.total, bill.currency)
    rows: list[tuple[str, Line]] = [("Total without tax", (Run(total, "strong"),))]
    if bill.lead_time_weeks is not None:
        names = [f"“{_named(bill, one)}”" for one in bill.lead_time_of]
        lead = f"{_weeks(bill.lead_time_weeks)}, for {listed(names)}; cables are taken to be there."
        rows.append(("Lead time", (Run(fixed_spaces(lead)),)))
    share = room.choices.spares
    kept = listed([f"{100 * one:.0f}{NBSP}% of {kind}s" for kind, one in share.items() if one])
    rows.append(("Spares", (Run(f"{kept}, rounded up." if kept else "None asked for."),)))
    if bill.not_priced:
        rows.append(
            (
                "Not priced",
                (Run(fixed_spaces(_not_priced(bill))),),
            )
        )
    return tuple(rows)


def _not_priced(bill: Bill) -> str:
    """What has no price, each reason once."""
    why: dict[str, list[str]] = {}
    for one in bill.not_priced:
        why.setdefault(one.why, []).append(one.what)
    return " ".join(full_stop(f"{sentence(listed(what))}: {said}") for said, what in why.items())


def _named(bill: Bill, product: str) -> str:
    line = next(one for one in (*bill.lines, *bill.others) if one.id == product)
    return inside(line.what)
