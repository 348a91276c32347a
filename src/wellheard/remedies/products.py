"""Another product in the place of one: a successor, or electronics that can do more."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from itertools import islice

from wellheard.catalog.products import (
    AnyProduct,
    Loudspeaker,
    Microphone,
    Processor,
    Switch,
)
from wellheard.checks.model import Finding
from wellheard.checks.wording import listed
from wellheard.errors import CatalogError
from wellheard.remedies.model import Change, Makers, Situation
from wellheard.remedies.rewrites import EXACT, named
from wellheard.room.devices import Device
from wellheard.room.document import Room

MOST_PRODUCTS = 4
"""Products that are tried in the place of one, the cheapest first."""


def _successor(situation: Situation, finding: Finding) -> Iterator[Change]:
    """What its maker names in the place of a product that cannot be had, wherever it is."""
    room, catalogue = situation.room, situation.catalogue
    device = room.devices.get(named(finding, "devices"))
    if device is None:
        return
    product = catalogue.product(device.product)
    if not product.successor:
        return
    try:
        after = catalogue.product(product.successor)
    except CatalogError:
        return
    if type(after) is not type(product):
        return
    meant = [n for n, d in room.devices.items() if d.product == product.id and not d.owned]
    yield _swapped(situation, meant, product, after)


def _swapped(
    situation: Situation, devices: list[str], before: AnyProduct, after: AnyProduct
) -> Change:
    room = situation.room
    devices_after = {
        name: replaced(room, one, after) if name in devices else one
        for name, one in room.devices.items()
    }
    ports = {
        f"{device}.{old}": f"{device}.{new}"
        for device in devices
        for old, new in same_ports(before, after).items()
    }
    locked = [name for name in devices if room.devices[name].locked]
    note = f"{listed(locked)} stays where it is locked." if locked else ""
    return Change(
        f"Take {after.id} instead of {before.id} for {listed(devices)}.",
        with_ports(room, ports).model_copy(update={"devices": devices_after}),
        note,
    )


def same_ports(before: AnyProduct, after: AnyProduct) -> dict[str, str]:
    """What the ports of a product are called on another, as far as that calls them otherwise.

    A port that is alone of its sort has no number: ``line-out`` is ``line-out-1`` where there are
    four of them.
    """
    theirs = {port.name: port.names for port in after.ports}
    return {
        old: new
        for port in before.ports
        for old, new in zip(port.names, theirs.get(port.name, ()), strict=False)
        if old != new
    }


def with_ports(room: Room, names: Mapping[str, str]) -> Room:
    """Room whose cables and stages use other names of ports, as ``names`` maps them."""

    def now(port: str | None) -> str | None:
        return names.get(port, port) if port else port

    links = {
        key: link.model_copy(update={"from_": now(link.from_), "to": now(link.to)})
        for key, link in room.links.items()
    }
    processing = {
        key: one.model_copy(
            update={
                "on": now(one.on),
                "reference": now(one.reference),
                "sources": tuple(now(port) for port in one.sources),
            }
        )
        for key, one in room.processing.items()
    }
    return room.model_copy(update={"links": links, "processing": processing})


def replaced(room: Room, device: Device, after: AnyProduct) -> Device:
    """The device with another product, hung by the nearest drop that the product has.

    One that is locked keeps its place to the letter.
    """
    change: dict[str, object] = {"product": after.id}
    hanging = isinstance(after, Microphone | Loudspeaker) and after.drops
    if hanging and device.at is not None and not device.locked:
        assert isinstance(after, Microphone | Loudspeaker)
        height = room.space.height
        below = height - device.at[2]
        if below <= max(after.drops) + 0.5:
            drop = min(after.drops, key=lambda one: (abs(one - below), one))
            change["at"] = (device.at[0], device.at[1], round(height - drop, EXACT))
    return device.model_copy(update=change)


def _cheapest(
    situation: Situation, device: str, wanted: Callable[[AnyProduct], bool]
) -> Iterator[Change]:
    """Current products of the same kind that can do more, in the place of one that is not locked.

    `choices` hold as they do for placement and wiring: what they exclude is not taken, and where
    they name any of a kind, only these.
    """
    room, catalogue = situation.room, situation.catalogue
    stated = room.devices.get(device)
    if stated is None or stated.locked or stated.owned:
        return
    before = catalogue.product(stated.product)
    named_ = {name for name in room.choices.allow if type(catalogue.product(name)) is type(before)}
    found = [
        one
        for one in catalogue.products
        if type(one) is type(before)
        and one.id != before.id
        and one.id not in room.choices.exclude
        and (one.id in named_ if named_ else one.chosen_unnamed)
        and stated.kind in one.device_kinds
        and wanted(one)
    ]
    for one in islice(sorted(found, key=lambda p: (p.price, p.id)), MOST_PRODUCTS):
        yield _swapped(situation, [device], before, one)


def _canceller(situation: Situation, finding: Finding) -> Iterator[Change]:
    """A processor whose canceller has the tail and the loss that are wanted, wired as before."""
    one = next(
        (e for e in situation.evidence.echo if e.microphone == named(finding, "devices")), None
    )
    if one is None or one.canceller is None:
        return
    device = one.canceller.partition(".")[0]
    before = situation.catalogue.product(situation.room.devices[device].product)
    if not isinstance(before, Processor):
        return
    tail, loss_db = one.tail or 0.0, before.canceller_loss_db or 0.0

    def better(other: AnyProduct) -> bool:
        return (
            isinstance(other, Processor)
            and other.canceller
            and (other.canceller_tail > tail or (other.canceller_loss_db or 0.0) > loss_db)
            and other.microphone_ports >= before.microphone_ports
            and set(before.port_kinds) <= set(other.port_kinds)
            and other.usb >= before.usb
        )

    yield from _cheapest(situation, device, better)


def _switch(situation: Situation, finding: Finding) -> Iterator[Change]:
    """A switch that has all that the present one has, and what it lacks."""
    device = named(finding, "devices")
    stated = situation.room.devices.get(device)
    if stated is None:
        return
    before = situation.catalogue.product(stated.product)
    if not isinstance(before, Switch):
        return

    def more(other: AnyProduct) -> bool:
        return (
            isinstance(other, Switch)
            and other.network_ports >= before.network_ports
            and other.poe_budget_w >= before.poe_budget_w
            and other.managed >= before.managed
        )

    yield from _cheapest(situation, device, more)


def _louder(situation: Situation, finding: Finding) -> Iterator[Change]:
    """A loudspeaker of the same sort that plays what is asked of this one."""
    device = named(finding, "devices")
    stated = situation.room.devices.get(device)
    if stated is None or finding.value is None:
        return
    before, asked = situation.catalogue.product(stated.product), finding.value
    if not isinstance(before, Loudspeaker):
        return

    def plays(other: AnyProduct) -> bool:
        return (
            isinstance(other, Loudspeaker)
            and other.active == before.active
            and other.units == before.units
            and set(before.mountings) <= set(other.mountings)
            and other.max_level_db >= asked
        )

    yield from _cheapest(situation, device, plays)


MAKERS: Makers = {
    "echo-loss-missed": (_canceller,),
    "loudspeaker-headroom": (_louder,),
    "network-ports-exceeded": (_switch,),
    "poe-budget-exceeded": (_switch,),
    "poe-class-exceeded": (_switch,),
    "product-discontinued": (_successor,),
    "switch-unmanaged": (_switch,),
    "tail-too-short": (_canceller,),
}
