"""Modulation transfer: closed forms, masking and threshold of IEC 60268-16."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wellheard.acoustics.modulation import (
    MODULATION_FREQUENCIES,
    RECEPTION_THRESHOLD_DB,
    masking_offset_db,
    noise_and_hearing_factor,
    transfer_direct_plus_exponential,
    transfer_exponential,
    with_noise_and_hearing,
)

DATA = Path(__file__).parents[1] / "reference"
STI: dict[str, Any] = json.loads((DATA / "reference_values.json").read_text())["sti"]


def test_modulation_frequencies_and_thresholds_are_the_published_ones() -> None:
    assert list(MODULATION_FREQUENCIES) == STI["fm_hz"]
    assert list(RECEPTION_THRESHOLD_DB) == STI["reception_threshold_db"]


def test_an_ideal_decay_has_the_low_pass_of_houtgast_and_steeneken() -> None:
    # m = 1/sqrt(2) where 2πFT = 13.8155, and the printed relation elsewhere
    t = 6.0 * np.log(10.0) / (2.0 * np.pi * np.array(MODULATION_FREQUENCIES))
    np.testing.assert_allclose(np.diagonal(transfer_exponential(t)), 2.0**-0.5)
    m = transfer_exponential([[0.4, 0.9], [1.3, 2.0]])
    assert m.shape == (2, 2, 14)
    assert m[1, 0, 8] == pytest.approx((1.0 + (2.0 * np.pi * 4.0 * 1.3 / 13.8155) ** 2) ** -0.5)


def test_direct_sound_adds_as_a_phasor() -> None:
    # rival: the complex form |g + z|/(1 + g)
    g = np.array([0.0, 0.1, 1.0, 30.0])[:, None]
    t = np.array([0.2, 0.8, 2.5])
    lag = 2.0 * np.pi * np.array(MODULATION_FREQUENCIES) * t[:, None] / (6.0 * np.log(10.0))
    z = 1.0 / (1.0 + 1j * lag)
    expected = np.abs(g[..., None] + z) / (1.0 + g[..., None])
    actual = transfer_direct_plus_exponential(g, reverberation_time=t)
    np.testing.assert_allclose(actual, expected, rtol=1e-13)


def test_without_direct_sound_the_ideal_decay_is_left_and_without_tail_nothing_is_lost() -> None:
    t = [0.3, 0.7, 1.1]
    np.testing.assert_allclose(
        transfer_direct_plus_exponential(0.0, reverberation_time=t), transfer_exponential(t)
    )
    np.testing.assert_array_equal(
        transfer_direct_plus_exponential(np.inf, reverberation_time=t), np.ones((3, 14))
    )


def test_a_summed_echogram_has_the_same_modulation_transfer() -> None:
    # rival: Schroeder's definition on a squared response sampled at 0.02 ms
    t, g, step = 0.62, 0.8, 2e-5
    time = (np.arange(100_000) + 0.5) * step
    tail = np.exp(-6.0 * np.log(10.0) * time / t)
    tail /= tail.sum()
    phase = np.exp(-2j * np.pi * np.array(MODULATION_FREQUENCIES)[:, None] * time)
    expected = np.abs(g + phase @ tail) / (1.0 + g)
    actual = transfer_direct_plus_exponential([g], reverberation_time=[t])[0]
    np.testing.assert_allclose(actual, expected, rtol=0, atol=1e-4)


@pytest.mark.parametrize(
    ("level_db", "offset_db"),
    # iec60268-16: the line's pieces and its edges, "L<63: 0.5L−65" and so on
    [(40, -45.0), (62.99, -33.505), (63, -33.5), (66, -28.1), (67, -26.3), (99.9, -9.85),
     (100, -10.0), (120, -10.0)],
)  # fmt: skip
def test_masking_follows_the_published_pieces(level_db: float, offset_db: float) -> None:
    assert masking_offset_db(level_db) == pytest.approx(offset_db, abs=1e-9)


def test_masking_comes_from_signal_plus_noise_of_the_next_lower_octave() -> None:
    speech = np.array([70.0, 60.0, 20.0, 20.0, 20.0, 20.0, 20.0])
    noise = np.full(7, -np.inf)
    noise[0] = 70.0
    factor = noise_and_hearing_factor(speech, noise_db=noise)
    lower = 70.0 + 10.0 * np.log10(2.0)
    masking = 10.0 ** ((lower + 0.5 * lower - 59.8) / 10.0)
    expected = 1e6 / (1e6 + masking + 10.0**2.7)
    assert factor[1] == pytest.approx(expected, rel=1e-12)
    assert factor[0] == pytest.approx(1e7 / (2e7 + 10.0**4.6), rel=1e-12)


def test_relative_levels_leave_hearing_out() -> None:
    # m′ = m/(1 + 10^(−SNR/10)), whatever the absolute level
    snr = np.array([20.0, 10.0, 3.0, 0.0, -3.0, -10.0, 6.0])
    for level in (-30.0, 95.0):
        actual = with_noise_and_hearing(
            np.full((7, 14), 0.8),
            speech_db=level + snr,
            noise_db=np.full(7, level),
            hearing=False,
        )
        expected = 0.8 / (1.0 + 10.0 ** (-snr / 10.0))
        np.testing.assert_allclose(actual, np.repeat(expected[:, None], 14, axis=1))


def test_silence_transfers_nothing_and_nothing_breaks() -> None:
    silent = noise_and_hearing_factor(np.full(7, -np.inf), hearing=False)
    np.testing.assert_array_equal(silent, np.zeros(7))
    np.testing.assert_array_equal(noise_and_hearing_factor(np.full(7, -np.inf)), np.zeros(7))


def test_a_measured_transfer_above_one_is_cut() -> None:
    actual = with_noise_and_hearing(
        np.full((7, 14), 1.2), speech_db=np.full(7, 60.0), hearing=False
    )
    np.testing.assert_array_equal(actual, np.ones((7, 14)))


def test_rows_broadcast_against_one_noise() -> None:
    speech = np.array([[60.0] * 7, [50.0] * 7])
    noise = np.array([45.0, 40.0, 38.0, 35.0, 30.0, 28.0, 26.0])
    m = transfer_exponential(np.full(7, 0.5))
    both = with_noise_and_hearing(m, speech_db=speech, noise_db=noise)
    assert both.shape == (2, 7, 14)
    alone = with_noise_and_hearing(m, speech_db=speech[1], noise_db=noise)
    np.testing.assert_array_equal(both[1], alone)


def test_levels_that_are_not_the_seven_octaves_are_refused() -> None:
    with pytest.raises(ValueError, match="seven octaves"):
        noise_and_hearing_factor(np.zeros(8))


LEVELS = st.lists(st.floats(0.0, 90.0), min_size=7, max_size=7)


@settings(max_examples=100, deadline=None)
@given(speech=LEVELS, noise=LEVELS, band=st.integers(0, 6), more=st.floats(0.0, 9.0))
def test_more_noise_never_raises_the_modulation_transfer_of_any_band(
    speech: list[float], noise: list[float], band: int, more: float
) -> None:
    # totals stay below 100 dB, where the published masking line itself steps down by 0.2 dB
    louder = list(noise)
    louder[band] += more
    before = noise_and_hearing_factor(speech, noise_db=noise)
    after = noise_and_hearing_factor(speech, noise_db=louder)
    assert np.all(after <= before * (1.0 + 1e-12))


@settings(max_examples=60, deadline=None)
@given(g=st.floats(0.0, 100.0), more=st.floats(0.0, 10.0), t=st.floats(0.05, 5.0))
def test_more_direct_sound_or_less_reverberation_never_lowers_it(
    g: float, more: float, t: float
) -> None:
    base = transfer_direct_plus_exponential([g], reverberation_time=[t])
    closer = transfer_direct_plus_exponential([g + more], reverberation_time=[t])
    drier = transfer_direct_plus_exponential([g], reverberation_time=[t / (1.0 + more)])
    assert np.all(closer >= base - 1e-12)
    assert np.all(drier >= base - 1e-12)
