"""Panels in a section: where they are by hand, with their names; nothing of what is not seen."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from typing import Literal

import pytest

from wellheard.drawings.boxes import Box, Placer
from wellheard.drawings.canvas import Area, Canvas, Line
from wellheard.drawings.plan import draw_sheet
from wellheard.drawings.sectionpanels import DEEP, draw_panels
from wellheard.drawings.sectionsheet import draw_section
from wellheard.drawings.view import (
    Display,
    LevelPatch,
    Outline,
    PartitionMark,
    Patch,
    PlanView,
    TitleBlock,
)

BLOCK = TitleBlock("", "", "Bare room", "", "C-02", "Section A–A", "2", "A", "", "", "designed")
BOX: Outline = ((0, 0), (8, 0), (8, 5), (0, 5))
"""Anticlockwise: wall 0 is the south one, 1 the east one, 2 the north one, 3 the west one."""
LEG: Outline = ((0, 0), (8, 0), (8, 3), (5, 3), (5, 6), (0, 6))
"""Wall 2 looks south at y = 3, wall 4 at y = 6."""


Opening = Literal["window", "door"]


def px(metres: float) -> float:
    return 20 + 50 * metres


def pz(metres: float) -> float:
    return 300 - 50 * metres


def drawn(
    *patches: Patch | LevelPatch | Display,
    outline: Outline = BOX,
    y: float = 2.0,
    taken: tuple[Box, ...] = (),
) -> Canvas:
    view = PlanView(
        outline,
        2.8,
        BLOCK,
        patches=tuple(one for one in patches if isinstance(one, Patch)),
        level_patches=tuple(one for one in patches if isinstance(one, LevelPatch)),
        displays=tuple(one for one in patches if isinstance(one, Display)),
    )
    canvas = Canvas()
    placer = Placer(Box.spanning(0, 0, 500, 320), list(taken))
    draw_panels(canvas, view, y, placer, px=px, pz=pz, size=2.5)
    return canvas


def panel(wall: int, start: float, end: float, bottom: float = 0.8, top: float = 2.0) -> Patch:
    return Patch("felt-1", wall, start, end, "panel", "felt 1", bottom, top)


def bounds(canvas: Canvas) -> list[tuple[float, ...]]:
    """Upright bounds of what is drawn, text apart."""
    found: list[tuple[float, ...]] = []
    for command in canvas.commands:
        rings = command.rings if isinstance(command, Area) else ()
        runs = command.runs if isinstance(command, Line) else rings
        for run in runs:
            xs, ys = zip(*run, strict=True)
            found.append((min(xs), min(ys), max(xs), max(ys)))
    return found


def whole(canvas: Canvas) -> tuple[float, ...]:
    low = [min(one[i] for one in bounds(canvas)) for i in (0, 1)]
    return (*low, *(max(one[i] for one in bounds(canvas)) for i in (2, 3)))


def test_a_panel_of_a_wall_that_is_cut_stands_inside_the_room() -> None:
    # The west wall runs south from y = 5: 2 m to 4 m along it is y = 3 to y = 1.
    west = drawn(panel(3, 2.0, 4.0))
    assert whole(west) == pytest.approx((px(0), pz(2.0), px(0) + DEEP, pz(0.8)))
    east = drawn(panel(1, 1.0, 3.0))
    assert whole(east) == pytest.approx((px(8) - DEEP, pz(2.0), px(8), pz(0.8)))
    assert [text.text for text in west.texts()] == ["felt 1"]


def test_a_panel_that_the_cut_misses_on_a_side_wall_is_seen_from_its_edge() -> None:
    assert drawn(panel(3, 0.0, 1.0)).commands == []


def test_a_panel_beyond_is_as_wide_and_high_as_it_is() -> None:
    # The north wall runs west from x = 8: 2 m to 5 m along it is x = 6 to x = 3.
    canvas = drawn(panel(2, 2.0, 5.0))
    assert whole(canvas) == pytest.approx((px(3), pz(2.0), px(6), pz(0.8)))
    assert [text.text for text in canvas.texts()] == ["felt 1"]


def test_what_stands_behind_the_plane_or_behind_a_wall_is_not_drawn() -> None:
    assert drawn(panel(0, 2.0, 5.0)).commands == []
    # Seen from y = 1 the far wall of the leg is open to the west; its own wall faces east.
    assert drawn(panel(4, 1.0, 2.0), outline=LEG, y=1.0).commands
    assert drawn(panel(2, 1.0, 2.0), outline=LEG, y=4.0).commands == []
    # A wall at y = 6 of a hook, behind the one at y = 3 that looks south.
    hook: Outline = ((0, 0), (8, 0), (8, 3), (2, 3), (2, 4), (8, 4), (8, 6), (0, 6))
    assert drawn(panel(6, 1.0, 3.0), outline=hook, y=1.0).texts() == []
    assert drawn(panel(6, 1.0, 3.0), outline=hook, y=5.0).commands


@pytest.mark.parametrize("kind", ["window", "door"])
def test_where_a_wall_is_cut_its_wall_draws_a_door_or_a_window(kind: Opening) -> None:
    assert drawn(replace(panel(3, 2.0, 4.0), kind=kind)).commands == []


@pytest.mark.parametrize(
    ("kind", "bottom"),
    [("window", 0.9), ("door", 0.0)],
)
def test_a_window_beyond_is_framed_all_round_and_a_door_down_to_the_floor(
    kind: Opening, bottom: float
) -> None:
    """The north wall runs west from x = 8: 2 m to 5 m along it is x = 6 to x = 3."""
    canvas = drawn(replace(panel(2, 2.0, 5.0, bottom, 2.1), kind=kind))
    assert whole(canvas) == pytest.approx((px(3), pz(2.1), px(6), pz(bottom)))
    assert [text.text for text in canvas.texts()] == ["felt 1"]
    outer, inner = sorted(bounds(canvas), key=lambda one: one[0])[0], max(bounds(canvas))
    assert outer[0] < inner[0] <= inner[2] < outer[2]
    assert (inner[3] < outer[3]) == (kind == "window")


def test_a_picture_beyond_is_outlined_with_its_name() -> None:
    shown = Display("big-picture", 2, 2.0, 4.0, 0.9, 1.9)
    canvas = drawn(shown)
    assert whole(canvas) == pytest.approx((px(4), pz(1.9), px(6), pz(0.9)))
    assert [text.text for text in canvas.texts()] == ["big picture"]
    assert drawn(replace(shown, wall=0)).commands == []


def test_corners_in_view_are_edges_from_floor_to_ceiling() -> None:
    """Seen from y = 1, where the leg goes on at x = 5; a wall that is cut, or round, has none."""
    assert bounds(drawn(outline=LEG, y=1.0)) == [pytest.approx((px(5), pz(2.8), px(5), pz(0)))]
    taken = (
        Box.spanning(px(4), pz(2), px(6), pz(1)),
        Box.spanning(px(4), pz(0.95), px(6), pz(0.5)),
    )
    # Nothing is left of the 2.5 mm between two names.
    assert len(bounds(drawn(outline=LEG, y=1.0, taken=taken))) == 2
    assert bounds(drawn(outline=LEG, y=4.0)) == []
    assert bounds(drawn(outline=BOX, y=1.0)) == []
    bow = tuple(
        (4 + 4 * math.cos(k * math.pi / 12), 2 + 3 * math.sin(k * math.pi / 12)) for k in range(13)
    )
    assert bounds(drawn(outline=((0, 0), (8, 0), *bow), y=1.0)) == []


def test_a_raft_hangs_below_the_ceiling_where_it_is_cut_or_beyond() -> None:
    def raft(south: float) -> LevelPatch:
        ring = ((1, south), (3.4, south), (3.4, south + 1.2), (1, south + 1.2))
        return LevelPatch("raft-40-1", ring, "ceiling")

    cut, beyond = drawn(raft(1.5)), drawn(raft(3.0))
    edge = (px(1), pz(2.8), px(3.4), pz(2.8) + DEEP)
    assert whole(cut) == pytest.approx(edge)
    assert whole(beyond) == pytest.approx(edge)
    dashes = {command.dash for command in beyond.commands if isinstance(command, Line)}
    assert dashes == {"dashed"}
    assert drawn(raft(0.2)).commands == []
    assert [text.text for text in cut.texts()] == ["raft 40 1"]


def test_a_carpet_lies_on_the_floor() -> None:
    canvas = drawn(LevelPatch("carpet-1", BOX, "floor"))
    assert whole(canvas) == pytest.approx((px(0), pz(0) - DEEP, px(8), pz(0)))
    (name,) = canvas.texts()
    assert name.text == "carpet 1"
    assert name.box.bounds[3] < pz(0) - DEEP


def test_no_line_of_a_panel_beyond_runs_through_what_is_written() -> None:
    taken = Box.spanning(px(4), pz(2.1), px(5), pz(1.0))
    canvas = drawn(panel(2, 2.0, 5.0), taken=(taken,))
    x0, y0, x1, y1 = taken.bounds
    for command in canvas.commands:
        for run in command.runs if isinstance(command, Line) else ():
            for (ax, ay), (bx, by) in pairwise(run):
                for share in range(101):
                    x, y = ax + (bx - ax) * share / 100, ay + (by - ay) * share / 100
                    assert not (x0 < x < x1 and y0 < y < y1)


def test_panels_are_in_the_section_beside_the_plan_and_on_its_own_sheet() -> None:
    view = PlanView(BOX, 2.8, BLOCK, patches=(panel(2, 2.0, 5.0),))
    alone = [text.text for text in draw_section(view).canvas.texts()]
    assert alone.count("felt 1") == 1
    beside = [text.text for text in draw_sheet(view).canvas.texts()]
    assert beside.count("felt 1") == 2  # on the plan and in the section


def test_no_name_crosses_a_partition_or_leaves_the_panel_that_it_names() -> None:
    """In a room of 16 m beside its plan: there the section is smallest."""
    long: Outline = ((0, 0), (16, 0), (16, 5), (0, 5))
    walls = PartitionMark("fold", (8.0, 0.0), (8.0, 5.0), closed=False)
    panels = (panel(2, 2.0, 7.6), replace(panel(2, 8.4, 14.0), label="a longer name of it"))
    view = PlanView(long, 2.8, BLOCK, patches=panels, partitions=(walls,))
    for canvas in (draw_sheet(view).canvas, draw_section(view).canvas):
        dashed = [
            run
            for command in canvas.commands
            if isinstance(command, Line) and command.dash == "dashed"
            for run in command.runs
        ]
        assert dashed
        named = [text for text in canvas.texts() if text.text in ("felt 1", "a longer name of it")]
        assert named
        for text in named:
            x0, y0, x1, y1 = text.box.bounds
            for (ax, ay), (bx, by) in (pair for run in dashed for pair in pairwise(run)):
                assert not (x0 < ax < x1 and ax == bx and min(ay, by) < y1 and max(ay, by) > y0)
