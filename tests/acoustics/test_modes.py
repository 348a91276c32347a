"""Modes of a box, counted and estimated."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from wellheard.acoustics.modes import mode_count, mode_count_estimate, room_modes

DATA = Path(__file__).parents[1] / "reference"
REFERENCE: dict[str, Any] = json.loads((DATA / "reference_values.json").read_text())
WORKED: dict[str, Any] = json.loads((DATA / "worked_examples.json").read_text())
MODES = REFERENCE["check_cases"]["room_modes"]
BOX = MODES["dims"]


def test_the_first_twelve_modes_reproduce_every_printed_digit() -> None:
    printed = WORKED["modes_room_b"]
    modes = room_modes(BOX, up_to=86.0, speed_of_sound=MODES["c"])
    np.testing.assert_allclose(modes.frequency[:12], printed["first"], rtol=0, atol=0.5e-2)
    assert modes.order[:12].tolist() == printed["order"]


@pytest.mark.parametrize(("frequency", "order"), MODES["first"])
def test_modes_carry_their_orders(frequency: float, order: str) -> None:
    modes = room_modes(BOX, up_to=100.0, speed_of_sound=MODES["c"])
    at = modes.order.tolist().index([int(n) for n in order.split(",")])
    assert modes.frequency[at] == pytest.approx(frequency, abs=0.5e-2)


@pytest.mark.parametrize(("up_to", "counted", "estimated"), WORKED["modes_room_b"]["counts"])
def test_counts_are_the_printed_ones(up_to: float, counted: int, estimated: float) -> None:
    assert MODES["count_below"][str(up_to)] == counted
    assert mode_count(BOX, up_to=up_to, speed_of_sound=MODES["c"]) == counted
    assert mode_count_estimate(BOX, up_to=up_to, speed_of_sound=MODES["c"]) == pytest.approx(
        estimated, abs=0.5e-2
    )


def test_modes_move_with_the_speed_of_sound_and_against_size() -> None:
    base = room_modes(BOX, up_to=120.0)
    twin = room_modes(2.0 * np.array(BOX), up_to=120.0, speed_of_sound=686.0)
    np.testing.assert_allclose(twin.frequency, base.frequency)


def test_a_flat_box_is_refused() -> None:
    with pytest.raises(ValueError, match="three sides"):
        room_modes([6.0, 4.0, 0.0], up_to=100.0)
    with pytest.raises(ValueError, match="three sides"):
        mode_count_estimate([6.0, 4.0], up_to=100.0)
