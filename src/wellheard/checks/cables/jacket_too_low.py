"""Cables in a void that carries return air."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.catalog.regions import jacket_name, jacket_needed, region_of
from wellheard.checks import cabling
from wellheard.checks.model import Draft, Severity
from wellheard.checks.overhead import overhead
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence
from wellheard.room.links import Link

ASK = "Ask the authority of the place: local code decides"


@rule(
    "jacket-too-low",
    "error",
    strength="law",
    cites="plenum rules of electrical codes (NEC 300.22 [M], 800.179 via an open list [L])",
)
def jacket_too_low(evidence: Evidence) -> Iterator[Draft]:
    """Every cable in a void that carries return air can be had with a jacket made for it.

    Smoke of anything that burns there is blown through the building. A cable of which some runs in
    the void must be of plenum type there, or lie in metal conduit all the way: an error where the
    code of the region says so (site.region us or ca), a warning elsewhere, where a fire class
    (Euroclass) takes its place and national rules choose it. What is judged is what a cable can be
    bought with; the cable schedule says which jacket to order. Runs go by their stated routes, else
    as they are estimated. Where the use of the void is unknown, cables that have no such jacket are
    not assessed, nor are links that name no cable and ceiling devices without a link.
    """
    ceiling = evidence.room.space.ceiling
    if ceiling.kind == "open" or ceiling.air_return is False:
        return
    bad: dict[str, list[str]] = {}
    unchosen: list[str] = []
    for name, link in evidence.room.links.items():
        if not _in_void(evidence, link):
            continue
        cable = cabling.cable_of(evidence, link)
        need = jacket_needed(evidence.room.site.region, in_void=True, air_return=ceiling.air_return)
        if cable is None:
            unchosen.append(name)
        elif cable.jacket_for(need.jacket) is None:
            bad.setdefault(cable.id, []).append(name)
    for cable_id, links in bad.items():
        yield _low(evidence, cable_id, links)
    if ceiling.air_return is True:
        yield from _not_chosen(evidence, unchosen)


def _low(evidence: Evidence, cable: str, links: list[str]) -> Draft:
    region = evidence.room.site.region
    jackets = listed(list(evidence.catalogue.cable(cable).jackets))
    wanted = jacket_name(region, "plenum")
    named = "a plenum jacket" if wanted == "plenum" else f"a plenum jacket ({wanted})"
    it_has = f"Cable {cable} ({listed(links)}) comes with a {jackets} jacket only"
    if evidence.room.space.ceiling.air_return is None:
        return Draft(
            at=f"links.{links[0]}.cable",
            message=(
                f"{it_has} and runs through a void; whether that carries return air is unknown. "
                "Not assessed: whether the jacket will do."
            ),
            remedy=f"Enter space.ceiling.air_return, or take a cable with {named}.",
            severity="note",
            status="not-assessed",
        )
    known = region_of(region)
    severity: Severity = "error" if known is not None and not known.by_class else "warning"
    return Draft(
        at=f"links.{links[0]}.cable",
        message=f"{it_has} and runs through a void that carries return air.",
        remedy=f"Take a cable with {named}, or metal conduit all the way. {ASK}.",
        severity=severity,
    )


def _not_chosen(evidence: Evidence, unchosen: list[str]) -> Iterator[Draft]:
    linked = {
        end.partition(".")[0]
        for link in evidence.room.links.values()
        for end in (link.from_, link.to)
    }
    loose = [one.id for one in overhead(evidence) if one.id not in linked]
    if unchosen or loose:
        yield Draft(
            at=f"links.{unchosen[0]}" if unchosen else "links",
            message=(
                f"The cables of {listed([*unchosen, *loose])} run through a void that carries "
                "return air and are not chosen yet. Not assessed: their jackets."
            ),
            remedy=f"Choose cables with a plenum jacket, and order them so. {ASK}.",
            severity="note",
            status="not-assessed",
        )


def _in_void(evidence: Evidence, link: Link) -> bool:
    run = cabling.runs_of(evidence).of_link(link)
    if run.route:
        return run.in_void > 0.0
    above = {one.id for one in overhead(evidence)}
    return bool({link.from_.partition(".")[0], link.to.partition(".")[0]} & above)
