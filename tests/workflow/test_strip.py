"""The path strip: sums that anybody can do by hand, a reason for every dash, a working for all."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.errors import InputError
from wellheard.room import codec
from wellheard.workflow.live import Live
from wellheard.workflow.load import Loaded, load

TEXT = """\
wellheard: 1
title: Strip Room
units: m
space:
  outline: [[0, 0], [6, 0], [6, 4.5], [0, 4.5]]
  height: 2.7
  climate: {temperature_c: 20, humidity: 0.5}
  finishes: {floor: carpet-tile, ceiling: ceiling-mineral-tile, walls: plasterboard}
people:
  effort: normal
  occupancy: 0
  seats:
    s1: {at: [2.0, 2.0], facing: 0}
    s2: {at: [4.6, 3.4], facing: 180}
  standing:
    board: {outline: [[0.4, 0.4], [1.6, 0.4], [1.6, 2.0], [0.4, 2.0]], facing: 0}
noise:
  background: {nc: 25}
  sources: {vent: {kind: air-outlet, at: [3.0, 1.0, 2.7], dba_at_1m: 30}}
far_end: {listening_level_dba: 65, noise: {nc: 30}}
targets: {chance: 0.8, sti_outbound: 0.6, direct_to_reverberant_db: -9}
devices:
  m1: {kind: microphone, product: ceiling-head-3, at: [3.0, 2.2, 2.7]}
  m2: {kind: microphone, product: ceiling-head-3, at: [5.0, 3.2, 2.7]}
"""
MOUTH, AIR, CAPSULE, GAIN, MIXER, CANCELLER, FAR_END = range(7)
LEVEL, NOISE, DELAY, SPARE = range(4)


def made(tmp_path: Path, text: str = TEXT) -> Live:
    path = tmp_path / "strip.room.yaml"
    path.write_text(text, encoding="utf-8")
    return Live(load(path))


@pytest.fixture
def strip(tmp_path: Path) -> dict[str, Any]:
    return made(tmp_path).path("s1", unit="m")


def number(found: dict[str, Any], row: int, station: int) -> float:
    return float(found["rows"][row]["cells"][station]["figure"].replace("−", "-"))


def step(words: str) -> float:
    """The decibels that stand between two stations."""
    return float(words.split()[-2].replace("−", "-"))


def test_every_figure_opens_its_working_and_every_dash_says_why(strip: dict[str, Any]) -> None:
    json.dumps(strip, allow_nan=False)
    for row in strip["rows"]:
        assert len(row["cells"]) == len(strip["stations"]) == 7
        for cell in row["cells"]:
            if cell["figure"] == "–":
                assert cell["working"] is None
                assert cell["why"]
            else:
                opened = strip["working"][cell["working"]]
                assert opened["quantity"]
                assert opened["formula"]
                assert opened["source"]
                assert opened["limits"]
                assert opened["unit"] == cell["unit"]
    for station in strip["stations"]:
        assert set(station["workings"]) <= set(strip["working"])


def test_the_mouth_has_the_level_of_normal_effort(strip: dict[str, Any]) -> None:
    # ANSI S3.5-1997, normal effort: octaves 250 Hz–8 kHz at 1 m, from memory [M]; what 125 Hz adds
    # after A-weighting (−16.1 dB, IEC 61672-1 [M]) is below 0.1 dB
    octaves = (57.18, 59.83, 53.51, 48.52, 43.99, 38.59)
    a_weights = (-8.6, -3.2, 0.0, 1.2, 1.0, -1.1)
    sum_ = sum(10 ** ((level + a) / 10) for level, a in zip(octaves, a_weights, strict=True))
    assert number(strip, LEVEL, MOUTH) == pytest.approx(10 * math.log10(sum_), abs=0.15)


def test_delay_is_distance_over_the_speed_of_sound(strip: dict[str, Any]) -> None:
    distance = math.dist((2.0, 2.0, 1.2), (3.0, 2.2, 2.7))
    speed = 331.3 * math.sqrt(1 + 20 / 273.15)  # dry air, handbook formula, from memory [M]
    assert strip["line_words"].replace("\u00a0", " ") == f"{distance:.2f} m"
    assert number(strip, DELAY, MOUTH) == 0
    for station in (AIR, CAPSULE):
        assert number(strip, DELAY, station) == pytest.approx(1000 * distance / speed, abs=0.06)


def test_what_stands_between_leads_from_level_to_level(strip: dict[str, Any]) -> None:
    for before, after in ((MOUTH, AIR), (AIR, CAPSULE), (GAIN, MIXER)):
        by = step(strip["between"][before])
        assert number(strip, LEVEL, before) + by == pytest.approx(
            number(strip, LEVEL, after), abs=0.11
        )


def test_noise_is_the_energy_sum_of_its_parts(strip: dict[str, Any]) -> None:
    cell = strip["rows"][NOISE]["cells"][CAPSULE]
    parts = dict(strip["working"][cell["working"]]["inputs"])
    assert set(parts) == {"background", "vent", "self-noise"}
    sum_ = sum(10 ** (float(text.split()[0]) / 10) for text in parts.values())
    assert number(strip, NOISE, CAPSULE) == pytest.approx(10 * math.log10(sum_), abs=0.1)


def test_a_second_open_microphone_adds_what_a_closed_channel_lets_through(
    strip: dict[str, Any], tmp_path: Path
) -> None:
    # a gating mixer holds closed channels 15 dB down: common practice, no source [C]
    more = 10 * math.log10(1 + 10**-1.5)
    found = number(strip, NOISE, MIXER) - number(strip, NOISE, GAIN)
    assert found == pytest.approx(more, abs=0.11)
    alone = made(tmp_path, "".join(TEXT.splitlines(keepends=True)[:-1])).path("s1", unit="m")
    for row in (LEVEL, NOISE):
        assert number(alone, row, MIXER) == number(alone, row, GAIN)
    assert alone["between"][3] == "one microphone open"


def test_at_the_capsule_the_other_microphones_count_nothing(tmp_path: Path) -> None:
    line = "  m2: {kind: microphone, product: ceiling-head-3, at: [5.0, 3.2, 2.7]}\n"
    many = "".join(line.replace("m2", f"m{k}").replace("5.0", f"5.{k}") for k in range(2, 9))
    alone = made(tmp_path, TEXT.replace(line, "")).path("s1", unit="m")
    among = made(tmp_path, TEXT.replace(line, many)).path("s1", unit="m")
    assert among["microphone"] == "devices.m1"
    rises = [number(one, LEVEL, MIXER) - number(one, LEVEL, GAIN) for one in (among, alone)]
    assert rises[0] > rises[1] + 0.3
    for row in (LEVEL, NOISE):
        assert number(among, row, CAPSULE) == number(alone, row, CAPSULE)


@pytest.mark.parametrize("level", [60, 68.5])
def test_the_far_end_listens_at_the_level_of_the_document(tmp_path: Path, level: float) -> None:
    text = TEXT.replace("listening_level_dba: 65", f"listening_level_dba: {level}")
    found = made(tmp_path, text).path("s2", unit="m")
    assert number(found, LEVEL, FAR_END) == pytest.approx(level, abs=0.05)
    assert found["between"][5] == f"set to {level:g}\u00a0dBA"


@pytest.mark.parametrize(
    ("targets", "station"),
    [
        ("{chance: 0.8, sti_outbound: 0.6}", FAR_END),
        ("{chance: 0.8, direct_to_reverberant_db: 3}", AIR),
        ("{chance: 0.8, speech_to_noise_db: 25}", CAPSULE),
    ],
)
def test_the_quantity_that_binds_marks_its_station(
    tmp_path: Path, targets: str, station: int
) -> None:
    old = "{chance: 0.8, sti_outbound: 0.6, direct_to_reverberant_db: -9}"
    # null takes back what is promised where nothing is said
    rest = "".join(
        f", {name}: null"
        for name in ("sti_outbound", "direct_to_reverberant_db", "speech_to_noise_db")
        if name not in targets
    )
    text = TEXT.replace(old, targets.replace("}", f"{rest}}}"))
    assert made(tmp_path, text).path("s1", unit="m")["binds"] == station


def test_the_gain_brings_the_mean_talker_to_working_level(tmp_path: Path) -> None:
    # 20 dB below full scale for average speech: common practice, no source [C]
    live = made(tmp_path)
    points = ["s1", "s2", *(f"board.{k}" for k in range(1, 10))]
    served: dict[str, list[float]] = {}
    for point in points:
        try:
            found = live.path(point, unit="m")
        except InputError:
            continue  # the area has fewer points
        served.setdefault(found["microphone"], []).append(number(found, LEVEL, GAIN))
    assert len(served["devices.m1"]) > 1
    for levels in served.values():
        assert sum(levels) / len(levels) == pytest.approx(-20, abs=0.06)


def test_what_is_left_before_overload_is_full_scale_less_the_level(strip: dict[str, Any]) -> None:
    for station in (GAIN, MIXER):
        spare = number(strip, SPARE, station)
        assert spare == pytest.approx(-number(strip, LEVEL, station), abs=0.11)
    head = Catalogue.shipped().microphone("ceiling-head-3")
    overload = head.overload_db - number(strip, LEVEL, CAPSULE)
    assert number(strip, SPARE, CAPSULE) == pytest.approx(overload, abs=0.11)


def test_electronics_are_late_by_what_their_sheets_say(strip: dict[str, Any]) -> None:
    latency_ms = Catalogue.shipped().microphone("ceiling-head-3").latency_ms
    after = number(strip, DELAY, GAIN) - number(strip, DELAY, CAPSULE)
    assert after == pytest.approx(latency_ms, abs=0.11)


def test_what_nothing_does_is_a_dash_with_its_reason(strip: dict[str, Any]) -> None:
    cell = strip["rows"][LEVEL]["cells"][CANCELLER]
    assert cell["figure"] == "–"
    assert "nothing cancels" in cell["why"]


def test_a_standing_area_opens_at_its_worst_point(tmp_path: Path) -> None:
    live = made(tmp_path)
    rows = {row["id"]: row for row in live.figures(unit="m")["ledger"]["rows"]}
    found = live.path("people.standing.board", unit="m")
    assert found["under"].startswith(rows["board"]["point"])
    assert found == live.path("board", unit="m")
    assert f"STI {rows['board']['sti']}" in found["end"]


def test_lengths_are_in_the_unit_asked_for(tmp_path: Path) -> None:
    found = made(tmp_path).path("s1", unit="ft")
    assert found["line_words"] == "5'-11⅜\""  # 1.8138 m is 71.41 in
    assert "5'-11⅜\" to m1" in found["stations"][AIR]["under"]


def test_without_a_microphone_there_are_dashes_and_a_reason(tmp_path: Path) -> None:
    live = made(tmp_path, TEXT.partition("devices:")[0])
    found = live.path("s1", unit="m")
    json.dumps(found)
    assert found["why"] == "no microphone is placed"
    assert {cell["figure"] for row in found["rows"] for cell in row["cells"]} == {"–"}
    with pytest.raises(InputError, match="no place 'nobody'; there are s1, s2, board"):
        live.path("nobody", unit="m")


def test_in_a_room_that_divides_it_is_the_path_of_the_worst_arrangement(
    designed: Callable[..., Any],
) -> None:
    answer = designed("two-in-one")
    path = Path(__file__).parents[2] / "examples/two-in-one/two-in-one.room.yaml"
    given = load(path)
    live = Live(Loaded(codec.parse_document(answer.placed.text), given.catalogue, given.own))
    worst = answer.judged.evidence.worst()
    found = live.path(worst.talker.id, unit="m")
    part = next(p for p in answer.judged.parts if p.name == worst.arrangement)
    assert f"({part.part.title})" in found["under"]
    assert f"STI {worst.sti.value:.2f}" in found["end"]
