"""Racks: what stands where, and what that weighs, draws and gives off."""

from __future__ import annotations

from wellheard.dossier.figures import picture
from wellheard.dossier.model import Block, Facts, Heading, Line, Paragraph, Reader, Run, Section
from wellheard.dossier.words import NBSP, figure, fixed_spaces, full_stop, sentence
from wellheard.drawings.rack import rack_drawing
from wellheard.electrics.heat import CONTINUOUS_SHARE, INLET_C
from wellheard.schedules.rack import HOT, Rack
from wellheard.schedules.whole import Schedules

TITLE = "Racks"
READER: Reader = "installer"
POUND_KG = 0.45359237
"""Of a pound. [kg]"""
LEAD = (
    "From the bottom up: heavy devices low, since a rack must not tip, a free unit above what has "
    f"a fan or gives off {HOT:.0f} W or more, what has no rack front on a shelf (common practice). "
    "Whatever the customer has in there besides is not in the document."
)
HEAT = (
    f"Heat is what the sheets say that devices take; without ventilation a rack loses little of "
    f"it. Air at the inlet stays under {INLET_C[0]:.0f} °C, and never comes over "
    f"{INLET_C[1]:.0f} °C. A circuit carries {100 * CONTINUOUS_SHARE:.0f} % of its breaker for "
    "hours, so switch on in steps. Fix the rack to the building before it is filled; two people "
    "lift what is heavy. Mains and earth are for licensed practice."
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
            picture(rack_drawing(rack, embed_fonts=False)),
            Facts(_facts(rack, feet=found.room.units == "ft")),
        ]
    blocks.append(Paragraph((Run(fixed_spaces(HEAT)),), "note"))
    return (Section(TITLE, READER, tuple(blocks), new_page=False),)


def _facts(rack: Rack, *, feet: bool) -> tuple[tuple[str, Line], ...]:
    weight = f"{figure(rack.weight_kg, 1)}{NBSP}kg"
    if feet:
        weight += f" ({figure(rack.weight_kg / POUND_KG, 0)}{NBSP}lb)"
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
        ("Weight", f"{weight}, without rack, shelves and cables"),
        ("From the mains", power),
        ("Heat", heat),
        *(("But", sentence(one)) for one in rack.notes),
    ]
    return tuple((label, (Run(full_stop(text)),)) for label, text in rows)
