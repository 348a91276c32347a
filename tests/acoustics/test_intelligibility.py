"""The speech transmission index against the standard's tests, tables and a second program.

The second program, at the end of the file, is written from the published relations with plain
numbers and loops and shares nothing with the package.
"""

from __future__ import annotations

import json
import math
import random
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from wellheard.acoustics.intelligibility import (
    CATEGORY_LETTERS,
    Talker,
    alcons_from_sti,
    alcons_peutz,
    category_letter,
    modulation_transfer_index,
    modulation_transfer_index_of_path,
    rating_word,
    speech_transmission_index,
    speech_transmission_index_from_bands,
    speech_transmission_index_of_path,
    u50_db,
)
from wellheard.acoustics.modulation import (
    transfer_direct_plus_exponential,
    transfer_exponential,
    with_noise_and_hearing,
)
from wellheard.acoustics.noise import nc_levels_db
from wellheard.acoustics.speech import iec_male_spectrum_2011, iec_male_spectrum_2020
from wellheard.arrays import Array

DATA = Path(__file__).parents[1] / "reference"
REFERENCE: dict[str, Any] = json.loads((DATA / "reference_values.json").read_text())
WORKED: dict[str, Any] = json.loads((DATA / "worked_examples.json").read_text())
STI = REFERENCE["sti"]
CASES = STI["check_cases"]
Case = tuple[list[float], list[float], list[float], list[float]]
UNEVEN_SNR = np.array([20.0, 15.0, 10.0, 5.0, 0.0, -5.0, -10.0])
UNEVEN_T = np.array([1.0, 0.9, 0.8, 0.7, 0.6, 0.5, 0.4])


def statistical(
    t: Any, snr: Any = None, ratio_db: float | None = None, talker: Talker = "male"
) -> float:
    """Without absolute levels: reverberation, direct sound and signal-to-noise ratio only."""
    t = np.broadcast_to(np.asarray(t, dtype=float), 7)
    if ratio_db is None:
        m = transfer_exponential(t)
    else:
        m = transfer_direct_plus_exponential(10.0 ** (ratio_db / 10.0), reverberation_time=t)
    if snr is not None:
        speech = np.broadcast_to(np.asarray(snr, dtype=float), 7)
        m = with_noise_and_hearing(m, speech_db=speech, noise_db=np.zeros(7), hearing=False)
    return float(speech_transmission_index(m, talker=talker))


@pytest.mark.parametrize(("m", "printed"), CASES["m_to_ti"])
def test_transmission_indices_reproduce_every_printed_digit(m: float, printed: float) -> None:
    assert modulation_transfer_index(np.full((1, 14), m)) == pytest.approx(printed, abs=0.5e-4)


def test_the_standards_own_step_test_is_passed() -> None:
    # iec60268-16, C.3.2, which rounds to two digits
    steps = STI["verification_m_steps"]
    m = np.array(steps["m"])[:, None, None] * np.ones((7, 14))
    actual = speech_transmission_index(m)
    np.testing.assert_allclose(actual, steps["sti"], rtol=0, atol=0.5e-2)
    assert actual[0] == 0.0
    assert actual[-1] == 1.0


@pytest.mark.parametrize(
    ("pair", "printed"), list(enumerate(STI["verification_sine_pairs"]["values"]))
)
def test_the_standards_own_weighting_test_is_passed(pair: int, printed: float) -> None:
    # iec60268-16, A.2.2
    m = np.zeros((7, 14))
    m[pair : pair + 2] = 1.0
    assert speech_transmission_index(m) == pytest.approx(printed, abs=0.5e-3)
    assert CASES["band_pairs"][pair][1] == printed


@pytest.mark.parametrize("talker", ["male", "female_2011"])
def test_weights_are_the_published_ones_and_leave_one(talker: Talker) -> None:
    name = "male" if talker == "male" else "female_2011"
    alpha, beta = STI[f"alpha_{name}"], STI[f"beta_{name}"]
    assert sum(alpha) - sum(beta) == pytest.approx(1.0)
    for band in range(7):
        mti = np.zeros(7)
        mti[band] = 1.0
        assert speech_transmission_index_from_bands(mti, talker=talker) == alpha[band]
    for band in range(6):
        mti = np.zeros(7)
        mti[band : band + 2] = 1.0, 0.25
        expected = alpha[band] + 0.25 * alpha[band + 1] - 0.5 * beta[band]
        assert speech_transmission_index_from_bands(mti, talker=talker) == pytest.approx(expected)


def test_the_index_is_cut_at_one() -> None:
    # 250 Hz takes more by its redundancies, 0.085 + 0.078, than its weight of 0.127 gives
    assert speech_transmission_index_from_bands([1, 0, 1, 1, 1, 1, 1]) == 1.0


@pytest.mark.parametrize(("snr", "printed"), CASES["snr_only"])
def test_noise_alone_reproduces_every_printed_digit(snr: float, printed: float) -> None:
    assert statistical(1e-9, snr) == pytest.approx(printed, abs=0.5e-4)


@pytest.mark.parametrize(("t", "male", "female"), CASES["rt_only"])
def test_reverberation_alone_reproduces_every_printed_digit(
    t: float, male: float, female: float
) -> None:
    assert statistical(t) == pytest.approx(male, abs=0.5e-4)
    assert statistical(t, talker="female_2011") == pytest.approx(female, abs=0.5e-4)


@pytest.mark.parametrize(("target", "t"), WORKED["sti_inverse_rt"]["rows"])
def test_the_printed_times_reach_their_targets(target: float, t: float) -> None:
    assert statistical(t - 0.5e-4) >= target >= statistical(t + 0.5e-4)


@pytest.mark.parametrize(("t", "snr", "printed"), CASES["rt_snr"])
def test_noise_in_reverberation_reproduces_every_printed_digit(
    t: float, snr: float, printed: float
) -> None:
    assert statistical(t, snr) == pytest.approx(printed, abs=0.5e-4)


@pytest.mark.parametrize(("t", "ratio_db", "printed"), CASES["drr"])
def test_direct_sound_in_reverberation_reproduces_every_printed_digit(
    t: float, ratio_db: float, printed: float
) -> None:
    assert statistical(t, ratio_db=ratio_db) == pytest.approx(printed, abs=0.5e-4)


def test_uneven_bands_reproduce_every_printed_digit() -> None:
    printed = [row[1] for row in CASES["uneven_bands"]]
    actual = [
        statistical(1e-9, UNEVEN_SNR),
        statistical(UNEVEN_T),
        statistical(UNEVEN_T, UNEVEN_SNR),
        statistical(UNEVEN_T, UNEVEN_SNR, talker="female_2011"),
    ]
    np.testing.assert_allclose(actual, printed, rtol=0, atol=0.5e-4)


@pytest.mark.parametrize(("level", "in_2011", "in_2020"), CASES["level_only"])
def test_level_alone_reproduces_every_printed_digit(
    level: float, in_2011: float, in_2020: float
) -> None:
    for spectrum, printed in (
        (iec_male_spectrum_2011, in_2011),
        (iec_male_spectrum_2020, in_2020),
    ):
        m = with_noise_and_hearing(np.ones((7, 14)), speech_db=spectrum(level))
        assert speech_transmission_index(m) == pytest.approx(printed, abs=0.5e-4)


def test_loud_speech_is_masked_from_the_next_lower_octave() -> None:
    # 0.9739 is what masking from the band's own level gives
    m = with_noise_and_hearing(np.ones((7, 14)), speech_db=iec_male_spectrum_2020(90.0))
    assert speech_transmission_index(m) == pytest.approx(0.9244, abs=0.5e-4)


def test_levels_and_noise_reproduce_every_printed_digit() -> None:
    nc30, nc40 = nc_levels_db(30)[3:], nc_levels_db(40)[3:]
    male = iec_male_spectrum_2020
    falling = np.array([0.6, 0.55, 0.5, 0.5, 0.45, 0.4, 0.35])
    half, long, longest = (np.full(7, t) for t in (0.5, 0.6, 0.8))
    cases: list[tuple[float, Array, Array, Array]] = [
        (0.0, half, male(60.0), nc30),
        (0.0, half, male(60.0), nc40),
        (0.0, half, iec_male_spectrum_2011(60.0), nc30),
        (0.0, longest, male(54.0), nc40),
        (0.0, falling, male(57.0), nc30),
        (1.0, long, male(60.0), nc30),
    ]
    actual = [
        speech_transmission_index_of_path(
            np.full(7, ratio), reverberation_time=t, speech_db=speech, noise_db=noise
        )
        for ratio, t, speech, noise in cases
    ]
    printed = [row[1] for row in CASES["levels_noise"]]
    np.testing.assert_allclose(actual, printed, rtol=0, atol=0.5e-4)


def random_paths(number: int, seed: int) -> list[Case]:
    dice = random.Random(seed)

    def seven(low: float, high: float) -> list[float]:
        return [dice.uniform(low, high) for _ in range(7)]

    return [
        (
            [10.0 ** (x / 10.0) for x in seven(-20.0, 15.0)] if k % 2 else [0.0] * 7,
            seven(0.1, 3.0),
            seven(5.0, 105.0),
            seven(-5.0, 80.0),
        )
        for k in range(number)
    ]


@pytest.mark.parametrize("talker", ["male", "female_2011"])
def test_two_hundred_random_paths_agree_with_a_second_program(talker: Talker) -> None:
    paths = random_paths(200, seed=60268)
    ratio, t, speech, noise = (np.array(column) for column in zip(*paths, strict=True))
    expected = [_sti(*path, talker=talker) for path in paths]
    m = with_noise_and_hearing(
        transfer_direct_plus_exponential(ratio, reverberation_time=t),
        speech_db=speech,
        noise_db=noise,
    )
    step_by_step = speech_transmission_index(m, talker=talker)
    np.testing.assert_allclose(step_by_step, expected, rtol=0, atol=1e-12)
    at_once = speech_transmission_index_of_path(
        ratio, reverberation_time=t, speech_db=speech, noise_db=noise, talker=talker
    )
    np.testing.assert_allclose(at_once, expected, rtol=0, atol=1e-12)
    assert np.ptp(expected) > 0.5


def test_many_rows_are_the_same_as_one_at_a_time() -> None:
    paths = random_paths(30, seed=7)
    ratio, _, speech, noise = (np.array(column) for column in zip(*paths, strict=True))
    t = np.array(paths[3][1])
    many = speech_transmission_index_of_path(
        np.tile(ratio, (100, 1)).reshape(50, 60, 7),  # beyond one working part
        reverberation_time=t,
        speech_db=np.tile(speech, (100, 1)).reshape(50, 60, 7),
        noise_db=np.tile(noise, (100, 1)).reshape(50, 60, 7),
    )
    assert many.shape == (50, 60)
    alone = [
        float(
            speech_transmission_index_of_path(
                ratio[k], reverberation_time=t, speech_db=speech[k], noise_db=noise[k]
            )
        )
        for k in range(30)
    ]
    np.testing.assert_allclose(many.reshape(100, 30), np.tile(alone, (100, 1)), rtol=0, atol=1e-15)
    m = np.tile(transfer_exponential(t), (9000, 1, 1))
    np.testing.assert_allclose(speech_transmission_index(m), statistical(t), rtol=0, atol=1e-15)


def test_inputs_are_left_as_they_were() -> None:
    m = np.full((3, 7, 14), 0.7)
    speech_transmission_index(m)
    modulation_transfer_index(m)
    np.testing.assert_array_equal(m, np.full((3, 7, 14), 0.7))


def test_modulation_transfer_indices_of_a_path_are_those_its_index_is_made_of() -> None:
    ratio, t, speech, noise = random_paths(2, seed=3)[1]
    mti = modulation_transfer_index_of_path(
        ratio, reverberation_time=t, speech_db=speech, noise_db=noise
    )
    assert mti.shape == (7,)
    assert speech_transmission_index_from_bands(mti) == pytest.approx(
        _sti(ratio, t, speech, noise), abs=1e-12
    )


def test_what_is_not_seven_octaves_is_refused() -> None:
    with pytest.raises(ValueError, match=r"does not end in \(7, 14\)"):
        speech_transmission_index(np.ones((7, 13)))
    with pytest.raises(ValueError, match="seven octaves"):
        speech_transmission_index_from_bands(np.ones(6))
    with pytest.raises(ValueError, match="seven octaves"):
        speech_transmission_index_of_path(
            np.ones(6), reverberation_time=np.ones(6), speech_db=np.ones(6)
        )


def test_letters_begin_at_their_published_lower_edges() -> None:
    edges, names = STI["categories"]["edges"], STI["categories"]["names"]
    assert list(CATEGORY_LETTERS) == names
    for edge, below, above in zip(edges, names[:-1], names[1:], strict=True):
        assert category_letter(edge) == above
        assert category_letter(edge - 1e-6) == below
    assert category_letter(1.0) == "A+"


def test_words_begin_at_their_published_edges() -> None:
    edges, names = STI["older_scale"]["edges"], STI["older_scale"]["names"]
    for edge, below, above in zip(edges, names[:-1], names[1:], strict=True):
        assert rating_word(edge) == above
        assert rating_word(edge - 1e-6) == below


@pytest.mark.parametrize(("sti", "percent"), WORKED["alcons"]["rows"])
def test_articulation_loss_reproduces_every_printed_digit(sti: float, percent: float) -> None:
    assert 100.0 * alcons_from_sti(sti) == pytest.approx(percent, abs=0.5e-2)


@pytest.mark.parametrize(("t", "r", "v", "q", "percent"), WORKED["alcons_peutz"]["rows"])
def test_peutz_reproduces_every_printed_digit(
    t: float, r: float, v: float, q: float, percent: float
) -> None:
    loss = alcons_peutz(t, distance=r, volume=v, directivity=q)
    assert 100.0 * loss == pytest.approx(percent, abs=0.05)


def test_peutz_grows_with_other_sources_and_the_listeners_own_loss() -> None:
    # the near law is proportional to the power ratio; both laws gain the listener's share
    near = {"distance": 3.0, "volume": 200.0, "directivity": 5.0}
    one = alcons_peutz(1.0, **near)
    assert alcons_peutz(1.0, **near, power_ratio=2.0) == pytest.approx(2.0 * one)
    assert alcons_peutz(1.0, **near, listener=0.015) == pytest.approx(one + 0.015)


@pytest.mark.parametrize(("c50", "snr", "printed"), REFERENCE["check_cases"]["u50"])
def test_useful_to_detrimental_ratio_reproduces_every_printed_digit(
    c50: float, snr: float, printed: float
) -> None:
    assert u50_db(c50, speech_to_noise_db=snr) == pytest.approx(printed, abs=0.5e-3)


# --- the second program: IEC 60268-16, plain numbers, its own tables ------------------------

_F = (0.63, 0.8, 1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0, 10.0, 12.5)
_ALPHA = {
    "male": (0.085, 0.127, 0.230, 0.233, 0.309, 0.224, 0.173),
    "female_2011": (0.0, 0.117, 0.223, 0.216, 0.328, 0.250, 0.194),
}
_BETA = {
    "male": (0.085, 0.078, 0.065, 0.011, 0.047, 0.095),
    "female_2011": (0.0, 0.099, 0.066, 0.062, 0.025, 0.076),
}
_THRESHOLD = (46.0, 27.0, 12.0, 6.5, 7.5, 8.0, 12.0)


def _masking_db(level: float) -> float:
    if level < 63.0:
        return 0.5 * level - 65.0
    if level < 67.0:
        return 1.8 * level - 146.9
    if level < 100.0:
        return 0.5 * level - 59.8
    return -10.0


def _sti(
    ratio: Sequence[float],
    t: Sequence[float],
    speech: Sequence[float],
    noise: Sequence[float],
    talker: str = "male",
) -> float:
    signal = [10.0 ** (level / 10.0) for level in speech]
    total = [s + 10.0 ** (level / 10.0) for s, level in zip(signal, noise, strict=True)]
    mti = []
    for k in range(7):
        heard = total[k] + 10.0 ** (_THRESHOLD[k] / 10.0)
        if k > 0:
            level = 10.0 * math.log10(total[k - 1])
            heard += total[k - 1] * 10.0 ** (_masking_db(level) / 10.0)
        indices = []
        for f in _F:
            tail = 1.0 / complex(1.0, 2.0 * math.pi * f * t[k] / (6.0 * math.log(10.0)))
            m = min(1.0, abs(ratio[k] + tail) / (1.0 + ratio[k])) * signal[k] / heard
            snr = (
                10.0 * math.log10(m / (1.0 - m)) if 0.0 < m < 1.0 else math.copysign(15.0, m - 0.5)
            )
            indices.append((min(15.0, max(-15.0, snr)) + 15.0) / 30.0)
        mti.append(math.fsum(indices) / len(indices))
    alpha, beta = _ALPHA[talker], _BETA[talker]
    index = math.fsum(a * x for a, x in zip(alpha, mti, strict=True))
    index -= math.fsum(b * math.sqrt(mti[k] * mti[k + 1]) for k, b in enumerate(beta))
    return min(1.0, index)
