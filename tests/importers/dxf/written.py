"""DXF text written by hand: group codes and values, as the published DXF reference lists them.

Nothing of a library is used here, so that what is read is not what the same library has written.
Codes are from memory of the reference for R12 and R2000: 0 kind, 8 layer, 10/20/30 the first
point, 40 radius or height, 42 bulge, 50 angle, 70 flags.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

Tags = list[tuple[int, object]]
Point = tuple[float, float]


def text(tags: Iterable[tuple[int, object]]) -> str:
    return "".join(f"{code:>3}\n{value}\n" for code, value in tags)


def at(point: Sequence[float], first: int = 10) -> Tags:
    x, y, z = (*point, 0.0)[:3]
    return [(first, x), (first + 10, y), (first + 20, z)]


def line(layer: str, a: Sequence[float], b: Sequence[float]) -> Tags:
    return [(0, "LINE"), (8, layer), *at(a), *at(b, 11)]


def arc(layer: str, centre: Point, radius: float, start: float, end: float) -> Tags:
    return [(0, "ARC"), (8, layer), *at(centre), (40, radius), (50, start), (51, end)]


def circle(layer: str, centre: Point, radius: float, *more: tuple[int, object]) -> Tags:
    return [(0, "CIRCLE"), (8, layer), *at(centre), (40, radius), *more]


def polyline(
    layer: str, corners: Sequence[Sequence[float]], *more: tuple[int, object], closed: bool = True
) -> Tags:
    """A polyline of R12; a third number of a corner is the bulge of the side after it."""
    tags: Tags = [(0, "POLYLINE"), (8, layer), (66, 1), (70, int(closed)), *at((0, 0)), *more]
    for x, y, *bulge in corners:
        tags += [(0, "VERTEX"), (8, layer), *at((x, y)), *((42, b) for b in bulge)]
    return [*tags, (0, "SEQEND"), (8, layer)]


def lwpolyline(layer: str, corners: Sequence[Sequence[float]], *more: tuple[int, object]) -> Tags:
    """A closed polyline of R2000."""
    tags: Tags = [(0, "LWPOLYLINE"), (100, "AcDbEntity"), (8, layer), (100, "AcDbPolyline")]
    tags += [(90, len(corners)), (70, 1), *more]
    for x, y, *bulge in corners:
        tags += [(10, x), (20, y), *((42, b) for b in bulge)]
    return tags


def insert(layer: str, block: str, point: Sequence[float], *more: tuple[int, object]) -> Tags:
    return [(0, "INSERT"), (8, layer), (2, block), *at(point), *more]


def tagged(layer: str, block: str, point: Sequence[float], values: dict[str, str]) -> Tags:
    """A block reference with attributes."""
    tags: Tags = [(0, "INSERT"), (8, layer), (66, 1), (2, block), *at(point)]
    for tag, value in values.items():
        tags += [(0, "ATTRIB"), (8, layer), *at(point), (40, 1), (1, value), (2, tag), (70, 0)]
    return [*tags, (0, "SEQEND"), (8, layer)]


def words(layer: str, point: Point, height: float, said: str) -> Tags:
    return [(0, "TEXT"), (8, layer), *at(point), (40, height), (1, said)]


def block(name: str, *entities: Tags, base: Sequence[float] = (0, 0)) -> Tags:
    tags: Tags = [(0, "BLOCK"), (8, "0"), (2, name), (70, 0), *at(base), (3, name)]
    for entity in entities:
        tags += entity
    return [*tags, (0, "ENDBLK"), (8, "0")]


def layer(name: str, *, flags: int = 0, colour: int = 7) -> Tags:
    """A row of the table of layers: flag 1 is frozen, a negative colour is off."""
    return [(0, "LAYER"), (2, name), (70, flags), (62, colour), (6, "CONTINUOUS")]


def drawing(
    *entities: Tags,
    blocks: Sequence[Tags] = (),
    layers: Sequence[Tags] = (),
    unit: int | None = 4,
    version: str = "AC1009",
) -> str:
    """A whole file; ``unit`` is that of $INSUNITS: 1 inches, 2 feet, 4 mm, 5 cm, 6 m."""
    header: Tags = [(9, "$ACADVER"), (1, version)]
    if unit is not None:
        header += [(9, "$INSUNITS"), (70, unit)]
    tags: Tags = [(0, "SECTION"), (2, "HEADER"), *header, (0, "ENDSEC")]
    tags += [(0, "SECTION"), (2, "TABLES"), (0, "TABLE"), (2, "LAYER"), (70, len(layers))]
    for row in layers:
        tags += row
    tags += [(0, "ENDTAB"), (0, "ENDSEC"), (0, "SECTION"), (2, "BLOCKS")]
    for one in blocks:
        tags += one
    tags += [(0, "ENDSEC"), (0, "SECTION"), (2, "ENTITIES")]
    for entity in entities:
        tags += entity
    return text([*tags, (0, "ENDSEC"), (0, "EOF")])


def saved(folder: Path, content: str, name: str = "plan.dxf") -> Path:
    path = folder / name
    path.write_text(content, "utf-8")
    return path


def box(left: float, low: float, right: float, high: float) -> list[Point]:
    return [(left, low), (right, low), (right, high), (left, high)]
