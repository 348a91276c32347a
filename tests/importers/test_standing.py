"""Rooms that lean in their file stand straight in their document; all they hold moves along."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wellheard.importers.found import (
    FoundDevice,
    FoundGrid,
    FoundRoom,
    FoundSeat,
    FoundThing,
    Point,
)
from wellheard.importers.standing import leaning_deg, stood

OUTLINE = ((0.0, 0.0), (6.0, 0.0), (6.0, 4.0), (2.0, 4.0), (2.0, 2.5), (0.0, 2.5))


def turned(point: Point, degrees: float, by: Point) -> Point:
    """By complex numbers: another way than the code's."""
    spun = complex(*point) * complex(
        math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    )
    return spun.real + by[0], spun.imag + by[1]


@given(st.floats(-44.0, 44.0), st.floats(-1e4, 1e4), st.floats(-1e4, 1e4))
def test_whatever_lies_askew_comes_back(lean: float, east: float, north: float) -> None:
    def laid(point: Point) -> Point:
        return turned(point, lean, (east, north))

    seat, device = (1.5, 0.7), (3.25, 1.75, 2.6)
    table = ((1.0, 0.5), (3.0, 0.5), (3.0, 1.5), (1.0, 1.5))
    room = stood(
        FoundRoom(
            "1",
            "Tide",
            tuple(map(laid, OUTLINE)),
            "by hand",
            grid=FoundGrid((0.6, 0.6), laid((0.2, 0.1)), lean),
            things=(FoundThing("table", tuple(map(laid, table)), laid((2.0, 1.0))),),
            seats=(FoundSeat(laid(seat), (90.0 + lean) % 360.0), FoundSeat(laid(seat))),
            devices=(FoundDevice("microphone", (*laid(device[:2]), device[2])),),
        )
    )
    near = 0.005 if abs(lean) < 0.03 else 2e-4  # the lean is taken to a thousandth of a degree
    for (x, y), (u, v) in zip(room.outline, OUTLINE, strict=True):
        assert math.hypot(x - u, y - v) < near
    assert room.seats[0].at == pytest.approx(seat, abs=near)
    assert room.devices[0].at == pytest.approx(device, abs=near)
    assert room.things[0].at == pytest.approx((2.0, 1.0), abs=near)
    assert room.things[0].outline[2] == pytest.approx((3.0, 1.5), abs=near)
    facing = room.seats[0].facing_deg
    assert facing is not None
    assert math.cos(math.radians(facing - 90.0)) > 1 - 1e-6
    assert room.seats[1].facing_deg is None
    assert room.grid is not None
    assert room.grid.origin == pytest.approx((0.2, 0.1), abs=near)
    assert abs(room.grid.rotation_deg) < 0.03


def test_two_hundredths_of_a_degree_are_left_as_drawn() -> None:
    room = stood(
        FoundRoom("1", "", tuple(turned(p, 0.015, (0.0, 0.0)) for p in OUTLINE), "by hand")
    )
    assert room.turned_deg == 0.0


def test_a_room_of_ours_keeps_its_datum_and_its_turn() -> None:
    outline = tuple(turned(p, 30.0, (100.0, 50.0)) for p in OUTLINE)
    room = stood(FoundRoom("1", "", outline, "ours", datum=(100.0, 50.0), owned=True))
    assert room.turned_deg == 0.0
    assert room.outline[1] == pytest.approx(turned((6.0, 0.0), 30.0, (0.0, 0.0)))


def test_the_longest_direction_decides_not_the_commonest() -> None:
    long = ((0.0, 0.0), (10.0, 0.0), (10.3, 0.4), (10.0, 0.8), (9.7, 1.2), (0.0, 1.2))
    assert leaning_deg(long) == 0.0
