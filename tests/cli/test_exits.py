"""Exit codes, what goes to which stream, and what a quick answer may load."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

import wellheard as package
from wellheard.cli.app import COMMANDS

if TYPE_CHECKING:
    from tests.cli.conftest import Wellheard


def test_version_is_one_line_on_stdout(wellheard: Wellheard) -> None:
    ended = wellheard("--version")
    assert (ended.code, ended.out, ended.err) == (0, f"wellheard {package.__version__}\n", "")


def test_help_names_every_command(wellheard: Wellheard) -> None:
    ended = wellheard("--help")
    assert (ended.code, ended.err) == (0, "")
    for name in COMMANDS:
        assert f"│ {name} " in ended.out


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help(wellheard: Wellheard, name: str) -> None:
    ended = wellheard(name, "--help")
    assert (ended.code, ended.err) == (0, "")
    assert ended.out.startswith(f"Usage: wellheard {name}")
    assert "Exit 0: clean." in ended.out


@pytest.mark.parametrize("asked", [["--version"], ["--help"], ["design", "--help"], ["dezign"]])
def test_a_quick_answer_loads_neither_numpy_nor_pydantic(asked: list[str]) -> None:
    code = (
        "import sys; from wellheard.cli.app import run; run(sys.argv[1:]);"
        "heavy = {'numpy', 'pydantic', 'yaml', 'shapely', 'highspy', 'typst'} & set(sys.modules);"
        "print('heavy:', *sorted(heavy))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *asked], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout.splitlines()[-1] == "heavy:"


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (["desing"], 'Did you mean "design"'),
        (["predict"], "ROOM"),
        (["predict", "a.yaml", "--format", "xml"], '"text", "json"'),
        (["predict", "a.yaml", "b.yaml"], "b.yaml"),
        (["predict", "a.yaml", "--frmat", "json"], "--frmat"),
        (["design", "a.yaml"], "--output"),
        (["design", "a.yaml", "-o", "x", "--time-limit", "soon"], "soon"),
        (["design", "a.yaml", "-o", "x", "--time-limit", "0"], "more than 0 s"),
        (["place", "a.yaml", "--time-limit", "nan"], "more than 0 s"),
        (["place", "a.yaml", "-o", "b.yaml", "--in-place"], "give one of them"),
        (["explain", "a.yaml"], "SEAT"),
        (["catalog", "list", "gadgets"], "gadgets"),
    ],
)
def test_wrong_usage_exits_2_and_says_what_is_wrong_on_stderr(
    wellheard: Wellheard, asked: list[str], said: str
) -> None:
    ended = wellheard(*asked)
    assert (ended.code, ended.out) == (2, "")
    assert said in ended.err


def test_wrong_usage_points_to_the_help_of_that_command(wellheard: Wellheard) -> None:
    assert "See wellheard design --help." in wellheard("design").err
    assert "See wellheard --help." in wellheard("desing").err


def test_a_promise_kept_exits_0(wellheard: Wellheard, placed: Path) -> None:
    for command in ("check", "predict"):
        ended = wellheard(command, placed)
        assert (ended.code, ended.err) == (0, "")
        assert ended.out


def test_a_room_with_errors_exits_1(wellheard: Wellheard, glass: Path) -> None:
    ended = wellheard("check", glass)
    assert (ended.code, ended.err) == (1, "")
    assert "error  target-missed-sti  8 places" in ended.out
    assert "s1 misses STI" in ended.out
    assert wellheard("predict", glass).code == 1


def test_strict_fails_on_warnings_too(wellheard: Wellheard, placed: Path) -> None:
    found = wellheard("check", placed, "--format", "json").json["findings"]
    assert {f["severity"] for f in found} >= {"warning"}
    assert wellheard("check", placed, "--strict").code == 1


def test_an_empty_room_is_predicted_without_microphones(wellheard: Wellheard, huddle: Path) -> None:
    ended = wellheard("predict", huddle)
    assert ended.code == 0
    assert "No microphone is placed" in ended.out


def test_explain_opens_a_path_and_an_unknown_seat_lists_the_known(
    wellheard: Wellheard, placed: Path, huddle: Path
) -> None:
    ended = wellheard("explain", placed, "s1")
    assert (ended.code, ended.err) == (0, "")
    assert "source: " in ended.out
    unknown = wellheard("explain", placed, "s77")
    assert (unknown.code, unknown.out) == (2, "")
    assert "no seat 's77'" in unknown.err
    assert "s1, s2" in unknown.err
    empty = wellheard("explain", huddle, "s1")
    assert empty.code == 2
    assert "wellheard place" in empty.err


def test_the_catalogue_lists_products_and_says_they_are_invented(wellheard: Wellheard) -> None:
    ended = wellheard("catalog", "list")
    assert (ended.code, ended.err) == (0, "")
    assert "ceiling-head-3" in ended.out
    assert "carpet-tile" in ended.out
    assert "invented" in ended.out
    only = wellheard("catalog", "list", "microphones").out
    assert "ceiling-head-3" in only
    assert "carpet-tile" not in only


def test_a_reader_that_leaves_is_no_traceback(
    started: Callable[..., subprocess.Popen[str]],
) -> None:
    process = started("schema")
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.read(1)
    process.stdout.close()
    assert process.stderr.read() == ""
    assert process.wait(60) in (0, 2)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no /dev/full")
def test_a_full_disk_behind_stdout_is_said_and_exits_2(process: Wellheard) -> None:
    with open("/dev/full", "w", encoding="utf-8") as full:
        ended = process("schema", capture_output=False, stdout=full, stderr=subprocess.PIPE)
    assert ended.code == 2
    assert ended.err.startswith("standard output: ")
    assert "Traceback" not in ended.err


@pytest.mark.parametrize("encoding", ["ascii", "latin-1"])
def test_payload_is_utf_8_whatever_the_locale(
    process: Wellheard, placed: Path, encoding: str
) -> None:
    ended = process("predict", placed, env={**os.environ, "PYTHONIOENCODING": encoding})
    assert ended.code == 0
    assert "─" in ended.out
    assert ended.err == ""
