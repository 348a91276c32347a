"""Contours against fields whose level lines are known in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from wellheard.arrays import Array
from wellheard.drawings.contours import (
    GOES_ON,
    extended,
    fill_gaps,
    isolines,
    level_rings,
    refined,
    round_corners,
    sample,
)


def grid(low: float, high: float, count: int) -> tuple[Array, Array, Array]:
    axis = np.linspace(low, high, count)
    x, y = np.meshgrid(axis, axis)
    return axis, x, y


def signed_area(ring: Array) -> float:
    x, y = ring[:, 0], ring[:, 1]
    return float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]) / 2)


@pytest.mark.parametrize("radius", [0.35, 0.8, 1.3])
def test_circles_of_a_cone_have_their_radius_within_the_error_of_linear_interpolation(
    radius: float,
) -> None:
    axis, x, y = grid(-2.0, 2.0, 81)
    lines = isolines(np.hypot(x - 0.013, y + 0.021), x=axis, y=axis, level=radius)
    assert len(lines) == 1
    found = np.hypot(lines[0][:, 0] - 0.013, lines[0][:, 1] + 0.021)
    step = axis[1] - axis[0]
    # second derivative of r along a line is at most 1/r: error at most h²/8 · 1/r
    np.testing.assert_allclose(found, radius, rtol=0, atol=1.2 * step**2 / (8 * radius))
    np.testing.assert_array_equal(lines[0][0], lines[0][-1])


def test_the_higher_side_is_on_the_left() -> None:
    axis, x, y = grid(-1.0, 1.0, 21)
    (hill,) = isolines(-np.hypot(x, y), x=axis, y=axis, level=-0.5)
    (hollow,) = isolines(np.hypot(x, y), x=axis, y=axis, level=0.5)
    assert signed_area(hill) == pytest.approx(np.pi * 0.25, rel=0.02)
    assert signed_area(hollow) == pytest.approx(-np.pi * 0.25, rel=0.02)


@pytest.mark.parametrize(("a", "b"), [(1.0, 0.0), (0.3, -1.2), (-2.0, 0.7)])
def test_lines_of_a_plane_are_straight_and_reach_both_borders(a: float, b: float) -> None:
    axis, x, y = grid(0.0, 3.0, 17)
    (line,) = isolines(a * x + b * y, x=axis, y=axis, level=a * 1.4 + b * 1.6)
    np.testing.assert_allclose(a * line[:, 0] + b * line[:, 1], a * 1.4 + b * 1.6, atol=1e-12)
    for end in (line[0], line[-1]):
        assert min(*end, *(3.0 - end)) == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("level", [-0.31, 0.27])
def test_both_branches_of_a_hyperbola_are_found_exactly(level: float) -> None:
    axis, x, y = grid(-1.0, 1.0, 20)
    lines = isolines(x * y, x=axis, y=axis, level=level)
    assert len(lines) == 2
    for line in lines:
        # xy is linear along every grid edge, so interpolation is exact there
        np.testing.assert_allclose(line[:, 0] * line[:, 1], level, atol=1e-12)
        assert len({tuple(np.sign(point)) for point in line}) == 1


@pytest.mark.parametrize(("level", "separated"), [(0.4, "low"), (0.6, "high")])
def test_a_saddle_cell_parts_the_corners_that_the_bilinear_surface_parts(
    level: float, separated: str
) -> None:
    # corners 1 at south-west and north-east, 0 elsewhere: the saddle lies at ½
    axis = np.array([0.0, 1.0])
    lines = isolines(np.array([[1.0, 0.0], [0.0, 1.0]]), x=axis, y=axis, level=level)
    assert len(lines) == 2
    corners = [(0, 0), (1, 1)] if separated == "high" else [(1, 0), (0, 1)]
    for line in lines:
        middle = line.mean(axis=0)
        assert min(float(np.hypot(*(middle - np.array(corner)))) for corner in corners) < 0.45


def test_unknown_cells_carry_no_line() -> None:
    axis, x, _ = grid(0.0, 4.0, 5)
    values = x.copy()
    values[2, 2] = np.nan
    lines = isolines(values, x=axis, y=axis, level=1.5)
    assert len(lines) == 2
    assert not any(((line[:, 1] > 1) & (line[:, 1] < 3)).any() for line in lines)


def test_rings_enclose_the_area_at_or_above_the_level() -> None:
    axis, x, y = grid(0.0, 2.0, 41)
    (ring,) = level_rings(x, x=axis, y=axis, level=0.6)
    assert signed_area(ring) == pytest.approx(1.4 * 2.0)
    rings = level_rings(np.hypot(x - 1, y - 1), x=axis, y=axis, level=0.5)
    assert sum(signed_area(r) for r in rings) == pytest.approx(4 - np.pi * 0.25, rel=0.005)


def test_a_level_above_everything_has_no_ring() -> None:
    axis, x, _ = grid(0.0, 1.0, 4)
    assert level_rings(x, x=axis, y=axis, level=2.0) == []


def test_rounding_keeps_open_ends_and_closed_lines_closed() -> None:
    square = np.array([[0.0, 0], [4, 0], [4, 4], [0, 4], [0, 0]])
    smooth = round_corners(square, passes=3)
    np.testing.assert_array_equal(smooth[0], smooth[-1])
    # each pass cuts corners; the limit of Chaikin's scheme on a square keeps 5/6 of it
    assert 5 / 6 * 16 < signed_area(smooth) < 0.86 * 16
    bend = np.array([[0.0, 0], [1, 0], [1, 1]])
    np.testing.assert_array_equal(round_corners(bend, passes=2)[[0, -1]], bend[[0, -1]])


def test_refining_keeps_nodes_and_is_exact_for_a_parabola_away_from_the_border() -> None:
    axis, x, y = grid(0.0, 6.0, 7)
    fine, fx, fy = refined(x**2 + 3 * y, x=axis, y=axis, step=0.25)
    np.testing.assert_allclose(fine[::4, ::4], x**2 + 3 * y, atol=1e-12)
    gx, gy = np.meshgrid(fx, fy)
    inner = (gx >= 1) & (gx <= 5)
    np.testing.assert_allclose(fine[inner], (gx**2 + 3 * gy)[inner], atol=1e-12)


def test_extension_continues_a_plane_for_one_step_and_then_stays() -> None:
    axis, x, y = grid(1.0, 3.0, 5)
    values, wide_x, _ = extended(2 * x + y, x=axis, y=axis, to=(0.75, 1.0, 9.0, 3.0))
    np.testing.assert_allclose(values[0, 0], 2 * 0.75 + 1.0)
    assert wide_x[-1] == 9.0
    np.testing.assert_allclose(values[0, -1], 2 * 3.5 + 1.0)


def test_a_plane_goes_on_as_a_plane_beyond_its_edge_and_known_values_stay() -> None:
    _, x, y = grid(0.0, 5.0, 6)
    values = 2 * x + y
    values[2:, 3:] = np.nan
    filled = fill_gaps(values)
    known = ~np.isnan(values)
    np.testing.assert_array_equal(filled[known], values[known])
    near = np.zeros_like(known)
    near[2:4, 3:5] = True  # the first GOES_ON samples in the corner
    assert GOES_ON == 2
    np.testing.assert_allclose(filled[near], (2 * x + y)[near])
    with pytest.raises(ValueError, match="no value at all"):
        fill_gaps(np.full((2, 2), np.nan))


def test_a_lone_value_fills_everything() -> None:
    values = np.full((4, 5), np.nan)
    values[1, 2] = -3.5
    np.testing.assert_array_equal(fill_gaps(values), np.full((4, 5), -3.5))


def test_sampling_is_bilinear_and_stays_on_the_grid() -> None:
    axis, x, y = grid(0.0, 2.0, 3)
    at = np.array([[0.25, 1.5], [5.0, -1.0]])
    np.testing.assert_allclose(sample(x + 10 * y, x=axis, y=axis, at=at), [15.25, 2.0])
