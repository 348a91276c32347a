"""Images up to 60 ms and the room's mean after them, against image sources without any limit.

The bars are those of docs/benchmarks.md, where more rooms are tried.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.oracle import complete, engine, simulator
from tests.oracle.comparisons import SPEED, Compared, compare, decay_errors
from tests.oracle.rooms import random_box
from wellheard.acoustics import compiled

ROOMS = 4


@pytest.fixture(scope="module")
def rooms() -> list[Compared]:
    return [compare(random_box(seed, sources=4, microphones=2)) for seed in range(ROOMS)]


def test_the_lattice_of_the_oracle_is_that_of_the_simulator() -> None:
    # so that what follows rests on two lattices, neither of them the engine's
    drawn = random_box(7, sources=1, microphones=1)
    room, source, receiver = drawn.enclosure, drawn.sources[0], drawn.microphones[0]
    size = np.array([*room.outline[2], room.height])
    found = complete.echogram(size, room.absorption, source, receiver, until=0.03, speed=SPEED)
    images = simulator.images(room, source, receiver, order=14)
    later = images.distance - images.distance.min()
    within = later < SPEED * 0.03
    bins = np.zeros_like(found.reflected)
    np.add.at(bins, (later[within] / (SPEED * complete.STEP)).astype(int), images.energy[within])
    found.reflected[0] += found.direct
    np.testing.assert_allclose(
        found.reflected.cumsum(axis=0), bins.cumsum(axis=0), rtol=1e-5, atol=1e-6
    )


def test_speech_transmission_is_right_to_a_hundredth(rooms: list[Compared]) -> None:
    for room in rooms:
        error = room.engine.speech_transmission - room.speech_transmission
        assert np.abs(error).max() <= 0.012


def test_clarity_is_right_to_a_seventh_of_a_decibel(rooms: list[Compared]) -> None:
    errors = np.concatenate([room.engine.clarity_db - room.clarity_db for room in rooms])
    assert np.abs(errors).mean() <= 0.15


def test_all_energy_is_there(rooms: list[Compared]) -> None:
    for room in rooms:
        r = room.engine.response
        whole = r.direct + r.joined + r.early + r.late
        expected = np.array([echo.direct + echo.reflected.sum(axis=0) for echo in room.complete])
        assert np.abs(10 * np.log10(whole / expected)).max() <= 0.3


def test_decays_are_right_to_one_and_a_half_per_cent(rooms: list[Compared]) -> None:
    errors = [error for room in rooms for error in decay_errors(room)]
    assert np.median(np.abs(errors)) <= 0.015


def test_a_directional_talker_under_a_ceiling_cardioid_is_right_to_two_hundredths() -> None:
    for seed in (11, 12):
        drawn = random_box(seed, sources=4, microphones=2)
        under = drawn.microphones.copy()
        under[:, 2] = drawn.enclosure.height - 0.02
        room = compare(replace(drawn, microphones=under), directional=True)
        error = room.engine.speech_transmission - room.speech_transmission
        assert np.abs(error).max() <= 0.02


@pytest.mark.parametrize("scattering", [0.0, 0.3, 1.0])
def test_where_images_end_decides_nothing(scattering: float) -> None:
    drawn = random_box(3, sources=4, microphones=2, scattering=scattering)
    reference = engine.answer(drawn, limit=0.06)
    for limit in (0.02, 0.04, 0.08):
        other = engine.answer(drawn, limit=limit)
        change = other.speech_transmission - reference.speech_transmission
        assert np.abs(change).max() <= 0.012
        assert np.abs(other.clarity_db - reference.clarity_db).mean() <= 0.15


def test_the_numpy_twin_says_the_same() -> None:
    if compiled.missing():
        pytest.skip(compiled.missing())
    drawn = random_box(5, sources=3, microphones=2, scattering=0.2)
    with compiled.using("compiled"):
        fast = engine.answer(drawn, rays=1000).speech_transmission
    with compiled.using("numpy"):
        plain = engine.answer(drawn, rays=1000).speech_transmission
    np.testing.assert_allclose(fast, plain, atol=1e-4)
