"""Loudspeakers that nothing drives."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.catalog.products import Amplifier, Loudspeaker
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence
from wellheard.signal.ports import split


@rule(
    "loudspeaker-without-amplifier",
    "warning",
    strength="product",
    cites="the loudspeaker has no amplifier of its own",
)
def loudspeaker_without_amplifier(evidence: Evidence) -> Iterator[Draft]:
    """Every loudspeaker without an amplifier of its own is fed by one of the document.

    Links that the document leaves out go to an amplifier whose outputs are of the loudspeaker's
    kind, low impedance or constant voltage. Whether its power and its channels are enough is not
    judged here. What other equipment feeds is not assessed.
    """
    graph = evidence.signal
    amplifiers = [n for n, unit in graph.units.items() if isinstance(unit.product, Amplifier)]
    for one in graph.playing():
        if one.has_own_amplifier or one.amplifier is not None:
            continue
        unit = graph.units[one.loudspeaker]
        assert isinstance(unit.product, Loudspeaker)
        fed = graph.feeding(f"{one.loudspeaker}.in")
        feeder = graph.units.get(split(fed)[0]) if fed else None
        if feeder is not None and feeder.open:
            yield Draft(
                at=f"devices.{one.loudspeaker}",
                message=(
                    f"{one.loudspeaker} is fed by {fed}; whether that is an amplifier is not "
                    "assessed."
                ),
                remedy="Enter it among the devices with a product that describes it.",
                severity="note",
                status="not-assessed",
            )
            continue
        kinds = " or ".join(unit.ports["in"].kinds)
        if not amplifiers:
            why = "no amplifier is in the document"
        elif f"{one.loudspeaker}.in" in _linked(evidence):
            why = f"its cable comes from {fed}" if feeder else "its cable leads to no amplifier"
        else:
            has = "has" if len(amplifiers) == 1 else "have"
            why = f"{listed(amplifiers)} {has} no output for {kinds}"
        yield Draft(
            at=f"devices.{one.loudspeaker}",
            message=f"{one.loudspeaker} has no amplifier of its own, and {why}.",
            remedy=f"Add an amplifier with an output for {kinds}, or take an active loudspeaker.",
        )


def _linked(evidence: Evidence) -> set[str]:
    return {end for link in evidence.room.links.values() for end in (link.from_, link.to)}
