"""Test signals against their formulas, the octave table of the standard, and plain spectra."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from wellheard.arrays import Array
from wellheard.bands import EXACT_OCTAVES
from wellheard.errors import InputError
from wellheard.measurement import signals
from wellheard.measurement.session import SweepSignal

RATE = 48000.0

# Novak, Lotton, Simon 2015, equations 47 to 49: f1, f2 and T wanted, then L and T that they give
# [L worked out by hand from L = round(f1·T/ln(f2/f1))/f1 and T = L·ln(f2/f1)].
SYNCHRONIZED = [
    (20.0, 20000.0, 10.0, 1.45000, 10.01625),
    (50.0, 16000.0, 5.0, 0.86000, 4.96076),
    (100.0, 8000.0, 3.0, 0.68000, 2.97978),
]


def octave_levels_db(samples: Array, rate: float, octaves: tuple[float, ...]) -> Array:
    """Energy between the edges of octaves, of one plain transform of all samples."""
    power = np.abs(np.fft.rfft(samples)) ** 2
    frequency = np.fft.rfftfreq(len(samples), 1.0 / rate)
    half = 10.0**0.15
    return np.array(
        [
            10 * np.log10(power[(frequency >= f / half) & (frequency < f * half)].sum())
            for f in octaves
        ]
    )


@cache
def pink() -> Array:
    return signals.pink_noise(5.0, RATE, level_dbfs=-18.0, seed=7)


@cache
def speech() -> Array:
    return signals.speech_noise(5.0, RATE, level_dbfs=-20.0, seed=7)


@pytest.mark.parametrize(("low", "high", "wanted", "growth", "seconds"), SYNCHRONIZED)
def test_a_sweep_is_as_long_as_its_harmonics_need(
    low: float, high: float, wanted: float, growth: float, seconds: float
) -> None:
    signal = SweepSignal(from_hz=low, to_hz=high, seconds=wanted)
    assert signals.growth_time(signal) == pytest.approx(growth, abs=5e-6)
    assert signals.sweep_seconds(signal) == pytest.approx(seconds, abs=5e-6)
    assert low * signals.growth_time(signal) == pytest.approx(round(low * growth))


def test_the_frequency_of_a_sweep_rises_exponentially() -> None:
    signal = SweepSignal(from_hz=50, to_hz=16000, seconds=5, fade=0.0, level_dbfs=0.0)
    samples = signals.one_sweep(signal)
    growth = signals.growth_time(signal)
    for at in (1.0, 2.0, 3.0):
        begin = round(at * RATE)
        piece = samples[begin : begin + 9600]
        # Zeros upwards, counted: whole periods over the time that they take.
        zeros = np.nonzero((piece[:-1] < 0) & (piece[1:] >= 0))[0]
        counted = (len(zeros) - 1) / ((zeros[-1] - zeros[0]) / RATE)
        first, last = (begin + zeros[0]) / RATE, (begin + zeros[-1]) / RATE
        turns = 50.0 * growth * (np.exp(last / growth) - np.exp(first / growth))
        assert counted == pytest.approx(turns / (last - first), rel=2e-3)


def test_a_harmonic_of_a_sweep_is_the_sweep_itself_earlier_and_in_phase() -> None:
    # What synchronized means: x(t + L·ln 2) has twice the phase of x(t), without a remainder.
    signal = SweepSignal(from_hz=50, to_hz=20000, seconds=4, fade=0.0, level_dbfs=0.0, rate=96000)
    growth = signals.growth_time(signal)
    time = np.arange(1, 100) * 0.01
    phase = 2 * np.pi * 50.0 * growth * np.exp(time / growth)
    samples = signals.one_sweep(signal)
    later = np.interp(time + growth * np.log(2.0), np.arange(len(samples)) / 96000, samples)
    np.testing.assert_allclose(later, np.sin(2 * phase), atol=0.02)


def test_repeats_are_alike_and_silence_is_silent() -> None:
    signal = SweepSignal(seconds=0.5, silence=0.25, repeats=3, rate=16000, to_hz=7000)
    played = signals.sweep(signal).reshape(3, signals.period_samples(signal))
    np.testing.assert_array_equal(played[0], played[1])
    np.testing.assert_array_equal(played[0], played[2])
    length = len(signals.one_sweep(signal))
    assert not played[0][length:].any()
    assert played.shape[1] - length == 4000


def test_a_sweep_keeps_its_level_and_fades_in_and_out() -> None:
    signal = SweepSignal(seconds=1.0, fade=0.05, level_dbfs=-6.0)
    samples = signals.one_sweep(signal)
    assert np.abs(samples).max() == pytest.approx(10 ** (-6 / 20), rel=1e-3)
    fade = round(0.05 * RATE)
    # A raised cosine is ¼ − 1/(2√2)·… small at a tenth of itself: (1 − cos 18°)/2 = 0.0245.
    for end in (samples[:fade], samples[::-1][:fade]):
        assert np.abs(end[: fade // 10]).max() <= 0.0245 * 10 ** (-6 / 20)
        assert np.abs(end[0]) < 1e-4


def test_pink_noise_has_the_same_energy_in_every_octave() -> None:
    # That is −3 dB per octave of spectral density [C], seen from 31.5 Hz to 16 kHz.
    octaves = tuple(1000.0 * 10 ** (0.3 * n) for n in range(-5, 4))
    levels = octave_levels_db(pink(), RATE, octaves)
    np.testing.assert_allclose(levels, levels.mean(), atol=0.1)
    density = levels - 10 * np.log10(octaves)
    slope = np.polyfit(np.log2(octaves), density, 1)[0]
    assert slope == pytest.approx(-10 * np.log10(2.0), abs=0.01)


def test_pink_noise_has_nothing_below_what_is_heard() -> None:
    power = np.abs(np.fft.rfft(pink())) ** 2
    frequency = np.fft.rfftfreq(len(pink()), 1 / RATE)
    assert power[frequency < 15].sum() < 1e-4 * power.sum()


def test_speech_noise_has_the_octaves_of_the_male_spectrum() -> None:
    # IEC 60268-16:2020, A.6.1, re the 500 Hz octave [L via an open library].
    table = np.array([-2.5, 0.5, 0.0, -6.0, -12.0, -18.0, -24.0])
    levels = octave_levels_db(speech(), RATE, EXACT_OCTAVES)
    np.testing.assert_allclose(levels - levels[2], table, atol=0.1)


def test_speech_noise_has_nothing_outside_its_octaves() -> None:
    outside = octave_levels_db(speech(), RATE, (31.6, 15849.0))
    assert (outside < octave_levels_db(speech(), RATE, (1000.0,)) - 40).all()


def test_speech_noise_has_no_steps_at_the_edges_of_octaves() -> None:
    # Across an edge a step would be 3 to 6 dB; a slope of the spectrum is under 0.5 dB in 1/12.
    for middle in EXACT_OCTAVES[:-1]:
        edge = middle * 10.0**0.15
        low, high = edge * 2 ** (-1 / 12), edge * 2 ** (1 / 12)
        power = np.abs(np.fft.rfft(speech())) ** 2
        frequency = np.fft.rfftfreq(len(speech()), 1 / RATE)
        under = power[(frequency >= low) & (frequency < edge)].sum()
        over = power[(frequency >= edge) & (frequency < high)].sum()
        assert abs(10 * np.log10(under / over)) < 1.0


def test_octaves_that_a_low_rate_cannot_carry_are_missing_and_the_others_right() -> None:
    narrow = signals.speech_noise(2.0, 16000.0, level_dbfs=-20.0, seed=1)
    levels = octave_levels_db(narrow, 16000.0, EXACT_OCTAVES)
    np.testing.assert_allclose(
        levels[:6] - levels[2], [-2.5, 0.5, 0.0, -6.0, -12.0, -18.0], atol=0.1
    )
    assert levels[6] < levels[2] - 60


@pytest.mark.parametrize("make", [signals.pink_noise, signals.speech_noise])
def test_noise_has_its_level_is_random_and_the_same_for_the_same_seed(make: object) -> None:
    assert callable(make)
    first = make(2.0, 16000.0, level_dbfs=-20.0, seed=1)
    steady = first[1600:-1600]
    assert 20 * np.log10(np.sqrt(np.mean(steady**2))) == pytest.approx(-20.0, abs=0.2)
    # Gaussian: kurtosis 3, of which the deviation is √(24/n) for n values that are independent.
    assert np.mean(steady**4) / np.mean(steady**2) ** 2 == pytest.approx(3.0, abs=0.4)
    np.testing.assert_array_equal(first, make(2.0, 16000.0, level_dbfs=-20.0, seed=1))
    other = make(2.0, 16000.0, level_dbfs=-20.0, seed=2)
    assert abs(np.corrcoef(first, other)[0, 1]) < 0.1


def test_long_noise_goes_on_without_a_seam() -> None:
    long = signals.pink_noise(60.0, 48000.0, level_dbfs=-20.0, seed=3)
    seam = 1 << 21
    steps = np.abs(np.diff(long))
    assert steps[seam - 1] < np.quantile(steps[1000:100000], 0.9999)
    assert len(long) == 60 * 48000


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: signals.pink_noise(601, 8000.0, level_dbfs=-20, seed=0), "at most 600 s"),
        (lambda: signals.speech_noise(0.1, 8000.0, level_dbfs=-20, seed=0), "1 s at least"),
        (lambda: signals.speech_noise(2.0, 8000.0, level_dbfs=-3, seed=0), "at most -"),
        (lambda: signals.sweep(SweepSignal(seconds=100, repeats=7)), "at most 600 s"),
        (lambda: signals.sweep(SweepSignal(seconds=120, repeats=4, rate=192000)), "64,000,000"),
    ],
)
def test_signals_that_cannot_be_are_refused_with_what_is_allowed(make: object, said: str) -> None:
    assert callable(make)
    with pytest.raises(InputError, match=said):
        make()
