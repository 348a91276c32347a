"""One way to run a command in this process, one in a process of its own."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from tests.effort import ALL_RAYS, effects, rays
from wellheard.cli.app import run

ROOT = Path(__file__).parents[2]
NOBODY = 65534


@dataclass(frozen=True)
class Ended:
    """How a command ended."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        """Standard output as JSON; a ``NaN`` or ``Infinity`` is none."""
        return json.loads(self.out, parse_constant=_refused)


def _refused(name: str) -> None:
    raise AssertionError(f"{name} is no JSON")


Wellheard = Callable[..., Ended]


@pytest.fixture
def wellheard(capsys: pytest.CaptureFixture[str]) -> Wellheard:
    """Run a command line in this process."""

    def call(*arguments: str | os.PathLike[str]) -> Ended:
        capsys.readouterr()
        code = run([os.fspath(a) for a in arguments])
        said = capsys.readouterr()
        assert "Traceback" not in said.err
        return Ended(code, said.out, said.err)

    return call


def _command(arguments: tuple[str | os.PathLike[str], ...]) -> list[str]:
    start = "from wellheard.cli import main; main()"
    return [sys.executable, "-c", start, *(os.fspath(a) for a in arguments)]


@pytest.fixture
def process() -> Wellheard:
    """Run a command line in a process of its own, for what only a process has."""

    def call(*arguments: str | os.PathLike[str], **options: Any) -> Ended:
        options = {"capture_output": True, "timeout": 120, "encoding": "utf-8", **options}
        done = subprocess.run(_command(arguments), check=False, **options)
        return Ended(done.returncode, done.stdout or "", done.stderr or "")

    return call


@pytest.fixture
def started() -> Iterator[Callable[..., subprocess.Popen[str]]]:
    """Start a command line in a process of its own, which does not outlive the test."""
    processes: list[subprocess.Popen[str]] = []

    def start(*arguments: str | os.PathLike[str]) -> subprocess.Popen[str]:
        process = subprocess.Popen(
            _command(arguments),
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            encoding="utf-8",
        )
        processes.append(process)
        return process

    yield start
    for process in processes:
        with process:
            process.kill()


@pytest.fixture(scope="module", autouse=True)
def _effects_untried(effects_untried: None) -> None:
    """Hardly any test here asks what an assumption does to the worst seat of a prediction."""


@pytest.fixture(scope="session")
def examples() -> Path:
    """Folder of the example rooms."""
    return ROOT / "examples"


@pytest.fixture(scope="session")
def huddle(examples: Path) -> Path:
    """The smallest example, whose promise can be kept."""
    return examples / "huddle-four" / "huddle-four.room.yaml"


@pytest.fixture(scope="session")
def glass(examples: Path) -> Path:
    """The example whose promise cannot be kept, with a microphone placed."""
    return examples / "glass-fan" / "glass-fan.room.yaml"


@pytest.fixture(scope="session")
def designed(tmp_path_factory: pytest.TempPathFactory, huddle: Path) -> Path:
    """A design folder, made once; not to be changed."""
    folder = tmp_path_factory.mktemp("designed") / "huddle"
    with rays(*ALL_RAYS), effects(tried=True):  # whichever file asks first
        assert run(["design", os.fspath(huddle), "-o", os.fspath(folder)]) == 0
    return folder


@pytest.fixture
def placed(designed: Path) -> Path:
    """The document of that folder, with its microphones."""
    return designed / "huddle-four.room.yaml"


@pytest.fixture
def unprivileged(designed: Path) -> Iterator[None]:
    """Be somebody whom file modes stop; everything that is needed is loaded by now."""
    assert designed.is_dir()
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(NOBODY)
    try:
        yield
    finally:
        os.seteuid(0)
