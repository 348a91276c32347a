"""The cables of a document as the rules need them: kind, limit, run, and what hangs on what."""

from __future__ import annotations

import weakref
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias, get_args

from wellheard.catalog.lines import LinkLimit, link_limit
from wellheard.catalog.ports import Port, PortKind, Signal
from wellheard.catalog.products import AnyProduct, Cable, Extender, Loudspeaker, Switch
from wellheard.errors import CatalogError
from wellheard.predict.evidence import Evidence
from wellheard.room.links import Link
from wellheard.schedules.links import LOUDSPEAKER_LINES, kinds_of
from wellheard.schedules.runs import CableRun, Runs
from wellheard.signal.ports import Unit, split

_RUNS: dict[int, tuple[weakref.ref[Evidence], Runs]] = {}


def runs_of(evidence: Evidence) -> Runs:
    """Routes of the document, made once and kept as long as its evidence."""
    known = _RUNS.get(id(evidence))
    if known is not None and known[0]() is evidence:
        return known[1]
    made, key = Runs(evidence.room, evidence.catalogue), id(evidence)
    _RUNS[key] = (weakref.ref(evidence, lambda _: _RUNS.pop(key, None)), made)
    return made


@dataclass(frozen=True)
class Joined:
    """A cable of the document with what is known of it.

    Parameters
    ----------
    id : str
    link : Link
    cable : Cable or None
        None where none is chosen.
    kinds : tuple of str
        Kinds of link that its ends have in common and its cable is for, the usual one first;
        empty where nothing is known.
    ports : tuple of Port
        Of its ends, as far as they are known.
    """

    id: str
    link: Link
    cable: Cable | None
    kinds: tuple[PortKind, ...]
    ports: tuple[Port, ...]

    @property
    def devices(self) -> tuple[str, str]:
        """Devices or equipment at its ends."""
        return split(self.link.from_)[0], split(self.link.to)[0]

    @property
    def words(self) -> str:
        """As a finding names it."""
        return f"Link {self.id} from {self.link.from_} to {self.link.to}"


def cables(evidence: Evidence) -> tuple[Joined, ...]:
    """Every cable of the document, in its order."""
    units = evidence.signal.units
    found = []
    for name, link in evidence.room.links.items():
        ends = [(units.get(split(end)[0]), split(end)[1]) for end in (link.from_, link.to)]
        ports = tuple(
            unit.ports[port] for unit, port in ends if unit is not None and port in unit.ports
        )
        cable = cable_of(evidence, link)
        found.append(Joined(name, link, cable, kinds_of(ports, cable), ports))
    return tuple(found)


def cable_of(evidence: Evidence, link: Link) -> Cable | None:
    """The cable that a link names; None where it names none that the catalogue has."""
    return next((one for one in evidence.catalogue.cables if one.id == link.cable), None)


@dataclass(frozen=True)
class Longest:
    """The longest run that a link allows [m], in whose name, and where that is from."""

    length: float
    of: str
    source: str


def longest(evidence: Evidence, one: Joined) -> Longest | None:
    """What a link may have at most: of its kind, of its cable, of the extender that it is in.

    None where nothing is known of its kind, and for loudspeaker lines without a cable: their loss
    decides.
    """
    extender = _extender(evidence, one)
    if extender is not None:
        return Longest(extender.max_length, f"{extender.id} carries it", "the extender's sheet")
    limits = [found for kind in one.kinds if (found := _usual(kind, one.ports))]
    bounds = []
    if limits and not LOUDSPEAKER_LINES & set(one.kinds):
        # Where the cable is not chosen, the kind that reaches farthest may be.
        best = max(limits, key=lambda limit: limit.length)
        bounds.append(Longest(best.length, f"{_words(one.kinds)} allows", _cited(best)))
    if one.cable is not None and set(one.cable.carries) & set(one.kinds):
        of = f"{one.cable.id} is good for"
        bounds.append(Longest(one.cable.max_length, of, "the cable's sheet"))
    return min(bounds, key=lambda bound: bound.length, default=None)


def _words(kinds: Sequence[PortKind]) -> str:
    named: dict[PortKind, str] = {"unbalanced": "an unbalanced link", "usb": "USB", "hdmi": "HDMI"}
    return named.get(kinds[0], f"a {kinds[0]} link")


def _cited(limit: LinkLimit) -> str:
    return f"{limit.says}; {limit.source} [{limit.trust}]"


def _usual(kind: PortKind, ports: Sequence[Port]) -> LinkLimit | None:
    signals: list[Signal] = [port.signal for port in ports] or list(get_args(Signal))
    found = [limit for signal in signals if (limit := link_limit(kind, signal))]
    return max(found, key=lambda limit: limit.length, default=None)


def _extender(evidence: Evidence, one: Joined) -> Extender | None:
    """The extender whose long run a link is."""
    for end in (one.link.from_, one.link.to):
        device, port = split(end)
        product = evidence.signal.product(device)
        if isinstance(product, Extender) and (
            port.startswith("run") or product.over == product.carries
        ):
            return product
    return None


def span(run: CableRun) -> float:
    """What a cord has to span at the least. [m]"""
    return run.along + run.rises


@dataclass(frozen=True)
class Powered:
    """A device that takes its power from the network.

    Parameters
    ----------
    id : str
    product : product
    power_class : int or None
    switch : str or None
        That it is linked to; None where it is linked to none.
    link : str
        Id of that link; empty where there is none.
    """

    id: str
    product: AnyProduct
    power_class: int | None
    switch: str | None
    link: str = ""

    @property
    def path(self) -> str:
        """Where a finding about its cable points to."""
        return f"links.{self.link}" if self.link else f"devices.{self.id}"


def switches(evidence: Evidence) -> dict[str, Switch]:
    """Switches of the document."""
    products = ((name, unit.product) for name, unit in evidence.signal.units.items())
    return {name: product for name, product in products if isinstance(product, Switch)}


def on_network(evidence: Evidence) -> dict[str, dict[str, str]]:
    """Links of each switch: what they lead to, by the id of the link."""
    found: dict[str, dict[str, str]] = {name: {} for name in switches(evidence)}
    for name, link in evidence.room.links.items():
        for here, there in ((link.from_, link.to), (link.to, link.from_)):
            if split(here)[0] in found:
                found[split(here)[0]][name] = split(there)[0]
    return found


def powered(evidence: Evidence) -> tuple[Powered, ...]:
    """Devices that take their power from the network, in the document's order."""
    leads = {
        device: (switch, link)
        for switch, links in on_network(evidence).items()
        for link, device in links.items()
    }
    found = []
    for name, unit in evidence.signal.units.items():
        product = unit.product
        if product is None or product.powered_from != "network":
            continue
        switch, link = leads.get(name, (None, ""))
        found.append(Powered(name, product, product.poe_class, switch, link))
    return tuple(found)


@dataclass(frozen=True)
class Hung:
    """A loudspeaker on an amplifier's output.

    Parameters
    ----------
    link : Joined
    device : str
    product : Loudspeaker
    units : float
        Of the loudspeaker, that this cable feeds: a pair on one cable is two.
    """

    link: Joined
    device: str
    product: Loudspeaker
    units: float


def hung(evidence: Evidence) -> dict[str, tuple[Hung, ...]]:
    """Loudspeakers without amplifiers of their own by the output that their links lead to."""
    units = evidence.signal.units
    ways = [(far, end, one) for one in cables(evidence) for far, end in _feeds(one.link, units)]
    number: dict[str, int] = {}
    for _, end, _ in ways:
        number[split(end)[0]] = number.get(split(end)[0], 0) + 1
    found: dict[str, list[Hung]] = {}
    for far, end, one in ways:
        device = split(end)[0]
        product = units[device].product
        assert isinstance(product, Loudspeaker)
        share = product.units / min(number[device], product.units)
        found.setdefault(far, []).append(Hung(one, device, product, share))
    return {port: tuple(several) for port, several in found.items()}


def _feeds(link: Link, units: Mapping[str, Unit]) -> Iterator[tuple[str, str]]:
    """Output and input of a link to a loudspeaker that its amplifier drives."""
    for far, end in ((link.from_, link.to), (link.to, link.from_)):
        unit = units.get(split(end)[0])
        product = None if unit is None else unit.product
        if isinstance(product, Loudspeaker) and not product.active:
            yield far, end


Housed: TypeAlias = tuple[tuple[str, AnyProduct], ...]
"""Devices in one place, with their products."""


def housed(evidence: Evidence) -> dict[str, Housed]:
    """Devices of each rack, table box and other equipment that houses some."""
    found: dict[str, list[tuple[str, AnyProduct]]] = {}
    for name, device in evidence.room.devices.items():
        if device.equipment is None or device.equipment not in evidence.room.equipment:
            continue
        try:
            product = evidence.catalogue.product(device.product)
        except CatalogError:
            continue
        found.setdefault(device.equipment, []).append((name, product))
    return {place: tuple(several) for place, several in found.items()}
