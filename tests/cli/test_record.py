"""``record``: what it prints, writes and refuses, with a stand-in for the sound card."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
import soundfile

from tests.workflow.test_recording import RATE, Cards
from wellheard.workflow import recording

if TYPE_CHECKING:
    from tests.cli.conftest import Wellheard


@pytest.fixture
def _cards(monkeypatch: pytest.MonkeyPatch) -> None:
    """Put the stand-in where the library is asked for."""
    monkeypatch.setattr(recording, "sound_cards", Cards)


@pytest.mark.usefixtures("_cards")
def test_a_recording_is_written_and_told(wellheard: Wellheard, tmp_path: Path) -> None:
    path = tmp_path / "take.wav"
    ended = wellheard("record", "-o", path, "--seconds", "2")
    assert ended.code == 0
    assert "2.0 s at 16000 Hz, loudest −" in ended.out
    assert soundfile.info(path).frames == 2 * RATE
    again = wellheard("record", "-o", path, "--seconds", "2")
    assert again.code == 2
    assert "exists already; name another file, or add --force" in again.err


@pytest.mark.usefixtures("_cards")
def test_cautions_come_before_anything_is_played(wellheard: Wellheard, tmp_path: Path) -> None:
    signal = tmp_path / "signal.wav"
    soundfile.write(signal, 0.1 * np.sin(np.arange(RATE)), RATE, subtype="PCM_24")
    ended = wellheard("record", "-o", tmp_path / "take.flac", "--play", signal, "--format", "json")
    assert "turn the amplifier all the way down" in ended.err
    answer = json.loads(ended.out)
    assert answer["rate"] == RATE
    assert answer["seconds"] == pytest.approx(2.5)


@pytest.mark.usefixtures("_cards")
def test_devices_are_listed(wellheard: Wellheard) -> None:
    ended = wellheard("record", "--devices", "--format", "json")
    assert [one["name"] for one in json.loads(ended.out)["devices"]] == [
        "Ceiling out",
        "Desk in",
        "Rack in and out",
    ]
    assert "Desk in" in wellheard("record", "--devices").out


@pytest.mark.usefixtures("_cards")
@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (("--seconds", "1"), "--output: not given"),
        (("-o", "take.mp3", "--seconds", "1"), "ends in .wav or .flac"),
        (("-o", "take.wav"), "--seconds: not given"),
    ],
)
def test_what_is_left_out_is_asked_for(
    wellheard: Wellheard,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    asked: tuple[str, ...],
    said: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    ended = wellheard("record", *asked)
    assert ended.code == 2
    assert said in ended.err
    assert list(tmp_path.iterdir()) == []
