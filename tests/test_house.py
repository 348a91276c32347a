"""House rules about the project itself: layers, sizes, licence, locks, one way to check."""

from __future__ import annotations

import hashlib
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
import yaml

ROOT = Path(__file__).parents[1]
SOURCE = ROOT / "src" / "wellheard"
LINES = 500

# The text at https://www.apache.org/licenses/LICENSE-2.0.txt ends with the appendix; this is its
# beginning and its end, from memory, spaces run together.
APACHE_FIRST = "Apache License Version 2.0, January 2004 http://www.apache.org/licenses/"
APACHE_LAST = "See the License for the specific language governing permissions and limitations"


def test_imports_point_downwards_only() -> None:
    done = subprocess.run(
        [Path(sys.executable).with_name("lint-imports"), "--no-cache"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_every_package_has_modules_and_says_what_it_is() -> None:
    folders = {p.parent for p in SOURCE.rglob("*.py")}
    for folder in sorted(folders):
        start = folder / "__init__.py"
        assert start.is_file(), f"{folder}: no __init__.py"
        assert start.read_text("utf-8").lstrip().startswith('"""'), f"{start}: no docstring"
        inside = [p for p in folder.iterdir() if p.suffix == ".py" or (p / "__init__.py").is_file()]
        assert len(inside) > 1, f"{folder}: a package without modules"


def test_no_module_is_longer_than_500_lines() -> None:
    counts = {
        p.relative_to(SOURCE).as_posix(): p.read_text("utf-8").count("\n")
        for p in SOURCE.rglob("*.py")
    }
    assert {name: n for name, n in counts.items() if n > LINES} == {}


def test_no_module_is_named_after_nothing() -> None:
    names = {p.stem for p in SOURCE.rglob("*.py")} | {p.parent.name for p in SOURCE.rglob("*.py")}
    assert not names & {"utils", "helpers", "common", "core", "misc", "special"}


def test_every_module_has_a_docstring() -> None:
    for path in SOURCE.rglob("*.py"):
        assert path.read_text("utf-8").startswith('"""'), path


def test_the_licence_is_apache_2() -> None:
    text = " ".join((ROOT / "LICENSE").read_text("utf-8").split())
    assert text.startswith(APACHE_FIRST)
    assert APACHE_LAST in text
    for clause in ("Grant of Copyright License", "Grant of Patent License", "Redistribution"):
        assert clause in text
    assert 'license = "Apache-2.0"' in (ROOT / "pyproject.toml").read_text("utf-8")


def test_the_fonts_come_with_their_licence() -> None:
    fonts = SOURCE / "data" / "fonts"
    assert "SIL OPEN FONT LICENSE Version 1.1" in (fonts / "OFL.txt").read_text("utf-8")
    assert list(fonts.glob("*.ttf"))


@pytest.mark.parametrize("name", ["requirements.lock", "requirements-dev.lock"])
def test_locks_pin_by_hash_and_name_no_registry(name: str) -> None:
    text = (ROOT / name).read_text("utf-8")
    assert "://" not in text
    assert not re.search(r"^\s*--(index-url|extra-index-url|find-links)", text, flags=re.MULTILINE)
    pins = re.findall(r"^([a-z0-9][\w.-]*)==\S+.*?(?=^[a-z0-9]|\Z)", text, flags=re.M | re.S)
    assert len(pins) > 10
    blocks = re.split(r"^(?=[a-z0-9][\w.-]*==)", text, flags=re.MULTILINE)[1:]
    for block in blocks:
        assert "--hash=sha256:" in block, block.split()[0]


def test_what_a_user_locks_is_what_a_developer_locks() -> None:
    def pins(name: str) -> dict[str, str]:
        found = re.findall(
            r"^([a-z0-9][\w.-]*)==([^\s;]+)", (ROOT / name).read_text("utf-8"), flags=re.MULTILINE
        )
        return dict(found)

    user, developer = pins("requirements.lock"), pins("requirements-dev.lock")
    assert {name: developer.get(name) for name in user} == user


def test_before_a_commit_runs_what_make_check_runs() -> None:
    config = yaml.safe_load((ROOT / ".pre-commit-config.yaml").read_text("utf-8"))
    assert [h["entry"] for r in config["repos"] for h in r["hooks"]] == ["make check"]


def test_ci_runs_the_two_commands_of_a_developer() -> None:
    script = ROOT / ".ci" / "run"
    lines = [line for line in script.read_text("utf-8").splitlines() if line and line[0] not in "#"]
    assert {"make check", "make test"} <= set(lines)
    assert script.stat().st_mode & 0o111
    assert lines[0] == "set -euo pipefail"


def test_make_check_covers_lint_types_layers_and_pages() -> None:
    recipe = (ROOT / "Makefile").read_text("utf-8").partition("\ncheck:")[2].partition("\n\n")[0]
    for tool in (
        "ruff check",
        "ruff format --check",
        "mypy",
        "lint-imports",
        "generate.py --check",
    ):
        assert tool in recipe


def test_the_version_is_one_and_the_changelog_has_it() -> None:
    import wellheard

    assert f"{wellheard.__version__}" in (ROOT / "CHANGELOG.md").read_text("utf-8")


def test_no_two_data_files_are_the_same() -> None:
    seen: dict[str, Path] = {}
    for path in sorted((SOURCE / "data").rglob("*")):
        if path.is_file():
            digest = hashlib.sha256(path.read_bytes()).hexdigest()
            assert digest not in seen, f"{path} is {seen[digest]}"
            seen[digest] = path


@pytest.mark.skipif(shutil.which("make") is None, reason="make is not installed")
@pytest.mark.parametrize(
    ("script", "said"),
    [
        ("exit 1", "is no Python 3.11 or newer"),
        ('case "$*" in *ensurepip*) exit 1;; esac', "lacks the venv module"),
    ],
)
def test_make_says_which_python_is_wanted(tmp_path: Path, script: str, said: str) -> None:
    # A Python that is too old, and one whose system left venv out; both stand-ins.
    python = tmp_path / "python3"
    python.write_text(f"#!/bin/sh\n{script}\n", "utf-8")
    python.chmod(0o755)
    done = subprocess.run(
        ["make", "-f", ROOT / "Makefile", "demo", f"PYTHON={python}", f"VENV={tmp_path / 'venv'}"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert done.returncode == 2
    assert said in done.stderr
    assert not (tmp_path / "venv").exists()
