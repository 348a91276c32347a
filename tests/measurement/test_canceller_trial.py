"""Trials of cancellers whose loss, convergence and harm in double talk are known.

The truth is that of the signals that were put together: what an attenuation was set to and when,
what a canceller left of the echo alone, and what became of a talker.
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest

from tests.oracle import echoes
from wellheard.acoustics.canceller import cancel_echo
from wellheard.arrays import Array
from wellheard.measurement.canceller_trial import trial
from wellheard.measurement.results import CancellerResult

RATE = 16000.0
BEGINS = 0.5  # the far end [s]
LOSS_DB = 6.0  # of the echo path


def second(time: float) -> int:
    return round(time * RATE)


def level(signal: Array) -> float:
    return 10.0 * math.log10(float(np.mean(np.square(signal))))


def far_end(*, speech: bool, lasting: float = 10.0, seed: int = 7) -> Array:
    make = echoes.speech_like if speech else echoes.white
    signal = 0.1 * make(seed, lasting, rate=RATE)
    signal[: second(BEGINS)] = 0.0
    return signal


def echo_of(far: Array, *, late: float = 0.02) -> Array:
    response = echoes.decaying(2, rate=RATE, time=0.3, direct=1.0, late=late)
    return echoes.played(far, 10.0 ** (-LOSS_DB / 20.0) * response)


def hiss(count: int, size: float = 1e-5) -> Array:
    return size * np.random.default_rng(5).standard_normal(count)


def switched(far: Array, added: float, at: float, *, late: float = 0.02) -> Array:
    """Echo that is weakened by so much from a time on."""
    gain = np.where(np.arange(len(far)) < second(at), 1.0, 10.0 ** (-added / 20.0))
    return echo_of(far, late=late) * gain + hiss(len(far))


def codes(found: CancellerResult) -> dict[str, str]:
    return {fault.code: fault.severity for fault in found.faults}


@pytest.mark.parametrize("speech", [False, True], ids=["noise", "speech"])
@pytest.mark.parametrize(("added", "at"), [(30.0, 3.0), (20.0, 2.5), (40.0, 4.2)])
def test_an_attenuation_is_found_with_its_time(speech: bool, added: float, at: float) -> None:
    far = far_end(speech=speech)
    found = trial(far, switched(far, added, at), RATE)
    assert found.before_db == pytest.approx(LOSS_DB, abs=1.0)
    assert found.added_db == pytest.approx(added, abs=1.0)
    assert found.after_db == pytest.approx(LOSS_DB + added, abs=1.0)
    assert found.converged == pytest.approx(at - BEGINS, abs=0.2)
    assert codes(found) == {"no-double-talk": "note"}


@pytest.mark.parametrize("late", [0.0, 0.02, 0.35, 0.8])
def test_the_delay_of_the_echo_is_found_and_taken_out(late: float) -> None:
    far = far_end(speech=True, seed=3)
    found = trial(far, switched(far, 25.0, 3.0 + late, late=late), RATE)
    assert found.added_db == pytest.approx(25.0, abs=1.0)
    assert found.converged == pytest.approx(2.5, abs=0.2)


def test_a_far_end_that_was_recorded_late_is_brought_back() -> None:
    far = far_end(speech=False)
    early = switched(far, 25.0, 3.0)[second(0.1) :]
    found = trial(far[: len(early)], early, RATE)
    assert found.added_db == pytest.approx(25.0, abs=1.0)
    assert found.converged == pytest.approx(2.5, abs=0.2)


def test_the_curve_is_the_return_loss_over_time() -> None:
    far = far_end(speech=False)
    curve = trial(far, switched(far, 30.0, 4.0), RATE).curve
    early = [loss for time, loss in curve if 1.0 <= time <= 3.5]
    late = [loss for time, loss in curve if time >= 4.1]
    assert early == pytest.approx([LOSS_DB] * len(early), abs=1.0)
    assert late == pytest.approx([LOSS_DB + 30.0] * len(late), abs=1.0)
    assert curve[0][0] == pytest.approx(BEGINS, abs=0.1)
    assert len(early) > 40


@pytest.mark.parametrize("speech", [False, True], ids=["noise", "speech"])
def test_a_running_canceller_is_measured_as_its_residual_says(speech: bool) -> None:
    far = far_end(speech=speech)
    echo = echo_of(far)
    left = cancel_echo(far, echo + hiss(len(far)), rate=RATE, tail=0.2).residual
    found = trial(far, left, RATE)
    end = slice(second(7.0), None)
    # what an onlooker who sees the echo alone computes, also while words fade
    room = 2.0 if speech else 1.0
    assert found.after_db == pytest.approx(level(far[end]) - level(left[end]), abs=room)
    enhancement = level(echo[end]) - level(left[end])
    assert found.added_db is not None
    # it has learned some in the first 0.1 s, which then counts as the room's
    assert enhancement - 2.5 < found.added_db < enhancement + 1.0
    assert found.converged is not None
    after = slice(second(BEGINS + found.converged), second(BEGINS + found.converged + 1.0))
    then = level(far[after]) - level(left[after])
    assert then == pytest.approx(enhancement + LOSS_DB - 3.0, abs=2.5)


ALONE, BOTH = (11.0, 13.0), (14.0, 16.0)


@cache
def far_with_a_pause() -> tuple[Array, Array]:
    """Far end, and its echo."""
    far = far_end(speech=True, lasting=20.0, seed=8)
    far[second(10.0) : second(13.0)] = 0.0
    return far, echo_of(far)


def double_talk(kept: float = 0.0, worse: float = 0.0) -> tuple[Array, Array]:
    """Far end and what was sent: the same words alone and over the far end, weakened there.

    The canceller takes 30 dB; after double talk its echo is louder.
    """
    far, echo = far_with_a_pause()
    words = 0.03 * echoes.speech_like(9, 2.0, rate=RATE)
    talk = np.zeros(len(far))
    talk[second(ALONE[0]) : second(ALONE[1])] = words
    talk[second(BOTH[0]) : second(BOTH[1])] = 10.0 ** (kept / 20.0) * words
    time = np.arange(len(far)) / RATE
    gain = np.where(
        time < 2.0, 1.0, np.where(time < BOTH[0], 10.0**-1.5, 10.0 ** (worse / 20 - 1.5))
    )
    return far, echo * gain + talk + hiss(len(far))


@pytest.mark.parametrize("kept", [0.0, -3.0, -12.0])
def test_what_is_lost_of_the_near_end_in_double_talk_is_found(kept: float) -> None:
    found = trial(*double_talk(kept), RATE, near_alone=ALONE, both=BOTH)
    assert found.double_talk_kept_db == pytest.approx(kept, abs=1.0)
    assert found.added_db == pytest.approx(30.0, abs=1.0)
    assert codes(found) == {}


@pytest.mark.parametrize("kept", [0.0, -6.0, -12.0])
def test_double_talk_is_found_by_levels(kept: float) -> None:
    found = trial(*double_talk(kept), RATE)
    assert found.double_talk_kept_db == pytest.approx(kept, abs=1.0)
    assert found.added_db == pytest.approx(30.0, abs=1.0)
    assert codes(found) == {"found-both": "note", "found-near-alone": "note"}


@pytest.mark.parametrize(
    ("near_alone", "both"), [(ALONE, (14.0, 14.6)), ((11.0, 11.5), BOTH), (ALONE, (30.0, 40.0))]
)
def test_less_than_a_second_of_double_talk_tells_nothing(
    near_alone: tuple[float, float], both: tuple[float, float]
) -> None:
    found = trial(*double_talk(), RATE, near_alone=near_alone, both=both)
    assert found.double_talk_kept_db is None
    told = {fault.code: fault for fault in found.faults}["no-double-talk"]
    assert ("near_alone" in told.message) is (near_alone != ALONE)
    assert "session.yaml" in told.remedy


def test_spans_that_were_found_say_what_to_write() -> None:
    told = {fault.code: fault.remedy for fault in trial(*double_talk(), RATE).faults}
    assert told["found-near-alone"].startswith("write near_alone: [10.9")
    assert "13.0" in told["found-near-alone"]
    assert told["found-both"].startswith("write both: [13.")


@pytest.mark.parametrize("worse", [0.0, 10.0])
def test_echo_after_double_talk_is_that_over_before(worse: float) -> None:
    found = trial(*double_talk(worse=worse), RATE, near_alone=ALONE, both=BOTH)
    assert found.double_talk_echo_db == pytest.approx(worse, abs=1.0)


def test_noise_of_the_near_end_is_taken_from_the_loss_and_bounds_it() -> None:
    far = far_end(speech=False)
    clean = switched(far, 30.0, 3.0)
    # residual −20 − 36 = −56 dB; noise as loud is taken away, noise 20 dB louder is not
    alike = trial(far, clean + hiss(len(far), 10.0**-3.0), RATE)
    assert alike.after_db == pytest.approx(36.0, abs=1.0)
    loud = trial(far, clean + hiss(len(far), 10.0**-1.8), RATE)
    assert codes(loud)["echo-in-noise"] == "warning"
    assert loud.after_db is not None
    assert loud.after_db < 36.0


def nothing_told(found: CancellerResult) -> bool:
    return (
        found.before_db is None
        and found.after_db is None
        and found.added_db is None
        and found.converged is None
        and found.double_talk_kept_db is None
        and found.double_talk_echo_db is None
        and found.curve == ()
    )


def talker(seed: int, lasting: float = 10.0) -> Array:
    return 0.1 * echoes.speech_like(seed, lasting, rate=RATE)


@pytest.mark.parametrize(
    ("far", "near", "code"),
    [
        (np.zeros(second(10.0)), talker(1), "no-far-end"),
        (talker(1), hiss(second(10.0)), "no-echo"),
        (talker(1), talker(2), "no-echo"),  # the near end is louder than any echo
        (talker(1)[: second(1.5)], talker(1)[: second(1.5)], "no-far-end-alone"),
        (np.zeros(0), np.zeros(0), "no-far-end-alone"),
    ],
    ids=["no far end", "no echo", "near end only", "short", "empty"],
)
def test_what_cannot_be_told_is_refused(far: Array, near: Array, code: str) -> None:
    found = trial(far, near, RATE)
    assert nothing_told(found)
    assert codes(found) == {code: "error"}
    assert found.faults[0].remedy


def test_a_far_end_that_never_talks_alone_is_refused() -> None:
    far, sent = double_talk()
    found = trial(far, sent, RATE, both=(0.0, 20.0))
    assert nothing_told(found)
    assert codes(found)["no-far-end-alone"] == "error"


def test_a_near_end_that_talks_all_the_time_makes_the_loss_a_bound() -> None:
    far = far_end(speech=True, lasting=12.0)
    for begin in (3.0, 5.5, 8.0, 10.0):
        far[second(begin) : second(begin + 1.2)] = 0.0
    near = switched(far, 20.0, 2.0) + 0.2 * talker(4, 12.0)
    assert codes(trial(far, near, RATE)).get("near-end-talks") == "warning"


def test_a_canceller_that_adds_nothing_is_said_to() -> None:
    far = far_end(speech=False)
    found = trial(far, echo_of(far), RATE)
    assert found.added_db == pytest.approx(0.0, abs=1.0)
    assert found.converged is None
    assert codes(found)["nothing-added"] == "note"


def test_near_speech_under_the_echo_is_not_told() -> None:
    far, sent = double_talk(kept=-45.0)
    found = trial(far, sent, RATE, near_alone=ALONE, both=BOTH)
    assert found.double_talk_kept_db is None
    assert codes(found)["near-end-drowned"] == "warning"
