"""Tables of directional response against closed forms and direct evaluation over the sphere."""

from __future__ import annotations

import math

import numpy as np
import pytest

from wellheard.acoustics.air import speed_of_sound
from wellheard.acoustics.beamforming import (
    Design,
    beam_response,
    beam_weights,
    diffuse_coherence,
    diffuse_efficiency,
    third_frequencies,
)
from wellheard.acoustics.patterns import (
    COSINES,
    ENTRIES,
    across,
    aside_pattern,
    beam_tables,
    first_order_pattern,
    lobe_pattern,
    mean_over_sphere,
    round_tables,
    tilted,
)
from wellheard.arrays import Array

SPEED = float(speed_of_sound(20.0))

RING = np.array([[0.12 * math.cos(a), 0.12 * math.sin(a), 0.0] for a in np.arange(8) * math.pi / 4])
"""Eight capsules on a circle."""

# Handbooks (microphones): directivity index of first-order patterns [dB]
INDICES = [(1.0, 0.0), (0.5, 4.8), (0.366, 5.7), (0.25, 6.0), (0.0, 4.8)]


@pytest.mark.parametrize(("a", "index_db"), INDICES)
def test_tables_of_capsules_have_the_handbook_index(a: float, index_db: float) -> None:
    table = first_order_pattern(a)
    assert table.shape == (ENTRIES, 7)
    assert -10 * np.log10(mean_over_sphere(table)) == pytest.approx([index_db] * 7, abs=0.05)


def test_a_cardioid_is_6_db_down_at_its_side_and_silent_behind() -> None:
    table = first_order_pattern(0.5)[:, 3]
    assert 10 * math.log10(table[ENTRIES // 2]) == pytest.approx(-6.02, abs=0.01)
    assert table[0] == 0.0
    assert table[-1] == 1.0


@pytest.mark.parametrize("index_db", [-1.0, -0.3, 0.0, 0.5, 3.0, 7.0, 12.0, 18.0])
def test_a_lobe_has_exactly_the_index_of_its_sheet(index_db: float) -> None:
    table = lobe_pattern([index_db, 5.0, 5.0, 5.0, 5.0, 5.0, 5.0])
    assert -10 * np.log10(mean_over_sphere(table)[0]) == pytest.approx(index_db, abs=1e-9)
    assert table[-1] == pytest.approx(1.0)
    assert np.all(table > 0.0)
    assert np.all(np.diff(table[:, 1]) >= 0.0)


def test_a_lobe_of_no_index_hears_all_round() -> None:
    assert lobe_pattern([0.0] * 7) == pytest.approx(np.ones((ENTRIES, 7)))


def test_aside_a_beam_the_talker_is_faint_and_the_room_is_not() -> None:
    taken = np.array([0.9, 0.7, 0.5, 0.3, 0.2, 0.2, 0.1])
    table = aside_pattern(taken, level_db=-12.0)
    assert table[-1] == pytest.approx([10**-1.2] * 7)
    assert mean_over_sphere(table) == pytest.approx(taken, rel=1e-12)


def test_axes_across_another_are_square_and_right_handed() -> None:
    for axis in ([0.0, 0.0, -1.0], [0.6, 0.0, 0.8], [1 / math.sqrt(3)] * 3):
        frame = np.vstack([across(axis), axis])
        assert frame @ frame.T == pytest.approx(np.eye(3), abs=1e-12)
        assert np.linalg.det(frame) == pytest.approx(1.0)


def test_a_tilted_direction_keeps_its_angle() -> None:
    ways = tilted([0, 0, -1], tilt=np.radians([0, 30, 70]), azimuth=1.3)
    assert np.degrees(np.arccos(-ways[:, 2])) == pytest.approx([0, 30, 70])


def round_the_axis(at: Array, aim: Array, cosine: Array, design: Design, octave: int) -> Array:
    """Mean of the response over 720 azimuths at cosines from the axis: direct evaluation."""
    turn = 2 * np.pi * np.arange(720) / 720
    frame = across(aim)
    side = np.cos(turn)[:, None] * frame[0] + np.sin(turn)[:, None] * frame[1]
    ways = cosine[:, None, None] * aim + np.sqrt(1 - cosine**2)[:, None, None] * side
    frequency = third_frequencies()[octave]
    w = beam_weights(at, toward=[aim], frequency=frequency, speed=SPEED, design=design)
    found = beam_response(w, at, toward=ways.reshape(-1, 3), frequency=frequency, speed=SPEED)
    return np.asarray(found[0].mean(axis=0).reshape(len(cosine), 720).mean(axis=-1))


@pytest.mark.parametrize("design", ["delay-and-sum", "superdirective"])
@pytest.mark.parametrize("tilt_deg", [0.0, 50.0])
def test_a_table_is_the_response_round_the_axis(design: Design, tilt_deg: float) -> None:
    aim = tilted([0, 0, -1], tilt=math.radians(tilt_deg), azimuth=0.4)
    found = beam_tables(RING, toward=aim[None, None], design=design)
    # Points inside cells: the table's entry is the mean of its cell.
    for octave, tolerance in ((0, 0.01), (2, 0.01), (4, 0.02), (6, 0.06)):
        edge = 1 / (ENTRIES - 1)
        entries = np.arange(40, 500, 23)
        inside = np.linspace(-edge, edge, 9)[1::2]
        cosine = (COSINES[entries][:, None] + inside).ravel()
        direct = round_the_axis(RING, aim, cosine, design, octave).reshape(-1, len(inside))
        assert found.patterns[0, entries, octave] == pytest.approx(
            direct.mean(axis=-1), abs=tolerance
        )


@pytest.mark.parametrize("design", ["delay-and-sum", "superdirective"])
def test_the_mean_of_a_table_is_what_the_beam_takes_from_a_diffuse_field(design: Design) -> None:
    aims = tilted([0, 0, -1], tilt=np.radians([0.0, 35.0, 70.0]), azimuth=0.2)
    found = beam_tables(RING, toward=aims[:, None], design=design)
    frequency = third_frequencies().ravel()
    coherence = diffuse_coherence(RING, wavenumber=2 * np.pi * frequency / SPEED)
    w = beam_weights(RING, toward=aims, frequency=frequency, speed=SPEED, design=design)
    expected = diffuse_efficiency(w, coherence).reshape(3, 7, 3).mean(axis=-1)
    assert found.diffuse == pytest.approx(expected)
    assert mean_over_sphere(found.patterns) == pytest.approx(expected, rel=1e-9)
    # Quadrature by Gauss, which no table's own scaling has a part in.
    cosine, weight = np.polynomial.legendre.leggauss(120)
    for beam, octave in ((0, 3), (1, 5), (2, 1)):
        direct = round_the_axis(RING, aims[beam], cosine, design, octave)
        assert float(weight @ direct) / 2 == pytest.approx(expected[beam, octave], rel=2e-3)


def test_before_it_is_scaled_a_table_has_the_right_mean_to_a_few_hundredths() -> None:
    # Entries but that of the axis are scaled by one factor: were it far from 1, the table would be
    # right in the mean alone. Direct evaluation at 300 entries tells the factor.
    aim = tilted([0, 0, -1], tilt=0.3, azimuth=0.0)
    found = beam_tables(RING, toward=aim[None, None], design="delay-and-sum")
    entries = np.arange(5, 505)
    for octave in (1, 3, 5):
        direct = round_the_axis(RING, aim, COSINES[entries], "delay-and-sum", octave)
        ratio = found.patterns[0, entries, octave].sum() / direct.sum()
        assert ratio == pytest.approx(1.0, abs=0.02)


def test_in_a_rigid_surface_half_the_directions_are_left() -> None:
    aims = tilted([0, 0, -1], tilt=np.radians([0.0, 60.0]), azimuth=0.1)[:, None]
    free = beam_tables(RING, toward=aims, design="delay-and-sum")
    flush = beam_tables(RING, toward=aims, design="delay-and-sum", front=[0, 0, -1])
    assert flush.diffuse == pytest.approx(free.diffuse / 2)
    assert mean_over_sphere(flush.patterns) == pytest.approx(flush.diffuse)
    # Straight down everything behind the surface has a negative cosine.
    assert np.all(flush.patterns[0, : ENTRIES // 2 - 1] == 0.0)
    assert flush.patterns[0, 300:-1] == pytest.approx(free.patterns[0, 300:-1], rel=0.05)
    assert flush.white_noise_gain_db == pytest.approx(free.white_noise_gain_db)


@pytest.mark.parametrize("in_surface", [False, True])
def test_a_flat_arrays_image_serves_all_its_beams(in_surface: bool) -> None:
    # Rival: the sum over capsules, for eight turns within the 45° after which the ring repeats.
    tilt = np.radians([0.0, 25.0, 70.0])
    sides = tilted([0, 0, -1], tilt=tilt[:, None], azimuth=2 * np.pi * np.arange(8) / 64)
    slow = beam_tables(
        RING, toward=sides, design="delay-and-sum", front=[0, 0, -1] if in_surface else None
    )
    fast = round_tables(RING, normal=[0, 0, -1], tilt=tilt, in_surface=in_surface)
    assert fast.diffuse == pytest.approx(slow.diffuse, rel=0.01)
    assert fast.white_noise_gain_db == pytest.approx(10 * math.log10(8))
    spread = np.sqrt(np.mean(np.square(fast.patterns - slow.patterns), axis=(0, 1)))
    assert np.all(spread < 0.03)


def test_beams_of_one_capsule_hear_all_round() -> None:
    found = beam_tables(np.zeros((1, 3)), toward=[[[0, 0, 1.0]]], design="delay-and-sum")
    assert found.patterns == pytest.approx(np.ones((1, ENTRIES, 7)), abs=1e-6)
    assert found.white_noise_gain_db == pytest.approx(np.zeros((1, 7)), abs=1e-9)
