"""How sure each input is, and what a chance means."""

from __future__ import annotations

from collections.abc import Callable
from statistics import NormalDist

import pytest

from wellheard.predict.tolerances import NORMAL_90, basis_of, chance_of, deviations_for
from wellheard.room.document import Room


def test_the_longest_stated_path_says_how_an_input_is_known(room_of: Callable[..., Room]) -> None:
    room = room_of({"basis": {"space": "drawing", "space.finishes": "measured"}})
    assert basis_of(room, "space.finishes") == "measured"
    assert basis_of(room, "space.height") == "drawing"


def test_what_is_given_is_told_and_what_is_left_out_assumed(room_of: Callable[..., Room]) -> None:
    assert basis_of(room_of(), "noise.background") == "told"
    assert basis_of(room_of({"noise": "absent"}), "noise.background") == "assumed"
    assert basis_of(room_of(), "people.seats") == "told"


@pytest.mark.parametrize(("margin", "sigma"), [(0, 1), (1, 1), (-1, 2), (3.3, 1.7), (0.84, 1)])
def test_a_chance_is_a_normal_probability(margin: float, sigma: float) -> None:
    assert chance_of(margin, sigma) == pytest.approx(NormalDist().cdf(margin / sigma), abs=1e-12)


def test_without_spread_a_chance_is_all_or_nothing() -> None:
    assert chance_of(0.0, 0.0) == 1.0
    assert chance_of(-1e-9, 0.0) == 0.0


def test_ten_to_ninety_percent_is_1_28_deviations_each_way() -> None:
    """Normal tables: z(0.9) = 1.2816, z(0.8) = 0.8416 [M]."""
    assert pytest.approx(1.2816, abs=5e-5) == NORMAL_90
    assert deviations_for(0.8) == pytest.approx(0.8416, abs=5e-5)
    assert deviations_for(0.5) == 0
