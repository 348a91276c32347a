"""Levels of a plain room, as image sources and hand formulas have them."""

from __future__ import annotations

import numpy as np
import pytest

from tests.oracle import engine, simulator
from tests.oracle.rooms import Drawn
from wellheard.acoustics.enclosure import box
from wellheard.arrays import Array

SIZE = (6.0, 5.0, 3.0)
EVEN = 0.2

# A box of 6 × 5 × 3 m whose surfaces all absorb 0.20: total energy re the direct sound at 1 m and
# direct over reverberant energy, as simulated by pyroomacoustics with image sources up to order
# 30. Where in the room it was is not told: the means over many places are compared, within the
# 1.3 dB by which the formulas printed beside it differ from it.
SIMULATED = [(0.5, 7.84, 2.84), (1.0, 4.94, -3.27), (2.0, 3.12, -8.57), (3.0, 3.04, -12.34)]


def pairs_at(distance: float, count: int) -> list[tuple[Array, Array]]:
    """Level pairs so far apart, everywhere in the room but near its walls."""
    rng = np.random.default_rng(9)
    found: list[tuple[Array, Array]] = []
    while len(found) < count:
        source = rng.uniform([0.8, 0.8, 1.0], [5.2, 4.2, 2.0])
        way = rng.normal(size=3) * [1, 1, 0.2]
        microphone = source + distance * way / np.linalg.norm(way)
        if np.all(microphone > [0.8, 0.8, 0.8]) and np.all(microphone < [5.2, 4.2, 2.2]):
            found.append((source, microphone))
    return found


@pytest.mark.parametrize(("distance", "total_db", "ratio_db"), SIMULATED)
def test_levels_are_those_of_a_printed_simulation(
    distance: float, total_db: float, ratio_db: float
) -> None:
    room = box(SIZE, absorption=np.full(6, EVEN))
    totals, ratios = [], []
    for source, microphone in pairs_at(distance, 20):
        r = engine.answer(Drawn(room, source[None], microphone[None]), rays=2000).response
        reflected = (r.joined + r.early + r.late)[0, 3]
        totals.append(10 * np.log10(r.direct[0, 3] + reflected))
        ratios.append(10 * np.log10(r.direct[0, 3] / reflected))
    assert np.mean(totals) == pytest.approx(total_db, abs=1.3)
    assert np.mean(ratios) == pytest.approx(ratio_db, abs=1.5)


@pytest.mark.parametrize("distance", [0.5, 1.0, 2.0, 3.0])
def test_levels_are_those_of_all_images_of_the_simulator(distance: float) -> None:
    room = box(SIZE, absorption=np.full(6, EVEN))
    for source, microphone in pairs_at(distance, 3):
        images = simulator.images(room, source, microphone, order=30)
        r = engine.answer(Drawn(room, source[None], microphone[None])).response
        whole = (r.direct + r.joined + r.early + r.late)[0]
        assert np.abs(10 * np.log10(whole / images.energy.sum(axis=0))).max() <= 0.2


@pytest.mark.parametrize("scattering", [0.0, 0.4])
def test_talker_and_microphone_may_be_swapped(scattering: float) -> None:
    # each keeps its pattern and its aim: reciprocity, as long as the room is at rest
    rng = np.random.default_rng(2)
    room = box(SIZE, absorption=rng.uniform(0.1, 0.6, (6, 7)), scattering=scattering)
    here, there = np.array([1.2, 1.4, 1.3]), np.array([4.4, 3.1, 2.6])
    aim, back = np.array([0.6, 0.8, 0.0]), np.array([0.0, 0.6, -0.8])

    def lobe(cosine: Array) -> Array:
        return np.square(0.7 + 0.3 * cosine)[:, None] * np.ones(7)

    def cardioid(cosine: Array) -> Array:
        return np.square(0.5 + 0.5 * cosine)[:, None] * np.ones(7)

    forth = engine.answer(
        Drawn(room, here[None], there[None]),
        facing=aim[None],
        talker=lobe,
        axis=back,
        microphone=cardioid,
    )
    swapped = engine.answer(
        Drawn(room, there[None], here[None]),
        facing=back[None],
        talker=cardioid,
        axis=aim,
        microphone=lobe,
    )
    for name in ("direct", "joined", "early", "late"):
        np.testing.assert_allclose(
            getattr(forth.response, name), getattr(swapped.response, name), rtol=1e-4, err_msg=name
        )
    np.testing.assert_allclose(forth.speech_transmission, swapped.speech_transmission, atol=1e-5)
