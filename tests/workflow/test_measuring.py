"""A whole session on all cores: nothing lost, nothing mixed up, progress told, stoppable."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml

from wellheard.measurement import audio, taking
from wellheard.measurement.session import Recording, Session
from wellheard.measurement.taken import Taken
from wellheard.workflow import measuring

RATE = 16000
COUNT = 60


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Sixty recordings of tones, each 0.5 dB louder than the one before."""
    folder = tmp_path_factory.mktemp("session")
    time = np.arange(RATE // 2) / RATE
    recordings = {}
    for number in range(COUNT):
        loud = 1e-3 * 10.0 ** (0.5 * number / 20.0)
        samples = loud * np.sin(2000 * np.pi * time)
        (folder / f"{number}.wav").write_bytes(audio.wav_bytes(samples, RATE))
        recordings[f"r-{number}"] = {"file": f"{number}.wav", "kind": "noise"}
    form = {"wellheard_session": 1, "recordings": recordings}
    (folder / "session.yaml").write_text(yaml.safe_dump(form, sort_keys=False))
    return folder


@pytest.mark.parametrize("workers", [1, 4])
def test_sixty_recordings_have_each_their_own_answer(folder: Path, workers: int) -> None:
    said: list[str] = []
    found = measuring.measure_session(folder, say=said.append, workers=workers)
    assert list(found.taken) == [f"r-{number}" for number in range(COUNT)]
    levels = [one.levels_db[1000.0] for one in found.noises.values()]
    # A tone of amplitude a has the level 20·lg(a/√2), so neighbours are 0.5 dB apart.
    assert levels[0] == pytest.approx(-63.01, abs=0.05)
    assert np.diff(levels) == pytest.approx(0.5, abs=0.01)
    assert len(said) == COUNT
    assert said[-1].startswith("60 of 60 recordings: ")


def test_recordings_are_worked_on_at_the_same_time(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each of two waits for the other: one after the other they would wait for ever."""
    both = threading.Barrier(2, timeout=20.0)
    real = taking.take

    def meeting(recording: Recording, session: Session, path: Path, **rest: Any) -> Taken:
        both.wait()
        return real(recording, session, path, **rest)

    monkeypatch.setattr(measuring, "take", meeting)
    assert len(measuring.measure_session(folder, workers=2).taken) == COUNT


def test_who_stops_it_waits_for_no_other_recording(folder: Path) -> None:
    seen: list[str] = []

    def stop(line: str) -> None:
        seen.append(line)
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        measuring.measure_session(folder, say=stop, workers=2)
    assert len(seen) == 1


def test_as_many_at_a_time_as_there_are_processors() -> None:
    assert 1 <= measuring.cores() <= 4096
