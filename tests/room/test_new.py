"""Starting documents: complete, valid, and laid out as the trade lays out tables.

Seat pitch, table length and depth: common practice, no source.
"""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from wellheard import geometry
from wellheard.errors import UsageError
from wellheard.room import codec
from wellheard.room.furniture import Display, Table
from wellheard.room.new import starting_document
from wellheard.units import Unit

ROOMS = list(itertools.product((2.6, 4.2672, 6.4, 9.0), (2.4, 4.6, 6.096), (2, 3, 4, 7, 10, 16)))


@pytest.mark.parametrize("units", ["m", "ft"])
@pytest.mark.parametrize(("long", "wide", "seats"), ROOMS)
def test_every_room_that_is_offered_reads_well_and_seats_everybody(
    long: float, wide: float, seats: int, units: Unit
) -> None:
    # At the tightest: 0.6 m for each of a row, 0.3 m at its ends, and 0.8 m of table between people
    # who have 0.4 m behind them.
    row = 0.6 * math.ceil(seats / 2) + 0.3 + 2 * 0.3
    across = 0.8 + 2 * (0.3 + 0.4)
    if not any(row <= a and across <= b for a, b in ((long, wide), (wide, long))):
        with pytest.raises(UsageError, match="do not fit"):
            starting_document((long, wide, 2.75), seats, units)
        return
    text = starting_document((long, wide, 2.75), seats, units)
    room = codec.parse(text)
    assert room.units == units
    assert len(room.people.seats) == seats
    np.testing.assert_allclose(room.space.outline[2], (long, wide))
    table = room.furniture["table"]
    assert isinstance(table, Table)
    heads = np.array([seat.at for seat in room.people.seats.values()])
    edge = geometry.distance_outside(np.array(table.outline), heads)
    np.testing.assert_allclose(edge, 0.3, atol=0.02)
    apart = np.linalg.norm(heads[:, None] - heads[None], axis=-1) + 9 * np.eye(seats)
    assert apart.min() > 0.58
    picture = room.furniture["picture"]
    assert isinstance(picture, Display)
    assert picture.wall == "west"


@pytest.mark.practice
def test_ten_people_sit_at_a_table_of_3_3_by_1_2_m() -> None:
    room = codec.parse(starting_document((6.4, 4.6, 2.75), 10, "m"))
    table = room.furniture["table"]
    assert isinstance(table, Table)
    extent = np.ptp(np.array(table.outline), axis=0)
    np.testing.assert_allclose(extent, [3.3, 1.2])


def test_a_feet_document_keeps_a_room_in_feet_to_the_digit() -> None:
    text = starting_document((14 * 0.3048, 20 * 0.3048, 9 * 0.3048), 8, "ft")
    assert "outline: [[0, 0], [14, 0], [14, 20], [0, 20]]" in text
    assert "height: 9\n" in text
    assert "kept" not in text
    odd = codec.parse(starting_document((6.4, 4.6, 2.75), 8, "ft"))
    assert odd.space.outline[2] == (6.4, 4.6)
    assert odd.space.height == 2.75


@pytest.mark.parametrize(
    ("size", "seats"),
    [
        ((4.0, 3.0, 2.6), 20),
        ((4.0, 1.6, 2.6), 4),
        ((6.0, 4.0, 2.6), 1),
        ((60.0, 40.0, 2.6), 25),
        ((400.0, 4.0, 2.6), 4),
        ((6.0, 4.0, 1.5), 4),
        ((math.nan, 4.0, 2.6), 4),
    ],
)
def test_what_cannot_be_is_refused_with_what_can(
    size: tuple[float, float, float], seats: int
) -> None:
    with pytest.raises(UsageError, match=r"allowed|needs"):
        starting_document(size, seats, "m")


def test_titles_that_look_like_something_else_stay_titles() -> None:
    for title in ("yes", "a: b # c", 'Say "hi"', "2026-01-31"):
        assert codec.parse(starting_document((6, 4, 2.7), 4, "m", title=title)).title == title


# Farthest viewer at most 6 picture heights away, for reading: common practice, no source [C].
@pytest.mark.parametrize(("size", "seats"), [((6.4, 4.6, 2.75), 10), ((9.0, 6.0, 3.0), 16)])
def test_the_farthest_head_can_read_the_picture(
    size: tuple[float, float, float], seats: int
) -> None:
    room = codec.parse(starting_document(size, seats, "m"))
    picture = room.furniture["picture"]
    assert isinstance(picture, Display)
    farthest = max(
        math.hypot(seat.at[0], seat.at[1] - size[1] / 2) for seat in room.people.seats.values()
    )

    assert farthest <= 6 * picture.size[1] + 0.001
    assert picture.size[0] / picture.size[1] == pytest.approx(16 / 9, abs=0.002)
    assert picture.centre[1] - picture.size[1] / 2 > 0


def test_a_hall_has_a_picture_on_its_wall() -> None:
    room = codec.parse(starting_document((30.0, 18.0, 9.0), 12, "m"))
    picture = room.furniture["picture"]
    assert isinstance(picture, Display)
    assert picture.centre[1] - picture.size[1] / 2 > 0
    assert picture.centre[1] + picture.size[1] / 2 < room.space.height
