"""The section on its own sheet: every height and every drop, and chains that add up."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import pytest

from wellheard.drawings.labelsheet import LABEL, ROWS, TALL, WIDTH, draw, label_drawings
from wellheard.drawings.sectionsheet import draw_section
from wellheard.drawings.view import (
    DeviceMark,
    Furniture,
    PartitionMark,
    PlanView,
    TitleBlock,
    Unit,
)

BLOCK = TitleBlock("", "", "Bare room", "", "C-02", "Section A–A", "2", "A", "", "", "designed")


def view_of(unit: Unit, *, count: int = 3, height: float = 3.0) -> PlanView:
    outline = ((0.0, 0.0), (8.0, 0.0), (8.0, 5.0), (0.0, 5.0))
    table = ((2.0, 2.0), (6.0, 2.0), (6.0, 3.0), (2.0, 3.0))
    devices = tuple(
        DeviceMark(
            id=f"m{i}",
            label=f"M{i}",
            symbol="mic-ceiling",
            at=(0.8 + 6.4 * i / count, 1.0 + 0.9 * (i % 4), height - 0.3 * (i % 3)),
            product="head",
            drop=0.3 * (i % 3),
        )
        for i in range(1, count + 1)
    )
    return PlanView(
        outline,
        height,
        BLOCK,
        units=unit,
        void_depth=0.4,
        furniture=(Furniture("desk", table, height=0.74),),
        devices=devices,
    )


@pytest.mark.parametrize("unit", ["m", "ft"])
def test_every_device_has_its_height_and_its_drop(unit: Unit) -> None:
    view = view_of(unit)
    texts = [text.text for text in draw_section(view).canvas.texts()]
    said = {"m": ("2700, drop 300", "2400, drop 600"), "ft": ('8\'-10¼", drop 11¾"',)}[unit]
    for wanted in said:
        assert wanted in texts
    for device in view.devices:
        assert device.label in texts


def test_heights_of_floor_table_mouth_ceiling_and_structure_add_up() -> None:
    drawn = draw_section(view_of("m"))
    assert drawn.chains["heights"].labels == ("740", "460", "1800", "400")
    assert sum(drawn.chains["heights"].parts) == 3400
    assert sum(drawn.chains["places"].parts) == sum(drawn.chains["width"].parts) == 8000
    texts = [text.text for text in drawn.canvas.texts()]
    for name in ("finished floor", "desk", "mouth and ear, seated", "finished ceiling"):
        assert name in texts


@pytest.mark.parametrize("unit", ["m", "ft"])
@pytest.mark.parametrize("count", [0, 1, 6, 12])
def test_nothing_is_written_over_anything_else(unit: Unit, count: int) -> None:
    drawn = draw_section(view_of(unit, count=count))
    texts = [text for text in drawn.canvas.texts() if text.text.strip()]
    for one, other in combinations(texts, 2):
        assert one.box.overlap(other.box) <= 0.15, (one.text, other.text)
    left, top, right, bottom = drawn.paper.frame
    for text in texts:
        x0, y0, x1, y1 = text.box.bounds
        assert x0 >= left
        assert y0 >= top
        assert x1 <= right
        assert y1 <= bottom, text.text


def test_tables_of_one_height_are_named_together_and_a_partition_by_its_state() -> None:
    view = view_of("m", count=0)
    (desk,) = view.furniture
    fold = PartitionMark("long-fold", (4.0, 0.0), (4.0, 5.0), closed=False)
    two = (desk, replace(desk, id="side", outline=((6.5, 2), (7.5, 2), (7.5, 3), (6.5, 3))))
    drawn = draw_section(replace(view, furniture=two, partitions=(fold,)))
    texts = [text.text for text in drawn.canvas.texts()]
    assert "tables" in texts
    assert not {"desk", "side"} & set(texts)
    assert "long fold, open" in texts


def test_equal_views_give_equal_sheets() -> None:
    assert draw_section(view_of("m")).canvas == draw_section(view_of("m")).canvas


def test_a_room_too_large_for_any_scale_is_refused() -> None:
    vast = PlanView(((0.0, 0.0), (900.0, 0.0), (900.0, 5.0), (0.0, 5.0)), 3.0, BLOCK)
    with pytest.raises(ValueError, match="does not fit on the sheet at any standard scale"):
        draw_section(vast)


def test_labels_stand_in_a_grid_and_long_names_are_kept_inside() -> None:
    pairs = [
        (f"c{i:02} {'x' * 40}.in → y.out", f"c{i:02} y.out → {'x' * 40}.in") for i in range(30)
    ]
    canvas, height = draw(pairs[: 2 * ROWS])
    assert height == pytest.approx(ROWS * TALL, abs=1.0)
    for text in canvas.texts():
        x0, y0, x1, y1 = text.box.bounds
        assert x0 // LABEL == (x1 - 0.5) // LABEL
        assert y0 >= 0
        assert x1 <= WIDTH
        assert y1 <= height
    assert len(label_drawings(pairs)) == 2
