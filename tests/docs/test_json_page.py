"""The page of JSON answers has every field that answers have, and no other."""

from __future__ import annotations

import json
import os
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.cli.recorded import write_session
from wellheard.cli.app import run

pytestmark = pytest.mark.usefixtures("few_rays", "effects_untried")

ROOT = Path(__file__).parents[2]
HUDDLE = ROOT / "examples" / "huddle-four" / "huddle-four.room.yaml"
GLASS = ROOT / "examples" / "glass-fan" / "glass-fan.room.yaml"
TEN = ROOT / "examples" / "ten-seats" / "ten-seats.room.yaml"
BOTH = ROOT / "tests" / "cases" / "rooms" / "there-and-back.room.yaml"
OURS = ROOT / "tests" / "cases" / "products" / "good" / "ours.products.yaml"
MODEL = ROOT / "tests" / "importers" / "ifc" / "foreign" / "building-architecture-ifc4.ifc"
PAIR = """\
wellheard: 1
space: {outline: [[0, 0], [7.2, 0], [7.2, 4.8], [0, 4.8]], height: 2.7}
partitions: {middle: {from: [3.6, 0], to: [3.6, 4.8], finish: wood-panel}}
arrangements: {together: {open: [middle]}, apart: {closed: [middle]}}
people: {seats: {a: {at: [1.5, 1.6], facing: 90}, b: {at: [5.1, 1.6], facing: 90}}}
noise: {background: {nc: 25}}
choices: {allow: [ceiling-head-3], mounting: [ceiling], max_drop: 0}
devices: {m1: {kind: microphone, product: ceiling-head-3, at: [1.5, 2.7, 2.7]}}
"""
NETWORK = """\
wellheard: 1
space: {outline: [[0, 0], [6, 0], [6, 4.5], [0, 4.5]], height: 2.7}
people: {seats: {a: {at: [2.5, 1.5]}, b: {at: [3.5, 1.5]}}}
equipment: {rack: {kind: rack, at: [5.8, 0.3, 0.5]}}
devices:
  m1: {kind: microphone, product: ceiling-head-3-network, at: [3, 2.1, 2.7]}
  m2: {kind: microphone, product: ceiling-head-3, at: [4.2, 2.1, 2.7]}
"""
WITHOUT_SWITCH = NETWORK + "choices: {exclude: [switch-8, switch-24]}\n"

OF_FILES = (
    "measure day/quiet.wav --kind noise",
    "measure day/near.wav --kind echo --far day/far.wav",
)

ANSWERS = {
    "check": [
        "check glass",
        "check pair",
        "check ten --apply parallel-hard-walls@space.finishes.walls.east",
    ],
    "predict": ["predict placed", "predict pair", "predict huddle", "predict both"],
    "place": ["place huddle", "place glass", "place ten", "place both"],
    "design": ["design huddle -o designed", "design huddle -o chosen --alternatives 3"],
    "wire": ["wire huddle", "wire without-switch"],
    "import": [
        "import level-two.dxf",
        "import strange.ifc --room living-room -o taken.room.yaml",
    ],
    "schedule": ["schedule designed/huddle.room.yaml", "schedule network"],
    "explain": [
        "explain placed s1",
        "explain both a --path inbound",
        "explain both m1 --path echo",
        "explain both a --path lift",
    ],
    "sweep": ["sweep -o sweep.wav", "sweep both -o planned"],
    "measure": ["measure day", "measure day/near.wav", *OF_FILES],
    "prove": ["prove both day"],
    "calibrate": ["calibrate both day -o built"],
    "map": ["map placed --spacing 0.6", "map pair --quantity level --spacing 0.6"],
    "diff": ["diff placed louder", "diff louder placed"],
    "survey": ["survey placed", "survey"],
    "quick": ["quick --size 5.4x3.9x2.7 --seats 5"],
    "reach": ["reach pendant-cardioid 75"],
    "replace": ["replace placed m1 pendant-cardioid"],
    "catalog": [
        "catalog list microphones",
        "catalog show pendant-cardioid",
        f"catalog check {OURS}",
        f"catalog add {OURS}",
        f"catalog add --update changed/{OURS.name}",
    ],
}
"""Command lines that show every field of an answer, by the heading of the page."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the rooms that the command lines name."""
    folder = tmp_path_factory.mktemp("answers")
    write_session(folder / "day")
    (folder / "pair").write_text(PAIR, "utf-8")
    (folder / "without-switch").write_text(WITHOUT_SWITCH, "utf-8")
    (folder / "bare").write_text(NETWORK, "utf-8")
    assert run(["wire", str(folder / "bare"), "-o", str(folder / "network")]) == 0
    for name, path in (("huddle", HUDDLE), ("glass", GLASS), ("ten", TEN), ("both", BOTH)):
        shutil.copyfile(path, folder / name)
    assert run(["place", str(folder / "huddle"), "-o", str(folder / "placed")]) == 0
    text = (folder / "placed").read_text("utf-8")
    assert text.count("{nc: 25}") == 1
    (folder / "changed").mkdir()
    ours, count = re.subn(r"price: (\d+)", r"price: 1\1", OURS.read_text("utf-8"), count=1)
    assert count == 1
    (folder / "changed" / OURS.name).write_text(ours, "utf-8")
    shutil.copyfile(ROOT / "examples" / "level-two.dxf", folder / "level-two.dxf")
    strange = MODEL.read_text("utf-8").replace("stone_sand-lime", "Unobtainium")
    (folder / "strange.ifc").write_text(strange, "utf-8")
    (folder / "louder").write_text(text.replace("{nc: 25}", "{nc: 40}"), "utf-8")
    return folder


def _rows(command: str) -> dict[str, str]:
    """Documented fields of an answer, with the form of each."""
    page = (ROOT / "docs" / "json.md").read_text("utf-8")
    section = re.split(r"^## ", page.partition(f"## {command}\n")[2], flags=re.M)[0]
    found = re.findall(r"^\| `([^`]+)` \| (.+?) \| .+ \|$", section, flags=re.M)
    assert len(found) == len(dict(found)), "a field has two rows"
    return dict(found)


def _fields(value: Any, rows: dict[str, str], path: str = "") -> Iterator[str]:
    """Paths of a value as the page writes them."""
    if path:
        yield path
        if rows.get(path, "").startswith(("as ", "finding", "data sheet", "any")):
            return
    if isinstance(value, dict):
        for key, inner in value.items():
            here = f"{path}.{key}".lstrip(".")
            free = f"{path}.<name>".lstrip(".")
            named = here not in rows and any(row.startswith(free) for row in rows)
            yield from _fields(inner, rows, free if named else here)
    elif isinstance(value, list):
        for inner in value:
            if isinstance(inner, dict):
                yield from _fields(inner, rows, f"{path}[]")


@pytest.mark.parametrize("command", ANSWERS)
def test_every_field_of_an_answer_is_on_the_page_and_the_reverse(
    command: str,
    folder: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setenv("WELLHEARD_CATALOGUE", str(tmp_path))
    monkeypatch.chdir(folder)
    rows = _rows(f"`{command}`")
    seen: set[str] = set()
    for line in ANSWERS[command]:
        capsys.readouterr()
        assert run([*line.split(), "--format", "json"]) in (0, 1)
        seen |= set(_fields(json.loads(capsys.readouterr().out), rows))
    # An element, or what a name stands for, needs no row of its own where its fields have theirs.
    unsaid = [
        field
        for field in sorted(seen - set(rows))
        if not (field.endswith(("[]", "<name>")) and any(r.startswith(field) for r in rows))
    ]
    assert unsaid == []
    assert sorted(set(rows) - seen) == []


def test_the_finding_of_the_page_has_the_fields_of_a_finding(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(folder)
    rows = _rows("A finding")
    seen: set[str] = set()
    for name in ("glass", "pair"):
        capsys.readouterr()
        run(["check", name, "--format", "json"])
        for finding in json.loads(capsys.readouterr().out)["findings"]:
            seen |= set(finding)
    assert set(rows) == seen
    shown = re.findall(r"```json\n(.*?)```", (ROOT / "docs" / "json.md").read_text("utf-8"), re.S)
    assert {*json.loads(shown[0]), "arrangements"} == seen


def test_a_result_in_a_folder_is_what_the_page_says(folder: Path) -> None:
    target = folder / "kept"
    assert run(["publish", os.fspath(folder / "placed"), "-o", os.fspath(target)]) in (0, 1)
    result = json.loads((target / "result.json").read_text("utf-8"))
    assert set(result) <= set(_rows("`design`"))
