"""Schedules as text: cables, bill, racks, conduit, network."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wellheard.cli.render import number, table, wrapped
from wellheard.dossier.words import NBSP, counted
from wellheard.units import format_length, format_run, plain_money

if TYPE_CHECKING:
    from wellheard.schedules.bill import Bill, BillLine
    from wellheard.schedules.cables import CableRow
    from wellheard.schedules.conduit import Pipe
    from wellheard.schedules.rack import Rack
    from wellheard.schedules.whole import Schedules
    from wellheard.units import Unit

NO_LINKS = (
    "The document has no links, so no cable is listed. wellheard design writes them with the "
    "design, wellheard wire for the devices that are there."
)
POUND_FORCE = 4.4482216152605
"""Of a pound. [N]"""
CAUTION = (
    "For planning and ordering. Rated walls, mains, old ceilings and work at height are for those\n"
    "whom local code and licensed practice allow."
)


def text(found: Schedules, only: str | None) -> str:
    """Every schedule, or one of them, with what it does not know."""
    parts = {
        "cables": _cables,
        "bill": _bill,
        "rack": _racks,
        "conduit": _conduit,
        "network": _network,
    }
    said = [parts[name](found) for name in parts if only in (None, name)]
    return "\n\n".join([found.room.title or "Untitled room", *filter(None, said), CAUTION])


def _cables(found: Schedules) -> str:
    cables, unit = found.cables, found.room.units
    if not cables.rows:
        return f"Cables\n{wrapped(NO_LINKS)}"
    rows = [
        [
            row.number,
            row.from_,
            row.to,
            row.cable.id if row.cable else "not chosen",
            _jacket(row),
            _length(row.length, unit),
            _length(row.cut_length, unit),
        ]
        for row in cables.rows
    ]
    order = [
        [
            one.cable.id,
            one.jacket_name or "–",
            str(one.runs),
            _length(one.length, unit),
            _length(one.with_reserve, unit),
        ]
        for one in cables.sums
    ]
    lines = [
        "Cables",
        table(["no.", "from", "to", "cable", "jacket", "length", "cut"], rows, left=5),
        "",
        "How they run",
        *(wrapped(f"{row.number}: {row.run.how}.") for row in cables.rows),
        "",
        "Labels, one at each end",
        *(f"{row.label_from}  |  {row.label_to}" for row in cables.rows),
        "",
        table(["to order", "jacket", "runs", "cut", "with a tenth more"], order, left=2),
    ]
    taken = dict.fromkeys(one for row in cables.rows for one in row.run.assumed)
    doubts = {row.jacket_doubt for row in cables.rows} - {""}
    lines += [wrapped(f"Assumed: {one}.") for one in taken]
    lines += [wrapped(f"Jacket, assumed: {one}.") for one in sorted(doubts)]
    if cables.unlinked:
        lines.append(wrapped(f"No link leads to {', '.join(cables.unlinked)}."))
    return "\n".join(lines)


def _jacket(row: CableRow) -> str:
    if row.no_jacket:
        return "none will do"
    return row.jacket_name or "–"


def _bill(found: Schedules) -> str:
    bill = found.bill
    if not (bill.lines or bill.others):
        return "Bill\nThe document has no devices, so there is nothing to buy."
    unit = found.room.units
    rows = [_line(line, unit) for line in (*bill.lines, *bill.others)]
    lines = ["Bill", table(["", "what", "count", "", "each", "amount"], rows, left=2)]
    total = "not assessed" if bill.total is None else plain_money(bill.total, bill.currency)
    lines += ["", f"Total without tax: {total}"]
    if bill.others:
        lines.append(f"Lines in other currencies than {bill.currency} are not in the total.")
    if bill.lead_time_weeks is not None:
        lines.append(f"Lead time: {_lead(bill)}")
    lines += [wrapped(f"Not priced: {one.what}: {one.why}.") for one in bill.not_priced]
    return "\n".join(lines)


def _lead(bill: Bill) -> str:
    return f"{bill.lead_time_weeks:g} weeks, for {', '.join(bill.lead_time_of)}"


def _line(line: BillLine, unit: Unit) -> list[str]:
    extra = [line.colour, line.note, "the customer has it" if line.owned else ""]
    said = ", ".join((line.what, *filter(None, extra)))
    count, word, price = line.counted(unit)
    return [
        line.kind,
        said,
        f"{round(count, 2):g}",
        word,
        plain_money(price),
        plain_money(line.amount, line.currency),
    ]


def _racks(found: Schedules) -> str:
    return "\n\n".join(_rack(rack, found) for rack in found.racks)


def _rack(rack: Rack, found: Schedules) -> str:
    head = f"Rack {rack.equipment}"
    if not rack.slots:
        return f"{head}\nNothing of the document stands in it."
    rows = [
        [
            str(slot.from_u) if slot.height_u == 1 else f"{slot.from_u}–{slot.to_u}",
            slot.device or "free, for air",
            slot.product + (", on a shelf" if slot.kind == "shelf" else ""),
        ]
        for slot in reversed(rack.slots)
    ]
    from wellheard.dossier.sections.racks import weight_text

    free = "free height unknown" if rack.free_u is None else f"{rack.free_u:g} U free"
    weight = weight_text(rack.weight_kg, found.room.units).replace(NBSP, " ")
    return "\n".join(
        [
            head,
            table(["U", "device", "what"], rows, left=3),
            f"{rack.used_u} U, {free}; {weight} without rack and shelves; {rack.power_w:.0f} W "
            f"from the mains, {rack.heat_w:.0f} W of heat ({rack.heat_btu_h:.0f} BTU/h)",
            *(wrapped(f"{one}.") for one in rack.notes),
        ]
    )


def _conduit(found: Schedules) -> str:
    if not found.conduit:
        return ""
    rows = [
        [
            pipe.place,
            pipe.says,
            " ".join(row.number for row in pipe.cables),
            pipe.trade.size if pipe.trade else "several",
            pipe.metric.size if pipe.metric else "several",
            "–" if pipe.fill is None else f"{100 * pipe.fill:.0f} %",
            str(pipe.spare),
        ]
        for pipe in found.conduit
    ]
    bends = [_bend(pipe, found.room.units) for pipe in found.conduit]
    return "\n".join(
        [
            "Conduit",
            table(["to", "", "cables", "trade", "metric", "fill", "spare"], rows, left=3),
            *(wrapped(one) for one in bends),
        ]
    )


def _bend(pipe: Pipe, unit: Unit) -> str:
    points = ""
    if pipe.pull_points:
        boxes = counted(pipe.pull_points, "pull box", "pull boxes")
        points = f"; {boxes} on the longest way, were it all in pipe"
    most = pipe.pull_tension
    pull = "" if most is None else f"; pull with {force(most, unit)} at most"
    radius = pipe.pipe_bend_radius
    pipes = "" if radius is None else f", of pipe {small(radius, unit)}"
    return (
        f"{pipe.place}, {pipe.says}: bends of cable "
        f"{small(pipe.cable_bend_radius, unit)}{pipes} in radius at least"
        f"{pull}{points}."
    )


def _network(found: Schedules) -> str:
    from wellheard.schedules.network import CAUTIONS, DECISIONS

    sheet = found.network
    if not sheet.rows:
        return ""
    rows = [
        [
            f"{row.device}.{row.port}" if row.port else row.device,
            row.switch_port or "–",
            row.address or "–",
            row.clock or "–",
            "–" if row.poe_class is None else str(row.poe_class),
            "–" if row.power_w is None else number(row.power_w, 1),
            number(row.sends_bps / 1e6, 1),
            number(row.receives_bps / 1e6, 1),
        ]
        for row in sheet.rows
    ]
    head = ["port", "switch port", "placeholder", "clock", "class", "W", "out Mb/s", "in Mb/s"]
    used = [
        [one.protocol, f"{one.transport} {one.ports}".strip(), one.purpose, one.standard]
        for one in sheet.protocols
    ]
    return "\n".join(
        [
            "Network",
            table(head, rows, left=4),
            "",
            table(["protocol", "over", "for", "standard"], used, left=4),
            "",
            "To be decided by the IT department",
            *(wrapped(f"- {one}") for one in DECISIONS),
            "",
            "Cautions",
            *(wrapped(f"- {one}") for one in CAUTIONS),
            *(wrapped(f"Assumed: {one}") for one in sheet.assumed),
        ]
    )


def small(metres: float, unit: Unit) -> str:
    """Small length, in millimetres or inches.

    Examples
    --------
    >>> small(0.0248, "m"), small(0.0248, "ft")
    ('25 mm', '1"')
    """
    return f"{1000 * metres:.0f} mm" if unit == "m" else format_length(metres, unit=unit)


def force(newtons: float, unit: Unit) -> str:
    """Pull, with pounds of force where the document is in feet.

    Examples
    --------
    >>> force(110.0, "m"), force(110.0, "ft")
    ('110 N', '110 N (25 lbf)')
    """
    said = f"{newtons:g} N"
    return said if unit == "m" else f"{said} ({newtons / POUND_FORCE:.0f} lbf)"


def _length(metres: float | None, unit: Unit) -> str:
    return "unknown" if metres is None else format_run(metres, unit=unit)
