"""Length of each cable against what its link allows."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks import cabling, wiring
from wellheard.checks.cabling import Joined, Longest
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.separation import TOUCH
from wellheard.checks.wording import length, listed, some_length
from wellheard.predict.evidence import Evidence
from wellheard.signal.matching import stated_link


@rule(
    "cable-too-long",
    "error",
    strength="product",
    cites="the longest link of the product",
)
def cable_too_long(evidence: Evidence) -> Iterator[Draft]:
    """Every cable is within the length that its link allows.

    The stated length of its link counts, then its stated route. Without either it is estimated:
    from a ceiling straight up into the void, along the room and across it round beams, ducts,
    luminaires and columns, down the wall at its end; from a table or lectern under the floor;
    between two walls along their foot. To that come 3 m of spare cable at a ceiling device and
    1 m at a rack, a table or a wall. Without a processor or a computer to end at, or without its
    place, the length is not assessed. A straight line is never assumed, but for a cord.
    """
    runs = cabling.runs_of(evidence)
    judged = set()
    for microphone in evidence.microphones:
        limit = microphone.product.link.max_length
        found = wiring.run(evidence, microphone, runs)
        stated = stated_link(evidence.room.links, microphone.id)
        at = f"devices.{microphone.id}" if stated is None else f"links.{stated[0]}"
        judged |= set() if stated is None else {stated[0]}
        metres = None if found is None else found.laid.length
        if found is None or metres is None:
            kind = microphone.product.link.kind
            why = f"nothing with a place takes its {kind} link" if found is None else found.says
            yield Draft(
                at=at,
                message=f"The cable of {microphone.id} is not assessed: {why}.",
                limit=limit,
                unit="m",
                remedy="Place what it ends at, or state the link with its length.",
                severity="note",
                status="not-assessed",
            )
        elif metres > limit + TOUCH:
            yield Draft(
                at=at,
                message=(
                    f"The cable from {microphone.id} to {found.to} is "
                    f"{length(evidence, metres)} ({found.says}); its "
                    f"{microphone.product.link.kind} link allows {length(evidence, limit)}."
                ),
                value=metres,
                limit=limit,
                unit="m",
                remedy=(
                    f"Shorten it by {some_length(evidence, metres - limit)}: place {found.to} "
                    "nearer, or another one in between."
                ),
            )
    yield from _others(evidence, [j for j in cabling.cables(evidence) if j.id not in judged])


def _others(evidence: Evidence, several: list[Joined]) -> Iterator[Draft]:
    lost: dict[str, list[Joined]] = {}
    for one in several:
        limit = cabling.longest(evidence, one)
        if limit is None:
            continue
        run = cabling.runs_of(evidence).of_link(one.link)
        cord = None if one.cable is None else one.cable.length
        metres = cord if cord is not None and one.link.length is None else run.length
        if metres is None:
            lost.setdefault(run.how, []).append(one)
        elif metres > limit.length + TOUCH:
            yield _long(evidence, one, metres, run.how, limit)
    for why, links in lost.items():
        yield Draft(
            at=f"links.{links[0].id}",
            message=f"The length of {listed([one.id for one in links])} is not assessed: {why}.",
            unit="m",
            remedy="Place what they end at, or state the length of the links.",
            severity="note",
            status="not-assessed",
        )


def _long(evidence: Evidence, one: Joined, metres: float, how: str, limit: Longest) -> Draft:
    longer = [
        extender.id
        for extender in evidence.catalogue.extenders
        if extender.carries in one.kinds
        and extender.chosen_unnamed
        and extender.max_length >= metres
    ]
    instead = f", or take {listed(longer)}" if longer else ""
    return Draft(
        at=f"links.{one.id}",
        message=(
            f"{one.words} is {length(evidence, metres)} ({how}); {limit.of} "
            f"{length(evidence, limit.length)}."
        ),
        value=metres,
        limit=limit.length,
        unit="m",
        remedy=f"Shorten it by {some_length(evidence, metres - limit.length)}{instead}.",
        source=limit.source,
    )
