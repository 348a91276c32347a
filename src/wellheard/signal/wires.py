"""Nodes and wires of a signal graph, and every way along them.

Each port is a chain: node 0 is where a signal comes in, node *k* lies behind the *k*-th stage that
works on the port. A port that goes both ways is two chains, ``up`` towards the far end and
``down`` towards the room.

::

    mixer.mic-1        ●──gain──●──canceller──●
                       0        1             2 ──► mixer.send
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Literal, NamedTuple, TypeAlias

from wellheard.signal.model import FAR_END, PROGRAMME, Path, Stage

Sort: TypeAlias = Literal["microphone", "far-end", "programme"]
Side: TypeAlias = Literal["", "up", "down"]

MOST_WAYS = 6
"""Ways of one signal to one place that are followed; a document of a real room has one or two."""


class Chain(NamedTuple):
    """A port, or one direction of it."""

    port: str
    side: Side = ""


class Node(NamedTuple):
    """A point of a chain: behind ``behind`` of its stages."""

    chain: Chain
    behind: int


class Wire(NamedTuple):
    """One step of a signal.

    Parameters
    ----------
    to : Node
    stage : Stage or None
        What it passes on the way.
    link : str
        Cable of the document; empty inside devices and where the cable is assumed.
    assumed : str
        Why it is taken to be there; empty where the document states it or the device is built so.
    only : tuple of str
        Sorts of signal that it passes; empty is all.
    """

    to: Node
    stage: Stage | None = None
    link: str = ""
    assumed: str = ""
    only: tuple[Sort, ...] = ()


class Trail(NamedTuple):
    """A signal that has come as far as ``node``."""

    node: Node
    wire: Wire | None
    before: Trail | None

    def steps(self) -> Iterator[Trail]:
        """From here back to where it arose."""
        here: Trail | None = self
        while here is not None:
            yield here
            here = here.before


PLAY = "play"
"""Inside a processor: all that it plays. No port of the document."""
SOURCE = Chain(FAR_END, "down")
"""Where the far end speaks, outside all devices."""
SINK = Chain(FAR_END, "up")
"""Where the far end hears, outside all devices."""


@dataclass
class Wires:
    """Wires as they are laid, while a graph is built."""

    chains: dict[Chain, list[Stage]] = field(default_factory=dict)
    out: dict[Node, list[Wire]] = field(default_factory=dict)
    feeds: dict[str, str] = field(default_factory=dict)
    """Port that feeds each input port, the first that was laid."""

    def end(self, chain: Chain) -> Node:
        """Node behind all stages of a chain."""
        return Node(chain, len(self.chains.get(chain, ())))

    def lay(
        self,
        start: Chain,
        to: Chain,
        *,
        link: str = "",
        assumed: str = "",
        only: tuple[Sort, ...] = (),
    ) -> None:
        """Lead what leaves one chain into another."""
        self.out.setdefault(self.end(start), []).append(
            Wire(Node(to, 0), None, link, assumed, only)
        )
        self.feeds.setdefault(to.port, start.port)

    def lay_stages(self, taps: Mapping[str, tuple[Chain, ...]]) -> None:
        """Lead each chain through its stages.

        ``taps`` gives the chains that each mixer and lift takes in, by the id of its stage. A
        mixer that names its sources passes nothing else; a lift adds to what is there.
        """
        for chain, stages in self.chains.items():
            for k, stage in enumerate(stages):
                here, there = Node(chain, k), Node(chain, k + 1)
                taken = taps.get(stage.id, ()) if stage.id else ()
                if stage.kind == "lift":
                    self.out.setdefault(here, []).append(Wire(there))
                elif not taken or chain in taken:
                    self.out.setdefault(here, []).append(Wire(there, stage))
                for tap in taken:
                    if tap != chain:
                        only: tuple[Sort, ...] = ("microphone",) if stage.kind == "lift" else ()
                        self.out.setdefault(self.end(tap), []).append(Wire(there, stage, only=only))


def trails(
    sources: Mapping[str, tuple[Chain, ...]], out: Mapping[Node, list[Wire]]
) -> dict[Node, dict[str, list[Trail]]]:
    """Every way of every source, shortest first, by the node it has come to.

    No way passes a node twice, and no more than `MOST_WAYS` of one source are followed through
    one node.
    """
    found: dict[Node, dict[str, list[Trail]]] = {}
    for source, starts in sources.items():
        sort: Sort = (
            "far-end" if source == FAR_END else "programme" if source == PROGRAMME else "microphone"
        )
        waiting = deque(Trail(Node(start, 0), None, None) for start in starts)
        while waiting:
            trail = waiting.popleft()
            here = found.setdefault(trail.node, {}).setdefault(source, [])
            if len(here) >= MOST_WAYS:
                continue
            here.append(trail)
            for wire in out.get(trail.node, ()):
                if wire.only and sort not in wire.only:
                    continue
                if all(step.node != wire.to for step in trail.steps()):
                    waiting.append(Trail(wire.to, wire, trail))
    return found


def path(source: str, trail: Trail) -> Path:
    """The way of a signal as its readers want it."""
    steps = list(trail.steps())[::-1]
    passed = (step.node.chain.port for step in steps)
    ports = dict.fromkeys(p for p in passed if "." in p and p.partition(".")[2] != PLAY)
    wires = [step.wire for step in steps if step.wire is not None]
    stages = tuple(wire.stage for wire in wires if wire.stage is not None)
    said = [wire.assumed for wire in wires] + [stage.because for stage in stages]
    return Path(
        source=source,
        sink=trail.node.chain.port,
        ports=tuple(ports),
        stages=stages,
        links=tuple(dict.fromkeys(wire.link for wire in wires if wire.link)),
        assumed=tuple(dict.fromkeys(sentence for sentence in said if sentence)),
    )
