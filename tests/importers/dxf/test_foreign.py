"""Drawings of other programs, R2.6 to R2018, hold what somebody else says of them."""

from __future__ import annotations

import gzip
import tomllib
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from wellheard.errors import InputError
from wellheard.importers.dxf.read import read_dxf
from wellheard.importers.found import Asked, FoundPlan, UnitUnstated

FOLDER = Path(__file__).with_name("foreign")


def _cases() -> list[dict[str, Any]]:
    rows = tomllib.loads((FOLDER / "origin.toml").read_text("utf-8"))["file"]
    named = {row["name"]: row for row in rows}
    return [{**named.get(row.get("like", ""), {}), **row} for row in rows]


CASES = _cases()


def unpacked(case: dict[str, Any], folder: Path) -> Path:
    path = FOLDER / case["name"]
    if path.suffix != ".gz":
        return path
    plain = folder / path.stem
    plain.write_bytes(gzip.decompress(path.read_bytes()))
    return plain


def read(case: dict[str, Any], folder: Path) -> FoundPlan:
    return read_dxf(unpacked(case, folder), Asked(case["unit"] or None))


def test_every_file_has_its_origin_and_licence() -> None:
    files = {path.name for path in FOLDER.iterdir()} - {"origin.toml"}
    assert {case["name"] for case in CASES} == files
    for case in CASES:
        assert {"writer", "licence", "basis"} <= case.keys()


@pytest.mark.parametrize(
    "case", [c for c in CASES if "refused" not in c], ids=lambda case: case["name"]
)
def test_what_another_program_drew_is_found(case: dict[str, Any], tmp_path: Path) -> None:
    plan = read(case, tmp_path)
    assert plan.format == case["version"]
    assert len(plan.rooms) == len(case["areas"])
    for room, area in zip(plan.rooms, case["areas"], strict=True):
        assert room.area == pytest.approx(area, abs=case["tolerance"])
    if not plan.rooms:
        assert any("no room was found" in warning for warning in plan.warnings)
        return
    assert [room.name for room in plan.rooms] == case["names"]
    if "heights" in case:
        assert [room.height for room in plan.rooms] == pytest.approx(case["heights"], abs=1e-6)
    assert sum(len(room.seats) for room in plan.rooms) == case.get("seats", 0)
    things = Counter(thing.role for room in plan.rooms for thing in room.things)
    assert dict(things) == case.get("things", {})
    doors = sum(opening.kind == "door" for room in plan.rooms for opening in room.openings)
    assert doors == case.get("doors", 0)


@pytest.mark.parametrize("case", [c for c in CASES if c.get("asks")], ids=lambda case: case["name"])
def test_a_file_without_a_unit_asks_for_it(case: dict[str, Any], tmp_path: Path) -> None:
    with pytest.raises(UnitUnstated) as asked:
        read_dxf(unpacked(case, tmp_path), Asked())
    assert len(asked.value.sizes) == 5
    assert case["name"].removesuffix(".gz") in str(asked.value)


@pytest.mark.parametrize("case", [c for c in CASES if "refused" in c], ids=lambda c: c["name"])
def test_a_file_without_a_drawing_is_refused(case: dict[str, Any], tmp_path: Path) -> None:
    with pytest.raises(InputError, match=case["refused"]):
        read(case, tmp_path)


def test_the_likeliest_unit_is_told_first(tmp_path: Path) -> None:
    # The plan of two rooms has doors of 0.9 m and a table of 2.4 m in millimetres.
    with pytest.raises(UnitUnstated) as asked:
        read_dxf(FOLDER / "plan_r12.dxf", Asked())
    assert asked.value.sizes[0][0] == "mm"
