"""Height in a rack."""

from __future__ import annotations

import math
from collections.abc import Iterator

from wellheard.catalog.products import Amplifier, AnyProduct, Processor, Switch
from wellheard.checks import cabling
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence


@rule("rack-full", "error", strength="product", cites="height of the products in rack units")
def rack_full(evidence: Evidence) -> Iterator[Draft]:
    """What the design puts into a rack has room in it.

    Heights are in units of 1.75 in (44.45 mm, EIA-310), each product whole units; what sits on a
    shelf needs none here. The document says in `equipment.<id>.rack_units` how much is free;
    without it the height is not assessed. Owned devices of the document count: they are in there
    or must be.
    """
    for place, devices in cabling.housed(evidence).items():
        item = evidence.room.equipment[place]
        tall = [(name, units) for name, product in devices if (units := _units(product))]
        if item.kind != "rack" or not tall:
            continue
        wanted = sum(units for _, units in tall)
        names = listed([name for name, _ in tall])
        need = "needs" if len(tall) == 1 else "need"
        if item.rack_units is None:
            yield Draft(
                at=f"equipment.{place}.rack_units",
                message=(
                    f"{names} {need} {wanted} U in {place}; whether they are free is not assessed."
                ),
                value=float(wanted),
                remedy=f"Ask the customer and enter equipment.{place}.rack_units.",
                severity="note",
                status="not-assessed",
            )
        elif wanted > item.rack_units:
            yield Draft(
                at=f"equipment.{place}",
                message=f"{names} {need} {wanted} U in {place}; it has {item.rack_units:g} U free.",
                value=float(wanted),
                limit=float(item.rack_units),
                remedy="Take a larger rack or a second one, or products of less height.",
            )


def _units(product: AnyProduct) -> int:
    if isinstance(product, Amplifier | Processor | Switch):
        return math.ceil(product.rack_units)
    return 0
