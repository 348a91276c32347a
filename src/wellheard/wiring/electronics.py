"""Processors, amplifiers and switches: those that are there, and those that may be bought."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from wellheard.acoustics.line import wire_resistance
from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import (
    Amplifier,
    AnyProduct,
    Extender,
    Microphone,
    Processor,
    Switch,
)
from wellheard.electrics import poe
from wellheard.schedules.powering import drawn
from wellheard.signal.ports import Unit, split
from wellheard.wiring.buying import bought_sites, buyable
from wellheard.wiring.kept import Kept
from wellheard.wiring.setting import Setting
from wellheard.wiring.task import (
    STAYS,
    AmplifierSite,
    Hub,
    NetworkNeed,
    Site,
    SwitchSite,
    Way,
)
from wellheard.wiring.ways import Ways

FOUR_PAIRS_FROM = 5
"""Class from which all four pairs carry power (IEEE 802.3bt)."""
LEAST_VOLTAGE = {1: 44.0, 2: 44.0, 3: 44.0, 4: 50.0, 5: 50.0, 6: 50.0, 7: 52.0, 8: 52.0}
"""At a port that supplies each class (IEEE 802.3, types 1 to 4, via open tables). [V]"""
POWER_AWG = 24
"""Gauge that losses are reckoned with; thicker wires lose less."""
LONGEST_CHANNEL = 100.0
"""Of twisted pair, cords included (ANSI/TIA-568.2-D, via open texts). [m]"""
MOST_AMPLIFIERS = 32
"""Of one product that are bought for one room."""


def is_hub(product: AnyProduct | None) -> bool:
    """Whether microphones end at it: a processor that cancels their echo."""
    return isinstance(product, Processor) and product.canceller and product.microphone_ports > 0


class Electronics:
    """Sites of one room."""

    def __init__(
        self,
        setting: Setting,
        units: Mapping[str, Unit],
        kept: Kept,
        ways: Ways,
        catalogue: Catalogue,
    ) -> None:
        self.setting = setting
        self.units = units
        self.kept = kept
        self.ways = ways
        self.catalogue = catalogue
        self.choices = setting.room.choices
        self._amplifiers: dict[str, AmplifierSite] = {}

    def _there(self, unit: Unit) -> Site:
        device = self.setting.room.devices[unit.id]
        return Site(
            key=unit.id,
            product=device.product,
            place=unit.id,
            there=True,
            cents=0,
            most=1,
            counts=not (device.owned or device.locked),
        )

    def spare_extenders(self) -> dict[str, tuple[int, int]]:
        """Extenders that no cable that stays is on: owned or locked ones, and others."""
        found: dict[str, tuple[int, int]] = {}
        for unit in self.units.values():
            if isinstance(unit.product, Extender) and not self.kept.of(unit.id):
                site = self._there(unit)
                mine, others = found.get(site.product, (0, 0))
                found[site.product] = (mine + (not site.counts), others + site.counts)
        return found

    # Hubs

    def hubs(self, microphones: int, *, wanted: bool) -> tuple[Hub, ...]:
        """Processors that end microphones; none where nothing wants one."""
        if not wanted:
            return ()
        found = [self._hub_there(unit) for unit in self.units.values() if is_hub(unit.product)]
        for product in buyable(self.catalogue.processors, self.choices):
            if not is_hub(product):
                continue
            most = max(1, math.ceil(microphones / product.microphone_ports))
            for site in bought_sites(product, self.setting, self.catalogue, most=most):
                computer, end = (
                    self._to_computer(f"{site.place}.usb", product) if product.usb else (None, "")
                )
                found.append(
                    Hub(
                        site=site,
                        microphones=product.microphone_ports,
                        line_inputs=product.line_inputs,
                        outputs=product.outputs,
                        network=product.network_audio,
                        computer=computer,
                        computer_end=end,
                        power=self._network_power(product),
                    )
                )
        # Loudspeakers that hang on one of them by cables that stay hear the far end only there.
        plays = [hub for hub in found if hub.site.there and self._plays(hub.site.key)]
        if any(hub.computer is not None for hub in plays):
            found = [hub if hub in plays else replace(hub, computer=None) for hub in found]
        return tuple(found)

    def _hub_there(self, unit: Unit) -> Hub:
        product = unit.product
        assert isinstance(product, Processor)
        computer, end = None, ""
        out = next((p for p in self.kept.of(unit.id) if self._is_way_out(p)), None)
        if out is not None:
            computer, end = STAYS, out[1]
        elif product.usb and not self.kept.is_taken(f"{unit.id}.usb"):
            computer, end = self._to_computer(f"{unit.id}.usb", product)
        network = [port for port in unit.named("network")]
        return Hub(
            site=self._there(unit),
            microphones=sum(self._takes_microphone(f"{unit.id}.{n}") for n in unit.named("mic")),
            line_inputs=sum(self._joins_hubs(f"{unit.id}.{n}") for n in unit.named("line-in")),
            outputs=self._outputs(unit),
            network=bool(network) and self._on_switch(f"{unit.id}.network"),
            computer=computer,
            computer_end=end,
            power=self._network_power(product) if network else (0, 0),
        )

    def _network_power(self, product: Processor | Amplifier) -> tuple[int, int]:
        """Class, and what a switch keeps for it on the longest channel. [mW]"""
        if product.powered_from != "network" or not product.network_audio:
            return 0, 0
        number = product.poe_class or 0
        return number, self.power_kept(product, number, LONGEST_CHANNEL)

    def _is_way_out(self, cable: tuple[str, str]) -> bool:
        here, _ = cable
        end = self.units.get(split(self.kept.end(here))[0])
        name = split(here)[1]
        return (
            end is not None
            and end.has_far_end
            and (name in ("usb", "network") or name.startswith("line-out"))
        )

    def _takes_microphone(self, port: str) -> bool:
        end = self.units.get(split(self.kept.end(port))[0])
        return not self.kept.is_taken(port) or (
            end is not None and isinstance(end.product, Microphone)
        )

    def _joins_hubs(self, port: str) -> bool:
        return not self.kept.is_taken(port) or any(
            self._product(other) is not None and is_hub(self._product(other))
            for other in self.kept.others(port)
        )

    def _product(self, port: str) -> AnyProduct | None:
        unit = self.units.get(split(port)[0])
        return None if unit is None else unit.product

    def _plays(self, device: str) -> bool:
        return any(
            getattr(self._product(there), "kind", "") in ("loudspeaker", "amplifier")
            for here, there in self.kept.of(device)
            if split(here)[1].startswith("line-out")
        )

    def _outputs(self, unit: Unit) -> int:
        """Free ones, and one that plays already: an output may feed several inputs."""
        free = sum(self._joins_hubs(f"{unit.id}.{n}") for n in unit.named("line-out"))
        return free + int(self._plays(unit.id))

    def _on_switch(self, port: str) -> bool:
        others = self.kept.others(port)
        return not others or any(isinstance(self._product(p), Switch) for p in others)

    def _to_computer(self, port: str, product: Processor) -> tuple[Way | None, str]:
        """Cheapest cable from a USB port to a computer or codec."""
        fed = product.powered_from == "usb"
        found: list[tuple[Way, str]] = []
        for unit in self.units.values():
            if unit.has_far_end:
                way = self.ways.way("usb", "audio", port, f"{unit.id}.usb", powered=fed)
                if isinstance(way, Way):
                    found.append((way, f"{unit.id}.usb"))
        return min(
            found,
            key=lambda one: (one[0].cents, one[0].electronics, one[0].millimetres),
            default=(None, ""),
        )

    def between_hubs(self, hubs: Sequence[Hub]) -> dict[tuple[str, str], tuple[Way, Way]]:
        """Both cables of each hub that may hang on each that may be the root."""
        found = {}
        for branch in hubs:
            for root in hubs:
                alone = branch is root and root.site.most == 1
                if not branch.branches or root.computer is None or alone:
                    continue
                there = self._line(branch.site, "line-out", root.site, "line-in")
                back = self._line(root.site, "line-out", branch.site, "line-in")
                if there is not None and back is not None:
                    found[branch.site.key, root.site.key] = (there, back)
        return found

    def _line(self, one: Site, out: str, other: Site, into: str) -> Way | None:
        for here, there in self.kept.of(one.key) if one.there and other.there else ():
            if split(there)[0] == other.key and split(here)[1].startswith(out):
                return STAYS
        way = self.ways.way("balanced", "line", f"{one.place}.{out}", f"{other.place}.{into}")
        return way if isinstance(way, Way) else None

    # Amplifiers

    def amplifiers(self, units: int) -> tuple[AmplifierSite, ...]:
        """Power amplifiers, where so many units of loudspeakers want one."""
        if not units:
            return ()
        found = [self._amplifier_there(u) for u in self.units.values() if _amplifies(u)]
        for product in buyable(self.catalogue.amplifiers, self.choices):
            most = min(units, MOST_AMPLIFIERS)
            for site in bought_sites(product, self.setting, self.catalogue, most=most):
                power = self._network_power(product)
                found.append(
                    AmplifierSite(site, product.channels, product.network_audio, False, power)
                )
        self._amplifiers = {one.site.key: one for one in found}
        return tuple(found)

    def _amplifier_there(self, unit: Unit) -> AmplifierSite:
        product = unit.product
        assert isinstance(product, Amplifier)
        channels = sum(not self.kept.is_taken(f"{unit.id}.{n}") for n in unit.named("out"))
        fed = any(self.kept.is_taken(f"{unit.id}.{n}") for n in unit.named("in"))
        network = product.network_audio and self._on_switch(f"{unit.id}.network")
        power = self._network_power(product) if network else (0, 0)
        return AmplifierSite(self._there(unit), channels, network, fed, power)

    def site(self, key: str) -> AmplifierSite:
        """Amplifier site of a key."""
        return self._amplifiers[key]

    def amplifier(self, site: AmplifierSite) -> Amplifier:
        """Product of a site."""
        product = self.catalogue.product(site.site.product)
        assert isinstance(product, Amplifier)
        return product

    def to_amplifiers(
        self, amplifiers: Sequence[AmplifierSite], hubs: Sequence[Hub]
    ) -> dict[tuple[str, str], Way]:
        """Line of one channel from each hub that may be the root."""
        found = {}
        for one in amplifiers:
            for hub in hubs:
                if hub.computer is None or not hub.outputs:
                    continue
                way = self.ways.way(
                    "balanced", "line", f"{hub.site.place}.line-out", f"{one.site.place}.in"
                )
                if isinstance(way, Way):
                    found[one.site.key, hub.site.key] = way
        return found

    # Switches

    def switches(
        self, needs: Sequence[NetworkNeed], *, extra: int, fed: int = 0
    ) -> tuple[SwitchSite, ...]:
        """Switches, as many of each as so many devices could want.

        ``fed`` processors and amplifiers besides may take their power from them. Where sound is on
        the network, none is bought that cannot be set for it, as long as another may be.
        """
        found = [
            self._switch_there(unit)
            for unit in self.units.values()
            if isinstance(unit.product, Switch)
        ]
        powered = sum(bool(need.power_class) for need in needs) + fed
        offered = buyable(self.catalogue.switches, self.choices)
        if any(need.of != "other" for need in needs):
            offered = tuple(one for one in offered if one.managed) or offered
        for product in offered:
            by_port = math.ceil((len(needs) + extra + fed) / max(product.network_ports - 2, 1))
            by_power = math.ceil(powered / product.poe_ports) if product.poe_ports else 0
            copies = max(by_port, by_power) + 1
            for site in bought_sites(product, self.setting, self.catalogue, most=1):
                found += [
                    self._switch(product, replace(site, key=f"{site.key}#{k}"))
                    for k in range(1, copies + 1)
                ]
        return tuple(found)

    def _switch(self, product: Switch, site: Site, *, taken: int = 0) -> SwitchSite:
        building, end = self._to_building(f"{site.place}.network")
        ports = product.network_ports - taken
        return SwitchSite(
            site=site,
            ports=ports,
            powered_ports=min(product.poe_ports, ports),
            power_class=product.supplies_class or 0,
            budget_mw=round(1000 * product.poe_budget_w),
            building=building,
            building_end=end,
        )

    def _switch_there(self, unit: Unit) -> SwitchSite:
        product = unit.product
        assert isinstance(product, Switch)
        cables = self.kept.of(unit.id)
        up = next((there for _, there in cables if self._is_building(there)), None)
        others = sum(
            not self._is_building(there) and self._product(there) is None for _, there in cables
        )
        made = self._switch(product, self._there(unit), taken=others)
        return made if up is None else replace(made, building=STAYS, building_end=up)

    def _is_building(self, port: str) -> bool:
        unit = self.units.get(split(port)[0])
        return unit is not None and unit.equipment in ("wall-plate", "entry")

    def _to_building(self, port: str) -> tuple[Way, str]:
        found = []
        for name, item in self.setting.room.equipment.items():
            if item.kind in ("wall-plate", "entry"):
                way = self.ways.way("network", "data", port, f"{name}.network")
                if isinstance(way, Way):
                    found.append((way, f"{name}.network"))
        return min(found, key=lambda one: (one[0].cents, one[0].millimetres), default=(STAYS, ""))

    def hub_to_switch(
        self, hubs: Sequence[Hub], places: Sequence[str]
    ) -> dict[tuple[str, str], Way]:
        """Network cable of each hub that has a port for it."""
        return dict(self._joins([hub.site for hub in hubs if hub.network], places))

    def amplifier_to_switch(
        self, amplifiers: Sequence[AmplifierSite], places: Sequence[str]
    ) -> dict[tuple[str, str], Way]:
        """Network cable of each amplifier that has a port for it."""
        return dict(self._joins([one.site for one in amplifiers if one.network], places))

    def _joins(
        self, sites: Sequence[Site], places: Sequence[str]
    ) -> Iterator[tuple[tuple[str, str], Way]]:
        for site in sites:
            stays = [
                split(there)[0]
                for here, there in (self.kept.of(site.key) if site.there else ())
                if split(here)[1] == "network"
            ]
            for place in places:
                if stays:
                    if place in stays:
                        yield (site.key, place), STAYS
                    continue
                way = self.ways.way("network", "audio", f"{site.place}.network", f"{place}.network")
                if isinstance(way, Way):
                    yield (site.key, place), way

    def between_switches(self, switches: Sequence[SwitchSite]) -> dict[tuple[str, str], Way]:
        """Cable of each switch that hangs on another."""
        found = {}
        for one in switches:
            for first in switches:
                if one is first:
                    continue
                if (
                    one.site.there
                    and first.site.there
                    and self.kept.joins(one.site.key, first.site.key)
                ):
                    found[one.site.key, first.site.key] = STAYS
                    continue
                way = self.ways.way(
                    "network", "data", f"{one.site.place}.network", f"{first.site.place}.network"
                )
                if isinstance(way, Way):
                    found[one.site.key, first.site.key] = way
        return found

    def power_kept(self, product: AnyProduct, power_class: int, length: float) -> int:
        """What a switch keeps for a device: a reserve, or what its cable loses if more. [mW]"""
        if not power_class:
            return 0
        resistance = poe.loop_resistance(
            length,
            per_metre=wire_resistance(POWER_AWG),
            pairs=4 if power_class >= FOUR_PAIRS_FROM else 2,
        )
        taken = drawn(product)
        at_port = poe.port_power(taken, voltage=LEAST_VOLTAGE[power_class], resistance=resistance)
        return math.ceil(1000 * max(poe.RESERVE * taken, at_port) - 1e-6)


def _amplifies(unit: Unit) -> bool:
    return isinstance(unit.product, Amplifier)
