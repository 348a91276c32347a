"""The signal graph of a room document: what comes where, through what."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import Amplifier, AnyProduct, Microphone, Processor
from wellheard.room.document import Room
from wellheard.signal.inside import chain_of
from wellheard.signal.laying import Laying
from wellheard.signal.model import (
    FAR_END,
    PROGRAMME,
    Canceller,
    Held,
    Lift,
    Path,
    Playing,
    Reference,
    Stage,
)
from wellheard.signal.ports import FAR_END_PORT, Unit, is_amplified, plays, split, units_of
from wellheard.signal.wires import SINK, Chain, Node, Trail, Wires, path, trails


@dataclass(frozen=True)
class Graph:
    """Ports of a document as nodes, its cables and the ways inside its devices as wires.

    Made by `graph`. What is asked is worked out once and kept.

    Parameters
    ----------
    units : mapping of str to Unit
        Devices and equipment with their ports, by id.
    ends : mapping of str to str
        Port of a processor at which each microphone ends, of those that end at one.
    """

    units: Mapping[str, Unit] = field(repr=False)
    ends: Mapping[str, str]
    _wires: Wires = field(repr=False, compare=False)
    _sources: Mapping[str, tuple[Chain, ...]] = field(repr=False, compare=False)

    @property
    def microphones(self) -> tuple[str, ...]:
        """Devices that pick up, in the order of the document."""
        return tuple(n for n, u in self.units.items() if isinstance(u.product, Microphone))

    @cached_property
    def assumed(self) -> tuple[str, ...]:
        """A sentence for everything on a way that the document leaves out."""
        paths = [p for m in self.microphones for p in self.paths_of(m)]
        paths += [p for one in self.playing() for p in one.paths]
        return tuple(dict.fromkeys(sentence for p in paths for sentence in p.assumed))

    @cached_property
    def assumed_cables(self) -> tuple[tuple[str, str], ...]:
        """Ports between which a cable is taken to be that the document leaves out.

        As signal runs; one that runs both ways comes twice, once each way. ``far-end`` alone is a
        computer that is not in the document.
        """
        pairs = (
            (node.chain.port, wire.to.chain.port)
            for node, wires in self._wires.out.items()
            for wire in wires
            if wire.assumed and not wire.link
        )
        return tuple(
            dict.fromkeys(pair for pair in pairs if split(pair[0])[0] != split(pair[1])[0])
        )

    def product(self, device: str) -> AnyProduct | None:
        """Product of a device; None for equipment, and for what is not in the document."""
        unit = self.units.get(device)
        return None if unit is None else unit.product

    def paths_of(self, microphone: str) -> tuple[Path, ...]:
        """Every way of a microphone from its capsule to the far end, shortest first.

        Empty where no way is known: no processor, no port left, or a cable that ends nowhere.
        """
        return self._paths.get(microphone, ())

    def stages_of(self, microphone: str) -> tuple[Stage, ...]:
        """Stages of a microphone's first way, from capsule to far end."""
        return next((p.stages for p in self.paths_of(microphone)), ())

    def cancellers(self, microphone: str) -> tuple[Canceller, ...]:
        """Every canceller on the ways of a microphone, each once, in order."""
        stages = dict.fromkeys(s for p in self.paths_of(microphone) for s in p.cancellers)
        return tuple(self._cancellers[stage] for stage in stages)

    def all_cancellers(self) -> tuple[Canceller, ...]:
        """Every canceller that a microphone's signal passes."""
        return tuple(self._cancellers.values())

    def reference(self, canceller: Canceller) -> Reference:
        """What a canceller listens to."""
        port = canceller.reference
        if port not in self._references:
            self._references[port] = self._reference(port)
        return self._references[port]

    def playing(self) -> tuple[Playing, ...]:
        """Loudspeakers, combined devices among them, with what each plays."""
        return self._playing

    def lifts(self) -> tuple[Lift, ...]:
        """Local voices that loudspeakers play, each by microphone, loudspeaker and way."""
        return tuple(_lift(one.loudspeaker, way) for one in self._playing for way in one.lifted)

    def feeding(self, port: str) -> str | None:
        """Port that feeds an input; None where nothing does."""
        return self._wires.feeds.get(port)

    @cached_property
    def _trails(self) -> dict[Node, dict[str, list[Trail]]]:
        return trails(self._sources, self._wires.out)

    @cached_property
    def _paths(self) -> dict[str, tuple[Path, ...]]:
        found = self._trails.get(self._wires.end(SINK), {})
        return {
            source: tuple(path(source, trail) for trail in ways)
            for source, ways in found.items()
            if source not in (FAR_END, PROGRAMME)
        }

    @cached_property
    def _cancellers(self) -> dict[Stage, Canceller]:
        on: dict[Stage, list[str]] = {}
        for microphone in self.microphones:
            for way in self.paths_of(microphone):
                for stage in way.cancellers:
                    names = on.setdefault(stage, [])
                    if microphone not in names:
                        names.append(microphone)
        return {stage: self._canceller(stage, tuple(names)) for stage, names in on.items()}

    @cached_property
    def _references(self) -> dict[str | None, Reference]:
        return {}

    @cached_property
    def _playing(self) -> tuple[Playing, ...]:
        return tuple(self._plays(unit) for unit in self.units.values() if plays(unit.product))

    def _canceller(self, stage: Stage, microphones: tuple[str, ...]) -> Canceller:
        device = split(stage.at)[0]
        unit = self.units[device]
        product, tail, loss_db = unit.product, None, None
        if isinstance(product, Processor):
            tail, loss_db = product.canceller_tail, product.canceller_loss_db
        elif isinstance(product, Microphone) and product.built_in is not None:
            inside = product.built_in
            tail, loss_db = inside.canceller_tail, inside.canceller_loss_db
        return Canceller(
            stage=stage,
            device=device,
            tail=tail or None,
            reference=stage.reference or self._usual_reference(unit),
            reference_assumed=stage.reference is None,
            microphones=microphones,
            loss_db=loss_db,
        )

    def _usual_reference(self, unit: Unit) -> str | None:
        """What a canceller listens to where the document does not say."""
        if isinstance(unit.product, Microphone) and unit.product.built_in is not None:
            return f"{unit.id}.loudspeaker"
        if isinstance(unit.product, Microphone):
            # What it is led through first sends the reference back over the link.
            behind = (self.units[d] for way in self.paths_of(unit.id) for d in way.devices[1:])
            unit = next((u for u in behind if FAR_END_PORT in u.virtual), unit)
        return f"{unit.id}.{FAR_END_PORT}" if FAR_END_PORT in unit.virtual else None

    def _reference(self, port: str | None) -> Reference:
        chain = chain_of(self.units, port, "down") if port else None
        if chain is None:
            return Reference(port, known=False)
        holds = self._trails.get(self._wires.end(chain), {})
        return Reference(
            port,
            known=True,
            holds=tuple(Held(s, path(s, trail)) for s, ways in holds.items() for trail in ways),
        )

    def _plays(self, unit: Unit) -> Playing:
        combined = isinstance(unit.product, Microphone)
        port = f"{unit.id}.{'loudspeaker' if combined else 'in'}"
        two_way = not combined and unit.ports["in"].flow == "both"
        chain = Chain(port, "down" if two_way else "")
        arrived = self._trails.get(self._wires.end(chain), {})
        feeding = self.feeding(port) or ""
        amplifies = isinstance(self.product(split(feeding)[0]), Amplifier)
        return Playing(
            loudspeaker=unit.id,
            paths=tuple(path(s, trail) for s, ways in arrived.items() for trail in ways),
            amplifier=feeding if amplifies else None,
            has_own_amplifier=is_amplified(unit.product),
        )


def graph(room: Room, catalogue: Catalogue) -> Graph:
    """The signal graph of a room document.

    Parameters
    ----------
    room : Room
        Valid, see `wellheard.room.consistency`. Ports that its devices do not have, and products
        that the catalogue does not have, are passed over; rules find the former.
    catalogue : Catalogue
        With the products of its devices.

    Returns
    -------
    Graph
        With what the document leaves out laid as it is usual, and marked as assumed:

        * a microphone without a link goes to a free port of its kind on a processor that mixes or
          cancels, as many microphones as possible having one;
        * a processor with a canceller has one behind each microphone port, in front of its
          automatic mixer, and listens to what arrives from the far end; a combined device with one
          cancels the echo of its own loudspeaker;
        * what has a USB port goes to the computer or codec of the document, else to one that is
          not in it; a mixer without goes to a device that has one;
        * amplifiers and loudspeakers without a link play what the processor with the canceller
          plays.

    Notes
    -----
    The graph is that of the whole document. It ignores arrangements: which loudspeakers play what
    where a partition is closed is not in the document. What a switch leads where is taken from
    what hangs on it. Every computer and codec brings the same far end.

    Examples
    --------
    >>> room = Room.model_validate(
    ...     {
    ...         "wellheard": 1,
    ...         "space": {"outline": [[0, 0], [4, 0], [4, 3], [0, 3]], "height": 2.7},
    ...         "people": {"seats": {"s1": {"at": [1, 1]}}},
    ...         "devices": {
    ...             "m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [2, 1.5, 2.7]},
    ...             "mixer": {"kind": "processor", "product": "bridge-2"},
    ...         },
    ...     }
    ... )
    >>> made = graph(room, Catalogue.shipped())
    >>> [(stage.kind, stage.at) for stage in made.stages_of("m1")]
    [('canceller', 'mixer.mic-1'), ('mixer', 'mixer.send')]
    >>> made.assumed[0]
    'm1 has no link: it is taken to go to mixer.mic-1, a free port of its kind.'
    """
    units = units_of(room, catalogue)
    laying = Laying(room, units)
    laying.lay()
    return Graph(
        units=units,
        ends=laying.ends,
        _wires=laying.wires,
        _sources={source: tuple(chains) for source, chains in laying.sources.items()},
    )


def _lift(loudspeaker: str, way: Path) -> Lift:
    lifting = next((stage for stage in way.stages if stage.kind == "lift"), None)
    by = lifting or next((s for s in way.stages[::-1] if s.kind == "mixer" and s.sources), None)
    return Lift(
        id=by.id if by is not None else "",
        microphone=way.source,
        loudspeaker=loudspeaker,
        gain_db=(lifting.gain_db or 0.0) if lifting is not None else 0.0,
        path=way,
    )
