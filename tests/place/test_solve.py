"""What placement promises: known answers, invariances, honesty when it cannot finish."""

from __future__ import annotations

import json
import math
import subprocess
import sys
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wellheard.arrays import Array, Mask
from wellheard.place.cover import candidates_from, greedy_cover
from wellheard.place.solve import Solution, best_with_count, fewest_then_best


def always(table: Array) -> Callable[[int], Array]:
    """The same margins for every number of devices."""
    return lambda n: table


def fewest(serves: Mask) -> Solution:
    table = np.where(serves, 1.0, -1.0)
    return fewest_then_best(always(table), falling=True)


# --- known answers ----------------------------------------------------------------------


def test_fano_plane_needs_three(fano: Mask) -> None:
    solution = fewest(fano)
    assert (solution.count, solution.status) == (3, "optimal")


def test_steiner_triple_system_of_9_points_needs_five(steiner_9: Mask) -> None:
    assert steiner_9.shape == (12, 9)
    assert fewest(steiner_9).count == 5


def test_steiner_triple_system_of_27_points_needs_eighteen(steiner_27: Mask) -> None:
    assert steiner_27.shape == (117, 27)
    table = np.where(steiner_27, 1.0, -1.0)
    # Its 27 points are all alike: settle the number, leave the countless ties alone.
    solution = fewest_then_best(always(table), falling=True, time_limit=20.0)
    assert solution.steps[0].name == "fewest"
    assert (solution.steps[0].value, solution.steps[0].status) == (18, "optimal")
    assert solution.fewer_is_impossible


def test_the_optimum_beats_greed_where_the_textbook_says_so(greed_loses: Mask) -> None:
    candidates = candidates_from(5, prices=None, forced=(), conflicts=(), lines=None)
    greedy = greedy_cover(greed_loses, candidates)
    assert greedy is not None
    assert len(greedy) == 3
    solution = fewest(greed_loses)
    assert solution.chosen == (3, 4)
    assert solution.fewer_is_impossible


def test_least_price_may_take_more_devices() -> None:
    table = np.array([[1.0, -1.0, 1.0], [-1.0, 1.0, 1.0]])
    cheap = fewest_then_best(always(table), prices=[300, 300, 700])
    assert (cheap.chosen, cheap.price, cheap.fewer_is_impossible) == ((0, 1), 600, False)
    dear = fewest_then_best(always(table), prices=[400.10, 400.15, 700.0])
    assert (dear.chosen, dear.price, dear.fewer_is_impossible) == ((2,), 700.0, True)


def test_float_prices_are_compared_to_the_hundredth() -> None:
    table = np.ones((1, 2))
    assert fewest_then_best(always(table), prices=[10.02, 10.01]).chosen == (1,)


def test_margins_are_taken_at_the_number_that_is_open() -> None:
    """Two suffice with the margins of one, but a third open device costs too much for any."""

    def margins(n: int) -> Array:
        return np.array([[0.3, -1.0, -1.0], [-1.0, 0.3, -1.0], [0.05, -1.0, 0.3]]) - 0.1 * (n - 1)

    solution = fewest_then_best(margins)
    # Candidate 0 serves seat 2 only when it is alone, so two devices fail and three hold.
    assert (solution.count, solution.status) == (3, "optimal")
    assert solution.worst_margin == pytest.approx(0.1)


def test_a_margin_just_below_the_target_is_not_met() -> None:
    table = np.array([[-1e-12, -0.5], [0.0, 0.0]])
    solution = fewest_then_best(always(table))
    assert solution.status == "infeasible"
    assert solution.unserved == (0,)
    assert solution.best_possible == (-1e-12, 0.0)


def test_the_mean_counts_only_devices_that_keep_the_floor() -> None:
    margins = np.array([[0.5, 0.5, -1.0]])
    values = np.array([[1.0, 2.0, 9.0]])
    solution = fewest_then_best(lambda n: margins, values=lambda n: values, value_step=0.5)
    assert solution.chosen == (1,)
    assert solution.mean_value == pytest.approx(2.0)


def test_ties_go_to_fewest_lines_and_then_to_the_smallest_positions() -> None:
    table = np.full((2, 6), -1.0)
    table[0, [0, 1, 2]] = table[1, [3, 4, 5]] = 1.0
    lines = np.array([[1.0, 2.0], [2.0, 1.0], [3.0, 3.0], [1.0, 5.0], [2.0, 4.0], [9.0, 9.0]])
    solution = fewest_then_best(always(table), lines=lines)
    # 0 with 3 and 1 with 4 share an x: three lines instead of four; x = 1 comes first.
    assert solution.chosen == (0, 3)
    assert solution.steps[-1].name == "tidy"
    assert solution.steps[-1].value == 3


# --- promises that cannot be kept -------------------------------------------------------


def test_an_impossible_promise_yields_the_best_compromise() -> None:
    table = np.array([[0.5, -0.2, -3.0], [-2.0, 0.4, -3.0], [-0.6, -0.3, -3.0]])
    solution = fewest_then_best(always(table))
    assert solution.status == "infeasible"
    assert solution.chosen == (0, 1)
    assert solution.unserved == (2,)
    assert solution.worst_margin == pytest.approx(-0.3)
    assert solution.best_possible == (0.5, 0.4, -0.3)
    assert not solution.fewer_is_impossible
    assert [step.name for step in solution.steps] == ["fewest", "served", "worst", "mean", "tidy"]
    assert solution.steps[0].status == "infeasible"


def test_conflicts_can_be_what_binds() -> None:
    table = np.array([[0.5, -1.0], [-1.0, 0.5]])
    assert fewest_then_best(always(table)).status == "optimal"
    solution = fewest_then_best(always(table), conflicts=[(1, 0)])
    assert solution.status == "infeasible"
    assert len(solution.unserved) == 1
    assert min(solution.best_possible) == 0.5


def test_no_candidate_at_all_is_reported_not_raised() -> None:
    solution = fewest_then_best(lambda n: np.zeros((2, 0)))
    assert (solution.chosen, solution.status, solution.unserved) == ((), "infeasible", (0, 1))
    assert solution.best_possible == (-math.inf, -math.inf)


def test_minus_infinity_means_never_heard() -> None:
    table = np.array([[-np.inf, 0.2], [0.3, -np.inf]])
    assert fewest_then_best(always(table)).chosen == (0, 1)


def test_a_cap_on_devices_is_kept() -> None:
    table = np.where(np.eye(3, dtype=bool), 1.0, -1.0)
    solution = fewest_then_best(always(table), max_devices=2)
    assert (solution.status, solution.count, len(solution.unserved)) == ("infeasible", 2, 1)


def test_one_device_fewer_says_who_is_lost() -> None:
    table = np.array([[0.5, -0.2, -1.0], [-1.0, 0.4, -1.0], [-1.0, 0.6, 0.8]])
    solution = best_with_count(always(table), 1)
    assert solution.chosen == (1,)
    assert solution.unserved == (0,)
    assert solution.worst_margin == pytest.approx(-0.2)
    assert best_with_count(always(table), 2).status == "optimal"


# --- contradictions ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"forced": [0, 1], "conflicts": [(0, 1)]}, "exclude each other"),
        ({"forced": [7]}, "does not exist"),
        ({"conflicts": [(1, 1)]}, "conflicts with itself"),
        ({"prices": [1]}, "prices for 2"),
        ({"prices": [1, -1]}, "zero or more"),
        ({"lines": np.zeros((1, 2))}, "lines have shape"),
        ({"step": 0.0}, "more than 0"),
        ({"forced": [0, 1], "max_devices": 1}, "more than the 1 allowed"),
    ],
)
def test_contradictions_are_refused_in_words(change: dict[str, object], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        fewest_then_best(lambda n: np.ones((1, 2)), **change)  # type: ignore[arg-type]


def test_margins_that_are_not_numbers_are_refused() -> None:
    with pytest.raises(ValueError, match="not a number"):
        fewest_then_best(lambda n: np.array([[np.nan]]))


def test_a_false_vouch_that_margins_fall_is_noticed() -> None:
    table = np.where(np.eye(2, dtype=bool), 1.0, -1.0)
    with pytest.raises(ValueError, match="margins grow"):
        fewest_then_best(lambda n: table + 0.1 * n, falling=True, time_limit=5.0)


# --- honesty about time -----------------------------------------------------------------


def room(seed: int, seats: int = 20, count: int = 60) -> tuple[Array, Array]:
    rng = np.random.default_rng(seed)
    lines = 0.9 * np.argwhere(np.ones((10, count // 10))).astype(np.float64)
    talkers = rng.uniform(0, [9, 0.9 * count // 10], (seats, 2))
    distance = np.hypot(np.linalg.norm(talkers[:, None] - lines[None], axis=-1), 1.5)
    margins: Array = -20 * np.log10(distance / 2.4) / 2
    return margins, lines


@pytest.mark.parametrize("prices", [None, [100] * 60])
def test_without_time_there_is_a_choice_and_a_gap_but_no_claim(prices: list[int] | None) -> None:
    table, lines = room(1)
    solution = fewest_then_best(always(table), lines=lines, prices=prices, time_limit=0.0)
    full = fewest_then_best(always(table), lines=lines, prices=prices)
    assert solution.status == "gap"
    assert not solution.fewer_is_impossible
    assert solution.unserved == ()
    assert solution.bound is not None
    best = full.count if full.price is None else full.price
    assert solution.bound <= best
    assert solution.gap > 0
    assert full.status == "optimal"


def test_without_time_even_a_trivial_problem_is_not_called_optimal() -> None:
    for table in (np.ones((1, 1)), -np.ones((1, 1)), -np.ones((2, 3))):
        solution = fewest_then_best(always(table), time_limit=0.0)
        assert solution.status == "gap"
        # That no device at all will not do needs no time.
        assert solution.fewer_is_impossible == (solution.unserved == ())


@pytest.mark.parametrize("limit", [0.001, 0.005, 0.02, 0.05])
def test_a_short_time_never_yields_a_wrong_claim(limit: float) -> None:
    table, lines = room(2)
    full = fewest_then_best(always(table), lines=lines)
    short = fewest_then_best(always(table), lines=lines, time_limit=limit)
    assert short.count >= full.count
    assert short.bound is not None
    assert short.bound <= full.count
    if short.fewer_is_impossible:
        assert short.count == full.count
    if short.status == "optimal":
        assert short.chosen == full.chosen


# --- same input, same output ------------------------------------------------------------


def test_repeated_runs_are_equal_though_their_times_are_not() -> None:
    table, lines = room(3)
    first = fewest_then_best(always(table), lines=lines)
    again = fewest_then_best(always(table), lines=lines)
    assert first == again
    assert first.steps[0].seconds >= 0


def test_the_order_of_candidates_and_seats_does_not_matter() -> None:
    for seed in range(5):
        table, lines = room(seed)
        table = np.round(table, 0)  # coarse: many equal choices
        rng = np.random.default_rng(seed)
        seats, order = rng.permutation(len(table)), rng.permutation(len(lines))
        mixed = table[np.ix_(seats, order)]
        one = fewest_then_best(always(table), lines=lines)
        other = fewest_then_best(always(mixed), lines=lines[order])
        assert one.chosen == tuple(sorted(order[list(other.chosen)].tolist()))
        assert one.worst_margin == other.worst_margin
        assert one.mean_value == pytest.approx(other.mean_value)


def test_a_mirrored_room_has_the_same_number_worst_and_mean() -> None:
    for seed in range(5):
        table, lines = room(seed)
        one = fewest_then_best(always(table), lines=lines)
        mirrored = lines * [-1.0, 1.0] + [9.0, 0.0]
        other = fewest_then_best(always(table), lines=mirrored)
        assert one.count == other.count
        assert one.worst_margin == other.worst_margin
        assert one.mean_value == pytest.approx(other.mean_value)
        assert one.steps[-1].value == other.steps[-1].value


def test_nothing_is_printed_on_the_output_that_belongs_to_the_payload() -> None:
    program = (
        "import json, numpy as np\n"
        "from wellheard.place.solve import fewest_then_best\n"
        "t = np.where(np.eye(4, dtype=bool) | np.eye(4, k=1, dtype=bool), 1.0, -1.0)\n"
        "print(json.dumps(fewest_then_best(lambda n: t - .1 * n).chosen))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert json.loads(done.stdout) == [1, 3]


# --- invariants -------------------------------------------------------------------------

tables = st.integers(2, 6).flatmap(
    lambda seats: st.integers(2, 7).flatmap(
        lambda count: st.lists(
            st.lists(st.integers(-30, 30), min_size=count, max_size=count),
            min_size=seats,
            max_size=seats,
        )
    )
)


@settings(max_examples=40, deadline=None)
@given(tables, st.integers(0, 3), st.data())
def test_more_candidates_never_worsen_number_or_worst(
    rows: list[list[int]], loss: int, data: st.DataObject
) -> None:
    table = np.array(rows) * 0.05
    few = data.draw(st.integers(1, table.shape[1]))

    def margins(n: int) -> Array:
        return table - 0.05 * loss * (n - 1)

    part = fewest_then_best(lambda n: margins(n)[:, :few])
    whole = fewest_then_best(margins)
    if part.status == "optimal":
        assert whole.status == "optimal"
        assert whole.count <= part.count
        if whole.count == part.count:
            assert whole.worst_margin >= part.worst_margin - 1e-12
            if whole.worst_margin <= part.worst_margin + 1e-12:
                assert whole.mean_value >= part.mean_value - 1e-12
    else:
        assert len(whole.unserved) <= len(part.unserved)


@settings(max_examples=40, deadline=None)
@given(tables, st.integers(1, 10))
def test_easier_targets_never_need_more_devices(rows: list[list[int]], ease: int) -> None:
    table = np.array(rows) * 0.05
    hard = fewest_then_best(always(table))
    easy = fewest_then_best(lambda n: table + 0.05 * ease)
    if hard.status == "optimal":
        assert easy.status == "optimal"
        assert easy.count <= hard.count
    assert len(easy.unserved) <= len(hard.unserved)


@settings(max_examples=40, deadline=None)
@given(tables, st.data())
def test_a_lock_or_a_conflict_never_helps(rows: list[list[int]], data: st.DataObject) -> None:
    table = np.array(rows) * 0.05
    free = fewest_then_best(always(table))
    last = table.shape[1] - 1
    locked = fewest_then_best(always(table), forced=[data.draw(st.integers(0, last))])
    apart = fewest_then_best(always(table), conflicts=[(0, last)] if last else [])
    for bound in (locked, apart):
        if bound.status == "optimal":
            assert free.status == "optimal"
            assert free.count <= bound.count
