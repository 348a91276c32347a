"""The room in the model space of a file: true size, in the coordinates of its document."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

from wellheard.cad import BLOCKS, HEIGHT_MM, ID, KIND, LABEL, LAYERS, PRODUCT, Role
from wellheard.drawings import devices, marks
from wellheard.drawings.boxes import Placer
from wellheard.drawings.canvas import Canvas, Text
from wellheard.drawings.dxf.blocks import Insertion, insert, millimetres, room_block
from wellheard.drawings.dxf.document import LINE_TYPES, Measure, lineweight
from wellheard.drawings.dxf.ink import Frame, Ink
from wellheard.drawings.dxf.measures import add_row, add_styles
from wellheard.drawings.lettering import text_width
from wellheard.drawings.plan import Arrangement
from wellheard.drawings.roomplan import SHEET_STYLE, Lettering, draw_set_out_lines, write_room
from wellheard.drawings.sheet import Projection
from wellheard.drawings.signs import Labelled, Sign
from wellheard.drawings.structure import SOURCE_SYMBOLS, Structure, grid_lines
from wellheard.drawings.surround import draw_dimensions, draw_marks, rows_of, wall_mm
from wellheard.drawings.symbols import UNITS
from wellheard.drawings.tokens import Dash, Pen, size_mm
from wellheard.drawings.view import DeviceMark, Outline, OverheadMark, PlanView

SEAT, OUTLET, EQUIPMENT, PROJECTOR = 0.72, 0.675, 0.6, 0.4
"""Height of the symbols' 24 units where they stand for things of a usual size. [m]"""
SEAT_CIRCLE = 3.7
"""Radius of the circle in a seat's symbol, in its units."""
NOTE = size_mm("note")
APPLICATION = "WELLHEARD"
"""Whose extended data a cable has: its number, and the id of its link."""
DISPLAY_DEPTH = 0.08
"""Of a picture on a wall. [m]"""
OFF_WALL_MM = 1.2
"""Between the outer face of a wall and an extension line. [mm on paper]"""
PATCH_ROLE: dict[str, Role] = {
    "window": "window",
    "door": "door",
    "panel": "treatment",
    "board": "note",
}


def frame_of(project: Projection, measure: Measure) -> Frame:
    """Return what takes the sheet's millimetres into the room, in units of the file."""
    scale = measure.per_metre / project.mm_per_metre
    (x, y), (left, down) = project.datum, project.origin
    return Frame(
        scale, (x * measure.per_metre - scale * left, y * measure.per_metre + scale * down)
    )


def draw_model(
    document: Any, view: PlanView, where: Arrangement, measure: Measure, hard: Placer
) -> None:
    """Draw the room into the model space; ``hard`` knows what the sheet has outside the walls."""
    frame = frame_of(where.project, measure)
    ink = Ink(document, document.modelspace(), frame, dash_scale=where.scale.ratio)
    off_wall = wall_mm(where.project) + OFF_WALL_MM
    add_styles(document, view.units, where.scale, off_wall_mm=off_wall)
    draw_dimensions(Canvas(), hard, view, where.project, where.chains, where.margins)
    structure = Structure(view, where.project)
    inside = _names_inside(view, where.project)
    seat_mm = where.project.length(SEAT)
    style = replace(SHEET_STYLE, seat=seat_mm, seat_ids=not inside)
    lettering = write_room(view, structure, style=style, hard=hard)
    drawn = _Model(ink, view, structure, lettering, inside, measure, where)
    drawn.building()
    drawn.fittings()
    drawn.people()
    drawn.devices()
    drawn.cables()
    drawn.words()
    for row in rows_of(view, where.project, where.chains, where.margins):
        add_row(ink, row, view, measure, off_wall_mm=off_wall)


@dataclass(frozen=True, slots=True)
class _Model:
    ink: Ink
    view: PlanView
    structure: Structure
    lettering: Lettering
    seat_names: Mapping[str, Text]
    measure: Measure
    where: Arrangement

    def building(self) -> None:
        """Outline, walls, openings, what is on the walls, columns, partitions and the tile grid."""
        view, ink = self.view, self.ink
        name = view.title_block.title
        room_block(ink.document, ink.layout, name, view.height, size=self._scaled(0.05))
        self.ring(view.outline, "room")
        self.canvas("wall", self.structure.draw_solid)
        for patch in view.patches:
            canvas = Canvas()
            self.structure.draw_patch(canvas, patch)
            ink.draw(canvas, PATCH_ROLE[patch.kind])
        for outline in view.obstacles:
            self.solid(outline, "column")
        for mark in view.partitions:
            self.line((mark.start, mark.end), "wall", "solid" if mark.closed else "dashed")
        if view.ceiling is not None:
            from shapely import MultiLineString, Polygon

            lines = MultiLineString(grid_lines(view.ceiling, view.outline))
            for part in _lines(lines.intersection(Polygon(view.outline))):
                self.line(part, "grid")

    def fittings(self) -> None:
        """Tables, what is overhead, panels, pictures, air outlets, racks and table boxes."""
        view = self.view
        for item in view.furniture:
            self.ring(item.outline, item.kind, level=item.height or 0.0)
        for mark in view.overhead:
            self.overhead(mark)
        for patch in view.level_patches:
            role: Role = "treatment" if patch.surface == "ceiling" else "note"
            self.ring(patch.outline, role, dash="dashed")
            if role == "treatment" and len(patch.outline) == 4:
                self.line((patch.outline[0], patch.outline[2]), role, pen="hair")
        for display in view.displays:
            self.display(display.id, display.wall, (display.start, display.end), display)
        for source in view.sources:
            symbol = source.kind if source.kind in SOURCE_SYMBOLS else "noise"
            role = _role_of(symbol)
            turn = source.facing_deg - 90.0 if symbol == "projector" else 0.0
            size = PROJECTOR if symbol == "projector" else OUTLET
            values = {ID: source.id, HEIGHT_MM: millimetres(source.at[2]), KIND: source.kind}
            self.insert(role, symbol, source.at, size, turn, values)
        for place in view.equipment:
            role = "rack" if place.kind == "rack" else "equipment"
            _, turn = self.structure.equipment_box(place)
            values = {ID: place.id, HEIGHT_MM: millimetres(place.at[2]), KIND: place.kind}
            self.insert(role, place.kind, place.at, EQUIPMENT, -turn, values)

    def overhead(self, mark: OverheadMark) -> None:
        """Something overhead at the height of its underside, and how far it keeps devices away."""
        role: Role = "luminaire" if mark.kind == "luminaire" else "keep-out"
        if mark.what in ("sprinkler", "projector"):
            role = "sprinkler" if mark.what == "sprinkler" else "projector"
        level = self.view.height if mark.bottom is None else mark.bottom
        dash: Dash = "dashed" if role == "keep-out" else "solid"
        self.ring(mark.outline, role, dash=dash, level=level)
        if role == "luminaire":
            self.line(_axis(mark.outline), role, "chain", "hair")
        else:
            self.hatched(mark.outline, role)
        if mark.clearance > 0:
            self.clearance(mark.outline, mark.clearance)

    def people(self) -> None:
        """Seats by their ids, and where people stand."""
        names = self.seat_names or _by_text(self.lettering.placed[2])
        for seat in self.view.seats:
            shown = {ID: names[seat.id]} if seat.id in names else {}
            at = (*seat.at, 0.0)
            self.insert("seat", "seat", at, SEAT, seat.facing_deg - 90.0, {ID: seat.id}, shown)
        for area, shape in zip(self.view.standing, self.structure.standing, strict=True):
            self.ring(area.outline, "note", dash="dashed")
            canvas = Canvas()
            spot = marks.standing_point(area, self.structure, shape)
            turn = 90.0 - area.facing_deg
            canvas.symbol("person-standing", spot, size=SHEET_STYLE.standing, turn_deg=turn)
            self.ink.draw(canvas, "note")

    def devices(self) -> None:
        """Microphones and loudspeakers at their true places, height included."""
        labels = _by_text(self.lettering.placed[0])
        size = SHEET_STYLE.device / self.where.project.mm_per_metre
        for device in self.view.devices:
            _, turn = devices.device_spot(device, self.structure, SHEET_STYLE.device)
            role: Role = "microphone" if device.microphone else "loudspeaker"
            shown = {LABEL: labels[device.label]} if device.label in labels else {}
            self.insert(role, device.symbol, device.at, size, -turn, _said_of(device), shown)
        canvas = Canvas()
        draw_set_out_lines(canvas, self.view, self.structure, self.lettering.shape())
        self.ink.draw(canvas, "dimension")

    def cables(self) -> None:
        """Ways of the cables, in space; each says in its extended data which it is."""
        if self.view.cables:
            self.ink.document.appids.add(APPLICATION)
        for cable in self.view.cables:
            points = [tuple(self._scaled(v) for v in point) for point in cable.route]
            if len(points) > 1:
                way = self.ink.layout.add_polyline3d(points, dxfattribs={"layer": LAYERS["cable"]})
                way.set_xdata(APPLICATION, [(1000, cable.label), (1000, cable.id)])

    def words(self) -> None:
        """Everything else that is written: heights, drops, names of areas, openings and panels."""
        canvas = Canvas()
        mine = {device.label for device in self.view.devices}
        mine |= {seat.id for seat in self.view.seats}
        for labels in self.lettering.placed:
            for sign in labels.signs:
                if sign.text is None or sign.text.text not in mine:
                    sign.draw(canvas)
        canvas.extend(self.lettering.words)
        self.ink.draw(canvas, "note")
        outside = Canvas()
        anywhere = Placer(self.where.area)
        draw_marks(outside, anywhere, self.view, self.where.project)
        self.ink.draw(outside, "dimension")

    # ---- entities ------------------------------------------------------------------------

    def insert(
        self,
        role: Role,
        symbol: str,
        at: tuple[float, float, float],
        size: float,
        turn_deg: float,
        values: Mapping[str, str],
        shown: Mapping[str, Text] | None = None,
    ) -> None:
        """Insert a block at a place of the room [m], its symbol so large [m]."""
        x, y, z = (self._scaled(v) for v in at)
        what = Insertion(
            role, symbol, (x, y, z), self._scaled(size), turn_deg % 360.0, values, shown or {}
        )
        insert(self.ink, what)

    def canvas(self, role: Role, draw: Any) -> None:
        """Draw what something of the sheet draws."""
        canvas = Canvas()
        draw(canvas)
        self.ink.draw(canvas, role)

    def ring(
        self, outline: Outline, role: Role, *, dash: Dash = "solid", level: float = 0.0
    ) -> None:
        """Draw a closed outline, at a height [m]."""
        self.ink.layout.add_lwpolyline(
            [self._point(point) for point in outline],
            close=True,
            dxfattribs={
                "layer": LAYERS[role],
                "elevation": self._scaled(level),
                **self._dashed(dash),
            },
        )

    def line(self, run: Any, role: Role, dash: Dash = "solid", pen: Pen | None = None) -> None:
        """Draw straight lines through points."""
        points = [self._point(point) for point in run]
        attributes = {"layer": LAYERS[role], **self._dashed(dash)}
        if pen is not None:
            attributes["lineweight"] = lineweight(pen)
        for one, other in pairwise(points):
            self.ink.layout.add_line(one, other, dxfattribs=attributes)

    def solid(self, outline: Outline, role: Role) -> None:
        """Draw a filled outline."""
        self.ring(outline, role)
        hatch = self.ink.layout.add_hatch(color=256, dxfattribs={"layer": LAYERS[role]})
        hatch.paths.add_polyline_path([self._point(point) for point in outline], is_closed=True)

    def hatched(self, outline: Outline, role: Role) -> None:
        """Hatch an outline with lines at 45 degrees, as far apart on paper as on the sheet."""
        hatch = self.ink.layout.add_hatch(color=256, dxfattribs={"layer": LAYERS[role]})
        apart = 2.2 / math.sqrt(2.0) * self.ink.frame.scale
        shift = apart / math.sqrt(2.0)
        lines = [[45.0, (0.0, 0.0), (-shift, shift), []]]
        hatch.set_pattern_fill("SHEET-45", color=256, definition=lines)
        hatch.paths.add_polyline_path([self._point(point) for point in outline], is_closed=True)

    def clearance(self, outline: Outline, reach: float) -> None:
        """Draw how far something keeps devices away."""
        from shapely import Polygon

        room = Polygon(self.view.outline)
        edge = Polygon(outline).buffer(reach, join_style="mitre").boundary.intersection(room)
        for part in _lines(edge):
            self.line(part, "note", "dashed", "hair")

    def display(self, name: str, wall: int, span: tuple[float, float], item: Any) -> None:
        """Insert a picture: a block one unit of the room wide, stretched to its width."""
        outline = self.view.outline
        (ax, ay), (bx, by) = outline[wall], outline[(wall + 1) % len(outline)]
        along = (
            (bx - ax) / math.dist((ax, ay), (bx, by)),
            (by - ay) / math.dist((ax, ay), (bx, by)),
        )
        middle = (span[0] + span[1]) / 2
        at = (ax + middle * along[0], ay + middle * along[1], (item.bottom + item.top) / 2)
        document, layer = self.ink.document, LAYERS["display"]
        stem = BLOCKS["display"]
        if stem not in document.blocks:
            block = document.blocks.new(stem)
            half, depth = self._scaled(0.5), self._scaled(DISPLAY_DEPTH)
            ring = [(-half, 0.0), (half, 0.0), (half, depth), (-half, depth)]
            block.add_lwpolyline(ring, close=True, dxfattribs={"layer": "0"})
            block.add_hatch(color=256, dxfattribs={"layer": "0"}).paths.add_polyline_path(ring)
        values = {ID: name, HEIGHT_MM: millimetres(at[2]), KIND: "display"}
        x, y, z = (self._scaled(v) for v in at)
        turn = math.degrees(math.atan2(along[1], along[0])) % 360.0
        what = Insertion("display", "", (x, y, z), 1.0, turn, values, {})
        reference = insert(self.ink, what)
        reference.dxf.xscale = span[1] - span[0]
        reference.dxf.layer = layer

    def _dashed(self, dash: Dash) -> dict[str, Any]:
        return (
            {"linetype": LINE_TYPES[dash], "ltscale": self.ink.dash_scale}
            if dash != "solid"
            else {}
        )

    def _scaled(self, metres: float) -> float:
        return round(metres * self.measure.per_metre, 9)

    def _point(self, point: tuple[float, float]) -> tuple[float, float]:
        return self._scaled(point[0]), self._scaled(point[1])


def _said_of(device: DeviceMark) -> dict[str, str]:
    return {
        ID: device.id,
        LABEL: device.label,
        PRODUCT: device.product,
        HEIGHT_MM: millimetres(device.at[2]),
        KIND: device.symbol,
    }


def _names_inside(view: PlanView, project: Projection) -> dict[str, Text]:
    """Names of all seats in the circles of their symbols, where those are large enough."""
    room = 2 * SEAT_CIRCLE / UNITS * project.length(SEAT) - 0.6
    widest = max((text_width(seat.id, 1.0) for seat in view.seats), default=1.0)
    size = min(NOTE, room / widest)
    if size < marks.LEAST:
        return {}
    return {
        seat.id: Text(seat.id, (x, y + 0.35 * size), size, "regular", "ink-2", "middle", 0.0)
        for seat in view.seats
        for x, y in [project(seat.at)]
    }


def _role_of(symbol: str) -> Role:
    roles: dict[str, Role] = {
        "air-outlet": "air-outlet",
        "air-return": "air-return",
        "projector": "projector",
        "display": "display",
    }
    return roles.get(symbol, "equipment")


def _by_text(labels: Labelled) -> dict[str, Text]:
    signs: Iterator[Sign] = (sign for sign in labels.signs if sign.text is not None)
    return {sign.text.text: sign.text for sign in signs if sign.text is not None}


def _axis(outline: Outline) -> list[tuple[float, float]]:
    """Return the middle line along an outline."""
    from shapely import Polygon

    around: Any = Polygon(outline).minimum_rotated_rectangle
    a, b, c, d = list(around.exterior.coords)[:4]
    if math.dist(a, b) < math.dist(b, c):
        a, b, c, d = b, c, d, a
    return [
        ((a[0] + d[0]) / 2, (a[1] + d[1]) / 2),
        ((b[0] + c[0]) / 2, (b[1] + c[1]) / 2),
    ]


def _lines(shape: Any) -> Iterator[list[tuple[float, float]]]:
    for part in getattr(shape, "geoms", [shape]):
        if part.geom_type in ("LineString", "LinearRing") and part.length > 1e-6:
            yield [(float(x), float(y)) for x, y in part.coords]
