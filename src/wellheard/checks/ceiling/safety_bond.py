"""A second hold for what is above people's heads."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.overhead import (
    BOND_WORDS,
    by_product,
    has_part,
    high_on_walls,
    overhead,
    weight,
)
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence
from wellheard.room.house_limits import HOUSE_LIMITS

CODE = "safety-bond"
HEADS = "head-height-under-pendant"


@rule(CODE, "warning", strength="house", cites="", thresholds=(CODE,))
def safety_bond(evidence: Evidence) -> Iterator[Draft]:
    """Everything overhead that could hurt somebody has a bond of its own to the structure.

    A device at the ceiling, or on a wall above head height, that weighs more than 2 kg gets a
    safety bond: rated, independent of its fixing, fastened to the structure and not to the
    grid. Judged by the parts that its mounting takes; one of them must say *bond* or *safety*
    in its id or name. One finding for each product. What the customer owns and has up already
    is not assessed: somebody must look. Local code and licensed practice decide.
    """
    limit = limit_in_force(evidence, CODE)
    high = HOUSE_LIMITS[HEADS].limit
    above = (*overhead(evidence), *high_on_walls(evidence, above=high))
    for devices in by_product(one for one in above if one.product.weight_kg > limit).values():
        product = devices[0].product
        names = listed([one.id for one in devices])
        if devices[0].owned:
            yield Draft(
                at=f"devices.{devices[0].id}",
                message=(
                    f"Whether {names} ({product.id}, owned, "
                    f"{weight(evidence, product.weight_kg)}) has a safety bond is not assessed: "
                    "nobody has said so."
                ),
                value=product.weight_kg,
                limit=limit,
                unit="kg",
                remedy="Look, and add a rated bond to the structure where there is none.",
                severity="note",
                status="not-assessed",
            )
            continue
        lacking = [one for one in devices if not has_part(evidence, one, BOND_WORDS)]
        if lacking:
            yield Draft(
                at=f"devices.{lacking[0].id}",
                message=(
                    f"{product.id} ({listed([one.id for one in lacking])}) weighs "
                    f"{weight(evidence, product.weight_kg)} overhead and has no safety bond among "
                    "its parts."
                ),
                value=product.weight_kg,
                limit=limit,
                unit="kg",
                remedy=(
                    "Add a rated bond to the structure, independent of fixing, grid and tile. "
                    "Local code and licensed practice decide."
                ),
            )
