"""Networked audio on switches that cannot be set for it."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.catalog.products import Switch
from wellheard.checks import cabling
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence


@rule(
    "switch-unmanaged",
    "warning",
    strength="house",
    cites="multicast filtering and priority for networked audio, common practice, no source [C]",
)
def switch_unmanaged(evidence: Evidence) -> Iterator[Draft]:
    """Networked audio runs over switches that filter multicast and keep its priority.

    One that is not managed floods every stream to every port and lets large files go before
    clocks: sound breaks up when the network is busy. Two devices that speak audio over one switch
    are enough; a single one, and power alone, need no management.
    """
    links = cabling.on_network(evidence)
    for name, switch in cabling.switches(evidence).items():
        audio = [device for device in links[name].values() if _speaks(evidence, device)]
        if switch.managed or len(audio) < 2:
            continue
        yield Draft(
            at=f"devices.{name}",
            message=(
                f"{name} is not managed and carries the audio of {listed(audio)}: it cannot filter "
                "multicast or keep priorities."
            ),
            value=float(len(audio)),
            limit=1.0,
            remedy=(
                "Take a managed switch, with multicast filtering and priority by DSCP set, and a "
                "network of its own for audio."
            ),
        )


def _speaks(evidence: Evidence, device: str) -> bool:
    unit = evidence.signal.units.get(device)
    if unit is None or isinstance(unit.product, Switch):
        return False
    return (
        any(
            "network" in port.kinds and port.signal in ("audio", "microphone")
            for port in unit.ports.values()
        )
        and unit.product is not None
    )
