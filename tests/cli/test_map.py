"""``wellheard map``: what it writes, what it says, what it refuses."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import TYPE_CHECKING
from xml.etree import ElementTree

import pytest

if TYPE_CHECKING:
    from tests.cli.conftest import Wellheard

ROOM = """\
wellheard: 1
title: Wren Room
units: {units}
space: {{outline: {outline}, height: {height}}}
furniture: {{table: {{kind: table, outline: {table}}}}}
people: {{seats: {{s1: {{at: {seat}, facing: across}}}}}}
noise: {{background: {{nc: 25}}}}
devices: {{m1: {{kind: microphone, product: ceiling-head-3, at: {mic}}}}}
"""
METRES = ROOM.format(
    units="m",
    outline="[[0, 0], [6, 0], [6, 4], [0, 4]]",
    height="2.7",
    table="[[2, 1.5], [4, 1.5], [4, 2.5], [2, 2.5]]",
    seat="[3, 1.1]",
    mic="[3, 2, 2.7]",
)
FEET = ROOM.format(
    units="ft",
    outline="[[0, 0], [20, 0], [20, 14], [0, 14]]",
    height="9",
    table="[[7, 5], [13, 5], [13, 9], [7, 9]]",
    seat="[10, 4]",
    mic="[10, 7, 9]",
)


@pytest.fixture
def room(tmp_path: Path) -> Path:
    path = tmp_path / "wren.room.yaml"
    path.write_text(METRES, encoding="utf-8")
    return path


@pytest.fixture
def feet(tmp_path: Path) -> Path:
    path = tmp_path / "feet.room.yaml"
    path.write_text(FEET, encoding="utf-8")
    return path


def test_without_output_a_summary_is_printed(room: Path, wellheard: Wellheard) -> None:
    ended = wellheard("map", room, "--quantity", "direct-to-reverberant")
    assert ended.code == 0
    assert ended.out.startswith("Direct-to-reverberant ratio at the microphone")
    for word in ("least", "median", "most", "keeps −6.0", "nine of ten reach", "Least at"):
        assert word in ended.out


@pytest.mark.parametrize("form", ["svg", "png", "json", "csv"])
def test_every_form_is_written_and_said(
    form: str, room: Path, tmp_path: Path, wellheard: Wellheard
) -> None:
    target = tmp_path / f"map.{form}"
    ended = wellheard("map", room, "-o", target, "--spacing", "0.5")
    assert (ended.code, ended.out) == (0, "")
    assert ended.err.strip() == f"{target}: written"
    data = target.read_bytes()
    if form == "svg":
        assert ElementTree.fromstring(data).tag.endswith("svg")
    elif form == "png":
        assert data.startswith(b"\x89PNG")
    elif form == "json":
        assert json.loads(data)["points"] == 12 * 8
    else:
        assert len(list(csv.reader(data.decode().splitlines()))) == 12 * 8 + 1


def test_what_exists_is_kept_unless_forced(
    room: Path, tmp_path: Path, wellheard: Wellheard
) -> None:
    target = tmp_path / "map.csv"
    target.write_text("mine", "utf-8")
    ended = wellheard("map", room, "-o", target)
    assert ended.code == 2
    assert "exists already" in ended.err
    assert target.read_text("utf-8") == "mine"
    assert wellheard("map", room, "-o", target, "--force").code == 0
    assert target.read_text("utf-8") != "mine"


def test_lengths_are_in_the_units_of_the_document_or_say_their_own(
    feet: Path, wellheard: Wellheard
) -> None:
    same = [
        wellheard("map", feet, "--format", "json", "--height", height, "--spacing", spacing).json
        for height, spacing in (("5", "2"), ("5 ft", "2 ft"), ("1.524 m", "60.96 cm"))
    ]
    assert same[0] == same[1] == same[2]
    assert same[0]["plane"]["origin"] == [0.0, 0.0, 1.524]
    cut = wellheard("map", feet, "--format", "json", "--from", "0,7", "--to", "20 ft,2.1336 m").json
    assert cut["plane"]["size"] == [6.096, 2.7432]
    assert cut["plane"]["across"] == [1.0, 0.0, 0.0]
    said = wellheard("map", feet, "--from", "0,7", "--to", "20,7").out
    assert 'Section from 0", 7\'-0" (left) to 20\'-0", 7\'-0"' in said


def test_where_the_talker_looks_can_be_said(room: Path, wellheard: Wellheard) -> None:
    both = wellheard("map", room, "--facing", "across,90", "--format", "json").json
    assert both["facing"] == ["across", 90.0]
    usual = wellheard("map", room, "--format", "json").json
    assert usual["facing"] == ["across"]
    assert both["median"]["middle"] <= usual["median"]["middle"]


def test_the_seats_of_a_map_are_those_of_the_ledger(room: Path, wellheard: Wellheard) -> None:
    mapped = wellheard("map", room, "--format", "json").json["seats"][0]
    ledger = wellheard("predict", room, "--format", "json").json["seats"][0]
    assert mapped["id"] == ledger["id"]
    assert mapped["value"] == ledger["outbound"]["sti"]
    assert mapped["low"] == ledger["outbound"]["sti_range"][0]


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--height", "3"], "not in the room; between the floor and the ceiling at 2.70 m"),
        (["--height", "tall"], "--height: 'tall' is no length"),
        (["--from", "1,1"], "--from and --to: give both"),
        (["--from", "1,1", "--to", "1,1"], "has no length"),
        (["--from", "1", "--to", "1,1"], "--from: '1' is no point of the plan"),
        (["--from", "1,1,1", "--to", "1,1"], "is no point of the plan"),
        (["--from", "1,x", "--to", "1,1"], "--from: 'x' is no length"),
        (["--from", "9,9", "--to", "12,9"], "outside the room; the plan runs from 0.00 m, 0.00 m"),
        (["--spacing", "0.01"], "at most 10,000 are computed: 0.05 m apart or more"),
        (["--spacing", "0"], "more than 0 and at most 2.00 m are allowed"),
        (["--spacing", "5"], "more than 0 and at most 2.00 m are allowed"),
        (["--facing", "north"], "across, display, or degrees from -360 to 360"),
        (["--facing", "display"], "no display to face"),
        (["--facing", "nan"], "across, display, or degrees"),
        (["--arrangement", "split"], "no arrangement 'split'; the room has none"),
        (["--quantity", "loudness"], 'Invalid value "loudness" for --quantity'),
        (["-o", "map.pdf"], "ends in .svg, .png, .json or .csv"),
    ],
)
def test_what_cannot_be_mapped_is_refused_with_what_is_allowed(
    options: list[str], says: str, room: Path, wellheard: Wellheard
) -> None:
    ended = wellheard("map", room, *options)
    assert (ended.code, ended.out) == (2, "")
    assert says in ended.err
