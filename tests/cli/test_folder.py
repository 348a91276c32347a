"""The folder that ``design`` and ``publish`` write: whole, repeatable, never at another's cost."""

from __future__ import annotations

import csv
import hashlib
import json
import os
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

import wellheard as package
from wellheard.acoustics import compiled

if TYPE_CHECKING:
    from tests.cli.conftest import Wellheard

FILES = {
    "huddle-four.room.yaml",
    "dossier.pdf",
    *(
        f"{sheet}.{kind}"
        for sheet in ("plan", "section", "wiring")
        for kind in ("svg", "pdf", "dxf")
    ),
    "ledger.csv",
    "positions.csv",
    "schedules.xlsx",
    "cables.csv",
    "labels.csv",
    "bill.csv",
    "result.json",
    "manifest.json",
}


def _contents(folder: Path) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in folder.iterdir()}


def test_the_folder_is_whole(designed: Path) -> None:
    assert set(_contents(designed)) == FILES
    assert (designed / "dossier.pdf").read_bytes().startswith(b"%PDF-")
    assert (designed / "plan.svg").read_text("utf-8").lstrip().startswith("<")
    assert sorted(p.name for p in designed.parent.iterdir()) == [designed.name]


def test_the_manifest_says_what_made_the_folder_and_its_hashes_verify(
    designed: Path, huddle: Path
) -> None:
    manifest = json.loads((designed / "manifest.json").read_bytes())
    assert set(manifest) == {
        "document",
        "tool",
        "schema",
        "catalogue",
        "kernel",
        "seed",
        "files",
    }
    assert manifest["document"] == hashlib.sha256(huddle.read_bytes()).hexdigest()
    assert manifest["tool"] == f"wellheard {package.__version__}"
    assert manifest["schema"] == 1
    assert manifest["kernel"] == compiled.in_use()
    assert manifest["seed"] == 0
    assert set(manifest["files"]) == FILES - {"manifest.json"}
    for name, digest in manifest["files"].items():
        assert hashlib.sha256((designed / name).read_bytes()).hexdigest() == digest


def test_the_same_input_gives_the_same_bytes(
    process: Wellheard, designed: Path, huddle: Path, tmp_path: Path
) -> None:
    # In a process of its own: another hash seed, another locale, another time zone.
    ended = process(
        "design",
        huddle,
        "-o",
        tmp_path / "again",
        env={**os.environ, "PYTHONHASHSEED": "7", "LC_ALL": "C", "TZ": "Pacific/Auckland"},
    )
    assert ended.code == 0
    assert _contents(tmp_path / "again") == _contents(designed)


def test_the_ledger_has_one_row_per_talker_worst_first(designed: Path) -> None:
    with open(designed / "ledger.csv", encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    seats = json.loads((designed / "result.json").read_bytes())["prediction"]["seats"]
    assert {r["seat"] for r in rows} == {s["id"] for s in seats}
    chances = [float(r["chance"]) for r in rows]
    assert chances == sorted(chances)


@pytest.mark.usefixtures("effects_tried")
def test_the_document_in_the_folder_predicts_what_the_result_says(
    wellheard: Wellheard, designed: Path, placed: Path
) -> None:
    result = json.loads((designed / "result.json").read_bytes())
    assert wellheard("predict", placed, "--format", "json").json == result["prediction"]


def test_a_second_run_replaces_its_own_folder(
    wellheard: Wellheard, designed: Path, placed: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "out"
    shutil.copytree(designed, folder)
    assert wellheard("publish", placed, "-o", folder).code == 0
    assert sorted(p.name for p in tmp_path.iterdir()) == ["out"]
    assert set(_contents(folder)) == FILES


def test_publish_names_every_file_it_wrote(
    wellheard: Wellheard, placed: Path, tmp_path: Path
) -> None:
    ended = wellheard("publish", placed, "-o", tmp_path / "new" / "out")
    assert (ended.code, ended.err) == (0, "")
    assert {Path(line) for line in ended.out.splitlines()} == {
        tmp_path / "new" / "out" / name for name in FILES
    }
    assert all(Path(line).is_file() for line in ended.out.splitlines())


def test_publish_of_a_room_without_microphones_is_a_survey(
    wellheard: Wellheard, huddle: Path, tmp_path: Path
) -> None:
    assert wellheard("publish", huddle, "-o", tmp_path / "out").code == 0
    result = json.loads((tmp_path / "out" / "result.json").read_bytes())
    assert all(seat["outbound"] is None for seat in result["prediction"]["seats"])
    assert (tmp_path / "out" / "huddle-four.room.yaml").read_bytes() == huddle.read_bytes()


def test_an_empty_folder_is_used(wellheard: Wellheard, placed: Path, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    assert wellheard("publish", placed, "-o", tmp_path / "out").code == 0


def _refused(wellheard: Wellheard, room: Path, folder: Path, said: str) -> None:
    parent = folder.parent
    before = {
        p: p.read_bytes() if p.is_file() else None for p in sorted(parent.rglob("*"), key=str)
    }
    for command in ("design", "publish"):
        ended = wellheard(command, room, "-o", folder)
        assert (ended.code, ended.out) == (2, "")
        assert said in ended.err
        assert ended.err.startswith(str(folder))
    after = {p: p.read_bytes() if p.is_file() else None for p in sorted(parent.rglob("*"), key=str)}
    assert after == before


def test_a_file_of_that_name_is_left_alone(
    wellheard: Wellheard, huddle: Path, tmp_path: Path
) -> None:
    (tmp_path / "out").write_text("mine", "utf-8")
    _refused(wellheard, huddle, tmp_path / "out", "a file of that name exists; name a folder")


def test_a_folder_of_somebody_else_is_left_alone(
    wellheard: Wellheard, huddle: Path, tmp_path: Path
) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "notes.txt").write_text("mine", "utf-8")
    _refused(wellheard, huddle, tmp_path / "out", "not written by wellheard")


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"files": {}, "tool": "another 1.0"}', "\x00"])
def test_a_manifest_of_something_else_is_none_of_ours(
    wellheard: Wellheard, huddle: Path, tmp_path: Path, text: str
) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "manifest.json").write_text(text, "utf-8")
    _refused(wellheard, huddle, tmp_path / "out", "not written by wellheard")


def test_a_file_added_to_a_design_folder_keeps_it_from_being_replaced(
    wellheard: Wellheard, designed: Path, huddle: Path, tmp_path: Path
) -> None:
    shutil.copytree(designed, tmp_path / "out")
    (tmp_path / "out" / "photo.jpg").write_bytes(b"mine")
    _refused(wellheard, huddle, tmp_path / "out", "photo.jpg: not written by wellheard")


def test_a_document_changed_in_a_design_folder_keeps_it_from_being_replaced(
    wellheard: Wellheard, designed: Path, tmp_path: Path
) -> None:
    shutil.copytree(designed, tmp_path / "out")
    path = tmp_path / "out" / "huddle-four.room.yaml"
    path.write_text(path.read_text("utf-8") + "# moved m1 by hand\n", "utf-8")
    _refused(wellheard, path, tmp_path / "out", "changed since it was written")


def test_a_folder_below_a_file_is_refused(
    wellheard: Wellheard, placed: Path, tmp_path: Path
) -> None:
    (tmp_path / "file").write_text("mine", "utf-8")
    ended = wellheard("publish", placed, "-o", tmp_path / "file" / "out")
    assert (ended.code, ended.out) == (2, "")
    assert "a folder that can be" in ended.err
    assert (tmp_path / "file").read_text("utf-8") == "mine"


def test_a_link_to_a_folder_is_written_through(
    wellheard: Wellheard, placed: Path, tmp_path: Path
) -> None:
    (tmp_path / "far").mkdir()
    (tmp_path / "out").symlink_to(tmp_path / "far")
    assert wellheard("publish", placed, "-o", tmp_path / "out").code == 0
    assert (tmp_path / "out").is_symlink()
    assert set(_contents(tmp_path / "far")) == FILES
    assert sorted(p.name for p in tmp_path.iterdir()) == ["far", "out"]


def test_a_promise_that_cannot_be_kept_still_gets_its_documents_and_exit_1(
    wellheard: Wellheard, glass: Path, tmp_path: Path
) -> None:
    ended = wellheard("publish", glass, "-o", tmp_path / "out")
    assert ended.code == 1
    assert (tmp_path / "out" / "dossier.pdf").is_file()
