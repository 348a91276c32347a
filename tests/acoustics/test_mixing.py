"""Automatic mixers against the law as published, by hand, and against limits."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wellheard.acoustics.mixing import (
    CLOSED_CHANNEL_DB,
    Sharing,
    channel_gains,
    gated_gains,
    mixed_re_channel,
    most_open_microphones,
    open_microphones,
    open_microphones_in_reverberation,
    shared_gains,
)

LEVELS = st.lists(st.floats(-20, 90), min_size=1, max_size=24)
KINDS: tuple[Sharing, ...] = ("gating", "gain-sharing")


@pytest.mark.parametrize("count", [1, 2, 3, 8, 16])
def test_equal_inputs_share_the_power_equally(count: int) -> None:
    # Dugan 1975 [M]: in common room noise each of N channels is 10·lg N dB down.
    gains = shared_gains([47.0] * count)
    assert 10 * np.log10(gains) == pytest.approx([-10 * math.log10(count)] * count)


def test_two_talkers_3_db_apart_come_out_6_db_apart() -> None:
    # Worked in the handbooks' account of the law: a channel that is 3 dB louder gets 3 dB more.
    levels_db = np.array([60.0, 57.0])
    out_db = levels_db + 10 * np.log10(shared_gains(levels_db))
    assert out_db[0] - out_db[1] == pytest.approx(6.0)


def test_a_loud_channel_is_open_and_the_others_are_down_by_what_they_lack() -> None:
    # By hand: 60, 50, 50: sum 60.79 dB; −0.79, −10.79, −10.79 dB.
    found = 10 * np.log10(shared_gains([60.0, 50.0, 50.0]))
    assert found == pytest.approx([-0.792, -10.792, -10.792], abs=5e-4)


@given(LEVELS)
def test_shared_power_gains_add_up_to_one(levels_db: list[float]) -> None:
    gains = shared_gains(levels_db)
    assert gains.sum() == pytest.approx(1.0)
    assert np.all((gains >= 0.0) & (gains <= 1.0))
    # Only differences of level count.
    assert shared_gains(np.array(levels_db) + 7.0) == pytest.approx(gains)


@given(LEVELS)
def test_the_bound_holds_for_every_talker_and_is_reached(levels_db: list[float]) -> None:
    loudest = int(np.argmax(levels_db))
    for kind in KINDS:
        most = most_open_microphones(len(levels_db), sharing=kind)
        found = open_microphones(levels_db, channel=loudest, sharing=kind)
        assert 1.0 - 1e-12 <= found <= most + 1e-9
        alike = open_microphones([50.0] * len(levels_db), channel=0, sharing=kind)
        assert alike == pytest.approx(most)


@given(LEVELS)
def test_the_count_is_that_of_weighing_every_channel(levels_db: list[float]) -> None:
    # Two ways: the number of open microphones, and the sum over channels of even noise.
    loudest = int(np.argmax(levels_db))
    even = np.ones((len(levels_db), 7))
    for kind in KINDS:
        gains = channel_gains(levels_db, sharing=kind)
        summed = mixed_re_channel(gains, even, channel=loudest)
        found = open_microphones(levels_db, channel=loudest, sharing=kind)
        assert summed == pytest.approx(np.full(7, float(found)))


def test_a_gate_holds_closed_channels_down_by_the_usual_depth() -> None:
    # Common practice: 12 to 20 dB [C]; by hand 1 + 9·10^−1.5 = 1.2846.
    assert -20.0 <= CLOSED_CHANNEL_DB <= -12.0
    assert most_open_microphones(10, sharing="gating") == pytest.approx(1.2846, abs=1e-4)
    assert gated_gains([[50.0, 60.0], [60.0, 60.0]]).argmax(axis=-1).tolist() == [1, 0]


def test_a_silent_channel_takes_no_share() -> None:
    assert shared_gains([-np.inf, 55.0]).tolist() == [0.0, 1.0]


def test_many_talkers_at_once_are_one_array() -> None:
    levels_db = np.random.default_rng(1).uniform(30, 70, (5, 3, 4))
    channel = levels_db.argmax(axis=-1)
    found = open_microphones(levels_db, channel=channel, sharing="gain-sharing")
    assert found.shape == (5, 3)
    assert found[2, 1] == pytest.approx(
        float(open_microphones(levels_db[2, 1], channel=channel[2, 1], sharing="gain-sharing"))
    )
    assert open_microphones(levels_db, channel=channel, sharing="gating").shape == (5, 3)


def test_a_noisy_closed_channel_counts_by_its_noise() -> None:
    noise = np.ones((2, 7))
    noise[1] = 100.0  # 20 dB more, under an outlet
    found = mixed_re_channel(gated_gains([60.0, 50.0]), noise, channel=0)
    assert found == pytest.approx([1 + 100 * 10**-1.5] * 7)


@given(st.floats(1e-3, 1e3), st.integers(1, 20))
def test_in_reverberation_alone_the_count_is_that_of_the_levels(ratio: float, count: int) -> None:
    # Two ways: levels of D + R at one microphone and R at the others.
    levels_db = 10 * np.log10(np.array([ratio + 1.0] + [1.0] * (count - 1)))
    expected = open_microphones(levels_db, channel=0, sharing="gain-sharing")
    assert open_microphones_in_reverberation(ratio, count=count) == pytest.approx(float(expected))
