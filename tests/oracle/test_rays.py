"""Decays and scattered energy against the ray tracing of a second simulator.

It is a reference without scattering and with full scattering only; see
:mod:`tests.oracle.simulator`. It catches rays in a sphere about each of its microphones, so what
it says is the mean over them, where the engine takes the mean over the room.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.oracle import complete
from tests.oracle.comparisons import MAKERS, STEP, traced

ROOMS = 4


@pytest.mark.parametrize("kind", MAKERS)
@pytest.mark.parametrize("scattering", [0.0, 1.0])
def test_decays_last_as_long_as_the_simulator_says(kind: str, scattering: float) -> None:
    errors = []
    for seed in range(ROOMS):
        room = traced(kind, scattering, seed)
        theirs = complete.decay_time(room.energy.sum(axis=0), step=STEP)
        errors.append(room.engine.times / theirs - 1)
    assert np.all(np.median(np.abs(errors), axis=0) <= 0.06)


@pytest.mark.parametrize("kind", MAKERS)
def test_scattered_energy_is_as_much_as_the_simulator_says(kind: str) -> None:
    level_db = np.concatenate([traced(kind, 1.0, seed).level_db for seed in range(ROOMS)])
    assert abs(level_db.mean()) <= 0.7
    assert np.sqrt(np.square(level_db).mean()) <= 1.5


@pytest.mark.parametrize("kind", MAKERS)
def test_scattered_energy_comes_as_early_as_the_simulator_says(kind: str) -> None:
    clarity_db = np.concatenate([traced(kind, 1.0, seed).clarity_db for seed in range(ROOMS)])
    assert abs(clarity_db.mean()) <= 0.7
    assert np.sqrt(np.square(clarity_db).mean()) <= 1.7
