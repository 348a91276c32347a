"""``wellheard calibrate``: from recordings of decaying noise to a document that rings like them."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml

from wellheard.cli.app import run
from wellheard.measurement import audio
from wellheard.room import codec
from wellheard.room.document import Room
from wellheard.workflow.as_built import Built, as_built
from wellheard.workflow.load import load

pytestmark = pytest.mark.usefixtures("few_rays")

RATE = 48000
TIME = 0.6
"""Of every octave [s]."""

SEATS = {"s1": {"at": [2, 1.5], "facing": 0}, "s2": {"at": [4, 3], "facing": 180}}
DEVICES = {"m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [3, 2.25, 2.7]}}


@pytest.fixture(scope="module")
def rung(tmp_path_factory: pytest.TempPathFactory, room_of: Callable[..., Room]) -> Path:
    """A folder with a document, and a session of four responses that fall by 60 dB in 0.6 s.

    Each is noise under an exponential, by the definition of the decay time.
    """
    folder = tmp_path_factory.mktemp("rung")
    session = folder / "nook.sessions" / "day-1"
    session.mkdir(parents=True)
    rng = np.random.default_rng(3)
    time = np.arange(int(1.2 * RATE)) / RATE
    recordings: dict[str, Any] = {}
    for number in range(4):
        noise = rng.normal(size=len(time)) * 10 ** (-3.0 * time / TIME)
        samples = np.concatenate([np.zeros(480), 0.2 * noise])
        (session / f"r{number}.wav").write_bytes(audio.wav_bytes(samples, RATE, bits=24))
        recordings[f"r{number}"] = {"file": f"r{number}.wav", "kind": "impulse-response"}
    form = {"wellheard_session": 1, "date": "2026-11-20", "occupancy": 0, "recordings": recordings}
    form["climate"] = {"temperature_c": 20, "humidity": 0.5}
    (session / "session.yaml").write_text(yaml.safe_dump(form, sort_keys=False), "utf-8")
    hard = {"finishes": {"ceiling": "ceiling-plasterboard"}}
    people = {"seats": SEATS, "occupancy": 0.5}
    room = room_of({"space": hard, "people": people, "devices": DEVICES})
    written = codec.dump(room).replace("wellheard: 1\n", "wellheard: 1  # the nook\n", 1)
    (folder / "nook.room.yaml").write_text(written, "utf-8")
    return folder


@pytest.fixture(scope="module")
def built(rung: Path) -> Built:
    return as_built(load(rung / "nook.room.yaml"), rung / "nook.sessions" / "day-1")


def test_the_document_rings_as_the_recordings_do(built: Built) -> None:
    """0.6 s in each octave, to the chance of four responses and the model's own 4 to 6 %."""
    for decay in built.found.decays[1:6]:
        assert decay.measured == pytest.approx(TIME, rel=0.08)
        assert decay.after == pytest.approx(TIME, rel=0.12)
        assert abs(decay.before - TIME) > abs(decay.after - TIME)


def test_the_answer_says_what_it_does_to_the_promise(built: Built) -> None:
    comparison = built.comparison
    assert {one.path for one in comparison.changes} >= {"space.finishes.ceiling"}
    assert not any(one.path.startswith(("basis", "history")) for one in comparison.changes)
    seats = {one.id: one for one in comparison.seats}
    assert seats.keys() == {"s1", "s2"}
    for seat in seats.values():  # less reverberation, more intelligible
        assert seat.before is not None
        assert seat.after is not None
        assert seat.after.sti.value > seat.before.sti.value


def test_the_command_writes_the_document_and_says_what_it_did(
    rung: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    fresh = tmp_path / "built.room.yaml"
    room, session = str(rung / "nook.room.yaml"), str(rung / "nook.sessions" / "day-1")
    assert run(["calibrate", room, session, "-o", str(fresh)]) == 0
    captured = capsys.readouterr()
    assert captured.out == ""
    for said in ("T20 [s]", "as built", "decided", "cannot tell", "only their sum", "STI"):
        assert said in captured.err
    text = fresh.read_text("utf-8")
    assert "# the nook" in text
    loaded = load(fresh).room
    assert loaded.basis["space.finishes"] == "measured"
    assert loaded.history["as-built-day-1"]["session"] == "day-1"


def test_as_json_it_is_figures_throughout(rung: Path, capsys: pytest.CaptureFixture[str]) -> None:
    room, session = str(rung / "nook.room.yaml"), str(rung / "nook.sessions" / "day-1")
    assert run(["calibrate", room, session, "--format", "json"]) == 0
    found = json.loads(capsys.readouterr().out)["calibration"]
    assert found["bands"] == [125, 250, 500, 1000, 2000, 4000, 8000]
    names = {group["name"] for group in found["groups"]}
    assert "ceiling" in names
    for group in found["groups"]:
        assert all(0.01 <= value <= 0.99 for value in group["after"])
        assert all(0 <= share <= 1 for share in group["decided"])
    assert {"promise", "changes", "new_findings", "gone_findings"} <= found["changed"].keys()


def test_a_session_without_a_decay_writes_nothing(
    rung: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "session.yaml").write_text("wellheard_session: 1\nrecordings: {}\n", "utf-8")
    fresh = tmp_path / "built.room.yaml"
    room = str(rung / "nook.room.yaml")
    assert run(["calibrate", room, str(tmp_path), "-o", str(fresh)]) == 2
    assert "record sweeps from two places" in capsys.readouterr().err
    assert not fresh.exists()
