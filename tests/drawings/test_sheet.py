"""Whole sheets of invented rooms: nothing over anything, nothing outside, everything there."""

from __future__ import annotations

import re
import time
from dataclasses import replace
from typing import Literal
from xml.etree import ElementTree

import numpy as np
import pytest

from wellheard.drawings.backends.svg import render
from wellheard.drawings.canvas import Canvas, Line, Text
from wellheard.drawings.fieldmap import ContourDrawing
from wellheard.drawings.panel import symbols_used
from wellheard.drawings.plan import SheetDrawing, draw_sheet, draw_small, plan_sheet, plan_small
from wellheard.drawings.sheet import Projection, scales_for
from wellheard.drawings.symbols import library
from wellheard.drawings.view import Patch, PlanView

ROOMS = (
    "ten seats",
    "ten seats, feet",
    "L-shape",
    "L-shape, feet, turned grid",
    "huddle",
    "forty",
    "forty, feet",
    "sixty, turned grid",
    "narrow",
    "deep, feet",
    "crowded",
    "horseshoe",
    "bare",
)


@pytest.fixture(scope="module")
def sheets(views: dict[str, PlanView]) -> dict[str, SheetDrawing]:
    return {name: draw_sheet(view) for name, view in views.items()}


def test_the_matrix_is_the_whole_matrix(views: dict[str, PlanView]) -> None:
    assert set(ROOMS) == set(views)


def collisions(texts: list[Text]) -> list[tuple[str, str]]:
    return [
        (a.text, b.text)
        for k, a in enumerate(texts)
        for b in texts[k + 1 :]
        if a.box.overlap(b.box) > 0.02
    ]


@pytest.mark.parametrize("name", ROOMS)
def test_no_text_lies_over_text(sheets: dict[str, SheetDrawing], name: str) -> None:
    assert collisions(sheets[name].canvas.texts()) == []


@pytest.mark.parametrize("name", ROOMS)
def test_no_text_leaves_the_frame_or_crosses_the_divider(
    sheets: dict[str, SheetDrawing], name: str
) -> None:
    sheet = sheets[name]
    x0, y0, x1, y1 = sheet.paper.frame
    for text in sheet.canvas.texts():
        left, top, right, bottom = text.box.bounds
        assert x0 < left, text.text
        assert right < x1, text.text
        assert y0 < top, text.text
        assert bottom < y1, text.text
        assert right < sheet.paper.divider or left > sheet.paper.divider, text.text


@pytest.mark.parametrize("name", ROOMS)
def test_no_letter_is_lower_than_a_millimetre_and_a_half(
    sheets: dict[str, SheetDrawing], name: str
) -> None:
    assert min(text.size for text in sheets[name].canvas.texts()) * 0.7 >= 1.5 - 1e-9


@pytest.mark.parametrize("name", ROOMS)
def test_symbols_on_the_sheet_are_at_least_six_millimetres(
    sheets: dict[str, SheetDrawing], name: str
) -> None:
    symbols = [s for s in sheets[name].canvas.symbols() if not s.name.startswith("state")]
    assert min(s.size for s in symbols) >= 6.0


@pytest.mark.parametrize("name", ROOMS)
def test_the_scale_is_a_standard_one(
    views: dict[str, PlanView], sheets: dict[str, SheetDrawing], name: str
) -> None:
    assert sheets[name].scale in scales_for(views[name].units)


@pytest.mark.parametrize("name", ROOMS)
def test_device_chains_add_up_to_the_room(sheets: dict[str, SheetDrawing], name: str) -> None:
    chains = sheets[name].chains
    for parts, whole in (("device x", "width"), ("device y", "depth"), ("corner x", "width")):
        if parts in chains:
            assert sum(chains[parts].parts) == sum(chains[whole].parts)


@pytest.mark.parametrize("name", ROOMS)
def test_every_seat_is_drawn_and_every_missing_figure_is_owned_up_to(
    views: dict[str, PlanView], sheets: dict[str, SheetDrawing], name: str
) -> None:
    sheet, view = sheets[name], views[name]
    seats = [s for s in sheet.canvas.symbols() if s.name == "seat"]
    assert len(seats) == len(view.seats) + 1  # and the one in the legend
    names = {seat.id for seat in view.seats}
    written = [text.text for text in sheet.canvas.texts() if text.text in names]
    assert len(written) + sheet.drawn.left_out >= len(view.seats)
    said = " ".join(text.text for text in sheet.canvas.texts())
    assert (f"{sheet.drawn.left_out} figures found no room" in said) == (sheet.drawn.left_out > 0)


@pytest.mark.parametrize("name", ROOMS)
def test_the_legend_shows_what_is_on_the_sheet_and_nothing_else(
    views: dict[str, PlanView], sheets: dict[str, SheetDrawing], name: str
) -> None:
    said = {text.text for text in sheets[name].canvas.texts()}
    used = set(symbols_used(views[name]))
    for symbol in ("seat", "mic-ceiling", "table", "rack", "column", "air-outlet", "bar"):
        assert (library()[symbol].title in said) == (symbol in used)


@pytest.mark.parametrize("name", ROOMS)
def test_accent_lines_do_not_cross_any_figure(sheets: dict[str, SheetDrawing], name: str) -> None:
    from shapely.geometry import LineString, Polygon

    canvas = sheets[name].canvas
    figures = [Polygon(t.box.corners) for t in canvas.texts() if t.face == "semibold"]
    for command in canvas.commands:
        if isinstance(command, Line) and command.colour == "accent" and command.pen == "bold":
            for run in command.runs:
                assert not any(LineString(run).intersects(figure) for figure in figures)


@pytest.mark.parametrize("name", [name for name in ROOMS if name != "bare"])
def test_no_contour_leaves_the_outline_and_hachures_point_to_the_worse_side(
    views: dict[str, PlanView], name: str
) -> None:
    from shapely.geometry import LineString, Polygon

    view = views[name]
    project = Projection(20.0, (0.0, 0.0), (0.0, 300.0))
    room = Polygon(project.outline(view.outline))
    assert view.field is not None
    drawing = ContourDrawing(view.field, room, project)
    canvas = Canvas()
    drawing.draw_lines(canvas, Polygon())
    lines = [command for command in canvas.commands if isinstance(command, Line)]
    assert lines
    grown = room.buffer(0.01)
    assert all(grown.covers(LineString(run)) for line in lines for run in line.runs)
    ticks = [line for line in lines if line.colour == "accent" and line.pen == "fine"]
    from wellheard.drawings.contours import sample

    for line in ticks:
        feet = np.array([run[0] for run in line.runs])
        tips = np.array([run[-1] for run in line.runs])
        at_feet = sample(drawing.values, x=drawing.x, y=drawing.y, at=feet)
        at_tips = sample(drawing.values, x=drawing.x, y=drawing.y, at=tips)
        assert np.mean(at_tips < at_feet) > 0.97  # a kink may mislead a single stroke


@pytest.mark.parametrize("name", ROOMS)
def test_the_file_is_well_formed_small_and_plain(
    sheets: dict[str, SheetDrawing], name: str
) -> None:
    sheet = sheets[name]
    svg = render(sheet.canvas, sheet.paper.width, sheet.paper.height, title=name)
    root = ElementTree.fromstring(svg)
    assert root.attrib["width"] in ("420mm", "431.8mm")
    assert len(svg.encode()) < 400_000
    assert "var(" not in svg
    assert "<use" not in svg
    assert "class=" not in svg
    assert not re.search(r"\bnan\b|\binf\b", svg.split("</style>")[-1])


@pytest.mark.parametrize("name", ["L-shape", "narrow"])
def test_the_same_view_gives_the_same_bytes(views: dict[str, PlanView], name: str) -> None:
    assert plan_sheet(views[name]) == plan_sheet(views[name])
    assert plan_small(views[name], 112.0) == plan_small(views[name], 112.0)


@pytest.mark.parametrize("name", ROOMS)
def test_the_small_plan_has_no_text_over_text_nor_outside(
    views: dict[str, PlanView], name: str
) -> None:
    canvas, width, height = draw_small(views[name], 112.0)
    assert width == pytest.approx(112.0)
    assert collisions(canvas.texts()) == []
    for text in canvas.texts():
        left, top, right, bottom = text.box.bounds
        assert min(left, top) > 0, text.text
        assert right < width, text.text
        assert bottom < height, text.text


def test_a_height_limit_narrows_the_small_plan(views: dict[str, PlanView]) -> None:
    _, width, height = draw_small(views["deep, feet"], 112.0, height_mm=90.0)
    assert height == pytest.approx(90.0)
    assert width < 112.0


def test_a_room_too_large_for_any_scale_is_refused_with_its_size(
    views: dict[str, PlanView],
) -> None:
    view = replace(views["bare"], outline=((0, 0), (400, 0), (400, 300), (0, 300)))
    with pytest.raises(ValueError, match=r"400\.0 m × 300\.0 m does not fit"):
        plan_sheet(view)


def test_a_clockwise_outline_is_refused(views: dict[str, PlanView]) -> None:
    view = replace(views["bare"], outline=tuple(reversed(views["bare"].outline)))
    with pytest.raises(ValueError, match="anticlockwise"):
        plan_sheet(view)


def test_feet_sheets_count_feet_south_and_west(views: dict[str, PlanView]) -> None:
    for name, south in (("ten seats", "0 m"), ("ten seats, feet", "0 ft")):
        texts = draw_sheet(views[name]).canvas.texts()
        zeros = [text for text in texts if text.text in ("0 m", "0 ft") and not text.angle_deg]
        assert max(zeros, key=lambda text: text.at[1]).text.replace("\u00a0", " ") == south


def test_sixty_seats_are_drawn_in_seconds(views: dict[str, PlanView]) -> None:
    start = time.process_time()
    plan_sheet(views["sixty, turned grid"])
    assert time.process_time() - start < 6.0


def test_a_product_is_named_whole_beside_its_distances_in_feet(views: dict[str, PlanView]) -> None:
    view = views["ten seats, feet"]
    devices = tuple(replace(one, product="pendant-cardioid") for one in view.devices)
    said = [text.text for text in draw_sheet(replace(view, devices=devices)).canvas.texts()]
    assert said.count("pendant-cardioid") == len(devices)


@pytest.mark.parametrize(
    ("hinges", "legend"),
    [((None,), {"doorway"}), (("start",), {"door"}), (("end", None), {"door", "doorway"})],
)
def test_a_door_has_the_symbol_of_what_is_drawn_of_it(
    views: dict[str, PlanView], hinges: tuple[Literal["start", "end"] | None, ...], legend: set[str]
) -> None:
    doors = tuple(
        Patch(f"door-{k}", 0, 0.5 + 1.2 * k, 1.4 + 1.2 * k, "door", hinge=hinge)
        for k, hinge in enumerate(hinges)
    )
    used = symbols_used(replace(views["huddle"], patches=doors))
    assert {name for name in used if name.startswith("door")} == legend
