"""A map on an upright plane: the room cut there, what stands near the cut, and where it is cut."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from wellheard.drawings.boxes import Box, Placer
from wellheard.drawings.canvas import Anchor, Canvas, Point
from wellheard.drawings.fieldmap import ContourDrawing, Levels, choose_levels
from wellheard.drawings.marks import STATE_SYMBOL
from wellheard.drawings.sheet import Projection, extent
from wellheard.drawings.signs import Sign, mark, word
from wellheard.drawings.view import FieldMap, Outline, State, Unit

MIC_MM = 1.15
MOUTH_MM = 0.95
_FIGURE, _NAME, _LABEL = 2.7, 2.2, 2.7
_WALL_MM = 1.6
_SLAB_MM = 1.2
_KEY_MM = 15.0


@dataclass(frozen=True, slots=True)
class SectionPiece:
    """The map of one space, cut at the stretches of the plane that lie in it. [m]"""

    field: FieldMap
    spans: tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class Standing:
    """What the plane cuts that stands on the floor: between two places, up to a height. [m]"""

    start: float
    end: float
    top: float


@dataclass(frozen=True, slots=True)
class MouthMark:
    """The mouth of a seat near the plane, at its place along and above the floor. [m]"""

    id: str
    at: Point
    figure: str
    state: State


@dataclass(frozen=True, slots=True)
class MicrophoneMark:
    """A microphone at its place on the plane [m]; ``off`` the plane it is drawn lighter."""

    label: str
    at: Point
    off: bool
    drop: bool


@dataclass(frozen=True, slots=True)
class SectionPanel:
    """A room cut upright, seen from the side that has the start of the section on the left."""

    length: float
    height: float
    units: Unit
    field: FieldMap | None
    pieces: tuple[SectionPiece, ...]
    outline: Outline
    start: Point
    end: Point
    solids: tuple[Standing, ...] = ()
    tables: tuple[Standing, ...] = ()
    mouths: tuple[MouthMark, ...] = ()
    microphones: tuple[MicrophoneMark, ...] = ()
    mouth_height: float | None = None
    """Of seated people: a line across, where a map is read for them. [m]"""
    mouth_words: str = ""
    partitions: tuple[tuple[float, bool], ...] = ()
    """Where along the plane a partition stands, and whether it is closed."""

    @property
    def size(self) -> Point:
        """Extent of the plane. [m]"""
        return self.length, self.height

    @property
    def states(self) -> tuple[State, ...]:
        """States of the seats near the plane."""
        return tuple(mouth.state for mouth in self.mouths)

    def draw(self, canvas: Canvas, project: Projection, hard: Placer) -> tuple[Levels | None, int]:
        """Draw map, room, microphones and mouths."""
        from shapely import union_all
        from shapely.geometry import Point as Spot
        from shapely.geometry import Polygon

        for box in self._building(project):
            hard.take(box)
        signs, missing = self._signs(project, hard)
        signs += self._mouth_sign(project, hard)
        discs = [Spot(project(m.at)).buffer(MOUTH_MM + 0.5) for m in self.mouths]
        discs += [Spot(project(m.at)).buffer(MIC_MM + 0.5) for m in self.microphones]
        written = [Polygon(sign.box.grown(0.45).corners) for sign in signs]
        keep_off = union_all([*discs, *written])
        drawings, levels = self._maps(project)
        gaps = union_all([one.place_labels(hard, size=2.4, keep_off=keep_off) for one in drawings])
        for one in drawings:
            one.draw_tints(canvas)
        for one in drawings:
            one.draw_lines(canvas, keep_off.union(gaps))
        self._draw_mouth_line(canvas, project, keep_off.union(gaps))
        self._draw_building(canvas, project)
        self._draw_marks(canvas, project)
        for sign in signs:
            sign.draw(canvas)
        return levels, missing

    def key_size(self) -> Point:
        """Width and height of the key plan. [mm]"""
        x0, y0, x1, y1 = extent(self.outline)
        mm = min(_KEY_MM * 1.6 / (x1 - x0), _KEY_MM / (y1 - y0))
        return (x1 - x0) * mm, (y1 - y0) * mm

    def draw_key(self, canvas: Canvas, *, right: float, top: float) -> None:
        """Draw where the room is cut: a small plan, its upper right corner given. [mm]"""
        x0, y0, x1, _ = extent(self.outline)
        wide, tall = self.key_size()
        project = Projection(wide / (x1 - x0), (x0, y0), (right - wide, top + tall))
        canvas.line(project.outline(self.outline), pen="fine", closed=True)
        a, b = project(self.start), project(self.end)
        canvas.line((a, b), pen="mid", dash="chain")
        canvas.circle(a, 0.8, fill="ink")
        canvas.circle(b, 0.8, fill="paper", pen="thin")

    # ---- map ---------------------------------------------------------------------------

    def _maps(self, project: Projection) -> tuple[list[ContourDrawing], Levels | None]:
        import numpy as np

        drawings = [
            ContourDrawing(piece.field, polygon, project)
            for piece in self.pieces
            for polygon in self._air(piece, project)
        ]
        if not drawings or self.field is None:
            return [], None
        inside = np.concatenate([one.inside() for one in drawings])
        levels = choose_levels(self.field, inside)
        for one in drawings:
            one.lay(levels)
        return drawings, levels

    def _air(self, piece: SectionPiece, project: Projection) -> list[Any]:
        """Paper polygons of the air that a piece maps."""
        from shapely import union_all
        from shapely.geometry import box

        solid = [box(*self._corners(one, project)) for one in self.solids]
        air = union_all(
            [
                box(*self._corners(Standing(a, b, self.height), project)).difference(
                    union_all(solid)
                )
                for a, b in piece.spans
            ]
        )
        return [p for p in getattr(air, "geoms", [air]) if p.geom_type == "Polygon" and p.area > 1]

    def _corners(self, one: Standing, project: Projection) -> tuple[float, float, float, float]:
        (x0, y1), (x1, y0) = project((one.start, 0.0)), project((one.end, one.top))
        return x0, y0, x1, y1

    # ---- building ----------------------------------------------------------------------

    def _spans(self) -> list[Point]:
        return sorted({span for piece in self.pieces for span in piece.spans})

    def _walls(self) -> list[tuple[float, float]]:
        """Faces of walls along the plane, each with the side on which the wall is, −1 or 1."""
        faces = [face for a, b in self._spans() for face in ((a, -1.0), (b, 1.0))]
        inner = [at for at, _ in self.partitions]
        return [
            (at, side)
            for at, side in faces
            if 0.02 < at < self.length - 0.02 or self._at_wall(at)
            if not any(abs(at - partition) < 0.02 for partition in inner)
        ]

    def _at_wall(self, along: float) -> bool:
        """Whether an end of the section is at a wall rather than in the open."""
        from shapely.geometry import Point as Spot
        from shapely.geometry import Polygon

        share = along / self.length
        at = [a + share * (b - a) for a, b in zip(self.start, self.end, strict=True)]
        return bool(Polygon(self.outline).exterior.distance(Spot(at)) < 0.02)

    def _building(self, project: Projection) -> list[Box]:
        boxes = []
        for at, side in self._walls():
            x, y = project((at, 0.0))
            top = project((at, self.height))[1]
            boxes.append(Box.spanning(x, top, x + side * _WALL_MM, y))
        for one in self.solids:
            boxes.append(Box.spanning(*self._corners(one, project)))
        for one in self.tables:
            x0, y0, x1, _ = self._corners(one, project)
            boxes.append(Box.spanning(x0, y0 - 0.2, x1, y0 + 0.9))
        for along, _ in self.partitions:
            x, y = project((along, 0.0))
            boxes.append(Box.spanning(x - 0.6, project((along, self.height))[1], x + 0.6, y))
        for a, b in self._spans():
            (x0, floor), (x1, top) = project((a, 0.0)), project((b, self.height))
            boxes.append(Box.spanning(x0, floor, x1, floor + _SLAB_MM))
            boxes.append(Box.spanning(x0, top - _SLAB_MM, x1, top))
        return boxes

    def _draw_building(self, canvas: Canvas, project: Projection) -> None:
        for one in self.solids:
            x0, y0, x1, y1 = self._corners(one, project)
            canvas.rectangle(x0, y0, x1 - x0, y1 - y0, fill="ink")
        for one in self.tables:
            x0, y0, x1, y1 = self._corners(one, project)
            canvas.rectangle(x0, y0, x1 - x0, 0.7, fill="paper", pen="thin")
            for leg in (x0 + 0.18 * (x1 - x0), x1 - 0.18 * (x1 - x0)):
                canvas.line(((leg, y0 + 0.7), (leg, y1)), pen="thin")
        for along, closed in self.partitions:
            x, floor = project((along, 0.0))
            top = project((along, self.height))[1]
            if closed:
                canvas.rectangle(x - 0.5, top, 1.0, floor - top, fill="paper", pen="fine")
            else:
                canvas.line(((x, top), (x, floor)), pen="mid", dash="dashed")
        for a, b in self._spans():
            (x0, floor), (x1, top) = project((a, 0.0)), project((b, self.height))
            for y in (floor, top - _SLAB_MM):
                canvas.rectangle(x0, y, x1 - x0, _SLAB_MM, fill="ink")
        for at, side in self._walls():
            x, floor = project((at, 0.0))
            top = project((at, self.height))[1]
            x0, x1 = sorted((x, x + side * _WALL_MM))
            canvas.rectangle(x0, top - _SLAB_MM, x1 - x0, floor - top + 2 * _SLAB_MM, fill="ink")

    # ---- marks ---------------------------------------------------------------------------

    def _draw_marks(self, canvas: Canvas, project: Projection) -> None:
        for one in self.microphones:
            x, y = project(one.at)
            if one.drop:
                canvas.line(((x, project((one.at[0], self.height))[1]), (x, y)), pen="thin")
            canvas.circle((x, y), MIC_MM, fill="paper", pen="thin" if one.off else "mid")
            if not one.off:
                canvas.circle((x, y), 0.35 * MIC_MM, fill="ink")
        for mouth in self.mouths:
            canvas.circle(project(mouth.at), MOUTH_MM, fill="ink")

    def _mouth_sign(self, project: Projection, hard: Placer) -> list[Sign]:
        """Name the line of seated mouths over it, where there is room."""
        if self.mouth_height is None or not self.mouth_words:
            return []
        options = []
        for a, b in self._spans():
            for share in (0.5, 0.3, 0.7, 0.15, 0.85):
                x, y = project((a + share * (b - a), self.mouth_height))
                sign = word(self.mouth_words, (x, y - 0.7), _NAME, colour="ink-2", anchor="middle")
                options.append([sign])
        return _first(options, hard)

    def _draw_mouth_line(self, canvas: Canvas, project: Projection, keep_off: Any) -> None:
        from shapely.geometry import LineString

        if self.mouth_height is None:
            return
        for a, b in self._spans():
            ends = [project((at, self.mouth_height)) for at in (a, b)]
            left = LineString(ends).difference(keep_off)
            runs = [tuple(part.coords) for part in getattr(left, "geoms", [left])]
            canvas.line(*runs, pen="hair", dash="chain")

    def _signs(self, project: Projection, hard: Placer) -> tuple[list[Sign], int]:
        for microphone in self.microphones:
            hard.take(Box(project(microphone.at), 2 * MIC_MM, 2 * MIC_MM))
        for mouth in self.mouths:
            hard.take(Box(project(mouth.at), 2 * MOUTH_MM, 2 * MOUTH_MM))
        signs: list[Sign] = []
        missing = 0
        for microphone in self.microphones:
            face = word(microphone.label, (0.0, 0.0), _LABEL, face="semibold")
            found = _first(_round(face, project(microphone.at), MIC_MM + 0.9), hard)
            signs += found
        for mouth in self.mouths:
            found = _first(_mouth_options(mouth, project(mouth.at)), hard)
            missing += not found
            signs += found
        return signs, missing


def _first(options: Sequence[Sequence[Sign]], hard: Placer) -> list[Sign]:
    index = hard.first_free([[sign.box for sign in option] for option in options], margin=0.25)
    if index is None:
        return []
    hard.take(*(sign.box for sign in options[index]))
    return list(options[index])


def _round(sign: Sign, at: Point, away: float) -> list[list[Sign]]:
    """Places of one word round a mark: beside, below, above."""
    text = sign.text
    if text is None:
        return []
    x, y = at
    cap = 0.7 * text.size
    spots: tuple[tuple[float, float, Anchor], ...] = (
        (x + away, y + cap / 2, "start"),
        (x - away, y + cap / 2, "end"),
        (x, y + away + cap, "middle"),
        (x, y - away, "middle"),
        (x + away, y + away + cap, "start"),
        (x - away, y + away + cap, "end"),
    )
    return [
        [word(text.text, (px, py), text.size, face=text.face, anchor=anchor)]
        for px, py, anchor in spots
    ]


def _mouth_options(mouth: MouthMark, at: Point) -> list[list[Sign]]:
    """Figure above or below the mouth, its name beside or beyond; the figure alone at last."""
    x, y = at
    cap, small = 0.7 * _FIGURE, 0.7 * _NAME
    away = MOUTH_MM + 0.9
    options: list[list[Sign]] = []
    above, below = y - away, y + away + cap
    for base, far in ((above, above - cap - 0.9), (below, below + 0.9 + small)):
        figure = word(mouth.figure, (x, base), _FIGURE, face="semibold", anchor="middle")
        signs = [figure]
        if mouth.state in ("at risk", "broken"):
            right = figure.box.bounds[2] + 2.0
            signs.append(mark(STATE_SYMBOL[mouth.state], (right, base - cap / 2), _FIGURE * 1.12))
        names = [
            word(mouth.id, (x + away, y + small / 2), _NAME, colour="ink-2"),
            word(mouth.id, (x - away, y + small / 2), _NAME, colour="ink-2", anchor="end"),
            word(mouth.id, (x, far), _NAME, colour="ink-2", anchor="middle"),
        ]
        options += [[*signs, name] for name in names]
        options.append(signs)
    return options
