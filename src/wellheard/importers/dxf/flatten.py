"""Lay out the model space of a document in metres: blocks in blocks, arrays, curves, extrusions.

What a drawing may come to is bounded: blocks in blocks can stand for more lines than there are
atoms, in a file of a few kilobytes.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

from wellheard.errors import InputError, visible
from wellheard.importers import curves
from wellheard.importers.dxf.entities import Local, Unknown, clean, pattern_of, pieces_of, words_of
from wellheard.importers.dxf.opening import NEXT
from wellheard.importers.dxf.pieces import NOBODY, Flattened, Pattern, Piece, Placed, Words
from wellheard.importers.dxf.weighing import MOST_PIECES, array_of, refuse_too_much
from wellheard.importers.found import Point

MOST_POINTS = 2_000_000
FURTHEST = 2e7
"""From the drawing's zero; half way round the Earth. [m]"""
NOT_FINITE = "coordinates that are no number, or further off than the Earth is wide"

_BODIES = (
    "3DSOLID",
    "BODY",
    "REGION",
    "SURFACE",
    "EXTRUDEDSURFACE",
    "LOFTEDSURFACE",
    "REVOLVEDSURFACE",
    "SWEPTSURFACE",
    "PLANESURFACE",
    "NURBSURFACE",
    "MESH",
)
IGNORED = {
    **dict.fromkeys(_BODIES, "bodies in space are not read, only lines of a plan"),
    "DIMENSION": "dimensions are not measured again",
    "ARC_DIMENSION": "dimensions are not measured again",
    "LARGE_RADIAL_DIMENSION": "dimensions are not measured again",
    "LEADER": "a note's arrow",
    "MULTILEADER": "a note's arrow",
    "MLEADER": "a note's arrow",
    "TOLERANCE": "a note",
    "IMAGE": "a picture is not read",
    "PDFUNDERLAY": "a page underneath is not read",
    "DWFUNDERLAY": "a page underneath is not read",
    "DGNUNDERLAY": "a page underneath is not read",
    "OLE2FRAME": "what is embedded is not read",
    "OLEFRAME": "what is embedded is not read",
    "WIPEOUT": "only hides what is under it",
    "VIEWPORT": "a window of a sheet",
    "POINT": "a point has no shape",
    "RAY": "a line without end",
    "XLINE": "a line without end",
    "SHAPE": "shapes of fonts are not read",
    "ATTDEF": "the form of an attribute, without its value",
    "ACAD_TABLE": "tables are not read",
    "ACAD_PROXY_ENTITY": "made by an extension that is not here",
    "LIGHT": "not of a plan",
    "SUN": "not of a plan",
    "CAMERA": "not of a plan",
}
UNKNOWN = "a kind of entity that is not known"


@dataclass(slots=True)
class _Block:
    """What is in a block, once for each fineness of its curves."""

    local: list[Local] = field(default_factory=list)
    words: list[tuple[Words, Any]] = field(default_factory=list)
    patterns: list[tuple[Pattern, list[list[Any]]]] = field(default_factory=list)
    inserts: list[Any] = field(default_factory=list)


def flattened(document: Any, name: str, metres: float) -> Flattened:
    """Lay out a document.

    Parameters
    ----------
    document : ezdxf document
        As it was opened.
    name : str
        Of the file, for messages.
    metres : float
        In a unit of the drawing.

    Raises
    ------
    InputError
        It comes to more than is read, or a block holds itself.
    """
    return _Walk(document, name, metres).all()


class _Walk:
    def __init__(self, document: Any, name: str, metres: float) -> None:
        from ezdxf.math import Matrix44

        self.document, self.name, self.metres = document, name, metres
        self.flat = Flattened()
        self.points = 0
        self.blocks: dict[tuple[str, int], _Block] = {}
        self.one = Matrix44.scale(metres)
        self.hidden = {
            layer.dxf.name.casefold(): "frozen" if layer.is_frozen() else "off"
            for layer in document.layers
            if layer.is_frozen() or layer.is_off()
        }

    def all(self) -> Flattened:
        refuse_too_much(self.document, self.name)
        space = self.document.modelspace()
        held = self._held(space, curves.SAGITTA / self.metres)
        self._lay(held, self.one, NOBODY, "0")
        return self.flat

    # Laying out ----------------------------------------------------------------------------------

    def _lay(self, held: _Block, to: Any, owner: int, layer: str) -> None:
        """Lay what a block holds by a matrix; ``layer`` is that of what lies on layer 0."""
        size = _stretch(to)
        for local in held.local:
            self._piece(local, to, size, owner, layer)
        for words, place in held.words:
            shown = self._shown(words.layer, layer, "TEXT")
            at = _plane(to.transform_vertices([place])) if shown else None
            if shown and at:
                self.flat.words.append(Words(words.text, shown, at[0], words.height * size, owner))
        for pattern, rings in held.patterns:
            shown = self._shown(pattern.layer, layer, "HATCH", counted=False)
            if shown:
                self._pattern(pattern, rings, to, shown)
        for insert in held.inserts:
            self._insert(insert, to, owner, layer)

    def _piece(self, local: Local, to: Any, size: float, owner: int, layer: str) -> None:
        first = local.piece
        shown = self._shown(first.layer, layer, first.kind)
        if not shown:
            return
        self._spend(1, len(local.points))
        placed = list(to.transform_vertices(local.points))
        points = _plane(placed)
        if not points:
            self.flat.leave(first.kind, shown, NOT_FINITE)
            return
        centres = _plane(to.transform_vertices(local.centres)) if local.centres else None
        base = placed[0].z
        piece = Piece(
            first.kind,
            shown,
            points,
            first.closed,
            owner,
            centres[0] if centres else None,
            base if abs(base) < FURTHEST else 0.0,
            abs(first.thickness) * size if abs(first.thickness) < FURTHEST else 0.0,
            first.solid,
        )
        if owner != NOBODY:
            self.flat.placed[owner].pieces.append(len(self.flat.pieces))
        self.flat.pieces.append(piece)

    def _insert(self, insert: Any, to: Any, owner: int, layer: str) -> None:
        block_name = insert.dxf.get("name", "")
        own = insert.dxf.layer
        # On a layer that is off only what lies on layer 0 goes; on a frozen one all of it.
        if self.hidden.get((layer if own == "0" else own).casefold()) == "frozen":
            self._shown(own, layer, "INSERT")
            return
        self._count(layer if own == "0" else own)
        block = self.document.blocks.get(block_name)
        if block is None:
            self.flat.leave("INSERT", own, f"the block {visible(block_name)} is not in the file")
            return
        if block.block is not None and (block.block.dxf.flags & 4 or block.block.dxf.flags & 32):
            self.flat.leave("INSERT", own, f"{visible(block_name)} is in another file")
            return
        shown = layer if own == "0" else own
        columns, rows = array_of(insert)
        self._spend(columns * rows, 0)
        inner = insert.matrix44()
        held = self._held(block, curves.SAGITTA / _stretch(inner * to))
        for shift in _shifts(insert, columns, rows):
            whole = inner.copy()
            if shift is not None:
                x, y, z = whole.get_row(3)[:3]
                whole.set_row(3, (x + shift.x, y + shift.y, z + shift.z))
            whole = whole * to
            index = self._placed(insert, block_name, shown, whole, block, owner)
            if index is not None:
                self._lay(held, whole, index, shown)

    def _placed(
        self, insert: Any, block_name: str, layer: str, to: Any, block: Any, owner: int
    ) -> int | None:
        from ezdxf.math import Vec3

        base = block.block.dxf.base_point if block.block is not None else (0, 0, 0)
        at = to.transform(Vec3(base))
        along = to.transform_direction(Vec3(1, 0, 0))
        across = to.transform_direction(Vec3(0, 1, 0))
        values = (at.x, at.y, at.z, along.x, along.y, across.x, across.y)
        if not all(math.isfinite(v) and abs(v) < FURTHEST for v in values):
            self.flat.leave("INSERT", layer, NOT_FINITE)
            return None
        index = len(self.flat.placed)
        attributes: dict[str, str] = {}
        for attribute in insert.attribs:
            tag, text = attribute.dxf.tag.upper(), clean(attribute.plain_text())
            attributes[tag] = text
        self.flat.placed.append(
            Placed(
                index,
                block_name,
                layer,
                (at.x, at.y, at.z),
                (along.x, along.y),
                (across.x, across.y),
                owner,
                attributes,
            )
        )
        if owner != NOBODY:
            self.flat.placed[owner].children.append(index)
        for tag, text in attributes.items():
            self.flat.words.append(Words(text, layer, (at.x, at.y), 0.0, index, tag))
        return index

    def _pattern(self, pattern: Pattern, rings: list[list[Any]], to: Any, layer: str) -> None:
        from ezdxf.math import Vec3

        lines = []
        for angle, base, offset in pattern.lines:
            along = to.transform_direction(
                Vec3(math.cos(math.radians(angle)), math.sin(math.radians(angle)), 0)
            )
            start, step = to.transform(Vec3(*base)), to.transform_direction(Vec3(*offset))
            if all(math.isfinite(v) for v in (along.x, along.y, start.x, start.y, step.x, step.y)):
                turned = math.degrees(math.atan2(along.y, along.x))
                lines.append((turned, (start.x, start.y), (step.x, step.y)))
        outlines = [plane for ring in rings if (plane := _plane(to.transform_vertices(ring)))]
        self.flat.patterns.append(Pattern(layer, tuple(lines), tuple(map(tuple, outlines))))

    # What a block holds ------------------------------------------------------------------------

    def _held(self, block: Any, sagitta: float) -> _Block:
        """What is in a block, its curves fine enough for the scale that it has here."""
        fineness = round(math.log2(sagitta)) if 0 < sagitta < math.inf else 0
        key = (block.name.casefold(), fineness)
        if key not in self.blocks:
            held = _Block()
            for entity in block:
                self._hold(entity, held, 2.0**fineness)
            self.blocks[key] = held
        return self.blocks[key]

    def _hold(self, entity: Any, held: _Block, sagitta: float) -> None:
        from ezdxf.lldxf.const import DXFError

        kind = entity.dxftype()
        if not entity.dxf.is_supported("layer"):
            self.flat.leave(visible(kind) or "nameless", "0", UNKNOWN)
            return
        layer = entity.dxf.get("layer", "0")
        if entity.dxf.get("invisible", 0):
            self.flat.leave(kind, layer, "made invisible in the drawing")
            return
        if kind in IGNORED:
            self._count(layer)
            self.flat.leave(kind, layer, IGNORED[kind])
            return
        if kind == "INSERT":
            held.inserts.append(entity)
            return
        try:
            if kind in ("TEXT", "MTEXT"):
                held.words.extend(words_of(entity, kind, layer))
                return
            if kind == "HATCH" and not entity.dxf.solid_fill and entity.pattern is not None:
                held.patterns.append(pattern_of(entity, layer, sagitta))
                return
            held.local.extend(pieces_of(entity, kind, layer, sagitta, self._room_left()))
        except Unknown:
            self._count(layer)
            self.flat.leave(kind, layer, UNKNOWN)
        except (DXFError, ArithmeticError, ValueError, LookupError, TypeError, AttributeError):
            # A torn entity fails in whatever code of the library meets it first.
            self._count(layer)
            self.flat.leave(kind, layer, "damaged or without a shape")

    # Counting ------------------------------------------------------------------------------------

    def _room_left(self) -> int:
        return max(0, MOST_PIECES - len(self.flat.pieces))

    def _spend(self, pieces: int, points: int) -> None:
        self.points += points
        total = len(self.flat.pieces) + len(self.flat.placed) + pieces
        if total > MOST_PIECES or self.points > MOST_POINTS:
            what = f"{MOST_PIECES} lines" if total > MOST_PIECES else f"{MOST_POINTS} points"
            raise InputError(
                f"{self.name}: with all blocks laid out the drawing has more than {what}, which is "
                f"the most that is read; take out what is not needed, then {NEXT}"
            )

    def _count(self, layer: str) -> None:
        self.flat.counts[layer] = self.flat.counts.get(layer, 0) + 1

    def _shown(self, own: str, inherited: str, kind: str, *, counted: bool = True) -> str:
        """Return the layer of something, or an empty text where that is off or frozen."""
        layer = inherited if own == "0" else own
        if counted:
            self._count(layer)
        state = self.hidden.get(layer.casefold())
        if state:
            if counted:
                self.flat.leave(kind, layer, f"the layer is {state}")
            return ""
        return layer


def _plane(points: Iterable[Any]) -> list[Point]:
    """Points in the plane of the plan, none at all where one of them is no place."""
    plane = [(p.x, p.y) for p in points]
    for x, y in plane:
        if not (-FURTHEST < x < FURTHEST and -FURTHEST < y < FURTHEST):
            return []
    return plane


def _stretch(matrix: Any) -> float:
    """Largest length of a unit in the plane after a matrix; 1 where that is no number."""
    from ezdxf.math import Vec3

    most = max(
        matrix.transform_direction(Vec3(1, 0, 0)).magnitude,
        matrix.transform_direction(Vec3(0, 1, 0)).magnitude,
    )
    return most if 0.0 < most < math.inf else 1.0


def _shifts(insert: Any, columns: int, rows: int) -> Iterator[Any]:
    """Yield how far each block of an array is off the first, None for that."""
    if columns * rows == 1:
        yield None
        return
    from ezdxf.math import Vec3

    ocs = insert.ocs()
    turn = math.radians(insert.dxf.rotation)
    along = Vec3(ocs.to_wcs(Vec3(math.cos(turn), math.sin(turn), 0)))
    across = Vec3(ocs.to_wcs(Vec3(-math.sin(turn), math.cos(turn), 0)))
    for row in range(rows):
        for column in range(columns):
            yield along * (column * insert.dxf.get("column_spacing", 0.0)) + across * (
                row * insert.dxf.get("row_spacing", 0.0)
            )
