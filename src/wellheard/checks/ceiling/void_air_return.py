"""Devices in a void that carries return air."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.overhead import Overhead, by_product, overhead
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence

ASK = "Ask the authority of the place: local code decides"


@rule(
    "void-air-return",
    "warning",
    strength="law",
    cites="plenum rules of building and electrical codes (NEC 300.22, 800.179), from memory [M]",
)
def void_air_return(evidence: Evidence) -> Iterator[Draft]:
    """What lies in a void that carries return air is made for it.

    Smoke of anything that burns there is blown through the building. Where
    `space.ceiling.air_return` is true, a device that sits in the ceiling (flush in or in place
    of a tile, or in a cut hole) must be rated for it. A device that hangs below is outside; its
    cable is not, which `jacket-too-low` judges with all others. Products about which nothing is
    said and a void whose use is unknown are not assessed.

    These are rules of North American codes. Local code and licensed practice decide.
    """
    ceiling = evidence.room.space.ceiling
    above = [one for one in overhead(evidence) if ceiling.kind != "open"]
    if ceiling.air_return is False or not above:
        return
    if ceiling.air_return is None:
        yield _unknown(
            "space.ceiling.air_return",
            f"Whether the void above {listed([one.id for one in above])} carries return air is "
            "unknown. Not assessed: ratings of devices and cable jackets there.",
            "Ask the customer and enter space.ceiling.air_return.",
        )
        return
    inside = [one for one in above if not one.hangs and one.fit in ("tile", "hole")]
    for devices in by_product(inside).values():
        yield from _device(devices)


def _device(devices: list[Overhead]) -> Iterator[Draft]:
    product = devices[0].product
    where = f"{product.id} ({listed([one.id for one in devices])})"
    if product.plenum is None:
        yield _unknown(
            f"devices.{devices[0].id}",
            f"Whether {where} may be in a void with return air is not assessed: its data say "
            "nothing.",
            f"Ask its maker for the rating. {ASK}.",
        )
    elif not product.plenum:
        yield Draft(
            at=f"devices.{devices[0].id}",
            message=f"{where} sits in a void that carries return air and is not rated for it.",
            remedy=(
                "Take a rated product, or a rated enclosure or back box around it, or hang it "
                f"below the ceiling. {ASK}."
            ),
        )


def _unknown(at: str, message: str, remedy: str) -> Draft:
    return Draft(at=at, message=message, remedy=remedy, severity="note", status="not-assessed")
