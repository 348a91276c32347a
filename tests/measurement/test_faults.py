"""Faults put into clean signals are named with their figures; clean signals have none.

Each fault's size and place is what was put in. What counts as clean is common practice: sweeps,
steady noise, a talker with pauses, few bits with dither, music.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache

import numpy as np
import pytest

from tests.oracle.echoes import decaying, played, speech_like
from wellheard.arrays import Array
from wellheard.measurement.faults import of_recording, of_response, of_sweep
from wellheard.measurement.results import Fault
from wellheard.measurement.session import SweepSignal
from wellheard.measurement.signals import pink_noise, speech_noise, sweep

RATE = 16000.0
SIGNAL = SweepSignal(seconds=3.0, silence=1.5, to_hz=7000.0, rate=RATE)
REPEATED = SweepSignal(seconds=1.0, silence=0.3, repeats=4, to_hz=7000.0, rate=RATE)
TIME = np.arange(round(6.0 * RATE)) / RATE


def rounded(samples: Array, bits: int = 16, *, dither: bool = True) -> Array:
    """As a converter stores it, with triangular dither of two steps."""
    rng = np.random.default_rng(1)
    scale = 2.0 ** (bits - 1)
    noise = rng.random(len(samples)) - rng.random(len(samples)) if dither else 0.0
    return np.round(samples * scale + noise) / scale


@cache
def pink(level_dbfs: float = -30.0) -> Array:
    return pink_noise(6.0, RATE, level_dbfs=level_dbfs, seed=4)


@cache
def voice() -> Array:
    speech = speech_like(3, 6.0, rate=RATE)
    return 0.5 * speech / np.abs(speech).max()


def with_pauses() -> Array:
    """Digital silence between words, faded in and out within 10 ms."""
    open_ = np.ones(len(TIME))
    for begin in (1.0, 2.2, 3.1, 4.7):
        open_[round(begin * RATE) : round((begin + 0.3) * RATE)] = 0.0
    fade = np.hanning(round(0.02 * RATE))
    envelope = np.convolve(open_, fade / fade.sum(), "same")
    return voice() * np.where(envelope < 1e-9, 0.0, envelope)


def hiss() -> Array:
    return np.random.default_rng(6).standard_normal(len(sweep(SIGNAL)))


def square(frequency: float = 110.0) -> Array:
    """With all its harmonics below half the rate, as a converter would give it."""
    harmonics = range(1, int(0.45 * RATE / frequency), 2)
    return 0.4 * sum((np.sin(2 * np.pi * frequency * k * TIME) / k for k in harmonics), 0.0 * TIME)


def overdriven() -> Array:
    """Music through a stage that saturates softly."""
    chord = sum(np.sin(2.0 * np.pi * f * TIME) for f in (98.0, 146.83, 196.0, 246.94))
    return 0.3 * np.tanh(2.0 * np.asarray(chord))


@cache
def room(seed: int = 1) -> Array:
    return decaying(seed, rate=RATE, time=0.5, direct=1.0)


def reflections() -> Array:
    response = np.zeros(8000)
    response[[100, 400, 700, 1300]] = 1.0, 0.5, -0.4, 0.3
    return response


def codes(found: tuple[Fault, ...]) -> dict[str, str]:
    return {fault.code: fault.severity for fault in found}


CLEAN: dict[str, tuple[Callable[[], Array], int | None]] = {
    "sweep": (lambda: sweep(SIGNAL), None),
    "sweep, 16 bit": (lambda: rounded(sweep(SIGNAL), dither=False), 16),
    "sweep, 24 bit": (lambda: rounded(sweep(SIGNAL), 24, dither=False), 24),
    "sweeps, repeated": (lambda: rounded(sweep(REPEATED), 24, dither=False), 24),
    "sweep in a room": (lambda: played(sweep(SIGNAL), 0.5 * room()), None),
    "pink noise": (pink, None),
    "speech-shaped noise": (
        lambda: speech_noise(3.0, 32000.0, level_dbfs=-24.0, seed=1)[::2],
        None,
    ),
    "voice": (voice, None),
    "voice with pauses": (with_pauses, None),
    "voice with pauses, 16 bit": (lambda: rounded(with_pauses(), dither=False), 16),
    "pink noise at −40 dB, 16 bit": (lambda: rounded(pink(-40.0)), 16),
    "sweep at −40 dB, 16 bit": (lambda: rounded(10.0 ** (-28 / 20) * sweep(SIGNAL)), 16),
    "voice at −40 dB, 16 bit": (lambda: rounded(0.1 * voice()), 16),
    "slow sine, 16 bit": (lambda: rounded(0.01 * np.sin(46 * np.pi * TIME), dither=False), 16),
    "sine at 1 kHz": (lambda: 0.5 * np.sin(2000.0 * np.pi * TIME), 24),
    "square wave": (square, None),
    "overdriven music": (overdriven, None),
    "bass at 49 Hz": (lambda: 0.3 * np.sin(2.0 * np.pi * 49.0 * TIME) + pink(-50.0), None),
    "response": (lambda: np.concatenate([np.zeros(500), 0.5 * room(), np.zeros(3000)]), 24),
    "response of few reflections": (reflections, None),
}


@pytest.mark.practice
@pytest.mark.parametrize("name", list(CLEAN))
def test_clean_signals_raise_no_alarm(name: str) -> None:
    make, bits = CLEAN[name]
    rate = 32000.0 if name == "speech-shaped noise" else RATE
    assert of_recording(make(), rate, bits=bits) == ()


@pytest.mark.parametrize(
    ("make", "at"),
    [
        (lambda: np.clip(pink(-14.0), -0.5, 0.5), "−6.0 dB"),
        (lambda: np.clip(sweep(SIGNAL), -0.24, 0.24), "−12.4 dB"),  # below full scale
        (lambda: rounded(np.clip(sweep(SIGNAL), -0.24, 0.24)), "−12.4 dB"),
        (lambda: np.clip(8.0 * voice(), -1.0, 0.99), "0.0 dB"),
        (lambda: 0.05 * np.clip(4.0 * overdriven(), -0.5, 0.5), "−32.0 dB"),  # turned down later
        # a stage before the recorder, whose noise lies on the flat tops
        (lambda: np.clip(sweep(SIGNAL), -0.2, 0.2) + 1e-5 * hiss(), "−14.0 dB"),
    ],
    ids=["noise", "sweep", "sweep with dither", "both sides", "turned down", "analogue"],
)
def test_flat_tops_are_clipping(make: Callable[[], Array], at: str) -> None:
    found = of_recording(make(), RATE, bits=None)
    assert codes(found) == {"clipping": "error"}
    assert at in found[0].message
    assert "gain" in found[0].remedy


def test_a_little_clipping_is_a_warning() -> None:
    loud = voice()
    top = np.sort(np.abs(loud))[-40]
    assert codes(of_recording(np.clip(loud, -top, top), RATE, bits=None)) == {"clipping": "warning"}


def humming(mains: float, level: float) -> Array:
    parts = ((1, 1.0), (2, 0.4), (3, 0.6))
    return level * sum((a * np.sin(2 * np.pi * mains * k * TIME) for k, a in parts), 0.0 * TIME)


# grids stray by 0.2 Hz at most in ordinary operation; common practice
@pytest.mark.parametrize(
    ("mains", "named"), [(50.0, "50"), (49.85, "50"), (60.0, "60"), (60.1, "60")]
)
@pytest.mark.parametrize("over", [pink, lambda: 0.4 * voice(), lambda: 0.0 * TIME])
def test_hum_names_its_mains(mains: float, named: str, over: Callable[[], Array]) -> None:
    found = of_recording(over() + humming(mains, 0.03), RATE, bits=None)
    assert codes(found) == {"hum": "warning"}
    assert f"hum of {named} Hz mains: {named}," in found[0].message
    # by hand: 0.03²/2 × (1 + 0.16 + 0.36) is −31.6 dB
    assert "−32 dB re full scale" in found[0].message or "−31 dB" in found[0].message


def test_hum_is_found_under_a_sweep_and_is_a_note_where_it_is_small() -> None:
    clean = played(sweep(SIGNAL), 0.5 * room())
    strong = clean + humming(50.0, 0.004)[: len(clean)]
    assert codes(of_recording(strong, RATE, bits=None)) == {"hum": "warning"}
    weak = clean + humming(50.0, 0.0003)[: len(clean)]
    assert codes(of_recording(weak, RATE, bits=None)) == {"hum": "note"}


def gap(samples: Array, value: float | None, *, first: int = 33000, count: int = 48) -> Array:
    """Lost samples in whose place there is a value, or the last one again."""
    lost = samples.copy()
    lost[first : first + count] = lost[first - 1] if value is None else value
    return lost


@pytest.mark.parametrize("value", [0.0, None, 0.001])
@pytest.mark.parametrize("make", [pink, voice, lambda: rounded(pink(-50.0))])
def test_gaps_inside_sound_are_dropouts(make: Callable[[], Array], value: float | None) -> None:
    found = of_recording(gap(make(), value), RATE, bits=None)
    assert codes(found) == {"dropout": "warning"}
    assert "one gap inside sound, 3." in found[0].message
    assert "the first at 2.06" in found[0].message


def test_many_gaps_spoil_a_recording() -> None:
    lost = pink()
    for first in range(10000, 90000, 8000):
        lost = gap(lost, 0.0, first=first)
    found = of_recording(lost, RATE, bits=None)
    assert codes(found) == {"dropout": "error"}
    assert "10 gaps" in found[0].message


def test_samples_left_out_of_a_smooth_signal_are_a_jump() -> None:
    lost = np.delete(sweep(SIGNAL), np.arange(12000, 12111))
    found = of_recording(rounded(lost, dither=False), RATE, bits=16)
    assert codes(found) == {"jump": "warning"}
    assert "0.750 s" in found[0].message  # sample 12000


@pytest.mark.parametrize(("offset", "severity"), [(0.01, "note"), (-0.1, "warning")])
def test_a_constant_is_an_offset(offset: float, severity: str) -> None:
    found = of_recording(pink() + offset, RATE, bits=None)
    assert codes(found) == {"offset": severity}
    assert f"{100.0 * offset:+.1f} %".replace("-", "−") in found[0].message


@pytest.mark.parametrize("samples", [np.zeros(16000), np.full(16000, 0.25), np.zeros(0)])
def test_one_value_is_silence(samples: Array) -> None:
    assert codes(of_recording(samples, RATE, bits=16)) == {"silence": "error"}


@pytest.mark.parametrize(
    ("level_dbfs", "bits", "severity", "said"),
    [
        # −91 dB is 10^(−91/20) × 32768 = 0.92 steps, with those of rounding √(0.92² + 1/12) = 0.96
        (-91.0, 16, "error", "1.0 steps of 16 bits"),
        (-81.0, 16, "warning", "of 16 bits"),
        (-100.0, 24, "warning", "−100 dB"),
        (-100.0, None, "warning", "−100 dB"),
    ],
)
def test_few_bits_are_too_quiet(
    level_dbfs: float, bits: int | None, severity: str, said: str
) -> None:
    quiet = pink(-30.0) * 10.0 ** ((level_dbfs + 30.0) / 20.0)
    if bits is not None:
        quiet = rounded(quiet, bits, dither=False)
    found = of_recording(quiet, RATE, bits=bits)
    assert codes(found)["too-quiet"] == severity
    assert said in next(fault.message for fault in found if fault.code == "too-quiet")


def test_a_dead_channel_is_named_and_the_others_are_looked_at() -> None:
    both = np.stack([pink(), np.zeros(len(TIME)), pink() + 0.1], axis=1)
    found = of_recording(both, RATE, bits=None)
    assert codes(found) == {"dead-channel": "warning", "offset": "warning"}
    assert "channel 2 is silent, of 3" in found[0].message
    assert found[1].message.startswith("channel 3: ")
    assert codes(of_recording(np.zeros((100, 2)), RATE, bits=None)) == {"silence": "error"}
    assert of_recording(pink()[:, None], RATE, bits=None) == ()


LATE = 0.5  # the recorder was started so long before [s]


@cache
def recorded(signal: SweepSignal = SIGNAL, *, noise: float = 0.0) -> Array:
    silence = np.zeros(round(LATE * RATE))
    heard = played(np.concatenate([silence, sweep(signal)]), 0.5 * room())
    return heard + noise * np.random.default_rng(2).standard_normal(len(heard))


@pytest.mark.parametrize("signal", [SIGNAL, REPEATED], ids=["one", "repeated"])
@pytest.mark.parametrize("noise", [0.0, 1e-4, 1e-2])
def test_a_whole_sweep_has_no_fault(signal: SweepSignal, noise: float) -> None:
    assert of_sweep(recorded(signal, noise=noise), signal, RATE) == ()
    assert of_sweep(sweep(signal), signal, RATE) == ()  # a loop-back, from its first sample


def test_a_recorder_of_another_rate_is_no_fault() -> None:
    at_48 = SweepSignal(seconds=2.0, silence=1.0)
    slower = sweep(at_48.model_copy(update={"rate": 44100.0}))
    assert of_sweep(slower, at_48, 44100.0) == ()


def second(time: float) -> int:
    return round(time * RATE)


def test_a_late_start_says_what_is_missing() -> None:
    found = of_sweep(recorded()[second(LATE + 1.0) :], SIGNAL, RATE)
    assert codes(found) == {"late-start": "warning"}
    # f1·e^(t/L) with L = round(50 × 3/ln 140)/50 = 0.6 s: 50 × e^(1/0.6) = 264.7 Hz
    assert "1.00 s after" in found[0].message
    assert "265 Hz" in found[0].message


def test_an_early_end_says_what_is_missing() -> None:
    found = of_sweep(recorded()[: second(LATE + 2.0)], SIGNAL, RATE)
    assert codes(found) == {"cut-off": "error"}
    # 0.6 × ln 140 = 2.965 s long, of which 0.965 s are missing: above 50 × e^(2/0.6) = 1401.6 Hz
    assert "0.97 s before" in found[0].message
    assert "140" in found[0].message


@pytest.mark.parametrize(("tail", "severity"), [(0.5, "warning"), (0.04, "error")])
def test_a_short_tail_is_named(tail: float, severity: str) -> None:
    length = 0.6 * math.log(140.0)
    found = of_sweep(recorded()[: second(LATE + length + tail)], SIGNAL, RATE)
    assert codes(found) == {"short-tail": severity}
    assert f"{tail:.2f} s after" in found[0].message


def test_of_repeats_the_whole_ones_are_counted() -> None:
    heard = recorded(REPEATED)
    late = of_sweep(heard[second(LATE + 0.5) :], REPEATED, RATE)
    assert codes(late) == {"late-start": "warning"}
    assert "3 of 4 sweeps are whole" in late[0].message
    early = of_sweep(heard[: second(LATE + 3 * 1.3 + 0.4)], REPEATED, RATE)
    assert codes(early) == {"cut-off": "warning"}
    assert "3 of 4 sweeps are whole" in early[0].message


def test_a_sweep_in_noise_is_named_and_none_is_not_found() -> None:
    assert codes(of_sweep(recorded(noise=0.3), SIGNAL, RATE)) == {"sweep-in-noise": "warning"}
    for samples in (pink(), np.zeros(80000), 0.1 * voice()):
        assert codes(of_sweep(samples, SIGNAL, RATE)) == {"no-sweep": "error"}


def dying(time: float, *, floor: float = 0.0) -> Array:
    """Noise that falls by 60 dB in a time, over noise that stays."""
    samples = np.random.default_rng(9).standard_normal(round((2.0 + time) * RATE))
    t = np.arange(len(samples)) / RATE
    return samples * (10.0 ** (-3.0 * t / time) + floor)


@pytest.mark.parametrize(
    ("samples", "found"),
    [
        (sweep(SIGNAL), {"no-response": "error"}),
        (pink_noise(6.0, RATE, level_dbfs=-30.0, seed=4), {"no-response": "error"}),
        # a hall and a church: 10 dB less after a sixth of 2.2 s and of 8 s
        (dying(0.3), {}),
        (dying(2.2, floor=0.1), {}),
        (dying(8.0), {}),
        (np.zeros(3), {}),
    ],
)
def test_sound_that_does_not_die_away_is_no_impulse_response(
    samples: Array, found: dict[str, str]
) -> None:
    assert codes(of_response(samples, RATE)) == found
