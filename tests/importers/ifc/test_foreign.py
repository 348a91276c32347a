"""Building models that other programs have written, against what they say of themselves."""

from __future__ import annotations

import math
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from wellheard.importers.found import Asked, FoundPlan
from wellheard.importers.ifc.read import read_ifc

ifcopenshell = pytest.importorskip("ifcopenshell")
engine = pytest.importorskip("ifcopenshell.geom")
measured = pytest.importorskip("ifcopenshell.util.shape")

FOLDER = Path(__file__).parent / "foreign"
SAID: dict[str, dict[str, Any]] = tomllib.loads((FOLDER / "provenance.toml").read_text("utf-8"))


@cache
def read(name: str) -> FoundPlan:
    return read_ifc(FOLDER / f"{name}.ifc", Asked())


def test_every_model_has_its_origin_and_an_open_licence() -> None:
    assert {path.stem for path in FOLDER.glob("*.ifc")} == set(SAID)
    for said in SAID.values():
        assert said["origin"]
        assert said["licence"] in ("CC-BY-4.0", "CC0-1.0", "MIT", "Apache-2.0", "BSD-3-Clause")


@pytest.mark.parametrize("name", SAID)
def test_schema_unit_and_number_of_rooms_are_those_stated(name: str) -> None:
    plan, said = read(name), SAID[name]
    assert (plan.format, plan.unit, len(plan.rooms)) == (
        said["schema"],
        said["unit"],
        said["rooms"],
    )


@pytest.mark.parametrize("name", SAID)
def test_areas_are_those_of_the_floors_and_ceilings_that_bound_the_rooms(name: str) -> None:
    rooms = {room.key: room for room in read(name).rooms}
    for key, area in SAID[name]["areas"].items():
        assert rooms[key].area == pytest.approx(area, abs=1e-3), key


@pytest.mark.parametrize("name", SAID)
def test_areas_are_those_of_the_general_purpose_geometry_engine(name: str) -> None:
    # Its bodies, cut by its own kernel: volume over height of a prism.
    model = ifcopenshell.open(str(FOLDER / f"{name}.ifc"))
    rooms = {room.name: room for room in read(name).rooms}
    for space in model.by_type("IfcSpace"):
        shape = engine.create_shape(engine.settings(), space).geometry
        area = measured.get_volume(shape) / measured.get_z(shape)
        assert rooms[space.LongName or space.Name].area == pytest.approx(area, rel=1e-6)


def test_openings_are_as_wide_and_high_as_their_doors_and_windows_say() -> None:
    model = ifcopenshell.open(str(FOLDER / "duplex-rooms-ifc2x3.ifc"))
    stated = [
        (kind, one.OverallWidth, one.OverallHeight)
        for kind, name in (("door", "IfcDoor"), ("window", "IfcWindow"))
        for one in model.by_type(name)
    ]
    found = [one for room in read("duplex-rooms-ifc2x3").rooms for one in room.openings]
    assert len(found) >= len(stated)
    for kind, wide, high in stated:
        assert any(
            one.kind == kind
            and math.isclose(one.end - one.start, wide, abs_tol=0.01)
            and one.bottom is not None
            and one.top is not None
            and (math.isclose(one.top - one.bottom, high, abs_tol=0.03))
            for one in found
        ), (kind, wide, high)


def test_the_inner_side_of_an_outer_wall_is_what_the_room_has() -> None:
    # Its layers, from outside: brick, air, insulation, block, studs, plasterboard.
    rooms = {room.key: room for room in read("duplex-rooms-ifc2x3").rooms}
    living = rooms["a102"].materials
    assert {word for surface, word in living.items() if surface.startswith("wall ")} == {
        "Plasterboard"
    }
    assert "Wood - Flooring" in living["floor"]
    assert "Plasterboard" in living["ceiling"]


def test_storeys_and_clear_heights_are_told_apart() -> None:
    rooms = {room.key: room for room in read("duplex-rooms-ifc2x3").rooms}
    assert (rooms["a102"].storey, rooms["a203"].storey) == ("Level 1", "Level 2")
    for key in ("a102", "a203"):
        assert rooms[key].height_source == "underside of the ceiling covering"


def test_furniture_is_told_by_its_words_and_not_by_its_size_alone() -> None:
    rooms = {room.key: room for room in read("duplex-rooms-ifc2x3").rooms}
    kinds = sorted(thing.role for thing in rooms["a102"].things)
    assert kinds == ["soft-seating", "soft-seating", "table", "table", "table"]
    low = [t.top for t in rooms["a102"].things if "0457mm" in t.name]
    assert low == [pytest.approx(0.457, abs=0.02)]
