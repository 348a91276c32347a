"""Cables of the document that stay, and the ports that they hold."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from wellheard.catalog.products import (
    Amplifier,
    Cable,
    Extender,
    Loudspeaker,
    Microphone,
    Processor,
    Switch,
)
from wellheard.room.document import Room
from wellheard.room.links import Link
from wellheard.signal.fitting import Misfit, misfit
from wellheard.signal.ports import Unit, split


@dataclass(frozen=True)
class Kept:
    """Links that stay: locked ones, and those of a sort that wiring does not lay.

    Parameters
    ----------
    links : mapping of str to Link
    units : mapping of str to Unit
    """

    links: Mapping[str, Link]
    units: Mapping[str, Unit]

    def others(self, port: str) -> tuple[str, ...]:
        """Ports at the other ends of the cables on a port."""
        return tuple(
            there
            for link in self.links.values()
            for here, there in ((link.from_, link.to), (link.to, link.from_))
            if here == port
        )

    def of(self, device: str) -> tuple[tuple[str, str], ...]:
        """Cables of a device: its port, and the port at the other end."""
        return tuple(
            (here, there)
            for link in self.links.values()
            for here, there in ((link.from_, link.to), (link.to, link.from_))
            if split(here)[0] == device
        )

    def end(self, port: str) -> str:
        """Where the cables that stay lead from a port, extenders passed; the port if nowhere."""
        for _ in range(len(self.links) + 1):
            others = self.others(port)
            if not others:
                return port
            device, name = split(others[0])
            unit = self.units.get(device)
            if unit is None or not isinstance(unit.product, Extender):
                return others[0]
            port = f"{device}.{'far' if name == 'near' else 'near'}"
        return port

    def joins(self, one: str, other: str) -> bool:
        """Whether a cable that stays joins two devices."""
        return any(split(there)[0] == other for _, there in self.of(one))

    def misfits(self, cables: Iterable[Cable]) -> Iterator[tuple[str, Link, Misfit]]:
        """Cables that stay and make no connection, with what does not fit."""
        known = tuple(cables)
        for name, link in self.links.items():
            wrong = self._nowhere(link) or misfit(link, self.units, known)
            if wrong is not None:
                yield name, link, wrong

    def _nowhere(self, link: Link) -> Misfit | None:
        for end in (link.from_, link.to):
            device, port = split(end)
            unit = self.units.get(device)
            if unit is not None and not unit.open and port not in unit.ports:
                return Misfit(f"{device} has no port {port}", "Name a port that it has.")
        return None

    def is_taken(self, port: str) -> bool:
        """Whether a cable that stays is on a port."""
        return bool(self.others(port))


def kept(room: Room, units: Mapping[str, Unit]) -> Kept:
    """Links of a document that wiring leaves as they are.

    An unlocked link is only a hint where wiring lays such cables itself: from microphones, to
    loudspeakers and amplifiers, between processors, on switches and extenders, from USB ports to
    computers, of pictures and cameras. What brings a programme, say, stays.
    """
    return Kept(
        {n: one for n, one in room.links.items() if one.locked or not _is_ours(one, units)}, units
    )


def _is_ours(link: Link, units: Mapping[str, Unit]) -> bool:
    one, other = (units.get(split(port)[0]) for port in (link.from_, link.to))
    if one is None or other is None:
        return False
    ports = (split(link.from_)[1], split(link.to)[1])
    pair = (one, other)
    if any(isinstance(u.product, Microphone | Loudspeaker | Switch | Extender) for u in pair):
        return True
    if all(isinstance(u.product, Processor | Amplifier) for u in pair):
        return True
    if any(u.equipment == "camera" for u in pair) or any(u.equipment == "display" for u in pair):
        return any(u.has_far_end for u in pair) and "control" not in ports
    return "usb" in ports and any(isinstance(u.product, Processor) for u in pair)
