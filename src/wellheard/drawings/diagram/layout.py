"""A diagram laid out from left to right: boxes in columns, links at right angles between them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from wellheard.drawings.canvas import Point, Text
from wellheard.drawings.diagram.columns import columns
from wellheard.drawings.diagram.heights import Sizes, heights
from wellheard.drawings.diagram.mesh import Item, Mesh, mesh
from wellheard.drawings.diagram.model import (
    Box,
    Layout,
    PlacedBox,
    PlacedLink,
    PlacedPort,
    System,
)
from wellheard.drawings.diagram.ordering import order
from wellheard.drawings.diagram.tracks import Tracks, Turn, assign
from wellheard.drawings.lettering import text_width
from wellheard.drawings.tokens import Face, size_mm

GRID = 2.0
"""Step of all heights; links at one edge are two of them apart. [mm]"""
ABOVE, BELOW = 3.0, 2.0
"""Kept clear at the top, where a label may stand on the first line, and at the bottom. [mm]"""
TITLE, NOTE = 3.2, size_mm("note")
PADDING = 1.6
LINE = 3.5
"""From base line to base line. [mm]"""
LEAD = 3.0
"""Of a line between a box and the label or the first track: an arrowhead stands there. [mm]"""
BEHIND = 1.5
TRACK = 2.0
"""Between tracks. [mm]"""
LIFT = 0.95
"""Of a label over its line. [mm]"""
BETWEEN_NAMES = 4.0


def layout(
    system: System,
    *,
    width: float = math.inf,
    height: float = math.inf,
    close: bool = False,
) -> Layout | None:
    """Lay a system out.

    Parameters
    ----------
    system : System
        Its links end at ports of its boxes.
    width, height : float
        What there is. [mm]
    close : bool
        Boxes stand closer, for more of them to fit.

    Returns
    -------
    Layout or None
        None if it does not fit. The same system gives the same layout; one without boxes that
        of nothing, with no width and no height.

    Notes
    -----
    No line passes a box or a text, and no two lines run on each other: links stand at heights of
    their own at every edge, labels in zones of the channels where no line turns, and turns on
    tracks that `wellheard.drawings.diagram.tracks` keeps apart.
    """
    if not system.boxes:
        return Layout((), (), 0.0, 0.0, 0)
    woven = mesh(system, columns(system))
    order(woven)
    return _Laying(system, woven, close).made(width, height)


@dataclass(slots=True)
class _Channel:
    """Zones of a channel from left to right; ``x`` is where it begins. [mm]"""

    tracks: Tracks
    left_lead: float
    left_label: float
    right_label: float
    right_lead: float
    x: float = 0.0

    @property
    def first(self) -> float:
        """Of the first track."""
        return self.x + self.left_lead + self.left_label + TRACK / 2

    @property
    def labels_right(self) -> float:
        """Where labels on the right begin."""
        return self.first + max(self.tracks.count - 1, 0) * TRACK + TRACK / 2 + BEHIND

    @property
    def end(self) -> float:
        """Where the next column begins."""
        zone = self.right_label + (BEHIND if self.right_label else 0.0)
        return (
            self.first + max(self.tracks.count - 1, 0) * TRACK + TRACK / 2 + zone + self.right_lead
        )


class _Laying:
    def __init__(self, system: System, woven: Mesh, close: bool) -> None:
        self.close = close
        self.system = system
        self.mesh = woven
        self.wide = [0.0] * len(woven.columns)
        self.beside: dict[int, bool] = {}
        self.offset = [0] * len(woven.item_of)
        self.height = [0] * len(woven.items)
        for number, item in enumerate(woven.items):
            if item.box is not None:
                self._measure(number, item, item.box)
        # At its first pin that has room to the right a link carries its label.
        self.label_pin: list[int] = [self._pin_for_label(way) for way in woven.ways]

    def made(self, width: float, height: float) -> Layout | None:
        """The layout, or None if it does not fit."""
        woven = self.mesh
        labelled = [False] * len(woven.items)
        for number, pin in enumerate(self.label_pin):
            if self.system.links[number].label:
                labelled[woven.item_of[pin]] = True
        most = None if math.isinf(height) else math.floor((height - ABOVE - BELOW) / GRID)
        sizes = Sizes(self.height, self.offset, labelled, 1 if self.close else 2)
        tops = heights(woven, sizes, most=most)
        if tops is None:
            return None
        y = [GRID * (tops[woven.item_of[p]] + o) + ABOVE for p, o in enumerate(self.offset)]
        channels = [self._channel(number, y) for number in range(len(woven.channels))]
        x, column_x = 0.0, []
        for channel, wide in zip(channels, [*self.wide, 0.0], strict=True):
            channel.x = x
            column_x.append(channel.end)
            x = channel.end + wide
        if x > width:
            return None
        boxes = self._boxes(tops, y, column_x)
        links = self._links(y, channels, column_x)
        ends = [GRID * (t + h) + ABOVE for t, h in zip(tops, self.height, strict=True)]
        deep = max([*ends, *(at for link in links for _, at in link.points)], default=0.0) + BELOW
        if deep > height:
            return None
        return Layout(
            boxes=boxes,
            links=links,
            width=x,
            height=deep,
            crossings=crossings([link.points for link in links]),
        )

    # Sizes

    def _measure(self, number: int, item: Item, box: Box) -> None:
        """Height and width of a box, and where its pins are; a few pins stand beside the words."""
        head = _up(PADDING + 2.3 + LINE * (len(box.lines) - 1) + 1.3)
        rows = [[row for group in side for row in group] for side in item.sides]
        counts = [sum(max(len(row.pins), 1) for row in side) for side in rows]
        words = max(text_width(t, _size(k), face=_face(k)) for k, t in enumerate(box.lines))
        names = [max((text_width(r.name, NOTE) for r in side), default=0.0) for side in rows]
        beside = not all(counts) and 2 * sum(counts) <= head
        self.beside[number] = beside
        tall = head if beside else head + 2 * max(counts)
        if beside or not any(counts):
            inner = words + (BETWEEN_NAMES + sum(names) if any(counts) else 0.0)
        else:
            inner = max(words, sum(names) + (BETWEEN_NAMES if all(counts) else 0.0))
        self.height[number] = tall
        self.wide[item.column] = max(self.wide[item.column], inner + 2 * PADDING)
        for side, count in zip(rows, counts, strict=True):
            place = (tall - 2 * (count - 1)) // 2 if beside else head + 1
            for row in side:
                for k, pin in enumerate(row.pins):
                    self.offset[pin] = place + 2 * k
                place += 2 * max(len(row.pins), 1)

    def _pin_for_label(self, way: Sequence[int]) -> int:
        """A pin with its channel to the right, near the start; else the one at the start."""
        woven = self.mesh
        for number in way:
            net = woven.nets[number]
            for pin in (net.one, net.other):
                if woven.side_of[pin] == 1:
                    return pin
        return woven.nets[way[0]].one

    def _channel(self, number: int, y: Sequence[float]) -> _Channel:
        woven = self.mesh
        turns = []
        wide = [0.0, 0.0]
        met = [False, False]
        for k in woven.channels[number]:
            net = woven.nets[k]
            lefts = tuple(y[p] for p in (net.one, net.other) if woven.side_of[p] == 1)
            rights = tuple(y[p] for p in (net.one, net.other) if woven.side_of[p] == 0)
            if lefts != rights:
                turns.append(Turn(k, lefts, rights))
            for pin in (net.one, net.other):
                met[1 - woven.side_of[pin]] = True
                if self.label_pin[net.link] == pin and self.system.links[net.link].label:
                    label = text_width(self.system.links[net.link].label, NOTE)
                    side = 1 - woven.side_of[pin]
                    wide[side] = max(wide[side], label)
        outer = number in (0, len(woven.channels) - 1)
        if outer and not any(met):
            return _Channel(assign((), between=GRID / 2), 0.0, -TRACK, 0.0, TRACK / 2)
        leads = [LEAD if side or not outer else TRACK / 2 for side in met]
        left = wide[0] + BEHIND if wide[0] else 0.0
        return _Channel(assign(turns, between=GRID / 2), leads[0], left, wide[1], leads[1])

    # Places

    def _boxes(
        self, tops: Sequence[int], y: Sequence[float], column_x: Sequence[float]
    ) -> tuple[PlacedBox, ...]:
        found = []
        for number, item in enumerate(self.mesh.items):
            if item.box is None:
                continue
            x, top = column_x[item.column], GRID * tops[number] + ABOVE
            wide, tall = self.wide[item.column], GRID * self.height[number]
            ports = []
            for side in (0, 1):
                edge = x + wide if side else x
                for group in item.sides[side]:
                    for row in group:
                        if row.pins:
                            at = tuple(y[pin] for pin in row.pins)
                            ports.append(_port(row.name, side, edge, at))
            words_at = x + PADDING
            if self.beside[number] and item.sides[0]:
                # Names on the left have the words on their right.
                names = (row.name for group in item.sides[0] for row in group)
                words_at += max(text_width(name, NOTE) for name in names) + BETWEEN_NAMES
            texts = tuple(
                Text(
                    words,
                    (words_at, top + PADDING + 2.3 + LINE * k),
                    _size(k),
                    _face(k),
                    "ink" if k == 0 else "ink-2",
                    "start",
                    0.0,
                )
                for k, words in enumerate(item.box.lines)
            )
            found.append(PlacedBox(item.box, x, top, wide, tall, tuple(ports), texts))
        return tuple(found)

    def _links(
        self, y: Sequence[float], channels: Sequence[_Channel], column_x: Sequence[float]
    ) -> tuple[PlacedLink, ...]:
        woven = self.mesh
        stretches: dict[int, list[tuple[float, Turn]]] = {}
        for channel in channels:
            for turn, track in zip(channel.tracks.turns, channel.tracks.track, strict=True):
                stretches.setdefault(turn.net, []).append((channel.first + TRACK * track, turn))
        found = []
        for number, way in enumerate(woven.ways):
            points: list[Point] = []
            for k in way:
                net = woven.nets[k]
                points += self._through(net.one, net.other, y, stretches.get(k, []), column_x)
            link, pin = self.system.links[number], self.label_pin[number]
            label = None
            if link.label:
                channel = channels[woven.channel_of(pin)]
                on_left = woven.side_of[pin] == 1
                at = (channel.x + channel.left_lead if on_left else channel.labels_right, y[pin])
                face: Face = "italic" if link.assumed else "regular"
                label = Text(link.label, (at[0], at[1] - LIFT), NOTE, face, "ink", "start", 0.0)
            found.append(PlacedLink(link, _corners(points), label))
        return tuple(found)

    def _through(
        self,
        one: int,
        other: int,
        y: Sequence[float],
        stretches: list[tuple[float, Turn]],
        column_x: Sequence[float],
    ) -> list[Point]:
        """Corners of a net in its channel, from pin to pin."""
        ends = [(self._x(pin, column_x), y[pin]) for pin in (one, other)]
        stretches = sorted(stretches, key=lambda turn: turn[1].step)
        if self.mesh.side_of[one] == 0:
            stretches.reverse()  # seen from the right
        here = ends[0][1]
        between: list[Point] = []
        for x, turn in stretches:
            heights_ = turn.lefts + turn.rights
            there = heights_[1] if heights_[0] == here else heights_[0]
            between += [(x, here), (x, there)]
            here = there
        return [ends[0], *between, ends[1]]

    def _x(self, pin: int, column_x: Sequence[float]) -> float:
        item = self.mesh.items[self.mesh.item_of[pin]]
        wide = self.wide[item.column] if self.mesh.side_of[pin] else 0.0
        return column_x[item.column] + wide


def crossings(lines: Sequence[Sequence[Point]]) -> int:
    """How often lines at right angles cross each other.

    Examples
    --------
    >>> crossings([[(0.0, 1.0), (4.0, 1.0)], [(2.0, 0.0), (2.0, 3.0)]])
    1
    """
    across, upright = [], []
    for number, points in enumerate(lines):
        for (x0, y0), (x1, y1) in pairwise(points):
            if y0 == y1:
                across.append((min(x0, x1), max(x0, x1), y0, number))
            else:
                upright.append((x0, min(y0, y1), max(y0, y1), number))
    return sum(
        x0 < x < x1 and low < y < high and one != other
        for x, low, high, one in upright
        for x0, x1, y, other in across
    )


def _port(name: str, side: int, edge: float, at: tuple[float, ...]) -> PlacedPort:
    middle = (at[0] + at[-1]) / 2 + 0.35 * NOTE
    x = edge - PADDING if side else edge + PADDING
    text = Text(name, (x, middle), NOTE, "regular", "ink", "end" if side else "start", 0.0)
    return PlacedPort(name, "right" if side else "left", edge, at, text)


def _corners(points: Sequence[Point]) -> tuple[Point, ...]:
    """Points without those that lie on a straight line between their neighbours."""
    kept: list[Point] = []
    for point in points:
        if kept and point == kept[-1]:
            continue
        if len(kept) > 1 and (
            kept[-2][0] == kept[-1][0] == point[0] or kept[-2][1] == kept[-1][1] == point[1]
        ):
            kept.pop()
        kept.append(point)
    return tuple(kept)


def _size(line: int) -> float:
    return TITLE if line == 0 else NOTE


def _face(line: int) -> Face:
    return "semibold" if line == 0 else "regular"


def _up(millimetres: float) -> int:
    return math.ceil(millimetres / GRID - 1e-9)
