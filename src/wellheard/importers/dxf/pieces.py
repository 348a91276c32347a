"""What a drawing comes to when its blocks are laid out: lines in a plane, texts, and blocks."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from wellheard.importers.found import Point, Point3

NOBODY = -1


@dataclass(slots=True)
class Piece:
    """One line, outline or curve in the plane of the plan. [m]

    ``owner`` is the index of the block reference that it comes from, or −1. ``centre`` is that of
    an arc. ``base`` is its height in the file, ``thickness`` how far it is extruded.
    """

    kind: str
    layer: str
    points: list[Point]
    closed: bool
    owner: int = NOBODY
    centre: Point | None = None
    base: float = 0.0
    thickness: float = 0.0
    solid: bool = False


@dataclass(slots=True)
class Words:
    """A text at its place; ``tag`` is that of the attribute of a block."""

    text: str
    layer: str
    at: Point
    height: float
    owner: int = NOBODY
    tag: str = ""


@dataclass(slots=True)
class Placed:
    """A block where it is inserted.

    ``along`` and ``across`` are its own axes in the plane, with its scale. ``pieces`` are those of
    its own and not of blocks in it, which are ``children``.
    """

    index: int
    block: str
    layer: str
    at: Point3
    along: Point
    across: Point
    parent: int
    attributes: dict[str, str] = field(default_factory=dict)
    pieces: list[int] = field(default_factory=list)
    children: list[int] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Pattern:
    """Lines of a hatch: direction [deg], a point on one of them, and the way to the next. [m]"""

    layer: str
    lines: tuple[tuple[float, Point, Point], ...]
    outlines: tuple[tuple[Point, ...], ...]


@dataclass(slots=True)
class Flattened:
    """A whole drawing, and how many of what were left out and why."""

    pieces: list[Piece] = field(default_factory=list)
    words: list[Words] = field(default_factory=list)
    placed: list[Placed] = field(default_factory=list)
    patterns: list[Pattern] = field(default_factory=list)
    left: dict[tuple[str, str, str], int] = field(default_factory=dict)
    counts: dict[str, int] = field(default_factory=dict)

    def leave(self, what: str, where: str, why: str, count: int = 1) -> None:
        """Count something that is not taken."""
        key = (what, where, why)
        self.left[key] = self.left.get(key, 0) + count

    def within(self, index: int) -> Iterable[int]:
        """Yield the pieces of a block reference, those of blocks in it included."""
        waiting = [index]
        while waiting:
            one = self.placed[waiting.pop()]
            yield from one.pieces
            waiting.extend(one.children)
