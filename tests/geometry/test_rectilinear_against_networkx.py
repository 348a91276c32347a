"""Shortest ways along two directions against the shortest paths of networkx.

The rival knows no corners and no lines: the plan is cut into squares of 0.25 m, a square is free
or it is not, and every side of a free square may be walked. All corners of the random plans lie
on that grid, so that its shortest paths, and the fewest bends among them, are exact.
"""

from __future__ import annotations

import itertools
import math
import random

import networkx
import numpy as np
import pytest
import shapely

from wellheard.geometry.polygons import polygon_area
from wellheard.geometry.rectilinear import Way, Ways, main_direction, way_round

CELL = 0.25
BEND = 1
STEP = 10_000  # no way of these plans has so many bends
Corners = list[tuple[float, float]]


def _random_plan(dice: random.Random) -> tuple[Corners, list[Corners]]:
    """A room of up to 8 m by 6 m with up to three notches, and up to five solids in it."""
    wide, deep = dice.randint(16, 32) * CELL, dice.randint(12, 24) * CELL
    plan = shapely.box(0, 0, wide, deep)
    for _ in range(dice.randint(0, 3)):
        x, y = dice.choice([0.0, wide]), dice.choice([0.0, deep])
        a, b = dice.randint(2, 12) * CELL, dice.randint(2, 9) * CELL
        notched = plan.difference(shapely.box(x - a, y - b, x + a, y + b))
        if isinstance(notched, shapely.Polygon) and not notched.is_empty:
            plan = notched
    solids = []
    for _ in range(dice.randint(0, 5)):
        x, y = dice.randint(0, int(wide / CELL)), dice.randint(0, int(deep / CELL))
        a, b = dice.randint(1, 14), dice.randint(1, 8)
        if dice.random() < 0.5:
            a, b = b, a
        solid = shapely.box(x * CELL, y * CELL, (x + a) * CELL, (y + b) * CELL)
        solids.append(_corners(solid))
    return _corners(shapely.normalize(plan))[::-1], solids


def _corners(shape: shapely.Polygon) -> Corners:
    return [(x, y) for x, y in np.asarray(shape.exterior.coords)[:-1].tolist()]


def _walked(plan: Corners, solids: list[Corners]) -> networkx.Graph:
    """Every side of a free square, each crossing once for every direction of arrival."""
    room = shapely.Polygon(plan)
    taken = [shapely.Polygon(solid) for solid in solids]
    graph = networkx.Graph()
    low_x, low_y, high_x, high_y = (round(v / CELL) for v in room.bounds)
    for i, j in itertools.product(range(low_x, high_x), range(low_y, high_y)):
        middle = shapely.Point((i + 0.5) * CELL, (j + 0.5) * CELL)
        if not room.contains(middle) or any(one.contains(middle) for one in taken):
            continue
        for a, b, axis in (
            ((i, j), (i + 1, j), 0),
            ((i, j + 1), (i + 1, j + 1), 0),
            ((i, j), (i, j + 1), 1),
            ((i + 1, j), (i + 1, j + 1), 1),
        ):
            graph.add_edge((a, axis), (b, axis), weight=STEP)
            for crossing in (a, b):
                graph.add_edge((crossing, 0), (crossing, 1), weight=BEND)
    return graph


def _free_points(graph: networkx.Graph, dice: random.Random, count: int) -> list[tuple[int, int]]:
    crossings = sorted({node[0] for node in graph})
    return [dice.choice(crossings) for _ in range(count)]


def _rival(
    graph: networkx.Graph, a: tuple[int, int], b: tuple[int, int]
) -> tuple[float, int] | None:
    """Length and fewest bends, whatever the first and the last direction."""
    graph = graph.copy()
    for end, crossing in (("start", a), ("end", b)):
        for axis in (0, 1):
            graph.add_edge(end, (crossing, axis), weight=0)
    graph.remove_edges_from([((c, 0), (c, 1)) for c in (a, b)])
    try:
        whole = networkx.dijkstra_path_length(graph, "start", "end")
    except networkx.NetworkXNoPath:
        return None
    return (whole // STEP) * CELL, whole % STEP


def _assert_clear(way: Way, plan: Corners, solids: list[Corners]) -> None:
    line = shapely.LineString(way.corners)
    assert shapely.Polygon(plan).buffer(1e-4).covers(line)
    for solid in solids:
        assert not shapely.Polygon(solid).buffer(-1e-4).intersects(line)


@pytest.mark.parametrize("seed", range(45))
def test_ways_are_the_shortest_and_of_these_the_ones_with_the_fewest_bends(seed: int) -> None:
    dice = random.Random(seed)
    plan, solids = _random_plan(dice)
    graph = _walked(plan, solids)
    ways = Ways(np.array(plan), [(np.array(solid), 0.0) for solid in solids])
    points = _free_points(graph, dice, 6)
    for a, b in itertools.pairwise(points):
        start, end = ((i * CELL, j * CELL) for i, j in (a, b))
        found, rival = ways.way(start, end), _rival(graph, a, b)
        if a == b:
            continue
        assert (found is None) == (rival is None)
        if found is None or rival is None:
            continue
        assert found.length == pytest.approx(rival[0], abs=1e-5)
        assert found.bends == rival[1], (start, end, found)
        assert (found.corners[0], found.corners[-1]) == (start, end)
        _assert_clear(found, plan, solids)


@pytest.mark.parametrize("seed", range(45, 55))
def test_a_turned_plan_has_the_same_ways(seed: int) -> None:
    dice = random.Random(seed)
    plan, solids = _random_plan(dice)
    angle = dice.uniform(0.05, 1.5)
    turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    turned = Ways(
        np.array(plan) @ turn,
        [(np.array(solid) @ turn, 0.0) for solid in solids],
        direction=angle % (math.pi / 2),
    )
    upright = Ways(np.array(plan), [(np.array(solid), 0.0) for solid in solids])
    graph = _walked(plan, solids)
    for a, b in itertools.pairwise(_free_points(graph, dice, 5)):
        start, end = np.array(a) * CELL, np.array(b) * CELL
        one = upright.way(tuple(start), tuple(end))
        other = turned.way(tuple(start @ turn), tuple(end @ turn))
        assert (one is None) == (other is None)
        if one is not None and other is not None:
            assert other.length == pytest.approx(one.length, abs=2e-5)
            assert other.bends == one.bends


def _visibility_length(
    plan: Corners, solids: list[Corners], start: tuple[float, float], end: tuple[float, float]
) -> float:
    """Length along x and y of the shortest polygonal way over corners that see each other.

    No way along the two directions is shorter (de Rezende, Lee and Wu 1985, from memory [M]).
    """
    free = shapely.difference(
        shapely.Polygon(plan), shapely.union_all([shapely.Polygon(solid) for solid in solids])
    )
    roomy = shapely.buffer(free, 1e-6)
    points = [
        start,
        end,
        *(p for ring in shapely.get_rings(shapely.get_parts(free)) for p in ring.coords),
    ]
    graph = networkx.Graph()
    for a, b in itertools.combinations(range(len(points)), 2):
        if roomy.covers(shapely.LineString([points[a], points[b]])):
            (x0, y0), (x1, y1) = points[a], points[b]
            graph.add_edge(a, b, weight=abs(x1 - x0) + abs(y1 - y0))
    return float(networkx.dijkstra_path_length(graph, 0, 1))


@pytest.mark.parametrize("seed", range(12))
def test_slanting_walls_and_round_columns_cost_little_more_than_the_least(seed: int) -> None:
    dice = random.Random(seed)
    cut = dice.uniform(0.5, 2.5)
    plan = [(0.0, 0.0), (8.0, 0.0), (8.0, 5.0 - cut), (8.0 - cut, 5.0), (3.0, 5.0), (0.0, 4.0)]
    solids = []
    for _ in range(3):
        x, y, r = dice.uniform(1, 7), dice.uniform(1, 3.5), dice.uniform(0.2, 0.9)
        count = dice.choice([5, 8, 16])
        corners = [
            (x + r * math.cos(2 * math.pi * k / count), y + r * math.sin(2 * math.pi * k / count))
            for k in range(count)
        ]
        solids.append(corners)
    ways = Ways(np.array(plan), [(np.array(solid), 0.0) for solid in solids])
    for _ in range(4):
        start, end = ((dice.uniform(0.1, 7.9), dice.uniform(0.1, 2.4)) for _ in range(2))
        if not (ways.is_free(start) and ways.is_free(end)):
            continue
        found = ways.way(start, end)
        assert found is not None
        _assert_clear(found, plan, solids)
        least = _visibility_length(plan, solids, start, end)
        assert least - 1e-5 <= found.length <= least + 0.3
        for (x0, y0), (x1, y1) in itertools.pairwise(found.corners):
            assert min(abs(x1 - x0), abs(y1 - y0)) < 1e-5


def test_what_is_kept_free_round_a_solid_is_kept_free() -> None:
    """By hand: a lamp of 1.2 × 0.6 m in the middle of the way, 0.2 m kept free round it."""
    plan = np.array([[0.0, 0.0], [6.0, 0.0], [6.0, 4.0], [0.0, 4.0]])
    lamp = np.array([[2.4, 1.5], [3.6, 1.5], [3.6, 2.1], [2.4, 2.1]])
    found = Ways(plan, [(lamp, 0.2)]).way((1.0, 2.0), (5.0, 2.0))
    assert found is not None
    assert found.length == pytest.approx(4.0 + 2 * 0.3)  # over its north edge, at y = 2.3
    assert found.bends == 2
    assert shapely.LineString(found.corners).distance(shapely.Polygon(lamp)) == pytest.approx(0.2)


def test_there_is_no_way_through_what_reaches_from_wall_to_wall() -> None:
    plan = np.array([[0.0, 0.0], [6.0, 0.0], [6.0, 4.0], [0.0, 4.0]])
    beam = np.array([[2.0, 0.0], [2.3, 0.0], [2.3, 4.0], [2.0, 4.0]])
    ways = Ways(plan, [(beam, 0.0)])
    assert ways.way((1.0, 1.0), (5.0, 1.0)) is None
    assert ways.way((1.0, 1.0), (1.5, 3.0)) is not None


def test_an_end_in_a_keep_out_leaves_it_where_that_is_nearest() -> None:
    """By hand: 0.1 m west out of the clearance, 2 m north and 1 m west."""
    plan = np.array([[0.0, 0.0], [6.0, 0.0], [6.0, 4.0], [0.0, 4.0]])
    lamp = np.array([[2.5, 0.2], [3.5, 0.2], [3.5, 2.0], [2.5, 2.0]])
    ways = Ways(plan, [(lamp, 0.2)])
    assert not ways.is_free((2.4, 1.0))
    found = ways.way((2.4, 1.0), (1.3, 3.0))
    assert found is not None
    assert found.length == pytest.approx(0.1 + 2.0 + 1.0)


def test_between_solids_that_touch_there_is_no_way() -> None:
    plan = np.array([[0.0, 0.0], [6.0, 0.0], [6.0, 4.0], [0.0, 4.0]])
    one = np.array([[2.0, 0.0], [3.0, 0.0], [3.0, 3.0], [2.0, 3.0]])
    other = np.array([[3.004, 0.0], [4.0, 0.0], [4.0, 3.0], [3.004, 3.0]])
    found = Ways(plan, [(one, 0.0), (other, 0.0)]).way((1.0, 1.0), (5.0, 1.0))
    assert found is not None
    assert found.length == pytest.approx(4.0 + 2 * 2.0)


def test_the_direction_of_a_plan_is_that_of_its_longest_wall() -> None:
    assert main_direction(np.array([[0, 0], [3, 4], [1.4, 5.2], [-1.6, 1.2]])) == pytest.approx(
        math.atan2(4, 3)
    )
    assert main_direction(np.array([[0.0, 0], [2, 0], [2, 5], [0, 5]])) == 0.0


@pytest.mark.parametrize("seed", range(20))
def test_round_the_walls_the_shorter_of_both_ways_is_taken(seed: int) -> None:
    """Rival: shapely's own distance along a ring."""
    dice = random.Random(seed)
    plan, _ = _random_plan(dice)
    corners = np.array(plan if polygon_area(np.array(plan)) > 0 else plan[::-1])
    ring = shapely.LinearRing(corners)
    a, b = (dice.uniform(0, ring.length) for _ in range(2))
    start, end = (ring.interpolate(s) for s in (a, b))
    found = way_round(corners, (start.x, start.y), (end.x, end.y))
    assert found.length == pytest.approx(min(abs(a - b), ring.length - abs(a - b)), abs=1e-6)
    assert ring.buffer(1e-6).covers(shapely.LineString(found.corners))
