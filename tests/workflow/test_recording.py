"""Recording with a sound card, whose library is a stand-in here: no test needs one."""

from __future__ import annotations

import builtins
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
import soundfile

from wellheard.errors import InputError, UsageError
from wellheard.workflow import recording

Sound = npt.NDArray[np.float64]
RATE = 16000


class Refusal(Exception):
    """What the stand-in raises, as the library has an error of its own."""


class Cards:
    """A sound card whose input is joined to its output, over a quiet hum of nothing."""

    PortAudioError = Refusal

    def __init__(self, *, refuses: str = "", inputs: tuple[int, ...] = (0, 2, 8)) -> None:
        self.refuses, self.inputs = refuses, inputs
        self.asked: list[dict[str, Any]] = []

    def query_devices(self) -> Sequence[dict[str, Any]]:
        """Devices with the library's own keys."""
        names = ("Ceiling out", "Desk in", "Rack in and out")
        return [
            {
                "name": name,
                "max_input_channels": inputs,
                "max_output_channels": 2,
                "default_samplerate": float(RATE),
            }
            for name, inputs in zip(names, self.inputs, strict=True)
        ]

    def check_input_settings(self, **settings: Any) -> None:
        """Refuse everything, or nothing."""
        if self.refuses:
            raise Refusal(self.refuses)

    def rec(self, frames: int, **settings: Any) -> Sound:
        """Record noise."""
        self.asked.append({"frames": frames, **settings})
        shape = (frames, settings["channels"])
        return 0.01 * np.random.default_rng(5).standard_normal(shape)

    def playrec(self, data: Sound, **settings: Any) -> Sound:
        """Record noise and what is played, at half its level."""
        return self.rec(len(data), **settings) + 0.5 * data


def test_what_was_asked_for_is_asked_of_the_card_and_comes_back() -> None:
    cards = Cards()
    found = recording.record(cards, seconds=1.5, device="desk", channels=2)
    assert found.samples.shape == (24000, 2)
    assert (found.rate, found.seconds) == (RATE, 1.5)
    (asked,) = cards.asked
    assert asked == {
        "frames": 24000,
        "samplerate": RATE,
        "channels": 2,
        "dtype": "float32",
        "device": 1,
        "blocking": True,
    }


def test_a_signal_is_played_after_a_moment_and_recorded_to_its_end(tmp_path: Path) -> None:
    file = tmp_path / "click.wav"
    click = np.zeros(RATE)
    click[0] = 0.8
    soundfile.write(file, click, RATE, subtype="PCM_24")
    found = recording.record(Cards(), play=file)
    assert found.seconds == pytest.approx(0.5 + 1.0 + 1.0)
    assert int(np.argmax(found.samples[:, 0])) == RATE // 2
    assert max(found.samples[:, 0]) == pytest.approx(0.4, abs=0.05)
    (peak,) = found.peaks_db
    assert peak == pytest.approx(-8.0, abs=1.0)  # 20·lg 0.4


def test_a_recording_cut_shorter_than_the_signal_ends_within_it(tmp_path: Path) -> None:
    file = tmp_path / "noise.wav"
    soundfile.write(file, np.full(RATE, 0.2), RATE, subtype="PCM_24")
    found = recording.record(Cards(), play=file, seconds=0.75)
    assert found.seconds == 0.75


@pytest.mark.parametrize("ending", ["wav", "FLAC"])
def test_a_recording_is_kept_to_the_last_bit(tmp_path: Path, ending: str) -> None:
    samples = np.array([[0.5, -1.0], [1.0, 2.0**-23], [0.0, -0.25]])
    path = tmp_path / f"take.{ending}"
    recording.save(recording.Recorded(samples, 48000.0, ()), path)
    read, rate = soundfile.read(path)
    assert rate == 48000
    assert soundfile.info(path).subtype == "PCM_24"
    # full scale of 24 bit ends one step below 1
    np.testing.assert_array_equal(read, np.minimum(samples, 1 - 2.0**-23))
    with pytest.raises(InputError, match="exists already"):
        recording.save(recording.Recorded(samples, 48000.0, ()), path)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"seconds": 1.0, "device": "in"}, "several devices of that name; one of: 1 Desk in, 2"),
        ({"seconds": 1.0, "device": "0"}, "no device that records of that name; one of: 1 Desk"),
        ({"seconds": 1.0, "device": "tuba"}, "no device that records of that name"),
    ],
)
def test_a_device_that_is_none_or_several_is_said_with_those_there_are(
    asked: dict[str, Any], said: str
) -> None:
    with pytest.raises(InputError, match=said):
        recording.record(Cards(), **asked)


@pytest.mark.parametrize("seconds", [None, 0.0, -1.0, 601.0, float("nan")])
def test_how_long_is_said_and_bounded(seconds: float | None) -> None:
    with pytest.raises(UsageError, match="--seconds"):
        recording.record(Cards(), seconds=seconds)


def test_what_the_card_refuses_is_said_in_its_words() -> None:
    with pytest.raises(InputError, match="the usual device: Invalid sample rate; another device"):
        recording.record(Cards(refuses="Invalid sample rate"), seconds=1.0, rate=12345.0)


def test_without_an_input_there_is_nothing_to_record_with() -> None:
    with pytest.raises(InputError, match="no device that records; plug one in"):
        recording.record(Cards(inputs=(0, 0, 0)), seconds=1.0)


def test_a_clipped_recording_says_so_at_once(tmp_path: Path) -> None:
    loud = tmp_path / "loud.wav"
    sine = 0.9 * np.sin(2 * np.pi * 100 * np.arange(RATE) / RATE)
    soundfile.write(loud, sine, RATE, subtype="PCM_24")

    class Hot(Cards):
        def playrec(self, data: Sound, **settings: Any) -> Sound:
            return np.clip(1.5 * data, -1.0, 1.0)

    found = recording.record(Hot(), play=loud)
    assert "clipping" in {fault.code for fault in found.faults}


@pytest.mark.parametrize(
    "error", [ImportError("no module"), OSError("PortAudio library not found")]
)
def test_what_is_missing_is_named_with_how_to_install_it(
    error: Exception, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = builtins.__import__

    def refusing(name: str, *args: Any, **kwargs: Any) -> Any:
        if name == "sounddevice":
            raise error
        return real(name, *args, **kwargs)

    monkeypatch.delitem(sys.modules, "sounddevice", raising=False)
    monkeypatch.setattr(builtins, "__import__", refusing)
    with pytest.raises(InputError, match=r"pip install 'wellheard\[sound\]'.*libportaudio2"):
        recording.sound_cards()


def test_devices_have_their_numbers_and_channels() -> None:
    found = recording.devices(Cards())
    assert [(one.number, one.inputs, one.outputs) for one in found] == [
        (0, 0, 2),
        (1, 2, 2),
        (2, 8, 2),
    ]
