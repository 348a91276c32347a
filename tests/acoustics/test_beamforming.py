"""Beams against closed forms worked by hand and against integration over the sphere."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wellheard.acoustics.beamforming import (
    beam_directivity_index_db,
    delay_and_sum_efficiency,
    diffuse_coherence,
)
from wellheard.arrays import Array

SPEED = 343.0


def line(count: int, spacing: float) -> Array:
    at = np.zeros((count, 3))
    at[:, 0] = spacing * np.arange(count)
    return at


# Analytic. Two capsules d apart: wᴴΓw = (1 + cos(kd cos θ)·sin(kd)/(kd)) / 2, by hand:
# kd, angle of the beam from their line [deg], efficiency
PAIRS = [
    (math.pi / 2, 90, (1 + 2 / math.pi) / 2),  # broadside, a quarter wavelength: 0.8183
    (math.pi / 2, 0, 0.5),  # end-fire there: cos(π/2) = 0
    (math.pi, 90, 0.5),  # half a wavelength: sinc is 0
    (math.pi, 0, 0.5),
    (3 * math.pi / 2, 90, (1 - 2 / (3 * math.pi)) / 2),  # 0.3939: better than 1/2
    (math.pi / 6, 60, (1 + math.cos(math.pi / 12) * 3 / math.pi) / 2),  # 0.9612
]


@pytest.mark.parametrize(("kd", "angle_deg", "expected"), PAIRS)
def test_two_capsules_are_as_worked_by_hand(kd: float, angle_deg: float, expected: float) -> None:
    apart = 0.13
    frequency = kd * SPEED / (2 * math.pi * apart)
    angle = math.radians(angle_deg)
    found = delay_and_sum_efficiency(
        line(2, apart),
        toward=[math.cos(angle), math.sin(angle), 0],
        frequency=frequency,
        speed=SPEED,
    )
    assert found == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("count", [1, 2, 5, 16])
@pytest.mark.parametrize("toward", [(0, 0, -1), (1, 0, 0), (0.3, -2, 0.4)])
def test_a_line_spaced_by_half_a_wavelength_gains_its_number(
    count: int, toward: tuple[float, float, float]
) -> None:
    # Analytic: every coherence is sin(nπ)/(nπ) = 0, so DI = 10 lg N however it is steered.
    found = delay_and_sum_efficiency(
        line(count, 0.05), toward=toward, frequency=SPEED / 0.1, speed=SPEED
    )
    assert 1 / found == pytest.approx(count)


def test_capsules_in_one_place_gain_nothing() -> None:
    found = delay_and_sum_efficiency(
        np.zeros((7, 3)), toward=[0, 1, 0], frequency=[100, 8000], speed=SPEED
    )
    assert found == pytest.approx([1.0, 1.0])


def sphere(rows: int) -> tuple[Array, Array]:
    """Directions and weights that integrate over the sphere (Gauss in the cosine)."""
    cosine, weight = np.polynomial.legendre.leggauss(rows)
    azimuth = 2 * np.pi * np.arange(2 * rows) / (2 * rows)
    flat = np.sqrt(1 - cosine**2)[:, None]
    way = np.stack(
        [
            flat * np.cos(azimuth),
            flat * np.sin(azimuth),
            np.broadcast_to(cosine[:, None], (rows, 2 * rows)),
        ],
        axis=-1,
    )
    return way.reshape(-1, 3), np.repeat(weight / (4 * rows), 2 * rows)


@settings(max_examples=30, deadline=None)
@given(
    seed=st.integers(0, 2**32 - 1),
    count=st.integers(1, 12),
    frequency=st.floats(50, 4000),
)
def test_efficiency_is_the_mean_of_the_beams_power_over_all_directions(
    seed: int, count: int, frequency: float
) -> None:
    # Rival: the response to plane waves, integrated over the sphere; no coherence anywhere.
    random = np.random.default_rng(seed)
    at = random.uniform(-0.15, 0.15, (count, 3))
    aim = random.normal(size=3)
    aim /= np.linalg.norm(aim)
    k = 2 * np.pi * frequency / SPEED
    ways, weights = sphere(60)
    response = np.exp(1j * k * ((ways - aim) @ at.T)).mean(axis=-1)
    expected = float(weights @ np.abs(response) ** 2)
    found = delay_and_sum_efficiency(at, toward=5 * aim, frequency=frequency, speed=SPEED)
    assert found == pytest.approx(expected, rel=1e-6)


@settings(max_examples=50, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), count=st.integers(1, 16))
def test_no_beam_gains_more_than_its_number_squared(seed: int, count: int) -> None:
    # The bound that superdirective weights reach end-fire as the spacing shrinks; see
    # brandstein-ward in docs/references.toml.
    at = np.random.default_rng(seed).uniform(-0.3, 0.3, (count, 3))
    index_db = beam_directivity_index_db(at, toward=[0, 0, -1])
    assert np.all(index_db <= 20 * math.log10(count) + 1e-9)
    assert np.all(index_db >= -1e-9)


def test_the_octave_is_the_energy_mean_of_its_three_thirds() -> None:
    # By hand for two capsules 0.1 m apart, broadside, 1 kHz octave, c = 343.2 m/s:
    # kd 1.4542, 1.8308, 2.3048; sin(kd)/(kd) 0.68298, 0.52787, 0.32215, mean 0.51100;
    # efficiency (1 + 0.51100) / 2 = 0.75550, DI 1.2177 dB
    found = beam_directivity_index_db(line(2, 0.1), toward=[0, 0, 1])
    assert found[3] == pytest.approx(1.2177, abs=1e-4)


def test_warmer_air_makes_the_array_smaller() -> None:
    cold = beam_directivity_index_db(line(2, 0.1), toward=[0, 0, 1], temperature_c=0)
    warm = beam_directivity_index_db(line(2, 0.1), toward=[0, 0, 1], temperature_c=40)
    assert warm[2] < cold[2]


def test_coherence_is_one_with_itself_and_nothing_at_half_a_wavelength() -> None:
    found = diffuse_coherence(line(2, 0.25), wavenumber=[4 * math.pi, 1e-9])
    assert found.shape == (2, 2, 2)
    assert found[0] == pytest.approx(np.eye(2), abs=1e-12)
    assert found[1] == pytest.approx(np.ones((2, 2)))


@pytest.mark.parametrize(
    ("positions", "toward", "message"),
    [
        ([[0, 0, 0]], [0, 0, 0], "toward must be a direction"),
        ([[0, 0, 0]], [1, 0], "toward must be a direction"),
        (np.zeros((0, 3)), [0, 0, 1], "a capsule at least"),
        ([[0, 0]], [0, 0, 1], "positions must be"),
    ],
)
def test_what_is_no_array_is_refused(positions: Array, toward: list[float], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        delay_and_sum_efficiency(positions, toward=toward, frequency=1000, speed=SPEED)
