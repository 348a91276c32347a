"""Pressure image sources of a box against hand calculation and symmetry."""

from __future__ import annotations

from dataclasses import replace
from math import dist, sqrt

import numpy as np
import pytest

from wellheard.acoustics import compiled
from wellheard.acoustics.enclosure import Enclosure, Prism, box
from wellheard.acoustics.waveform import octave_filters, waveform
from wellheard.arrays import Array
from wellheard.bands import OCTAVES

SPEED, RATE = 343.0, 16000.0
SIZE = (6.0, 5.0, 3.0)
EVEN = np.array([0.1, 0.6, 0.2, 0.3, 0.4, 0.5])  # floor, ceiling, south, east, north, west
UNEVEN = np.linspace(0.05, 0.6, 42).reshape(6, 7)
SOURCE = np.array([1.1, 2.3, 1.2])
BESIDE = SOURCE + np.array([3.43, 0.0, 0.0])
RECEIVER = np.array([4.7, 3.1, 2.6])


@pytest.fixture(params=["numpy", "plain", "compiled"])
def kernel(request: pytest.FixtureRequest) -> str:
    if request.param != "numpy" and compiled.missing():
        pytest.skip(compiled.missing())
    return str(request.param)


def heard(room: Enclosure, source: Array, receiver: Array, order: int, **more: Array) -> Array:
    """Response from the click on."""
    found = waveform(room, source, receiver, order=order, rate=RATE, speed=SPEED, **more)
    return found.samples[found.lead :]


def test_the_direct_sound_is_one_over_the_distance(kernel: str) -> None:
    # 3.43 m are 160 samples at 16 kHz, so every other tap of the sinc is zero
    with compiled.using(kernel):  # type: ignore[arg-type]
        found = heard(box(SIZE, absorption=EVEN), SOURCE, BESIDE, 0)
    expected = np.zeros(len(found))
    expected[160] = 1 / 3.43
    np.testing.assert_allclose(found, expected, atol=1e-6)


def test_each_wall_reflects_with_its_own_pressure_factor(kernel: str) -> None:
    # by hand: the image behind each surface, √(1 − α) over its distance. A slow sum of many
    # samples is the pressure at low frequency, where all arrivals add.
    x, y, z = SOURCE
    images = [
        ((x, y, -z), 0.1),
        ((x, y, 6.0 - z), 0.6),
        ((x, -y, z), 0.2),
        ((12.0 - x, y, z), 0.3),
        ((x, 10.0 - y, z), 0.4),
        ((-x, y, z), 0.5),
    ]
    total = 1 / dist(SOURCE, RECEIVER)
    total += sum(sqrt(1 - alpha) / dist(at, RECEIVER) for at, alpha in images)
    with compiled.using(kernel):  # type: ignore[arg-type]
        found = heard(box(SIZE, absorption=EVEN), SOURCE, RECEIVER, 1)
    assert found.sum() == pytest.approx(total, rel=1e-3)
    arrivals = [dist(at, RECEIVER) / SPEED * RATE for at, _ in images]
    away = np.abs(np.arange(len(found))[:, None] - np.array(arrivals)).min(axis=1)
    direct = dist(SOURCE, RECEIVER) / SPEED * RATE
    quiet = (away > 40) & (np.abs(np.arange(len(found)) - direct) > 40)
    assert np.all(found[quiet] == 0.0)


def test_scattered_energy_is_not_reflected() -> None:
    dull = heard(box(SIZE, absorption=1 - (1 - EVEN) * 0.7), SOURCE, RECEIVER, 3)
    rough = heard(box(SIZE, absorption=EVEN, scattering=0.3), SOURCE, RECEIVER, 3)
    np.testing.assert_allclose(rough, dull, atol=1e-7)


def test_all_kernels_agree() -> None:
    room = box(SIZE, absorption=UNEVEN)
    with compiled.using("numpy"):
        twin = heard(room, SOURCE, RECEIVER, 6)
    if not compiled.missing():
        with compiled.using("plain"):
            np.testing.assert_allclose(heard(room, SOURCE, RECEIVER, 6), twin, atol=1e-6)
        with compiled.using("compiled"):
            np.testing.assert_allclose(heard(room, SOURCE, RECEIVER, 6), twin, atol=1e-6)


def test_source_and_receiver_may_be_swapped() -> None:
    room = box(SIZE, absorption=UNEVEN)
    there, back = heard(room, SOURCE, RECEIVER, 5), heard(room, RECEIVER, SOURCE, 5)
    np.testing.assert_allclose(there, back, atol=1e-6)


def test_a_turned_box_sounds_the_same() -> None:
    room = box(SIZE, absorption=UNEVEN)
    turn = np.array([[0.8, 0.6], [-0.6, 0.8]])
    turned = replace(room, outline=room.outline @ turn + [3.0, -7.0])

    def moved(point: Array) -> Array:
        return np.array([*(point[:2] @ turn + [3.0, -7.0]), point[2]])

    np.testing.assert_allclose(
        heard(turned, moved(SOURCE), moved(RECEIVER), 4),
        heard(room, SOURCE, RECEIVER, 4),
        atol=1e-6,
    )


def test_air_takes_the_square_root_of_its_power_from_pressure() -> None:
    room = box(SIZE, absorption=EVEN)
    clear = heard(room, SOURCE, BESIDE, 0)
    damp = heard(room, SOURCE, BESIDE, 0, air=np.full(7, 0.05))
    assert damp[160] == pytest.approx(clear[160] * np.exp(-0.05 * 3.43 / 2), rel=1e-4)


@pytest.mark.parametrize("band", range(6))
def test_an_octave_is_changed_by_its_own_absorption_only(band: int) -> None:
    # what the order 1 adds to the direct sound is one image, of which the spectrum at the centre
    # of the octave tells the factor
    absorption = np.ones((6, 7))
    absorption[1, band] = 0.19
    room, end = box(SIZE, absorption=absorption), np.array([3.0, 2.5, 1.5])
    both, direct = (
        waveform(room, np.array([3.0, 2.5, 1.0]), end, order=order, rate=RATE, speed=SPEED)
        for order in (1, 0)
    )
    image = both.samples.copy()
    image[both.lead - direct.lead :][: len(direct.samples)] -= direct.samples
    spectrum = np.abs(np.fft.rfft(image, n=65536))
    at = [round(f * 65536 / RATE) for f in OCTAVES]
    # √(1 − 0.19) = 0.9 over the 3.5 m to the image behind the ceiling
    assert spectrum[at[band]] == pytest.approx(0.9 / 3.5, rel=0.03)
    for other in set(range(6)) - {band}:
        assert spectrum[at[other]] < 0.03 * 0.9 / 3.5


def test_octave_filters_sum_to_one_and_overlap_only_their_neighbours() -> None:
    bank = octave_filters(np.linspace(0.0, 24000.0, 5000))
    np.testing.assert_allclose(bank.sum(axis=0), 1.0, atol=1e-12)
    assert np.all((bank >= 0.0) & (bank <= 1.0))
    assert np.all(np.count_nonzero(bank > 1e-12, axis=0) <= 2)
    np.testing.assert_allclose(np.diag(octave_filters(np.array(OCTAVES))), 1.0, atol=1e-12)


def test_what_is_no_empty_box_or_not_inside_is_refused() -> None:
    room = box(SIZE, absorption=EVEN)
    table = Prism(np.array([[1.0, 1.0], [2.0, 1.0], [2.0, 2.0]]), 0.7, 0.75, 0)
    with pytest.raises(ValueError, match="empty boxes"):
        heard(replace(room, objects=(table,)), SOURCE, RECEIVER, 1)
    with pytest.raises(ValueError, match="inside"):
        heard(room, SOURCE, np.array([7.0, 1.0, 1.0]), 1)
    with pytest.raises(ValueError, match="one point"):
        heard(room, SOURCE, SOURCE, 1)
    with pytest.raises(ValueError, match="order"):
        heard(room, SOURCE, RECEIVER, -1)
