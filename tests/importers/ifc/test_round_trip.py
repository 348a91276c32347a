"""A document written as a building model and read back: the same room to a millimetre."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from tests.importers.ifc.written import NAMES, equipped, written
from wellheard.importers.found import Asked, FoundRoom
from wellheard.importers.guarded import read_guarded
from wellheard.importers.ifc.read import read_ifc
from wellheard.importers.standing import stood
from wellheard.predict.talkers import talkers
from wellheard.room.document import Room

ifcopenshell = pytest.importorskip("ifcopenshell")

MM = 1e-3


@pytest.fixture(params=NAMES)
def both(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[Room, FoundRoom]:
    path = tmp_path / "room.ifc"
    path.write_bytes(written(request.param))
    plan = read_ifc(path, Asked())
    assert (plan.format, plan.unit) == ("IFC4", "m")
    (found,) = plan.rooms
    assert found.owned
    return equipped(request.param), stood(found)


def test_a_plan_read_in_a_process_of_its_own_is_the_same(tmp_path: Path) -> None:
    path = tmp_path / "room.ifc"
    path.write_bytes(written("huddle-four"))
    assert read_guarded(path, Asked()) == read_ifc(path, Asked())


def test_a_room_of_ours_that_somebody_has_turned_is_read_like_any_other(tmp_path: Path) -> None:
    model = ifcopenshell.file.from_string(written("huddle-four").decode())
    (space,) = model.by_type("IfcSpace")
    axes = space.ObjectPlacement.RelativePlacement
    axes.Axis = model.create_entity("IfcDirection", DirectionRatios=(0.0, 0.0, 1.0))
    axes.RefDirection = model.create_entity("IfcDirection", DirectionRatios=(0.6, 0.8, 0.0))
    path = tmp_path / "turned.ifc"
    model.write(str(path))
    (found,) = read_ifc(path, Asked()).rooms
    room = equipped("huddle-four")
    assert not found.owned
    for (x, y), corner in zip(room.space.outline, found.outline, strict=True):
        wanted = (0.6 * x - 0.8 * y, 0.8 * x + 0.6 * y)
        assert min(math.dist(wanted, other) for other in found.outline) < MM, corner


def test_outline_height_and_ceiling_come_back(both: tuple[Room, FoundRoom]) -> None:
    room, found = both
    for corner, wanted in zip(found.outline, room.space.outline, strict=True):
        assert math.dist(corner, wanted) < MM
    assert found.height == pytest.approx(room.space.height, abs=MM)
    assert found.name == room.title
    assert found.ceiling_kind == room.space.ceiling.kind
    assert found.wall_names == room.space.walls
    assert (found.grid is not None) == (room.space.ceiling.kind == "tiles")
    if found.grid is not None:
        ceiling = room.space.ceiling
        assert found.grid.module == pytest.approx(ceiling.module, abs=MM)
        assert found.grid.origin == pytest.approx(ceiling.origin, abs=MM)
        assert found.grid.rotation_deg == pytest.approx(ceiling.rotation_deg)


def test_microphones_and_loudspeakers_come_back(both: tuple[Room, FoundRoom]) -> None:
    room, found = both
    wanted = {
        key: one
        for key, one in room.devices.items()
        if one.at is not None and one.kind in ("microphone", "loudspeaker", "combined")
    }
    assert {one.id for one in found.devices} == set(wanted)
    assert len(found.devices) >= 3
    for one in found.devices:
        device = wanted[one.id]
        assert device.at is not None
        assert math.dist(one.at, device.at) < MM
        assert (one.product, one.kind) == (device.product, device.kind)
        assert (one.aim_deg, one.rotation_deg) == (device.aim_deg, device.rotation_deg)


def test_seats_come_back_with_where_they_face(both: tuple[Room, FoundRoom]) -> None:
    room, found = both
    sitting = {one.id: one for one in talkers(room) if one.kind == "seat"}
    assert {one.id for one in found.seats} == set(room.people.seats)
    for one in found.seats:
        assert math.dist(one.at, room.people.seats[one.id].at) < MM
        assert one.facing_deg is not None
        turn = (one.facing_deg - sitting[one.id].facings_deg[0] + 180.0) % 360.0 - 180.0
        assert abs(turn) < 1e-6


def test_things_come_back_under_their_ids(both: tuple[Room, FoundRoom]) -> None:
    room, found = both
    by_id = {one.id: one for one in found.things}
    for key, piece in room.furniture.items():
        assert by_id[key].kind == piece.kind
        if piece.kind == "table":
            corners = sorted(by_id[key].outline)
            for corner, wanted in zip(corners, sorted(piece.outline), strict=True):
                assert math.dist(corner, wanted) < MM
            assert by_id[key].top == pytest.approx(piece.height, abs=MM)
    for key, overhead in room.overhead.items():
        assert by_id[key].kind == overhead.kind
        flush = overhead.bottom is None
        assert by_id[key].bottom == (None if flush else pytest.approx(overhead.bottom, abs=MM))
    for key, equipment in room.equipment.items():
        assert math.dist(by_id[key].at, equipment.at[:2]) < MM
        assert by_id[key].bottom == pytest.approx(equipment.at[2], abs=MM)


def test_finishes_come_back_as_ids(both: tuple[Room, FoundRoom]) -> None:
    room, found = both
    for i, name in enumerate(room.space.walls):
        finish = room.space.wall_finish(name)
        assert found.materials.get(f"wall {i}", "") == (finish if isinstance(finish, str) else "")
    floor = room.space.floor_finish
    assert found.materials.get("floor", "") == (floor if isinstance(floor, str) else "")
