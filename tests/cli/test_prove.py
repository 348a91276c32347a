"""``wellheard prove``: a real folder of recordings held against a room, in text and JSON."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
import yaml

from tests.cli.conftest import Wellheard
from tests.cli.recorded import write_session
from tests.cli.shapes import VERDICT, faults
from wellheard.workflow.load import document_hash

ROOM = Path(__file__).parents[1] / "cases" / "rooms" / "there-and-back.room.yaml"


@pytest.fixture(scope="module")
def day(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A session of the room; not to be changed."""
    folder = tmp_path_factory.mktemp("measured") / "day"
    write_session(folder)
    return folder


@pytest.fixture
def amended(day: Path, tmp_path: Path) -> Callable[..., Path]:
    """Give the function that makes the same session with some of its fields replaced."""

    def made(**over: object) -> Path:
        for file in day.glob("*.wav"):
            (tmp_path / file.name).symlink_to(file)
        form = yaml.safe_load((day / "session.yaml").read_text("utf-8"))
        (tmp_path / "session.yaml").write_text(
            yaml.safe_dump({**form, **over}, sort_keys=False), "utf-8"
        )
        return tmp_path

    return made


def test_the_answer_has_the_promised_fields(wellheard: Wellheard, day: Path) -> None:
    ended = wellheard("prove", ROOM, day, "--format", "json")
    assert faults(ended.json, VERDICT) == []
    assert ended.json["session"] == "day"
    assert ended.code == (1 if ended.json["word"] == "broken" else 0)
    measured = {
        (r["quantity"], r["place"]) for r in ended.json["rows"] if r["measured"] is not None
    }
    assert {
        ("sti_outbound", "a"),
        ("direct_to_reverberant_db", "b"),
        ("speech_to_noise_db", "a"),
        ("sti_inbound", "a"),
        ("noise_nc", "a"),
    } <= measured


def test_the_report_reads_worst_first_and_says_what_would_decide(
    wellheard: Wellheard, day: Path
) -> None:
    ended = wellheard("prove", ROOM, day)
    assert "There and Back" in ended.out.splitlines()[0]
    words = re.findall(r"^\[.\] (broken|cannot tell|kept) ", ended.out, re.M)
    assert words == sorted(words, key=["broken", "cannot tell", "kept"].index)
    assert "→ Record a sweep from c at the output of m1." in ended.out
    assert "later: not recorded yet." in ended.out
    assert max(map(len, ended.out.splitlines())) <= 110
    assert ended.err == ""


def test_a_broken_promise_ends_with_one(wellheard: Wellheard, day: Path, tmp_path: Path) -> None:
    strict = tmp_path / "strict.room.yaml"
    text = ROOM.read_text("utf-8").replace("playback_level_dba: 68", "sti_outbound: 0.97")
    strict.write_text(text, "utf-8")
    ended = wellheard("prove", strict, day)
    assert ended.code == 1
    assert "the promise is broken" in ended.out.splitlines()[0]


def test_another_document_than_was_measured_is_said(
    wellheard: Wellheard, amended: Callable[..., Path]
) -> None:
    said = wellheard("prove", ROOM, amended(room="dead-beef"), "--format", "json").json["notes"]
    own = document_hash(ROOM.read_text("utf-8"))
    assert said[0].startswith(f"The session was taken of document dead-beef; this one is {own}")


def test_the_document_that_was_measured_is_known_by_its_first_letters(
    wellheard: Wellheard, amended: Callable[..., Path]
) -> None:
    own = document_hash(ROOM.read_text("utf-8"))
    for said in (own, own.replace("-", "")[:6]):
        folder = amended(room=said)
        answer = wellheard("prove", ROOM, folder, "--format", "json").json
        assert not any("was taken of document" in note for note in answer["notes"])
        for file in folder.iterdir():
            file.unlink()


def test_a_document_is_the_one_that_was_measured_after_it_names_the_session(
    wellheard: Wellheard, amended: Callable[..., Path], tmp_path: Path
) -> None:
    text = ROOM.read_text("utf-8")
    named = tmp_path / "named.room.yaml"
    named.write_text(f"{text}measurements: {{day: {{folder: day}}}}\n", "utf-8")
    folder = amended(room=document_hash(text))
    notes = wellheard("prove", named, folder, "--format", "json").json["notes"]
    assert not any("was taken of document" in note for note in notes)


def test_what_is_no_session_is_refused_in_one_line(wellheard: Wellheard, tmp_path: Path) -> None:
    ended = wellheard("prove", ROOM, tmp_path)
    assert ended.code == 2
    assert "session.yaml" in ended.err
