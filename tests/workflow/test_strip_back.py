"""Strips of the way back: sums by hand, a working for every figure, a reason for every dash."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import Amplifier, Loudspeaker, Microphone, Processor
from wellheard.errors import InputError
from wellheard.workflow.live import Live
from wellheard.workflow.load import load

HEAD = """\
wellheard: 1
title: Way Back Room
units: m
space:
  outline: [[0, 0], [6, 0], [6, 4.5], [0, 4.5]]
  height: 2.7
  climate: {temperature_c: 20, humidity: 0.5}
  finishes: {floor: carpet-tile, ceiling: ceiling-mineral-tile, walls: fabric-panel}
people:
  effort: normal
  occupancy: 0
  seats:
    s1: {at: [2.1, 2.0], facing: 0}
    s2: {at: [4.6, 2.0], facing: 180}
    s3: {at: [3.2, 3.6], facing: 270}
noise: {background: {nc: 25}}
equipment: {rack: {kind: rack, at: [5.5, 4.2, 0.6]}}
far_end: {one_way_delay_ms: 300, listening_level_dba: 65, noise: {nc: 30}}
targets: {chance: 0.8, sti_outbound: 0.6, sti_inbound: 0.6, playback_level_dba: 68}
devices:
  mixer: {kind: processor, product: processor-4, equipment: rack}
  amp: {kind: amplifier, product: amplifier-2x40, equipment: rack}
  m1: {kind: microphone, product: ceiling-head-3, at: [3.0, 2.2, 2.7]}
"""
SPEAKER = "  l1: {kind: loudspeaker, product: wall-8, at: [0.1, 2.0, 1.2], aim_deg: 0}\n"
LIFT = "processing: {up: {kind: lift, on: l1.in, sources: [m1.link], gain_db: -12}}\n"
SPEED = 331.3 * math.sqrt(1 + 20 / 273.15)  # dry air, handbook formula, from memory [M]
WAYS = ("outbound", "inbound", "echo", "lift")


def made(tmp_path: Path, text: str) -> Live:
    path = tmp_path / "back.room.yaml"
    path.write_text(text, encoding="utf-8")
    return Live(load(path))


@pytest.fixture(scope="module")
def live(tmp_path_factory: pytest.TempPathFactory) -> Live:
    return made(tmp_path_factory.mktemp("back"), HEAD + SPEAKER + LIFT)


@pytest.fixture(scope="module")
def silent(tmp_path_factory: pytest.TempPathFactory) -> Live:
    return made(tmp_path_factory.mktemp("silent"), HEAD)


def number(found: dict[str, Any], row: str, station: str) -> float:
    names = [one["name"] for one in found["stations"]]
    cells = next(one["cells"] for one in found["rows"] if one["name"] == row)
    # two stations of one name: the last one
    at = len(names) - 1 - names[::-1].index(station)
    return float(cells[at]["figure"].replace("−", "-"))


def latency_ms(product: str) -> float:
    found = Catalogue.shipped().product(product)
    assert isinstance(found, Microphone | Processor | Amplifier | Loudspeaker)
    return found.latency_ms


@pytest.mark.parametrize("way", WAYS)
def test_every_figure_opens_its_working_and_every_dash_says_why(live: Live, way: str) -> None:
    found = live.path("s2", unit="ft", way=way)
    json.dumps(found, allow_nan=False)
    assert found["way"] == way
    assert [one["key"] for one in found["ways"]] == list(WAYS)
    assert len(found["between"]) == len(found["stations"]) - 1
    for row in found["rows"]:
        assert len(row["cells"]) == len(found["stations"])
        for cell in row["cells"]:
            if cell["figure"] == "–":
                assert cell["why"]
            else:
                opened = found["working"][cell["working"]]
                assert all(opened[key] for key in ("quantity", "formula", "source", "limits"))
                assert opened["unit"] == cell["unit"]
    for station in found["stations"]:
        assert set(station["workings"]) <= set(found["working"])
    # every station on the way back can be opened, but for electronics that only pass things on
    closed = [one["name"] for one in found["stations"] if not one["workings"]]
    assert set(closed) <= {"Gain", "Amplifier", "Canceller"}


@pytest.mark.parametrize("way", ["inbound", "echo", "lift"])
def test_a_path_that_is_not_there_says_why(silent: Live, way: str) -> None:
    found = silent.path("s1", unit="m", way=way)
    json.dumps(found)
    assert found["why"] == "no loudspeaker is placed"
    assert {cell["figure"] for row in found["rows"] for cell in row["cells"]} == {"–"}
    whys = {one["key"]: one["why"] for one in found["ways"]}
    assert whys["outbound"] == ""
    assert whys[way] == found["why"]


def test_there_are_four_ways_and_no_fifth(live: Live) -> None:
    with pytest.raises(InputError, match="there are outbound, inbound, echo, lift"):
        live.path("s1", unit="m", way="sideways")


# ---- inbound -----------------------------------------------------------------------------


def test_the_energy_mean_over_the_ears_is_the_playback_level(live: Live) -> None:
    ears = [
        number(live.path(s, unit="m", way="inbound"), "Level", "Ear") for s in ("s1", "s2", "s3")
    ]
    mean = 10 * math.log10(sum(10 ** (level / 10) for level in ears) / len(ears))
    assert mean == pytest.approx(68, abs=0.06)


def test_on_the_axis_direct_sound_falls_with_the_square_of_the_distance(live: Live) -> None:
    # inverse square law over 2.00 m; reflections of the wall behind it are within a millisecond
    found = live.path("s1", unit="m", way="inbound")
    fall = number(found, "Level", "Air") - number(found, "Level", "Loudspeaker")
    assert fall == pytest.approx(-20 * math.log10(2.0), abs=0.5)
    assert found["line"] == [[0.1, 2.0], [2.1, 2.0]]
    assert found["line_words"].replace("\u00a0", " ") == "2.00 m"


def test_working_level_is_twenty_decibels_below_full_scale_at_the_line_output(live: Live) -> None:
    # the sheet of the processor: 0 dBFS is so many dBu at its outputs
    sheet = Catalogue.shipped().product("processor-4")
    assert isinstance(sheet, Processor)
    full = sheet.clip_dbu
    assert full is not None
    found = live.path("s1", unit="m", way="inbound")
    assert number(found, "Level", "Gain") == pytest.approx(full - 20, abs=0.06)
    assert number(found, "Spare", "Gain") == pytest.approx(20, abs=0.06)


def test_the_voice_is_late_by_its_electronics_and_the_air(live: Live) -> None:
    found = live.path("s2", unit="m", way="inbound")
    devices = latency_ms("processor-4") + latency_ms("amplifier-2x40") + latency_ms("wall-8")
    assert number(found, "Delay", "Loudspeaker") == pytest.approx(devices, abs=0.11)
    air = 1000 * 4.5 / SPEED
    assert number(found, "Delay", "Ear") == pytest.approx(devices + air, abs=0.16)


# ---- echo --------------------------------------------------------------------------------


def test_at_three_hundred_milliseconds_forty_five_decibels_are_needed(live: Live) -> None:
    # ITU-T G.131, acceptable talker echo: 55 dB at 300 ms, less the 10 dB of the far terminal,
    # from memory [M]
    found = live.path("s1", unit="m", way="echo")
    assert number(found, "Loss", "Far end") == pytest.approx(45, abs=0.3)
    assert number(found, "Delay", "Far end") == 600


def test_the_echo_is_below_working_level_by_the_loss_so_far(live: Live) -> None:
    found = live.path("s1", unit="m", way="echo")
    for station in ("Gain", "Canceller"):
        level, loss = (number(found, row, station) for row in ("Level", "Loss"))
        assert level + loss == pytest.approx(-20, abs=0.11)
    must, can = found["end"].split(" · ")[1].split(", ")[:2]
    whole = number(found, "Loss", "Canceller") - number(found, "Loss", "Gain")
    assert float(can.split("\u00a0")[0]) == pytest.approx(whole, abs=0.11)
    need = number(found, "Loss", "Far end") - number(found, "Loss", "Gain")
    assert float(must.split("\u00a0")[0]) == pytest.approx(need, abs=0.11)


def test_the_echo_goes_to_the_microphone_that_serves_the_place(live: Live) -> None:
    found = live.path("s1", unit="m", way="echo")
    assert found["microphone"] == "devices.m1"
    assert found["line"] == [[0.1, 2.0], [3.0, 2.2]]


# ---- lift --------------------------------------------------------------------------------


def test_two_voices_at_an_ear_add_by_energy(live: Live) -> None:
    found = live.path("s2", unit="m", way="lift")
    natural, both = number(found, "Natural", "Ear"), number(found, "Level", "Ear")
    brought = number(found, "Level", "Air")
    added = 10 * math.log10(10 ** (natural / 10) + 10 ** (brought / 10))
    assert both == pytest.approx(added, abs=0.11)
    assert found["title"] == "Voice lift"
    assert "not included" in found["note"]


def test_a_lifted_voice_goes_to_the_microphone_and_on_from_the_loudspeaker(live: Live) -> None:
    found = live.path("s2", unit="m", way="lift")
    speaker = found["under"].split()[0]
    seats = {"s1": (2.1, 2.0, 1.2), "s3": (3.2, 3.6, 1.2)}
    there = math.dist(seats[speaker], (3.0, 2.2, 2.7))
    back = math.dist((0.1, 2.0, 1.2), (4.6, 2.0, 1.2))
    names = ("ceiling-head-3", "processor-4", "amplifier-2x40", "wall-8")
    devices = sum(latency_ms(name) for name in names)
    whole = devices + 1000 * (there + back) / SPEED
    assert number(found, "Delay", "Ear") == pytest.approx(whole, abs=0.25)
    assert found["line"] == [list(seats[speaker][:2]), [3.0, 2.2], [0.1, 2.0], [4.6, 2.0]]


def test_every_decibel_of_lift_costs_a_decibel_of_margin(live: Live, tmp_path: Path) -> None:
    # a loop is linear: its gain is the lift and what the room does
    more = made(tmp_path, HEAD + SPEAKER + LIFT.replace("-12", "-9"))
    margins = [
        number(one.path("s2", unit="m", way="lift"), "Margin", "Gain") for one in (live, more)
    ]
    assert margins[0] - margins[1] == pytest.approx(3, abs=0.11)


def test_a_room_without_lift_shows_what_would_be_possible(tmp_path: Path) -> None:
    found = made(tmp_path, HEAD + SPEAKER).path("s2", unit="m", way="lift")
    assert "none in this room" in found["title"]
    assert found["state"] == "not assessed"
    # six decibels of margin are usual: common practice, no source [C]
    assert number(found, "Margin", "Gain") == pytest.approx(6, abs=0.06)
