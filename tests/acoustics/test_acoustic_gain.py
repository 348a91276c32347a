"""Potential and needed acoustic gain against worked rows and a loop at unity."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wellheard.acoustics.acoustic_gain import (
    largest_talker_distance,
    needed_gain_db,
    open_microphones_db,
    potential_gain_db,
    potential_gain_of_changes_db,
)

DATA = Path(__file__).parents[1] / "reference"
REFERENCE: dict[str, Any] = json.loads((DATA / "reference_values.json").read_text())
CASES = REFERENCE["check_cases"]
DISTANCE = st.floats(0.2, 30.0)


@pytest.mark.parametrize("case", CASES["pag"], ids=str)
def test_potential_gain_of_the_worked_rows(case: dict[str, float]) -> None:
    # Form of Davis and Patronis via an open room-acoustics code [L]; rows are own arithmetic.
    found = potential_gain_db(
        talker_to_listener=case["D0"],
        talker_to_microphone=case["Ds"],
        loudspeaker_to_listener=case["D2"],
        loudspeaker_to_microphone=case["D1"],
        open_microphones=case["NOM"],
        margin_db=case["fsm"],
    )
    assert found == pytest.approx(case["pag"], abs=0.0051)


@pytest.mark.parametrize("case", CASES["nag"], ids=str)
def test_needed_gain_of_the_worked_rows(case: dict[str, float]) -> None:
    found = needed_gain_db(case["D0"], equivalent_distance=case["EAD"])
    assert found == pytest.approx(case["nag"], abs=0.0051)


@pytest.mark.parametrize(
    ("d0", "d1", "d2", "ds", "count", "distance", "left"),
    # The worked table [L arithmetic]: enough with 7.62, 1.6 and 0.02 dB to spare, or short by 2.6.
    [
        (6.0, 3.0, 2.5, 0.6, 1, 2.4, 7.62),
        (6.0, 3.0, 2.5, 0.6, 4, 2.4, 1.60),
        (9.0, 2.5, 2.0, 0.9, 8, 3.0, -2.63),
        (4.0, 2.0, 2.0, 1.2, 1, 2.4, 0.02),
    ],
)
def test_potential_over_needed_gain_gives_the_printed_verdict(
    d0: float, d1: float, d2: float, ds: float, count: int, distance: float, left: float
) -> None:
    potential = potential_gain_db(
        talker_to_listener=d0,
        talker_to_microphone=ds,
        loudspeaker_to_listener=d2,
        loudspeaker_to_microphone=d1,
        open_microphones=count,
    )
    spare = potential - needed_gain_db(d0, equivalent_distance=distance)
    assert spare == pytest.approx(left, abs=0.011)


def test_the_largest_talker_distance_of_the_worked_case() -> None:
    # By hand [L]: D1 2.5, D2 2, equivalent 3 m, four open microphones: 0.940 m.
    found = largest_talker_distance(
        equivalent_distance=3.0,
        loudspeaker_to_listener=2.0,
        loudspeaker_to_microphone=2.5,
        open_microphones=4,
    )
    assert found == pytest.approx(0.940, abs=5e-4)


@given(DISTANCE, DISTANCE, DISTANCE, DISTANCE, st.floats(1.0, 12.0), st.floats(0.0, 12.0))
def test_at_the_largest_distance_potential_gain_is_needed_gain(
    d0: float, d1: float, d2: float, distance: float, count: float, margin: float
) -> None:
    largest = largest_talker_distance(
        equivalent_distance=distance,
        loudspeaker_to_listener=d2,
        loudspeaker_to_microphone=d1,
        open_microphones=count,
        margin_db=margin,
    )
    potential = potential_gain_db(
        talker_to_listener=d0,
        talker_to_microphone=largest,
        loudspeaker_to_listener=d2,
        loudspeaker_to_microphone=d1,
        open_microphones=count,
        margin_db=margin,
    )
    assert potential == pytest.approx(float(needed_gain_db(d0, equivalent_distance=distance)))


@pytest.mark.parametrize(
    ("count", "printed"),
    # 10 lg NOM as handbooks print it [L].
    [
        *[(1, 0), (2, 3.01), (3, 4.77), (4, 6.02), (6, 7.78)],
        *[(8, 9.03), (10, 10), (12, 10.79), (16, 12.04)],
    ],
)
def test_open_microphones_cost_ten_times_their_logarithm(count: int, printed: float) -> None:
    assert open_microphones_db(count) == pytest.approx(printed, abs=0.0051)


@given(*[st.floats(-40.0, 10.0)] * 4)
def test_at_the_potential_gain_without_margin_the_loop_is_at_unity(
    to_listener: float, to_microphone: float, back_to_listener: float, back_to_microphone: float
) -> None:
    # independent: set a system's gain from its input to its output so that the round trip is 1,
    # then compare what the listener hears of it with what the listener hears of the talker.
    loop_gain = -back_to_microphone
    loudspeaker = to_microphone + loop_gain  # talker at 0 dB, 1 m
    heard = loudspeaker + back_to_listener
    found = potential_gain_of_changes_db(
        talker_to_listener_db=to_listener,
        talker_to_microphone_db=to_microphone,
        loudspeaker_to_listener_db=back_to_listener,
        loudspeaker_to_microphone_db=back_to_microphone,
        margin_db=0.0,
    )
    assert found == pytest.approx(heard - to_listener)


def test_a_reverberant_room_takes_the_advantage_of_distance() -> None:
    # By hand: beyond the critical distance D0, D1 and D2 are alike, −6 dB say, and only nearness
    # to the microphone is left: Ds 0.5 m, +6.02 dB; 6.02 + 6 − 6 dB of margin.
    found = potential_gain_of_changes_db(
        talker_to_listener_db=-6.0,
        talker_to_microphone_db=20.0 * math.log10(2.0),
        loudspeaker_to_listener_db=-6.0,
        loudspeaker_to_microphone_db=-6.0,
    )
    assert found == pytest.approx(6.02, abs=0.005)
