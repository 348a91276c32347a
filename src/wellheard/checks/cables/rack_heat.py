"""Heat of electronics in a rack or box."""

from __future__ import annotations

import math
from collections.abc import Iterator

from wellheard.catalog.products import Switch
from wellheard.checks import cabling
from wellheard.checks.cables.poe_budget_exceeded import drawn
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.electrics.heat import btu_per_hour, powering_heat
from wellheard.predict.evidence import Evidence

CODE = "rack-heat"
BOX = "rack-heat-table-box"


@rule(CODE, "warning", strength="house", cites="", thresholds=(CODE, BOX))
def rack_heat(evidence: Evidence) -> Iterator[Draft]:
    """Electronics in one rack or box make no more heat than it loses by itself.

    The sum is of what the sheets say their devices take, without what a switch sends out over its
    cables: that is heat elsewhere, but for a tenth. A closed rack beside a wall loses some 300 W
    to the room with 10 K over it, a box in a table some 40 W; more wants a fan, an open door, or
    another place. What the customer has in the rack besides is not in the document.
    """
    sends: dict[str, float] = {}
    for one in cabling.powered(evidence):
        if one.switch is not None:
            sends[one.switch] = sends.get(one.switch, 0.0) + drawn(one)
    for place, devices in cabling.housed(evidence).items():
        kind = evidence.room.equipment[place].kind
        if kind not in ("rack", "table-box"):
            continue
        limit = evidence.room.targets.limit_in_force(CODE if kind == "rack" else BOX)
        heat = math.fsum(
            powering_heat(product.power_w, supplied=sends.get(name, 0.0))
            if isinstance(product, Switch)
            else product.power_w
            for name, product in devices
        )
        if heat <= limit + 1e-9:
            continue
        make = "makes" if len(devices) == 1 else "make"
        yield Draft(
            at=f"equipment.{place}",
            message=(
                f"{listed([name for name, _ in devices])} {make} {heat:.0f} W of heat in {place} "
                f"({btu_per_hour(heat):.0f} BTU/h); {limit:g} W go without ventilation."
            ),
            value=heat,
            limit=limit,
            unit="W",
            remedy=(
                "Ventilate it, or move some of it to another place. Air at the inlet stays under "
                "27 °C."
            ),
        )
