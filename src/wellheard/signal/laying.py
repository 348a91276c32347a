"""Cables of a graph: those that the document states, and those that it leaves out.

What is left out is laid as an engineer would read the document: a microphone goes to a free port
of its kind, what has a USB port goes to the computer, and loudspeakers play what the processor
with the canceller plays. Every such cable carries a sentence that says so.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from wellheard.catalog.ports import SILENT
from wellheard.catalog.products import (
    Amplifier,
    Extender,
    Loudspeaker,
    Microphone,
    Processor,
    Switch,
)
from wellheard.room.document import Room
from wellheard.signal.inside import TO_FAR_END, TO_ROOM, lay_inside, put_stages
from wellheard.signal.matching import ends_microphones, largest_matching, needs_port
from wellheard.signal.model import FAR_END, PROGRAMME
from wellheard.signal.ports import FAR_END_PORT, SEND_PORT, Unit, passes_on, split
from wellheard.signal.wires import PLAY, SINK, SOURCE, Chain, Side, Wires

NO_LINK = "has no link"


class Laying:
    """A graph while it is laid."""

    def __init__(self, room: Room, units: Mapping[str, Unit]) -> None:
        self.room = room
        self.units = units
        self.wires = Wires()
        self.ends: dict[str, str] = {}
        """Port of a processor at which each microphone ends, of those that have one."""
        self.sources: dict[str, list[Chain]] = {}
        self.linked: dict[str, list[str]] = {}
        """Ports at the other ends of the stated cables, by port."""
        for link in room.links.values():
            self.linked.setdefault(link.from_, []).append(link.to)
            self.linked.setdefault(link.to, []).append(link.from_)
        self.computer = next((u for u in units.values() if u.has_far_end), None)
        self.of_far_end = frozenset(self._of_far_end())
        self.sends = frozenset(self._sends())

    def lay(self) -> None:
        """Lay everything."""
        put_stages(self.wires, self.units, self.room.processing)
        for name, link in self.room.links.items():
            self._lay_link(name, link.from_, link.to)
        for unit in self.units.values():
            sends = frozenset(o for o in unit.named("line-out") if f"{unit.id}.{o}" in self.sends)
            lay_inside(self.wires, unit, sends=sends, has_far_end=unit.id in self.of_far_end)
            self._lay_through(unit)
        self._lay_microphones()
        self._lay_far_end()
        self._lay_loudspeakers()
        self._find_sources()
        self.wires.lay_stages(self._taps())

    # Stated cables

    def _lay_link(self, name: str, one: str, other: str) -> None:
        for start, to in ((one, other), (other, one)):
            for side in self._sides(start, to):
                self.wires.lay(Chain(start, side[0]), Chain(to, side[1]), link=name)

    def _sides(self, start: str, to: str) -> Iterator[tuple[Side, Side]]:
        """Directions in which a cable carries from one port to the other."""
        here, there = self._flow(start), self._flow(to)
        if here in ("", "in") or there in ("", "out"):
            return
        if "through" in (here, there):
            if "both" not in (here, there):
                yield "", ""
            if here in ("both", "through") and there in ("both", "through"):
                yield "up", "up"
                yield "down", "down"
        elif here == there == "both":
            yield "up", "up"
            yield "down", "down"
        elif here == "both":
            yield "down", ""
            yield "up", ""
        elif there == "both":
            # A microphone on the network takes a channel of its own, see `_stated_end`.
            if self._plays(to):
                yield "", "down"
        else:
            yield "", ""

    def _flow(self, name: str) -> str:
        """Which way a port passes: in, out or both.

        Through of what only makes a run longer, any where nothing is known; empty is nowhere.
        """
        device, port = split(name)
        unit = self.units.get(device)
        if unit is None or isinstance(unit.product, Switch):
            return ""
        if unit.open:
            return "any"
        if port not in unit.ports or unit.ports[port].signal in SILENT:
            return ""
        return "through" if isinstance(unit.product, Extender) else unit.ports[port].flow

    def _plays(self, port: str) -> bool:
        unit = self.units[split(port)[0]]
        return isinstance(unit.product, Loudspeaker | Amplifier)

    def _lay_through(self, unit: Unit) -> None:
        """Lead through what nothing is known of, and to amplifier inputs without a cable."""
        if unit.open:
            here = [port for port in self.linked if split(port)[0] == unit.id]
            for one in here:
                for other in here:
                    if one != other:
                        self.wires.lay(
                            Chain(one),
                            Chain(other),
                            assumed=f"{unit.id} is taken to pass on what it takes in.",
                        )
        if isinstance(unit.product, Amplifier):
            fed = [f"{unit.id}.{i}" for i in unit.named("in") if f"{unit.id}.{i}" in self.linked]
            for into in unit.named("in"):
                port = f"{unit.id}.{into}"
                if fed and port not in self.linked:
                    for start in self.linked[fed[0]]:
                        for side in self._sides(start, port):
                            self.wires.lay(
                                Chain(start, side[0]),
                                Chain(port, side[1]),
                                assumed=f"{port} has no link: it is taken to get what "
                                f"{fed[0]} gets.",
                            )
            if "network" in unit.ports:
                for out in unit.named("out"):
                    self.wires.lay(Chain(f"{unit.id}.network", "down"), Chain(f"{unit.id}.{out}"))

    # Towards the far end

    def _of_far_end(self) -> Iterator[str]:
        """Devices whose USB port goes to a computer."""
        for unit in self.units.values():
            if "usb" not in unit.ports or unit.has_far_end:
                continue
            linked = f"{unit.id}.usb" in self.linked
            ways = any(self._is_way_out(f"{unit.id}.{name}") for name in unit.ports)
            if linked or not ways or not isinstance(unit.product, Processor):
                yield unit.id

    def _is_way_out(self, port: str) -> bool:
        """Whether a cable takes a processor's sound to another, or to a codec."""
        if self._flow(port) in ("", "in"):
            return False
        for other in self.linked.get(port, ()):
            unit = self.units.get(split(other)[0])
            if unit is not None and (unit.has_far_end or isinstance(unit.product, Processor)):
                return True
        return False

    def _sends(self) -> Iterator[str]:
        """Line outputs that carry microphones towards the far end."""
        for unit in self.units.values():
            product = unit.product
            if not isinstance(product, Processor) or unit.id in self.of_far_end:
                continue
            for name in unit.named("line-out"):
                port = f"{unit.id}.{name}"
                others = [self.units.get(split(p)[0]) for p in self.linked.get(port, ())]
                plays = [u for u in others if u and isinstance(u.product, Loudspeaker | Amplifier)]
                if not plays and (others or not product.usb):
                    yield port

    def _lay_microphones(self) -> None:
        """Find where each microphone ends, and lay the cables that the document leaves out."""
        taken = set(self.linked)
        loose: dict[str, str] = {}
        for unit in self.units.values():
            if not isinstance(unit.product, Microphone) or not needs_port(unit.product):
                continue
            end, stated = self._stated_end(f"{unit.id}.{next(iter(unit.ports))}")
            if stated:
                self.ends[unit.id] = end
            elif end:
                loose[unit.id] = end
        hubs = self._ports_for_microphones(taken)
        slots = {name: self._free(self.units[name], hubs) for name in loose}
        for name, port in largest_matching(slots).items():
            self.ends[name] = port
            why = NO_LINK if split(loose[name])[0] == name else "has no end"
            if loose[name] in self.linked:
                why = "goes to the network"
            start = Chain(loose[name])
            self.wires.lay(
                start,
                Chain(port),
                assumed=f"{name} {why}: it is taken to go to {port}, a free port of its kind.",
            )

    def _stated_end(self, port: str) -> tuple[str, bool]:
        """Where the stated cables lead from a port, and whether that is a processor's port.

        The network or nothing at the end leaves the last port loose; anything else ends the
        search with an empty name.
        """
        for _ in range(len(self.linked) + 1):
            others = self.linked.get(port, [])
            if not others:
                return port, False
            device, _, name = others[0].partition(".")
            unit = self.units.get(device)
            if unit is None or isinstance(unit.product, Switch):
                return (port, False) if unit is not None else ("", False)
            if isinstance(unit.product, Extender):
                port = f"{device}.{'far' if name == 'near' else 'near'}"
            elif isinstance(unit.product, Processor) and name == "network":
                return port, False
            elif isinstance(unit.product, Processor) and unit.knows(name):
                return others[0], True
            else:
                return "", False
        return "", False

    def _ports_for_microphones(self, taken: set[str]) -> list[tuple[Processor, str]]:
        return [
            (unit.product, f"{unit.id}.{name}")
            for unit in self.units.values()
            if isinstance(unit.product, Processor) and ends_microphones(unit.product)
            for name in unit.named("mic")
            if f"{unit.id}.{name}" not in taken
        ]

    def _free(self, unit: Unit, hubs: list[tuple[Processor, str]]) -> list[str]:
        assert isinstance(unit.product, Microphone)
        kind = unit.product.link.kind
        return [port for product, port in hubs if kind in product.port_kinds]

    def _lay_far_end(self) -> None:
        """Lead what sends to the computer, and the far end back to it."""
        for unit in self.units.values():
            if "usb" in unit.ports and unit.id in self.of_far_end:
                self._lay_usb(f"{unit.id}.usb")
            elif isinstance(unit.product, Microphone) and not needs_port(unit.product):
                self._lay_usb(f"{unit.id}.{next(iter(unit.ports))}")
            elif isinstance(unit.product, Processor):
                self._lay_way_out(unit)
        for unit in self.units.values():
            built_in = unit.product.built_in if isinstance(unit.product, Microphone) else None
            if built_in is not None and not built_in.usb:
                self._lay_back(unit)

    def _lay_usb(self, port: str) -> None:
        end, stated = self._stated_end(port)
        if stated or not end:
            return
        two_way = self._flow(port) == "both"
        up, down = Chain(end, "up" if two_way else ""), Chain(end, "down")
        if self.computer is None:
            said = f"No computer is in the document: {end} is taken to go to one."
            there, back = SINK, SOURCE
        else:
            said = f"{end} has no link: it is taken to go to {self.computer.id}."
            there, back = (Chain(f"{self.computer.id}.usb", side) for side in ("up", "down"))
        self.wires.lay(up, there, assumed=said)
        if two_way:
            self.wires.lay(back, down, assumed=said)

    def _lay_way_out(self, unit: Unit) -> None:
        """Lead a processor without a computer to one that has one."""
        product = unit.product
        assert isinstance(product, Processor)
        if passes_on(product) and not unit.named("line-out"):
            return
        if any(self._is_way_out(f"{unit.id}.{name}") for name in unit.ports):
            return
        owners = [u for u in self.units.values() if u.id in self.of_far_end and u.id != unit.id]
        for owner in owners:
            if "network" in unit.ports and "network" in owner.ports:
                said = f"{unit.id} is taken to reach {owner.id} over the network."
                here, there = f"{unit.id}.network", f"{owner.id}.network"
                self.wires.lay(Chain(here, "up"), Chain(there, "up"), assumed=said)
                self.wires.lay(Chain(there, "down"), Chain(here, "down"), assumed=said)
                return
        out = next((f"{unit.id}.{n}" for n in unit.named("line-out")), None)
        if out is None or out in self.linked:
            return
        for other in (*owners, *([self.computer] if self.computer else ())):
            for name in other.named("line-in"):
                port = f"{other.id}.{name}"
                if port not in self.linked:
                    self.wires.lay(
                        Chain(out),
                        Chain(port),
                        assumed=f"{out} has no link: it is taken to go to {port}.",
                        only=TO_FAR_END,
                    )
                    return

    def _lay_back(self, unit: Unit) -> None:
        """Lead the far end to a combined device on a processor's port, over its own cable."""
        hub = self.ends.get(unit.id)
        start = Chain(f"{split(hub)[0]}.{PLAY}") if hub else SOURCE
        self.wires.lay(
            start,
            Chain(f"{unit.id}.{FAR_END_PORT}"),
            assumed=f"{unit.id} is taken to get what it plays over its own link.",
            only=TO_ROOM,
        )

    # Towards the room

    def _lay_loudspeakers(self) -> None:
        """Feed loudspeakers and amplifiers that have no cable."""
        # Outputs of amplifiers by kind of cable, those with the fewest loudspeakers first.
        hung: dict[str, list[str]] = {}
        for unit in self.units.values():
            if isinstance(unit.product, Amplifier):
                self._feed_amplifier(unit)
        outs = [
            f"{unit.id}.{out}"
            for unit in self.units.values()
            if isinstance(unit.product, Amplifier)
            for out in unit.named("out")
        ]
        for kind in ("low-impedance", "constant-voltage"):
            takes = [out for out in outs if kind in self._kinds(out)]
            hung[kind] = sorted(takes, key=lambda out: len(self.linked.get(out, ())))
        for unit in self.units.values():
            port = f"{unit.id}.in"
            if not isinstance(unit.product, Loudspeaker) or (
                port in self.linked and not self._on_network(port)
            ):
                continue
            chain = Chain(port, "down" if unit.ports["in"].flow == "both" else "")
            ways = [hung[kind] for kind in self._kinds(port) if hung.get(kind)]
            if unit.product.active:
                self._feed([chain], why="is on the network" if port in self.linked else NO_LINK)
            elif not ways:
                self._feed([chain], why="has no amplifier in the document")
            else:
                out = ways[0].pop(0)
                ways[0].append(out)
                said = f"{port} {NO_LINK}: it is taken to hang on {out}."
                self.wires.lay(Chain(out), chain, assumed=said)

    def _feed_amplifier(self, unit: Unit) -> None:
        into = [f"{unit.id}.{name}" for name in (*unit.named("in"), *unit.named("network"))]
        stated = [port for port in into if port in self.linked]
        if not stated:
            self._feed([Chain(f"{unit.id}.{name}") for name in unit.named("in")])
        elif all(self._on_network(port) for port in stated):
            self._feed([Chain(f"{unit.id}.network", "down")], why="is on the network")

    def _kinds(self, port: str) -> tuple[str, ...]:
        device, name = split(port)
        return self.units[device].ports[name].kinds

    def _on_network(self, port: str) -> bool:
        """Whether a stated cable goes to a switch, which leads anywhere."""
        others = (self.units.get(split(other)[0]) for other in self.linked.get(port, ()))
        return any(other is not None and isinstance(other.product, Switch) for other in others)

    def _feed(self, into: list[Chain], *, why: str = NO_LINK) -> None:
        start = self._feeder(network=into[0].side == "down")
        told = "the computer" if start == SOURCE else start.port
        for chain in into:
            self.wires.lay(
                start, chain, assumed=f"{chain.port} {why}: it is taken to play what {told} gives."
            )

    def _feeder(self, *, network: bool) -> Chain:
        """What plays, where the document does not say: the processor with the canceller first."""

        def rank(unit: Unit) -> tuple[bool, bool, bool]:
            product = unit.product
            assert isinstance(product, Processor)
            return (product.canceller, unit.id in self.of_far_end, product.automatic_mixer)

        processors = [u for u in self.units.values() if isinstance(u.product, Processor)]
        for unit in sorted(processors, key=rank, reverse=True):
            if network and "network" in unit.ports:
                return Chain(f"{unit.id}.network", "down")
            outs = [f"{unit.id}.{name}" for name in unit.named("line-out")]
            playing = [port for port in outs if port not in self.sends]
            if playing:
                mixed = {s.on for s in self.room.processing.values() if s.kind == "mixer"}
                free = [p for p in playing if p not in self.linked and p not in mixed]
                return Chain((free or playing)[0])
        if self.computer is not None:
            return Chain(f"{self.computer.id}.{FAR_END_PORT}")
        return SOURCE

    # Where signals arise

    def _find_sources(self) -> None:
        far_end = [Chain(f"{u.id}.{FAR_END_PORT}") for u in self.units.values() if u.has_far_end]
        self.sources[FAR_END] = [*far_end, SOURCE]
        self.sources[PROGRAMME] = list(dict.fromkeys(self._programme()))
        for unit in self.units.values():
            if isinstance(unit.product, Microphone):
                inside = "microphone" if unit.product.built_in else next(iter(unit.ports))
                self.sources[unit.id] = [Chain(f"{unit.id}.{inside}")]

    def _programme(self) -> Iterator[Chain]:
        """Line outputs of computers, other equipment, and line inputs that a stage names."""
        for port, others in self.linked.items():
            device, name = split(port)
            unit = self.units.get(device)
            if unit is None:
                continue
            if unit.equipment == "computer" and name == "line-out":
                yield Chain(port)
            if unit.open and sum(split(p)[0] == device for p in self.linked) == 1 and others:
                yield Chain(port)
        for stage in self.room.processing.values():
            for port in filter(None, (stage.on, stage.reference, *stage.sources)):
                unit = self.units.get(split(port)[0])
                if (
                    unit is not None
                    and port not in self.linked
                    and split(port)[1] in unit.named("line-in")
                ):
                    yield Chain(port)

    def channel(self, port: str) -> Chain | None:
        """Chain of a port as a source of a mixer or lift.

        A microphone's own port means its channel: behind the stages of the port it ends at.
        """
        device, name = split(port)
        unit = self.units.get(device)
        if unit is None or not unit.knows(name):
            return None
        if isinstance(unit.product, Microphone):
            if name in (FAR_END_PORT, "loudspeaker"):
                return Chain(port)
            if device in self.ends:
                return Chain(self.ends[device])
            return Chain(f"{device}.{SEND_PORT}") if unit.product.built_in else Chain(port)
        two_way = name in unit.ports and unit.ports[name].flow == "both"
        return Chain(port, "down" if two_way else "")

    def _taps(self) -> dict[str, tuple[Chain, ...]]:
        found: dict[str, tuple[Chain, ...]] = {}
        for name, stage in self.room.processing.items():
            if stage.kind not in ("mixer", "lift") or stage.bypassed:
                continue
            sources = stage.sources
            if not sources and stage.kind == "lift":
                sources = self._all_channels(split(stage.on)[0])
            chains = (self.channel(port) for port in sources)
            found[name] = tuple(chain for chain in chains if chain is not None)
        return found

    def _all_channels(self, device: str) -> tuple[str, ...]:
        """Microphones of a device; of one that has none, all of the document."""
        mine = [m for m, port in self.ends.items() if split(port)[0] == device]
        every = [u.id for u in self.units.values() if isinstance(u.product, Microphone)]
        return tuple(f"{m}.{next(iter(self.units[m].ports))}" for m in mine or every)
