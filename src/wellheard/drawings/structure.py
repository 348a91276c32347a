"""What is built and furnished: walls, openings, panels, tables, pictures, things overhead."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from wellheard.drawings.boxes import Box, Placer
from wellheard.drawings.canvas import Anchor, Canvas, Point, points
from wellheard.drawings.lettering import text_width
from wellheard.drawings.sheet import Projection, extent
from wellheard.drawings.symbols import UNITS
from wellheard.drawings.view import (
    CeilingGrid,
    Display,
    EquipmentMark,
    Furniture,
    Patch,
    PlanView,
    SourceMark,
)

WALL_NOMINAL = 0.10
"""Thickness at which walls are drawn; the document does not know the real one. [m]"""

LEAST_DASHED = 5.0
"""A dashed line left shorter between figures would be read as a minus sign. [mm]"""


@dataclass(frozen=True, slots=True)
class Wall:
    """One wall on paper: inner face from ``start`` along ``along``; ``out`` points outwards."""

    start: Point
    along: Point
    out: Point
    length: float

    def at(self, distance: float, outwards: float = 0.0) -> Point:
        """Return the point ``distance`` along the inner face and ``outwards`` of it. [mm]"""
        return (
            self.start[0] + distance * self.along[0] + outwards * self.out[0],
            self.start[1] + distance * self.along[1] + outwards * self.out[1],
        )

    @property
    def angle_deg(self) -> float:
        """Return the reading angle of text along the wall: left to right or bottom to top."""
        angle = math.degrees(math.atan2(self.along[1], self.along[0]))
        while angle <= -90.5:
            angle += 180.0
        while angle > 89.5:
            angle -= 180.0
        return angle

    @property
    def turn_deg(self) -> float:
        """Return the turn of a symbol whose thick edge lies on this wall and aims into the room."""
        return math.degrees(math.atan2(-self.out[0], self.out[1]))


class Structure:
    """The room as built, on paper."""

    def __init__(self, view: PlanView, project: Projection, *, detail: float = 1.0) -> None:
        """Project the outline and its walls; ``detail`` scales what has no size of its own."""
        from shapely.geometry import Polygon

        self.view = view
        self.project = project
        self.detail = detail
        self.thickness = min(max(project.length(WALL_NOMINAL), 1.2), 4.0)
        outline = project.outline(view.outline)
        self.room: Any = Polygon(outline)
        if self.room.exterior.is_ccw:  # on paper, where y points down
            raise ValueError("the outline of a plan runs anticlockwise; this one runs clockwise")
        self.walls = tuple(
            _wall(outline[i], outline[(i + 1) % len(outline)]) for i in range(len(outline))
        )
        self.standing: tuple[Any, ...] = tuple(
            Polygon(project.outline(area.outline)) for area in view.standing
        )

    # ---- boxes that text must keep off -------------------------------------------------

    def covers(self) -> list[Any]:
        """Return the paper shapes that hide what is under them: luminaires, outlets, racks."""
        from shapely.geometry import Polygon

        shapes = [
            Polygon(self.project.outline(mark.outline))
            for mark in self.view.overhead
            if mark.kind == "luminaire"
        ]
        shapes += [Polygon(self.project.outline(outline)) for outline in self.view.obstacles]
        shapes += [Polygon(self.source_box(source).corners) for source in self.view.sources]
        shapes += [Polygon(self.equipment_box(place)[0].corners) for place in self.view.equipment]
        for item in self.view.displays:  # with the gap behind them
            wall, depth = self.walls[item.wall], 3.4 * self.detail
            a, b = self.project.length(item.start), self.project.length(item.end)
            shapes.append(Polygon((wall.at(a), wall.at(b), wall.at(b, -depth), wall.at(a, -depth))))
        return shapes

    def edges(self) -> list[Box]:
        """Return thin boxes along drawn edges, which text avoids where it can."""
        rings = [self.project.outline(item.outline) for item in self.view.furniture]
        rings += [self.project.outline(item.outline) for item in self.view.overhead]
        rings += [self.project.outline(item.outline) for item in self.view.standing]
        return [
            edge
            for ring in rings
            for edge in (_edge(a, b) for a, b in zip(ring, (*ring[1:], ring[0]), strict=True))
        ]

    def wall_boxes(self) -> list[Box]:
        """Return boxes of the cut walls."""
        t = self.thickness
        boxes = []
        for wall in self.walls:
            middle = wall.at(wall.length / 2, t / 2)
            angle = math.degrees(math.atan2(wall.along[1], wall.along[0]))
            boxes.append(Box(middle, wall.length + 2 * t, t, angle))
        return boxes

    # ---- drawing -------------------------------------------------------------------------

    def draw_tiles(self, canvas: Canvas, grid: CeilingGrid, keep_off: Any) -> None:
        """Draw the ceiling grid inside the room, not over figures."""
        from shapely import MultiLineString

        lines = [(self.project(a), self.project(b)) for a, b in grid_lines(grid, self.view.outline)]
        free = MultiLineString(lines).intersection(self.room).difference(keep_off)
        canvas.line(*runs(free), pen="hair", colour="rule", opacity=0.8)

    def draw_furniture(self, canvas: Canvas, keep_off: Any) -> None:
        """Draw tables and soft seating: outline, and a finer line inside."""
        from shapely.geometry import Polygon

        for item in self.view.furniture:
            shape = Polygon(self.project.outline(item.outline))
            inset = self.detail * (2.0 if shape.area > 900 else 1.0)
            inner = shape.buffer(-inset, join_style="mitre")
            canvas.line(*runs(shape.exterior.difference(keep_off)), pen="fine")
            if not inner.is_empty:
                canvas.line(*runs(inner.boundary.difference(keep_off)), pen="hair")

    def draw_overhead(self, canvas: Canvas, keep_off: Any) -> None:
        """Draw luminaires, keep-outs with hatching, and the clearance round them."""
        from shapely.geometry import LineString, Polygon

        for item in self.view.overhead:
            shape: Any = Polygon(self.project.outline(item.outline))
            if item.clearance > 0:
                reach = shape.buffer(self.project.length(item.clearance), join_style="mitre")
                edge = reach.boundary.intersection(self.room).difference(keep_off)
                canvas.line(*runs(edge, least=LEAST_DASHED), pen="hair", dash="dashed")
            ring = points(shape.exterior.coords)[:-1]
            if item.kind == "luminaire":
                canvas.area(ring, fill="paper", pen="thin")
                axis: Any = shape.minimum_rotated_rectangle
                a, b, c, d = points(axis.exterior.coords)[:4]
                if math.dist(a, b) < math.dist(b, c):
                    a, b, c, d = b, c, d, a
                middle = LineString((_middle(a, d), _middle(b, c))).intersection(shape)
                canvas.line(*runs(middle), pen="hair", dash="chain")
            else:
                canvas.line(*_hatching(shape, keep_off), pen="hair")
                edge = shape.exterior.difference(keep_off)
                canvas.line(*runs(edge, least=LEAST_DASHED), pen="thin", dash="dashed")

    def draw_level_patches(self, canvas: Canvas, keep_off: Any) -> None:
        """Draw panels of the ceiling dashed with one diagonal, finishes of the floor without."""
        from shapely import MultiLineString
        from shapely.geometry import Polygon

        for item in self.view.level_patches:
            corners = self.project.outline(item.outline)
            edge = Polygon(corners).exterior.difference(keep_off)
            if item.surface == "floor":
                canvas.line(*runs(edge), pen="hair", dash="dashed")
                continue
            canvas.line(*runs(edge), pen="fine", dash="dashed")
            if len(corners) == 4:
                across = MultiLineString([(corners[0], corners[2])]).difference(keep_off)
                canvas.line(*runs(across), pen="hair")

    def draw_fittings(self, canvas: Canvas) -> None:
        """Draw pictures, air outlets, projectors, racks and other equipment, and columns."""
        for display in self.view.displays:
            canvas.area(self._display(display), fill="ink")
            wall = self.walls[display.wall]
            a, b = self.project.length(display.start), self.project.length(display.end)
            inset = min(0.8, (b - a) / 8)
            depth = -5.6 * self.detail
            canvas.line((wall.at(a + inset, depth), wall.at(b - inset, depth)), pen="hair")
        for source in self.view.sources:
            box = self.source_box(source)
            turn = 90.0 - source.facing_deg if source.kind == "projector" else 0.0
            name = source.kind if source.kind in SOURCE_SYMBOLS else "noise"
            size = self._source_size(source)
            canvas.symbol(name, box.centre, size=size, turn_deg=turn, weight=min(1.0, 7.0 / size))
        for item in self.view.equipment:
            box, turn = self.equipment_box(item)
            size = self._equipment_size()
            canvas.symbol(
                item.kind, box.centre, size=size, turn_deg=turn, weight=min(1.0, 7.0 / size)
            )
        for outline in self.view.obstacles:
            canvas.area(self.project.outline(outline), fill="ink")

    def draw_walls(self, canvas: Canvas) -> None:
        """Draw the cut walls solid, with windows, doors and panels."""
        self.draw_solid(canvas)
        for patch in self.view.patches:
            self.draw_patch(canvas, patch)

    def draw_solid(self, canvas: Canvas) -> None:
        """Draw the cut walls, open where windows and doors are."""
        from shapely import union_all
        from shapely.geometry import Polygon

        t = self.thickness
        solid = self.room.buffer(t, join_style="mitre", mitre_limit=3.0).difference(self.room)
        openings = [
            Polygon(self._stretch(patch, 0.0, t))
            for patch in self.view.patches
            if patch.kind in ("door", "window")
        ]
        if openings:
            grown = [opening.buffer(0.001, join_style="mitre") for opening in openings]
            solid = solid.difference(union_all(grown))
        for part in getattr(solid, "geoms", [solid]):
            if part.area > 0.01:
                rings = [part.exterior, *part.interiors]
                canvas.area(*(points(ring.coords)[:-1] for ring in rings), fill="ink")

    def draw_patch(self, canvas: Canvas, patch: Patch) -> None:
        """Draw one window, door, panel or board."""
        t, wall = self.thickness, self.walls[patch.wall]
        a, b = self.project.length(patch.start), self.project.length(patch.end)
        if patch.kind == "window":
            for depth in (0.0, t / 2, t):
                canvas.line((wall.at(a, depth), wall.at(b, depth)), pen="thin")
        elif patch.kind == "door":
            for depth in (0.0, t):
                canvas.line((wall.at(a, depth), wall.at(b, depth)), pen="hair", colour="rule")
            if patch.hinge is not None:
                hinge, closing = (a, b) if patch.hinge == "start" else (b, a)
                canvas.line((wall.at(hinge), wall.at(hinge, a - b)), pen="mid")
                swing = [
                    wall.at(
                        hinge + (closing - hinge) * math.sin(k * math.pi / 32),
                        (a - b) * math.cos(k * math.pi / 32),
                    )
                    for k in range(17)
                ]
                canvas.line(swing, pen="hair")
        else:
            depth = min(max(self.project.length(0.05), 1.2 * self.detail), 2.0 * self.detail)
            canvas.area(self._stretch(patch, 0.0, -depth), fill="paper", pen="thin")
            if patch.kind == "panel":
                teeth = max(2 * round((b - a) / 8.0), 2)
                zigzag = [
                    wall.at(a + (b - a) * k / teeth, -depth if k % 2 else 0.0)
                    for k in range(teeth + 1)
                ]
                canvas.line(zigzag, pen="hair")

    def label_patches(self, canvas: Canvas, placer: Placer, *, size: float) -> None:
        """Write what openings and panels are: outside the wall, panels inside."""
        for patch in self.view.patches:
            if not patch.label:
                continue
            wall = self.walls[patch.wall]
            a, b = self.project.length(patch.start), self.project.length(patch.end)
            outside = patch.kind in ("door", "window")
            inner = -2.0 - 1.9 - 0.35 * size
            across = self.thickness + 1.6 + 0.35 * size if outside else inner
            half = text_width(patch.label, size) / 2
            spots = [(a + b) / 2, a + half, b - half, (a + b) / 2 + half, (a + b) / 2 - half]
            spots += [a + (b - a) * k / 12 for k in range(1, 12)]
            angle = wall.angle_deg
            turn = math.radians(angle)
            for spot in spots:
                x, y = wall.at(spot, across)
                base = (x - 0.35 * size * math.sin(turn), y + 0.35 * size * math.cos(turn))
                trial = Canvas().text(
                    patch.label, base, size=size, anchor="middle", angle_deg=angle
                )
                if placer.is_free(trial.box.grown(0.4)):
                    canvas.text(
                        patch.label,
                        base,
                        size=size,
                        colour="ink-2",
                        anchor="middle",
                        angle_deg=angle,
                    )
                    placer.take(trial.box)
                    break

    def label_furniture(
        self, canvas: Canvas, placer: Placer, *, size: float, height_text: dict[str, str]
    ) -> None:
        """Write the table height inside a corner of each table where there is room."""
        from shapely.geometry import Polygon

        for item in self.view.furniture:
            text = height_text.get(item.id, "")
            if not text:
                continue
            shape = Polygon(self.project.outline(item.outline)).buffer(-2.2)
            if shape.is_empty:
                continue
            x0, y0, x1, y1 = shape.bounds
            spots: list[tuple[float, float, Anchor]] = [
                (x1, y1 - 0.8, "end"),
                (x0, y1 - 0.8, "start"),
                (x1, y0 + 0.7 * size + 0.6, "end"),
                (x0, y0 + 0.7 * size + 0.6, "start"),
                ((x0 + x1) / 2, y1 - 0.8, "middle"),
            ]
            for x, y, anchor in spots:
                trial = Canvas().text(text, (x, y), size=size, anchor=anchor)
                inside = shape.covers(Polygon(trial.box.corners).buffer(-0.1))
                if inside and placer.is_free(trial.box.grown(0.4)):
                    canvas.text(text, (x, y), size=size, colour="ink-2", anchor=anchor)
                    placer.take(trial.box)
                    break

    # ---- sizes -------------------------------------------------------------------------

    def _source_size(self, source: SourceMark) -> float:
        if source.kind not in ("air-outlet", "air-return"):
            return 8.0 * self.detail
        side = min(max(self.project.length(0.45), 4.5 * self.detail), 16.0 * self.detail)
        return side * UNITS / 16.0

    def _equipment_size(self) -> float:
        return min(max(self.project.length(0.6), 8.0), 15.0) * self.detail

    def source_box(self, source: SourceMark) -> Box:
        """Return what a noise source's symbol covers, kept inside the room."""
        side = self._source_size(source) * 16.6 / UNITS
        return Box(self.inside(self.project(source.at[:2]), side / 2), side, side)

    def equipment_box(self, item: EquipmentMark) -> tuple[Box, float]:
        """Return what an equipment symbol covers, and its turn: its thick edge to the wall."""
        at = self.project(item.at[:2])
        wall, distance = self.nearest_wall(at)
        side = self._equipment_size() * 18.5 / UNITS
        turn = wall.turn_deg if item.kind != "table-box" and distance < 8.0 else 0.0
        return Box(self.inside(at, side / 2 + 0.4), side, side), turn

    def inside(self, at: Point, reach: float) -> Point:
        """Return the point moved just so far that a symbol of that reach clears every wall."""
        x, y = at
        for _ in range(2):
            for wall in self.walls:
                u = (x - wall.start[0]) * wall.along[0] + (y - wall.start[1]) * wall.along[1]
                v = (x - wall.start[0]) * wall.out[0] + (y - wall.start[1]) * wall.out[1]
                if 0 <= u <= wall.length and -reach < v < reach:
                    x, y = x - (v + reach) * wall.out[0], y - (v + reach) * wall.out[1]
        return x, y

    def nearest_wall(self, at: Point) -> tuple[Wall, float]:
        """Return the wall whose face is nearest, and how far it is. [mm]"""
        return min(((wall, _distance(wall, at)) for wall in self.walls), key=lambda found: found[1])

    def _display(self, display: Display) -> tuple[Point, ...]:
        wall = self.walls[display.wall]
        a, b = self.project.length(display.start), self.project.length(display.end)
        return (
            wall.at(a, -0.8 * self.detail),
            wall.at(b, -0.8 * self.detail),
            wall.at(b, -3.2 * self.detail),
            wall.at(a, -3.2 * self.detail),
        )

    def _stretch(self, patch: Patch, near: float, far: float) -> tuple[Point, ...]:
        wall = self.walls[patch.wall]
        a, b = self.project.length(patch.start), self.project.length(patch.end)
        return (wall.at(a, near), wall.at(b, near), wall.at(b, far), wall.at(a, far))


SOURCE_SYMBOLS = frozenset({"air-outlet", "air-return", "projector", "display"})


def _wall(a: Point, b: Point) -> Wall:
    length = math.dist(a, b)
    along = ((b[0] - a[0]) / length, (b[1] - a[1]) / length)
    # anticlockwise in the room is clockwise on paper, where y points down
    return Wall(a, along, (-along[1], along[0]), length)


def _distance(wall: Wall, at: Point) -> float:
    u = (at[0] - wall.start[0]) * wall.along[0] + (at[1] - wall.start[1]) * wall.along[1]
    return math.dist(at, wall.at(min(max(u, 0.0), wall.length)))


def _middle(a: Point, b: Point) -> Point:
    return (a[0] + b[0]) / 2, (a[1] + b[1]) / 2


def _edge(a: Point, b: Point) -> Box:
    angle = math.degrees(math.atan2(b[1] - a[1], b[0] - a[0]))
    return Box(_middle(a, b), math.dist(a, b), 0.3, angle)


def runs(shape: Any, *, least: float = 0.3) -> list[tuple[Point, ...]]:
    """Return the lines of a shapely result as runs of points, but for those of hardly a length."""
    if shape.is_empty:
        return []
    parts: Iterable[Any] = getattr(shape, "geoms", [shape])
    kinds = ("LineString", "LinearRing")
    return [points(p.coords) for p in parts if p.geom_type in kinds and p.length > least]


def _hatching(shape: Any, keep_off: Any) -> list[tuple[Point, ...]]:
    from shapely import MultiLineString

    x0, y0, x1, y1 = shape.bounds
    reach = y1 - y0
    count = int((x1 - x0 + reach) / 2.2) + 1
    lines = [((x0 + 2.2 * k, y0), (x0 + 2.2 * k - reach, y1)) for k in range(1, count)]
    if not lines:
        return []
    return runs(MultiLineString(lines).intersection(shape).difference(keep_off))


def grid_lines(grid: CeilingGrid, outline: tuple[Point, ...]) -> list[tuple[Point, Point]]:
    """Return the tile lines that can cross an outline, in room coordinates. [m]

    Examples
    --------
    >>> grid = CeilingGrid(module=(0.6, 0.6), origin=(0.2, 0.1))
    >>> lines = grid_lines(grid, ((0, 0), (1, 0), (1, 1), (0, 1)))
    >>> sorted({round(a[0], 3) for a, b in lines if a[0] == b[0] and 0 < a[0] < 1})
    [0.2, 0.8]
    """
    x0, y0, x1, y1 = extent(outline)
    turn = math.radians(grid.rotation_deg)
    u, v = (math.cos(turn), math.sin(turn)), (-math.sin(turn), math.cos(turn))
    corners = [(x - grid.origin[0], y - grid.origin[1]) for x in (x0, x1) for y in (y0, y1)]
    along = [(x * u[0] + y * u[1], x * v[0] + y * v[1]) for x, y in corners]
    low = [min(pair[k] for pair in along) for k in (0, 1)]
    high = [max(pair[k] for pair in along) for k in (0, 1)]

    def at(a: float, b: float) -> Point:
        return (
            grid.origin[0] + a * u[0] + b * v[0],
            grid.origin[1] + a * u[1] + b * v[1],
        )

    lines = []
    for k in range(math.ceil(low[0] / grid.module[0]), math.floor(high[0] / grid.module[0]) + 1):
        lines.append((at(k * grid.module[0], low[1]), at(k * grid.module[0], high[1])))
    for k in range(math.ceil(low[1] / grid.module[1]), math.floor(high[1] / grid.module[1]) + 1):
        lines.append((at(low[0], k * grid.module[1]), at(high[0], k * grid.module[1])))
    return lines


def furniture_heights(furniture: tuple[Furniture, ...], printed: dict[str, str]) -> dict[str, str]:
    """Return the label of each table whose height is known.

    Examples
    --------
    >>> table = Furniture("t", ((0, 0), (1, 0), (1, 1)), height=0.74)
    >>> furniture_heights((table,), {"t": "740"})
    {'t': 'table 740 high'}
    """
    return {
        item.id: f"{item.kind.replace('-', ' ')} {printed[item.id]} high"
        for item in furniture
        if item.height is not None
    }
