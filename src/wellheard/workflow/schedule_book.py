"""What stands in the workbook of schedules: a sheet for each, in the document's units.

Lengths are figures, to sort and to sum: millimetres and metres, or inches and feet with decimals.
A document in feet has every place in feet and inches beside it, as it is read on site.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from wellheard.dossier.model import Identity
from wellheard.dossier.positions import Position
from wellheard.dossier.writers.schedules_xlsx import (
    BookColumn,
    Formula,
    Sheet,
    Value,
    write_schedules,
)
from wellheard.drawings.dimensions import printed
from wellheard.predict.evidence import Evidence
from wellheard.schedules.bill import LINE_KINDS, BillLine, cents
from wellheard.schedules.cables import RESERVE
from wellheard.schedules.whole import Schedules
from wellheard.units import FOOT, INCH, Unit
from wellheard.workflow.ledger_table import WORDS, ledger_rows
from wellheard.workflow.schedule_tables import labels_rows

WHOLE, TENTHS, MONEY = "0", "0.0", "#,##0.00"
PLACE = {"m": "0.###", "ft": "0.###"}
LONG = "0.00"
CHANCE = "0.0%"
DISTANCE = "distance_m"
"""How columns of the ledger end that are lengths."""
_FIGURE = re.compile(r"-?[0-9]+(?:\.([0-9]+))?")


def schedules_book(
    found: Schedules, rows: Sequence[Position], evidence: Evidence, identity: Identity
) -> bytes:
    """Return the workbook of a document's schedules.

    Parameters
    ----------
    found : Schedules
        Of the document.
    rows : sequence of Position
        Of `wellheard.dossier.positions.positions`.
    evidence : Evidence
        With the ledger.
    identity : Identity
        Of the document; its date is the book's.
    """
    title = evidence.room.title or "room"
    return write_schedules(
        tuple(book_sheets(found, rows, evidence)),
        identity,
        title=f"Schedules: {title}",
        paper="us-letter" if found.room.units == "ft" else "a4",
    )


def book_sheets(found: Schedules, rows: Sequence[Position], evidence: Evidence) -> Iterator[Sheet]:
    """Its sheets, those without a row among them."""
    unit = found.room.units
    yield _positions(rows, unit)
    yield _cables(found, unit)
    yield _labels(found)
    yield _bill(found, unit)
    yield _network(found)
    yield _racks(found)
    yield _conduit(found, unit)
    yield _ledger(evidence, unit)


# Lengths -----------------------------------------------------------------------------------------


def _small(metres: float | None, unit: Unit) -> float | None:
    """A place: millimetres, or inches."""
    if metres is None:
        return None
    return round(1000 * metres, 4) if unit == "m" else round(metres / INCH, 4)


def _long(metres: float | None, unit: Unit) -> float | None:
    """A cable: metres, or feet."""
    if metres is None:
        return None
    return round(metres if unit == "m" else metres / FOOT, 6)


def _word(unit: Unit, *, long: bool = False) -> str:
    if unit == "m":
        return "m" if long else "mm"
    return "ft" if long else "in"


# Sheets ------------------------------------------------------------------------------------------


def _positions(rows: Sequence[Position], unit: Unit) -> Sheet:
    small, feet = _word(unit), unit == "ft"
    lengths = ("distance", "other distance", "height", "drop")
    places = [BookColumn(f"{one}, {small}", 11, PLACE[unit]) for one in lengths]
    said = [BookColumn(one, 11) for one in lengths] if feet else []

    def cells(row: Position) -> tuple[Value, ...]:
        values = (*row.distances, row.height, row.drop)
        words = [None if value is None else printed(value, unit) for value in values]
        return (
            row.label,
            row.id,
            row.product,
            row.mounting,
            *row.walls,
            *(_small(value, unit) for value in values),
            *(words if feet else ()),
            row.aim.replace("\u00a0", " "),
            *(row.tile or (None, None)),
            "; ".join(row.fixings),
            _small(row.cutout, unit),
            round(row.weight_kg, 3),
            "yes" if row.bond else "no",
            "yes" if row.locked else "no",
        )

    columns = (
        BookColumn("label", 9),
        BookColumn("id", 12),
        BookColumn("product", 20),
        BookColumn("on", 9),
        BookColumn("from wall", 11),
        BookColumn("from other wall", 11),
        *places,
        *said,
        BookColumn("faces", 14),
        BookColumn("tile from west", 9, WHOLE),
        BookColumn("tile from south", 9, WHOLE),
        BookColumn("fixings", 40),
        BookColumn(f"hole, {small}", 9, PLACE[unit]),
        BookColumn("weight, kg", 9, "0.00"),
        BookColumn("bond", 7),
        BookColumn("locked", 7),
    )
    notes = (
        "Distances from the finished inner face of each wall, at a right angle, to the middle of "
        "the device; heights from the finished floor, drops from the finished ceiling, 0 is flush.",
    )
    return Sheet("Positions", columns, tuple(map(cells, rows)), notes=notes)


def _cables(found: Schedules, unit: Unit) -> Sheet:
    long = _word(unit, long=True)
    cut = f"cut, {long}"
    columns = (
        BookColumn("number", 8),
        BookColumn("id", 14),
        BookColumn("from", 20),
        BookColumn("to", 20),
        BookColumn("kind", 16),
        BookColumn("cable", 28),
        BookColumn("jacket", 18),
        BookColumn("AWG", 6, WHOLE),
        BookColumn(f"length, {long}", 11, LONG),
        BookColumn(cut, 11, LONG),
        BookColumn("way", 60),
    )
    rows: tuple[tuple[Value, ...], ...] = tuple(
        (
            row.number,
            row.id,
            row.from_,
            row.to,
            row.kind or "",
            row.cable.name if row.cable else "not chosen",
            row.jacket_name,
            row.cable.awg if row.cable else None,
            _long(row.length, unit),
            _long(row.cut_length, unit),
            row.run.how,
        )
        for row in found.cables.rows
    )
    sums: list[tuple[Value, ...]] = []
    for one in found.cables.sums:
        text = f"=SUMPRODUCT(({{cable:}}={{cable}})*({{jacket:}}={{jacket}})*{{{cut}:}})"
        total = Formula(text, round(_long(one.length, unit) or 0.0, 6))
        blanks: tuple[Value, ...] = (None,) * 5
        sums.append((*blanks, one.cable.name, one.jacket_name, None, None, total, None))
    known = [_long(row.cut_length, unit) or 0.0 for row in found.cables.rows]
    every = Formula(f"=SUM({{{cut}:}})", round(sum(known), 6))
    sums.append(("all", *(None,) * 8, every, None))
    notes = (f"Order {RESERVE:.0%} more than the sums for offcuts; cords as they are.",)
    return Sheet("Cables", columns, rows, tuple(sums), notes)


def _labels(found: Schedules) -> Sheet:
    columns = (
        BookColumn("number", 9),
        BookColumn("end", 9),
        BookColumn("label", 42),
        BookColumn("this end", 24),
        BookColumn("other end", 24),
    )
    return Sheet("Labels", columns, tuple(labels_rows(found)))


def _bill(found: Schedules, unit: Unit) -> Sheet:
    columns = (
        BookColumn("kind", 11),
        BookColumn("id", 22),
        BookColumn("what", 44),
        BookColumn("colour", 9),
        BookColumn("count", 9, "0.##"),
        BookColumn("unit", 9),
        BookColumn("unit price", 11, "#,##0.00##"),
        BookColumn("amount", 12, MONEY),
        BookColumn("currency", 9),
        BookColumn("weeks", 7, "0.#"),
        BookColumn("owned", 7),
        BookColumn("for", 26),
        BookColumn("note", 34),
    )
    bill = found.bill
    rows = [_line(line, unit) for line in (*bill.lines, *bill.others)]
    rows += [
        ("not priced", "", one.what, "", None, "", None, None, "", None, "", "", one.why)
        for one in bill.not_priced
    ]
    sums: list[tuple[Value, ...]] = []
    for kind in LINE_KINDS:
        if any(line.kind == kind for line in bill.lines):
            text = f'=SUMIFS({{amount:}},{{kind:}},"{kind}",{{currency:}},{{currency}})'
            sums.append(_sum(kind, Formula(text, bill.sum_of(kind)), bill.currency))
    if bill.total is not None:
        text = "=SUMIFS({amount:},{currency:},{currency})"
        sums.append(_sum("in all, without tax", Formula(text, bill.total), bill.currency))
    notes = ("List prices of the catalogue, invented, not a quotation; tax comes on top.",)
    return Sheet("Bill", columns, tuple(rows), tuple(sums), notes)


def _line(line: BillLine, unit: Unit) -> tuple[Value, ...]:
    count, word, price = line.counted(unit)
    shown = round(count, 6), round(price, 8)
    # What a count and a price as written come to is the amount, but for a hair at half a cent.
    exact = cents(shown[0] * shown[1]) == line.amount
    amount: Value = Formula("=ROUND({count}*{unit price},2)", line.amount)
    return (
        line.kind,
        line.id,
        line.what,
        line.colour,
        shown[0],
        word,
        shown[1],
        amount if exact else line.amount,
        line.currency,
        line.lead_time_weeks,
        "yes" if line.owned else "no",
        " ".join(line.where),
        line.note,
    )


def _sum(what: str, total: Formula, currency: str) -> tuple[Value, ...]:
    return ("", "", what, "", None, "", None, total, currency, None, "", "", "")


def _network(found: Schedules) -> Sheet:
    columns = (
        BookColumn("device", 16),
        BookColumn("port", 12),
        BookColumn("what", 28),
        BookColumn("switch port", 18),
        BookColumn("address, placeholder", 16),
        BookColumn("protocols", 26),
        BookColumn("sends, Mbit/s", 10, "0.000"),
        BookColumn("receives, Mbit/s", 10, "0.000"),
        BookColumn("multicast", 9),
        BookColumn("clock", 9),
        BookColumn("PoE class", 7, WHOLE),
        BookColumn("power, W", 9, TENTHS),
        BookColumn("access control", 18),
        BookColumn("updates", 24),
        BookColumn("note", 34),
    )
    rows: tuple[tuple[Value, ...], ...] = tuple(
        (
            row.device,
            row.port,
            row.what,
            row.switch_port,
            row.address,
            " ".join(row.protocols),
            round(row.sends_bps / 1e6, 6),
            round(row.receives_bps / 1e6, 6),
            "yes" if row.multicast else "no",
            row.clock,
            row.poe_class,
            row.power_w,
            row.access_control,
            row.updates,
            row.note,
        )
        for row in found.network.rows
    )
    return Sheet("Network", columns, rows)


def _racks(found: Schedules) -> Sheet:
    columns = (
        BookColumn("rack", 14),
        BookColumn("from U", 8, WHOLE),
        BookColumn("units", 8, WHOLE),
        BookColumn("kind", 9),
        BookColumn("device", 16),
        BookColumn("product", 34),
        BookColumn("weight, kg", 10, "0.00"),
        BookColumn("heat, W", 10, TENTHS),
    )
    rows: list[tuple[Value, ...]] = [
        (
            rack.equipment,
            slot.from_u,
            slot.height_u,
            slot.kind,
            slot.device,
            slot.product,
            round(slot.weight_kg, 3),
            round(slot.heat_w, 2),
        )
        for rack in found.racks
        for slot in rack.slots
    ]
    weight = sum(float(row[6] or 0.0) for row in rows if isinstance(row[6], float))
    heat = sum(float(row[7] or 0.0) for row in rows if isinstance(row[7], float))
    total: tuple[Value, ...] = (
        "all",
        *(None,) * 5,
        Formula("=SUM({weight, kg:})", round(weight, 6)),
        Formula("=SUM({heat, W:})", round(heat, 6)),
    )
    return Sheet("Racks", columns, tuple(rows), (total,) if rows else ())


def _conduit(found: Schedules, unit: Unit) -> Sheet:
    small = _word(unit)
    columns = (
        BookColumn("conduit to", 14),
        BookColumn("sort", 12),
        BookColumn("cables", 30),
        BookColumn("trade size", 11),
        BookColumn("metric size", 11),
        BookColumn("fill", 8, "0%"),
        BookColumn("jam ratio", 8, LONG),
        BookColumn("spare", 8, WHOLE),
        BookColumn(f"bend of pipe, {small}", 12, TENTHS),
        BookColumn(f"bend of cable, {small}", 12, TENTHS),
        BookColumn("pull boxes", 9, WHOLE),
    )
    rows: tuple[tuple[Value, ...], ...] = tuple(
        (
            pipe.place,
            pipe.says,
            " ".join(row.number for row in pipe.cables),
            pipe.trade.size if pipe.trade else "several",
            pipe.metric.size if pipe.metric else "several",
            pipe.fill,
            pipe.jam_ratio,
            pipe.spare,
            _small(pipe.pipe_bend_radius, unit),
            _small(pipe.cable_bend_radius, unit),
            pipe.pull_points,
        )
        for pipe in found.conduit
    )
    return Sheet("Conduit", columns, rows)


def _ledger(evidence: Evidence, unit: Unit) -> Sheet:
    """The seat ledger in words: figures as figures, with the decimals of the file of that name."""
    head, rows = ledger_rows(evidence)
    shapes = [""] * len(head)
    cells: list[tuple[Value, ...]] = []
    for row in rows:
        line: list[Value] = []
        for column, value in enumerate(row):
            said = str(value)
            figure = _FIGURE.fullmatch(said)
            if figure:
                shapes[column] = "0." + "0" * len(figure[1]) if figure[1] else WHOLE
            if figure and head[column].endswith(DISTANCE):
                line.append(_long(float(said), unit))
            elif figure:
                line.append(float(said))
            else:  # what binds is the name of a column itself
                line.append(WORDS.get(said, said).partition(",")[0] or None)
        cells.append(tuple(line))
    columns = tuple(
        BookColumn(_over(name, unit), 10, _shaped(name, shape))
        for name, shape in zip(head, shapes, strict=True)
    )
    notes = ("10 % and 90 % are the ends of the range of the figure before them.",)
    return Sheet("Seats", columns, tuple(cells), notes=notes)


def _over(name: str, unit: Unit) -> str:
    """What stands over a column of the ledger."""
    words = WORDS.get(name, name)
    return f"{words}, {_word(unit, long=True)}" if name.endswith(DISTANCE) else words


def _shaped(name: str, shape: str) -> str:
    if name.endswith("chance"):
        return CHANCE
    return LONG if name.endswith(DISTANCE) else shape
