"""A recorded drawing as entities: lines, areas, circles, text and symbols in one layout."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, TypeAlias

from wellheard.cad import LAYERS, Role
from wellheard.drawings import tokens
from wellheard.drawings.canvas import Area, Canvas, Circle, Line, Symbol, Text
from wellheard.drawings.dxf.document import FONTS, LINE_TYPES
from wellheard.drawings.dxf.outlines import Fill, Piece, Stroke, symbol_pieces, uncovered
from wellheard.drawings.lettering import CAP_HEIGHT
from wellheard.drawings.symbols import UNITS

Point: TypeAlias = tuple[float, float]
SYMBOL_BLOCK = "WELLHEARD-SYMBOL-"
"""Before the name of a symbol: its block, one unit high, for every size."""
SYMBOL_DASHES = 0.3
"""Dashes in a symbol, beside those of the drawing."""
WEIGHTS = (5, 9, 13, 15, 18, 20, 25, 30, 35, 40, 50, 53, 60, 70, 80, 90, 100)
"""Line weights that the format knows. [mm/100]"""
BY_LAYER, GREY, LIGHT, ACCENT = 256, 8, 9, 6
_INDEX = {"ink": BY_LAYER, "ink-2": GREY, "ink-3": GREY, "rule": GREY, "faint": LIGHT}


@dataclass(frozen=True, slots=True)
class Frame:
    """Paper millimetres to units of a layout: ``origin`` is where paper (0, 0) lies; y turns."""

    scale: float
    origin: Point

    def __call__(self, point: Point) -> Point:
        """Return a point of the paper in the layout."""
        return (
            self.origin[0] + self.scale * point[0],
            self.origin[1] - self.scale * point[1],
        )


@dataclass(slots=True)
class Ink:
    """Draws into one layout (or block) of a file."""

    document: Any
    layout: Any
    frame: Frame
    dash_scale: float = 1.0
    """How many times longer dashes are than on paper."""

    def draw(self, canvas: Canvas, role: Role) -> None:
        """Draw a recording; what is under a white area is left away.

        Everything goes on the layer of ``role`` but what the recording says is something else, and
        the words of that, which are notes.
        """
        pieces: list[Piece] = []
        for named, command in canvas.by_role():
            if isinstance(command, Line | Area | Circle):
                pieces = _added(pieces, command, named)
        for piece in pieces:
            layer = LAYERS[piece.role or role]
            if isinstance(piece, Fill):
                self.fill(piece, layer)
            else:
                self.stroke(piece, layer)
        for named, command in canvas.by_role():
            if isinstance(command, Text):
                self.text(command, "note" if named else role)
            elif isinstance(command, Symbol):
                self.symbol(command, named or role)

    def text(self, text: Text, role: Role) -> None:
        """Write one line of text."""
        if not text.text.strip():
            return
        entity = self.layout.add_text(text.text, dxfattribs=self.lettering(text, role))
        entity.set_placement(self.frame(text.at), align=alignment(text))

    def lettering(self, text: Text, role: Role) -> dict[str, Any]:
        """Return what makes a text entity look like a text of the sheet."""
        return {
            "layer": LAYERS[role],
            "style": FONTS[text.face][0],
            "height": round(CAP_HEIGHT * text.size * self.frame.scale, 6),
            "rotation": -text.angle_deg,
            "width": self.document.styles.get(FONTS[text.face][0]).dxf.width,
            "color": _index(text.colour),
        }

    def symbol(self, symbol: Symbol, role: Role) -> None:
        """Insert a plan symbol."""
        size = symbol.size * self.frame.scale
        self.layout.add_blockref(
            symbol_block(self.document, symbol.name),
            self.frame(symbol.at),
            dxfattribs={
                "layer": LAYERS[role],
                "xscale": size,
                "yscale": size,
                "zscale": size,
                "rotation": -symbol.turn_deg,
            },
        )

    def fill(self, piece: Fill, layer: str) -> None:
        """Fill an area."""
        hatch = self.layout.add_hatch(
            color=_index(piece.colour), dxfattribs={"layer": layer, "hatch_style": 0}
        )
        if piece.colour.startswith("tint"):
            hatch.rgb = _rgb(piece.colour)
        for part in _parts(piece.shape, "Polygon"):
            for k, ring in enumerate((part.exterior, *part.interiors)):
                points = [self.frame(point) for point in ring.coords[:-1]]
                hatch.paths.add_polyline_path(points, is_closed=True, flags=16 if k else 1)

    def stroke(self, piece: Stroke, layer: str) -> None:
        """Draw the lines of a stroke."""
        attributes = {
            "layer": layer,
            "color": _index(piece.colour),
            "lineweight": nearest_weight(piece.width_mm),
            "linetype": LINE_TYPES[piece.dash],
            "ltscale": self.dash_scale,
        }
        if piece.circle is not None:
            middle, radius = piece.circle
            self.layout.add_circle(self.frame(middle), radius * self.frame.scale, attributes)
            return
        for line in _parts(piece.shape, "LineString", "LinearRing"):
            points = [self.frame(point) for point in line.coords]
            closed = len(points) > 3 and points[0] == points[-1]
            if len(points) == 2:
                self.layout.add_line(*points, dxfattribs=attributes)
            else:
                self.layout.add_lwpolyline(
                    points[:-1] if closed else points, close=closed, dxfattribs=attributes
                )


def symbol_block(document: Any, name: str) -> str:
    """Return the block of a symbol, one unit high, aiming up; made where it is not there yet."""
    block_name = f"{SYMBOL_BLOCK}{name.upper()}"
    if block_name not in document.blocks:
        block = document.blocks.new(block_name)
        pen = Ink(document, block, Frame(1.0 / UNITS, (0.0, 0.0)), SYMBOL_DASHES)
        for piece in symbol_pieces(name):
            if isinstance(piece, Fill):
                pen.fill(piece, "0")
            else:
                pen.stroke(piece, "0")
    return block_name


def alignment(text: Text) -> Any:
    """Return how a text is anchored on its base line."""
    from ezdxf.enums import TextEntityAlignment as Align

    return {"start": Align.LEFT, "middle": Align.CENTER, "end": Align.RIGHT}[text.anchor]


def nearest_weight(width_mm: float) -> int:
    """Return the line weight that is nearest to a width.

    Examples
    --------
    >>> nearest_weight(0.25), nearest_weight(0.65), nearest_weight(0.02)
    (25, 60, 5)
    """
    return min(WEIGHTS, key=lambda weight: abs(weight - 100 * width_mm))


def _added(pieces: list[Piece], command: Line | Area | Circle, role: Role | None) -> list[Piece]:
    """Return the pieces with one more draw call on top of them."""
    from shapely import LinearRing, LineString, Point, Polygon, union_all

    if isinstance(command, Line):
        runs = [LinearRing(run) if command.closed else LineString(run) for run in command.runs]
        width = tokens.pen_mm(command.pen)
        dash, colour = command.dash, command.colour
        return [*pieces, *(Stroke(run, width, dash, colour, role=role) for run in runs)]
    circle = None
    if isinstance(command, Circle):
        circle = (command.centre, command.radius)
        area: Any = Point(command.centre).buffer(command.radius, quad_segs=16)
        edges: list[Any] = [area.exterior]
    else:
        area = Polygon()
        for ring in command.rings:  # even-odd
            area = area.symmetric_difference(Polygon(ring))
        edges = [LinearRing(ring) for ring in command.rings]
    if command.fill == "paper":
        pieces = uncovered(pieces, union_all([area]))
    else:
        pieces = [*pieces, Fill(area, command.fill, role)]
    if command.pen is not None:
        width = tokens.pen_mm(command.pen)
        dash = command.dash if isinstance(command, Area) else "solid"
        pieces += [Stroke(edge, width, dash, command.colour, circle, role) for edge in edges]
    return pieces


def _parts(shape: Any, *kinds: str) -> Iterator[Any]:
    for part in getattr(shape, "geoms", [shape]):
        if part.geom_type in kinds and not part.is_empty:
            yield part


def _index(colour: str) -> int:
    return ACCENT if colour == "accent" else _INDEX.get(colour, BY_LAYER)


def _rgb(colour: str) -> tuple[int, int, int]:
    value = tokens.colour(colour).removeprefix("#")
    return int(value[:2], 16), int(value[2:4], 16), int(value[4:], 16)
