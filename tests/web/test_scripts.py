"""The scripts of the pages: what Node can run of them without a browser."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

TESTS = Path(__file__).parent / "js"
STATIC = Path(__file__).parents[2] / "src" / "wellheard" / "web" / "static"
NODE = shutil.which("node")
LINES = 500


@pytest.mark.skipif(NODE is None, reason="Node is not installed here")
@pytest.mark.parametrize("script", sorted(TESTS.glob("*.test.mjs")), ids=lambda path: path.name)
def test_scripts_do_what_their_tests_claim(script: Path) -> None:
    assert NODE is not None
    done = subprocess.run(
        [NODE, "--test", "--test-timeout=20000", str(script)],
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_no_script_writes_markup_from_text() -> None:
    for script in [*STATIC.rglob("*.js"), *STATIC.parent.joinpath("components").glob("*.js")]:
        text = script.read_text("utf-8")
        for way in ("innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "v-html"):
            assert way not in text, f"{script}: {way}"


def test_no_script_asks_another_machine() -> None:
    for script in STATIC.rglob("*.js"):
        text = script.read_text("utf-8").replace("http://www.w3.org/2000/svg", "")
        assert "http://" not in text, script
        assert "https://" not in text, script


def test_no_script_is_longer_than_500_lines() -> None:
    counts = {p.name: p.read_text("utf-8").count("\n") for p in STATIC.rglob("*.js")}
    assert {name: n for name, n in counts.items() if n > LINES} == {}
