"""Impulse responses from recorded sweeps: known taps come back, whatever the recorder did.

Recordings are made by convolution; what comes out is known before, or by a closed form.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.oracle.echoes import played
from tests.oracle.recordings import at_another_rate, between_samples, by_another_clock
from wellheard.arrays import Array
from wellheard.measurement.arrivals import arrival
from wellheard.measurement.deconvolution import deconvolve
from wellheard.measurement.filters import octave_bands
from wellheard.measurement.results import ImpulseResponse
from wellheard.measurement.session import SweepSignal
from wellheard.measurement.signals import growth_time, sweep

RATE = 48000.0
SIGNAL = SweepSignal(seconds=4.0, silence=0.5)
SHORT = SweepSignal(seconds=1.2, silence=0.4)
LONG = SweepSignal(seconds=10.0, silence=0.3)
REPEATED = SweepSignal(seconds=1.2, silence=0.4, repeats=3)


def taps(**gains: float) -> Array:
    """Samples of a response, such as at_100=1.0."""
    response = np.zeros(1400)
    for name, gain in gains.items():
        response[int(name.removeprefix("at_"))] = gain
    return response


TWO = taps(at_100=1.0, at_1300=-0.5)


def heard(signal: SweepSignal, response: Array, before: float = 0.1, after: float = 0.1) -> Array:
    """Recording that starts and ends some time around what is played."""
    ends = round(before * signal.rate), round(after * signal.rate)
    return played(np.pad(sweep(signal), ends), response)


def peak_at(found: ImpulseResponse) -> int:
    return int(np.argmax(np.abs(found.samples)))


@pytest.fixture(scope="module")
def unit() -> float:
    """Highest sample of a click as the band of the sweep leaves it."""
    found = deconvolve(heard(SIGNAL, taps(at_100=1.0)), SIGNAL, RATE)
    return float(found.samples[peak_at(found)])


def test_known_taps_come_back_with_sign_and_distance(unit: float) -> None:
    # a round trip computed independently [L]: 4 s from 50 Hz to 20 kHz, +1 at 100 and −0.5 at
    # 1300 give +1.0003 and −0.5006
    found = deconvolve(heard(SIGNAL, TWO), SIGNAL, RATE)
    first = peak_at(found)
    assert found.samples[first] / unit == pytest.approx(1.0003, abs=1e-3)
    assert found.samples[first + 1200] / unit == pytest.approx(-0.5006, abs=1e-3)
    assert found.faults == ()
    # 20 kHz less its faded edge, of 24 kHz
    assert unit == pytest.approx(0.74, abs=0.02)


def test_a_loop_back_tells_delay_and_sign_whatever_the_interface_adds() -> None:
    # 100 samples later than the loop-back, and an input that turns the sign of both channels
    for before in (0.0, 0.37):
        electric = heard(SIGNAL, taps(at_0=-0.1), before)
        acoustic = heard(SIGNAL, taps(at_100=-0.02, at_1300=0.01), before)
        found = deconvolve(acoustic, SIGNAL, RATE, played=electric)
        came = arrival(found)
        assert found.absolute
        assert came.delay == pytest.approx(100 / RATE, abs=2.1 / RATE)
        assert came.polarity == 1
        assert came.distance(343.0) == pytest.approx(0.715, abs=0.015)
        assert arrival(deconvolve(-acoustic, SIGNAL, RATE, played=electric)).polarity == -1
        assert found.drift_ppm == pytest.approx(0.0, abs=1.0)


def test_without_a_loop_back_no_delay_is_told() -> None:
    found = deconvolve(heard(SIGNAL, TWO), SIGNAL, RATE)
    assert not found.absolute
    assert arrival(found).delay is None
    assert 0 < peak_at(found) - found.zero <= 0.002 * RATE


def test_harmonics_come_before_the_direct_sound_by_their_own_time_and_are_cut() -> None:
    # harmonic n is L·ln n early (Farina 2000); here a square and a cube of the played signal
    clean = sweep(SIGNAL)
    level = np.abs(clean).max()
    bent = clean + 0.1 * clean**2 / level + 0.1 * clean**3 / level**2
    recording = np.pad(bent, (4800, 4800))
    found = deconvolve(recording, SIGNAL, RATE)
    assert growth_time(SIGNAL) * np.log(2.0) > 0.4
    # what is left before is by far below the harmonics, −26 and −32 dB re the direct sound
    before = found.samples[: peak_at(found) - round(0.01 * RATE)]
    assert 20.0 * np.log10(np.abs(before).max() / np.abs(found.samples).max()) < -60.0
    after = found.samples[peak_at(found) + round(0.01 * RATE) :]
    assert 20.0 * np.log10(np.abs(after).max() / np.abs(found.samples).max()) < -60.0


@pytest.mark.parametrize("rate", [16000.0, 44100.0, 96000.0])
def test_the_recorder_may_have_another_rate_than_the_player(rate: float) -> None:
    recording = at_another_rate(heard(SHORT, TWO), RATE, rate)
    found = deconvolve(recording, SHORT, rate)
    fine = between_samples(found.samples)
    first = int(np.argmax(fine))
    later = fine[first + round(8 * 1200 * rate / RATE)]
    assert later / fine[first] == pytest.approx(-0.5, abs=0.01)
    assert found.covers is not None
    assert found.covers[1] == pytest.approx(min(20000.0, 0.5 * rate) / 2 ** (1 / 3), rel=1e-6)
    assert found.faults == ()


def test_nothing_beyond_the_sweep_is_amplified() -> None:
    # noise of the same power at all frequencies beside a sweep from 200 Hz to 5 kHz
    narrow = SweepSignal(from_hz=200.0, to_hz=5000.0, seconds=1.5, silence=0.5)
    rng = np.random.default_rng(1)
    recording = heard(narrow, taps(at_100=1.0))
    recording += 0.003 * rng.standard_normal(len(recording))
    found = deconvolve(recording, narrow, RATE)
    spectrum = np.square(np.abs(np.fft.rfft(found.samples)))
    frequency = np.fft.rfftfreq(len(found.samples), 1.0 / RATE)
    inside = spectrum[(frequency > 300.0) & (frequency < 3900.0)].mean()
    outside = spectrum[(frequency < 190.0) | (frequency > 5200.0)]
    assert outside.max() < 1e-6 * inside
    assert found.covers == pytest.approx((252.0, 3969.0), rel=1e-3)


@pytest.mark.parametrize("late", [0.1, 0.3])
def test_a_late_start_costs_the_low_octaves_only(late: float) -> None:
    # the sweep passes f at L·ln(f/f1); a third of an octave more is faded in
    lowest = 50.0 * np.exp(late / growth_time(SHORT)) * 2 ** (1 / 3)
    recording = heard(SHORT, TWO, before=0.0)[round(late * RATE) :]
    found = deconvolve(recording, SHORT, RATE)
    assert found.covers is not None
    assert found.covers[0] == pytest.approx(lowest, rel=0.02)
    first = peak_at(found)
    part = octave_bands(found.samples, RATE, (4000.0,))[0]
    assert part[first + 1200] / part[first] == pytest.approx(-0.5, abs=0.01)


def test_repeats_are_averaged_and_gain_ten_lg_n() -> None:
    # ISO 18233 [L]: signal over noise gains 10·lg n
    noise = {}
    for signal in (SHORT, REPEATED):
        levels = []
        for seed in range(3):
            recording = heard(signal, TWO)
            recording += 0.02 * np.random.default_rng(seed).standard_normal(len(recording))
            found = deconvolve(recording, signal, RATE)
            quiet = found.samples[peak_at(found) + 3000 : peak_at(found) + 15000]
            levels.append(np.square(quiet / np.abs(found.samples).max()).mean())
        noise[signal.repeats] = 10.0 * np.log10(np.mean(levels))
    assert noise[1] - noise[3] == pytest.approx(10.0 * np.log10(3.0), abs=0.7)


def octave_peaks(found: ImpulseResponse) -> Array:
    near = found.samples[peak_at(found) - 500 : peak_at(found) + 500]
    bands = octave_bands(near, RATE, (4000.0, 8000.0))
    return np.array([np.abs(between_samples(band)).max() for band in bands])


@pytest.fixture(scope="module")
def steady() -> Array:
    """Highest samples at 4 and 8 kHz, of one clock."""
    return octave_peaks(deconvolve(heard(REPEATED, TWO), REPEATED, RATE))


@pytest.mark.parametrize("ppm", [-100.0, 40.0, 100.0])
def test_drift_between_clocks_is_found_from_repeats_and_taken_back(
    ppm: float, steady: Array
) -> None:
    recording = by_another_clock(heard(REPEATED, TWO), ppm)
    found = deconvolve(recording, REPEATED, RATE)
    assert found.drift_ppm == pytest.approx(ppm, abs=1.0)
    np.testing.assert_allclose(octave_peaks(found), steady, rtol=0.01)
    (fault,) = found.faults
    assert fault.code == "drift"
    assert f"{abs(ppm):.0f} ppm {'faster' if ppm > 0 else 'slower'}" in fault.message


def test_drift_that_is_not_taken_back_would_cost_the_mean_its_treble(steady: Array) -> None:
    # by hand: three repeats 1.6 s apart, 100 ppm: 0.16 ms each, which is 230° at 4 kHz
    recording = by_another_clock(heard(REPEATED, TWO), 100.0)
    one = deconvolve(recording, SHORT.model_copy(update={"silence": 0.4}), RATE)
    step = round((1.2 + 0.4) * RATE)
    parts = [np.roll(recording, -k * step)[: len(heard(SHORT, TWO))] for k in range(3)]
    blind = deconvolve(np.mean(parts, axis=0), SHORT, RATE)
    assert octave_peaks(blind)[0] < 0.6 * steady[0]
    np.testing.assert_allclose(octave_peaks(one), steady, rtol=0.06)


@pytest.mark.parametrize("ppm", [-100.0, 15.0, 100.0])
def test_drift_is_found_from_a_loop_back(ppm: float) -> None:
    electric, acoustic = (
        by_another_clock(heard(SHORT, response), ppm) for response in (taps(at_0=1.0), TWO)
    )
    found = deconvolve(acoustic, SHORT, RATE, played=electric)
    assert found.drift_ppm == pytest.approx(ppm, abs=3.0)
    # between samples a click rings: its first sample within 20 dB is up to three earlier
    assert arrival(found).delay == pytest.approx(100 / RATE, abs=3.1 / RATE)


@pytest.mark.parametrize("ppm", [-100.0, 100.0])
def test_drift_of_one_long_sweep_is_found_by_how_sharp_the_direct_sound_is(ppm: float) -> None:
    recording = heard(LONG, TWO)
    sharp = octave_peaks(deconvolve(recording, LONG, RATE))
    found = deconvolve(by_another_clock(recording, ppm), LONG, RATE)
    assert found.drift_ppm == pytest.approx(ppm, abs=5.0)
    np.testing.assert_allclose(octave_peaks(found), sharp, rtol=0.01)


def test_a_crossover_alone_is_not_taken_for_drift() -> None:
    # a two-way loudspeaker of fourth order at 2.5 kHz sums to an all-pass of second order:
    # its delays are its own, by the closed form (s² − s/q + 1)/(s² + s/q + 1), q = 1/√2
    length = 1 << 19
    s = 1j * np.fft.rfftfreq(length, 1.0 / RATE) / 2500.0
    passed = (s * s - np.sqrt(2.0) * s + 1.0) / (s * s + np.sqrt(2.0) * s + 1.0)
    recording = heard(LONG, TWO)
    spectrum = np.fft.rfft(recording, length)
    bent = np.fft.irfft(spectrum * passed, length)[: len(recording)]
    found = deconvolve(bent, LONG, RATE)
    assert found.drift_ppm is None
    assert found.faults == ()


def test_what_holds_no_sweep_is_refused() -> None:
    noise = 0.1 * np.random.default_rng(3).standard_normal(round(2.0 * RATE))
    for recording in (noise, np.zeros(48000), np.sin(np.arange(96000) * 0.3)):
        found = deconvolve(recording, SHORT, RATE)
        assert [fault.code for fault in found.faults] == ["no-sweep"]
        assert found.faults[0].severity == "error"


@pytest.mark.parametrize(
    "other",
    [
        SweepSignal(seconds=4.0, silence=0.5, from_hz=20.0),
        SweepSignal(seconds=4.6, silence=0.5),
        SweepSignal(seconds=4.0, silence=0.5, to_hz=12000.0),
    ],
    ids=["from 20 Hz", "4.6 s", "to 12 kHz"],
)
def test_another_sweep_than_the_session_says_is_refused(other: SweepSignal) -> None:
    found = deconvolve(heard(other, TWO), SIGNAL, RATE)
    assert found.faults[0].code in ("no-sweep", "other-sweep")
    assert found.faults[0].severity == "error"


def test_a_recording_that_stops_with_the_sweep_is_refused() -> None:
    recording = heard(SHORT, TWO)[: round((0.1 + 1.2) * RATE) + 1000]
    found = deconvolve(recording, SHORT, RATE)
    assert [fault.code for fault in found.faults] == ["short-tail"]


def test_a_loop_back_without_the_sweep_is_refused() -> None:
    recording = heard(SHORT, TWO)
    found = deconvolve(recording, SHORT, RATE, played=np.zeros(len(recording)))
    assert [fault.code for fault in found.faults] == ["no-loopback"]
