"""What a rack draws against the circuit that feeds it."""

from __future__ import annotations

import math
from collections.abc import Iterator

from wellheard.catalog.products import Switch
from wellheard.catalog.regions import region_of, regions
from wellheard.checks import cabling
from wellheard.checks.cables.poe_budget_exceeded import drawn
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.electrics.heat import SUPPLY_LOSS, circuit_load
from wellheard.predict.evidence import Evidence


@rule(
    "circuit-overloaded",
    "warning",
    strength="house",
    cites="80 % of a circuit for continuous load (NEC 210.20, from memory [M])",
)
def circuit_overloaded(evidence: Evidence) -> Iterator[Draft]:
    """What one rack or box takes from the mains for hours is within 80 % of a usual circuit.

    The sum is of what the sheets of its devices say, with what its switches send out over the
    network and the tenth of that that their supplies lose; the circuit is the smallest usual one of
    the region: 15 A at 120 V, 16 A or the 13 A of a plug at 230 V. In a region that is not known,
    more than the least of these is not assessed. What is on that circuit besides is not in the
    document. A licensed electrician decides.
    """
    for place, devices in cabling.housed(evidence).items():
        load = _load(evidence, devices)
        region = region_of(evidence.room.site.region)
        known = regions().values() if region is None else (region,)
        most = min(circuit_load(one.mains_voltage, current=one.circuit_current) for one in known)
        if load <= most + 1e-9:
            continue
        names = listed([name for name, _ in devices])
        if region is None:
            yield Draft(
                at="site.region",
                message=(
                    f"{names} in {place} draw up to {load:.0f} W; whether one circuit carries that "
                    "is not assessed: the region is not known."
                ),
                value=load,
                unit="W",
                remedy="Enter site.region, or plan two circuits.",
                severity="note",
                status="not-assessed",
            )
            continue
        yield Draft(
            at=f"equipment.{place}",
            message=(
                f"{names} in {place} draw up to {load:.0f} W; 80 % of "
                f"{region.circuit_current:g} A at {region.mains_voltage:g} V are {most:.0f} VA."
            ),
            value=load,
            limit=most,
            unit="W",
            remedy=(
                "Ask for a larger circuit, or a second one with the same earth, and switch on one "
                "after the other. A licensed electrician decides."
            ),
        )


def _load(evidence: Evidence, devices: cabling.Housed) -> float:
    """Power from the mains, with what switches pass on. [W]"""
    own = [one.power_w for _, one in devices if one.powered_from == "mains"]
    switches = {name for name, one in devices if isinstance(one, Switch)}
    sent = [
        (1 + SUPPLY_LOSS) * drawn(one)
        for one in cabling.powered(evidence)
        if one.switch in switches
    ]
    return math.fsum([*own, *sent])
