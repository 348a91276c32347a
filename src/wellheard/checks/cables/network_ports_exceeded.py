"""Devices on the network against the ports of the switches."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks import cabling
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence


@rule(
    "network-ports-exceeded",
    "error",
    strength="product",
    cites="ports of the switch, and those of them that supply power",
)
def network_ports_exceeded(evidence: Evidence) -> Iterator[Draft]:
    """Every switch has a port for each cable, and one with power for each device that needs it.

    Cables are those of the document. A device that takes its power from the network and has no
    link counts where there is one switch. The cable to the building counts as any other once it is
    a link.
    """
    switches = cabling.switches(evidence)
    only = next(iter(switches)) if len(switches) == 1 else None
    links = cabling.on_network(evidence)
    devices = cabling.powered(evidence)
    for name, switch in switches.items():
        loose = [one.id for one in devices if one.switch is None and only == name]
        there = [*links[name].values(), *loose]
        fed = [one.id for one in devices if (one.switch or only) == name]
        for what, wanted, has in (
            ("", there, switch.network_ports),
            (" with power", fed, switch.poe_ports),
        ):
            if len(wanted) > has:
                yield Draft(
                    at=f"devices.{name}",
                    message=(
                        f"{name} has {has} ports{what}; {len(wanted)} are wanted, for "
                        f"{listed(wanted)}."
                    ),
                    value=float(len(wanted)),
                    limit=float(has),
                    remedy=f"Take a switch with more ports{what}, or a second one.",
                )
