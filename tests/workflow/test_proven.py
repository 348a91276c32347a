"""Publishing with a session: from files in a folder to what the documents say of them.

The response is a direct sound over noise that falls by 60 dB in half a second, by the definition of
the decay time; what it is measured as is held to the documents, not to the measurement.
"""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
import yaml

from tests.proving.given import ROOM
from wellheard.cli.publish import publish as publish_command
from wellheard.dossier.proven import Proven
from wellheard.errors import InputError
from wellheard.measurement.audio import wav_bytes
from wellheard.proving.verdict import Compared
from wellheard.room.document import Room
from wellheard.workflow import design, publish
from wellheard.workflow.edition import edition_of
from wellheard.workflow.load import Loaded, load
from wellheard.workflow.manifest import MANIFEST
from wellheard.workflow.proven import found_at, prove_session

RATE, DECAY = 48000.0, 0.5
SESSION = """\
wellheard_session: 1
title: Nook, first session
date: 2026-04-14
by: A. Teal
occupancy: 0.5
calibration:
  desk: {full_scale_db: 94}
instruments:
  - {name: Measuring microphone, serial: "77"}
recordings:
  s1-m1: {file: s1-m1.wav, kind: impulse-response, from: s1, to: m1}
  s2-m1: {file: s2-m1.wav, kind: impulse-response, from: s2, to: m1}
  corner: {file: corner.wav, kind: impulse-response, from: [5.0, 0.6, 1.5], to: [0.9, 3.9, 1.2]}
  quiet: {file: quiet.wav, kind: noise, to: s2, calibration: desk}
  later: {file: later.wav, kind: noise, to: s1, calibration: desk}
"""


def response(seed: int, ratio: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """A click over decaying noise, their energies in a ratio, and some noise that stays."""
    count = int(1.8 * RATE)
    noise = np.random.default_rng(seed).standard_normal(count)
    late = noise * 10.0 ** (-3.0 * np.arange(count) / RATE / DECAY)
    late *= np.sqrt(1.0 / ratio / np.sum(late**2))
    late[0] = 1.0
    floor = 2e-5 * np.random.default_rng(seed + 50).standard_normal(count + 480)
    return 0.5 * np.concatenate([np.zeros(480), late]) + floor


@pytest.fixture(scope="module")
def session(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("nook")
    (folder / "session.yaml").write_text(SESSION)
    for seed, name in enumerate(("s1-m1", "s2-m1", "corner")):
        (folder / f"{name}.wav").write_bytes(wav_bytes(response(seed, 2.0), RATE))
    quiet = 0.003 * np.random.default_rng(9).standard_normal(int(4 * RATE))
    (folder / "quiet.wav").write_bytes(wav_bytes(quiet, RATE))
    return folder


@pytest.fixture(scope="module")
def nook(tmp_path_factory: pytest.TempPathFactory, few_rays: None) -> Loaded:
    file = tmp_path_factory.mktemp("room") / "nook.room.yaml"
    file.write_text(yaml.safe_dump(ROOM, sort_keys=False))
    return load(file)


@pytest.fixture(scope="module")
def proven(nook: Loaded, session: Path) -> Proven:
    return prove_session(nook, session)


@pytest.fixture(scope="module")
def judged(nook: Loaded) -> design.Judged:
    return design.predict(nook)


@pytest.fixture(scope="module")
def made(nook: Loaded, judged: design.Judged, proven: Proven) -> publish.Made:
    edition = edition_of("customer,installer,commissioning")
    return publish.made(nook, judged, proven=proven, edition=edition)


@pytest.fixture(scope="module")
def text(made: publish.Made) -> str:
    document = pypdfium2.PdfDocument(made.files["dossier.pdf"])
    return "".join(document[n].get_textpage().get_text_bounded() for n in range(len(document)))


def test_verdict_and_charts_are_among_the_files(made: publish.Made, proven: Proven) -> None:
    charts = {name for name in made.files if name.startswith("measured/")}
    assert charts == {
        f"measured/{stem}.svg"
        for stem in ("verdict-map", "decay", "decay-curves", "modulation", "noise")
    }
    found = json.loads(made.files["verdict.json"])
    assert found["word"] == proven.verdict.word
    assert [row["word"] for row in found["rows"]] == [row.word for row in proven.verdict.rows]


def test_the_decay_that_was_recorded_is_the_one_that_is_printed(
    made: publish.Made, text: str
) -> None:
    """Half a second in every octave, within 5 %: class of engineering of ISO 3382-2 [M]."""
    decays = json.loads(made.files["verdict.json"])["decays"]
    middle = [d["measured"] for d in decays if 500 <= d["octave"] <= 4000]
    assert middle == pytest.approx([DECAY] * 4, rel=0.05)
    for value in middle:
        assert f"{value:.2f}" in text


def test_the_title_block_says_when_it_was_measured(made: publish.Made) -> None:
    for name in ("plan.svg", "section.svg"):
        svg = made.files[name].decode()
        assert "measured 2026-04-14" in svg
        assert "not yet measured" not in svg


def test_plan_and_sheet_are_filled_in(text: str) -> None:
    assert "Cells are filled in as far as a session of measurement has them" in text
    assert "A. Teal" in text
    assert "2026-04-14" in text


def test_a_recording_that_is_not_there_yet_is_said_to_be_missing(
    made: publish.Made, proven: Proven
) -> None:
    assert set(proven.results.refused) == {"later"}
    (told,) = (s for s in made.dossier.sections if s.title == "What was measured")
    assert any("later" in str(block) for block in told.blocks)


def test_modulation_is_predicted_for_every_way_out_and_for_no_other(proven: Proven) -> None:
    assert set(proven.predicted_modulation) == {"s1-m1", "s2-m1"}
    for rows in proven.predicted_modulation.values():
        assert np.shape(rows) == (7, 14)


def test_the_command_writes_the_same_bytes_under_a_manifest_that_covers_them(
    nook: Loaded,
    judged: design.Judged,
    proven: Proven,
    session: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr("wellheard.workflow.proven.prove_session", lambda *_, **__: proven)
    monkeypatch.setattr(design, "predict", lambda _: judged)
    out, file = tmp_path / "out", Path(nook.document.name)
    code = publish_command(file, output=out, readers="commissioning", session=session)
    assert code == (1 if judged.errors or proven.verdict.word == "broken" else 0)
    said = "the promise is broken" in capsys.readouterr().err
    assert said == (proven.verdict.word == "broken")
    edition = edition_of("commissioning")
    wanted = publish.made(nook, judged, proven=proven, edition=edition).files
    there = {p.relative_to(out).as_posix(): p for p in out.rglob("*") if p.is_file()}
    listed = json.loads(there.pop(MANIFEST).read_text())["files"]
    assert set(listed) == set(wanted) == set(there)
    assert all(there[name].read_bytes() == data for name, data in wanted.items())
    assert {"measured/decay.svg", "verdict.json"} <= set(listed)


def test_a_session_that_is_not_there_is_refused_before_anything_is_written(
    nook: Loaded, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    with pytest.raises(InputError, match="session"):
        publish_command(Path(nook.document.name), output=out, session=tmp_path / "none")
    assert not out.exists()


def test_of_several_rows_the_worst_word_marks_a_place_with_its_least_chance() -> None:
    room = Room.model_validate(ROOM)
    plain = Compared(
        "sti_outbound", "s1", "", (0.6, None), 0.7, 0.1, None, 0.7, 0.1, 0.99, "kept", "", "", ()
    )
    rows = (
        dataclasses.replace(plain, place="s2", chance=0.04, word="broken"),
        dataclasses.replace(plain, place="s2"),
        plain,
        dataclasses.replace(plain, chance=0.93),
        dataclasses.replace(plain, place="m1", chance=0.0, word="broken"),
    )
    found = found_at(room, rows)
    assert {name: (one.word, one.figure.replace("\u00a0", " ")) for name, one in found.items()} == {
        "s1": ("kept", "93 %"),
        "s2": ("broken", "4 %"),
    }
    unknown = dataclasses.replace(plain, chance=None, word="cannot tell")
    assert found_at(room, (plain, unknown))["s1"].figure == "–"
