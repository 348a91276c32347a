"""A wall behind a microphone against limits, handbook figures and integration over directions."""

from __future__ import annotations

import math

import numpy as np
import pytest

from wellheard.acoustics.boundary import boundary_gain, diffuse_boundary_gain

SPEED = 343.0


def test_at_a_hard_wall_pressure_doubles() -> None:
    # Handbooks: +6 dB for any direction, +3 dB for a diffuse field.
    direct = boundary_gain(0.0, cosine=[1.0, 0.5, 0.1], frequency=1000.0, speed=SPEED)
    assert 10 * np.log10(direct) == pytest.approx([6.02] * 3, abs=0.005)
    diffuse = diffuse_boundary_gain(0.0, frequency=1000.0, speed=SPEED)
    assert 10 * math.log10(diffuse) == pytest.approx(3.01, abs=0.005)


def test_far_from_a_wall_energies_add() -> None:
    assert boundary_gain(20.0, cosine=0.8, frequency=4000.0, speed=SPEED) == pytest.approx(
        2.0, abs=0.02
    )
    assert diffuse_boundary_gain(20.0, frequency=4000.0, speed=SPEED) == pytest.approx(
        1.0, abs=1e-3
    )


def test_the_first_dip_lies_a_quarter_wavelength_out_and_a_soft_wall_fills_it() -> None:
    # Textbook: cancellation at d = λ/4; here an octave wide, so shallow. 0.1715 m at 500 Hz.
    near = np.linspace(0.01, 0.3, 59)
    gain = boundary_gain(near, cosine=1.0, frequency=500.0, speed=SPEED)
    assert near[np.argmin(gain)] == pytest.approx(SPEED / 500.0 / 4, abs=0.02)
    assert gain.min() < 1.0
    soft = boundary_gain(near, cosine=1.0, frequency=500.0, speed=SPEED, reflection=0.3)
    assert soft.min() > gain.min()
    assert soft.max() < (1 + 0.3) ** 2 + 1e-9
    assert boundary_gain(0.1, cosine=1.0, frequency=500.0, speed=SPEED, reflection=0.0) == 1.0


@pytest.mark.parametrize("distance", [0.01, 0.05, 0.1715, 0.4])
@pytest.mark.parametrize("frequency", [125.0, 1000.0, 4000.0])
def test_the_diffuse_gain_is_the_mean_of_all_directions(distance: float, frequency: float) -> None:
    # Rival: the direct formula over the half sphere in front, at half weight: behind is the wall,
    # so that of the free field's directions only half is left.
    cosine, weight = np.polynomial.legendre.leggauss(200)
    inward = (cosine + 1) / 2
    direct = boundary_gain(distance, cosine=inward, frequency=frequency, speed=SPEED)
    mean = float((weight / 2) @ direct)
    found = diffuse_boundary_gain(distance, frequency=frequency, speed=SPEED)
    assert found == pytest.approx(mean / 2, rel=5e-5)


def test_adding_energies_has_the_right_ratio_at_both_ends() -> None:
    # 4/2 at the wall and 2/1 far from it are the 2/1 of an engine that adds energies.
    for distance, frequency in ((0.02, 250.0), (0.05, 125.0), (3.0, 2000.0)):
        direct = boundary_gain(distance, cosine=1.0, frequency=frequency, speed=SPEED)
        diffuse = diffuse_boundary_gain(distance, frequency=frequency, speed=SPEED)
        assert direct / diffuse == pytest.approx(2.0, rel=0.05)


def test_between_the_ends_an_octave_is_weaker_by_8_db_at_the_most() -> None:
    distance = np.linspace(0.0, 0.5, 500)[:, None]
    frequency = np.array([125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0])
    direct = boundary_gain(distance, cosine=1.0, frequency=frequency, speed=SPEED)
    diffuse = diffuse_boundary_gain(distance, frequency=frequency, speed=SPEED)
    off_db = 10 * np.log10(direct / diffuse / 2.0)
    assert -8.5 < off_db.min() < -7.5  # as the docstring says
    assert off_db.max() < 2.0
