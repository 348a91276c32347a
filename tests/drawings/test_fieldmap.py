"""Which lines a map has, and how its bands are tinted."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely import Polygon

from wellheard.drawings.boxes import Box, Placer
from wellheard.drawings.canvas import Area, Canvas
from wellheard.drawings.caption import draw_tint_scale
from wellheard.drawings.fieldmap import (
    EACH_SIDE,
    MOST_KEPT,
    ContourDrawing,
    choose_levels,
    figure,
)
from wellheard.drawings.sheet import Projection
from wellheard.drawings.view import FieldMap

AXIS = np.array([0.0, 1.0])


def field(
    *,
    target: float | None = -6.0,
    step: float | None = None,
    decimals: int = 1,
    higher_is_better: bool = True,
) -> FieldMap:
    return FieldMap(
        np.zeros((2, 2)),
        AXIS,
        AXIS,
        "ratio",
        "dB",
        target=target,
        step=step,
        decimals=decimals,
        higher_is_better=higher_is_better,
    )


@pytest.mark.parametrize(("low", "high"), [(-9, -3), (2, 9), (-20, -8), (-6.2, -5.9), (-15, 30)])
def test_the_promise_is_among_few_round_lines_and_tints_rise_across_it(
    low: float, high: float
) -> None:
    levels = choose_levels(field(step=0.5), np.linspace(low, high, 200))
    assert -6.0 in levels.values
    assert list(levels.values) == sorted(levels.values)
    assert sum(v < -6 for v in levels.values) <= EACH_SIDE
    assert sum(v > -6 for v in levels.values) <= MOST_KEPT
    assert len(levels.tints) == len(levels.values) + 1
    assert list(levels.tints) == sorted(levels.tints)
    promise = levels.values.index(-6.0)
    assert levels.tints[promise] <= 4
    assert levels.tints[promise + 1] >= 6
    for value in levels.values:
        assert (value + 6) / levels.step == pytest.approx(round((value + 6) / levels.step))


def test_no_line_is_drawn_where_no_value_occurs_but_the_promise() -> None:
    levels = choose_levels(field(step=1.0), np.linspace(2.0, 6.0, 100))
    assert [v for v in levels.values if v != -6.0] == [3.0, 4.0, 5.0]


def test_where_less_is_better_the_tints_turn_over() -> None:
    levels = choose_levels(field(target=6.0, higher_is_better=False), np.linspace(3, 9, 100))
    assert list(levels.tints) == sorted(levels.tints, reverse=True)
    promise = levels.values.index(6.0)
    assert levels.tints[promise] >= 6
    assert levels.tints[promise + 1] <= 4


def test_a_map_without_promise_uses_the_whole_scale() -> None:
    levels = choose_levels(field(target=None), np.linspace(0.0, 4.0, 100))
    assert levels.tints[0] == 0
    assert levels.tints[-1] == 10
    assert not any(levels.is_promise(value) for value in levels.values)


@pytest.mark.parametrize(("low", "high"), [(9.7, 18.2), (50.1, 53.9), (-3.0, 3.0), (0.61, 0.66)])
def test_lines_without_a_promise_are_round_and_leave_neither_end_out(
    low: float, high: float
) -> None:
    levels = choose_levels(field(target=None, decimals=2), np.linspace(low, high, 500))
    assert 3 <= len(levels.values) <= MOST_KEPT + EACH_SIDE
    for value in levels.values:
        assert value / levels.step == pytest.approx(round(value / levels.step))
        assert low < value < high
    # No further line would fit between the ends but for the outer fiftieths.
    assert levels.values[0] - low < levels.step + 0.03 * (high - low)
    assert high - levels.values[-1] < levels.step + 0.03 * (high - low)


def test_maps_that_share_a_span_share_their_lines() -> None:
    shared = replace(field(step=0.5), span=(-9.0, -3.0))
    one, other = (choose_levels(shared, np.linspace(*ends, 50)) for ends in ((-9, -5), (-7, -3)))
    assert one == other


def test_every_second_line_is_an_index_line_and_so_is_the_promise() -> None:
    levels = choose_levels(field(step=0.5), np.linspace(-8.0, -4.0, 100))
    assert [v for v in levels.values if levels.is_index(v)] == [-7.0, -6.0, -5.0]


def test_figures_have_a_true_minus_and_no_negative_nought() -> None:
    assert figure(-0.04, 1) == "0.0"
    assert figure(-3.96, 1) == "−4.0"
    assert figure(0.62, 2) == "0.62"


def scale_of(low: float, high: float) -> Canvas:
    canvas, shown = Canvas(), field(target=0.62, step=0.02, decimals=2)
    levels = choose_levels(shown, np.linspace(low, high, 200))
    draw_tint_scale(canvas, shown, levels, x=0.0, y=10.0, width=80.0)
    return canvas


def test_a_scale_that_leaves_values_out_is_broken_where_it_does() -> None:
    # As an axis is that does not begin at nought: two strokes across it; common practice [C].
    def breaks(canvas: Canvas) -> list[Area]:
        return [c for c in canvas.commands if isinstance(c, Area) and c.fill == "paper"]

    assert not breaks(scale_of(0.58, 0.70))
    (gap,) = breaks(scale_of(0.76, 0.84))
    promise, first = (
        next(t.at[0] for t in scale_of(0.76, 0.84).texts() if t.text == figure)
        for figure in ("0.62", "0.78")
    )
    assert all(promise < x < first for x, _ in gap.rings[0])


@pytest.mark.parametrize("middle", [3.0, 4.0])
def test_a_map_has_a_figure_even_where_all_its_lines_are_light(middle: float) -> None:
    """One line crosses the room: that of 3 is light, that of 4 heavy."""
    room = Polygon([(0, 0), (120, 0), (120, 100), (0, 100)])
    project = Projection(20.0, (0.0, 5.0), (0.0, 0.0))
    x, y = np.linspace(0, 6, 13), np.linspace(0, 5, 11)
    values = np.tile(middle + 0.2 * (x - 3), (len(y), 1))
    shown = FieldMap(values, x, y, "level", "dB", None, step=1.0)
    drawing = ContourDrawing(shown, room, project)
    drawing.place_labels(Placer(Box((60, 50), 120, 100)), size=2.5, keep_off=Polygon())
    canvas = Canvas()
    drawing.draw_lines(canvas, Polygon())
    assert [text.text for text in canvas.texts()] == [f"{middle:g}"]
