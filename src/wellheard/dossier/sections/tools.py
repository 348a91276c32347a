"""Tools and small material that the installer brings, by what this document takes."""

from __future__ import annotations

from collections.abc import Sequence

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.tools import Occasion, Tool, shipped
from wellheard.dossier.model import Cell, Column, Paragraph, Run, Section, Table
from wellheard.dossier.positions import Position
from wellheard.dossier.sections.setting_out import hole_words
from wellheard.dossier.words import counted, fixed_spaces, listed
from wellheard.schedules.whole import Schedules
from wellheard.units import format_length

TITLE = "Tools and small material"
LEAD = (
    "What this work usually takes (common practice); a house's own rules come first. Devices, "
    "fixings and cables are in the bill and are not repeated here."
)
REACH = 2.0
"""Height above which work is work at height here: above a tall person's head. [m]"""
PAIR = ("twisted-pair", "network")
ANALOGUE = ("balanced", "unbalanced", "low-impedance", "constant-voltage")
ON_TABLE = ("table", "lectern", "table-box")
ANCHORED = ("hard", "open")


def tools_section(
    found: Schedules, catalogue: Catalogue, rows: Sequence[Position], *, sound: bool
) -> Section:
    """Return the installer's list of tools.

    Parameters
    ----------
    found : Schedules
        With the document's room, cables and racks.
    catalogue : Catalogue
        That has every product of the document.
    rows : sequence of Position
        Where devices go.
    sound : bool
        Whether levels are set.
    """
    occasions = _occasions(found, catalogue, rows, sound=sound)
    wanted = [tool for tool in shipped() if tool.when in occasions]
    columns = (Column("", 18), Column("Bring", 86), Column("Because", 0))
    table = Table(
        columns,
        tuple(_row(tool, found, rows) for tool in wanted),
        tight=True,
    )
    return Section(TITLE, "installer", (Paragraph((Run(LEAD),), "note"), table), new_page=False)


def _occasions(
    found: Schedules, catalogue: Catalogue, rows: Sequence[Position], *, sound: bool
) -> set[Occasion]:
    room = found.room
    new = [row for row in rows if not row.owned]
    kinds = {row.kind for row in found.cables.rows}
    ceiling = [row for row in new if row.overhead]
    on_walls = any(row.mounting in ("wall", "front") for row in new)
    holes = any(row.cutout is not None for row in ceiling)
    hard = bool(ceiling) and room.space.ceiling.kind in ANCHORED
    products = [catalogue.product(device.product) for device in room.devices.values()]
    there: dict[Occasion, bool] = {
        "always": True,
        "overhead": bool(ceiling),
        "tile": room.space.ceiling.kind == "tiles" and bool(ceiling or found.cables.rows),
        "hole": holes,
        "drill": hard or on_walls or bool(ceiling),
        "cut": holes or hard or on_walls,
        "wall": on_walls,
        "table": any(row.mounting in ON_TABLE for row in new),
        "cable": bool(found.cables.rows),
        "pair": bool(kinds & set(PAIR)),
        "analogue": bool(kinds & set(ANALOGUE)),
        "rack": any(rack.slots for rack in found.racks),
        "mains": any(one.powered_from == "mains" for one in products),
        "sound": sound,
        "settings": any(one.kind in ("processor", "amplifier") for one in room.devices.values()),
        "void": room.space.ceiling.kind != "open" and bool(found.cables.rows),
    }
    return {occasion for occasion, occurs in there.items() if occurs}


def _row(tool: Tool, found: Schedules, rows: Sequence[Position]) -> tuple[Cell, ...]:
    return (
        Run(tool.kind, "soft"),
        Run(fixed_spaces(_filled(tool.what, found, rows)), "strong"),
        Run(tool.why, "soft"),
    )


def _filled(text: str, found: Schedules, rows: Sequence[Position]) -> str:
    """Text with what the document says of it."""
    unit = found.room.units
    overhead = [row for row in rows if row.overhead and not row.owned]
    holes = sorted({row.cutout for row in overhead if row.cutout is not None})
    highest = max((row.height for row in overhead), default=REACH)
    bonds = sum(row.bond for row in overhead)
    return text.format(
        height=f"a ceiling {format_length(max(highest, found.room.space.height), unit=unit)} high",
        holes="of " + listed([hole_words(hole, unit) for hole in holes]),
        bonds=f"for {counted(len(overhead), 'device')} and {counted(bonds, 'safety bond')}",
    )
