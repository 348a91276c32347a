"""A room that divides on the command line. The room is invented."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.cli.conftest import Wellheard

TWO = """\
wellheard: 1
title: Two Halves
space:
  outline: [[0, 0], [9.6, 0], [9.6, 4.8], [0, 4.8]]
  height: 2.7
people:
  seats:
    w1: {at: [1.6, 1.6], facing: 90}
    e1: {at: [6.6, 1.6], facing: 90}
noise: {background: {nc: 25}}
devices:
  m1: {kind: microphone, product: ceiling-head-3, at: [2.1, 2.1, 2.7]}
  m2: {kind: microphone, product: ceiling-head-3, at: [6.9, 2.1, 2.7]}
partitions: {fold: {from: [4.8, 0], to: [4.8, 4.8]}}
arrangements: {joined: {open: [fold]}, split: {closed: [fold]}}
"""


@pytest.fixture
def two(tmp_path: Path) -> Path:
    path = tmp_path / "two.room.yaml"
    path.write_text(TWO)
    return path


def test_predict_names_every_space_and_where_each_seat_is_worst(
    wellheard: Wellheard, two: Path
) -> None:
    lines = wellheard("predict", two).out.splitlines()
    assert lines[:4] == [
        "Two Halves: the promise is kept at all 2 talking points in every arrangement",
        "  joined: kept at all 2",
        "  split, space a: kept at all 1",
        "  split, space b: kept at all 1",
    ]
    assert [line for line in lines if line in ("joined", "split, space a", "split, space b")] == [
        "joined",
        "split, space a",
        "split, space b",
    ]
    head = next(line for line in lines if line.startswith("state"))
    assert head.split()[:4] == ["state", "seat", "worst", "in"]


def test_check_says_in_which_arrangement_a_finding_holds(wellheard: Wellheard, two: Path) -> None:
    ended = wellheard("check", two)
    assert "split, space b: The Schroeder frequency is" in " ".join(ended.out.split())
    answer = wellheard("check", two, "--format", "json").json
    assert list(answer["arrangements"]) == ["joined", "split.a", "split.b"]
    assert {"split.b"} <= {p for f in answer["findings"] for p in f.get("arrangements", [])}


def test_a_microphone_beyond_the_partition_serves_nobody(wellheard: Wellheard, two: Path) -> None:
    two.write_text(TWO.replace("[6.9, 2.1, 2.7]", "[3.3, 2.1, 2.7]"))
    ended = wellheard("predict", two)
    assert ended.code == 1
    assert "  split, space b: kept at 0 of 1; 1 not assessed" in ended.out
    assert "Without a microphone in some arrangement: e1." in ended.out
    check = wellheard("check", two)
    assert check.code == 1
    assert "split, space b: no microphone hears e1 while fold is closed." in " ".join(
        check.out.split()
    )


def test_explain_names_the_arrangement_it_opens(wellheard: Wellheard, two: Path) -> None:
    first = wellheard("explain", two, "e1", "--arrangement", "split").out.splitlines()[0]
    assert first.startswith("split, space b: e1 to the far end through m2: ")
    answer = wellheard("explain", two, "e1", "--arrangement", "joined", "--format", "json").json
    assert (answer["seat"], answer["arrangement"]) == ("e1", "joined")
    ended = wellheard("explain", two, "e1", "--arrangement", "spilt")
    assert ended.code == 2
    assert "no arrangement 'spilt'; there are joined, split.a, split.b" in ended.err


@pytest.mark.usefixtures("few_rays_here")
def test_a_room_that_divides_is_surveyed_in_its_worst_arrangement(
    wellheard: Wellheard, two: Path, tmp_path: Path
) -> None:
    target = tmp_path / "it.pdf"
    answer = wellheard("survey", two, "-o", target, "--format", "json").json
    assert "in the arrangement" in answer["ground"]
    assert target.read_bytes().startswith(b"%PDF-")
