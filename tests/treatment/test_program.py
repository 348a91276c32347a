"""The program over modules against trying all counts, and Eyring's formula against arithmetic."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from wellheard.catalog.finishes import Finish
from wellheard.catalog.treatments import Treatment
from wellheard.geometry.rectangles import Rectangle
from wellheard.treatment.program import added, cheapest, farthest, most, price_of
from wellheard.treatment.task import Bay, Decay, Option, option


def decay(volume: float = 100.0, surface: float = 130.0, absorbing: float = 13.0) -> Decay:
    zero = np.zeros(7)
    return Decay(volume, surface, np.full(7, absorbing), zero, zero, 0.161)


def test_eyring_and_what_is_lacking_by_hand() -> None:
    """A hand calculation with the formula of Eyring and Norris (Kuttruff, Room Acoustics, ch. 5).

    V = 100 m³, S = 130 m², A = 13 m², so the mean is 0.1 and T = 0.161·100/(130·0.1053605)
    = 16.1/13.69687 = 1.17545 s. For 0.6 s: 0.161·100/0.6 = 26.8333, over 130 = 0.206410,
    1 − exp(−0.206410) = 0.186500, times 130 = 24.2450 m²: 11.245 m² are lacking. A panel of
    1.2 m × 0.6 m of 0.86 on 0.10 adds 0.72 · 0.76 = 0.5472 m²: 21 of them, since 20 add 10.944.
    """
    room = decay()
    assert room.time(np.zeros(7))[3] == pytest.approx(1.17545, abs=5e-6)
    lacking = room.lacking(np.full(7, 0.6))
    assert lacking[3] == pytest.approx(11.245, abs=5e-4)
    bay = Bay("wall", "w0", Rectangle(0, 0, 12.0, 2.4), (0.1,) * 7)
    flat = Finish(id="p", name="p", absorption=(0.86,) * 7)
    panel = Treatment(finish=flat, on="wall", width=1.2, height=0.6, price=100)
    fits = option(0, bay, panel, floor_area=0.0)
    assert fits is not None
    assert fits.most == 40
    found = cheapest([bay], [fits], lacking)
    assert found.counts == (21,)
    assert found.price == 2100
    assert room.time(added([fits], found.counts))[3] <= 0.6
    assert room.time(added([fits], (20,)))[3] > 0.6


def test_air_and_objects_take_their_share_by_hand() -> None:
    """As above with 4 m² of people and m = 0.001 /m: 26.8333 − 4 − 4·0.001·100 = 22.4333,
    over 130 = 0.172564, 1 − exp(−0.172564) = 0.158495, times 130 = 20.6044: 7.6044 lacking."""
    room = Decay(100.0, 130.0, np.full(7, 13.0), np.full(7, 4.0), np.full(7, 0.001), 0.161)
    assert room.lacking(np.full(7, 0.6))[0] == pytest.approx(7.6044, abs=5e-4)


def _product(
    name: str, absorbing: float, wide: float, tall: float, price: float, fixed: float = 0.0
) -> Treatment:
    a = absorbing
    finish = Finish(id=name, name=name, absorption=(a / 2, a, a, a, a, a, a))
    return Treatment(finish=finish, on="wall", width=wide, height=tall, price=price, fixed=fixed)


def _small(seed: int) -> tuple[list[Bay], list[Option], np.ndarray]:
    random = np.random.default_rng(seed)
    bays = [
        Bay(
            "wall",
            f"w{i}",
            Rectangle(0, 0, round(float(random.uniform(0.6, 2.6)), 2), 1.3),
            tuple(np.round(random.uniform(0.02, 0.2, 7), 2).tolist()),
            burden=int(random.integers(0, 3)),
        )
        for i in range(3)
    ]
    products = [
        _product(
            f"p{j}",
            float(random.uniform(0.4, 0.99)),
            0.6,
            1.2,
            int(random.integers(40, 160)),
            int(random.integers(0, 200)),
        )
        for j in range(2)
    ]
    fits = [option(i, bay, one, floor_area=0.0) for i, bay in enumerate(bays) for one in products]
    options = [one for one in fits if one is not None]
    wanted = most(options) * float(random.uniform(0.2, 1.05))
    return bays, options, wanted


def _brute_force(options: list[Option], wanted: np.ndarray) -> int | None:
    """Every count of every option, one product to a bay."""
    best: int | None = None
    for counts in itertools.product(*(range(o.most + 1) for o in options)):
        lies = [o.bay for o, n in zip(options, counts, strict=True) if n]
        if len(lies) > len(set(lies)):
            continue
        if np.all(added(options, counts) >= wanted - 1e-9):
            price = price_of(options, counts)
            best = price if best is None else min(best, price)
    return best


@pytest.mark.parametrize("seed", range(25))
def test_nothing_is_cheaper_than_what_is_chosen(seed: int) -> None:
    bays, options, wanted = _small(seed)
    found = cheapest(bays, options, wanted)
    expected = _brute_force(options, wanted)
    if expected is None:
        assert found.status == "infeasible"
        return
    assert found.status == "optimal"
    assert found.price == expected == price_of(options, found.counts)
    assert np.all(added(options, found.counts) >= wanted - 1e-6)
    in_bay = [o.bay for o, n in zip(options, found.counts, strict=True) if n]
    assert len(in_bay) == len(set(in_bay))


@settings(max_examples=25, deadline=None)
@given(seed=some.integers(0, 10_000), more=some.floats(1.0, 1.5))
def test_more_absorption_never_costs_less(seed: int, more: float) -> None:
    bays, options, wanted = _small(seed)
    less = cheapest(bays, options, wanted)
    found = cheapest(bays, options, wanted * more)
    if less.status == "infeasible":
        assert found.status == "infeasible"
    elif found.status == "optimal":
        assert found.price >= less.price


def test_of_equal_prices_the_lighter_burden_is_taken() -> None:
    place = Rectangle(0, 0, 1.25, 1.25)
    behind = Bay("wall", "a", place, (0.1,) * 7, burden=4)
    at_head = Bay("wall", "b", place, (0.1,) * 7, burden=0)
    panel = _product("p", 0.9, 0.6, 1.2, 100)
    options = [option(i, b, panel, floor_area=0.0) for i, b in enumerate((behind, at_head))]
    fits = [one for one in options if one is not None]
    assert cheapest([behind, at_head], fits, np.full(7, 0.2)).counts == (0, 1)


@pytest.mark.parametrize("seed", range(8))
def test_what_comes_nearest_is_the_best_worst_octave(seed: int) -> None:
    _, options, _ = _small(seed)
    wanted = most(options) * 1.3
    counts = farthest(options, wanted)
    reached = float(np.min(added(options, counts) / wanted))
    best = 0.0
    for trial in itertools.product(*(range(o.most + 1) for o in options)):
        lies = [o.bay for o, n in zip(options, trial, strict=True) if n]
        if len(lies) == len(set(lies)):
            best = max(best, float(np.min(added(options, trial) / wanted)))
    assert reached == pytest.approx(best, abs=2e-3)


def test_a_room_that_is_dry_enough_costs_nothing() -> None:
    found = cheapest([], [], np.full(7, -1.0))
    assert (found.price, found.status) == (0, "optimal")
    assert math.isinf(cheapest([], [], np.full(7, 1.0)).bound)
