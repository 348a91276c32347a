"""The phone answers on the command line: text, JSON, exit codes."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.effort import some
from wellheard.cli.app import run

ROOMS = Path(__file__).parents[2] / "examples"
BOARD = ROOMS / "board-eighteen" / "board-eighteen.room.yaml"


def test_quick_says_how_many_why_and_what_would_change_it(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run(["quick", "--size", "4x3.2x2.6", "--seats", "4"]) == 0
    text = capsys.readouterr().out

    assert text.startswith("4.00 m × 3.20 m × 2.60 m, 4 seats: ")
    for word in ("1. Distance:", "2. Reverberation:", "3. Noise:", "what would change it"):
        assert word in text
    assert "invented" in text


def test_quick_gives_the_same_as_json(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["quick", "--size", "4x3.2x2.6", "--seats", "4", "--format", "json"]) == 0
    found = json.loads(capsys.readouterr().out)

    assert found["size"] == [4.0, 3.2, 2.6]
    assert found["microphones"]["usual"] == found["rooms"]["usual"]["microphones"]
    assert len(found["reasons"]) == 3
    assert {"condition", "product", "microphones", "binds", "proven"} == set(found["changes"][0])


def test_reach_says_no_with_exit_1_and_offers_a_way(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["reach", "ceiling-head-3", "30m"]) == 0
    assert ": yes" in capsys.readouterr().out

    assert run(["reach", "ceiling-head-3", "140 ft", "--units", "ft"]) == 1
    text = capsys.readouterr().out
    assert "not as it is" in text
    assert "140'-0\"" in text
    assert "link-repeater-30" in text


@pytest.mark.parametrize("length", ["", "x", "0", "-3", "nan", "1e9"])
def test_reach_refuses_what_is_no_length(length: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["reach", "ceiling-head-3", length]) == 2
    assert "such as 40, 40 m or 130 ft" in capsys.readouterr().err


def test_replace_and_diff_give_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    old, new = tmp_path / "old.room.yaml", tmp_path / "new.room.yaml"
    text = (ROOMS / "huddle-four" / "huddle-four.room.yaml").read_text("utf-8")
    old.write_text(text, encoding="utf-8")
    new.write_text(text.replace("title: ", "title: New "), encoding="utf-8")

    assert run(["diff", str(old), str(new), "--format", "json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert [c["path"] for c in found["changes"]] == ["title"]
    assert found["promise"]["before"] == found["promise"]["after"]

    assert run(["place", str(old), "--in-place"]) == 0
    capsys.readouterr()
    assert run(["replace", str(old), "m1", "ceiling-head-6", "--format", "json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["devices"] == ["m1"]
    assert {"name", "answer", "old", "new", "why"} == set(found["aspects"][0])
    assert found["answer"] in ("yes", "with changes")


def test_replace_shows_the_cautions(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    room = tmp_path / "a.room.yaml"
    room.write_text((ROOMS / "huddle-four" / "huddle-four.room.yaml").read_text("utf-8"), "utf-8")
    assert run(["place", str(room), "--in-place"]) == 0
    capsys.readouterr()

    run(["replace", str(room), "m1", "ceiling-head-6"])
    assert "Local code and licensed practice decide" in capsys.readouterr().out


def test_diff_exits_1_where_a_seat_is_lost(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    old, new = tmp_path / "old.room.yaml", tmp_path / "new.room.yaml"
    old.write_text((ROOMS / "huddle-four" / "huddle-four.room.yaml").read_text("utf-8"), "utf-8")
    assert run(["place", str(old), "--in-place"]) == 0
    capsys.readouterr()
    text = old.read_text("utf-8")
    loud = text.replace("background: {nc: 25}", "background: {nc: 45}")
    assert loud != text
    new.write_text(loud, encoding="utf-8")

    assert run(["diff", str(old), str(new)]) == 1
    text = capsys.readouterr().out
    assert "Background noise: NC-25 → NC-45." in text
    assert "After:" in text


def test_a_table_says_what_connects_to_what(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["catalog", "connect", "--format", "json"]) == 0
    found = json.loads(capsys.readouterr().out)
    row = found["kinds"][found["rows"].index("table-boundary")]
    assert row[found["columns"].index("processor-4")] == ["balanced"]
    assert row[found["columns"].index("bridge-2")] == []

    assert run(["catalog", "connect", "--rows", "loudspeakers", "--columns", "amplifiers"]) == 0
    assert max(len(line) for line in capsys.readouterr().out.splitlines()) <= 100

    assert run(["catalog", "connect", "ceiling-head-3"]) == 0
    assert "link → mic" in capsys.readouterr().out


def test_phone_answers_know_products_of_ones_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["catalog", "show", "ceiling-head-3", "--format", "yaml"]) == 0
    mine = capsys.readouterr().out.replace("ceiling-head-3:", "my-head:")
    mine = mine.replace("max_length: 30", "max_length: 45")
    (tmp_path / "mine.products.yaml").write_text(mine, encoding="utf-8")
    monkeypatch.setenv("WELLHEARD_CATALOGUE", str(tmp_path))

    assert run(["reach", "my-head", "45"]) == 0
    assert run(["reach", "my-head", "46"]) == 1


@pytest.mark.parametrize(
    "size", some(("20x14x9 ft", "20ftx14ftx9ft", "6.096x4.2672x2.7432 m"), (0, 2))
)
def test_a_unit_behind_the_last_length_speaks_for_all(
    size: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["quick", "--size", size, "--seats", "4", "--format", "json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["size"] == pytest.approx([6.096, 4.2672, 2.7432])


def test_units_with_some_lengths_only_are_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["quick", "--size", "20 ft x 14 x 9", "--seats", "4"]) == 2
    assert "a unit with some of its lengths" in capsys.readouterr().err


def test_reach_answers_in_the_unit_that_was_asked(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["reach", "ceiling-head-3", "130 ft"]) == 1
    assert "130'-0\"" in capsys.readouterr().out
    assert run(["reach", "ceiling-head-3", "40 m", "--units", "ft"]) == 1
    assert "40.00 m" in capsys.readouterr().out


def test_reach_offers_an_extender_for_a_cord_and_nothing_that_is_on_its_way_out(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run(["reach", "usb-cord-5", "7"]) == 1
    assert "usb-extender-50" in capsys.readouterr().out
    assert run(["reach", "ceiling-head-3", "40"]) == 1
    assert "pendant-subcardioid" not in capsys.readouterr().out
