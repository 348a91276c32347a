"""From an answer to devices, links and processing of the document."""

from __future__ import annotations

import math
from dataclasses import dataclass

from wellheard.catalog.products import Processor
from wellheard.room.devices import Device
from wellheard.schedules.labels import natural_order
from wellheard.signal.ports import split
from wellheard.wiring import cancelling, reasons
from wellheard.wiring.answer import Answer
from wellheard.wiring.asking import Stage
from wellheard.wiring.bench import Bench
from wellheard.wiring.program import PLAIN, Group, group_of, named
from wellheard.wiring.task import Feed, Hub, Site, Task, Way
from wellheard.wiring.wired import Proof, Wired

STEMS = {"processor": "p", "amplifier": "a", "switch": "sw"}


def write(task: Task, answer: Answer) -> Wired:
    """Devices, links and processing that an answer means.

    Those of one product in one place are alike: microphones fill their ports in the document's
    order, loudspeakers their channels, network devices their switches.
    """
    stage = task.stage
    assert isinstance(stage, Stage)
    return _Writing(task, answer, stage).wired()


@dataclass(frozen=True)
class _Joining:
    """What joins a switch: what it wants of a port, its own port, its cable."""

    group: Group
    port: str
    way: Way


@dataclass
class _Writing:
    task: Task
    answer: Answer
    stage: Stage

    def __post_init__(self) -> None:
        reused: dict[tuple[str, int], int] = {}
        for product, cents, whose in self.answer.of("reused"):
            number = self.answer.number("reused", product, cents, whose)
            reused[product, int(cents)] = reused.get((product, int(cents)), 0) + number
        self.bench = Bench(self.stage, reused=reused)
        self.hubs: dict[str, list[str]] = {}
        self.on_network: list[tuple[str, str, str]] = []
        """Site, device and port of hubs and amplifiers on the network."""
        self.root = ""
        self.ends: dict[str, str] = {}
        """Hub of each microphone."""

    def wired(self) -> Wired:
        """Everything, in the order in which sockets are taken."""
        self._hubs()
        self._microphones()
        self._computer()
        self._branches()
        self._loudspeakers()
        self._switches()
        self._straight()
        return self._made()

    def _copies(self, kind: str, site: Site) -> list[str]:
        """Ids of the devices of a site that are used."""
        number = self.answer.number(kind, site.key)
        if site.there:
            return [site.key] if number else []
        product = self.stage.catalogue.product(site.product)
        return [
            self.bench.buy(
                STEMS[kind if kind != "hub" else "processor"],
                product.device_kinds[0],
                site.product,
                site.place,
                site.cents,
            )
            for _ in range(number)
        ]

    def _hub(self, key: str) -> Hub:
        return next(one for one in self.task.hubs if one.site.key == key)

    # Microphones to hubs

    def _hubs(self) -> None:
        for hub in self.task.hubs:
            mine = self._copies("hub", hub.site)
            self.hubs[hub.site.key] = mine
            # The root is the first of its site, and those on the network are the first.
            joined = self.answer.number("on-network", hub.site.key)
            self.on_network += [(hub.site.key, one, f"{one}.network") for one in mine[:joined]]
        if self.answer.root:
            self.root = self.hubs[self.answer.root][0]
        self.bench.used |= {one for mine in self.hubs.values() for one in mine}

    def _microphones(self) -> None:
        for hub in self.task.hubs:
            key = hub.site.key
            mine = [n for n in self.task.microphones if self.answer.number("ends", n.id, key)]
            networked = [need for need in mine if need.network]
            left = {one: hub.microphones for one in self.hubs[key]}
            heard = {device for site, device, _ in self.on_network if site == key}
            for need in networked:
                one = next(d for d, n in left.items() if n and d in heard)
                left[one] -= 1
                self.ends[need.id] = one
            for need in mine:
                if need.network:
                    continue
                one = next(d for d, n in left.items() if n)
                left[one] -= 1
                self.ends[need.id] = one
                way = need.ways[key]
                socket = (
                    self.bench.free(one, hub.site.product, "mic", start=need.port)
                    if way.legs
                    else "mic"
                )
                self.bench.lay("microphone", need.port, f"{one}.{socket}", way)

    def _computer(self) -> None:
        if not self.root:
            return
        hub = self._hub(self.answer.root)
        assert hub.computer is not None
        self.bench.lay("computer", f"{self.root}.usb", hub.computer_end, hub.computer)

    def _branches(self) -> None:
        """Each branch sends its mix to the root, and hears from it what the far end says."""
        if not self.root:
            return
        root_site = self._hub(self.answer.root).site
        for hub in self.task.hubs:
            ways = self.task.between_hubs.get((hub.site.key, root_site.key))
            if ways is None:
                continue
            for one in self.hubs[hub.site.key]:
                if one == self.root:
                    continue
                sockets = [
                    self.bench.free(one, hub.site.product, "line-out"),
                    self.bench.free(self.root, root_site.product, "line-in"),
                    self.bench.free(self.root, root_site.product, "line-out", last=True),
                    self.bench.free(one, hub.site.product, "line-in"),
                ]
                self.bench.lay("line", f"{one}.{sockets[0]}", f"{self.root}.{sockets[1]}", ways[0])
                self.bench.lay("line", f"{self.root}.{sockets[2]}", f"{one}.{sockets[3]}", ways[1])

    # Loudspeakers

    def _loudspeakers(self) -> None:
        products = dict.fromkeys(need.product for need in self.task.passive)
        zones = {product: k for k, product in enumerate(products)}
        # Pairs first: the two of one then hang on one amplifier.
        feeds = sorted(self.task.feeds, key=lambda feed: -self._units(feed.loudspeaker))
        for amplifier in self.task.amplifiers:
            key = amplifier.site.key
            copies = self._copies("amplifier", amplifier.site)
            joined = copies[: self.answer.number("on-network", key)]
            self.on_network += [(key, one, f"{one}.network") for one in joined]
            heard = copies[: self.answer.number(amplifier.heard, key)]
            product = self.stage.catalogue.product(amplifier.site.product)
            outs = next(port for port in product.ports if port.name == "out").names
            channels = [
                (one, out, out.replace("out", "in", 1))
                for one in copies
                for out in outs
                if f"{one}.{out}" not in self.bench.taken
            ]
            for feed in feeds:
                if feed.amplifier != key:
                    continue
                mine = self._hang(feed, channels)
                lines = [] if amplifier.fed else [c for c in mine if c[0] not in heard]
                if not lines:
                    continue
                out = self._plays(zones[feed.loudspeaker])
                way = self.task.to_amplifier[key, self.answer.root]
                for one, _, into in lines:
                    self.bench.lay("line", out, f"{one}.{into}", way)
        for need in self.task.line:
            if self.answer.number("lined", need.id, self.answer.root):
                out = self._plays(len(zones))
                self.bench.lay("line", out, need.port, need.ways[self.answer.root])

    def _units(self, product: str) -> int:
        return next(need.units for need in self.task.passive if need.product == product)

    def _hang(self, feed: Feed, channels: list[tuple[str, str, str]]) -> list[tuple[str, str, str]]:
        """Hang the loudspeakers of a feed on as few channels as will do, evenly."""
        needs = [
            need for need in self.task.passive if self.answer.number("hangs", need.id, feed.key)
        ]
        units = [need for need in needs for _ in range(need.units)]
        if not units:
            return []
        number = math.ceil(len(units) / feed.per_channel)
        mine = [channels.pop(0) for _ in range(number)]
        for k, need in enumerate(units):
            one, out, _ = mine[k * number // len(units)]
            self.bench.lay("loudspeaker", f"{one}.{out}", need.port, need.ways[feed.key])
        if feed.tap_w is not None:
            names = ", ".join(need.id for need in needs)
            self.bench.said[f"The tap of {names} is set to {feed.tap_w:g} W."] = None
        return mine

    def _plays(self, zone: int) -> str:
        """Output of the root for each zone, a product or all line level; the last for the rest."""
        hub = self._hub(self.answer.root)
        product = self.stage.catalogue.product(hub.site.product)
        outs = next(port for port in product.ports if port.name == "line-out").names
        branches = {
            one.start for one in self.bench.laid if split(one.end)[1].startswith("line-in")
        } | {
            port
            for link in self.stage.kept.links.values()
            for port, other in ((link.from_, link.to), (link.to, link.from_))
            if split(other)[1].startswith("line-in")
        }
        able = [f"{self.root}.{out}" for out in outs if f"{self.root}.{out}" not in branches]
        if not able:
            able = [f"{self.root}.{outs[0]}"]
        return able[min(zone, len(able) - 1)]

    # The network

    def _switches(self) -> None:
        copies = {
            one.site.key: ids[0]
            for one in self.task.switches
            if (ids := self._copies("switch", one.site))
        }
        waiting = self._waiting()
        for switch in self.task.switches:
            device = copies.get(switch.site.key)
            if device is None:
                continue
            groups = [one.group for one in waiting.get(switch.site.place, ())]
            # What takes power first: the ports that supply it are the first.
            for group in sorted(dict.fromkeys(groups), reverse=True):
                self._carry(device, switch.site, group, waiting[switch.site.place])
        for switch in self.task.switches:
            device = copies.get(switch.site.key, "")
            if self.answer.number("first", switch.site.key):
                self._building(device, switch.site.product, switch.building_end, switch.site.key)
            for first in self.task.switches:
                if self.answer.number("behind", switch.site.key, first.site.key):
                    other = copies[first.site.key]
                    here = self.bench.free(device, switch.site.product, "network", last=True)
                    there = self.bench.free(other, first.site.product, "network", last=True)
                    way = self.task.between_switches[switch.site.key, first.site.key]
                    start, end = sorted((f"{device}.{here}", f"{other}.{there}"), key=natural_order)
                    self.bench.lay("network", start, end, way)

    def _waiting(self) -> dict[str, list[_Joining]]:
        """Devices that join the switches of each place, with their port and cable."""
        found: dict[str, list[_Joining]] = {}
        for need in self.task.network:
            for place, way in need.ways.items():
                if self.answer.number("joins", need.id, place):
                    joining = _Joining(group_of(need), need.port, way)
                    found.setdefault(place, []).append(joining)
        power = {one.site.key: one.power for one in self.task.hubs}
        power |= {one.site.key: one.power for one in self.task.amplifiers}
        for kind, ways in (
            ("hub-joins", self.task.hub_to_switch),
            ("amplifier-joins", self.task.amplifier_to_switch),
        ):
            left = list(self.on_network)
            for (key, place), way in ways.items():
                mine = [one for one in left if one[0] == key]
                for one in mine[: self.answer.number(kind, key, place)]:
                    left.remove(one)
                    found.setdefault(place, []).append(_Joining(power.get(key, PLAIN), one[2], way))
        return found

    def _carry(self, device: str, site: Site, group: Group, waiting: list[_Joining]) -> None:
        for _ in range(self.answer.number("carries", *named(group), site.key)):
            one = next(one for one in waiting if one.group == group)
            waiting.remove(one)
            socket = self.bench.free(device, site.product, "network", start=one.port)
            self.bench.lay("network", one.port, f"{device}.{socket}", one.way)

    def _building(self, device: str, product: str, end: str, key: str) -> None:
        if not end:
            self.bench.said[
                f"The document has no wall plate and no entry: where {device} meets the network of "
                "the building is not known, and that cable is not counted."
            ] = None
            return
        switch = next(one for one in self.task.switches if one.site.key == key)
        socket = self.bench.free(device, product, "network", last=True)
        self.bench.lay("network", f"{device}.{socket}", end, switch.building)

    # The rest

    def _straight(self) -> None:
        outputs: dict[str, int] = {}
        for need in self.task.straight:
            for end, way in need.ways.items():
                if not self.answer.number("straight", need.port, end):
                    continue
                if need.sort == "picture":
                    outputs[end] = outputs.get(end, 0) + 1
                    self.bench.lay("picture", f"{end}-{outputs[end]}", need.port, way)
                else:
                    system = "camera" if need.sort == "camera" else "computer"
                    self.bench.lay(system, need.port, end, way)

    def _made(self) -> Wired:
        bench, stage, task, answer = self.bench, self.stage, self.task, self.answer
        if not self.root:
            self._leave_hubs()
        links = bench.links()
        dropped = self._dropped()
        equipment = {
            name: item
            for name, item in stage.setting.room.equipment.items()
            if name not in stage.stated.equipment and name in bench.used
        }
        housed = {
            name: stage.setting.room.devices[name]
            for name, device in stage.stated.devices.items()
            if name not in dropped and stage.setting.room.devices[name] != device
        }
        placed = {d.equipment for d in housed.values()}
        equipment |= {
            name: item
            for name, item in stage.setting.room.equipment.items()
            if name in placed and name not in stage.stated.equipment
        }
        said = [
            sentence
            for path, sentence in stage.setting.said.items()
            if path.partition(".")[2] in {*equipment, *housed}
        ]
        said += [f"{name} is left out: nothing needs it." for name in dropped]
        devices: dict[str, Device] = {**housed, **bench.devices}
        cents = round(100 * sum(part.amount for part in bench.parts))
        loose = reasons.joining_nothing(stage)
        joined = {name: link for name, link in links.items() if name not in loose}
        processing = cancelling.processing(
            stage, joined, devices, equipment, dropped, root=self.root
        )
        unwired = (*loose.values(), *reasons.unwired(task, answer))
        return Wired(
            links=links,
            devices=devices,
            equipment=equipment,
            processing=processing,
            dropped=dropped,
            price=cents / 100,
            currency=stage.stated.project.currency,
            parts=tuple(
                sorted(bench.parts, key=lambda part: (part.id in links, natural_order(part.id)))
            ),
            proof=Proof(
                status="infeasible" if unwired and answer.status == "optimal" else answer.status,
                scope=task.scope,
                bound=answer.bound / 100,
                gap=max(answer.cents - answer.bound, 0) / 100,
            ),
            assumed=(*said, *task.assumed, *bench.sentences()),
            unwired=unwired,
            electronics=answer.electronics,
            cable=answer.millimetres / 1000,
            basis={f"equipment.{name}": "assumed" for name in equipment},
        )

    def _leave_hubs(self) -> None:
        """Where nothing wants a hub yet, its stated cables stay as they are."""
        stated = self.stage.stated.links
        ours = {n: one for n, one in stated.items() if n not in self.stage.kept.links}
        laid = {port for one in self.bench.laid for port in (one.start, one.end)}
        kept = {
            name: link
            for name, link in ours.items()
            if all(not self._is_wired(port) for port in (link.from_, link.to))
            and not laid & {link.from_, link.to}
        }
        for name, link in kept.items():
            self.bench.used |= {split(link.from_)[0], split(link.to)[0]}
            self.bench.stays[name] = link

    def _is_wired(self, port: str) -> bool:
        unit = self.stage.units.get(split(port)[0])
        product = None if unit is None else unit.product
        return product is not None and not isinstance(product, Processor)

    def _dropped(self) -> tuple[str, ...]:
        """Electronics that nothing needs: not owned, not locked, no stage stated on them."""
        room = self.stage.stated
        stages = {
            split(port)[0]
            for stage in room.processing.values()
            for port in (stage.on, stage.reference or "", *stage.sources)
        }
        kinds = {"amplifier", "switch", "extender"} | ({"processor"} if self.root else set())
        return tuple(
            name
            for name, device in room.devices.items()
            if self.stage.catalogue.product(device.product).kind in kinds
            and not (device.owned or device.locked)
            and name not in self.bench.used
            and name not in stages
        )
