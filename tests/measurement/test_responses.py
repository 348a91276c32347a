"""What impulse responses say, against closed forms of clarity and of speech transmission."""

from __future__ import annotations

import json
import warnings
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.oracle.recordings import TO_60_DB, noise_decay, tones
from wellheard.acoustics.intelligibility import speech_transmission_index
from wellheard.acoustics.modulation import (
    MODULATION_FREQUENCIES,
    transfer_direct_plus_exponential,
    transfer_exponential,
)
from wellheard.acoustics.noise import nc_levels_db
from wellheard.acoustics.speech import iec_male_spectrum_2011, iec_male_spectrum_2020
from wellheard.arrays import Array
from wellheard.bands import EXACT_OCTAVES, OCTAVES
from wellheard.measurement.arrivals import arrival
from wellheard.measurement.responses import analyse, sti
from wellheard.measurement.results import ImpulseResponse, ResponseResult

RATE = 48000.0
REFERENCE: dict[str, Any] = json.loads(
    (Path(__file__).parents[1] / "reference" / "reference_values.json").read_text("utf-8")
)
CASES = REFERENCE["sti"]["check_cases"]
C50 = dict(REFERENCE["check_cases"]["c50_exponential"])
UNEVEN = (1.0, 0.9, 0.8, 0.7, 0.6, 0.5, 0.4)
NC_BANDS = slice(3, 10)


def result(samples: Array, rate: float = RATE) -> ResponseResult:
    return analyse(ImpulseResponse(samples, rate, zero=0, absolute=False))


def even(time: float, lasting: float = 2.4, floor_db: float = -90.0) -> Array:
    """The same decay in every octave without chance, in a little noise."""
    decay = tones([time] * 7, rate=RATE, lasting=lasting)
    noise = np.random.default_rng(5).standard_normal(len(decay))
    return decay + 10.0 ** (floor_db / 20.0) * noise


def with_direct(time: float, ratio_db: float, lasting: float = 2.4) -> Array:
    """Tones that die away behind a click as pink as they are, so much stronger in energy.

    A click whose spectrum is A/√f holds 2·A²·ln(10^0.3)/rate in every octave.
    """
    decay = tones([time] * 7, rate=RATE, lasting=lasting)
    energy = 0.5 * time / TO_60_DB * RATE * 10.0 ** (ratio_db / 10.0)
    frequency = np.fft.rfftfreq(len(decay), 1.0 / RATE)
    pink = np.sqrt(energy * RATE / (2.0 * np.log(10.0**0.3)) / np.maximum(frequency, 20.0))
    decay += np.roll(np.fft.irfft(pink, len(decay)), round(0.05 * RATE))
    return decay + 1e-5 * np.random.default_rng(6).standard_normal(len(decay))


@pytest.mark.parametrize("time", [0.3, 0.5, 0.8])
def test_ideal_decays_give_their_times_clarity_and_index(time: float) -> None:
    # closed forms: T itself, C50 = 10·lg(e^(0.69078/T) − 1), STI of m = 1/√(1 + (2πFT/13.8)²)
    found = result(even(time))
    for decay in found.decays:
        assert decay.t20 == pytest.approx(time, rel=0.01)
        assert decay.t30 == pytest.approx(time, rel=0.01)
        assert decay.edt == pytest.approx(time, rel=0.02)
        # tones that start at once sound a little in the octaves beside them
        tolerance = 0.1 if decay.octave >= 1000.0 else 0.3
        assert decay.c50_db == pytest.approx(C50[time], abs=tolerance)
        assert decay.d50 == pytest.approx(
            1.0 - np.exp(-TO_60_DB * 0.05 / time), abs=0.1 * tolerance
        )
    wanted = {row[0]: row[1] for row in CASES["rt_only"]}[time]
    assert found.sti == pytest.approx(wanted, abs=0.002)
    np.testing.assert_allclose(
        found.modulation, transfer_exponential([time] * 7), atol=0.02 if time > 0.3 else 0.01
    )
    assert [fault.code for fault in found.faults] == []


def test_every_octave_has_its_own_decay() -> None:
    # times that fall from 1.0 to 0.4 s; STI computed by a second program [L]
    found = result(tones(UNEVEN, rate=RATE, lasting=2.4))
    for decay, time in zip(found.decays, UNEVEN, strict=True):
        assert decay.t20 == pytest.approx(time, rel=0.02)
    assert found.sti == pytest.approx(CASES["uneven_bands"][1][1], abs=0.005)


@pytest.mark.parametrize(("time", "ratio_db", "wanted"), [c for c in CASES["drr"] if c[0] < 1.0])
def test_direct_sound_before_a_decay_gives_the_index_of_the_closed_form(
    time: float, ratio_db: float, wanted: float
) -> None:
    # m = |g + z|/(1 + g); the index is that of a second program [L]
    found = result(with_direct(time, ratio_db))
    assert found.sti == pytest.approx(wanted, abs=0.002)
    expected = transfer_direct_plus_exponential(
        10.0 ** (ratio_db / 10.0), reverberation_time=[time] * 7
    )
    np.testing.assert_allclose(np.array(found.modulation)[1:], expected[1:], atol=0.03)


@pytest.mark.parametrize(
    ("time", "spectrum", "level_dba", "nc", "wanted"),
    [
        (0.5, iec_male_spectrum_2020, 60.0, 30.0, CASES["levels_noise"][0][1]),
        (0.5, iec_male_spectrum_2020, 60.0, 40.0, CASES["levels_noise"][1][1]),
        (0.5, iec_male_spectrum_2011, 60.0, 30.0, CASES["levels_noise"][2][1]),
        (0.8, iec_male_spectrum_2020, 54.0, 40.0, CASES["levels_noise"][3][1]),
    ],
)
def test_speech_and_noise_at_their_levels_give_the_index_of_the_check_cases(
    time: float, spectrum: Any, level_dba: float, nc: float, wanted: float
) -> None:
    # a second program [L]; the noise is what was measured of the room, the response has its own
    noise_db = nc_levels_db(nc)[NC_BANDS]
    for floor_db in (-90.0, -45.0):
        found = result(even(time, floor_db=floor_db))
        index = sti(found, speech_db=spectrum(level_dba), noise_db=noise_db)
        assert index == pytest.approx(wanted, abs=0.003)


def test_the_noise_of_the_sweep_is_not_counted_as_noise_of_the_room() -> None:
    # by hand: 0.0126 × 115200 beside 7 × 0.25 × 48000 × 0.5/13.8155 of the tones, a fourth
    quiet, noisy = (result(even(0.5, floor_db=floor_db)) for floor_db in (-90.0, -19.0))
    assert noisy.decays[3].range_db < 35.0
    assert quiet.sti is not None
    assert noisy.sti == pytest.approx(quiet.sti, abs=0.01)
    raw = even(0.5, floor_db=-19.0)[round(0.05 * RATE) :]
    squared = np.square(raw)
    t = np.arange(len(raw)) / RATE
    turned = [abs((squared * np.exp(-2j * np.pi * f * t)).sum()) for f in MODULATION_FREQUENCIES]
    left_in = speech_transmission_index(np.tile(np.array(turned) / squared.sum(), (7, 1)))
    assert left_in < quiet.sti - 0.03


def test_random_decays_give_the_index_within_what_others_call_repeatable() -> None:
    # repeatability of the full method is 0.02, IEC 60268-16:2011 Annex E [L open reading];
    # closed form of 0.6 s: 0.7001
    indices = [
        result(noise_decay(seed, 0.6, rate=RATE, lasting=2.0, floor_db=-50.0)).sti
        for seed in range(3)
    ]
    assert [i for i in indices if i is None] == []
    assert np.mean([i for i in indices if i is not None]) == pytest.approx(0.7001, abs=0.02)


def test_the_whole_chain_agrees_with_pyrato() -> None:
    # pyrato 1.1.0 filters, finds the begin, and reads modulation by itself
    samples = noise_decay(11, 0.5, rate=RATE, lasting=2.0, floor_db=-70.0)
    found = result(samples)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import pyfar
        from pyrato import edc, parameters

        response = pyfar.Signal(samples[round(0.05 * RATE) :], RATE)
        bands = pyfar.dsp.filter.fractional_octave_bands(response, 1, frequency_range=(125, 8000))
        curves = edc.energy_decay_curve_chu_lundeby(
            bands, smoothing_parameter=np.array(OCTAVES)[:, None], time_shift=False,
            channel_independent=True,
        )  # fmt: skip
        t30 = parameters.reverberation_time_linear_regression(curves, "T30").ravel()
        index = float(
            np.squeeze(parameters.speech_transmission_index_indirect(response, "electrical"))
        )
    for k in range(2, 7):
        # other filters: what they let in of their neighbours differs
        assert found.decays[k].t30 == pytest.approx(t30[k], rel=0.02), OCTAVES[k]
    assert found.sti == pytest.approx(index, abs=0.01)


@pytest.mark.parametrize(
    ("samples", "rate", "said"),
    [
        (even(0.3, lasting=1.5), RATE, "1.50 s long; 1.6 s are needed"),
        (
            noise_decay(1, 0.5, rate=16000.0, lasting=2.0, floor_db=-60.0),
            16000.0,
            "there is no octave of 8 kHz; all seven are needed",
        ),
        (even(0.5, floor_db=-15.0), RATE, "falls by 18 dB until it goes under; 20 dB are needed"),
        (even(0.5, floor_db=0.0), RATE, "does not stand out of the noise; 20 dB are needed"),
    ],
    ids=["short", "16 kHz", "in noise", "under noise"],
)
def test_no_index_is_given_where_the_response_cannot_carry_it(
    samples: Array, rate: float, said: str
) -> None:
    found = result(samples, rate)
    assert found.sti is None
    assert found.modulation == ()
    (fault,) = [f for f in found.faults if f.code == "no-sti"]
    assert said in fault.message
    with pytest.raises(ValueError, match="no modulation"):
        sti(found, speech_db=np.full(7, 60.0), noise_db=None)


def test_an_octave_that_the_sweep_did_not_cover_has_no_decay() -> None:
    response = ImpulseResponse(even(0.4), RATE, zero=0, absolute=False, covers=(100.0, 15000.0))
    found = analyse(response)
    assert found.decays[0].t20 is None
    assert found.decays[0].why_not == (
        "the sweep covers 100 to 15000 Hz, not the whole octave of 125 Hz"
    )
    assert found.decays[1].t20 is not None
    assert found.sti is None


def test_a_click_has_no_gain_and_half_a_click_six_decibels_less() -> None:
    # 20·lg 0.5 = −6.02 dB in every octave, also of the direct sound alone
    for gain, level_db in ((1.0, 0.0), (-0.5, -6.0206)):
        samples = 1e-4 * np.random.default_rng(1).standard_normal(96000) * gain
        samples[4800] += gain
        found = result(samples)
        np.testing.assert_allclose(found.gain_db, level_db, atol=0.05)
        assert found.direct_gain_db[:3] == (None, None, None)
        assert found.direct_gain_db[3:] == pytest.approx([level_db] * 4, abs=0.1)


def test_a_click_dies_faster_than_an_octave_filter_can_follow() -> None:
    # B = 0.71 f; 16/B is asked for of filters, 4/B with time reversed [L ISO 3382-2:2008, 7.3];
    # without phase it is 8/B, see test_decays: 8/(0.71·125 Hz) = 90 ms
    samples = 1e-5 * np.random.default_rng(1).standard_normal(96000)
    samples[4800] += 1.0
    found = result(samples)
    for decay in found.decays:
        assert decay.edt is decay.t20 is decay.t30 is None
    assert found.decays[0].why_not == (
        "at 125 Hz the sound dies away within 90 ms, faster than an octave filter can follow"
    )
    assert [fault.code for fault in found.faults] == ["no-room"]  # a wire, or the wrong channel
    # every modulation of a click is whole; the 125 Hz filter itself lasts a little
    assert found.sti == pytest.approx(1.0, abs=0.01)


def test_a_file_that_was_filled_up_with_zeros_is_read_up_to_them() -> None:
    whole = noise_decay(2, 0.5, rate=RATE, lasting=2.0, floor_db=-60.0)
    filled = result(np.concatenate([whole, np.zeros(48000)]))
    plain = result(whole)
    for one, other in zip(filled.decays, plain.decays, strict=True):
        assert one.t30 == pytest.approx(other.t30, rel=1e-3)
    assert filled.sti == pytest.approx(plain.sti or 0.0, abs=1e-3)


@pytest.mark.parametrize(("early", "codes"), [(96, ["before-played"]), (0, []), (-96, [])])
def test_sound_that_comes_before_it_is_played_is_of_exchanged_channels(
    early: int, codes: list[str]
) -> None:
    # 96 samples at 48 kHz are 2 ms
    decay = noise_decay(2, 0.5, rate=RATE, lasting=2.0, floor_db=-90.0, before=0.0)
    samples = np.concatenate([np.zeros(4800), decay])
    found = analyse(ImpulseResponse(samples, RATE, zero=4800 + early, absolute=True))
    assert [f.code for f in found.faults if f.code == "before-played"] == codes
    assert found.arrival.delay == pytest.approx(-early / RATE, abs=3e-4)
    assert all("2.0 ms before" in f.message for f in found.faults if f.code in codes)


def test_a_joined_room_is_named_by_its_bent_decay() -> None:
    t = np.arange(round(4.0 * RATE)) / RATE
    envelope = np.sqrt(np.exp(-TO_60_DB * t / 0.4) + 0.01 * np.exp(-TO_60_DB * t / 1.6))
    tone = np.sin(2.0 * np.pi * EXACT_OCTAVES[4] * t) * envelope
    found = result(np.concatenate([np.zeros(2400), tone]))
    assert found.decays[4].curvature_percent == pytest.approx(50.4, abs=1.5)  # [L], see decays
    assert any(f.code == "curved-decay" and "2 kHz" in f.message for f in found.faults)


def test_the_first_sample_within_twenty_decibels_of_the_peak_is_the_onset() -> None:
    # ISO 3382-1:2009, A.3.4 [L]: −20 dB is a tenth
    for early, onset in ((0.0999, 1000), (0.1001, 700)):
        samples = np.zeros(4800)
        samples[700], samples[1000], samples[1500] = early, 1.0, 0.4
        found = arrival(ImpulseResponse(samples, RATE, zero=100, absolute=True))
        assert found.onset == onset / RATE
        assert found.delay == (onset - 100) / RATE
        # 1 ms is 0.3432 m at 20 °C
        assert found.distance(343.2) == pytest.approx((onset - 100) / 48 * 0.3432)


@pytest.mark.parametrize("sign", [1, -1])
def test_polarity_is_read_below_a_crossover_that_turns_the_treble(sign: int) -> None:
    # second order at 2 kHz with the tweeter the other way round, as such crossovers are wired
    length = 9600
    s = 1j * np.fft.rfftfreq(length, 1.0 / RATE) / 2000.0
    below = 1.0 / (1.0 + s) ** 2
    above = s * s / (1.0 + s) ** 2
    click = np.zeros(length)
    click[2000] = sign
    samples = np.fft.irfft(np.fft.rfft(click) * (below - 3.0 * above), length)
    assert np.sign(samples[np.argmax(np.abs(samples))]) == -sign
    samples += 1e-4 * np.random.default_rng(2).standard_normal(length)
    assert arrival(ImpulseResponse(samples, RATE, zero=0, absolute=False)).polarity == sign


def test_polarity_is_not_told_of_what_has_nothing_below_a_kilohertz() -> None:
    click = np.zeros(9600)
    click[2000], click[2001] = 1.0, -1.0
    click += 0.01 * np.random.default_rng(2).standard_normal(9600)
    response = ImpulseResponse(click, RATE, zero=0, absolute=False)
    assert arrival(response).polarity is None


def test_a_silent_response_gives_nothing_and_does_not_fail() -> None:
    found = result(np.zeros(96000))
    assert found.sti is None
    assert {decay.t20 for decay in found.decays} == {None}
    assert found.arrival.polarity is None
    assert replace(found, faults=()).modulation == ()
