"""A recorder of few draw calls: drawings are values that a back end renders and tests read.

All lengths are millimetres on paper, y downwards; colours are token names, never values, so that
one recording serves the white sheet and the slate one.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Literal, TypeAlias

from wellheard.cad import Role
from wellheard.drawings.boxes import Box
from wellheard.drawings.lettering import CAP_HEIGHT, DESCENT, text_width
from wellheard.drawings.tokens import Dash, Face, Pen

Point: TypeAlias = tuple[float, float]
Anchor: TypeAlias = Literal["start", "middle", "end"]


@dataclass(frozen=True, slots=True)
class Line:
    """Open or closed strokes drawn with one pen."""

    runs: tuple[tuple[Point, ...], ...]
    pen: Pen
    colour: str
    dash: Dash
    closed: bool
    opacity: float


@dataclass(frozen=True, slots=True)
class Area:
    """A filled surface with holes (even-odd), outlined if it has a pen."""

    rings: tuple[tuple[Point, ...], ...]
    fill: str
    pen: Pen | None
    colour: str
    dash: Dash


@dataclass(frozen=True, slots=True)
class Circle:
    """A circle, filled with a colour token."""

    centre: Point
    radius: float
    fill: str
    pen: Pen | None
    colour: str


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text; ``at`` is on the base line."""

    text: str
    at: Point
    size: float
    face: Face
    colour: str
    anchor: Anchor
    angle_deg: float
    tag: str = ""
    """What the text is, where a back end can keep that: a field of the title block."""

    @property
    def box(self) -> Box:
        """Return the rectangle that the letters fill, from descenders to capitals."""
        width = text_width(self.text, self.size, face=self.face)
        along = {"start": width / 2, "middle": 0.0, "end": -width / 2}[self.anchor]
        has_depth = any(letter in "gjpqyQ,;()[]{}" for letter in self.text)
        depth = DESCENT * self.size if has_depth else 0.02 * self.size
        height = CAP_HEIGHT * self.size + depth
        across = depth - height / 2  # y of the middle, seen from the base line
        turn = math.radians(self.angle_deg)
        x = self.at[0] + along * math.cos(turn) - across * math.sin(turn)
        y = self.at[1] + along * math.sin(turn) + across * math.cos(turn)
        return Box((x, y), width, height, self.angle_deg)


@dataclass(frozen=True, slots=True)
class Symbol:
    """A plan symbol by name, ``size`` millimetres for its 24 units, turned clockwise."""

    name: str
    at: Point
    size: float
    turn_deg: float
    weight: float = 1.0
    """Of its strokes: below 1 for symbols drawn larger than the legend shows them."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A whole drawing of somebody else's, ``at`` its upper left corner; back ends may lack it."""

    svg: str
    at: Point
    width: float
    height: float


Command: TypeAlias = Line | Area | Circle | Text | Symbol | Picture


@dataclass(slots=True)
class Canvas:
    """Records draw calls in the order in which ink covers ink."""

    commands: list[Command] = field(default_factory=list)
    roles: list[tuple[int, Role | None]] = field(default_factory=list)
    """From which command on what is drawn is what, for back ends with layers."""

    def begin(self, role: Role | None) -> None:
        """Say what everything from here on is; None is nothing in particular."""
        self.roles.append((len(self.commands), role))

    def by_role(self) -> Iterator[tuple[Role | None, Command]]:
        """Return every draw call with what it is, in drawing order."""
        starts = [*self.roles, (len(self.commands), None)]
        role: Role | None = None
        for index, command in enumerate(self.commands):
            while starts[0][0] <= index:
                role = starts.pop(0)[1]
            yield role, command

    def line(
        self,
        *runs: Sequence[Point],
        pen: Pen = "thin",
        colour: str = "ink",
        dash: Dash = "solid",
        closed: bool = False,
        opacity: float = 1.0,
    ) -> None:
        """Stroke one or more runs of points with the same pen."""
        kept = tuple(tuple(run) for run in runs if len(run) > 1)
        if kept:
            self.commands.append(Line(kept, pen, colour, dash, closed, opacity))

    def area(
        self,
        *rings: Sequence[Point],
        fill: str = "paper",
        pen: Pen | None = None,
        colour: str = "ink",
        dash: Dash = "solid",
    ) -> None:
        """Fill a surface; rings inside rings are holes."""
        kept = tuple(tuple(ring) for ring in rings if len(ring) > 2)
        if kept:
            self.commands.append(Area(kept, fill, pen, colour, dash))

    def rectangle(
        self,
        x: float,
        y: float,
        width: float,
        height: float,
        *,
        fill: str | None = None,
        pen: Pen | None = None,
        colour: str = "ink",
        dash: Dash = "solid",
    ) -> None:
        """Fill, stroke or both: a rectangle by its upper left corner."""
        ring = ((x, y), (x + width, y), (x + width, y + height), (x, y + height))
        if fill is not None:
            self.area(ring, fill=fill, pen=pen, colour=colour, dash=dash)
        elif pen is not None:
            self.line(ring, pen=pen, colour=colour, dash=dash, closed=True)

    def picture(self, svg: str, at: Point, width: float, height: float) -> None:
        """Place a drawing of somebody else's in a box."""
        self.commands.append(Picture(svg, at, width, height))

    def circle(
        self,
        centre: Point,
        radius: float,
        *,
        fill: str = "paper",
        pen: Pen | None = None,
        colour: str = "ink",
    ) -> None:
        """Draw a filled circle."""
        self.commands.append(Circle(centre, radius, fill, pen, colour))

    def text(
        self,
        text: str,
        at: Point,
        *,
        size: float,
        face: Face = "regular",
        colour: str = "ink",
        anchor: Anchor = "start",
        angle_deg: float = 0.0,
        tag: str = "",
    ) -> Text:
        """Write one line; returns it, so that the caller knows its box."""
        record = Text(text, at, size, face, colour, anchor, angle_deg, tag)
        if text:
            self.commands.append(record)
        return record

    def symbol(
        self,
        name: str,
        at: Point,
        *,
        size: float,
        turn_deg: float = 0.0,
        weight: float = 1.0,
    ) -> None:
        """Place a plan symbol."""
        self.commands.append(Symbol(name, at, size, turn_deg, weight))

    def texts(self) -> list[Text]:
        """Return every text in drawing order."""
        return [command for command in self.commands if isinstance(command, Text)]

    def symbols(self) -> list[Symbol]:
        """Return every placed symbol in drawing order."""
        return [command for command in self.commands if isinstance(command, Symbol)]

    def extend(self, other: Canvas) -> None:
        """Append everything that another canvas recorded."""
        before, role = len(self.commands), self.roles[-1][1] if self.roles else None
        self.commands.extend(other.commands)
        if other.roles:
            self.roles += [(before + start, named) for start, named in other.roles]
            self.begin(role)


def points(pairs: Iterable[Iterable[float]]) -> tuple[Point, ...]:
    """Return any sequence of pairs as plain points.

    Examples
    --------
    >>> points([[1, 2], (3.5, 4)])
    ((1.0, 2.0), (3.5, 4.0))
    """
    return tuple((float(x), float(y)) for x, y in pairs)
