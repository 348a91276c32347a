"""A session held against its room, for a page: what is told of a decay that is known beforehand.

The recording is noise under an exponential decay, whose reverberation time is its own by definition
(60 dB, ISO 3382-1 [M]); how the promise is then decided is a comparison of two figures.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
import soundfile

from tests.proving.given import ROOM
from wellheard.room import codec
from wellheard.room.document import Room
from wellheard.workflow import proved, session_text
from wellheard.workflow.load import Loaded, load

RATE = 16000
DECAY = 0.9
"""Longer than the 0.6 s that are promised. [s]"""
FEWER = {**ROOM, "devices": {}, "targets": {"reverberation": 0.6, "noise_nc": 35}}


@dataclass(frozen=True)
class Measured:
    """A room, the folder of its session, and what was said while it was proved."""

    loaded: Loaded
    folder: Path
    found: proved.Proved
    said: list[str]


def session(home: Path) -> Path:
    """A session with three decays in the room, and a recording that was never made."""
    rng = np.random.default_rng(11)
    time = np.arange(int(1.7 * RATE)) / RATE
    lines = []
    for number in range(3):
        response = 0.1 * rng.standard_normal(len(time)) * 10 ** (-3 * time / DECAY)
        response[:160], response[160] = 0.0, 0.7
        response += 2e-6 * rng.standard_normal(len(time))
        soundfile.write(home / f"r{number}.wav", response, RATE, subtype="PCM_24")
        at = (
            f"{{file: r{number}.wav, kind: impulse-response, from: s1, to: [{number + 2}, 3, 1.2]}}"
        )
        lines.append(f"  r{number}: {at}")
    lines.append("  quiet: {file: quiet.wav, kind: noise, to: s1}")
    text = "wellheard_session: 1\ndate: 2026-11-26\nrecordings:\n" + "\n".join(lines) + "\n"
    (home / "session.yaml").write_text(text, "utf-8")
    return home


@pytest.fixture(scope="module")
def measured(tmp_path_factory: pytest.TempPathFactory, few_rays: None) -> Measured:
    """Prove it once for all tests here."""
    home = tmp_path_factory.mktemp("nook")
    path = home / "nook.room.yaml"
    codec.save(path, codec.dump(Room.model_validate(FEWER)))
    folder = home / "nook.sessions" / "hand-over"
    folder.mkdir(parents=True)
    session(folder)
    loaded, said = load(path), list[str]()
    found = proved.prove_task(
        text=loaded.document.text, path=str(path), folder=str(folder), say=said.append
    )
    return Measured(loaded, folder, found, said)


def test_the_longer_decay_breaks_the_promise_and_stands_first(measured: Measured) -> None:
    first = measured.found.rows[0]
    cells = dict(zip(measured.found.head, first.cells, strict=True))
    assert (first.word, first.state, measured.found.state) == ("broken", "broken", "broken")
    assert cells["Quantity"] == "decay time"
    value = float(cells["Measured"].partition(" ")[0])
    assert value == pytest.approx(DECAY, rel=0.05)


def test_what_is_not_decided_says_what_would_decide_it(measured: Measured) -> None:
    open_ = [row for row in measured.found.rows if row.word == "cannot tell"]
    assert open_
    for row in open_:
        assert row.state == "at risk"
        assert row.said.endswith(".")


def test_every_chart_is_a_picture_on_both_sheets(measured: Measured) -> None:
    stems = [chart.stem for chart in measured.found.charts]
    assert "verdict-map" in stems
    assert len(stems) == len(set(stems)) > 2
    for chart in measured.found.charts:
        assert set(chart.svg) == {"white", "slate"}
        assert chart.svg["white"] != chart.svg["slate"]
        for drawn in chart.svg.values():
            assert ElementTree.fromstring(drawn).tag.endswith("svg")


def test_a_recording_that_was_never_made_is_told(measured: Measured) -> None:
    words = "\n".join("\n".join(row) for one in measured.found.measured for row in one.rows)
    assert "quiet" in words
    assert any("quiet" in note for note in measured.found.notes)


def test_progress_counts_the_recordings(measured: Measured) -> None:
    assert any(line.startswith("3 of 3 recordings") for line in measured.said)


def test_the_answer_is_that_of_the_command(measured: Measured) -> None:
    answer = json.loads(measured.found.answer)
    assert answer["word"] == "broken"
    assert len(answer["rows"]) == len(measured.found.rows)


def test_a_verdict_is_of_its_document_and_its_session_alone(measured: Measured) -> None:
    loaded, folder = measured.loaded, measured.folder
    assert proved.is_of(measured.found, loaded, folder)
    before = (folder / "session.yaml").read_bytes()
    session_text.settle(folder, {"occupancy": 0.25})
    assert not proved.is_of(measured.found, loaded, folder)
    (folder / "session.yaml").write_bytes(before)
    assert proved.is_of(measured.found, loaded, folder)
    assert not proved.is_of(measured.found, loaded, folder.parent)
