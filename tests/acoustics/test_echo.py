"""Echo: what delay asks for, how losses are weighted, and what bounds a canceller."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wellheard.acoustics.echo import (
    ACCEPTABLE_TERV_DB,
    NARROWBAND,
    NOMINAL_TERMINAL_LOSS_DB,
    WIDEBAND,
    delayed_echo_impairment,
    distortion_limited_loss_db,
    echo_to_speech_db,
    noise_limited_loss_db,
    tail_limited_loss_db,
    tail_needed,
    telr_needed_db,
    terv_db,
    trapezoid_loss_db,
    weighted_loss_db,
)
from wellheard.acoustics.echo_requirements import requirements
from wellheard.bands import EXACT_OCTAVES

DATA = Path(__file__).parents[1] / "reference"
REFERENCE: dict[str, Any] = json.loads((DATA / "reference_values.json").read_text())
ECHO = REFERENCE["echo"]
CASES = REFERENCE["check_cases"]
LOSSES = st.lists(st.floats(-20, 120), min_size=7, max_size=7)


@pytest.mark.parametrize(
    ("delay_ms", "printed"),
    list(zip(ECHO["telr_accept_db"]["t_ms"], ECHO["telr_accept_db"]["telr"], strict=True)),
)
def test_a_delay_asks_for_the_loss_of_the_acceptable_curve(delay_ms: float, printed: float) -> None:
    # Relation of ITU-T G.107 (7-22) as in open codes [L], held at 14.4 dB [M].
    assert telr_needed_db(delay_ms) == pytest.approx(printed, abs=0.05 + 1e-9)


def test_the_curve_holds_the_delay_corrected_rating() -> None:
    delays = np.geomspace(0.1, 2000.0, 50)
    held = terv_db(delays, telr_db=telr_needed_db(delays))
    assert held == pytest.approx(np.full(50, ACCEPTABLE_TERV_DB))
    # 14.4 − 6 by hand at no delay; 14.4 + 40 lg 15 for ever.
    assert telr_needed_db(0.0) == pytest.approx(8.4)
    assert telr_needed_db(1e9) == pytest.approx(14.4 + 40.0 * math.log10(15.0))
    assert np.all(np.diff(telr_needed_db(delays)) > 0.0)
    # By hand at 1 ms: 40 lg(1.1/1.00667) = 1.540, 6·e^−0.3 = 4.445.
    assert telr_needed_db(1.0) == pytest.approx(14.4 + 1.540 - 4.445, abs=1e-3)


def test_the_far_terminal_brings_ten_decibels() -> None:
    # G.107 Table 3 [L]: SLR 8, RLR 2.
    assert ECHO["g107_defaults"]["SLR"] + ECHO["g107_defaults"]["RLR"] == NOMINAL_TERMINAL_LOSS_DB


@pytest.mark.parametrize(("delay_ms", "telr_db", "printed"), ECHO["idte_check"]["rows"])
def test_echo_impairs_as_the_e_model_says(delay_ms: float, telr_db: float, printed: float) -> None:
    # G.107 (7-19) to (7-22) with the defaults of Table 3, computed from open codes [L].
    found = delayed_echo_impairment(delay_ms, telr_db=telr_db)
    assert found == pytest.approx(printed, abs=0.05 + 1e-9)


def test_the_unimpaired_rating_follows_noise_and_receive_rating() -> None:
    # G.107 Table 3 [L]: Roe 94.77 at −61.18 dBm0p. By hand with −55 and 3: Roe 87.0; at 100 ms and
    # 55 dB, TERV 22.223, Re 100.557: (−6.779 + √(45.95 + 100) − 1) = 4.303.
    found = delayed_echo_impairment(
        100.0, telr_db=55.0, circuit_noise_dbm0p=-55.0, receive_loudness_rating_db=3.0
    )
    assert found == pytest.approx(4.303, abs=2e-3)
    assert delayed_echo_impairment([0.0, 0.99], telr_db=10.0).tolist() == [0.0, 0.0]


@pytest.mark.parametrize("case", CASES["tclw"], ids=lambda case: str(case["tclw"]))
def test_the_trapezoid_weighs_the_worked_cases(case: dict[str, Any]) -> None:
    # ITU-T G.122 B.4, worked by hand [L]: 45.00 and 43.89 dB.
    found = trapezoid_loss_db(case["loss_db"], frequency=case["f"])
    assert found == pytest.approx(case["tclw"], abs=0.005)


def test_the_constant_is_that_of_the_recommendation() -> None:
    # G.122 B.4 [M] prints 3.24: a loss of 0 dB everywhere leaves constant − 10 lg Σ 2·Δ lg f = 0.
    steps = math.log10(3400.0 / 300.0)
    heavy = 3.24 - trapezoid_loss_db([0.0, 0.0], frequency=[300.0, 3400.0])
    assert heavy == pytest.approx(10.0 * math.log10(2.0 * steps), abs=0.005)
    # Two points 10 dB apart by hand: A 1 and 0.1, mean 0.55, 2.596 dB.
    found = trapezoid_loss_db([[0.0, 10.0], [10.0, 20.0]], frequency=[100.0, 8000.0])
    assert found == pytest.approx([2.596, 12.596], abs=5e-4)


@pytest.mark.parametrize(
    ("losses", "frequency"),
    [([1.0], [300.0]), ([1.0, 2.0], [300.0]), ([1.0, 2.0], [500.0, 300.0]), ([1.0], [[1.0]])],
)
def test_losses_without_their_frequencies_are_refused(
    losses: list[float], frequency: list[float]
) -> None:
    with pytest.raises(ValueError, match="rising frequencies"):
        trapezoid_loss_db(losses, frequency=frequency)


@given(LOSSES, st.sampled_from([NARROWBAND, WIDEBAND]))
def test_octaves_weigh_as_the_trapezoid_on_a_dense_grid(
    losses: list[float], band: tuple[float, float]
) -> None:
    # rival: numpy's interpolation on 4000 points, then the trapezoid of G.122
    f = np.geomspace(*band, 4001)
    dense = np.interp(np.log(f), np.log(EXACT_OCTAVES), losses)
    expected = trapezoid_loss_db(dense, frequency=f)
    assert weighted_loss_db(losses, band=band) == pytest.approx(float(expected), abs=2e-3)


@given(LOSSES, st.integers(0, 6), st.floats(0.0, 40.0))
def test_more_loss_in_an_octave_never_weighs_less(
    losses: list[float], octave: int, more: float
) -> None:
    better = list(losses)
    better[octave] += more
    assert weighted_loss_db(better) >= weighted_loss_db(losses) - 1e-9
    assert min(losses) - 1e-9 <= weighted_loss_db(losses) <= max(losses) + 1e-9


def test_an_even_loss_is_its_own_weighted_loss_and_shapes_are_kept() -> None:
    assert weighted_loss_db(np.full((3, 2, 7), 31.5)) == pytest.approx(np.full((3, 2), 31.5))
    with pytest.raises(ValueError, match="7 octaves"):
        weighted_loss_db([40.0, 41.0])


def test_octaves_outside_the_telephone_band_count_in_wideband_only() -> None:
    poor = [10.0, 45.0, 45.0, 45.0, 45.0, 45.0, 10.0]
    assert weighted_loss_db(poor) > 44.9
    assert weighted_loss_db(poor, band=WIDEBAND) < 25.0


def test_nothing_comes_back_where_no_octave_does() -> None:
    assert weighted_loss_db([np.inf] * 7) == np.inf
    # Between an octave that is silent and one that is not, a straight line in dB is silent: the
    # part of lg(3400/300) from 1000 to 1995 Hz is left. By hand −10 lg(0.30/1.0544) = 5.46 dB.
    silent = [np.inf, np.inf, np.inf, 0.0, 0.0, np.inf, np.inf]
    assert weighted_loss_db(silent) == pytest.approx(5.459, abs=1e-3)


@pytest.mark.parametrize(
    ("time", "tail", "ratio", "printed"),
    [
        # Own arithmetic on the exponential decay, printed to 0.1 dB [L].
        (0.5, 0.1, 0.0, 12.0),
        (0.5, 0.2, 0.0, 24.0),
        (0.5, 0.25, 0.0, 30.0),
        (0.3, 0.1, 0.0, 20.0),
        (0.8, 0.2, 0.0, 15.0),
        (0.8, 0.25, 0.0, 18.8),
        (1.0, 0.25, 0.0, 15.0),
        (0.5, 0.1, 1.0, 15.0),
    ],
)
def test_a_tail_bounds_the_loss(time: float, tail: float, ratio: float, printed: float) -> None:
    found = tail_limited_loss_db(tail, reverberation_time=time, direct_to_reverberant=ratio)
    assert found == pytest.approx(printed, abs=0.051)


@pytest.mark.parametrize("case", CASES["aec_tail"]["cases"], ids=str)
def test_a_simulated_canceller_comes_up_to_the_bound(case: dict[str, float]) -> None:
    # NLMS on decays of white noise [L, simulated elsewhere]: within a decibel of the bound, as the
    # response that was drawn has a bound of its own half a decibel off.
    found = tail_limited_loss_db(
        case["tail"], reverberation_time=case["T"], direct_to_reverberant=case["g"]
    )
    assert found == pytest.approx(case["formula"], abs=0.006)
    assert found == pytest.approx(case["response_limit"], abs=0.5)
    assert case["nlms"] - 0.2 < found < case["nlms"] + 1.2


def test_the_bound_is_the_energy_that_is_left_of_a_sampled_decay() -> None:
    # rival: a spike 12 ms after the start of the tail and a decay, summed sample by sample
    time, delay, tail, ratio, rate = 0.62, 0.012, 0.128, 0.7, 48000
    t = np.arange(rate * 2) / rate
    decay = np.exp(-6.0 * np.log(10.0) * t / time)
    decay /= decay.sum()
    left = decay[t >= tail - delay].sum() / (1.0 + ratio)
    found = tail_limited_loss_db(
        tail, reverberation_time=time, direct_to_reverberant=ratio, bulk_delay=delay
    )
    assert found == pytest.approx(-10.0 * np.log10(left), abs=0.01)


@given(st.floats(1.0, 60.0), st.floats(0.1, 3.0), st.floats(0.0, 10.0), st.floats(0.0, 0.2))
def test_the_tail_that_is_needed_reaches_the_loss(
    loss_db: float, time: float, ratio: float, delay: float
) -> None:
    needed = tail_needed(
        loss_db, reverberation_time=time, direct_to_reverberant=ratio, bulk_delay=delay
    )
    reached = tail_limited_loss_db(
        needed + 1e-9, reverberation_time=time, direct_to_reverberant=ratio, bulk_delay=delay
    )
    assert reached >= loss_db - 1e-5
    assert needed >= delay


@pytest.mark.parametrize(
    ("time", "ratio", "printed"),
    # Rule of thumb [L derived]: 30 dB need half the reverberation time; 3.0 dB less with g = 1.
    [(0.3, 0.0, 0.15), (0.5, 0.0, 0.25), (0.8, 0.0, 0.40), (0.8, 1.0, 0.36)],
)
def test_thirty_decibels_need_half_the_reverberation_time(
    time: float, ratio: float, printed: float
) -> None:
    found = tail_needed(30.0, reverberation_time=time, direct_to_reverberant=ratio)
    assert found == pytest.approx(printed, abs=5e-4)
    delayed = tail_needed(
        30.0, reverberation_time=time, direct_to_reverberant=ratio, bulk_delay=0.04
    )
    assert delayed == pytest.approx(printed + 0.04, abs=5e-4)


def test_direct_sound_alone_may_be_loss_enough() -> None:
    # By hand: g = 9 leaves a tenth, 10 dB, to the decay.
    assert tail_needed([5.0, 10.0], reverberation_time=1.0, direct_to_reverberant=9.0) == (
        pytest.approx([0.0, 0.0])
    )


def test_a_tail_that_ends_before_the_sound_comes_models_nothing() -> None:
    found = tail_limited_loss_db(
        [0.02, 0.03], reverberation_time=0.5, direct_to_reverberant=3.0, bulk_delay=0.03
    )
    assert found.tolist() == [0.0, 0.0]


def test_distortion_bounds_the_loss() -> None:
    # Derived: 1 % THD 40 dB, 3 % 30 (30.46), 10 % 20.
    found = distortion_limited_loss_db([0.01, 0.03, 0.1])
    assert found == pytest.approx([40.0, 30.458, 20.0], abs=5e-4)
    assert distortion_limited_loss_db(0.0) == np.inf


@pytest.mark.parametrize("step", [1.0, 0.3])
def test_a_filter_in_noise_stops_at_the_bound(step: float) -> None:
    # independent: normalised least mean squares with numpy, white reference, echo 20 dB over noise
    rng = np.random.default_rng(5)
    taps, samples = 32, 24_000
    path = rng.normal(size=taps)
    path /= np.sqrt(np.sum(path**2))
    reference = rng.normal(size=samples + taps)
    noise = 0.1 * rng.normal(size=samples)
    found = np.zeros(taps)
    left = []
    for n in range(samples):
        x = reference[n : n + taps]
        left.append(float((path - found) @ x) ** 2)
        error = path @ x + noise[n] - found @ x
        found += step * error * x / (x @ x)
    settled = -10.0 * math.log10(np.mean(left[samples // 4 :]))
    bound = noise_limited_loss_db(0.0, noise_db=-20.0, step=step)
    assert settled == pytest.approx(float(bound), abs=0.5)


def test_a_filter_does_not_add_echo_under_noise() -> None:
    assert noise_limited_loss_db([30.0, 40.0], noise_db=35.0).tolist() == [0.0, 5.0]


def test_an_echo_can_stand_over_the_voice() -> None:
    # By hand [L arithmetic]: 70 dBA at 1.5 m is 65.9 at 2.4 m; a talker of 60 dBA at 1 m is 54.0 at
    # 2 m: the echo is 11.9 dB above the voice.
    echo = 70.0 - 20.0 * math.log10(2.4 / 1.5)
    speech = 60.0 - 20.0 * math.log10(2.0)
    assert (round(echo, 1), round(speech, 1)) == (65.9, 54.0)
    shape = np.array([-5.0, 0.0, 0.0, -6.0, -12.0, -18.0, -24.0])
    found = echo_to_speech_db(shape + echo, speech_db=shape + speech)
    assert found == pytest.approx(11.9, abs=0.05)
    # A-weighted: an echo at 125 Hz (−16.1 dB) and a voice at 1 kHz, alike in level.
    low = [0.0, *[-np.inf] * 6]
    mid = [-np.inf] * 3 + [0.0] + [-np.inf] * 3
    assert echo_to_speech_db(low, speech_db=mid) == pytest.approx(-16.1)


def test_requirements_are_those_of_the_recommendations() -> None:
    # Compliance notes of an open echo-canceller library [L]; P.341 from memory [M].
    rows = requirements()
    g167 = ECHO["hands_free"]["g167_1993_withdrawn_provisional"]
    p340 = ECHO["hands_free"]["p340_2000_category1"]
    p1110 = ECHO["hands_free"]["p1110_p1120"]
    expected = {
        "g167-single-talk-conference": g167["tclw_single_teleconference"],
        "g167-single-talk-hands-free": g167["tclw_single_hands_free"],
        "g167-double-talk-conference": g167["tclw_double_teleconference"],
        "g167-double-talk-hands-free": g167["tclw_double_hands_free"],
        "g167-first-second": g167["initial_erl_db_in_1s"],
        "g167-double-talk-attenuation": g167["attenuation_double_talk_max"],
        "g167-processing-delay": g167["processing_delay_ms_max"],
        "p340-double-talk-echo": p340["echo_loss_double_talk_min"],
        "p340-category-1-attenuation": p340["send_attenuation_double_talk_max"],
        "p1110-coupling-loss": p1110["tcl_min"],
        "p1110-coupling-loss-aim": p1110["tcl_objective"],
        "p1110-degradation": p1110["degradation_max"],
        "p1110-build-up": p1110["build_up_ms_max"],
        "p1110-switching-range": p1110["send_switching_range_max"],
        "p341-coupling-loss": 35,
        "p341-coupling-loss-aim": 40,
    }
    assert {name: rows[name].value for name in expected} == expected
    assert rows["p341-coupling-loss"].trust == "M"
    assert {row.source for row in rows.values() if row.provisional} == {
        "ITU-T G.167 (1993)",
        "ITU-T P.340 (2000)",
    }


def test_a_requirement_is_met_on_its_own_side() -> None:
    loss, delay = requirements()["p1110-coupling-loss"], requirements()["p1110-build-up"]
    assert (loss.met_by(46.0), loss.met_by(45.9)) == (True, False)
    assert (delay.met_by(50.0), delay.met_by(50.1)) == (True, False)
