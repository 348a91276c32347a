"""The screen formula against the curve it was fitted to."""

from __future__ import annotations

import numpy as np
import pytest

from wellheard.acoustics.diffraction import diffraction_db

SPEED = 343.0


def _at(number: float) -> float:
    # Fresnel's number is twice the detour in wavelengths; at 343 Hz that is 1 m.
    return float(diffraction_db(number / 2, frequency=[343.0], speed=SPEED)[0])


@pytest.mark.parametrize(
    ("number", "loss_db", "within"),
    [
        # Maekawa's chart for a point source, as handbooks print it: 5 dB on the edge of the
        # shadow, 13 dB at N = 1, 23 dB at N = 10 [M: maekawa:1968]. The closed form stays within
        # about 1.5 dB of it (a later handbook's remark, via an open library's guide).
        (0.0, 5.0, 0.01),
        (1.0, 13.0, 0.5),
        (10.0, 23.0, 0.5),
        (100.0, 33.0, 0.5),
        # By hand: 5 + 20 lg(√(2π·0.1)/tanh √(2π·0.1)) = 5 + 20 lg(.7927/.6599) = 6.59.
        (0.1, 6.59, 0.01),
    ],
)
def test_the_closed_form_follows_the_measured_curve(
    number: float, loss_db: float, within: float
) -> None:
    assert _at(number) == pytest.approx(loss_db, abs=within)


def test_ten_times_the_frequency_is_ten_decibels_deep_in_the_shadow() -> None:
    # Large N: 5 + 10 lg 2πN, so 10 dB per decade.
    low, high = diffraction_db(3.0, frequency=[400.0, 4000.0], speed=SPEED)
    assert high - low == pytest.approx(10.0, abs=0.01)


def test_no_way_round_is_silence_and_bands_come_last() -> None:
    loss = diffraction_db(np.array([[0.0, np.inf]]), frequency=np.ones(7), speed=SPEED)
    assert loss.shape == (1, 2, 7)
    assert np.isinf(loss[0, 1]).all()
    assert loss[0, 0] == pytest.approx(5.0)


def test_a_negative_detour_is_refused() -> None:
    with pytest.raises(ValueError, match="behind a screen"):
        diffraction_db(-0.1, frequency=[500.0], speed=SPEED)
