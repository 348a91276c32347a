"""A plan that we wrote comes back to a millimetre: room, seats, furniture and devices."""

from __future__ import annotations

import math

import pytest

from tests.drawings.conftest import ell, hall, horseshoe, tide
from wellheard.drawings.backends.dxf import plan_dxf
from wellheard.drawings.view import PlanView
from wellheard.importers.dxf.read import read_dxf
from wellheard.importers.found import Asked, FoundRoom
from wellheard.importers.outlines import ring_of

MILLIMETRE = 0.001
VIEWS = {
    "ten seats": tide(),
    "ten seats, feet": tide("ft"),
    "an L": ell(),
    "an L, feet, turned grid": ell("ft", 30.0),
    "three by three": hall(3, 3, seats=4, microphones=1),
    "forty, feet": hall(11, 7, seats=40, microphones=6, units="ft"),
    "horseshoe": horseshoe(),
}


@pytest.fixture(scope="module", params=VIEWS)
def both(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> tuple[PlanView, FoundRoom]:
    view = VIEWS[request.param]
    path = tmp_path_factory.mktemp("own") / "plan.dxf"
    path.write_bytes(plan_dxf(view, date="2026-11-20"))
    plan = read_dxf(path, Asked())
    assert plan.unit == ("mm" if view.units == "m" else "in")
    (room,) = plan.rooms
    return view, room


def test_the_outline_and_the_height_are_those_of_the_document(
    both: tuple[PlanView, FoundRoom],
) -> None:
    view, room = both
    assert room.owned
    assert room.datum == pytest.approx((0.0, 0.0), abs=1e-9)
    assert room.name == view.title_block.title
    assert room.height == pytest.approx(view.height, abs=MILLIMETRE)
    drawn = ring_of(view.outline)
    assert len(room.outline) == len(drawn)
    for one, other in zip(room.outline, drawn, strict=True):
        assert math.dist(one, other) < MILLIMETRE


def test_devices_are_where_they_were_with_id_and_product(
    both: tuple[PlanView, FoundRoom],
) -> None:
    view, room = both
    found = {device.id: device for device in room.devices}
    assert found.keys() == {device.id for device in view.devices}
    for device in view.devices:
        back = found[device.id]
        assert math.dist(back.at, device.at) < MILLIMETRE
        assert back.product == device.product
        assert back.role == ("microphone" if device.microphone else "loudspeaker")


def test_seats_are_where_they_were_and_look_where_they_looked(
    both: tuple[PlanView, FoundRoom],
) -> None:
    view, room = both
    found = {seat.id: seat for seat in room.seats}
    assert found.keys() == {seat.id for seat in view.seats}
    for seat in view.seats:
        back = found[seat.id]
        assert math.dist(back.at, seat.at) < MILLIMETRE
        assert back.facing_deg is not None
        assert math.cos(math.radians(back.facing_deg - seat.facing_deg)) > 1 - 1e-8


def test_furniture_and_what_hangs_comes_back(both: tuple[PlanView, FoundRoom]) -> None:
    view, room = both
    for kind in ("table", "soft-seating"):
        drawn = [item for item in view.furniture if item.kind == kind]
        back = [thing for thing in room.things if thing.role == kind]
        assert len(back) == len(drawn)
        for item in drawn:
            ring = ring_of(item.outline)
            nearest = min(back, key=lambda t: math.dist(t.outline[0], ring[0]))
            assert len(nearest.outline) == len(ring)
            for one, other in zip(nearest.outline, ring, strict=True):
                assert math.dist(one, other) < MILLIMETRE
            if item.height:
                assert nearest.top == pytest.approx(item.height, abs=MILLIMETRE)
    roles = {"luminaire": "luminaire", "keep-out": "keep-out"}
    for kind, role in roles.items():
        drawn_over = [mark for mark in view.overhead if mark.kind == kind]
        assert sum(thing.role == role for thing in room.things) == len(drawn_over)
    assert sum(thing.role == "display" for thing in room.things) == len(view.displays)


def test_the_grid_of_the_ceiling_comes_back(both: tuple[PlanView, FoundRoom]) -> None:
    view, room = both
    if view.ceiling is None:
        assert room.grid is None
        return
    assert room.grid is not None
    assert room.grid.module == pytest.approx(view.ceiling.module, abs=MILLIMETRE)
    # A crossing of the one is a crossing of the other.
    turn = math.radians(room.grid.rotation_deg)
    dx = view.ceiling.origin[0] - room.grid.origin[0]
    dy = view.ceiling.origin[1] - room.grid.origin[1]
    steps = (
        (dx * math.cos(turn) + dy * math.sin(turn)) / room.grid.module[0],
        (dy * math.cos(turn) - dx * math.sin(turn)) / room.grid.module[1],
    )
    for step in steps:
        assert abs(step - round(step)) < 0.005


def test_openings_are_on_the_walls_they_were_on(both: tuple[PlanView, FoundRoom]) -> None:
    view, room = both
    drawn = [patch for patch in view.patches if patch.kind in ("window", "door")]
    assert len(room.openings) == len(drawn)
