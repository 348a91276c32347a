"""Sheet for the IT department: who is on the network, where, with what traffic and power."""

from __future__ import annotations

import functools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from ipaddress import IPv4Network
from types import MappingProxyType

from wellheard import tables
from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import Amplifier, AnyProduct, Loudspeaker, Microphone, Processor
from wellheard.electrics.streams import stream_bandwidth
from wellheard.room.document import Room
from wellheard.schedules.links import kinds_by_link
from wellheard.schedules.powering import Joint, drawn, joints
from wellheard.signal.ports import split

PLACEHOLDERS = tuple(map(IPv4Network, ("192.0.2.0/24", "198.51.100.0/24", "203.0.113.0/24")))
"""Ranges kept for documentation (RFC 5737): no device may ever be given one of them."""
FIRST_SWITCH, FIRST_DEVICE = 2, 11
"""Last part of the first address of switches, and of all else."""
CLOCK_DSCP, MEDIA_DSCP = 46, 34
"""Marks of packets: EF (RFC 3246) for the clock, AF41 (RFC 2597) for sound, as AES67 recommends,
from memory."""

DECISIONS = (
    "Addresses: fixed, or from DHCP with reservations; range, mask, gateway and names. Those in "
    "this sheet are placeholders out of the ranges kept for documentation (RFC 5737).",
    "A network (VLAN) of its own for sound, and who may reach it: the technician's computer on "
    "port 443, nobody from outside.",
    "Who may join: IEEE 802.1X, by hardware address, or by port. Devices that are powered by the "
    "switch need power before they are known.",
    "Multicast: IGMP snooping on, one querier in the network, no flooding; whether groups may "
    "leave the room's switch (they need not).",
    f"Priority: DSCP {CLOCK_DSCP} (EF) for the clock before DSCP {MEDIA_DSCP} (AF41) for sound "
    "before all else, trusted at the ports of these devices.",
    "Whose switch it is: of this room, or of the building; who looks after it, and who renews "
    "firmware, when, and what is tried out afterwards.",
    "Where records go, and which time server is asked.",
)
"""What the IT department must decide."""
CAUTIONS = (
    "No address of this sheet may be configured: the ranges are for documentation only.",
    "Energy-efficient Ethernet (IEEE 802.3az) off at the ports of networked sound: its pauses "
    "upset the clock.",
    "An unmanaged switch floods multicast to every port, and a wireless bridge loses it: neither "
    "carries networked sound.",
    "Change every password that came with a device; keep settings off guest networks and off the "
    "internet.",
    "Try firmware out in one room before the others; note version and date, and keep the old one.",
    "The microphones of this room hear what is said in it: who can reach the network of sound can "
    "listen. Its people decide whether the streams must be encrypted.",
)


@dataclass(frozen=True)
class KindFacts:
    """What a kind of product does on the network; invented, as the products are.

    Parameters
    ----------
    sends, receives : int
        Channels of one device.
    clock_rank : int or None
        The least leads; None takes no part in the clock.
    access_control, updates : str
    """

    sends: int
    receives: int
    clock_rank: int | None
    access_control: str
    updates: str


@dataclass(frozen=True)
class Protocol:
    """One protocol with its ports, who uses it, and the standard that defines it."""

    id: str
    protocol: str
    transport: str
    ports: str
    addresses: str
    kinds: tuple[str, ...]
    purpose: str
    standard: str


@dataclass(frozen=True)
class NetworkRow:
    """One port on the network.

    Parameters
    ----------
    device, port : str
        Port is empty for the management of a switch.
    what : str
        Name of the product, or kind of equipment.
    kind : str
        Of product or equipment.
    switch_port : str
        ``switch.network-1``; empty where it is on none.
    address : str
        Placeholder (RFC 5737); empty for what has none.
    protocols : tuple of str
        Ids.
    sends, receives : int
        Channels of sound.
    clock : str
        ``leads``, ``follows``, or empty where it takes no part.
    poe_class : int or None
        Of a device that is powered from the network.
    power_w : float or None
        At the device. [W]
    access_control, updates : str
    note : str
    """

    device: str
    port: str
    what: str
    kind: str
    switch_port: str = ""
    address: str = ""
    protocols: tuple[str, ...] = ()
    sends: int = 0
    receives: int = 0
    clock: str = ""
    poe_class: int | None = None
    power_w: float | None = None
    access_control: str = ""
    updates: str = ""
    note: str = ""

    @property
    def sends_bps(self) -> float:
        """Of sound, all headers included, each channel a stream of its own. [bit/s]"""
        return self.sends * stream_bandwidth(1)

    @property
    def receives_bps(self) -> float:
        """Of sound, as it is sent. [bit/s]"""
        return self.receives * stream_bandwidth(1)

    @property
    def bandwidth_bps(self) -> float:
        """In the busier of both directions. [bit/s]"""
        return max(self.sends_bps, self.receives_bps)

    @property
    def multicast(self) -> bool:
        """Whether it sends to groups, or joins some."""
        return bool(self.sends or self.receives)


@dataclass(frozen=True)
class NetworkSheet:
    """The whole sheet.

    Parameters
    ----------
    rows : tuple of NetworkRow
        Switches first, then devices in the document's order, then equipment.
    protocols : tuple of Protocol
        That any of them uses.
    assumed : tuple of str
        What was taken for want of a statement.
    """

    rows: tuple[NetworkRow, ...]
    protocols: tuple[Protocol, ...]
    assumed: tuple[str, ...] = ()

    @property
    def clock(self) -> str:
        """Device that leads the clock; empty where nothing needs one."""
        return next((row.device for row in self.rows if row.clock == "leads"), "")

    @property
    def sends_bps(self) -> float:
        """All streams of sound together: what a port takes that all are flooded to. [bit/s]"""
        return math.fsum(row.sends_bps for row in self.rows)

    @property
    def power_w(self) -> float:
        """Of all devices that are powered from the network. [W]"""
        return math.fsum(row.power_w or 0.0 for row in self.rows)


def network_sheet(room: Room, catalogue: Catalogue) -> NetworkSheet:
    """Return who is on the network of a document; no rows where nobody is.

    Parameters
    ----------
    room : Room
        With its devices, equipment and links.
    catalogue : Catalogue
        That has every product and cable of the document.
    """
    rows = [*_switches(room, catalogue), *_ends(room, catalogue), *_loose(room, catalogue)]
    rows = _clocked(_heard(rows, room, catalogue), room, catalogue)
    order = {name: i for i, name in enumerate((*room.devices, *room.equipment))}
    rows.sort(key=lambda row: (row.kind != "switch", order[row.device], row.port))
    rows = _addressed(rows)
    used = {name for row in rows for name in row.protocols}
    return NetworkSheet(
        rows=tuple(rows),
        protocols=tuple(one for one in protocols() if one.id in used),
        assumed=ASSUMED if any(row.multicast for row in rows) else (),
    )


ASSUMED = (
    "One channel in a stream of its own from each microphone, which every processor takes in; one "
    "channel of playback to loudspeakers, one to each channel of amplifiers; the mix to a "
    "bridge and the far end back from it; packets of 1 ms.",
)


def _switches(room: Room, catalogue: Catalogue) -> Iterator[NetworkRow]:
    for name, device in room.devices.items():
        product = catalogue.product(device.product)
        if product.kind == "switch":
            yield _row(name, "", product)


def _ends(room: Room, catalogue: Catalogue) -> Iterator[NetworkRow]:
    """Both ends of every link that carries the network, but the switches' own."""
    by_link: dict[str, list[Joint]] = {}
    for joint in joints(room, catalogue):
        by_link.setdefault(joint.link, []).append(joint)
    for name, kind in kinds_by_link(room, catalogue).items():
        link = room.links[name]
        if name in by_link:
            for joint in by_link[name]:
                at = f"{joint.switch}.{joint.port}"
                yield _end(room, catalogue, joint.device, joint.device_port, at, "")
        elif kind == "network":
            for here, there in ((link.from_, link.to), (link.to, link.from_)):
                note = f"straight to {there}, through no switch"
                yield _end(room, catalogue, *split(here), "", note)


def _end(room: Room, catalogue: Catalogue, name: str, port: str, at: str, note: str) -> NetworkRow:
    device = room.devices.get(name)
    if device is not None:
        row = _row(name, port, catalogue.product(device.product))
        return replace(row, switch_port=at, note=note)
    item = room.equipment.get(name)
    kind = item.kind if item is not None else "display"
    calls = kind in ("computer", "codec")
    return NetworkRow(
        name,
        port,
        "the customer's" if calls else "to the network of the building",
        kind,
        switch_port=at,
        protocols=tuple(one.id for one in protocols() if kind in one.kinds),
        access_control="as the IT department does it for this computer" if calls else "",
        note=note,
    )


def _loose(room: Room, catalogue: Catalogue) -> Iterator[NetworkRow]:
    """What needs the network for its power and is linked to none."""
    linked = {split(end)[0] for link in room.links.values() for end in (link.from_, link.to)}
    for name, device in room.devices.items():
        product = catalogue.product(device.product)
        if product.powered_from == "network" and name not in linked:
            port = next((one.name for one in product.ports if "network" in one.kinds), "")
            yield replace(_row(name, port, product), note="no link of the document leads to it")


def _row(name: str, port: str, product: AnyProduct) -> NetworkRow:
    facts = kind_facts()[product.kind]
    powered = product.powered_from == "network"
    sounds = _sounds(product)
    channels = product.channels if isinstance(product, Amplifier) else 1
    firmware = product.minimum_firmware
    wanted = f"firmware {firmware} or newer; " if firmware else ""
    return NetworkRow(
        device=name,
        port=port,
        what=product.name,
        kind=product.kind,
        protocols=tuple(
            one.id
            for one in protocols()
            if product.kind in one.kinds
            and (sounds or product.kind == "switch" or "multicast" not in one.addresses)
        ),
        sends=facts.sends if sounds else 0,
        receives=facts.receives * channels if sounds else 0,
        poe_class=product.poe_class if powered else None,
        power_w=drawn(product) if powered else None,
        access_control=facts.access_control,
        updates=f"{wanted}{facts.updates}",
    )


def _sounds(product: AnyProduct) -> bool:
    """Whether it is on the network for sound."""
    if isinstance(product, Microphone):
        return product.link.kind == "network"
    if isinstance(product, Processor | Amplifier):
        return product.network_audio
    return isinstance(product, Loudspeaker) and product.powered_from == "network"


def _heard(rows: Sequence[NetworkRow], room: Room, catalogue: Catalogue) -> list[NetworkRow]:
    """With what processors exchange: microphones, playback, and the way of bridges to computers.

    A processor without ports for microphones is such a bridge: it takes in the mix, and sends what
    the far end says.
    """
    processors = {
        row.device: product
        for row in rows
        if row.sends
        and isinstance(product := catalogue.product(room.devices[row.device].product), Processor)
    }
    bridges = sum(not one.microphone_ports for one in processors.values())
    microphones = sum(row.sends for row in rows if row.kind == "microphone")
    plays = any(row.receives for row in rows)
    mixing = {name for name, one in processors.items() if one.microphone_ports}
    found = []
    for row in rows:
        if row.device in mixing:
            row = replace(row, receives=microphones + bridges, sends=int(plays) + min(bridges, 1))
        elif row.device in processors:
            row = replace(row, receives=1, sends=1) if mixing else replace(row, receives=0)
        found.append(row)
    return found


def _clocked(rows: Sequence[NetworkRow], room: Room, catalogue: Catalogue) -> list[NetworkRow]:
    """With one of them to lead the clock, and all others that need it to follow."""
    ranks: dict[str, tuple[int, bool, str]] = {}
    for row in rows:
        rank = kind_facts()[row.kind].clock_rank if row.multicast else None
        if rank is not None:
            product = catalogue.product(room.devices[row.device].product)
            # Of several processors the one that the room cannot do without.
            beside = not (isinstance(product, Processor) and product.canceller)
            ranks[row.device] = (rank, beside, row.device)
    leader = min(ranks, key=lambda name: ranks[name], default="")
    return [
        replace(row, clock="leads" if row.device == leader else "follows")
        if row.device in ranks
        else row
        for row in rows
    ]


def _addressed(rows: Sequence[NetworkRow]) -> list[NetworkRow]:
    switches = iter(range(FIRST_SWITCH, FIRST_DEVICE))
    others = (
        str(net[host])
        for net in PLACEHOLDERS
        for host in range(FIRST_DEVICE, net.num_addresses - 1)
    )
    known: dict[str, str] = {}
    found = []
    for row in rows:
        if row.kind in ("wall-plate", "entry", "display"):
            found.append(row)
            continue
        key = f"{row.device}.{row.port}" if row.kind != "switch" else row.device
        if key not in known:
            host = next(switches, None) if row.kind == "switch" else None
            known[key] = str(PLACEHOLDERS[0][host]) if host is not None else next(others, "")
        found.append(replace(row, address=known[key]))
    return found


@functools.cache
def kind_facts() -> Mapping[str, KindFacts]:
    """Return what every kind of product does on the network."""
    return MappingProxyType(
        {
            row["kind"]: KindFacts(
                sends=int(row["sends_channels"]),
                receives=int(row["receives_channels"]),
                clock_rank=int(row["clock_rank"]) if row["clock_rank"] else None,
                access_control=row["access_control"],
                updates=row["updates"],
            )
            for row in tables.load("network_kinds").rows
        }
    )


@functools.cache
def protocols() -> tuple[Protocol, ...]:
    """Return the protocols of the table, those that matter most first."""
    return tuple(
        Protocol(
            row["id"],
            row["protocol"],
            row["transport"],
            row["ports"],
            row["addresses"],
            tuple(row["kinds"].split()),
            row["purpose"],
            row["standard"],
        )
        for row in tables.load("network_protocols").rows
    )
