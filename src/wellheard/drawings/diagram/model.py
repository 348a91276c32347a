"""What a diagram is made of, before and after it is laid out: plain frozen values."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal, NamedTuple, TypeAlias

from wellheard.drawings.canvas import Point, Text

Side: TypeAlias = Literal["left", "right"]


@dataclass(frozen=True, slots=True)
class Port:
    """A place on the edge of a box where links end.

    Parameters
    ----------
    name : str
        Written inside the box.
    side : {"left", "right"} or None
        None takes the side that its links come from.
    group : str
        Ports of one group stay together in the order of their box; a port without is free.
    """

    name: str
    side: Side | None = None
    group: str = ""


@dataclass(frozen=True, slots=True)
class Box:
    """Something with ports.

    Parameters
    ----------
    id : str
    lines : tuple of str
        Title, then what stands under it.
    ports : tuple of Port
    rank : int
        How far along the signal it is: a link between boxes of different rank is laid out from
        the lower to the higher, whichever way its signal runs.
    first, last : bool
        Stands in the first column; in the last one, if no link leads on from it.
    assumed : bool
        Not in the document: drawn dashed.
    """

    id: str
    lines: tuple[str, ...]
    ports: tuple[Port, ...] = ()
    rank: int = 0
    first: bool = False
    last: bool = False
    assumed: bool = False


class End(NamedTuple):
    """A port of a box."""

    box: str
    port: str


@dataclass(frozen=True, slots=True)
class Link:
    """A line from port to port.

    Parameters
    ----------
    id : str
    start, end : End
        The signal runs from the first to the second.
    label : str
        Written at the line.
    kind : str
        What runs in it, which decides how heavy the line is; the label says it in words.
    both : bool
        The signal runs the other way too.
    assumed : bool
        Not in the document: drawn dashed.
    """

    id: str
    start: End
    end: End
    label: str = ""
    kind: str = ""
    both: bool = False
    assumed: bool = False


@dataclass(frozen=True, slots=True)
class System:
    """Boxes and the links between them."""

    boxes: tuple[Box, ...]
    links: tuple[Link, ...]

    def part(self, links: tuple[Link, ...], alone: tuple[str, ...] = ()) -> System:
        """Some of the links with their boxes and ports, and boxes that have no link."""
        used = {end for link in links for end in (link.start, link.end)}
        boxes = []
        for box in self.boxes:
            ports = tuple(port for port in box.ports if (box.id, port.name) in used)
            if ports or box.id in alone:
                boxes.append(
                    Box(box.id, box.lines, ports, box.rank, box.first, box.last, box.assumed)
                )
        return System(tuple(boxes), links)


@dataclass(frozen=True, slots=True)
class PlacedPort:
    """A port on the edge of its box: one height for each link that ends at it. [mm]"""

    name: str
    side: Side
    x: float
    heights: tuple[float, ...]
    text: Text


@dataclass(frozen=True, slots=True)
class PlacedBox:
    """A box by its upper left corner, with everything written in it. [mm]"""

    box: Box
    x: float
    y: float
    width: float
    height: float
    ports: tuple[PlacedPort, ...]
    texts: tuple[Text, ...]


@dataclass(frozen=True, slots=True)
class PlacedLink:
    """A link as corners from port to port, and its label. [mm]"""

    link: Link
    points: tuple[Point, ...]
    label: Text | None


@dataclass(frozen=True, slots=True)
class Layout:
    """A diagram laid out, its upper left corner at the origin. [mm]

    ``crossings`` counts where two lines cross.
    """

    boxes: tuple[PlacedBox, ...]
    links: tuple[PlacedLink, ...]
    width: float
    height: float
    crossings: int

    def moved(self, *, right: float = 0.0, down: float = 0.0, scale: float = 1.0) -> Layout:
        """The same layout enlarged by ``scale``, then moved. [mm]"""

        def at(point: Point) -> Point:
            return scale * point[0] + right, scale * point[1] + down

        def text(one: Text) -> Text:
            return replace(one, at=at(one.at), size=scale * one.size)

        def port(one: PlacedPort) -> PlacedPort:
            heights = tuple(at((0.0, y))[1] for y in one.heights)
            return replace(one, x=at((one.x, 0.0))[0], heights=heights, text=text(one.text))

        boxes = []
        for one in self.boxes:
            x, y = at((one.x, one.y))
            boxes.append(
                replace(
                    one,
                    x=x,
                    y=y,
                    width=scale * one.width,
                    height=scale * one.height,
                    ports=tuple(port(p) for p in one.ports),
                    texts=tuple(text(t) for t in one.texts),
                )
            )
        links = [
            replace(
                one,
                points=tuple(at(point) for point in one.points),
                label=None if one.label is None else text(one.label),
            )
            for one in self.links
        ]
        width, height = scale * self.width, scale * self.height
        return Layout(tuple(boxes), tuple(links), width, height, self.crossings)
