"""A system between columns: what stands in each, and what runs through the channels between.

::

    channel 0 │ column 0 │ channel 1 │ column 1 │ channel 2

A link that passes a column stands in it as an item of its own, without height, so that every net
joins two pins of one channel: on its left, its right, or both on one side.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from wellheard.drawings.diagram.model import Box, End, Link, Side, System


@dataclass(slots=True)
class Row:
    """A port of a box with the pins at it."""

    name: str
    pins: list[int] = field(default_factory=list)


@dataclass(slots=True)
class Item:
    """A box, or a link where it passes a column.

    ``sides`` has, on the left (0) and on the right (1), groups of ports from top to bottom.
    """

    box: Box | None
    column: int
    part: int
    """Of the system: items that no link joins are never mixed."""
    sides: tuple[list[list[Row]], list[list[Row]]] = field(default_factory=lambda: ([], []))

    def pins(self, side: int) -> list[int]:
        """Pins on one side from top to bottom."""
        return [pin for group in self.sides[side] for row in group for pin in row.pins]


@dataclass(frozen=True, slots=True)
class Net:
    """A link where it runs through one channel."""

    link: int
    channel: int
    one: int
    other: int


@dataclass(slots=True)
class Mesh:
    """Items by column, pins, and nets by channel; ``ways`` has the nets of each link in order."""

    items: list[Item]
    columns: list[list[int]]
    nets: list[Net]
    ways: list[list[int]]
    item_of: list[int]
    side_of: list[int]
    """Of its item that a pin is on: 0 left, 1 right."""
    mate: list[int]
    """Other pin of the net of each pin."""
    channels: list[list[int]]

    def channel_of(self, pin: int) -> int:
        """Channel that a pin lies in."""
        return self.items[self.item_of[pin]].column + self.side_of[pin]


def mesh(system: System, column_of: dict[str, int]) -> Mesh:
    """Items and nets of a system whose boxes have their columns.

    Items of each column stand in the order of the document, parts of the system one after another.
    """
    return _Weaving(system, column_of).made


class _Weaving:
    def __init__(self, system: System, column_of: dict[str, int]) -> None:
        self.system = system
        self.column_of = column_of
        count = max(column_of.values(), default=-1) + 1
        self.made = Mesh([], [[] for _ in range(count)], [], [], [], [], [], [])
        self.made.channels = [[] for _ in range(count + 1)]
        self.parts = _parts(system)
        self.boxes: dict[str, int] = {}
        self.rows: dict[End, tuple[int, Row]] = {}
        for box in system.boxes:
            self._box(box)
        for number, link in enumerate(system.links):
            self._link(number, link)
        for column in self.made.columns:
            column.sort(key=lambda item: self.made.items[item].part)

    def _box(self, box: Box) -> None:
        item = self._item(box, self.column_of[box.id], self.parts[box.id])
        self.boxes[box.id] = item
        groups: dict[tuple[int, str], list[Row]] = {}
        for port in box.ports:
            side = 0 if self._side(box, port.name, port.side) == "left" else 1
            row = Row(port.name)
            self.rows[End(box.id, port.name)] = (side, row)
            key = (side, port.group)
            if port.group and key in groups:
                groups[key].append(row)
            else:
                groups[key] = [row]
                self.made.items[item].sides[side].append(groups[key])

    def _side(self, box: Box, name: str, wanted: Side | None) -> Side:
        """Side of a port: the one that most of its links come from."""
        if wanted is not None:
            return wanted
        here = self.column_of[box.id]
        pull = 0
        for link in self.system.links:
            ends = (link.start, link.end)
            for one, other in (ends, ends[::-1]):
                if one == (box.id, name):
                    there = self.column_of[other.box]
                    pull += (there > here) - (there < here)
        return "left" if pull < 0 else "right"

    def _link(self, number: int, link: Link) -> None:
        here, start = self._pin_at(link.start)
        there, end = self._pin_at(link.end)
        nets: list[int] = []
        last = start
        passed = range(here, there) if here < there else range(here - 1, there - 1, -1)
        for column in passed:
            item = self._item(None, column, self.parts[link.start.box])
            near = Row("")
            far = Row("")
            into, out = (0, 1) if here < there else (1, 0)
            self.made.items[item].sides[into].append([near])
            self.made.items[item].sides[out].append([far])
            first = self._pin(item, into, near)
            nets.append(self._net(number, last, first))
            last = self._pin(item, out, far)
        nets.append(self._net(number, last, end))
        self.made.ways.append(nets)

    def _pin_at(self, end: End) -> tuple[int, int]:
        """Channel and pin of an end of a link."""
        side, row = self.rows[end]
        return self.column_of[end.box] + side, self._pin(self.boxes[end.box], side, row)

    def _item(self, box: Box | None, column: int, part: int) -> int:
        self.made.items.append(Item(box, column, part))
        self.made.columns[column].append(len(self.made.items) - 1)
        return len(self.made.items) - 1

    def _pin(self, item: int, side: int, row: Row) -> int:
        pin = len(self.made.item_of)
        self.made.item_of.append(item)
        self.made.side_of.append(side)
        self.made.mate.append(-1)
        row.pins.append(pin)
        return pin

    def _net(self, link: int, one: int, other: int) -> int:
        made = self.made
        channel = made.channel_of(one)
        made.nets.append(Net(link, channel, one, other))
        made.mate[one], made.mate[other] = other, one
        made.channels[channel].append(len(made.nets) - 1)
        return len(made.nets) - 1


def _parts(system: System) -> dict[str, int]:
    """Number of the connected part of every box, in order of the first box of each."""
    joined: dict[str, list[str]] = {box.id: [] for box in system.boxes}
    for link in system.links:
        joined[link.start.box].append(link.end.box)
        joined[link.end.box].append(link.start.box)
    found: dict[str, int] = {}
    for number, box in enumerate(system.boxes):
        waiting = [box.id]
        while waiting:
            name = waiting.pop()
            if name not in found:
                found[name] = number
                waiting += joined[name]
    return found
