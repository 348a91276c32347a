"""The worst that two megabytes can hold ends soon, in little memory, with a message.

The limits are far above what is needed (a second or two and 150 MB here), so that a slow machine
passes; without bounds in the reader these texts took minutes or gigabytes.
"""

from __future__ import annotations

import json
import math
import re
import subprocess
import sys

import pytest

resource = pytest.importorskip("resource", reason="limits are set with POSIX")

SECONDS, BYTES = 120, 1 << 30
HEAD = "wellheard: 1\n"
OUTLINE = "[[0, 0], [6, 0], [6, 4.5], [0, 4.5]]"
SPACE = f"space: {{outline: {OUTLINE}, height: 2.7}}\n"
PEOPLE = "people: {seats: {s1: {at: [2, 2]}}}\n"
SMALL = HEAD + SPACE + PEOPLE


def many(count: int, piece: str) -> str:
    return ", ".join(piece.format(i) for i in range(count))


def ring(corners: int, x: float, y: float, radius: float) -> str:
    turn = 2 * math.pi / corners
    points = (
        f"[{x + radius * math.cos(turn * i):.2f}, {y + radius * math.sin(turn * i):.2f}]"
        for i in range(corners)
    )
    return f"[{', '.join(points)}]"


BOMB = "".join(
    f"x-{i}: &a{i} [{many(9, f'*a{i - 1}') if i else many(9, 'lol')}]\n" for i in range(12)
)
RINGS = ", ".join(
    f"o{i}: {{outline: {ring(200, 8 + i % 22, 8 + i // 22, 0.3)}}}" for i in range(400)
)
BIG = f"outline: {ring(200, 20, 20, 19.9)}, height: 2.7"
WORST: dict[str, tuple[str, str]] = {
    "aliases that grow": (SMALL + BOMB, "the alias *a0"),
    "aliases without end": (SMALL + "x-a: &a [*a, *a]\n", "the alias *a"),
    "a hundred thousand keys": (
        SMALL + "".join(f"k{i}: 1\n" for i in range(100_000)),
        "more than 100,000 values",
    ),
    "keys almost right": (
        SMALL.replace("2.7}", "2.7, " + many(49_000, "heigt{}: 1") + "}"),
        "entries; at most 500",
    ),
    "one key again and again": (SMALL + "k: 1\n" * 300_000, "200 problems so far"),
    "a long list": (f"{SMALL}x-a: [{'1,' * 900_000}1]\n", "more than 100,000 values"),
    "empty mappings": (f"{SMALL}x-a: [{'{},' * 600_000}1]\n", "more than 100,000 values"),
    "deep lists": (f"{SMALL}x-a: {'[' * 900_000}\n", "nested"),
    "deep mappings": (f"{SMALL}x-a: {'{a: ' * 400_000}\n", "nested"),
    "deep dashes": (f"{SMALL}x-a:\n{'- ' * 900_000}1\n", "nested"),
    "deep blocks": (SMALL + "".join(" " * i + "x-a:\n" for i in range(1900)), "nested"),
    "tags": (f"{SMALL}x-a: [{'!a 1,' * 300_000}1]\n", "200 problems so far"),
    "no numbers": (f"{SMALL}x-a: [{'.nan,' * 300_000}1]\n", "200 problems so far"),
    "a long title": (
        f"{HEAD}title: '{'x' * 1_900_000}'\n{SPACE}{PEOPLE}",
        "at most 200 characters",
    ),
    "a long number": (SMALL.replace("2.7", "9" * 1_900_000), "no usable number"),
    "a long length": (SMALL.replace("2.7", f"'{'9' * 1_900_000} m'"), "no length"),
    "a long key": (f"{SMALL}'{'k' * 1_900_000}': 1\n", "no valid YAML"),
    "a long anchor": (f"{SMALL}x-a: &{'a' * 1_900_000} 1\n", "the anchor &aaaa"),
    "a long tag": (f"{SMALL}x-a: !{'a' * 1_900_000} 1\n", "the tag"),
    "products": (f"{SMALL}choices: {{allow: [{many(49_000, 'ceiling-{}')}]}}\n", "at most 500"),
    "rules": (
        f"{SMALL}targets: {{house_rules: {{{many(24_000, 'near-{}: {{relaxed: true}}')}}}}}\n",
        "at most 500",
    ),
    "facings": (SMALL.replace("[2, 2]", f"[2, 2], facing: [{'0,' * 90_000}0]"), "at most 500"),
    "patches in one place": (
        SMALL.replace(
            "2.7}",
            "2.7, finishes: {patches: {"
            + many(500, "p{}: {{wall: w0, from: 1, to: 2, top: 2, finish: glass-front}}")
            + "}}}",
        ),
        "more is wrong; mend these first",
    ),
    "obstacles": (
        f"{HEAD}space: {{{BIG}, obstacles: {{{RINGS}}}}}\n{PEOPLE}",
        "more than 100,000 values",
    ),
    "unknown products": (
        SMALL
        + "devices: {"
        + many(
            500, "m{}: {{kind: microphone, product: heads-{}, at: [2, 2, 2]}}".replace("{}", "{0}")
        )
        + "}\n",
        "no product 'heads-499'",
    ),
    "null bytes": ("\0" * 1_900_000, "null bytes"),
    "nothing but blank lines": ("\n" * 1_900_000, "there is nothing in it"),
}

RUN = """
import json, resource, sys
resource.setrlimit(resource.RLIMIT_AS, (int(sys.argv[2]),) * 2)
resource.setrlimit(resource.RLIMIT_CPU, (int(sys.argv[1]),) * 2)
from wellheard.errors import InputError
from wellheard.workflow.load import load
for path in sys.argv[3:]:
    try:
        load(path)
        print(json.dumps([f"{path}: reads"]))
    except InputError as error:
        print(json.dumps(str(error).splitlines()))
"""


@pytest.fixture(scope="module")
def answers(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[str]]:
    """What is said of each, all read one after the other by one process within the limits."""
    folder = tmp_path_factory.mktemp("worst")
    paths = {name: folder / f"{i}.room.yaml" for i, name in enumerate(WORST)}
    for name, path in paths.items():
        path.write_text(WORST[name][0], "utf-8")
        assert path.stat().st_size <= 2_000_000, name
    done = subprocess.run(
        [sys.executable, "-c", RUN, str(SECONDS), str(BYTES), *map(str, paths.values())],
        capture_output=True,
        encoding="utf-8",
        env={"OPENBLAS_NUM_THREADS": "1", "PYTHONUTF8": "1"},
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, ""), done.stderr[-2000:]
    return dict(zip(paths, map(json.loads, done.stdout.splitlines()), strict=True))


@pytest.mark.parametrize("name", WORST)
def test_the_worst_ends_within_bounds_with_its_place(
    answers: dict[str, list[str]], name: str
) -> None:
    lines = answers[name]
    assert any(WORST[name][1] in line for line in lines), lines[:3]
    for line in lines:
        assert re.match(r".*/\d+\.room\.yaml:\d+:\d+: .*; .+", line), line[:300]
        assert len(line) < 3000
    assert len(lines) <= 501
