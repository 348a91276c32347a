"""Who powers whom over the network: devices, their classes, and the switches that they are on."""

from __future__ import annotations

import math
from dataclasses import dataclass

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.power import power_classes
from wellheard.catalog.products import AnyProduct, Switch
from wellheard.room.document import Room
from wellheard.signal.ports import split


@dataclass(frozen=True)
class Joint:
    """A port of a switch, and what a link joins to it.

    Parameters
    ----------
    switch, port : str
        Of the switch.
    device, device_port : str
        At the other end of the link.
    link : str
    """

    switch: str
    port: str
    device: str
    device_port: str
    link: str


def drawn(product: AnyProduct) -> float:
    """Power at the device: of its sheet, else what its class leaves there. [W]

    Examples
    --------
    >>> drawn(Catalogue.shipped().product("ceiling-array-16"))
    9.5
    """
    if product.power_w > 0 or product.poe_class is None:
        return product.power_w
    return power_classes()[product.poe_class].device_w


def joints(room: Room, catalogue: Catalogue) -> tuple[Joint, ...]:
    """Return every link to a switch, as that switch sees it, in the document's order."""
    switches = {
        name
        for name, device in room.devices.items()
        if isinstance(catalogue.product(device.product), Switch)
    }
    return tuple(
        Joint(*split(here), *split(there), name)
        for name, link in room.links.items()
        for here, there in ((link.from_, link.to), (link.to, link.from_))
        if split(here)[0] in switches
    )


def supplied(room: Room, catalogue: Catalogue) -> dict[str, float]:
    """Return what the devices on each switch take from it, without loss in cables. [W]"""
    found: dict[str, list[float]] = {}
    for joint in joints(room, catalogue):
        device = room.devices.get(joint.device)
        if device is None:
            continue
        product = catalogue.product(device.product)
        if product.powered_from == "network":
            found.setdefault(joint.switch, []).append(drawn(product))
    return {name: math.fsum(powers) for name, powers in found.items()}
