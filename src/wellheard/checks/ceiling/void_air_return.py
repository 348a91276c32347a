"""Devices and cables in a void that carries return air."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.overhead import Overhead, by_product, overhead
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence
from wellheard.room.links import Link

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
    of a tile, or in a cut hole) must be rated for it, and so must the jacket of every cable
    that runs there, or it goes into metal conduit. A device that hangs below is outside; its
    cable is not. The jacket is judged by the cable that a link names; a cable that can be
    bought with a plenum jacket must be ordered so. Links that name none, products about which
    nothing is said and a void whose use is unknown are not assessed.

    These are rules of North American codes; elsewhere the fire class of the cable (Euroclass)
    takes their place. Local code and licensed practice decide.
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
    yield from _cables(evidence, {one.id for one in above})


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


def _cables(evidence: Evidence, above: set[str]) -> Iterator[Draft]:
    """Cables that end at a device of the ceiling, or run above it by their route."""
    bad: dict[str, list[str]] = {}
    open_links: list[str] = []
    for name, link in evidence.room.links.items():
        if not _in_void(evidence, link, above):
            continue
        if link.cable is None:
            open_links.append(name)
        elif "plenum" not in evidence.catalogue.cable(link.cable).jackets:
            bad.setdefault(link.cable, []).append(name)
    for cable, links in bad.items():
        jackets = listed(list(evidence.catalogue.cable(cable).jackets))
        yield Draft(
            at=f"links.{links[0]}.cable",
            message=(
                f"Cable {cable} ({listed(links)}) runs through a void that carries return air and "
                f"comes with a {jackets} jacket only."
            ),
            remedy=f"Take a cable with a plenum jacket, or metal conduit all the way. {ASK}.",
        )
    linked = {
        end.partition(".")[0]
        for link in evidence.room.links.values()
        for end in (link.from_, link.to)
    }
    loose = [one.id for one in overhead(evidence) if one.id not in linked]
    if open_links or loose:
        yield _unknown(
            f"links.{open_links[0]}" if open_links else "links",
            f"The cables of {listed([*open_links, *loose])} run through a void that carries return "
            "air and are not chosen yet. Not assessed: their jackets.",
            f"Choose cables with a plenum jacket, and order them so. {ASK}.",
        )


def _in_void(evidence: Evidence, link: Link, above: set[str]) -> bool:
    if {link.from_.partition(".")[0], link.to.partition(".")[0]} & above:
        return True
    return any(point[2] > evidence.room.space.height for point in link.route or ())


def _unknown(at: str, message: str, remedy: str) -> Draft:
    return Draft(at=at, message=message, remedy=remedy, severity="note", status="not-assessed")
