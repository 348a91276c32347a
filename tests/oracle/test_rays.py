"""Decays and scattered energy against the ray tracing of a second simulator.

It is a reference without scattering and with full scattering only; see
:mod:`tests.oracle.simulator`. It catches rays in a sphere about each of its microphones, so what
it says is the mean over them, where the engine takes the mean over the room.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.effort import rooms
from tests.oracle import complete
from tests.oracle.comparisons import MAKERS, STEP, traced

ROOMS = 4


@pytest.mark.parametrize("kind", MAKERS)
@pytest.mark.parametrize("scattering", [0.0, 1.0])
def test_decays_last_as_long_as_the_simulator_says(kind: str, scattering: float) -> None:
    errors = []
    for seed in range(rooms(2, thorough=ROOMS)):
        room = traced(kind, scattering, seed)
        theirs = complete.decay_time(room.energy.sum(axis=0), step=STEP)
        errors.append(room.engine.times / theirs - 1)
    assert np.all(np.median(np.abs(errors), axis=0) <= 0.06)


@pytest.mark.parametrize(
    ("kind", "by_place", "mean_db", "deviation_db"),
    [
        ("l-shape", True, 0.3, 0.5),
        ("box", True, 0.3, 0.5),
        ("box", False, 0.7, 1.5),  # the room's mean: near a wall there is more
    ],
)
def test_scattered_energy_is_as_much_and_as_early_as_the_simulator_says(
    kind: str, by_place: bool, mean_db: float, deviation_db: float
) -> None:
    rooms = [traced(kind, 1.0, seed, by_place=by_place) for seed in range(ROOMS)]
    for differences in ([room.level_db for room in rooms], [room.clarity_db for room in rooms]):
        difference_db = np.concatenate(differences)
        assert abs(difference_db.mean()) <= mean_db
        assert np.sqrt(np.square(difference_db).mean()) <= deviation_db
