"""What devices take from a switch against what it has for all of them."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks import cabling
from wellheard.checks.cabling import Powered
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.electrics.poe import budget
from wellheard.predict.evidence import Evidence
from wellheard.schedules import powering

CODE = "poe-budget-exceeded"


@rule(CODE, "error", strength="house", cites="", thresholds=(CODE,))
def poe_budget_exceeded(evidence: Evidence) -> Iterator[Draft]:
    """A switch has a fifth more power than the devices on it take.

    The sum is of what the sheets of the devices say, of one that says nothing what its class
    leaves at the device; the reserve is for the cables and for what is added. A device without a
    link counts where the document has one switch.
    """
    switches = cabling.switches(evidence)
    only = next(iter(switches)) if len(switches) == 1 else None
    reserve = evidence.room.targets.limit_in_force(CODE)
    for name, switch in switches.items():
        on = [p for p in cabling.powered(evidence) if (p.switch or only) == name]
        found = budget([drawn(one) for one in on], has=switch.poe_budget_w, reserve=reserve)
        if found.enough:
            continue
        take = "takes" if len(on) == 1 else "take"
        yield Draft(
            at=f"devices.{name}",
            message=(
                f"{listed([one.id for one in on])} {take} {found.drawn:.1f} W from {name}; with a "
                f"reserve of {100 * (reserve - 1):.0f} % that is {found.wanted:.1f} W, and it has "
                f"{found.has:g} W."
            ),
            value=found.wanted,
            limit=found.has,
            unit="W",
            remedy="Take a switch with more power, a second one, or injectors for some of them.",
        )


def drawn(one: Powered) -> float:
    """What a device takes at its end of the cable. [W]"""
    return powering.drawn(one.product)
