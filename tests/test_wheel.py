"""A wheel has everything that an installation from the sources has."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from wellheard.workflow.examples import examples

ROOT = Path(__file__).parents[1]
NOT_PACKED = {".pyc", ".so", ".dylib", ".dll"}
"""Endings of what a build or a run leaves among the sources."""


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A wheel, quickly: without the kernels, which have tests of their own."""
    folder = tmp_path_factory.mktemp("wheel")
    program = f"import hatchling.build as back_end; back_end.build_wheel({str(folder)!r})"
    subprocess.run(
        [sys.executable, "-c", program],
        cwd=ROOT,
        env={**os.environ, "CC": "no-such-compiler"},
        capture_output=True,
        check=True,
        timeout=120,
    )
    (made,) = folder.glob("*.whl")
    return made


def test_a_wheel_has_every_file_of_the_package(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        packed = set(archive.namelist())
    found = {
        path.relative_to(ROOT / "src").as_posix()
        for path in (ROOT / "src" / "wellheard").rglob("*")
        if path.is_file() and path.suffix not in NOT_PACKED
    }
    assert {"wellheard/web/static/js/desk.js", "wellheard/web/components/plan.js"} <= found
    assert found - packed == set()


def test_a_room_is_begun_from_an_example_where_only_the_wheel_is_there(
    wheel: Path, tmp_path: Path
) -> None:
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(tmp_path)
    program = (
        "from wellheard.workflow import examples as e\n"
        "print(e.folder(), *(n for n in e.examples() if e.example_text(n)), sep='\\n')"
    )
    done = subprocess.run(
        [sys.executable, "-c", program],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(tmp_path)},
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
    )
    where, *names = done.stdout.splitlines()
    assert Path(where) == tmp_path / "wellheard" / "data" / "examples"
    assert tuple(names) == examples()
