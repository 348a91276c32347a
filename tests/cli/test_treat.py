"""``treat`` in a document in feet: nothing in it is told in metres."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tests.cli.conftest import Wellheard

ROOM = """\
wellheard: 1
title: Whimbrel Room
units: ft
space:
  outline: [[0, 0], [26, 0], [26, 18], [0, 18]]
  walls: [south, east, north, west]
  height: 9
  ceiling: {kind: hard}
  finishes: {floor: concrete-floor, ceiling: plasterboard, walls: plasterboard}
people: {seats: {s1: {at: [10, 6]}, s2: {at: [10, 12]}}}
"""
FOOT, POUND = 0.3048, 0.45359237
"""[m], [kg]: exact by the international yard and pound agreement of 1959."""


def test_areas_weights_and_the_room_itself_are_in_feet_and_pounds(
    wellheard: Wellheard, tmp_path: Path
) -> None:
    path = tmp_path / "whimbrel.room.yaml"
    path.write_text(ROOM, "utf-8")
    ended = wellheard("treat", path, "-o", tmp_path / "dry.room.yaml")
    assert ended.code == 0
    found = wellheard("treat", path, "--format", "json").json["treatment"]
    said = " ".join(ended.err.split())
    assert f"for {found['area'] / FOOT**2:.0f} ft² of finishes" in ended.err
    assert "modules ft² lb EUR" in said
    for one in found["products"]:
        area, weight = one["area"] / FOOT**2, one["weight"] / POUND
        assert f"{one['name']} {one['count']} {area:.0f} {weight:.0f} {one['price']:,}" in said
    # By hand: 26 · 18 · 9 = 4212 ft³.
    assert "for communication in 4212 ft³" in said
    assert re.search(r"\d m[²³]?\b", said) is None


def test_the_volume_is_in_cubic_feet_wherever_it_is_told(
    wellheard: Wellheard, tmp_path: Path
) -> None:
    path = tmp_path / "whimbrel.room.yaml"
    path.write_text(ROOM, "utf-8")
    # By hand: 26 · 18 · 9 = 4212 ft³, and 4212 · 0.3048³ = 119.3 m³.
    assert "volume 4212 ft³" in wellheard("predict", path).out
    assert "for communication in 4212 ft³" in wellheard("predict", path, "--format", "json").out
    path.write_text(ROOM.replace("height: 9", "height: 7").replace("[26,", "[11,"), "utf-8")
    # 11 · 18 · 7 = 1386 ft³: more than the 30 m³ = 1059 ft³ below which nothing is recommended.
    assert "1386 ft³" in wellheard("check", path).out
    metres = ROOM.replace("units: ft", "units: m").replace("26", "8").replace("18", "5.5")
    metres = metres.replace("[10, 6]", "[3, 2]").replace("[10, 12]", "[3, 4]")
    path.write_text(metres.replace("height: 9", "height: 2.7"), "utf-8")
    # 8 · 5.5 · 2.7 = 118.8 m³.
    assert "volume 118.8 m³" in wellheard("predict", path).out


def test_no_line_is_longer_than_a_page_is_wide(wellheard: Wellheard, tmp_path: Path) -> None:
    path = tmp_path / "whimbrel.room.yaml"
    path.write_text(ROOM.replace("kind: hard", "kind: open"), "utf-8")
    ended = wellheard("treat", path, "-o", tmp_path / "dry.room.yaml")
    first = ended.err.split("\n\n")[0]
    assert first.startswith("Whimbrel Room: ")
    assert all(len(line) <= 100 for line in first.splitlines())
