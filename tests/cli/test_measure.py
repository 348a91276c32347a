"""``wellheard measure``: single files and whole sessions, as text and as JSON."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from tests.cli.conftest import Wellheard
from tests.cli.recorded import RATE, write_session
from wellheard.measurement import audio

DECAY = 0.4
"""Of the response that is written [s]."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("measured") / "first"
    write_session(folder)
    return folder


@pytest.fixture(scope="module")
def tone(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A calibrator: 1 kHz at an rms of 0.1."""
    path = tmp_path_factory.mktemp("tone") / "tone.wav"
    time = np.arange(4 * RATE) / RATE
    path.write_bytes(audio.wav_bytes(0.1 * 2**0.5 * np.sin(2000 * np.pi * time), RATE))
    return path


def test_a_response_is_told_in_the_fields_that_stay(wellheard: Wellheard, folder: Path) -> None:
    ended = wellheard("measure", folder / "near.wav", "--format", "json")
    assert (ended.code, ended.err) == (0, "")
    said = json.loads(ended.out)
    # The fields of the interface, and the decay that was rendered, within five deviations of
    # ISO 3382-2, clause 7 [L]: σ(T20) = 0.88·T·√((1 + 1.90/n)/(N·B·T)), B = 0.71 f, n = 10, N = 1.
    assert said["bands"] == [125, 250, 500, 1000, 2000, 4000, 8000]
    for octave, time in list(zip(said["bands"], said["t20"], strict=True))[2:]:
        sigma = 0.88 * DECAY * ((1 + 0.19) / (0.71 * octave * DECAY)) ** 0.5
        assert time == pytest.approx(DECAY, abs=5 * sigma)
    assert set(said) >= {"t30", "edt", "c50_db", "d50", "sti", "onset", "range_db", "warnings"}
    assert said["onset"] == pytest.approx(0.01, abs=1e-4)  # 480 samples at 48 kHz
    assert said["polarity"] == 1


def test_one_file_as_text_says_what_it_holds(wellheard: Wellheard, folder: Path) -> None:
    said = wellheard("measure", folder / "near.wav").out
    assert "T20 s" in said
    assert "no noise, no level" in said


def test_noise_beside_a_calibrator_has_its_level(
    wellheard: Wellheard, tone: Path, tmp_path: Path
) -> None:
    """94 dB at an rms of 0.1: a tone of half that rms is 6.02 dB lower, and A-weights nothing."""
    quiet = tmp_path / "quiet.wav"
    time = np.arange(8 * RATE) / RATE
    quiet.write_bytes(audio.wav_bytes(0.05 * 2**0.5 * np.sin(2000 * np.pi * time), RATE))
    asked = ("measure", quiet, "--kind", "noise", "--calibrator", tone, "--format", "json")
    said = json.loads(wellheard(*asked).out)
    assert said["calibrated"]
    assert said["levels_db"]["1000"] == pytest.approx(94 - 6.02, abs=0.05)
    assert said["dba"] == pytest.approx(87.98, abs=0.1)


def test_several_files_are_told_by_name(wellheard: Wellheard, folder: Path) -> None:
    near, far = folder / "near.wav", folder / "far.wav"
    said = json.loads(wellheard("measure", near, far, "--format", "json").out)
    assert list(said["results"]) == [str(near), str(far)]


def test_a_session_has_every_recording_its_means_and_what_is_not_there(
    wellheard: Wellheard, folder: Path
) -> None:
    ended = wellheard("measure", folder, "--format", "json")
    assert ended.code == 0
    said = json.loads(ended.out)
    assert list(said["results"]) == [
        "a-m1", "b-m1", "far-a", "noise-m1", "noise-a", "speech-m1"
    ]  # fmt: skip
    assert said["refused"] == {"later": "not recorded yet"}
    assert said["mean"]["t20"]["values"][3] == pytest.approx(DECAY, rel=0.1)
    assert said["calibration"]["cal"]["pascal_per_unit"] > 0
    text = wellheard("measure", folder / "session.yaml").out
    assert "Mean over places" in text
    assert "later: not recorded yet" in text


def test_an_octave_that_is_silent_has_no_level_in_json(
    wellheard: Wellheard, tmp_path: Path
) -> None:
    """A click of one sample in silence does not stand out of nothing; noise has no 8 kHz octave."""
    click = np.zeros(2 * RATE)
    click[RATE] = 0.5
    low = np.fft.rfft(np.random.default_rng(3).standard_normal(16 * 8000))
    low[len(low) // 8 :] = 0.0
    files = {
        "click.wav": (click, RATE, "impulse-response"),
        "low.wav": (0.01 * np.fft.irfft(low), 8000, "noise"),
    }
    for name, (samples, rate, kind) in files.items():
        (tmp_path / name).write_bytes(audio.wav_bytes(samples, rate))
        ended = wellheard("measure", tmp_path / name, "--kind", kind, "--format", "json")
        assert (ended.code, ended.err) == (0, "")
        json.loads(ended.out, parse_constant=pytest.fail)


def test_a_session_in_text_has_levels_rated_and_means_by_octave(
    wellheard: Wellheard, folder: Path
) -> None:
    said = wellheard("measure", folder).out
    noise = next(line for line in said.splitlines() if line.startswith("noise-a"))
    assert "dBA, " in noise
    assert "NC" in noise
    head = next(line for line in said.splitlines() if line.startswith("octave "))
    assert head.split()[1:5] == ["125", "Hz", "250", "Hz"]
    assert max(map(len, said.splitlines())) <= 100


def test_a_point_is_told_in_the_units_of_the_session(wellheard: Wellheard, tmp_path: Path) -> None:
    samples = 1e-3 * np.random.default_rng(1).standard_normal(2 * RATE)
    (tmp_path / "a.wav").write_bytes(audio.wav_bytes(samples, RATE))
    (tmp_path / "session.yaml").write_text(
        "wellheard_session: 1\nunits: ft\n"
        "recordings: {quiet: {file: a.wav, kind: noise, to: [8, 4.5, 4]}}\n"
    )
    assert "8'-0\" / 4'-6\" / 4'-0\"" in wellheard("measure", tmp_path).out


def test_a_sweep_as_it_was_recorded_is_not_taken_for_a_response(
    wellheard: Wellheard, tmp_path: Path
) -> None:
    wellheard("sweep", "-o", tmp_path / "sweep.wav", "--rate", "16000", "--to", "8000")
    ended = wellheard("measure", tmp_path / "sweep.wav")
    assert ended.code == 1
    said = ended.out
    assert "no impulse response" in said
    assert "T20" not in said


def test_one_broken_file_stops_no_other(wellheard: Wellheard, tmp_path: Path) -> None:
    folder = tmp_path / "second"
    write_session(folder)
    (folder / "loud.wav").write_text("no sound")
    ended = wellheard("measure", folder, "--format", "json")
    said = json.loads(ended.out)
    assert ended.code == 1
    assert "loud.wav" in said["refused"]["speech-m1"]
    assert "a-m1" in said["results"]


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (("near.wav", "--seconds", "3"), "--seconds: is of --kind sweep, not of impulse-"),
        (("near.wav", "--kind", "sweep", "--from", "5"), "--from: 5 is too small"),
        (("near.wav", "--far", "far.wav"), "--far: is of --kind echo"),
        (("near.wav", "--calibrator", "quiet.wav"), "--calibrator: is of --kind noise or speech"),
        (("quiet.wav", "--kind", "noise", "--loopback", "2"), "--loopback: is of --kind sweep or"),
        (("quiet.wav", "--kind", "noise", "--level", "94"), "add --calibrator"),
        (("quiet.wav", "--kind", "noise", "--full-scale", "1e9"), "--full-scale: 1e+09 is too"),
        (
            ("quiet.wav", "--kind", "noise", "--calibrator", "loud.wav", "--level", "4"),
            "--level: 4 is too small; at least 60",
        ),
        (("near.wav", "--kind", "echo", "--far", "far.wav", "--loopback", "2"), "one of them"),
        (("near.wav", "--kind", "sweep", "--repeats", "99"), "--repeats: "),
        (("near.wav", "--channel", "3"), "channel 3 of a file with one channel"),
        (("near.wav", "--kind", "echo"), "what the far end sent is not there"),
        (("near.wav", "--kind", "noise", "--meter", "quiet.wav"), "--meter and --dba: give both"),
        (
            ("near.wav", "--kind", "noise", "--full-scale", "9", "--calibrator", "quiet.wav"),
            "one of them",
        ),
        ((".", "--kind", "noise"), "give it alone, without --kind"),
        ((".", "--channel", "2"), "give it alone, without --channel"),
        ((".", "near.wav"), "give it alone, without near.wav"),
        (("nowhere.wav",), "nowhere.wav"),
    ],
)
def test_what_cannot_be_measured_is_said_in_one_line(
    wellheard: Wellheard,
    folder: Path,
    monkeypatch: pytest.MonkeyPatch,
    asked: tuple[str, ...],
    said: str,
) -> None:
    monkeypatch.chdir(folder)
    ended = wellheard("measure", *asked)
    assert ended.code == 2
    assert ended.out == ""
    assert said in ended.err
    assert len(ended.err.splitlines()) == 1


def test_what_waits_for_one_reason_is_told_together(wellheard: Wellheard, tmp_path: Path) -> None:
    samples = 1e-3 * np.random.default_rng(1).standard_normal(2 * RATE)
    (tmp_path / "a.wav").write_bytes(audio.wav_bytes(samples, RATE))
    (tmp_path / "session.yaml").write_text(
        "wellheard_session: 1\n"
        "recordings: {a: {file: a.wav, kind: noise}, b: {file: b.wav, kind: noise},"
        " c: {file: c.wav, kind: noise}}\n"
    )
    said = wellheard("measure", tmp_path).out
    assert said.endswith("Not measured\n    b, c: not recorded yet\n")
