"""What was found in a plan, as plain frozen values: the only thing the rest knows of a file.

Lengths are metres; x east, y north, z up from the room's floor; angles degrees anticlockwise from
+x. A reader gives rooms in the coordinates of the file; `standing.stood` turns and moves them to
those of a room document, and ``FoundRoom.datum`` and ``turned_deg`` say how.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, TypeAlias

from wellheard.cad import Role
from wellheard.errors import InputError

Point: TypeAlias = tuple[float, float]
Point3: TypeAlias = tuple[float, float, float]
Ring: TypeAlias = tuple[Point, ...]
"""Corners counter-clockwise, the first not repeated."""

Opening: TypeAlias = Literal["window", "door"]


@dataclass(frozen=True, slots=True)
class Asked:
    """What the user says of a plan, beside the file.

    Parameters
    ----------
    unit : str, optional
        Unit of the drawing: mm, cm, m, in or ft. None believes the file; one that states none is
        refused with `UnitUnstated`.
    layers : mapping of role to tuple of str
        Layers (or for IFC: classes) by pattern (``*`` and ``?``), in place of recognition, for the
        roles that are named. A layer that is picked for ``ignore`` is left out.
    """

    unit: str | None = None
    layers: Mapping[Role | Literal["ignore"], tuple[str, ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class FoundOpening:
    """A window or a door in wall ``wall`` (from corner ``wall`` on), along it and in height.

    ``bottom`` and ``top`` are None where the file does not say.
    """

    kind: Opening
    wall: int
    start: float
    end: float
    bottom: float | None = None
    top: float | None = None
    material: str = ""


@dataclass(frozen=True, slots=True)
class FoundThing:
    """A piece of furniture, something overhead, a column, a screen or a rack, by its outline.

    ``bottom`` and ``top`` [m above the floor] are None where the file does not say. ``id``,
    ``product`` and ``kind`` are those of the attributes of our own files, else empty.
    """

    role: Role
    outline: Ring
    at: Point
    bottom: float | None = None
    top: float | None = None
    name: str = ""
    id: str = ""
    kind: str = ""
    material: str = ""


@dataclass(frozen=True, slots=True)
class FoundSeat:
    """A chair; ``facing_deg`` is None where the file does not say."""

    at: Point
    facing_deg: float | None = None
    id: str = ""


@dataclass(frozen=True, slots=True)
class FoundDevice:
    """A microphone or loudspeaker with its place; ``product`` is empty where it is not ours.

    ``kind``, ``aim_deg`` and ``rotation_deg`` are those of the document, where it is ours.
    """

    role: Literal["microphone", "loudspeaker"]
    at: Point3
    id: str = ""
    product: str = ""
    name: str = ""
    kind: str = ""
    aim_deg: float | None = None
    rotation_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class FoundGrid:
    """A grid of ceiling tiles: module along its own axes, one crossing, its turn."""

    module: Point
    origin: Point
    rotation_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class FoundRoom:
    """One room of a plan.

    ``key`` names it on the command line; ``materials`` has the words of the file for the surfaces
    ``floor``, ``ceiling``, ``walls`` and ``wall 0``, ``wall 1``, … (from corner 0 on).
    ``source`` says in words where the outline comes from, such as "closed outline on A-AREA".
    ``datum`` is the point of the file that is the room's origin, ``turned_deg`` by how much the
    file's axes were turned about it (anticlockwise) to be the room's. An ``owned`` room is of a
    file of ours: its datum is that of its document, and it is never turned. ``storey`` is its
    name, ``void_depth`` what is above the ceiling [m], ``wall_names`` those of the document's
    walls from corner 0 on, where the file tells them.
    """

    key: str
    name: str
    outline: Ring
    source: str
    datum: Point = (0.0, 0.0)
    turned_deg: float = 0.0
    owned: bool = False
    height: float | None = None
    height_source: str = ""
    ceiling_kind: Literal["tiles", "hard", "open"] | None = None
    grid: FoundGrid | None = None
    openings: tuple[FoundOpening, ...] = ()
    things: tuple[FoundThing, ...] = ()
    seats: tuple[FoundSeat, ...] = ()
    devices: tuple[FoundDevice, ...] = ()
    materials: Mapping[str, str] = field(default_factory=dict)
    storey: str = ""
    void_depth: float | None = None
    wall_names: tuple[str, ...] = ()

    @property
    def area(self) -> float:
        """Return the area of the outline. [m²]"""
        ends = zip(self.outline, (*self.outline[1:], self.outline[0]), strict=True)
        return sum(ax * by - bx * ay for (ax, ay), (bx, by) in ends) / 2


@dataclass(frozen=True, slots=True)
class Noted:
    """One line of the report: how many of what were taken, or left, and why.

    ``where`` is the layer, block or class; ``why`` a clause such as "no closed outline".
    """

    taken: bool
    what: str
    count: int
    where: str = ""
    why: str = ""


@dataclass(frozen=True, slots=True)
class FoundPlan:
    """Everything that was found in a file.

    ``format`` is such as "DXF R2018" or "IFC4"; ``unit`` what a unit of the file is, and
    ``unit_source`` who said so. ``strokes`` are the plan's other lines in the file's own place
    [m], for the preview, at most some thousands. ``layers`` has the number of entities of each
    layer (or class), and the role that it was taken for, or None.
    """

    format: str
    unit: str
    unit_source: str
    rooms: tuple[FoundRoom, ...]
    report: tuple[Noted, ...]
    strokes: tuple[tuple[Point, ...], ...] = ()
    layers: Mapping[str, tuple[int, Role | None]] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()


class UnitUnstated(InputError):
    """The drawing does not say what its unit is.

    ``sizes`` has the size of the largest room, or of the whole drawing, for each unit that is
    possible: (unit, width, depth) in metres, the likeliest first.
    """

    def __init__(self, message: str, sizes: tuple[tuple[str, float, float], ...]) -> None:
        super().__init__(message)
        self.sizes = sizes
