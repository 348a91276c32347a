"""The typed use of the public names also runs."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).parents[2]
EXAMPLE = ROOT / "examples" / "huddle-four" / "huddle-four.room.yaml"


@pytest.fixture(scope="module")
def api() -> ModuleType:
    spec = importlib.util.spec_from_file_location("api", Path(__file__).with_name("api.py"))
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_a_design_from_python_writes_the_folder(api: ModuleType, tmp_path: Path) -> None:
    files = api.answers(EXAMPLE, tmp_path / "out")
    assert {f.name for f in files} == {p.name for p in (tmp_path / "out").iterdir()}
    assert files[-1].name == "manifest.json"


def test_a_document_reads_back_and_a_bad_one_says_where(api: ModuleType) -> None:
    text = EXAMPLE.read_text("utf-8")
    assert api.documents(api.documents(text)) == api.documents(text)
    refused = api.documents("wellheard: 1\nspace: {}\n").splitlines()
    assert [line.split(": ")[0] for line in refused] == ["<text>:1:1", "<text>:2:8", "<text>:2:8"]


def test_the_documented_figures_come_out(api: ModuleType) -> None:
    # 24 ln 10 / 343 · 90 / (126 · −ln 0.8) = 0.5157 s, by hand.
    time, label = api.physics()
    assert round(time, 4) == 0.5157
    assert label == "NC-36 by SIL"
