"""Power classes of devices against what switches supply."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.catalog.power import power_classes
from wellheard.checks import cabling
from wellheard.checks.cabling import Powered
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence


@rule(
    "poe-class-exceeded",
    "error",
    strength="product",
    cites="power classes of IEEE 802.3, via open tables [L]",
)
def poe_class_exceeded(evidence: Evidence) -> Iterator[Draft]:
    """Every device that takes its power from the network is on a port that has its class.

    A port of a lower class does not start a device of a higher one, or starts it with less than it
    needs. A device without a link takes a port of any switch of the document; without a switch its
    power is not assessed, and neither is it where a device's class is unknown or its link leads to
    something of which nothing is known.
    """
    switches = cabling.switches(evidence)
    best = max((one.supplies_class or 0 for one in switches.values()), default=None)
    unknown: list[Powered] = []
    for one in cabling.powered(evidence):
        linked = any(split_end == one.id for split_end in _linked(evidence))
        if one.power_class is None or (one.switch is None and (best is None or linked)):
            unknown.append(one)
            continue
        has = best if one.switch is None else (switches[one.switch].supplies_class or 0)
        assert has is not None
        if has >= one.power_class:
            continue
        where = one.switch or listed(list(switches))
        supplies = f"class {has}" if has else "no power"
        wanted = power_classes()[one.power_class]
        yield Draft(
            at=one.path,
            message=(
                f"{one.id} takes class {one.power_class} from the network, {wanted.supplied_w:g} W "
                f"at the port; {where} supplies {supplies}."
            ),
            value=float(one.power_class),
            limit=float(has),
            remedy=(
                f"Take a switch that supplies class {one.power_class} or higher, or a power "
                "injector of that class in its cable."
            ),
        )
    if unknown:
        names = listed([one.id for one in unknown])
        yield Draft(
            at=unknown[0].path,
            message=f"Power from the network for {names} is not assessed: {_why(unknown)}.",
            remedy="Add the switch to the document and link the device to it.",
            severity="note",
            status="not-assessed",
        )


def _linked(evidence: Evidence) -> Iterator[str]:
    for link in evidence.room.links.values():
        yield link.from_.partition(".")[0]
        yield link.to.partition(".")[0]


def _why(unknown: list[Powered]) -> str:
    if all(one.power_class is None for one in unknown):
        return "its class is not known"
    return "no switch of the document is known to feed it"
