"""What a plan shows, as plain frozen values: the only thing the drawing code knows of a room.

Lengths are metres, coordinates those of the room document (x east, y north, z up), angles degrees
anticlockwise from +x. Figures arrive as text, already rounded by whoever owns them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

from wellheard.arrays import Array

Point: TypeAlias = tuple[float, float]
Point3: TypeAlias = tuple[float, float, float]
Outline: TypeAlias = tuple[Point, ...]
State: TypeAlias = Literal["kept", "at risk", "broken", "not assessed"]
Unit: TypeAlias = Literal["m", "ft"]


@dataclass(frozen=True, slots=True)
class CeilingGrid:
    """Tile grid: module along its own axes, one crossing of its lines, and its turn."""

    module: Point
    origin: Point = (0.0, 0.0)
    rotation_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class Furniture:
    """A table or another piece by outline."""

    id: str
    outline: Outline
    kind: Literal["table", "soft-seating"] = "table"
    height: float | None = None


@dataclass(frozen=True, slots=True)
class Patch:
    """A stretch of wall ``wall`` (from outline point ``wall`` on), from ``start`` to ``end``.

    ``hinge`` draws a door's leaf: at which end of the stretch it hangs; None leaves it open.
    """

    id: str
    wall: int
    start: float
    end: float
    kind: Literal["window", "door", "panel", "board"]
    label: str = ""
    bottom: float = 0.0
    top: float | None = None
    hinge: Literal["start", "end"] | None = None


@dataclass(frozen=True, slots=True)
class Display:
    """A picture on a wall, by its stretch along it."""

    id: str
    wall: int
    start: float
    end: float
    bottom: float = 0.9
    top: float = 1.8


@dataclass(frozen=True, slots=True)
class SeatMark:
    """A seat, the figure to print at it, and whether it keeps the promise."""

    id: str
    at: Point
    facing_deg: float
    figure: str
    state: State


@dataclass(frozen=True, slots=True)
class StandingMark:
    """A standing area with its own figure; ``at`` places the figure (default: the middle)."""

    id: str
    label: str
    outline: Outline
    facing_deg: float
    figure: str
    state: State
    note: str = "worst point"
    at: Point | None = None


SYMBOL_OF_MOUNTING: dict[str, str] = {
    "ceiling": "mic-ceiling",
    "pendant": "mic-ceiling",
    "array": "array",
    "table": "mic-table",
    "lectern": "mic-table",
    "wall": "mic-wall",
    "front": "bar",
}
"""Plan symbol of a microphone by how it is mounted."""


@dataclass(frozen=True, slots=True)
class DeviceMark:
    """A device to set out: ``label`` such as m1, a plan symbol, centre and drop."""

    id: str
    label: str
    symbol: str
    at: Point3
    product: str
    drop: float | None = None
    locked: bool = False
    facing_deg: float | None = None
    microphone: bool = True
    from_walls: tuple[tuple[str, float], tuple[str, float]] | None = None
    """Walls that it is set out from, and how far from each; None: from west and south. [m]"""


@dataclass(frozen=True, slots=True)
class SourceMark:
    """A located noise source: ``kind`` names a plan symbol (air-outlet, air-return, projector)."""

    id: str
    kind: str
    at: Point3
    facing_deg: float = 90.0


@dataclass(frozen=True, slots=True)
class OverheadMark:
    """Something in or under the ceiling that keeps devices away.

    ``bottom`` is its underside above the floor, None flush with the ceiling; ``what`` is what the
    document calls it, such as sprinkler or duct.
    """

    id: str
    outline: Outline
    kind: Literal["luminaire", "keep-out"] = "keep-out"
    clearance: float = 0.0
    bottom: float | None = None
    what: str = ""


@dataclass(frozen=True, slots=True)
class LevelPatch:
    """A part of the ceiling or of the floor with another finish."""

    id: str
    outline: Outline
    surface: Literal["ceiling", "floor"]


@dataclass(frozen=True, slots=True)
class EquipmentMark:
    """Where equipment lives: rack, table-box, wall-plate or entry."""

    id: str
    kind: Literal["rack", "table-box", "wall-plate", "entry"]
    at: Point3


@dataclass(frozen=True, slots=True)
class CableMark:
    """A run of cable by its corners; drawn where a drawing is in space, not on the sheet."""

    id: str
    label: str
    route: tuple[Point3, ...]


@dataclass(frozen=True, slots=True)
class PartitionMark:
    """A wall that opens, as it stands on this plan."""

    id: str
    start: Point
    end: Point
    closed: bool


@dataclass(frozen=True, slots=True)
class FieldMap:
    """One quantity over the floor, sampled on a grid.

    Parameters
    ----------
    values
        Shape (ny, nx); NaN where nothing was computed (outside the room).
    x, y
        Ascending node positions. [m]
    quantity
        Name with its bands, for the caption.
    unit
        As printed; "" for a ratio.
    target
        The promise; None where nothing is promised.
    step
        Between lines; None lets the drawing choose a round one.
    decimals
        Of the figures on lines and legend.
    conditions
        Talker height, facing and what value: a sentence for the caption.
    higher_is_better
        Which side of the promise fails.
    span
        Lowest and highest value that lines are chosen for, where several maps share their lines;
        None takes what occurs on this one.
    """

    values: Array
    x: Array
    y: Array
    quantity: str
    unit: str
    target: float | None
    step: float | None = None
    decimals: int = 1
    conditions: str = ""
    higher_is_better: bool = True
    span: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class FieldPiece:
    """The map of one space that closed partitions leave, cut at its own outline."""

    field: FieldMap
    outline: Outline


@dataclass(frozen=True, slots=True)
class Logo:
    """A checked picture of whoever hands the drawing over; its sides give its shape."""

    svg: str
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class TitleBlock:
    """Words of the title block; ``state`` is the room's, such as "designed, not yet measured"."""

    client: str
    site: str
    title: str
    subtitle: str
    sheet: str
    heading: str
    of: str
    revision: str
    project: str
    document_hash: str
    state: str
    company: str = ""
    """Whoever hands the drawing over."""
    logo: Logo | None = None


@dataclass(frozen=True, slots=True)
class BasisRow:
    """Which figures rest on one kind of origin."""

    kind: Literal["measured", "drawing", "told", "assumed"]
    items: str


@dataclass(frozen=True, slots=True)
class Revision:
    """A line of the revisions table."""

    revision: str
    date: str
    change: str
    author: str


@dataclass(frozen=True, slots=True)
class PlanView:
    """Everything a plan shows. Only outline, height and title block are required."""

    outline: Outline
    height: float
    title_block: TitleBlock
    wall_names: tuple[str, ...] = ()
    units: Unit = "m"
    ceiling: CeilingGrid | None = None
    void_depth: float | None = None
    air_return: bool = False
    furniture: tuple[Furniture, ...] = ()
    displays: tuple[Display, ...] = ()
    patches: tuple[Patch, ...] = ()
    level_patches: tuple[LevelPatch, ...] = ()
    obstacles: tuple[Outline, ...] = ()
    seats: tuple[SeatMark, ...] = ()
    mouth_height: float = 1.2
    standing: tuple[StandingMark, ...] = ()
    devices: tuple[DeviceMark, ...] = ()
    sources: tuple[SourceMark, ...] = ()
    overhead: tuple[OverheadMark, ...] = ()
    equipment: tuple[EquipmentMark, ...] = ()
    partitions: tuple[PartitionMark, ...] = ()
    cables: tuple[CableMark, ...] = ()
    field: FieldMap | None = None
    pieces: tuple[FieldPiece, ...] = ()
    """Maps of the spaces of a divided room, drawn in place of ``field``, which has their words."""
    basis: tuple[BasisRow, ...] = ()
    revisions: tuple[Revision, ...] = ()
    cautions: tuple[str, ...] = ()
    set_out_notes: tuple[str, ...] = (
        "From the finished inner face of each wall, to the device centre.",
    )
