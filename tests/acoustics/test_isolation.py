"""Sound through walls, against the published contour, worked examples and closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from wellheard.acoustics.isolation import (
    contour_reduction_db,
    level_difference_db,
    privacy_margin_db,
)

# ASTM E413 reference contour of class 50 by third octave, as an open rating library has it [L].
CONTOUR_50 = {
    125: 34,
    160: 37,
    200: 40,
    250: 43,
    315: 46,
    400: 49,
    500: 50,
    630: 51,
    800: 52,
    1000: 53,
    1250: 54,
    1600: 54,
    2000: 54,
    2500: 54,
    3150: 54,
    4000: 54,
}


def _transmission_class(reduction_db: dict[int, float]) -> int:
    """Class after the rule of ASTM E413: 32 dB of deficiencies, 8 dB in any third octave [L]."""
    best = 0
    for number in range(1, 90):
        lacking = [
            max(0.0, contour - 50 + number - reduction_db[third])
            for third, contour in CONTOUR_50.items()
        ]
        if max(lacking) <= 8 and sum(lacking) <= 32:
            best = number
    return best


def test_octaves_of_a_class_are_those_of_the_contour() -> None:
    octaves = contour_reduction_db(50.0)
    assert list(octaves[:6]) == [CONTOUR_50[f] for f in (125, 250, 500, 1000, 2000, 4000)]


def test_every_octave_lets_through_what_its_third_octaves_do() -> None:
    octaves = contour_reduction_db(50.0)
    for i, thirds in enumerate([(200, 250, 315), (400, 500, 630), (800, 1000, 1250)], start=1):
        through = np.mean([10 ** (-CONTOUR_50[third] / 10) for third in thirds])
        assert octaves[i] == pytest.approx(-10 * np.log10(through), abs=0.7)


def test_a_wall_on_the_contour_may_be_rated_two_decibels_better_than_it_is() -> None:
    assert _transmission_class({third: level for third, level in CONTOUR_50.items()}) == 52


# Open worked examples of the sound reduction index [L]: 80 and 50 dB, 10 m² and 5 m²; 90 and
# 60 dB, 20 m² and 10 m²: R = 33.01 dB both times. A = S: the difference is the reduction.
@pytest.mark.parametrize(
    ("reduction_db", "area", "absorption_area", "difference_db"),
    [(33.0103, 10.0, 5.0, 30.0), (33.0103, 20.0, 10.0, 30.0), (45.0, 12.0, 12.0, 45.0)],
)
def test_level_difference_is_that_of_the_worked_examples(
    reduction_db: float, area: float, absorption_area: float, difference_db: float
) -> None:
    found = level_difference_db(reduction_db, area=area, absorption_area=absorption_area)
    assert found == pytest.approx(difference_db, abs=1e-4)


def test_twice_the_wall_lets_through_three_decibels_more() -> None:
    one = level_difference_db(40.0, area=10.0, absorption_area=20.0)
    two = level_difference_db(40.0, area=20.0, absorption_area=20.0)
    assert one - two == pytest.approx(3.01, abs=0.005)


def test_margin_is_the_plain_mean_of_five_octaves() -> None:
    noise = [0.0, 41.0, 35.0, 32.0, 29.0, 28.0, 0.0]
    speech = [99.0, 31.0, 25.0, 22.0, 19.0, 18.0, 99.0]
    assert privacy_margin_db(speech, noise_db=noise) == pytest.approx(10.0)


def test_what_is_inaudible_in_one_octave_does_not_hide_what_is_heard_in_another() -> None:
    noise = np.full(7, 30.0)
    low = np.array([30.0, 30.0, 30.0, 30.0, 30.0, -60.0, -60.0])
    assert privacy_margin_db(low, noise_db=noise) == pytest.approx(32.0 / 5)


def test_a_class_better_is_a_decibel_of_margin_while_all_is_audible() -> None:
    speech = np.array([50.0, 55.0, 58.0, 52.0, 47.0, 42.0, 37.0])
    noise = np.full(7, 25.0)
    margins = [
        privacy_margin_db(speech - contour_reduction_db(c), noise_db=noise) for c in (30, 31)
    ]
    assert margins[1] - margins[0] == pytest.approx(1.0)
