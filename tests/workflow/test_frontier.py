"""Weighing designs: dominance by brute force, volumes by counting cells, choices by hand."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from wellheard.workflow.frontier import (
    BEYOND,
    Figures,
    alike,
    dominates,
    frontier,
    hypervolume,
    well_spread,
)

DRAWN = np.random.default_rng(4).integers(0, 4, size=(40, 4))
MANY = [Figures(1000.0 + 100 * p, 0.8 + 0.05 * c, int(o), float(a)) for p, c, o, a in DRAWN]


def test_nothing_on_the_frontier_is_dominated_and_everything_off_it_is_or_equals_one() -> None:
    front = frontier(MANY)
    for i, j in itertools.product(front, range(len(MANY))):
        assert not dominates(MANY[j], MANY[i])
    for i in set(range(len(MANY))) - set(front):
        assert any(dominates(MANY[j], MANY[i]) or MANY[j].burdens == MANY[i].burdens for j in front)


def test_a_volume_is_the_count_of_the_cells_that_some_point_dominates() -> None:
    # In cells of a tenth, the corner at 1.1; points in their middles are on no edge.
    points = [(0.1, 0.8, 0.5), (0.4, 0.2, 0.9), (0.9, 0.0, 0.1), (0.4, 0.4, 0.4)]
    edges = np.arange(0.05, BEYOND, 0.1)
    cells = np.stack(np.meshgrid(edges, edges, edges, indexing="ij"), axis=-1)
    met = np.any([np.all(cells > np.array(point), axis=-1) for point in points], axis=0)
    assert hypervolume(points) == pytest.approx(met.sum() * 0.1**3)


def test_a_surer_way_that_is_printed_the_same_is_no_better() -> None:
    one, other = Figures(1000.0, 0.9501), Figures(1000.0, 0.9599)
    assert one.burdens == other.burdens
    assert not dominates(other, one)
    assert frontier([one, other]) == (0,)


def test_cheapest_surest_and_least_disruption_come_first_and_then_what_fills_the_gap() -> None:
    cheapest = Figures(1000.0, 0.81, 2)
    surest = Figures(5000.0, 0.99, 2)
    spared = Figures(3000.0, 0.82, 0)
    knee = Figures(1500.0, 0.95, 1)
    near = Figures(1900.0, 0.96, 1)
    weighed = [near, knee, spared, surest, cheapest]
    assert well_spread(weighed, 3) == (4, 3, 2)
    assert well_spread(weighed, 4) == (4, 3, 2, 1)
    assert well_spread(weighed, 1) == (4,)


def test_what_a_reader_would_see_no_choice_in_is_not_shown_to_fill_a_place() -> None:
    weighed = [Figures(1000.0, 0.81), Figures(1004.0, 0.83), Figures(1300.0, 0.97)]
    assert alike(weighed[0], weighed[1])
    assert well_spread(weighed, 3) == (0, 2)
