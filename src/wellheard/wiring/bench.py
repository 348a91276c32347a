"""The wired document while it is written: ids, sockets, cables and prices."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from wellheard.catalog.products import Extender
from wellheard.room.devices import Device
from wellheard.room.links import Link
from wellheard.schedules.labels import natural_order
from wellheard.signal.ports import split
from wellheard.units import format_run
from wellheard.wiring.asking import Stage
from wellheard.wiring.task import Leg, Way
from wellheard.wiring.wired import Part

SYSTEMS = (
    "microphone",
    "computer",
    "line",
    "loudspeaker",
    "network",
    "picture",
    "camera",
)
"""Kinds of system, in the order of the schedule."""


MOST_NAMED = 3
"""Of cables of which the same was taken to be so, as many are named."""


@dataclass(frozen=True)
class Laid:
    """A cable before it has its id."""

    system: str
    start: str
    end: str
    leg: Leg


@dataclass
class Bench:
    """Where the document is put together."""

    stage: Stage
    devices: dict[str, Device] = field(default_factory=dict)
    laid: list[Laid] = field(default_factory=list)
    parts: list[Part] = field(default_factory=list)
    said: dict[str, None] = field(default_factory=dict)
    guessed: dict[str, list[str]] = field(default_factory=dict)
    """What was taken to be so of runs, with the port that each leaves."""
    taken: set[str] = field(default_factory=set)
    used: set[str] = field(default_factory=set)
    """Devices of the document that have a cable now, or had one that stays."""
    stays: dict[str, Link] = field(default_factory=dict)
    """Links besides those of `Stage.kept` that are left as they are."""
    reused: dict[tuple[str, int], int] = field(default_factory=dict)
    """Extenders of the document that take the place of a bought one, by product and price."""
    _ids: set[str] = field(default_factory=set)

    def __post_init__(self) -> None:
        room = self.stage.setting.room
        self._ids = {*room.devices, *room.equipment, *room.furniture}
        for link in self.stage.kept.links.values():
            self.taken |= {link.from_, link.to}
            self.used |= {split(link.from_)[0], split(link.to)[0]}

    # Devices

    def new(self, stem: str) -> str:
        """A free id: ``x1``, ``x2``, … for the stem ``x``."""
        number = 1
        while f"{stem}{number}" in self._ids:
            number += 1
        self._ids.add(f"{stem}{number}")
        return f"{stem}{number}"

    def buy(self, stem: str, kind: str, product: str, place: str, cents: int) -> str:
        """Add a device in a rack or table box; its id."""
        name = self.new(stem)
        device = Device.model_validate({"kind": kind, "product": product, "equipment": place})
        self.devices[name] = device
        self.parts.append(Part(name, self.stage.catalogue.product(product).name, cents / 100))
        self.used |= {name, place}
        return name

    # Sockets

    def free(
        self, device: str, product: str, base: str, *, start: str = "", last: bool = False
    ) -> str:
        """First socket of a sort that no cable is on, or the last one; the sort's name if none.

        The one that the document has for a cable from ``start`` goes first.
        """
        for link in self.stage.stated.links.values():
            for here, there in ((link.from_, link.to), (link.to, link.from_)):
                owner, name = split(there)
                known = here == start and owner == device and name.startswith(base)
                if known and there not in self.taken:
                    return name
        for port in self.stage.catalogue.product(product).ports:
            if port.name == base:
                names = port.names[::-1] if last else port.names
                return next((n for n in names if f"{device}.{n}" not in self.taken), base)
        return base

    def take(self, port: str) -> str:
        """Hold a socket."""
        self.taken.add(port)
        return port

    # Cables

    def lay(self, system: str, start: str, end: str, way: Way) -> None:
        """Lay a way between two sockets; nothing where its cables stay."""
        self.used |= {split(start)[0], split(end)[0]}
        for words in way.assumed:
            self.guessed.setdefault(words, []).append(start)
        if not way.legs:
            return
        self.taken |= {start, end}
        if not way.extender:
            self.laid.append(Laid(system, start, end, way.legs[0]))
            return
        box = self._extender(way)
        between = ["near", "far"] if len(way.legs) == 2 else ["near", "run-near", "run-far", "far"]
        if way.turned:
            between.reverse()
        ports = [start, *(f"{box}.{name}" for name in between), end]
        for k, leg in enumerate(way.legs):
            self.laid.append(Laid(system, ports[2 * k], ports[2 * k + 1], leg))

    def _extender(self, way: Way) -> str:
        """A box of the document that nothing uses, else a new one."""
        key = (way.extender, way.extender_cents)
        if self.reused.get(key, 0):
            self.reused[key] -= 1
            devices = self.stage.setting.room.devices.items()
            spare = [
                (not (device.owned or device.locked), name)
                for name, device in devices
                if device.product == way.extender and name not in self.used
            ]
            name = min(spare)[1]
            self.used.add(name)
            return name
        name = self.new("x")
        self.devices[name] = Device.model_validate(
            {
                "kind": "other",
                "product": way.extender,
                "at": way.at,
                "equipment": way.housed or None,
            }
        )
        product = self.stage.catalogue.product(way.extender)
        assert isinstance(product, Extender)
        self.parts.append(Part(name, product.name, way.extender_cents / 100))
        self.used |= {name, way.housed}
        return name

    # The end of it

    def sentences(self) -> tuple[str, ...]:
        """All that was taken to be so of cables and devices."""
        found = list(self.said)
        for words, ports in self.guessed.items():
            some = ", ".join(ports[:MOST_NAMED])
            more = f" and {len(ports) - MOST_NAMED} more" if len(ports) > MOST_NAMED else ""
            found.append(f"{words[:1].upper()}{words[1:]} (from {some}{more}).")
        return tuple(found)

    def links(self) -> dict[str, Link]:
        """Every link of the document: those that stay, then those laid, in the schedule's order.

        One that joins what a stated link joined keeps its id.
        """
        stated = self.stage.stated.links
        stay = {*self.stage.kept.links, *self.stays}
        found = {name: link for name, link in stated.items() if name in stay}
        before = {
            frozenset((link.from_, link.to)): name
            for name, link in stated.items()
            if name not in found
        }
        taken = {*stated}
        number = 0
        order = sorted(
            self.laid,
            key=lambda one: (SYSTEMS.index(one.system), natural_order(one.start), one.end),
        )
        for one in order:
            name = before.get(frozenset((one.start, one.end)), "")
            while not name:
                number += 1
                if f"c{number:02d}" not in taken:
                    name = f"c{number:02d}"
            link: dict[str, Any] = {
                "from": one.start,
                "to": one.end,
                "cable": one.leg.cable,
                "length": round(one.leg.length, 3),
            }
            if one.leg.route:
                link["route"] = [[round(v, 3) for v in corner] for corner in one.leg.route]
            found[name] = Link.model_validate(link)
            self.parts.append(Part(name, self._what(one.leg), one.leg.cents / 100))
        return found

    def _what(self, leg: Leg) -> str:
        cable = self.stage.catalogue.cable(leg.cable)
        if leg.jacket is None:
            return cable.name
        length = format_run(leg.length, unit=self.stage.stated.units)
        return f"{cable.name}, {leg.jacket} jacket, {length}, laid and made up"
