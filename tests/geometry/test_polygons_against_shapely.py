"""Our array functions against a general-purpose geometry library (GEOS through shapely 2)."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from wellheard.arrays import Array
from wellheard.geometry import (
    centroid,
    contains_points,
    contains_polygon,
    distance_outside,
    distance_to_edges,
    edge_conflicts,
    edge_normals,
    grid_in_polygon,
    interior_point,
    is_convex,
    nearest_point_on_polygon,
    perimeter,
    polygon_area,
    samples_in_polygon,
)

L_SHAPE = np.array([[0, 0], [7.2, 0], [7.2, 3.1], [3.3, 3.1], [3.3, 6.4], [0, 6.4]], dtype=float)
U_SHAPE = np.array([[0, 0], [9, 0], [9, 6], [8, 6], [8, 1], [1, 1], [1, 6], [0, 6]], dtype=float)


def star(seed: int, corners: int = 9) -> Array:
    """A random polygon, simple because its corners go round a middle once."""
    random = np.random.default_rng(seed)
    angle = np.sort(random.uniform(0, 2 * np.pi, corners))
    radius = random.uniform(1.0, 5.0, corners)
    return np.stack([20 + radius * np.cos(angle), -7 + radius * np.sin(angle)], axis=1)


POLYGONS = [L_SHAPE, U_SHAPE, *(star(seed) for seed in range(12))]


@pytest.mark.parametrize("polygon", POLYGONS)
def test_area_perimeter_and_centre_are_those_of_shapely(polygon: Array) -> None:
    theirs = shapely.Polygon(polygon)
    sign = 1 if theirs.exterior.is_ccw else -1
    assert polygon_area(polygon) == pytest.approx(sign * theirs.area, rel=1e-12)
    assert polygon_area(polygon[::-1]) == pytest.approx(-sign * theirs.area, rel=1e-12)
    assert perimeter(polygon) == pytest.approx(theirs.length, rel=1e-12)
    np.testing.assert_allclose(centroid(polygon), [theirs.centroid.x, theirs.centroid.y])


@pytest.mark.parametrize("polygon", POLYGONS)
@pytest.mark.parametrize("tolerance", [0.0, 0.2, -0.2])
def test_inside_is_what_shapely_calls_inside(polygon: Array, tolerance: float) -> None:
    low, high = polygon.min(axis=0) - 1, polygon.max(axis=0) + 1
    points = np.random.default_rng(3).uniform(low, high, (400, 2))
    theirs = shapely.Polygon(polygon)
    dots = shapely.points(points)
    gap = shapely.distance(theirs.exterior, dots)
    expected = shapely.contains(theirs, dots)
    expected = expected & (gap >= -tolerance) if tolerance < 0 else expected | (gap <= tolerance)
    np.testing.assert_array_equal(contains_points(polygon, points, tolerance=tolerance), expected)


@pytest.mark.parametrize("polygon", POLYGONS)
def test_distances_and_nearest_points_are_those_of_shapely(polygon: Array) -> None:
    points = np.random.default_rng(4).uniform(-3, 26, (60, 2))
    theirs = shapely.Polygon(polygon)
    dots = shapely.points(points)
    to_edge = shapely.distance(theirs.exterior, dots)
    np.testing.assert_allclose(distance_to_edges(points, polygon).min(axis=-1), to_edge)
    nearest = nearest_point_on_polygon(points, polygon)
    np.testing.assert_allclose(np.linalg.norm(points - nearest, axis=1), to_edge)
    assert shapely.distance(theirs.exterior, shapely.points(nearest)).max() < 1e-9
    np.testing.assert_allclose(distance_outside(polygon, points), shapely.distance(theirs, dots))


@pytest.mark.parametrize("seed", range(200))
def test_a_polygon_has_edge_conflicts_exactly_when_shapely_calls_it_invalid(seed: int) -> None:
    random = np.random.default_rng(seed)
    polygon = random.uniform(0, 10, (int(random.integers(3, 8)), 2))
    assert bool(edge_conflicts(polygon)) == (not shapely.Polygon(polygon).is_valid)


@pytest.mark.parametrize("polygon", POLYGONS)
def test_sound_polygons_have_no_edge_conflicts(polygon: Array) -> None:
    assert edge_conflicts(polygon) == ()


@pytest.mark.parametrize(
    ("polygon", "edges"),
    [
        ([[0, 0], [4, 0], [2, 0], [2, 3]], (0, 1)),  # runs back along itself
        ([[0, 0], [4, 0], [4, 4], [2, 0], [0, 4]], (0, 2)),  # a corner touches an edge
        ([[0, 0], [4, 0], [4, 2], [2, 2], [4, 2], [4, 4], [0, 4]], (2, 3)),  # a spike
    ],
)
def test_touching_and_folded_edges_are_conflicts(
    polygon: list[list[float]], edges: tuple[int, int]
) -> None:
    assert edges in edge_conflicts(np.array(polygon, dtype=float))


def test_collinear_edges_that_do_not_meet_are_no_conflict() -> None:
    assert edge_conflicts(U_SHAPE) == ()  # its two tops lie on one line


def test_normals_point_inside() -> None:
    middle = (U_SHAPE + np.roll(U_SHAPE, -1, axis=0)) / 2
    assert contains_points(U_SHAPE, middle + 0.01 * edge_normals(U_SHAPE), tolerance=0).all()
    np.testing.assert_allclose(np.linalg.norm(edge_normals(U_SHAPE), axis=1), 1.0)


@pytest.mark.parametrize("seed", range(60))
def test_containment_of_polygons_is_that_of_shapely(seed: int) -> None:
    random = np.random.default_rng(seed)
    inner = random.uniform(0, 6, 2) + random.uniform(-1.5, 1.5, (3, 2))
    theirs = shapely.Polygon(L_SHAPE).covers(shapely.Polygon(inner))
    assert contains_polygon(L_SHAPE, inner) == theirs


def test_convexity_ignores_direction() -> None:
    square = np.array([[0, 0], [2, 0], [2, 2], [0, 2]], dtype=float)
    assert is_convex(square)
    assert is_convex(square[::-1])
    assert not is_convex(L_SHAPE)
    assert not is_convex(L_SHAPE[::-1])


def test_grid_keeps_its_origin_rotation_and_margin() -> None:
    points = grid_in_polygon(L_SHAPE, spacing=(0.6, 1.2), origin=(0.2, 0.1), rotation=0.5)
    assert shapely.covers(shapely.Polygon(L_SHAPE).buffer(1e-5), shapely.points(points)).all()
    turn = np.array([[np.cos(0.5), -np.sin(0.5)], [np.sin(0.5), np.cos(0.5)]])
    local = (points - [0.2, 0.1]) @ turn / [0.6, 1.2]
    np.testing.assert_allclose(local, np.round(local), atol=1e-9)
    # As many as the area has cells, within what a boundary of this length can add or drop.
    assert abs(len(points) - polygon_area(L_SHAPE) / 0.72) < perimeter(L_SHAPE) / 0.6
    inner = grid_in_polygon(L_SHAPE, spacing=0.5, margin=0.5)
    assert distance_to_edges(inner, L_SHAPE).min() == pytest.approx(0.5)


def test_a_grid_coarser_than_the_polygon_may_be_empty() -> None:
    small = np.array([[0.1, 0.1], [0.2, 0.1], [0.2, 0.2]])
    assert grid_in_polygon(small, spacing=1.0).shape == (0, 2)
    assert len(samples_in_polygon(small, spacing=1.0)) == 3


@pytest.mark.parametrize("polygon", POLYGONS)
def test_samples_leave_no_gap_wider_than_their_spacing(polygon: Array) -> None:
    points = samples_in_polygon(polygon, spacing=0.5)
    probes = grid_in_polygon(polygon, spacing=0.07, origin=(0.013, 0.007))
    gap = np.linalg.norm(probes[:, None] - points[None], axis=-1).min(axis=1)
    assert gap.max() <= 0.5
    assert contains_points(polygon, points).all()
    assert len(np.unique(np.round(points, 6), axis=0)) == len(points)


@pytest.mark.parametrize("polygon", POLYGONS)
def test_interior_point_is_inside(polygon: Array) -> None:
    assert shapely.Polygon(polygon).contains(shapely.Point(interior_point(polygon)))
