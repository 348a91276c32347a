"""What a lay-in ceiling is asked to carry."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.overhead import (
    BOND_WORDS,
    BRIDGE_WORDS,
    SUPPORT_WORDS,
    WIRES_WORDS,
    Overhead,
    by_product,
    has_part,
    overhead,
    weight,
)
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence

CODE = "tile-load"
TWO_WIRES = "tile-load-two-wires"
CAUTION = (
    "Local code and a licensed structural engineer decide; look into the void before anybody "
    "works there"
)


@rule(CODE, "warning", strength="house", cites="", thresholds=(CODE, TWO_WIRES))
def tile_load(evidence: Evidence) -> Iterator[Draft]:
    """Nothing overhead rests on a ceiling tile, and the grid does not carry it alone.

    A tile alone carries nothing: what sits in or hangs through one needs a bridge that brings
    its weight to the grid, unless it replaces the tile. Beyond that the rule for luminaires in
    lay-in ceilings is taken for electronics: below 4.5 kg one 12-gauge wire to the structure,
    which may be slack; from 4.5 to 25 kg two, at opposite corners; above 25 kg approved hangers
    from the structure itself. It was written for regions with earthquakes and is good practice
    everywhere; local code and licensed practice decide.

    Judged by the parts that the product's mounting takes as it is held here. A part counts by
    words in its id or name: *bridge*, *rail*, *frame* or *channel* carries to the grid, *wires*
    are two to the structure, *bond*, *safety* or *wire* is one, *support* or *hanger* holds it
    from the structure. One finding for each product. What the customer owns and has up already
    is not assessed: somebody must look above the tile.
    """
    if evidence.room.space.ceiling.kind != "tiles":
        return
    for devices in by_product(overhead(evidence)).values():
        held = [one for one in devices if one.fit in ("tile", "hole")]
        if not held:
            continue
        if held[0].owned:
            yield _not_assessed(held)
            continue
        yield from _first(_faults(evidence, one, held) for one in held)


def _first(faults: Iterator[Iterator[Draft]]) -> Iterator[Draft]:
    """Faults of the first device that has any: the others of the product have the same."""
    for each in faults:
        found = list(each)
        if found:
            yield from found
            return


def _faults(evidence: Evidence, one: Overhead, held: list[Overhead]) -> Iterator[Draft]:
    product = one.product
    where = f"{product.id} ({listed([each.id for each in held])})"
    heavy = weight(evidence, product.weight_kg)
    two = evidence.room.targets.house_limit(TWO_WIRES)
    most = evidence.room.targets.house_limit(CODE)
    if product.module is None and not has_part(evidence, one, BRIDGE_WORDS):
        yield Draft(
            at=f"devices.{one.id}",
            message=(
                f"{where} weighs {heavy} and nothing among its parts brings that to the grid: a "
                "lay-in tile alone carries nothing."
            ),
            value=product.weight_kg,
            unit="kg",
            remedy=f"Take a bridge across the tile. {CAUTION}.",
            severity="error",
        )
    if most is not None and product.weight_kg > most:
        if not has_part(evidence, one, SUPPORT_WORDS):
            yield Draft(
                at=f"devices.{one.id}",
                message=(
                    f"{where} weighs {heavy}; above {weight(evidence, most)} a ceiling grid holds "
                    "nothing, and no hanger or support from the structure is among its parts."
                ),
                value=product.weight_kg,
                limit=most,
                unit="kg",
                remedy=f"Hang it from the structure by approved hangers. {CAUTION}.",
                severity="error",
            )
    elif two is not None and product.weight_kg >= two:
        if not has_part(evidence, one, WIRES_WORDS):
            yield Draft(
                at=f"devices.{one.id}",
                message=(
                    f"{where} weighs {heavy}; from {weight(evidence, two)} a device in a lay-in "
                    "ceiling has two wires to the structure, and none are among its parts."
                ),
                value=product.weight_kg,
                limit=two,
                unit="kg",
                remedy=(
                    "Add two 12-gauge wires from opposite corners to the structure, three full "
                    f"turns at each end. {CAUTION}."
                ),
            )
    elif not has_part(evidence, one, (*WIRES_WORDS, *BOND_WORDS, "wire")):
        yield Draft(
            at=f"devices.{one.id}",
            message=(
                f"{where} weighs {heavy} and has neither wire nor bond to the structure among its "
                "parts."
            ),
            value=product.weight_kg,
            unit="kg",
            remedy=f"Add one 12-gauge wire or a bond to the structure. {CAUTION}.",
        )


def _not_assessed(held: list[Overhead]) -> Draft:
    return Draft(
        at=f"devices.{held[0].id}",
        message=(
            f"How {listed([one.id for one in held])} ({held[0].product.id}, owned) is held above "
            "the tile is not assessed: nobody has said so."
        ),
        remedy=f"Look for bridge, wires and bond when a tile is up. {CAUTION}.",
        severity="note",
        status="not-assessed",
    )
