"""The wiring of a room as a diagram: its devices, equipment and pictures, and their links."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Protocol

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import (
    Amplifier,
    AnyProduct,
    Extender,
    Loudspeaker,
    Microphone,
    Switch,
)
from wellheard.drawings.diagram.model import Box, End, Link, Port, System
from wellheard.errors import CatalogError
from wellheard.room import links as room_links
from wellheard.room.document import Room
from wellheard.schedules.labels import numbers
from wellheard.schedules.planes import FAR_BOX
from wellheard.signal.graph import Graph, graph
from wellheard.signal.ports import Unit, split
from wellheard.units import format_length, format_run

KIND_WORDS = {
    "twisted-pair": "twisted pair",
    "balanced": "balanced",
    "unbalanced": "unbalanced",
    "network": "network",
    "usb": "USB",
    "hdmi": "HDMI",
    "low-impedance": "loudspeaker",
    "constant-voltage": "loudspeaker line",
}
EQUIPMENT_WORDS = {
    "rack": "rack",
    "table-box": "table box",
    "wall-plate": "wall plate",
    "entry": "cable entry",
    "computer": "computer",
    "codec": "codec",
    "camera": "camera",
    "other": "equipment",
}
NOT_THERE = "not in the document"
OUTSIDE = "far end"
"""Box of the computer that a document leaves out."""
FAR = " far"
"""What the far box of an extender has behind the name of its device, which no name may have."""
SOURCE, HUB, SWITCH, AMPLIFIER, END = range(5)
_SOURCES = ("camera",)
_ENDS = ("computer", "codec", "wall-plate", "entry")


class Run(Protocol):
    """What a run of cable has to say: its length. [m]"""

    @property
    def length(self) -> float | None:
        """None where it is not known."""


class Lengths(Protocol):
    """Whoever knows how long the cable of a link is."""

    def of_link(self, link: room_links.Link) -> Run:
        """Run of a link, stated or worked out."""


def system_of(
    room: Room,
    catalogue: Catalogue,
    *,
    links: Graph | None = None,
    runs: Lengths | None = None,
) -> System:
    """Boxes and links of a room's wiring.

    Parameters
    ----------
    room : Room
        Its devices, equipment and links.
    catalogue : Catalogue
        With the products of its devices.
    links : Graph, optional
        Of the same room; made where it is not given.
    runs : Lengths, optional
        Says how long cables are whose length the document leaves open.

    Returns
    -------
    System
        Every device with all that is linked to it, stated and assumed; computers, codecs and
        cameras, linked or not; other equipment and pictures where a link ends at them. Only ports
        that a link ends at are on a box.
    """
    return _Drawing(room, catalogue, links or graph(room, catalogue), runs).system()


@dataclass(frozen=True, slots=True)
class _Wire:
    start: str
    end: str
    label: str
    kind: str
    both: bool
    assumed: bool
    id: str = ""


@dataclass
class _Drawing:
    room: Room
    catalogue: Catalogue
    graph: Graph
    runs: Lengths | None
    wires: list[_Wire] = field(default_factory=list)

    def system(self) -> System:
        self.wires += self._stated()
        self.wires += self._assumed()
        used: dict[str, dict[str, None]] = {}
        for wire in self.wires:
            for port in (wire.start, wire.end):
                box, name = self._end(port)
                used.setdefault(box, {})[name] = None
        boxes = [self._box(name, used.get(name, {})) for name in self._names(used)]
        links = tuple(
            Link(
                wire.id or f"assumed {number}",
                self._end(wire.start),
                self._end(wire.end),
                wire.label,
                wire.kind,
                wire.both,
                wire.assumed,
            )
            for number, wire in enumerate(self.wires)
        )
        return System(tuple(boxes), links)

    # Links

    def _stated(self) -> Iterator[_Wire]:
        number = numbers(self.room.links)
        for name, link in self.room.links.items():
            kind = self._kind(link)
            length = link.length
            if length is None and self.runs is not None:
                length = self.runs.of_link(link).length
            parts = [number[name], KIND_WORDS.get(kind, kind.replace("-", " "))]
            if length is not None:
                parts.append(format_run(length, unit=self.room.units))
            start, end, both = self._directed(link.from_, link.to)
            label = " · ".join(part.replace(" ", "\u00a0") for part in parts if part)
            yield _Wire(start, end, label, kind, both, assumed=False, id=name)

    def _assumed(self) -> Iterator[_Wire]:
        linked = {port for link in self.room.links.values() for port in (link.from_, link.to)}
        joined = {frozenset(_devices(link.from_, link.to)) for link in self.room.links.values()}
        found: dict[frozenset[str], _Wire] = {}
        for start, end in self.graph.assumed_cables:
            start, end = (port if "." in port else f"{OUTSIDE}.usb" for port in (start, end))
            pair = frozenset((start, end))
            if pair in found:
                found[pair] = self._assumed_wire(start, end, both=True)
            elif start in linked and end in linked:
                continue  # Both have their cables: what is assumed is a way over a switch.
            elif frozenset(_devices(start, end)) in joined and not self._physical(start, end):
                continue  # Comes over a cable that is there.
            else:
                found[pair] = self._assumed_wire(start, end, both=False)
        yield from found.values()

    def _assumed_wire(self, start: str, end: str, *, both: bool) -> _Wire:
        kind = self._common_kind(start, end)
        start, end, two_way = self._directed(start, end)
        label = " · ".join(part for part in ("assumed", KIND_WORDS.get(kind, kind)) if part)
        return _Wire(start, end, label.replace(" ", "\u00a0"), kind, both or two_way, assumed=True)

    def _physical(self, *ports: str) -> bool:
        return all(self._port(port) is not None for port in ports)

    def _port(self, port: str) -> object | None:
        device, name = split(port)
        unit = self.graph.units.get(device)
        return None if unit is None else unit.ports.get(name)

    def _kind(self, link: room_links.Link) -> str:
        """What runs in a link: what both ports take, else what its cable carries."""
        between = self._common_kinds(link.from_, link.to)
        carried: tuple[str, ...] = ()
        if link.cable is not None:
            try:
                carried = self.catalogue.cable(link.cable).carries
            except CatalogError:
                carried = ()
        both = [kind for kind in between if kind in carried]
        return next(iter((*both, *between, *carried)), "")

    def _common_kind(self, start: str, end: str) -> str:
        return next(iter(self._common_kinds(start, end)), "")

    def _common_kinds(self, start: str, end: str) -> tuple[str, ...]:
        known = [set(kinds) for port in (start, end) if (kinds := self._kinds(port))]
        if not known:
            return ()
        common = set.intersection(*known)
        first = self._kinds(start) or self._kinds(end)
        return tuple(kind for kind in first if kind in common)

    def _kinds(self, port: str) -> tuple[str, ...]:
        device, name = split(port)
        unit = self.graph.units.get(device)
        return unit.ports[name].kinds if unit is not None and name in unit.ports else ()

    def _flow(self, port: str) -> str:
        device, name = split(port)
        unit = self.graph.units.get(device)
        if unit is None or name not in unit.ports:
            return ""
        if isinstance(unit.product, Loudspeaker):
            return "in"  # also one on the network: what runs back is no sound
        return unit.ports[name].flow

    def _directed(self, one: str, other: str) -> tuple[str, str, bool]:
        """Start and end of a cable by which way its ports pass, and whether both ways."""
        flows = self._flow(one), self._flow(other)
        if flows[0] == "in" or flows[1] == "out":
            one, other = other, one
            flows = flows[::-1]
        two_way = {*flows} == {"both"} or (set(flows) <= {"both", ""} and "both" in flows)
        return one, other, two_way

    # Boxes

    def _end(self, port: str) -> End:
        """Box and port: what an extender has at its far end is a box of its own."""
        device, name = split(port)
        return End(f"{device}{FAR}" if name in FAR_BOX and self._paired(device) else device, name)

    def _paired(self, device: str) -> bool:
        """Whether it is an extender of two boxes, which a cable of their own joins."""
        unit = self.graph.units.get(device)
        product = None if unit is None else unit.product
        return isinstance(product, Extender) and product.over != product.carries

    def _names(self, used: Iterable[str]) -> list[str]:
        """Boxes in the order in which they are laid out: devices, equipment, pictures, others."""
        always = [
            n for n, e in self.room.equipment.items() if e.kind in ("computer", "codec", "camera")
        ]
        names = dict.fromkeys([*self.room.devices, *always])
        names |= dict.fromkeys(used)
        return list(names)

    def _box(self, name: str, used: dict[str, None]) -> Box:
        device = device_of(name)
        unit, paired = self.graph.units.get(device), self._paired(device)
        rank = self._rank(name, unit)
        return Box(
            id=name,
            lines=tuple(self._lines(name) if device == name else self._far_lines(device)),
            ports=tuple(_ports(unit, used)),
            rank=rank,
            first=rank == SOURCE,
            last=rank == END and not paired,
            assumed=device not in self.room.devices
            and device not in self.room.equipment
            and device not in self.room.furniture,
        )

    def _lines(self, name: str) -> Iterator[str]:
        yield name
        room = self.room
        if name in room.devices:
            device = room.devices[name]
            yield device.product
            if device.equipment is not None:
                yield f"in {device.equipment}"
            elif device.at is not None:
                yield f"{format_length(device.at[2], unit=room.units)} above the floor"
            else:
                yield "place not known"
        elif name in room.equipment:
            item = room.equipment[name]
            if EQUIPMENT_WORDS[item.kind] != name:
                yield EQUIPMENT_WORDS[item.kind]
            yield f"{format_length(item.at[2], unit=room.units)} above the floor"
        elif name in room.furniture:
            piece = room.furniture[name]
            yield (
                f"{piece.kind}, on {piece.wall}"
                if piece.kind in ("display", "screen")
                else piece.kind
            )
        else:
            yield NOT_THERE

    def _far_lines(self, device: str) -> Iterator[str]:
        yield f"{device}{FAR}"
        yield self.room.devices[device].product
        for link in self.room.links.values():
            for here, there in ((link.from_, link.to), (link.to, link.from_)):
                if here == f"{device}.{FAR_BOX[0]}":
                    yield f"at {split(there)[0]}"
                    return
        yield "place not known"

    def _rank(self, name: str, unit: Unit | None) -> int:
        if name == OUTSIDE or name in self.room.furniture:
            return END
        if name in self.room.equipment and (unit is None or unit.product is None):
            kind = self.room.equipment[name].kind
            return SOURCE if kind in _SOURCES else END if kind in _ENDS else HUB
        # What joins things that are far apart stands between them, in whichever column they are.
        product = unit.product if unit is not None else None
        return END if self._paired(device_of(name)) else _rank_of(product)


def device_of(box: str) -> str:
    """Device, equipment or furniture that a box is, or is a part of.

    Examples
    --------
    >>> device_of("x1 far"), device_of("m1")
    ('x1', 'm1')
    """
    return box.removesuffix(FAR)


def _rank_of(product: AnyProduct | None) -> int:
    if isinstance(product, Microphone):
        return SOURCE
    if isinstance(product, Loudspeaker):
        return END
    if isinstance(product, Amplifier):
        return AMPLIFIER
    return SWITCH if isinstance(product, Switch) else HUB


def _ports(unit: Unit | None, used: Iterable[str]) -> Iterator[Port]:
    """Ports that are used, as the product numbers them; numbered ones of a sort stay in order."""
    known = list(unit.ports) if unit is not None else []
    place = {name: k for k, name in enumerate(known)}
    for name in sorted(used, key=lambda n: (place.get(n, len(known)), n)):
        numbered = re.fullmatch(r"(.+)-\d+", name)
        yield Port(name, group=numbered[1] if numbered else "")


def _devices(*ports: str) -> list[str]:
    return [split(port)[0] for port in ports]
