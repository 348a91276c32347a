"""From a room to its wiring task."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import Extender, Loudspeaker, Microphone, Processor
from wellheard.room.document import Room
from wellheard.signal.matching import needs_port
from wellheard.signal.ports import Unit, split, units_of
from wellheard.wiring import powering
from wellheard.wiring.electronics import Electronics, is_hub
from wellheard.wiring.kept import Kept, kept
from wellheard.wiring.setting import Setting, setting
from wellheard.wiring.task import (
    STAYS,
    AmplifierSite,
    Feed,
    Hub,
    LineNeed,
    MicrophoneNeed,
    NetworkNeed,
    PassiveNeed,
    StraightNeed,
    SwitchSite,
    Task,
    Way,
)
from wellheard.wiring.ways import Ways

PICTURES = 2
"""Displays that a computer or a codec has an output for."""

SCOPE = (
    "Of all ways to join the devices of this document, with its own electronics, those that may be "
    "bought and the cables of the catalogue, by the runs that are estimated here, each loudspeaker "
    "by a cable of its own to a channel that feeds none of another product, none leaves less "
    "unwired; of these none costs less installed; of these none has fewer devices, then less cable."
)


@dataclass(frozen=True)
class Stage:
    """What a task was made from, for writing its answer down.

    Parameters
    ----------
    stated : Room
        As the document has it.
    setting : Setting
        With what wiring adds to it.
    units : mapping of str to Unit
    kept : Kept
    ways : Ways
    """

    stated: Room
    setting: Setting
    units: Mapping[str, Unit]
    kept: Kept
    ways: Ways
    catalogue: Catalogue


def task_of(room: Room, catalogue: Catalogue) -> Task:
    """The wiring task of a room.

    Parameters
    ----------
    room : Room
        Valid; every product of its devices is in the catalogue.
    catalogue : Catalogue
        Where products, cables and prices are looked up.

    Returns
    -------
    Task
        Its `stage` is what `wellheard.wiring.writing` needs to write the answer down.

    Raises
    ------
    CatalogError
        A product is not in the catalogue.
    """
    made = setting(room, catalogue)
    units = units_of(made.room, catalogue)
    stays = kept(room, units)
    ways = Ways(made.room, catalogue)
    return _Asking(Stage(room, made, units, stays, ways, catalogue)).task()


@dataclass
class _Asking:
    stage: Stage

    @property
    def units(self) -> Mapping[str, Unit]:
        return self.stage.units

    @property
    def kept(self) -> Kept:
        return self.stage.kept

    @property
    def ways(self) -> Ways:
        return self.stage.ways

    @cached_property
    def electronics(self) -> Electronics:
        stage = self.stage
        return Electronics(stage.setting, stage.units, stage.kept, stage.ways, stage.catalogue)

    def task(self) -> Task:
        """Needs first, then the electronics that may serve them."""
        waiting = [*self._microphones()]
        passive, line = self._passive(), [*self._line()]
        network = [*self._network()]
        electronics = self.electronics
        hubs = electronics.hubs(len(waiting), wanted=bool(waiting or passive or line or network))
        units = sum(one.units for one in passive.values())
        amplifiers = electronics.amplifiers(units)
        networked = any(one.network for one in amplifiers)
        fed = sum(one.site.most for one in hubs if one.power[0])
        fed += sum(one.site.most for one in amplifiers if one.power[0])
        switches = (
            electronics.switches([need for _, need in network], extra=1 + networked, fed=fed)
            if network or networked or fed
            else ()
        )
        feeds, hung = self._hung(passive, amplifiers)
        places = tuple(dict.fromkeys(one.site.place for one in switches))
        return Task(
            hubs=hubs,
            amplifiers=amplifiers,
            switches=switches,
            microphones=tuple(self._to_hubs(unit, port, hubs) for unit, port in waiting),
            feeds=feeds,
            passive=hung,
            line=tuple(self._to_lines(unit, hubs) for unit in line),
            network=tuple(self._to_switches(unit, need, places) for unit, need in network),
            straight=tuple(self._straight()),
            room_for={f"{one.id}.hdmi-out": PICTURES for one in self._pictures_from()},
            between_hubs=electronics.between_hubs(hubs),
            to_amplifier=electronics.to_amplifiers(amplifiers, hubs),
            hub_to_switch=electronics.hub_to_switch(hubs, places),
            amplifier_to_switch=electronics.amplifier_to_switch(amplifiers, places),
            between_switches=electronics.between_switches(switches),
            spare=self.electronics.spare_extenders(),
            hints=frozenset(
                frozenset((split(link.from_)[0], split(link.to)[0]))
                for link in self.stage.stated.links.values()
            ),
            assumed=tuple(self.assumed),
            scope=SCOPE,
            stage=self.stage,
        )

    @cached_property
    def assumed(self) -> list[str]:
        return []

    # Microphones

    def _microphones(self) -> Iterator[tuple[Unit, str]]:
        """Those for a hub, with the port that is still loose, or the hub's that they are on."""
        for unit in self.units.values():
            if not isinstance(unit.product, Microphone) or not needs_port(unit.product):
                continue
            port = f"{unit.id}.{next(iter(unit.ports))}"
            end = self.kept.end(port)
            device, name = split(end)
            there = self.units.get(device)
            product, kind = None if there is None else there.product, unit.product.link.kind
            carried = isinstance(product, Extender) and product.carries == kind
            if (
                end == port
                or (carried and name in ("near", "far"))
                or (is_hub(product) and there is not None and name in there.named("mic"))
            ):
                yield unit, end
            elif kind == "network" and self._on_switch(end):
                yield unit, port

    def _to_hubs(self, unit: Unit, port: str, hubs: tuple[Hub, ...]) -> MicrophoneNeed:
        product = unit.product
        assert isinstance(product, Microphone)
        kind = unit.ports[next(iter(unit.ports))].kinds[0]
        device = split(port)[0]
        if any(hub.site.key == device for hub in hubs):
            return MicrophoneNeed(unit.id, port, False, {device: STAYS})
        able = [hub for hub in hubs if kind in self._kinds(hub)]
        if kind == "network":
            found = {hub.site.key: STAYS for hub in able if hub.network}
            return MicrophoneNeed(unit.id, port, True, found, _none_of(found, self._no_hub(kind)))
        start, limit = unit.ports[next(iter(unit.ports))], product.link.max_length
        if device != unit.id:
            extender = self.units[device].product
            limit = min(limit, getattr(extender, "max_length", limit))
        ways: dict[str, Way] = {}
        why: list[str] = []
        for hub in able:
            way = self.ways.way(
                kind,
                start.signal,
                port,
                f"{hub.site.place}.mic",
                limit=limit,
                powered=product.powered_from == "link",
            )
            if isinstance(way, Way):
                ways[hub.site.key] = way
            else:
                why.append(way)
        return MicrophoneNeed(
            unit.id, port, False, ways, "" if ways else next(iter(why), self._no_hub(kind))
        )

    def _kinds(self, hub: Hub) -> tuple[str, ...]:
        product = self.stage.catalogue.product(hub.site.product)
        assert isinstance(product, Processor)
        return product.port_kinds

    def _no_hub(self, kind: str) -> str:
        able = [
            one.id
            for one in self.stage.catalogue.processors
            if is_hub(one) and kind in one.port_kinds and one.chosen_unnamed
        ]
        named = f"; {' or '.join(able)} would, if allowed" if able else ""
        return (
            "no processor with an echo canceller that is there, or may be bought, takes its "
            f"{kind} link where it could stand{named}"
        )

    # Loudspeakers

    def _loudspeakers(self) -> Iterator[Unit]:
        """Those that no cable is on that stays."""
        for unit in self.units.values():
            if isinstance(unit.product, Loudspeaker) and not self.kept.of(unit.id):
                yield unit

    def _on_switch(self, port: str) -> bool:
        unit = self.units.get(split(port)[0])
        return unit is not None and unit.product is not None and unit.product.kind == "switch"

    def _passive(self) -> dict[str, Loudspeaker]:
        return {
            unit.id: unit.product
            for unit in self._loudspeakers()
            if isinstance(unit.product, Loudspeaker) and not unit.product.active
        }

    def _line(self) -> Iterator[Unit]:
        for unit in self._loudspeakers():
            product = unit.product
            if isinstance(product, Loudspeaker) and product.active and not _lives_on(unit):
                yield unit

    def _to_lines(self, unit: Unit, hubs: tuple[Hub, ...]) -> LineNeed:
        port = f"{unit.id}.in"
        found, why = self._each(
            {
                hub.site.key: self.ways.way("balanced", "line", port, f"{hub.site.place}.line-out")
                for hub in hubs
                if hub.outputs and hub.computer is not None
            }
        )
        return LineNeed(unit.id, port, found, why or _none_of(found, "nothing plays at line level"))

    def _hung(
        self, passive: Mapping[str, Loudspeaker], amplifiers: tuple[AmplifierSite, ...]
    ) -> tuple[tuple[Feed, ...], tuple[PassiveNeed, ...]]:
        products = {one.id: one for one in passive.values()}
        needed = powering.powers(self.stage.setting.room, passive) if passive else {}
        found: list[Feed] = []
        for product in products.values():
            mine = self._feeds(product, needed[product.id], amplifiers)
            if not mine:
                mine = self._feeds(product, needed[product.id], amplifiers, short=True)
                if mine:
                    self.assumed.append(
                        f"No amplifier that is there or may be bought gives {product.id} the "
                        f"{needed[product.id]:.3g} W that its farthest ear asks for by direct "
                        "sound alone; it is wired to what there is."
                    )
            found += mine
        return tuple(found), tuple(
            self._hangs(name, product, [f for f in found if f.loudspeaker == product.id])
            for name, product in passive.items()
        )

    def _feeds(
        self,
        product: Loudspeaker,
        power: float,
        amplifiers: tuple[AmplifierSite, ...],
        *,
        short: bool = False,
    ) -> list[Feed]:
        return [
            feed
            for one in amplifiers
            for feed in powering.feeds(
                product, power, self.electronics.amplifier(one), one.site.key, short=short
            )
        ]

    def _hangs(self, name: str, product: Loudspeaker, feeds: list[Feed]) -> PassiveNeed:
        port = f"{name}.in"
        asked: dict[str, Way | str] = {}
        for feed in feeds:
            site = self.electronics.site(feed.amplifier)
            asked[feed.key] = self.ways.way(
                "low-impedance" if feed.tap_w is None else "constant-voltage",
                "loudspeaker",
                port,
                f"{site.site.place}.out",
                load=powering.load(feed, product, self.electronics.amplifier(site)),
            )
        found, why = self._each(asked)
        none = f"no amplifier that is there, or may be bought, feeds {product.id}"
        return PassiveNeed(
            name, port, product.id, product.units, found, why or _none_of(found, none)
        )

    def _each(self, asked: Mapping[str, Way | str]) -> tuple[dict[str, Way], str]:
        found = {key: way for key, way in asked.items() if isinstance(way, Way)}
        return found, "" if found else next((w for w in asked.values() if isinstance(w, str)), "")

    # The network

    def _network(self) -> Iterator[tuple[Unit, NetworkNeed]]:
        """What lives on the network, but for hubs and amplifiers, which may."""
        for unit in self.units.values():
            product = unit.product
            if product is None or not _lives_on(unit) or is_hub(product):
                continue
            if product.kind in ("amplifier", "switch"):
                continue
            port = next(name for name, p in unit.ports.items() if "network" in p.kinds)
            others = self.kept.others(f"{unit.id}.{port}")
            if others and not any(map(self._on_switch, others)):
                continue  # it is used for something else
            of = product.kind if isinstance(product, Microphone | Loudspeaker) else "other"
            power_class = (product.poe_class or 0) if product.powered_from == "network" else 0
            need = NetworkNeed(
                unit.id,
                f"{unit.id}.{port}",
                "microphone" if of == "microphone" else of if of == "loudspeaker" else "other",
                power_class,
                0,
                {},
            )
            yield unit, need

    def _to_switches(self, unit: Unit, need: NetworkNeed, places: tuple[str, ...]) -> NetworkNeed:
        assert unit.product is not None
        there = next((split(p)[0] for p in self.kept.others(need.port) if self._on_switch(p)), None)
        if there is not None:
            found, why = {there: STAYS}, ""
        else:
            signal = unit.ports[split(need.port)[1]].signal
            found, why = self._each(
                {
                    place: self.ways.way(
                        "network",
                        signal,
                        need.port,
                        f"{place}.network",
                        powered=need.power_class > 0,
                    )
                    for place in places
                }
            )
        longest = max((way.millimetres / 1000 for way in found.values()), default=0.0)
        return replace(
            need,
            ways=found,
            why_not=why or _none_of(found, "no switch is there, and none may be bought"),
            need_mw=self.electronics.power_kept(unit.product, need.power_class, longest),
        )

    # Cables of their own

    def _straight(self) -> Iterator[StraightNeed]:
        ends = [one for one in self.units.values() if one.has_far_end]
        for unit in self.units.values():
            port = self._usb_of(unit)
            if port and not self.kept.is_taken(port):
                product = unit.product
                limit = product.link.max_length if isinstance(product, Microphone) else None
                sort = "camera" if product is None else "usb"
                found, why = self._each(
                    {
                        f"{end.id}.usb": self.ways.way(
                            "usb",
                            "audio",
                            port,
                            f"{end.id}.usb",
                            limit=limit,
                            powered=product is not None and product.powered_from == "usb",
                        )
                        for end in ends
                    }
                )
                yield StraightNeed(
                    unit.id, port, "camera" if sort == "camera" else "usb", found, why
                )
        for unit in self.units.values():
            if unit.equipment == "display" and not any(
                split(here)[1] in unit.named("hdmi") for here, _ in self.kept.of(unit.id)
            ):
                port = f"{unit.id}.{unit.named('hdmi')[0]}"
                found, why = self._each(
                    {
                        f"{end.id}.hdmi-out": self.ways.way(
                            "hdmi", "picture", f"{end.id}.hdmi-out", port
                        )
                        for end in self._pictures_from()
                    }
                )
                yield StraightNeed(unit.id, port, "picture", found, why)

    def _pictures_from(self) -> tuple[Unit, ...]:
        """The codec where there is one: pictures of the far end come out there."""
        ends = [one for one in self.units.values() if one.has_far_end]
        codecs = tuple(one for one in ends if one.equipment == "codec")
        return codecs or tuple(ends)

    def _usb_of(self, unit: Unit) -> str:
        """Port that goes straight to a computer; empty for none."""
        if unit.equipment == "camera":
            return "" if self.kept.of(unit.id) else f"{unit.id}.usb"
        product = unit.product
        if isinstance(product, Microphone):
            return "" if needs_port(product) else f"{unit.id}.{next(iter(unit.ports))}"
        if isinstance(product, Processor) and product.usb and not is_hub(product):
            return f"{unit.id}.usb"
        return ""


def _lives_on(unit: Unit) -> bool:
    """Whether a device does nothing without a network."""
    product = unit.product
    if product is None:
        return False
    if isinstance(product, Microphone):
        return product.link.kind == "network"
    if isinstance(product, Loudspeaker):
        return product.active and product.powered_from == "network"
    return product.powered_from == "network" and math.isfinite(product.power_w)


def _none_of(found: Mapping[str, Way], why: str) -> str:
    return "" if found else why


def nothing(task: Task) -> bool:
    """Whether there is nothing to wire."""
    return task.wanted == 0


__all__ = ["SCOPE", "Stage", "SwitchSite", "nothing", "task_of"]
