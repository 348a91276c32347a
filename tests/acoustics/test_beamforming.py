"""Beams against closed forms worked by hand and against integration over the sphere."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wellheard.acoustics.beamforming import (
    WHITE_NOISE_GAIN_FLOOR_DB,
    Design,
    beam_directivity_index_db,
    beam_response,
    beam_weights,
    delay_and_sum_efficiency,
    diffuse_coherence,
    diffuse_efficiency,
    white_noise_gain,
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


def directivity_db(at: Array, toward: list[float], frequency: float, **design: object) -> float:
    w = beam_weights(at, toward=[toward], frequency=[frequency], speed=SPEED, **design)  # type: ignore[arg-type]
    coherence = diffuse_coherence(at, wavenumber=[2 * np.pi * frequency / SPEED])
    return float(-10 * np.log10(diffuse_efficiency(w, coherence)[0, 0]))


# Published limit of superdirective end-fire arrays, N² as the spacing shrinks: "a classical result"
# in the abstract of D. Levin and others, Near-field superdirectivity (2021) [L]; 6.0, 9.5, 12.0 dB.
@pytest.mark.parametrize(("count", "spacing"), [(2, 0.001), (3, 0.005), (4, 0.02)])
def test_closely_spaced_capsules_reach_their_number_squared_end_fire(
    count: int, spacing: float
) -> None:
    found = directivity_db(
        line(count, spacing), [1, 0, 0], 500.0, design="superdirective", floor_db=-200.0
    )
    assert found == pytest.approx(20 * math.log10(count), abs=0.05)


def test_two_close_capsules_broadside_gain_nothing_however_weighted() -> None:
    # Analytic: by symmetry both weights are alike, so the best is delay and sum.
    found = directivity_db(line(2, 0.01), [0, 1, 0], 500.0, design="superdirective")
    assert found == pytest.approx(directivity_db(line(2, 0.01), [0, 1, 0], 500.0), abs=1e-9)


def test_a_long_line_gains_twice_its_length_in_wavelengths_broadside_and_four_times_end_fire() -> (
    None
):
    # Closed form of the continuous line, handbooks of antennas and arrays [M]: broadside 2L/λ;
    # end-fire, phased by k·x, 4L/λ. Forty capsules a quarter and an eighth of a wavelength apart.
    wave = 0.343
    broadside = directivity_db(line(40, wave / 4), [0, 0, 1], SPEED / wave)
    assert broadside == pytest.approx(10 * math.log10(2 * 40 / 4), abs=0.1)
    end_fire = directivity_db(line(40, wave / 8), [1, 0, 0], SPEED / wave)
    assert end_fire == pytest.approx(10 * math.log10(4 * 40 / 8), abs=0.2)


def test_no_weights_beat_the_superdirective_ones() -> None:
    # Property: wᴴΓw under wᴴd = 1 is convex, so any other weights take more.
    at = line(5, 0.04)
    k = [2 * np.pi * 800.0 / SPEED]
    coherence = diffuse_coherence(at, wavenumber=k)
    best = beam_weights(
        at,
        toward=[[1, 0, 0]],
        frequency=[800.0],
        speed=SPEED,
        design="superdirective",
        floor_db=-200.0,
    )
    least = diffuse_efficiency(best, coherence)[0, 0]
    steering = np.exp(1j * k[0] * at[:, 0])
    random = np.random.default_rng(3)
    for _ in range(200):
        other = best[0, 0] + 0.1 * (random.normal(size=5) + 1j * random.normal(size=5))
        other = other / np.conj(other.conj() @ steering)
        assert diffuse_efficiency(other[None, None], coherence)[0, 0] >= least - 1e-9


@settings(max_examples=60, deadline=None)
@given(
    seed=st.integers(0, 2**32 - 1),
    count=st.integers(1, 16),
    frequency=st.floats(100, 9000),
    floor_db=st.floats(-20, 3),
)
def test_superdirective_beams_keep_their_floor_and_beat_delay_and_sum(
    seed: int, count: int, frequency: float, floor_db: float
) -> None:
    random = np.random.default_rng(seed)
    at = random.uniform(-0.2, 0.2, (count, 3))
    aim = random.normal(size=3)
    found = {}
    designs: tuple[Design, ...] = ("delay-and-sum", "superdirective")
    for design in designs:
        w = beam_weights(
            at, toward=[aim], frequency=[frequency], speed=SPEED, design=design, floor_db=floor_db
        )
        coherence = diffuse_coherence(at, wavenumber=[2 * np.pi * frequency / SPEED])
        response = beam_response(
            w, at, toward=[aim / np.linalg.norm(aim)], frequency=[frequency], speed=SPEED
        )
        assert response[0, 0, 0] == pytest.approx(1.0, abs=1e-6)
        found[design] = diffuse_efficiency(w, coherence)[0, 0], white_noise_gain(w)[0, 0]
    # Delay and sum has the greatest white-noise gain there is, the number of capsules.
    assert found["delay-and-sum"][1] == pytest.approx(count)
    least = min(10 ** (floor_db / 10), count)
    assert least * (1 - 1e-6) <= found["superdirective"][1] <= count * (1 + 1e-6)
    assert found["superdirective"][0] <= found["delay-and-sum"][0] * (1 + 1e-6)


def test_where_the_floor_binds_the_gain_lies_on_it() -> None:
    at = line(4, 0.02)
    w = beam_weights(
        at, toward=[[1, 0, 0]], frequency=[200.0], speed=SPEED, design="superdirective"
    )
    assert 10 * np.log10(white_noise_gain(w)[0, 0]) == pytest.approx(
        WHITE_NOISE_GAIN_FLOOR_DB, abs=1e-3
    )


def test_two_capsules_subtracted_are_a_bidirectional_one() -> None:
    # By hand: w = (1, −1)·½j/sin(kd/2) end-fire is 1 ahead, and cos²θ for small kd; a first-order
    # figure of eight has DI 4.77 dB (handbooks; also first-order-patterns).
    at = np.array([[-0.001, 0, 0], [0.001, 0, 0]])
    k = 2 * np.pi * 500.0 / SPEED
    w = np.array([[[-1, 1]]]) * 0.5j / np.sin(k * 0.001)
    angles = np.radians([0.0, 45.0, 90.0, 180.0])
    ways = np.stack([np.cos(angles), np.sin(angles), 0 * angles], axis=-1)
    found = beam_response(w, at, toward=ways, frequency=[500.0], speed=SPEED)[0, 0]
    assert found == pytest.approx([1.0, 0.5, 0.0, 1.0], abs=1e-4)
    taken = diffuse_efficiency(w, diffuse_coherence(at, wavenumber=[k]))[0, 0]
    assert -10 * math.log10(taken) == pytest.approx(4.77, abs=0.005)


def test_capsules_wider_apart_than_a_wave_grow_side_lobes_as_strong_as_the_beam() -> None:
    # Grating lobes, textbook: spacing λ, broadside, full response end-fire.
    at = line(8, 0.05)
    w = beam_weights(at, toward=[[0, 0, 1]], frequency=[SPEED / 0.05], speed=SPEED)
    found = beam_response(w, at, toward=[[1, 0, 0]], frequency=[SPEED / 0.05], speed=SPEED)
    assert found[0, 0, 0] == pytest.approx(1.0)


def test_a_superdirective_octave_is_never_worse() -> None:
    at = line(6, 0.05)
    plain = beam_directivity_index_db(at, toward=[1, 0, 0])
    best = beam_directivity_index_db(at, toward=[1, 0, 0], design="superdirective")
    assert np.all(best >= plain - 1e-9)
    assert best[1] > plain[1] + 3.0
