"""Means over places against ISO 3382-2 and sums worked by hand."""

from __future__ import annotations

import math

import pytest

from wellheard.bands import OCTAVES
from wellheard.measurement.averages import (
    deviation_of_t20,
    deviation_of_t30,
    mean_of_levels,
    spatial_mean_t20,
    spatial_mean_t30,
    uniformity_db,
)
from wellheard.measurement.results import Decay

# ISO 3382-2:2008, clause 7: mean [s], octave [Hz], T20 and T30 for 2, 6 and 12 places; the table of
# an open toolbox's constants, each integrated response worth ten decays [L].
DEVIATIONS = [
    (0.5, 125.0, (0.0509, 0.0294, 0.0208), (0.0313, 0.0181, 0.0128)),
    (0.5, 500.0, (0.0255, 0.0147, 0.0104), (0.0157, 0.0090, 0.0064)),
    (0.5, 1000.0, (0.0180, 0.0104, 0.0074), (0.0111, 0.0064, 0.0045)),
    (1.0, 1000.0, (0.0255, 0.0147, 0.0104), (0.0157, 0.0090, 0.0064)),
]


@pytest.mark.parametrize(("mean", "octave", "t20", "t30"), DEVIATIONS)
def test_the_deviation_is_that_of_iso_3382_2(
    mean: float, octave: float, t20: tuple[float, ...], t30: tuple[float, ...]
) -> None:
    for places, of_t20, of_t30 in zip((2, 6, 12), t20, t30, strict=True):
        found = deviation_of_t20(mean, octave=octave, places=places)
        assert found == pytest.approx(of_t20, abs=0.00006)
        found = deviation_of_t30(mean, octave=octave, places=places)
        assert found == pytest.approx(of_t30, abs=0.00006)


def decays(t20: float | None, t30: float | None) -> list[Decay]:
    return [Decay(f, None, t20, t30, 50.0, None, None, None, None, None) for f in OCTAVES]


def test_the_mean_is_arithmetic_and_counts_only_places_with_a_value() -> None:
    places = [decays(0.4, 0.5), decays(0.6, None), decays(0.8, 0.9), decays(None, None)]
    mean = spatial_mean_t20(places)
    assert mean.values == pytest.approx([0.6] * 7)  # (0.4 + 0.6 + 0.8)/3
    assert mean.count == (3,) * 7
    # by hand: 0.88 × 0.6 × √(1.19/(3 × 0.71 × 1000 × 0.6))
    assert mean.sigma[3] == pytest.approx(0.01611, abs=0.00001)
    other = spatial_mean_t30(places)
    assert other.values == pytest.approx([0.7] * 7)
    assert other.count == (2,) * 7


def test_one_place_is_no_mean() -> None:
    mean = spatial_mean_t20([decays(0.5, 0.5), decays(None, 0.5)])
    assert mean.values == (None,) * 7
    assert mean.sigma == (None,) * 7
    assert "record at more places" in mean.how
    assert spatial_mean_t30([]).count == (0,) * 7


@pytest.mark.parametrize(
    ("places", "grade"), [(2, "survey"), (5, "survey"), (6, "engineering"), (12, "precision")]
)
def test_how_many_places_make_which_grade(places: int, grade: str) -> None:
    # ISO 3382-2:2008, 4.3.1, Table 1 [L]
    assert grade in spatial_mean_t20([decays(0.5, 0.5)] * places).how


def test_levels_are_averaged_by_energy() -> None:
    # by hand: 10 lg((10^5 + 10^4)/2) = 47.404 dB
    mean, sigma = mean_of_levels([50.0, 40.0])
    assert mean == pytest.approx(47.404, abs=0.0005)
    # s of the energies 1.818 and 0.182 is 1.157; over √2, times 4.343 dB
    assert sigma == pytest.approx(3.553, abs=0.001)
    assert mean_of_levels([60.0]) == (60.0, None)
    assert mean_of_levels([60.0, 60.0, 60.0])[1] == pytest.approx(0.0)


def test_uniformity_is_the_loudest_less_the_quietest() -> None:
    levels = {"s1": 66.0, "s2": 63.5, "s3": 67.5}
    span, sigma = uniformity_db(levels, {"s1": 9.0, "s2": 0.3, "s3": 0.4})
    assert span == pytest.approx(4.0)
    assert sigma == pytest.approx(0.5)  # √(0.3² + 0.4²)
    assert uniformity_db(levels)[1] == pytest.approx(0.5 * math.sqrt(2.0))
    with pytest.raises(ValueError, match="two levels"):
        uniformity_db({"s1": 66.0})
