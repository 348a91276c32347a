"""The octave filters against the mask of IEC 61260-1:2014 class 1, and what energy asks."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from wellheard.bands import OCTAVES, exact_midband
from wellheard.measurement import filters

REFERENCE: dict[str, Any] = json.loads(
    (Path(__file__).parents[1] / "reference" / "reference_values.json").read_text("utf-8")
)
MASK = REFERENCE["filters_octave_class1"]  # [L] IEC 61260-1:2014, relative attenuation
LIMITS = [
    (omega, low, np.inf if high is None else high)
    for omega, low, high in zip(MASK["omega"], MASK["min_db"], MASK["max_db"], strict=True)
]
RATES = (16000.0, 44100.0, 48000.0, 96000.0)


@pytest.fixture(scope="module", params=RATES)
def clicks(request: pytest.FixtureRequest) -> tuple[float, dict[float, Any]]:
    """A click in the middle of 0.4 s, filtered by octaves."""
    rate = float(request.param)
    click = np.zeros(round(0.4 * rate))
    click[len(click) // 2] = 1.0
    octaves = tuple(f for f in OCTAVES if filters.fits(f, rate))
    bands = filters.octave_bands(click, rate, octaves)
    return rate, dict(zip(octaves, bands, strict=True))


def test_every_octave_that_fits_keeps_the_mask_of_class_1(
    clicks: tuple[float, dict[float, Any]],
) -> None:
    # limits [L]: samples of the filter's own response, whatever it was made from
    rate, bands = clicks
    assert len(bands) == (6 if rate == 16000.0 else 7)
    for octave, band in bands.items():
        middle = exact_midband(octave)
        time = np.arange(len(band)) / rate
        for omega, low, high in LIMITS:
            for frequency in {middle * omega, middle / omega}:
                if frequency >= 0.5 * rate:
                    continue
                gain = abs(np.sum(band * np.exp(-2j * np.pi * frequency * time)))
                loss_db = -20.0 * np.log10(max(gain, 1e-9))
                assert low - 1e-3 <= loss_db <= high + 1e-3, (octave, frequency, loss_db)


def test_the_stated_response_keeps_the_mask_at_all_frequencies_between() -> None:
    # between the rows the limits of the standard run straight over lg of the frequency [L]
    for octave in OCTAVES:
        inside = np.array([row for row in LIMITS if row[0] < 1.41254])
        omega = np.geomspace(1.0, 1.4125, 200)
        high = np.interp(np.log(omega), np.log(inside[:, 0]), inside[:, 2])
        for frequency in (exact_midband(octave) * omega, exact_midband(octave) / omega):
            loss_db = -filters.response_db(frequency, octave)
            assert np.all(loss_db >= -0.4)
            assert np.all(loss_db <= high)
        outside = np.array([row for row in LIMITS if row[0] >= 1.41254])
        omega = np.geomspace(1.4126, 15.8, 400)
        low = np.interp(np.log(omega), np.log(outside[:, 0]), outside[:, 1])
        for frequency in (exact_midband(octave) * omega, exact_midband(octave) / omega):
            assert np.all(-filters.response_db(frequency, octave) >= low)


def test_mid_bands_are_exact_and_base_ten() -> None:
    # IEC 61260-1:2014 clause 5 [L]: 1000·10^(0.3 n), and edges half an octave away
    for n, octave in enumerate(OCTAVES, start=-3):
        exact = 1000.0 * 10.0 ** (0.3 * n)
        edges = exact * 10.0 ** np.array([-0.15, 0.0, 0.15])
        np.testing.assert_allclose(
            filters.response_db(edges, octave), [-3.0103, 0.0, -3.0103], atol=1e-3
        )


def test_a_click_stays_where_it_is_and_spreads_alike_to_both_sides(
    clicks: tuple[float, dict[float, Any]],
) -> None:
    rate, bands = clicks
    middle = round(0.4 * rate) // 2
    for octave, band in bands.items():
        assert np.argmax(band) == middle
        reach = round(6.0 * rate / octave)
        after, before = band[middle + 1 : middle + reach], band[middle - reach + 1 : middle][::-1]
        np.testing.assert_allclose(after, before, atol=1e-9)


def test_energies_of_neighbouring_octaves_sum_to_that_of_the_whole() -> None:
    # energy of a click between the mid-bands of the outermost octaves, by definition 2·B/rate
    rate = 48000.0
    click = np.zeros(24000)
    click[12000] = 1.0
    bands = filters.octave_bands(click, rate)
    spectra = np.square(np.abs(np.fft.rfft(bands, axis=1)))
    frequency = np.fft.rfftfreq(24000, 1.0 / rate)
    inside = (frequency > exact_midband(125.0)) & (frequency < exact_midband(8000.0))
    np.testing.assert_allclose(spectra[:, inside].sum(axis=0), 1.0, atol=2e-5)


def test_white_noise_has_three_decibels_more_in_every_next_octave() -> None:
    # bandwidth doubles, less the base-ten octave's 0.02 %: 10·lg 1.9953 = 3 dB
    energies = [filters.click_energy(f, 96000.0) for f in OCTAVES]
    np.testing.assert_allclose(np.diff(10.0 * np.log10(energies)), 3.0, atol=0.01)


def test_thinned_octaves_hold_the_same_samples() -> None:
    rng = np.random.default_rng(2)
    samples = rng.standard_normal(30000)
    whole = filters.octave_bands(samples, 48000.0)
    thin = filters.thinned_bands(samples, 48000.0, OCTAVES)
    assert [band.times for band in thin] == [16, 16, 8, 4, 2, 1, 1]
    for band, full in zip(thin, whole, strict=True):
        np.testing.assert_allclose(band.samples, full[:: band.times], atol=1e-12)


def test_an_octave_over_half_the_rate_is_refused() -> None:
    with pytest.raises(ValueError, match="16000 Hz carry no octave of 8000 Hz"):
        filters.octave_bands(np.ones(100), 16000.0)
