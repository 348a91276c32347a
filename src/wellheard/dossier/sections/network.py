"""The sheet for the IT department: ports, traffic, power, and what it has to decide."""

from __future__ import annotations

from wellheard.dossier.model import (
    Block,
    Cell,
    Column,
    Entries,
    Entry,
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
    counted,
    figure,
    fixed_spaces,
    full_stop,
    listed,
    sentence,
)
from wellheard.schedules.network import CAUTIONS, DECISIONS, NetworkRow, NetworkSheet
from wellheard.schedules.whole import Schedules

TITLE = "Network"
READER: Reader = "it"


def network_sections(found: Schedules) -> tuple[Section, ...]:
    """Return the sheet for the IT department; none where nothing is on a network."""
    sheet = found.network
    if not sheet.rows:
        return ()
    return (
        Section(
            TITLE,
            READER,
            (
                Paragraph((Run(fixed_spaces(_lead(sheet))),), "lead"),
                _ports(sheet),
                *_assumed(sheet),
                Heading("What they speak", "open standards; ports as registered"),
                _protocols(sheet),
                Heading("Who joins, and firmware"),
                Facts(_joining(sheet)),
                Heading("To be decided by the IT department"),
                Entries(tuple(Entry(None, "", (Run(one),), (), "") for one in DECISIONS)),
                Heading("Cautions"),
                Entries(tuple(Entry(None, "", (Run(one),), (), "") for one in CAUTIONS)),
            ),
        ),
    )


def _lead(sheet: NetworkSheet) -> str:
    sounding = [row for row in sheet.rows if row.multicast]
    said = f"{sentence(counted(len(sheet.rows), 'entry', 'entries'))}"
    if sounding:
        streams = sum(row.sends for row in sounding)
        said += (
            f", {counted(streams, 'stream')} of sound with {_megabits(sheet.sends_bps)}{NBSP}Mb/s "
            f"in all; {sheet.clock} leads the clock, nothing else does"
        )
    if sheet.power_w:
        said += f"; {figure(sheet.power_w, 1)}{NBSP}W over the network"
    return (
        f"{said}. Addresses are placeholders for the talk about them, out of ranges kept for "
        "documentation: none may be configured."
    )


def _megabits(bits: float) -> str:
    return figure(bits / 1e6, 1)


def _ports(sheet: NetworkSheet) -> Table:
    columns = (
        Column("Device and port", 32),
        Column("What", 0),
        Column("Switch port", 29),
        Column("Placeholder", 21),
        Column("Clock", 14),
        Column("Out\nMb/s", 11, "right"),
        Column("In\nMb/s", 11, "right"),
        Column("PoE\nclass", 11, "right"),
        Column("Power\nW", 12, "right"),
    )
    return Table(columns, tuple(_row(row) for row in sheet.rows), tight=len(sheet.rows) > 8)


def _row(row: NetworkRow) -> tuple[Cell, ...]:
    sounds = row.multicast
    return (
        Run(f"{row.device}.{row.port}" if row.port else row.device, "strong"),
        Run(row.what if not row.note else f"{row.what}; {row.note}"),
        Run(row.switch_port or NOT_ASSESSED),
        Run(row.address or NOT_ASSESSED, "told"),
        Run(row.clock or NOT_ASSESSED),
        Run(_megabits(row.sends_bps) if sounds else NOT_ASSESSED),
        Run(_megabits(row.receives_bps) if sounds else NOT_ASSESSED),
        Run(NOT_ASSESSED if row.poe_class is None else str(row.poe_class)),
        Run(NOT_ASSESSED if row.power_w is None else figure(row.power_w, 1)),
    )


def _assumed(sheet: NetworkSheet) -> list[Block]:
    return [
        Paragraph((Run(fixed_spaces(f"Assumed: {full_stop(one)}"), "told"),), "note")
        for one in sheet.assumed
    ]


def _protocols(sheet: NetworkSheet) -> Table:
    columns = (
        Column("Protocol", 36),
        Column("Over", 30),
        Column("To", 40),
        Column("For", 0),
        Column("Standard", 32),
    )
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (
            Run(one.protocol, "strong"),
            Run(f"{one.transport} {one.ports}".strip()),
            Run(one.addresses),
            Run(one.purpose),
            Run(one.standard, "soft"),
        )
        for one in sheet.protocols
    )
    return Table(columns, rows, tight=True)


def _joining(sheet: NetworkSheet) -> tuple[tuple[str, Line], ...]:
    """What each kind of device does where the network asks who it is, and how it is renewed."""
    grouped: dict[tuple[str, str], list[str]] = {}
    for row in sheet.rows:
        if row.access_control:
            grouped.setdefault((row.access_control, row.updates), []).append(row.device)
    rows: list[tuple[str, Line]] = []
    for (access, updates), names in grouped.items():
        said = full_stop(sentence(access))
        if updates:
            said += f" Firmware: {full_stop(updates.removeprefix('firmware '))}"
        label = listed(list(dict.fromkeys(names)), most=5)
        rows.append((label, (Run(said),)))
    return tuple(rows)
