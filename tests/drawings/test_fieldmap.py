"""Which lines a map has, and how its bands are tinted."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from wellheard.drawings.fieldmap import EACH_SIDE, MOST_KEPT, choose_levels, figure
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
