"""What can hurt where cables are pulled, electronics are powered and walls are opened."""

from __future__ import annotations

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.regions import jacket_name, jacket_needed, region_of
from wellheard.dossier.model import Block, Facts, Heading, Line, Run
from wellheard.dossier.sections.sound_cautions import LINES, MAINS, has_lines
from wellheard.dossier.words import fixed_spaces
from wellheard.electrics.pathways import POWER_SEPARATION, POWER_SEPARATION_GOOD, SUPPORT_SPACING
from wellheard.room.document import Room
from wellheard.units import format_run

DECIDES = "Local code and licensed practice decide."


def cable_caution_blocks(room: Room, catalogue: Catalogue) -> list[Block]:
    """Return the cautions of the work on cables and power, those that can kill first.

    Parameters
    ----------
    room : Room
        Tells region, ceiling, units and devices.
    catalogue : Catalogue
        With the products of its devices.
    """
    lines: tuple[tuple[str, Line], ...] = tuple(
        (label, (Run(fixed_spaces(text)),)) for label, text in cable_cautions(room, catalogue)
    )
    return [Heading("Cautions"), Facts(lines)]


def cable_cautions(room: Room, catalogue: Catalogue) -> tuple[tuple[str, str], ...]:
    """Return each caution with its heading, as plain text."""
    products = (catalogue.product(device.product) for device in room.devices.values())
    powered = any(one.powered_from == "network" for one in products)
    return (
        ("Mains", f"{MAINS} {MAINS_MORE} {_mains(room)}"),
        *((("Loudspeaker lines", LINES),) if has_lines(room, catalogue) else ()),
        *(((_void_heading(room), _void(room)),) if room.space.ceiling.kind != "open" else ()),
        ("Walls and floors that hold fire back", FIRE),
        ("Old ceilings and walls", OLD),
        ("Work at height", HEIGHT),
        ("Distance from power", _apart(room)),
        ("What carries the cables", _supports(room)),
        *((("Power over the network", NETWORK_POWER),) if powered else ()),
        ("Emergency sound", EMERGENCY),
    )


MAINS_MORE = (
    "Lock out and test for dead before a cover is opened. A rack has one circuit and one earth; "
    "load it for hours with no more than 80 % of its breaker."
)
FIRE = (
    "Every hole in a rated wall, floor or ceiling is sealed again with a system approved for it, "
    f"cables and sleeves included, and recorded; ask before one is made. {DECIDES}"
)
OLD = (
    "Ceilings, pipe insulation, boards and paint of unknown age may hold asbestos or lead: nobody "
    "drills, cuts or lifts a tile before the owner has shown the register or a test. "
    f"{DECIDES}"
)
HEIGHT = (
    "Ladders and lifts by the rules of the place, never alone, with the floor below closed off. "
    "Nobody leans or stands on grid, tiles, trays, ducts or pipes, and no sprinkler or detector is "
    "covered, moved or blocked."
)
NETWORK_POWER = (
    "Solid copper only: copper-clad aluminium overheats and breaks. Keep bundles small where "
    "ports supply more than 30 W. Above 60 W "
    f"codes limit current by gauge, bundle and temperature. {DECIDES}"
)
EMERGENCY = (
    "Alarms and evacuation messages are a listed system of their own and are never driven from "
    "this one, unless it is approved for that. Ask whether the alarm has to silence this sound."
)


def _mains(room: Room) -> str:
    region = region_of(room.site.region)
    if region is None:
        return f"Voltage, plugs and circuits of the place are not known here. {DECIDES}"
    return (
        f"Usual in the region: {region.mains_voltage:g} V at {region.mains_frequency:g} Hz, "
        f"{region.circuit_current:g} A. {DECIDES}"
    )


def _void_heading(room: Room) -> str:
    carries = room.space.ceiling.air_return is True
    return "Void that carries return air" if carries else "Void above the ceiling"


def _void(room: Room) -> str:
    site, air_return = room.site.region, room.space.ceiling.air_return
    if air_return is False:
        return (
            "It carries no return air as far as the document says: look before cables are pulled. "
            f"If it does, they and the devices there must be rated for it. {DECIDES}"
        )
    known = "" if air_return else "Whether it carries return air is not known; if it does: "
    region = region_of(site)
    jacket = jacket_needed(site, in_void=True, air_return=air_return).jacket
    cables = f"cables of {jacket} type"
    if region is not None and region.by_class:
        cables = f"cables of a high fire class, usually {jacket_name(site, jacket)}"
    elif region is not None:
        cables += f" ({jacket_name(site, jacket)})"
    rules = f" See: {region.rules}." if region is not None else ""
    return (
        f"{known}{'S' if air_return else 's'}moke of what burns there is blown through the "
        f"building. Take {cables}, or metal conduit all the way; ties, boxes and devices rated for "
        "it; leave nothing behind. A higher jacket may take the place of a lower, never the "
        f"reverse.{rules} {DECIDES}"
    )


def _apart(room: Room) -> str:
    code, good = (
        format_run(metres, unit=room.units) for metres in (POWER_SEPARATION, POWER_SEPARATION_GOOD)
    )
    return (
        f"Signal and low voltage never share conduit or box with mains. Keep {code} at the very "
        f"least, {good} along lines of up to 2 kVA, and more from motors, dimmers and ballasts; "
        f"cross at a right angle. {DECIDES}"
    )


def _supports(room: Room) -> str:
    step = format_run(SUPPORT_SPACING, unit=room.units)
    return (
        f"Hooks or trays of their own, {step} apart at most, fixed to the structure: not the wires "
        "of the ceiling, not sprinkler pipes, not the tiles. Wide ties, hand-tight; no bend "
        "sharper than four times the cable."
    )
