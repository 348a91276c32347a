"""The loop from microphone to loudspeaker: closed forms, roots of closed loops, drawn rooms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wellheard.acoustics.acoustic_gain import potential_gain_db
from wellheard.acoustics.loop import (
    OCTAVE_BANDWIDTH,
    loop_gain_db,
    octave_margin_db,
    open_loop,
    peak_excess_db,
    peak_spread_db,
    taps_response,
)
from wellheard.arrays import Array
from wellheard.bands import EXACT_OCTAVES


def drawn_peaks_db(
    frequency: float, time: float, ratio: float, *, rooms: int, seed: int
) -> tuple[Array, Array]:
    """Highest peak and mean over an octave of rooms drawn as decays of white noise. [dB]

    Energies are told re that which is expected, direct sound and reverberation together.
    """
    rng = np.random.default_rng(seed)
    rate = 4.0 * frequency
    samples = math.ceil(1.2 * time * rate)
    points = 1 << math.ceil(math.log2(8 * samples))
    t = np.arange(samples) / rate
    envelope = np.exp(-math.log(1000.0) * t / time)
    envelope /= math.sqrt(np.sum(envelope**2))
    axis = np.fft.rfftfreq(points, 1.0 / rate)
    inside = (axis > frequency / math.sqrt(2.0)) & (axis < frequency * math.sqrt(2.0))
    peaks, means = np.empty(rooms), np.empty(rooms)
    for room in range(rooms):
        response = rng.normal(size=samples) * envelope
        response[0] += math.sqrt(ratio)
        power = np.abs(np.fft.rfft(response, points)[inside]) ** 2 / (1.0 + ratio)
        peaks[room], means[room] = 10.0 * np.log10([power.max(), power.mean()])
    return peaks, means


CASES = [
    (125.0, 0.4, 0.0),
    (125.0, 1.0, 0.5),
    (250.0, 0.6, 2.0),
    (500.0, 0.3, 0.0),
    (500.0, 0.8, 1.0),
    (1000.0, 0.3, 4.0),
    (1000.0, 0.5, 0.0),
    (2000.0, 0.4, 0.3),
    (2000.0, 0.4, 30.0),
    (4000.0, 0.5, 0.0),
]


@pytest.mark.parametrize(("frequency", "time", "ratio"), CASES)
def test_peaks_stand_over_the_mean_as_in_drawn_rooms(
    frequency: float, time: float, ratio: float
) -> None:
    # independent: rooms drawn as white noise under an exponential decay, with a direct sound
    peaks, _ = drawn_peaks_db(frequency, time, ratio, rooms=120, seed=int(frequency))
    found = peak_excess_db(
        bandwidth=frequency / math.sqrt(2.0), reverberation_time=time, direct_to_reverberant=ratio
    )
    assert np.mean(peaks) == pytest.approx(float(found), abs=0.35)
    spread = peak_spread_db(
        bandwidth=frequency / math.sqrt(2.0), reverberation_time=time, direct_to_reverberant=ratio
    )
    assert np.std(peaks) == pytest.approx(float(spread), rel=0.25)


@pytest.mark.parametrize(("time", "ratio"), [(0.5, 4.0), (0.4, 8.0), (0.8, 10.0)])
def test_a_direct_sound_that_leads_the_decay_makes_the_response_swing_more(
    time: float, ratio: float
) -> None:
    # independent, as above but many rooms: without the lead the peaks would come out 0.3 dB low
    peaks, _ = drawn_peaks_db(125.0, time, ratio, rooms=1500, seed=11)
    found = peak_excess_db(
        bandwidth=125.0 / math.sqrt(2.0), reverberation_time=time, direct_to_reverberant=ratio
    )
    assert np.mean(peaks) == pytest.approx(float(found), abs=0.15)


def test_over_the_drawn_rooms_together_there_is_no_bias() -> None:
    short = []
    for frequency, time, ratio in CASES:
        peaks, means = drawn_peaks_db(frequency, time, ratio, rooms=60, seed=7)
        found = peak_excess_db(
            bandwidth=frequency / math.sqrt(2.0),
            reverberation_time=time,
            direct_to_reverberant=ratio,
        )
        short.append([np.mean(peaks) - found, np.mean(peaks - means) - found])
    # Over what is expected, and over what the band of each room really has.
    assert np.abs(np.mean(short, axis=0)) == pytest.approx([0.0, 0.0], abs=0.25)


def test_a_wide_band_peaks_some_ten_decibels_over_its_mean() -> None:
    # Schroeder 1964 [M]: about 10 dB for speech in a hall.
    found = peak_excess_db(bandwidth=10_000.0, reverberation_time=1.0)
    assert found == pytest.approx(10.0, abs=0.5)


@given(st.floats(80.0, 6000.0), st.floats(0.15, 3.0), st.floats(0.0, 100.0))
def test_more_samples_raise_the_peak_and_direct_sound_lowers_it(
    width: float, time: float, ratio: float
) -> None:
    def excess(width: float, time: float, ratio: float) -> float:
        found = peak_excess_db(
            bandwidth=width, reverberation_time=time, direct_to_reverberant=ratio
        )
        return float(found)

    here = excess(width, time, ratio)
    assert excess(2.0 * width, time, ratio) > here
    # Only the product of the two counts.
    assert excess(2.0 * width, time / 2.0, ratio) == pytest.approx(here, abs=1e-9)
    assert excess(width, time, ratio + 1.0) < here + 0.05


def test_a_room_without_reverberation_has_no_peaks() -> None:
    found = peak_excess_db(
        bandwidth=700.0, reverberation_time=0.5, direct_to_reverberant=[1e4, np.inf]
    )
    # Of a small swing in phase with the direct sound, 20 lg(1 + 3/√(2·10⁴)) = 0.18 dB is three
    # standard deviations.
    assert 0.0 < found[1] < found[0] < 0.25


def test_octaves_are_as_wide_as_the_standard_says() -> None:
    # IEC 61260-1 base ten: edges at 10^±0.15 of the mid-band: 1000 Hz 707.9 and 1412.5 Hz.
    assert OCTAVE_BANDWIDTH[3] == pytest.approx(1412.54 - 707.95, abs=0.01)
    assert np.array(OCTAVE_BANDWIDTH) / np.array(EXACT_OCTAVES) == pytest.approx(
        [0.70459] * 7, abs=5e-6
    )


def test_the_margin_is_what_peaks_leave_of_unity() -> None:
    gains = np.array([[-20.0] * 7, [-12.0] * 7])
    times = np.linspace(0.8, 0.3, 7)
    margin = octave_margin_db(gains, reverberation_time=times, direct_to_reverberant=0.2)
    assert margin.shape == (2, 7)
    assert margin[0] - margin[1] == pytest.approx([8.0] * 7)
    one = peak_excess_db(
        bandwidth=OCTAVE_BANDWIDTH[2], reverberation_time=times[2], direct_to_reverberant=0.2
    )
    assert margin[0, 2] == pytest.approx(20.0 - float(one))


def test_drawn_rooms_howl_where_the_margin_says_on_average() -> None:
    # rival: Nyquist's criterion on each drawn room, with a long delay of the electronics so that
    # every peak meets phase 0; the mean of the octave is −20 dB.
    rng = np.random.default_rng(3)
    rate, time, samples, delay = 4000.0, 0.4, 1900, 1000
    t = np.arange(samples) / rate
    envelope = np.exp(-math.log(1000.0) * t / time)
    envelope *= 0.1 / math.sqrt(np.sum(envelope**2))
    margins = []
    for _ in range(60):
        response = np.concatenate([np.zeros(delay), rng.normal(size=samples) * envelope])
        found = open_loop(response, sample_rate=rate, band=(500 / 2**0.5, 500 * 2**0.5))
        margins.append(found.margin_db)
        assert found.conservative_margin_db <= found.margin_db + 1e-9
    expected = octave_margin_db([-20.0] * 7, reverberation_time=[time] * 7)[2]
    # Phase 0 comes every 4 Hz or so, a peak is as wide: on the safe side, by less than a decibel.
    assert expected - 0.3 < np.mean(margins) < expected + 1.0


@pytest.mark.parametrize(("first", "second"), [(0.3, 0.2), (0.5, 0.1), (0.05, 0.7)])
def test_two_taps_howl_where_they_add(first: float, second: float) -> None:
    # closed form: both in phase, at 0 Hz at least: a1 + a2
    response = np.zeros(64)
    response[[5, 23]] = first, second
    found = open_loop(response, sample_rate=8000.0)
    total = 20.0 * math.log10(first + second)
    assert found.critical_db == pytest.approx(total, abs=1e-9)
    assert found.largest_db == pytest.approx(total, abs=1e-9)
    assert found.margin_db == -found.critical_db


def test_two_taps_of_unlike_sign_howl_where_they_turn_alike() -> None:
    # closed form: −a1 after τ and +a2 after 2τ: both are real and positive at 1/(2τ); the sum is
    # a1 + a2 there. τ 10 samples at 8 kHz: 400 Hz.
    response = np.zeros(40)
    response[[10, 20]] = -0.4, 0.3
    found = open_loop(response, sample_rate=8000.0, band=(0.0, 700.0))
    assert found.critical_frequency == pytest.approx(400.0, abs=1e-3)
    assert found.critical_db == pytest.approx(20.0 * math.log10(0.7), abs=1e-5)


def test_a_single_tap_never_in_phase_within_a_band_cannot_howl_there() -> None:
    response = np.zeros(16)
    response[8] = -2.0  # in phase at 500, 1500 … Hz
    found = open_loop(response, sample_rate=8000.0, band=(700.0, 1300.0))
    assert found.critical_db == -np.inf
    assert found.critical_frequency is None
    assert found.margin_db == np.inf
    assert found.conservative_margin_db == pytest.approx(-20.0 * math.log10(2.0))


@settings(deadline=None, max_examples=30)
@given(st.integers(0, 10_000), st.integers(6, 24))
def test_the_closed_loop_is_stable_up_to_the_margin(seed: int, taps: int) -> None:
    # independent: poles of 1/(1 − k·H), as roots of its polynomial, on either side of the margin
    rng = np.random.default_rng(seed)
    response = np.concatenate([[0.0], rng.normal(size=taps) * 0.8 ** np.arange(taps)])
    found = open_loop(response, sample_rate=8000.0)

    def largest_pole(change_db: float) -> float:
        gain = 10.0 ** ((found.margin_db + change_db) / 20.0)
        polynomial = np.concatenate([[1.0], -gain * response[1:]])
        return float(np.max(np.abs(np.roots(polynomial))))

    assert largest_pole(-0.02) < 1.0
    assert largest_pole(0.02) > 1.0


def test_taps_answer_as_their_impulse_response() -> None:
    # rival: numpy's transform
    gain, delay, rate = np.array([0.5, -0.3, 0.2]), np.array([3, 17, 40]), 48000.0
    response = np.zeros(128)
    response[delay] = gain
    frequency = np.fft.rfftfreq(128, 1.0 / rate)
    found = taps_response(frequency, gain=gain, delay=delay / rate)
    assert found == pytest.approx(np.fft.rfft(response), abs=1e-12)
    # closed form, two taps: |H|² = a² + b² + 2ab·cos(2πfτ)
    two = np.abs(taps_response(frequency, gain=[0.6, 0.3], delay=[0.0, 0.002])) ** 2
    assert two == pytest.approx(0.45 + 0.36 * np.cos(2.0 * np.pi * frequency * 0.002))
    assert taps_response(frequency, gain=np.ones((4, 2)), delay=np.ones((4, 2))).shape == (4, 65)


def test_pairs_add_as_energies() -> None:
    # By hand: −20 and −26.02 dB at one microphone, −30 at the other with 6 dB more:
    # 10 lg(0.01 + 0.0025 + 0.003981) = −17.83 dB.
    pairs = np.array([[[-20.0], [-26.0206]], [[-30.0], [-np.inf]]])
    gains = np.array([[0.0, 0.0], [6.0, 6.0]])
    assert loop_gain_db(pairs, gain_db=gains) == pytest.approx([-17.830], abs=2e-3)
    closed = np.array([[0.0], [-np.inf]])
    assert loop_gain_db(pairs, gain_db=closed) == pytest.approx([10 * math.log10(0.0125)], abs=1e-3)


@pytest.mark.parametrize(("count", "printed"), [(1, 0.0), (2, 3.01), (4, 6.02), (8, 9.03)])
def test_equal_microphones_add_ten_times_the_logarithm_of_their_number(
    count: int, printed: float
) -> None:
    # 10 lg NOM as handbooks print it [L].
    found = loop_gain_db(np.full((count, 1, 7), -15.0))
    assert found + 15.0 == pytest.approx([printed] * 7, abs=0.0051)


def test_a_free_field_pair_loses_what_the_inverse_square_law_says() -> None:
    # closed form: with voice and playback both brought to the same digital level, what comes back
    # is the level of playback over that of the voice at the capsule. 66 dB at 1 m from 4 m: 53.96;
    # a talker of 60 dB at 0.5 m: 66.02. The loop is 12.06 dB down, and so is its margin.
    playback, voice = 66.0 - 20.0 * math.log10(4.0), 60.0 - 20.0 * math.log10(0.5)
    loop = loop_gain_db(np.full((1, 1, 7), playback - voice))
    assert loop == pytest.approx([-12.04 - 0.02] * 7, abs=0.005)
    margin = octave_margin_db(
        loop, reverberation_time=[0.5] * 7, direct_to_reverberant=np.full(7, np.inf)
    )
    assert margin == pytest.approx([12.06] * 7, abs=0.03)


@given(*[st.floats(0.3, 12.0)] * 4, st.integers(1, 8))
def test_at_unity_of_a_free_field_the_gain_is_the_potential_gain(
    d0: float, ds: float, d2: float, d1: float, count: int
) -> None:
    # rival: two books of account of one loop. Talker and loudspeaker of 60 dB at 1 m; a stage gain
    # of 0 dB plays the voice at the capsule as loud as that.
    pair = -20.0 * math.log10(d1) + 20.0 * math.log10(ds)
    loop = loop_gain_db(np.full((count, 1, 1), pair))[0]
    heard = -loop - 20.0 * math.log10(d2)
    found = potential_gain_db(
        talker_to_listener=d0,
        talker_to_microphone=ds,
        loudspeaker_to_listener=d2,
        loudspeaker_to_microphone=d1,
        open_microphones=count,
        margin_db=0.0,
    )
    assert found == pytest.approx(heard + 20.0 * math.log10(d0), abs=1e-9)


@pytest.mark.parametrize("response", [[], [[1.0, 0.5]]])
def test_what_is_no_response_is_refused(response: list[float]) -> None:
    with pytest.raises(ValueError, match="one row of samples"):
        open_loop(response, sample_rate=8000.0)


def test_a_band_beyond_the_samples_is_refused() -> None:
    with pytest.raises(ValueError, match="nothing of 0 to 4000"):
        open_loop([0.0, 0.5], sample_rate=8000.0, band=(5000.0, 6000.0))
