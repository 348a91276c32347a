"""Racks: what stands where, and what that weighs, draws and gives off."""

from __future__ import annotations

import re

from wellheard.dossier.figures import picture
from wellheard.dossier.model import Block, Facts, Heading, Line, Paragraph, Reader, Run, Section
from wellheard.dossier.words import NBSP, figure, fixed_spaces, full_stop, sentence
from wellheard.drawings.rack import rack_drawing
from wellheard.electrics.heat import CONTINUOUS_SHARE, INLET_C
from wellheard.schedules.rack import HOT, Rack
from wellheard.schedules.whole import Schedules
from wellheard.units import Unit, format_mass, format_temperature

TITLE = "Racks"
READER: Reader = "installer"
LEAD = (
    "From the bottom up: heavy devices low, since a rack must not tip, a free unit above what has "
    f"a fan or gives off {HOT:.0f} W or more, what has no rack front on a shelf (common practice). "
    "Whatever the customer has in there besides is not in the document."
)
HEAT = (
    "Heat is what the sheets say that devices take; without ventilation a rack loses little of "
    "it. Air at the inlet stays under {}, and never comes over {}. A circuit carries "
    f"{100 * CONTINUOUS_SHARE:.0f} % of its breaker for hours, so switch on in steps. Fix the rack "
    "to the building before it is filled; two people lift what is heavy. Mains and earth are for "
    "licensed practice."
)


def rack_sections(found: Schedules) -> tuple[Section, ...]:
    """Return a section with every rack that something stands in; none where there is none."""
    filled = [rack for rack in found.racks if rack.slots]
    if not filled:
        return ()
    blocks: list[Block] = [Paragraph((Run(fixed_spaces(LEAD)),), "lead")]
    for rack in filled:
        blocks += [
            Heading(rack.equipment),
            picture(rack_drawing(rack, unit=found.room.units, embed_fonts=False)),
            Facts(_facts(rack, found.room.units)),
        ]
    inlet = (temperature_text(celsius, found.room.units) for celsius in INLET_C)
    blocks.append(Paragraph((Run(fixed_spaces(HEAT.format(*inlet))),), "note"))
    return (Section(TITLE, READER, tuple(blocks), new_page=False),)


def weight_text(weight_kg: float, unit: Unit) -> str:
    """Return a weight, with pounds where the document is in feet.

    Examples
    --------
    >>> weight_text(3.9, "m"), weight_text(3.9, "ft")
    ('3.9\xa0kg', '3.9\xa0kg (8.6\xa0lb)')
    """
    return re.sub(r" (?=kg|lb)", NBSP, format_mass(weight_kg, unit=unit))


def temperature_text(celsius: float, unit: Unit) -> str:
    """Return a temperature, in Fahrenheit too where the document is in feet.

    Examples
    --------
    >>> temperature_text(27.0, "m"), temperature_text(35.0, "ft")
    ('27\xa0°C', '35\xa0°C (95\xa0°F)')
    """
    return format_temperature(celsius, unit=unit).replace(" °", f"{NBSP}°")


def _facts(rack: Rack, unit: Unit) -> tuple[tuple[str, Line], ...]:
    free = (
        "how many are free is not known: ask, and enter rack_units"
        if rack.free_u is None
        else f"{figure(rack.free_u, 0)} left over of {rack.has_u:g} free ones"
    )
    heat = (
        f"{figure(rack.heat_w, 0)}{NBSP}W, {figure(rack.heat_btu_h, 0)}{NBSP}BTU/h stay in the rack"
    )
    power = f"{figure(rack.power_w, 0)}{NBSP}W at most, with what goes out over network cables"
    rows = [
        ("Units", f"{rack.used_u} up to the highest that is taken; {free}"),
        ("Weight", f"{weight_text(rack.weight_kg, unit)}, without rack, shelves and cables"),
        ("From the mains", power),
        ("Heat", heat),
        *(("But", sentence(one)) for one in rack.notes),
    ]
    return tuple((label, (Run(full_stop(text)),)) for label, text in rows)
