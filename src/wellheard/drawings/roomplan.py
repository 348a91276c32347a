"""The room on paper: everything inside the walls, placed first and inked second."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from wellheard.drawings import devices, divided, marks
from wellheard.drawings.boxes import Box, Placer
from wellheard.drawings.canvas import Canvas
from wellheard.drawings.dimensions import chain, printed
from wellheard.drawings.fieldmap import Levels
from wellheard.drawings.sheet import Projection, extent
from wellheard.drawings.signs import Labelled
from wellheard.drawings.structure import Structure, furniture_heights
from wellheard.drawings.symbols import UNITS
from wellheard.drawings.view import DeviceMark, PlanView

SET_OUT_SYMBOLS = frozenset({"mic-ceiling", "array", "speaker-ceiling", "mic-table"})
"""Devices dimensioned in chains; those on a wall stand in the table only."""


@dataclass(frozen=True, slots=True)
class RoomStyle:
    """Sizes on paper [mm] and what is shown."""

    seat: float = 8.6
    device: float = 9.3
    standing: float = 8.6
    letters: tuple[tuple[float, float], ...] = ((3.36, 2.57), (2.9, 2.4), (2.57, 2.2), (2.2, 2.15))
    label: float = 3.36
    word: float = 2.57
    contour_label: float = 2.57
    seat_ids: bool = True
    heights: bool = True
    tiles: bool = True
    set_out: bool = True
    words: bool = True
    detail: float = 1.0
    """Scales fittings that have no size of their own."""


SHEET_STYLE = RoomStyle()
MARGIN = 0.45
"""Round what is written no line is drawn. [mm]"""
BESIDE = 0.5
"""How much farther lines end before and behind a word, in heights of its letters."""
BESIDE_DASHES = 1.5
"""The same of a dashed line: a dash is as long as a minus sign."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """What the caller needs to know of a drawn room."""

    levels: Levels | None
    left_out: int


def set_out_devices(view: PlanView) -> tuple[DeviceMark, ...]:
    """Return the devices that get dimension chains."""
    return tuple(device for device in view.devices if device.symbol in SET_OUT_SYMBOLS)


def draw_room(
    canvas: Canvas, view: PlanView, project: Projection, *, style: RoomStyle, hard: Placer
) -> Drawn:
    """Draw the room.

    Parameters
    ----------
    canvas : Canvas
        Drawn on.
    view : PlanView
        What there is.
    project : Projection
        Where it goes.
    style : RoomStyle
        How large.
    hard : Placer
        What is already written outside the room; is told about everything placed.
    """
    structure = Structure(view, project, detail=style.detail)
    lettering = write_room(view, structure, style=style, hard=hard)
    seat_mm = lettering.seat_mm
    written = lettering.shape()
    symbols = _discs(view, structure, style, seat_mm)
    hidden = _union([*structure.covers(), *structure.standing])
    keep_off = _union([written, symbols, hidden])

    maps = divided.Maps(view, structure.room, project)
    gaps = maps.place_labels(hard, size=style.contour_label, keep_off=keep_off)
    maps.draw_tints(canvas)
    for shape in structure.standing:
        canvas.area(tuple(shape.exterior.coords)[:-1], fill="paper")
    maps.draw_lines(canvas, keep_off.union(gaps))
    thin_off = _union([written, gaps, symbols])
    if style.tiles and view.ceiling is not None:
        structure.draw_tiles(canvas, view.ceiling, thin_off)
    structure.draw_furniture(canvas, thin_off)
    marks.draw_standing(canvas, view.standing, structure, size=style.standing, keep_off=written)
    structure.draw_level_patches(canvas, thin_off)
    dashes_off = _union([lettering.shape(beside=BESIDE_DASHES), gaps])
    structure.draw_overhead(canvas, dashes_off)
    structure.draw_fittings(canvas)
    divided.draw_partitions(canvas, view.partitions, project)
    structure.draw_walls(canvas)
    if style.set_out:
        draw_set_out_lines(canvas, view, structure, _union([written, gaps, symbols]))
    marks.draw_seats(canvas, view.seats, structure, size=seat_mm)
    devices.draw_devices(canvas, view.devices, structure, size=style.device)
    for labels in lettering.placed:
        for sign in labels.signs:
            sign.draw(canvas)
    canvas.extend(lettering.words)
    return Drawn(maps.levels, sum(labels.left_out for labels in lettering.placed))


@dataclass(frozen=True, slots=True)
class Lettering:
    """What is written in a room, before anything is drawn: signs, words, and the seats' size."""

    placed: tuple[Labelled, Labelled, Labelled]
    """Of devices, of standing areas, of seats."""
    words: Canvas
    seat_mm: float

    def shape(self, *, beside: float = BESIDE) -> Any:
        """Return what lines leave blank, as a shapely shape on paper.

        Beside letters it is wider: what is left of a line there would be read as a minus sign.
        """
        boxes = [box for labels in self.placed for box in labels.boxes]
        boxes += [text.box for text in self.words.texts()]
        return _shapes([box.grown(MARGIN, along=beside * box.height) for box in boxes])


def write_room(
    view: PlanView, structure: Structure, *, style: RoomStyle, hard: Placer
) -> Lettering:
    """Find room for everything that is written inside the walls; ``hard`` is told about it."""
    project = structure.project
    seat_mm = marks.seat_size(
        [project(seat.at) for seat in view.seats], largest=style.seat, least=min(6.0, style.seat)
    )
    hard.take(*structure.wall_boxes())
    hard.take(*marks.seat_boxes(view.seats, structure, seat_mm))
    hard.take(*devices.device_boxes(view.devices, structure, style.device))
    hard.take(*marks.standing_boxes(view.standing, structure, style.standing))
    hard.take(*(_bounds_box(shape) for shape in structure.covers()))
    hard.take(*divided.partition_boxes(view.partitions, project))

    placed = _place(view, structure, style, hard, seat_mm)
    words = Canvas()
    if style.words:
        heights = {
            item.id: printed(item.height, view.units)
            for item in view.furniture
            if item.height is not None
        }
        structure.label_furniture(
            words,
            hard,
            size=style.word,
            height_text=furniture_heights(view.furniture, heights),
        )
        structure.label_patches(words, hard, size=style.word)
    divided.label_partitions(
        words, hard, view.partitions, project, edges=structure.edges(), size=style.word
    )
    return Lettering(placed, words, seat_mm)


def _place(
    view: PlanView, structure: Structure, style: RoomStyle, hard: Placer, seat_mm: float
) -> tuple[Labelled, Labelled, Labelled]:
    edges = Placer(hard.bounds, structure.edges())
    heights = (
        {device.id: printed(device.at[2], view.units) for device in view.devices}
        if style.heights
        else {}
    )
    placed_devices = devices.place_devices(
        view.devices,
        structure,
        hard=hard,
        soft=edges,
        size=style.device,
        label_size=style.label,
        heights=heights,
        height_size=style.word,
    )
    placed_standing = marks.place_standing(
        view.standing,
        structure,
        hard=hard,
        soft=edges,
        size=style.standing,
        figure_size=style.letters[0][0],
        word_size=style.word,
    )
    placed_seats = marks.place_seats(
        view.seats,
        structure,
        hard=hard,
        soft=edges,
        size=seat_mm,
        letters=style.letters,
        with_ids=style.seat_ids,
    )
    return placed_devices, placed_standing, placed_seats


def draw_set_out_lines(canvas: Canvas, view: PlanView, structure: Structure, keep_off: Any) -> None:
    """Draw chain lines from device centres to the faces from which they are measured."""
    from shapely import MultiLineString

    x0, y0, _, _ = extent(view.outline)
    project = structure.project
    lines = []
    by_x: dict[int, list[tuple[float, float]]] = {}
    by_y: dict[int, list[tuple[float, float]]] = {}
    for device in set_out_devices(view):
        x, y = device.at[:2]
        by_x.setdefault(chain([x - x0], unit=view.units).steps[0], []).append((x, y))
        by_y.setdefault(chain([y - y0], unit=view.units).steps[0], []).append((x, y))
    for group in by_x.values():
        x, y = max(group, key=lambda at: at[1])
        lines.append((project((x, y)), project((x, y0))))
    for group in by_y.values():
        x, y = max(group, key=lambda at: at[0])
        lines.append((project((x, y)), project((x0, y))))
    if not lines:
        return
    free = MultiLineString(lines).difference(keep_off)
    runs = [tuple(part.coords) for part in getattr(free, "geoms", [free]) if part.length > 0.5]
    canvas.line(*runs, pen="hair", dash="chain")


def _discs(view: PlanView, structure: Structure, style: RoomStyle, seat_mm: float) -> Any:
    from shapely import Point, box

    shapes: list[Any] = [
        Point(structure.project(seat.at)).buffer(8.6 / UNITS * seat_mm) for seat in view.seats
    ]
    for device in view.devices:
        (x, y), _ = devices.device_spot(device, structure, style.device)
        reach = 0.27 * style.device
        shapes.append(box(x - reach, y - reach, x + reach, y + reach))
    for item in marks.standing_boxes(view.standing, structure, style.standing):
        shapes.append(box(*item.bounds))
    return _union(shapes)


def _shapes(boxes: list[Box]) -> Any:
    from shapely.geometry import Polygon

    return _union([Polygon(item.corners) for item in boxes])


def _union(shapes: list[Any]) -> Any:
    from shapely import union_all

    return union_all(shapes)


def _bounds_box(shape: Any) -> Box:
    return Box.spanning(*shape.bounds)
