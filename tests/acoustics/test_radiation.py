"""Radiation of loudspeakers against closed forms, quadrature and each other."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from wellheard.acoustics.patterns import COSINES
from wellheard.acoustics.radiation import (
    diffuse,
    directivity_index_db,
    nominal_pattern,
    polar_pattern,
)
from wellheard.bands import OCTAVES

K2, K4, K8 = (OCTAVES.index(f) for f in (2000, 4000, 8000))


def level_db(table: np.ndarray, angle_deg: float, octave: int) -> float:
    at = np.interp(math.cos(math.radians(angle_deg)), COSINES, table[:, octave])
    return 10 * math.log10(float(at))


@pytest.mark.parametrize("half_space", [True, False])
@pytest.mark.parametrize("angle_deg", [60, 90, 100, 120, 140, 170])
def test_the_nominal_angle_ends_6_db_down_at_2_and_4_khz(
    angle_deg: float, half_space: bool
) -> None:
    table = nominal_pattern(angle_deg, half_space=half_space)
    assert (table[-1] == 1.0).all()
    for octave in (K2, K4):
        assert level_db(table, angle_deg / 2, octave) == pytest.approx(-6.0, abs=0.01)


@pytest.mark.parametrize("angle_deg", [60, 90, 120, 140])
def test_a_flush_lobe_follows_the_power_of_the_cosine_that_coverage_is_worked_with(
    angle_deg: float,
) -> None:
    # n = 0.6/lg(1/cos(φ/2)); the mean of cosⁿ over the sphere is 1/(2(n + 1)), by integration.
    n = 0.6 / math.log10(1 / math.cos(math.radians(angle_deg / 2)))
    table = nominal_pattern(angle_deg, half_space=True)
    for theta in (0, 15, 30, 45, 55):
        assert level_db(table, theta, K2) == pytest.approx(
            10 * n * math.log10(math.cos(math.radians(theta))), abs=0.02
        )
    assert directivity_index_db(table)[K2] == pytest.approx(10 * math.log10(2 * (n + 1)), abs=0.005)
    assert (table[COSINES < 0] == 0).all()


@pytest.mark.parametrize("angle_deg", [60, 90, 140, 220, 300])
def test_the_mean_of_a_box_is_that_of_quadrature(angle_deg: float) -> None:
    # E(θ) = ((1 + cos θ)/2)ⁿ, −6 dB at φ/2; its mean over the sphere is ½∫E sin θ dθ.
    table = nominal_pattern(angle_deg)
    n = 0.6 / math.log10(2 / (1 + math.cos(math.radians(angle_deg / 2))))
    for octave, share in zip(range(7), (1 / 256, 1 / 64, 1 / 16, 1 / 4, 1, 1, 2), strict=True):
        mean, _ = quad(
            lambda t, m=n * share: 0.5 * math.sin(t) * ((1 + math.cos(t)) / 2) ** m, 0, math.pi
        )
        assert diffuse(table)[octave] == pytest.approx(mean, rel=2e-3)


@settings(max_examples=25, deadline=None)
@given(angle_deg=st.floats(20, 360), half_space=st.booleans())
def test_a_loudspeaker_narrows_with_frequency_and_never_exceeds_its_axis(
    angle_deg: float, half_space: bool
) -> None:
    table = nominal_pattern(angle_deg, half_space=half_space)
    assert (table >= 0).all()
    assert (table <= 1.0 + 1e-12).all()
    assert (np.diff(directivity_index_db(table)) >= -1e-9).all()
    assert (np.diff(table, axis=0) >= -1e-12).all()


def test_in_the_lowest_octave_it_is_nearly_a_sphere_or_a_hemisphere() -> None:
    # A piston small against the wavelength: 0 dB free, 3.01 dB in a baffle (textbook limits).
    assert directivity_index_db(nominal_pattern(90.0))[0] == pytest.approx(0.0, abs=0.2)
    flush = nominal_pattern(90.0, half_space=True)
    assert directivity_index_db(flush)[0] == pytest.approx(3.01, abs=0.1)


def test_the_widest_angles_are_exactly_the_sphere_and_the_hemisphere() -> None:
    assert nominal_pattern(360.0) == pytest.approx(np.ones((513, 7)))
    for angle_deg in (180.0, 270.0, 360.0):
        assert diffuse(nominal_pattern(angle_deg, half_space=True)) == pytest.approx([0.5] * 7)


def test_a_narrow_lobe_widens_as_the_wavelength_does() -> None:
    # 40° at 2 kHz is 80° at 1 kHz, 6 dB down; the law keeps to it within 1 dB.
    table = nominal_pattern(40.0, half_space=True)
    assert level_db(table, 40.0, OCTAVES.index(1000)) == pytest.approx(-6.0, abs=1.0)


@pytest.mark.parametrize("angle_deg", [0.0, -90.0, 361.0, math.nan])
def test_an_angle_that_cannot_be_is_refused(angle_deg: float) -> None:
    with pytest.raises(ValueError, match="more than 0 and up to 360"):
        nominal_pattern(angle_deg)


ANGLES = (0.0, 30.0, 60.0, 90.0, 135.0, 180.0)
FALL = np.outer(ANGLES, np.linspace(0.0, -0.15, 7)) + 0.0


def test_polars_are_linear_in_db_over_the_angle() -> None:
    table = polar_pattern(ANGLES, FALL)
    for theta in (10.0, 45.0, 75.0, 100.0, 170.0):
        assert level_db(table, theta, 6) == pytest.approx(-0.15 * theta, abs=0.01)
        assert level_db(table, theta, 0) == 0.0


@pytest.mark.parametrize(("half_space", "end"), [(False, math.pi), (True, math.pi / 2)])
def test_the_mean_of_polars_is_that_of_quadrature(half_space: bool, end: float) -> None:
    found = diffuse(polar_pattern(ANGLES, FALL, half_space=half_space))
    for octave in range(7):
        slope = FALL[1, octave] / 30.0
        mean, _ = quad(
            lambda t, s=slope: 0.5 * math.sin(t) * 10 ** (s * math.degrees(t) / 10), 0, end
        )
        assert found[octave] == pytest.approx(mean, rel=1e-3)


def test_polars_drawn_from_the_law_give_its_directivity() -> None:
    # Two ways to one figure: the law itself, and its levels read off every 5°.
    law = nominal_pattern(90.0)
    angles = np.arange(0.0, 181.0, 5.0)
    read = np.array([[level_db(law, a, b) for b in range(7)] for a in angles])
    read[0] = 0.0
    assert directivity_index_db(polar_pattern(angles, read)) == pytest.approx(
        directivity_index_db(law), abs=0.05
    )


def test_behind_the_last_angle_its_level_goes_on() -> None:
    found = polar_pattern(ANGLES[:4], FALL[:4])
    for theta in (100.0, 180.0):
        assert level_db(found, theta, 6) == pytest.approx(-0.15 * 90.0)


@pytest.mark.parametrize(
    ("angles", "levels", "half_space", "says"),
    [
        ([0, 60], np.zeros((2, 7)), False, "ascend from 0° to 90–180°"),
        ([0, 60], np.zeros((2, 7)), True, "ascend from 0° to 90–180°"),
        ([0, 90, 90, 180], np.zeros((4, 7)), False, "ascend"),
        ([10, 180], np.zeros((2, 7)), False, "ascend from 0°"),
        ([0, 180], np.ones((2, 7)), False, "re the axis"),
        ([0, 180], np.zeros((2, 6)), False, "shape"),
    ],
)
def test_polars_that_tell_only_a_part_are_refused(
    angles: list[float], levels: np.ndarray, half_space: bool, says: str
) -> None:
    with pytest.raises(ValueError, match=says):
        polar_pattern(angles, levels, half_space=half_space)
