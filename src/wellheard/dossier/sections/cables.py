"""The cable schedule: what runs from where to where, its labels, what to order, its pipes."""

from __future__ import annotations

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import Loudspeaker
from wellheard.dossier.model import (
    Block,
    Cell,
    Column,
    Entries,
    Entry,
    Heading,
    Manner,
    Paragraph,
    Reader,
    Run,
    Section,
    Table,
)
from wellheard.dossier.sections.cable_cautions import cable_caution_blocks
from wellheard.dossier.words import (
    NBSP,
    NOT_ASSESSED,
    brief,
    count_word,
    counted,
    figure,
    fixed_spaces,
    full_stop,
    listed,
    sentence,
)
from wellheard.electrics.pathways import LONGEST_PULL
from wellheard.room.document import Room
from wellheard.schedules.cables import RESERVE, CableRow, CableSchedule
from wellheard.schedules.conduit import Pipe
from wellheard.schedules.whole import Schedules
from wellheard.signal.ports import split
from wellheard.units import FOOT, Unit, format_length, format_run

TITLE = "Cables"
READER: Reader = "installer"
NO_LINKS = (
    "This document has devices and no links, so that no cable is listed, none is in the price and "
    "no conduit can be sized. The command wellheard design wires what it places; wellheard wire "
    "wires the devices that are there. Links typed into the document do as well."
)
LEAD = (
    "Every cable of the document, by its number. Lengths hold the spare cable at both ends; the "
    "cut length is what comes off the drum."
)


def cables_section(found: Schedules, catalogue: Catalogue) -> Section:
    """Return the installer's pages on cables."""
    schedule, room = found.cables, found.room
    if not schedule.rows:
        blocks: tuple[Block, ...] = (Paragraph((Run(NO_LINKS),), "lead"),)
        return Section(
            TITLE, READER, (*blocks, *cable_caution_blocks(room, catalogue)), new_page=False
        )
    return Section(
        TITLE,
        READER,
        (
            Paragraph((Run(_lead(schedule, room.units)),), "lead"),
            _table(schedule, room.units),
            *_missing(schedule),
            Heading("How they run"),
            _ways(schedule),
            *_shared(schedule, room, catalogue),
            *_assumed(schedule),
            Heading("To order"),
            _order(schedule, room.units),
            *_conduit(found.conduit, room),
            *cable_caution_blocks(room, catalogue),
        ),
        new_page=False,
    )


def length_words(metres: float | None, unit: Unit) -> str:
    """Return a length with its unit, or the mark of what is not known."""
    return NOT_ASSESSED if metres is None else fixed_spaces(format_run(metres, unit=unit))


def bare_length(metres: float | None, unit: Unit) -> str:
    """Return a length as it stands in a column whose head has the unit."""
    if metres is None:
        return NOT_ASSESSED
    return figure(metres, 2) if unit == "m" else format_run(metres, unit=unit)


def _lead(schedule: CableSchedule, unit: Unit) -> str:
    known = [row.cut_length for row in schedule.rows if row.cut_length is not None]
    total = length_words(sum(known), unit)
    cables = sentence(counted(len(schedule.rows), "cable"))
    return f"{cables}, {total} as cut. {LEAD}"


def _table(schedule: CableSchedule, unit: Unit) -> Table:
    head = f"\n{unit}" if unit == "m" else ""
    columns = (
        Column("No.", 11),
        Column("From", 28),
        Column("To", 28),
        Column("Cable", 0),
        Column("Jacket", 25),
        Column("Gauge\nAWG", 12, "right"),
        Column(f"Length{head}", 15, "right"),
        Column(f"Cut{head}", 15, "right"),
    )
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (
            Run(row.number, "strong"),
            Run(row.from_),
            Run(row.to),
            Run(row.cable.name if row.cable else "not chosen", "plain" if row.cable else "told"),
            _jacket(row),
            Run(str(row.cable.awg) if row.cable else NOT_ASSESSED),
            Run(bare_length(row.length, unit)),
            Run(bare_length(row.cut_length, unit)),
        )
        for row in schedule.rows
    )
    return Table(columns, rows, tight=len(rows) > 8)


def _jacket(row: CableRow) -> Run:
    if row.no_jacket:
        return Run("none of its own will do", "strong")
    manner: Manner = "told" if row.jacket_assumed else "plain"
    return Run(row.jacket_name or NOT_ASSESSED, manner)


def _missing(schedule: CableSchedule) -> list[Block]:
    said = [
        Entry(
            "not assessed",
            f"{row.number}, {row.from_} to {row.to}",
            (Run(full_stop(sentence(row.unpriced))),),
            (),
            "",
        )
        for row in schedule.rows
        if row.unpriced
    ]
    said += [
        Entry(
            "broken",
            f"{row.number}, {row.from_} to {row.to}",
            (Run(f"{row.cable.name} comes with no jacket for where it runs: {row.because}."),),
            (Run("Take another cable, or metal conduit all the way. Local code decides."),),
            "",
        )
        for row in schedule.rows
        if row.no_jacket and row.cable is not None
    ]
    if schedule.unlinked:
        said.append(
            Entry(
                "not assessed",
                "No cable",
                (Run(f"No link leads to {listed(list(schedule.unlinked), most=12)}."),),
                (),
                "",
            )
        )
    return [Entries(tuple(said))] if said else []


def _ways(schedule: CableSchedule) -> Table:
    grouped: dict[str, list[CableRow]] = {}
    for row in schedule.rows:
        grouped.setdefault(row.run.how, []).append(row)
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (
            Run(", ".join(row.number for row in rows), "strong"),
            Run(fixed_spaces(full_stop(sentence(how)))),
        )
        for how, rows in grouped.items()
    )
    return Table((Column("Cables", 44), Column("Way", 0)), rows, tight=True)


def _shared(schedule: CableSchedule, room: Room, catalogue: Catalogue) -> list[Block]:
    """Sockets at which several cables end: whoever pulls them would look for more sockets."""
    ends: dict[str, list[str]] = {}
    for row in schedule.rows:
        for port in (row.from_, row.to):
            ends.setdefault(port, []).append(row.number)
    said = [
        f"{listed(numbers)} at {port}{_each(port, len(numbers), room, catalogue)}"
        for port, numbers in ends.items()
        if len(numbers) > 1
    ]
    if not said:
        return []
    text = f"Sockets that several cables share: {'; '.join(said)}."
    return [Paragraph((Run(fixed_spaces(text)),), "note")]


def _each(port: str, cables: int, room: Room, catalogue: Catalogue) -> str:
    """Of a product of several loudspeakers: one cable for each."""
    device = room.devices.get(split(port)[0])
    product = None if device is None else catalogue.product(device.product)
    several = isinstance(product, Loudspeaker) and product.units == cables
    return f", one to each of its {count_word(cables)} loudspeakers" if several else ""


def _assumed(schedule: CableSchedule) -> list[Block]:
    said = list(dict.fromkeys(one for row in schedule.rows for one in row.run.assumed))
    doubts = dict.fromkeys(row.jacket_doubt for row in schedule.rows if row.jacket_doubt)
    said += [f"the jacket, as {one}" for one in doubts]
    if not said:
        return []
    text = f"Assumed: {'; '.join(said)}."
    return [Paragraph((Run(fixed_spaces(text), "told"),), "note")]


def _order(schedule: CableSchedule, unit: Unit) -> Table:
    head = f"\n{unit}" if unit == "m" else ""
    columns = (
        Column("Cable", 0),
        Column("Jacket", 40),
        Column("Runs", 12, "right"),
        Column(f"As cut{head}", 20, "right"),
        Column(f"With {RESERVE:.0%} more{head}".replace("%", f"{NBSP}%"), 26, "right"),
    )
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (
            Run(one.cable.name),
            Run(one.jacket_name or NOT_ASSESSED),
            Run(str(one.runs)),
            Run(bare_length(one.length, unit)),
            Run("cords" if one.cable.length is not None else bare_length(one.with_reserve, unit)),
        )
        for one in schedule.sums
    )
    return Table(columns, rows, tight=True)


FILL = (
    "The smallest size that the cables may share: one may take 53 % of the inside, two 31 %, more "
    "40 % (NEC chapter 9, table 1), and three must not jam. Metric sizes by their outside (EN "
    "60423). Spare is how many more, as thick as the thickest, still go in. Where the whole way is "
    "in pipe, a pull is {} and two bends at most. Local code and licensed practice decide."
)


def _conduit(pipes: tuple[Pipe, ...], room: Room) -> list[Block]:
    if not pipes:
        return []
    unit = room.units
    columns = (
        Column("Conduit to", 24),
        Column("Cables", 0),
        Column("Trade", 17),
        Column("Metric", 16),
        Column("Fill\n%", 10, "right"),
        Column("Jam\nratio", 11, "right"),
        Column("Spare", 12, "right"),
        Column("Bends, pipe\nand cable", 26, "right"),
        Column("Pull\nboxes", 12, "right"),
    )
    rows: tuple[tuple[Cell, ...], ...] = tuple(_pipe(pipe, unit) for pipe in pipes)
    pull = f"{LONGEST_PULL:g} m" if unit == "m" else f"{LONGEST_PULL // FOOT:g} ft"
    fill = FILL.format(pull)
    return [Heading("Conduit"), Table(columns, rows), Paragraph((Run(fixed_spaces(fill)),), "note")]


def _pipe(pipe: Pipe, unit: Unit) -> tuple[Cell, ...]:
    radii = [
        NOT_ASSESSED if radius is None else small_words(radius, unit)
        for radius in (pipe.pipe_bend_radius, pipe.cable_bend_radius)
    ]
    usual = pipe.family
    return (
        Run(pipe.place, "strong"),
        Run(f"{pipe.says}: {', '.join(row.number for row in pipe.cables)}"),
        Run(pipe.trade.size if pipe.trade else "several", "strong" if usual == "emt" else "soft"),
        Run(
            pipe.metric.size if pipe.metric else "several",
            "strong" if usual == "metric" else "soft",
        ),
        Run(NOT_ASSESSED if pipe.fill is None else figure(100 * pipe.fill, 0)),
        Run(NOT_ASSESSED if pipe.jam_ratio is None else brief(pipe.jam_ratio, 1)),
        Run(str(pipe.spare)),
        Run(", ".join(radii)),
        Run(NOT_ASSESSED if pipe.pull_points is None else str(pipe.pull_points)),
    )


def small_words(metres: float, unit: Unit) -> str:
    """Return a small length in millimetres, or inches.

    Examples
    --------
    >>> small_words(0.0248, "m"), small_words(0.0248, "ft")
    ('25\\xa0mm', '1"')
    """
    return f"{1000 * metres:.0f}{NBSP}mm" if unit == "m" else format_length(metres, unit=unit)
