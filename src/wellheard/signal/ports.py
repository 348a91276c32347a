"""Ports of everything a document connects: which there are, and which way they pass.

Beside the ports of its product a device has *virtual* ports, places inside it that a stage or a
reference may name:

``far-end``
    What arrives there from the far end, behind the stages that are stated on it. Processors,
    combined devices, computers and codecs have it.
``send``
    What they send to the far end: the mix of the microphones.
``microphone``, ``loudspeaker``
    Capsules and loudspeaker of a combined device.

On a port that goes both ways, ``usb`` or ``network``, a ``volume`` or a ``lift`` works on what goes
towards the room, every other stage on what goes towards the far end.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.ports import Port
from wellheard.catalog.products import AnyProduct, Loudspeaker, Microphone, Processor
from wellheard.errors import CatalogError
from wellheard.room.document import Room
from wellheard.room.equipment import EquipmentKind

_USB = Port(name="usb", kinds=("usb",), signal="audio", flow="both")
_NETWORK = Port(name="network", kinds=("network",), signal="audio", flow="both")
_LINE_OUT = Port(name="line-out", kinds=("unbalanced", "balanced"), signal="line", flow="out")
_LINE_IN = Port(name="line-in", kinds=("unbalanced", "balanced"), signal="line", flow="in")
_PICTURE_OUT = Port(name="hdmi-out", kinds=("hdmi",), signal="picture", flow="out", count=2)
_PICTURE_IN = Port(name="hdmi-in", kinds=("hdmi",), signal="picture", flow="in")
_CONTROL = Port(name="control", kinds=("control",), signal="control", flow="both")

EQUIPMENT_PORTS: Mapping[EquipmentKind, tuple[Port, ...]] = {
    "computer": (_USB, _NETWORK, _LINE_OUT, _PICTURE_OUT),
    "codec": (_USB, _NETWORK, _LINE_IN, _LINE_OUT, _PICTURE_IN, _PICTURE_OUT, _CONTROL),
}
"""Ports of what the customer brings. Of other equipment nothing is known: any name will do."""

DISPLAY_PORTS: tuple[Port, ...] = (replace(_PICTURE_IN, name="hdmi", count=2), _CONTROL)
"""Ports of a display of the furniture."""

UnitKind: TypeAlias = EquipmentKind | Literal["display"]

FAR_END_PORT = "far-end"
SEND_PORT = "send"


@dataclass(frozen=True)
class Unit:
    """A device, a piece of equipment or a display with its ports.

    Parameters
    ----------
    id : str
    product : product or None
        None for equipment and displays.
    equipment : str or None
        Kind of equipment, or display; None for devices.
    ports : mapping of str to Port
        By full name, ``mic-1``; without the virtual ones.
    sorts : mapping of str to tuple of str
        Full names of its ports of one sort, ``mic-1``, ``mic-2`` for ``mic``.
    virtual : tuple of str
    """

    id: str
    product: AnyProduct | None
    equipment: UnitKind | None
    ports: Mapping[str, Port]
    sorts: Mapping[str, tuple[str, ...]]
    virtual: tuple[str, ...]

    @property
    def open(self) -> bool:
        """Whether any port name will do, because nothing is known of it."""
        return self.product is None and self.equipment not in (*EQUIPMENT_PORTS, "display")

    @property
    def has_far_end(self) -> bool:
        """Whether the far end is behind it by itself: a computer or a codec."""
        return self.equipment in EQUIPMENT_PORTS

    @property
    def names(self) -> tuple[str, ...]:
        """Every port that a document may name, the virtual ones last."""
        return (*self.ports, *self.virtual)

    def knows(self, port: str) -> bool:
        """Whether it has such a port."""
        return self.open or port in self.ports or port in self.virtual

    def named(self, base: str) -> tuple[str, ...]:
        """Full names of its ports of one sort."""
        return self.sorts.get(base, ())


def units_of(room: Room, catalogue: Catalogue) -> dict[str, Unit]:
    """Devices, equipment and displays of a document by id; of one name, the first of them.

    Devices whose product is not in the catalogue are left out.
    """
    found: dict[str, Unit] = {
        name: Unit(name, None, "display", _by_name(DISPLAY_PORTS), _by_sort(DISPLAY_PORTS), ())
        for name, item in room.furniture.items()
        if item.kind == "display"
    }
    for name, item in room.equipment.items():
        known = item.kind in EQUIPMENT_PORTS
        ports = EQUIPMENT_PORTS[item.kind] if known else ()
        virtual = (FAR_END_PORT, SEND_PORT) if known else ()
        found[name] = Unit(name, None, item.kind, _by_name(ports), _by_sort(ports), virtual)
    sheets: dict[str, tuple[dict[str, Port], dict[str, tuple[str, ...]], tuple[str, ...]]] = {}
    for name, device in room.devices.items():
        try:
            product = catalogue.product(device.product)
        except CatalogError:
            found.pop(name, None)
            continue
        if product.id not in sheets:
            ports = _ports(product)
            sheets[product.id] = (_by_name(ports), _by_sort(ports), _virtual(product))
        found[name] = Unit(name, product, None, *sheets[product.id])
    return found


def passes_on(product: AnyProduct) -> bool:
    """Whether a processor only passes its microphones on, as a splitter does."""
    return (
        isinstance(product, Processor)
        and product.microphone_ports > 0
        and not (product.canceller or product.automatic_mixer or product.usb)
    )


def plays(product: AnyProduct | None) -> bool:
    """Whether a device has a loudspeaker."""
    return isinstance(product, Loudspeaker) or (
        isinstance(product, Microphone) and product.built_in is not None
    )


def is_amplified(product: AnyProduct | None) -> bool:
    """Whether a device with a loudspeaker needs no amplifier besides."""
    return not isinstance(product, Loudspeaker) or product.active


def split(port: str) -> tuple[str, str]:
    """Device and port of ``device.port``."""
    device, _, name = port.partition(".")
    return device, name


def _ports(product: AnyProduct) -> tuple[Port, ...]:
    if not passes_on(product):
        return product.ports
    into = next(port for port in product.ports if port.name == "mic")
    # What such a device puts out is the very link that it takes in.
    return tuple(
        replace(port, kinds=tuple(dict.fromkeys((*into.kinds, *port.kinds))), signal="microphone")
        if port.name == "line-out"
        else port
        for port in product.ports
    )


def _virtual(product: AnyProduct) -> tuple[str, ...]:
    if isinstance(product, Processor) and not passes_on(product):
        return (FAR_END_PORT, SEND_PORT)
    if isinstance(product, Microphone) and product.built_in is not None:
        return (FAR_END_PORT, SEND_PORT, "microphone", "loudspeaker")
    return ()


def _by_name(ports: tuple[Port, ...]) -> dict[str, Port]:
    return {name: port for port in ports for name in port.names}


def _by_sort(ports: tuple[Port, ...]) -> dict[str, tuple[str, ...]]:
    return {port.name: port.names for port in ports}
