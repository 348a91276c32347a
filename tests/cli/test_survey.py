"""``wellheard survey`` as it is typed."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from tests.cli.conftest import Wellheard

pytestmark = pytest.mark.usefixtures("few_rays")

BARE = """
wellheard: 1
space: {outline: [[0, 0], [5, 0], [5, 4], [0, 4]], height: 2.7}
people: {seats: {s1: {at: [1.5, 2]}, s2: {at: [3.5, 2]}}}
choices: {allow: [ceiling-head-3]}
"""


@pytest.fixture
def bare(tmp_path: Path) -> Path:
    path = tmp_path / "bare.room.yaml"
    path.write_text(BARE, "utf-8")
    return path


def test_without_a_file_the_ranked_questions_are_printed(wellheard: Wellheard, bare: Path) -> None:
    ended = wellheard("survey", bare)
    assert ended.code == 0
    out = ended.out
    assert "placed for this survey only" in out
    assert out.index("  1  ") < out.index("  2  ") < out.index("Needed for the job all the same")
    assert "What is the ceiling made of – lay-in tiles you can push up, or plasterboard?" in out
    assert "Ask: customer." in out
    assert "chance" in out
    assert bare.read_text("utf-8") == BARE


def test_json_has_questions_by_weight_and_what_is_known(wellheard: Wellheard, glass: Path) -> None:
    ended = wellheard("survey", glass, "--format", "json")
    answer: Any = ended.json
    assert set(answer) == {"title", "ground", "worst", "questions", "known"}
    weights = [q["weight"] for q in answer["questions"] if q["weight"] is not None]
    assert weights == sorted(weights, reverse=True)
    assert [q["rank"] for q in answer["questions"]] == list(range(1, len(answer["questions"]) + 1))
    first = answer["questions"][0]
    assert first["basis"] in ("told", "assumed", "left out")
    assert first["do"] == "measure or confirm"
    assert first["ask"] == "customer"
    assert {"value", "source", "effect_db", "effect_sti", "effect_speech_to_noise_db", "chance",
            "weight"} == set(first["tried"][0])  # fmt: skip
    known = {k["field"]: (k["value"], k["basis"]) for k in answer["known"]}
    assert known["Height, floor to ceiling"] == ("2.80 m", "measured")
    assert answer["worst"]["seat"]


def test_the_worst_seat_and_the_effects_are_those_of_predict(
    wellheard: Wellheard, glass: Path, tmp_path: Path
) -> None:
    """The document's noise is NC 30, assumed: tried five points louder, as a hand edit."""
    survey = wellheard("survey", glass, "--format", "json").json
    now = wellheard("predict", glass, "--format", "json").json
    text = glass.read_text("utf-8")
    assert text.count("{nc: 30}") >= 1
    louder = tmp_path / "louder.room.yaml"
    louder.write_text(text.replace("background: {nc: 30}", "background: {nc: 35}"), "utf-8")
    then = wellheard("predict", louder, "--format", "json").json
    seat = survey["worst"]["seat"]

    def of(answer: Any) -> Any:
        return next(s["outbound"] for s in answer["seats"] if s["id"] == seat)

    noise = next(q for q in survey["questions"] if q["topic"] == "noise-background")
    tried = next(t for t in noise["tried"] if t["value"] == "NC 35")
    assert tried["effect_sti"] == pytest.approx(of(then)["sti"] - of(now)["sti"], abs=0.0012)
    assert tried["effect_speech_to_noise_db"] == pytest.approx(
        of(then)["speech_to_noise_db"] - of(now)["speech_to_noise_db"], abs=0.025
    )


@pytest.mark.parametrize(("name", "begins"), [("it.pdf", b"%PDF-"), ("it.XLSX", b"PK")])
def test_a_sheet_is_written_for_a_room_and_without_one(
    wellheard: Wellheard, bare: Path, tmp_path: Path, name: str, begins: bytes
) -> None:
    target = tmp_path / name
    ended = wellheard("survey", "-o", target)
    assert (ended.code, ended.out) == (0, "")
    assert "written" in ended.err
    blank = target.read_bytes()
    assert blank.startswith(begins)
    refused = wellheard("survey", bare, "-o", target)
    assert refused.code == 2
    assert "exists already; name another file, or add --force" in refused.err
    assert target.read_bytes() == blank
    ended = wellheard("survey", bare, "-o", target, "--force", "--format", "json")
    assert ended.json["questions"]
    assert target.read_bytes() != blank


@pytest.mark.parametrize("name", ["it.docx", "it", "pdf", "it.pdf.txt"])
def test_another_ending_is_refused_naming_both(
    wellheard: Wellheard, tmp_path: Path, name: str
) -> None:
    ended = wellheard("survey", "-o", tmp_path / name)
    assert ended.code == 2
    assert ".pdf or .xlsx" in ended.err
    assert list(tmp_path.iterdir()) == []


def test_a_blank_survey_lists_every_question_in_the_order_of_work(wellheard: Wellheard) -> None:
    answer = wellheard("survey", "--format", "json").json
    assert answer["worst"] is None
    assert answer["known"] == []
    parts = [q["part"] for q in answer["questions"]]
    assert parts == sorted(parts)
    assert all(q["weight"] is None for q in answer["questions"])
    assert "No room is given" in wellheard("survey").out


def test_a_blank_sheet_can_be_in_feet_and_a_room_states_its_own_units(
    wellheard: Wellheard, bare: Path, tmp_path: Path
) -> None:
    ended = wellheard("survey", "--units", "ft", "-o", tmp_path / "it.pdf")
    assert ended.code == 0
    assert (tmp_path / "it.pdf").read_bytes() != b""
    assert wellheard("survey", "--units", "ft").code == 0
    refused = wellheard("survey", bare, "--units", "ft")
    assert refused.code == 2
    assert "bare.room.yaml states its own units" in refused.err
    assert wellheard("survey", "--units", "yd").code == 2


def test_where_nothing_can_be_placed_the_survey_says_why_and_still_asks(
    wellheard: Wellheard, tmp_path: Path
) -> None:
    path = tmp_path / "nowhere.room.yaml"
    lamp = "{outline: [[0, 0], [5, 0], [5, 4], [0, 4]]}"
    path.write_text(
        BARE.replace("[ceiling-head-3]", "[ceiling-head-3], mounting: [ceiling]")
        + f"overhead: {{all: {lamp}}}\n",
        "utf-8",
    )
    answer = wellheard("survey", path, "--format", "json").json
    assert "none could be placed" in answer["ground"]
    assert len(answer["questions"]) > 25
    assert answer["worst"] is None


def test_a_promise_that_cannot_be_met_is_tried_with_the_best_there_is(
    wellheard: Wellheard, tmp_path: Path
) -> None:
    path = tmp_path / "hard.room.yaml"
    hard = "space: {finishes: {floor: concrete, ceiling: concrete, walls: concrete}, outline:"
    path.write_text(BARE.replace("space: {outline:", hard), "utf-8")
    answer = wellheard("survey", path, "--format", "json").json
    assert "the promise cannot be met, this is the best that was reached" in answer["ground"]
    assert answer["questions"][0]["weight"] > 0


def test_bad_input_is_one_line_and_no_traceback(
    wellheard: Wellheard, tmp_path: Path, bare: Path
) -> None:
    assert wellheard("survey", tmp_path / "no.room.yaml").code == 2
    assert wellheard("survey", bare, "--time-limit", "0").code == 2
    nowhere = wellheard("survey", "-o", tmp_path / "no" / "it.pdf")
    assert nowhere.code == 2
    assert os.fspath(tmp_path / "no") in nowhere.err
    assert wellheard("survey", bare, "-o", tmp_path, "--force").code == 2
    assert json.dumps(wellheard("survey", "--format", "json").json)
