"""Partitions on a plan, and maps that stop at them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import LineString, Polygon

from wellheard.drawings.canvas import Area, Line
from wellheard.drawings.divided import LEAF
from wellheard.drawings.plan import SheetDrawing, draw_sheet, draw_small
from wellheard.drawings.sheet import extent
from wellheard.drawings.view import FieldMap, FieldPiece, PartitionMark, PlanView

FAR_BELOW, FAR_ABOVE = -9.0, 3.0


def divided(view: PlanView, *, closed: bool, pieces: bool = False) -> PlanView:
    x0, y0, x1, y1 = extent(view.outline)
    x = (x0 + x1) / 2 + 0.13
    mark = PartitionMark("fold", (x, y0), (x, y1), closed)
    found = replace(view, partitions=(mark,))
    if not pieces:
        return found
    west = ((x0, y0), (x, y0), (x, y1), (x0, y1))
    east = ((x, y0), (x1, y0), (x1, y1), (x, y1))
    maps = []
    for outline, level in ((west, FAR_BELOW), (east, FAR_ABOVE)):
        xs = np.linspace(outline[0][0], outline[1][0], 30)
        ys = np.linspace(y0, y1, 30)
        slope = 2.0 * (xs - xs[0]) / (xs[-1] - xs[0])
        values = level + np.broadcast_to(slope, (30, 30))
        field = FieldMap(values, xs, ys, "ratio", "dB", target=-6.0, step=1.0)
        maps.append(FieldPiece(field, outline))
    return replace(found, field=maps[0].field, pieces=tuple(maps))


@pytest.fixture(scope="module")
def plain(views: dict[str, PlanView]) -> PlanView:
    return views["ten seats"]


def partition_line(sheet: SheetDrawing, view: PlanView) -> LineString:
    """Where the partition is on paper, from the outline's own projection."""
    x0, y0, _, y1 = extent(view.outline)
    mm = sheet.scale.mm_per_metre
    walls = max(
        (c for c in sheet.canvas.commands if isinstance(c, Area) and c.fill == "ink"),
        key=lambda area: Polygon(area.rings[0]).area,
    )
    xs, ys = zip(*walls.rings[0], strict=True)
    thick = (max(xs) - min(xs) - (extent(view.outline)[2] - x0) * mm) / 2
    left, low = min(xs) + thick, max(ys) - thick
    mark = view.partitions[0]
    at = left + (mark.start[0] - x0) * mm
    return LineString([(at, low), (at, low - (y1 - y0) * mm)])


def test_an_open_partition_is_a_dashed_line_and_a_closed_one_a_double(plain: PlanView) -> None:
    opened = divided(plain, closed=False)
    sheet = draw_sheet(opened)
    where = partition_line(sheet, opened)
    dashed = [
        LineString(run)
        for c in sheet.canvas.commands
        if isinstance(c, Line) and c.dash == "dashed" and c.pen == "mid"
        for run in c.runs
    ]
    assert [line.hausdorff_distance(where) < 0.05 for line in dashed] == [True]
    shut = divided(plain, closed=True)
    sheet = draw_sheet(shut)
    where = partition_line(sheet, shut)
    leaves = [
        Polygon(c.rings[0])
        for c in sheet.canvas.commands
        if isinstance(c, Area) and c.fill == "paper" and c.pen == "fine"
    ]
    (leaf,) = [one for one in leaves if one.buffer(0.05).covers(where)]
    wide = max(LEAF * sheet.scale.mm_per_metre, 1.0)
    assert leaf.area == pytest.approx(where.length * min(wide, 3.0), rel=0.02)


@pytest.mark.parametrize("closed", [True, False])
@pytest.mark.parametrize("name", ["ten seats", "ten seats, feet", "huddle", "deep, feet", "forty"])
def test_a_partition_is_named_with_its_state_over_no_other_word(
    views: dict[str, PlanView], name: str, closed: bool
) -> None:
    sheet = draw_sheet(divided(views[name], closed=closed))
    said = f"fold, {'closed' if closed else 'open'}"
    texts = sheet.canvas.texts()
    (label,) = [text for text in texts if text.text == said]
    assert all(label.box.overlap(t.box) <= 0.02 for t in texts if t is not label)


def test_a_small_plan_names_it_too(plain: PlanView) -> None:
    canvas, _, _ = draw_small(divided(plain, closed=True), 112.0)
    assert "fold, closed" in [text.text for text in canvas.texts()]


def test_each_space_has_its_own_lines_of_one_set(plain: PlanView) -> None:
    """West of it values end 10 dB below where they begin east of it: no line crosses."""
    view = divided(plain, closed=True, pieces=True)
    sheet = draw_sheet(view)
    where = partition_line(sheet, view)
    levels = sheet.drawn.levels
    assert levels is not None
    assert -6.0 in levels.values
    assert min(levels.values) <= FAR_BELOW + 1 <= FAR_ABOVE <= max(levels.values)
    at, top, _, low = where.bounds
    tinted = [
        area.rings
        for area in sheet.canvas.commands
        if isinstance(area, Area) and area.fill.startswith("tint-")
    ]
    mapped = [  # not those of the scale below the plan
        [x for ring in rings for x, _ in ring]
        for rings in tinted
        if all(top - 1 <= y <= low + 1 for ring in rings for _, y in ring)
    ]
    assert len(mapped) >= 4
    for xs in mapped:
        assert max(xs) <= at + 0.05 or min(xs) >= at - 0.05
