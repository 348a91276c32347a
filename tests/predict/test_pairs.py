"""Where the two of a pair stand: beside the picture, and inside the room."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from wellheard.predict.pairs import BESIDE, PAIR_SPAN, pair_places
from wellheard.room.document import Room

RoomOf = Callable[..., Room]

WEST = {"kind": "display", "wall": "west"}
"""Wall of 4.5 m that runs from the north end to the south: a centre of 1.5 lies at y = 3.0."""


def _y(room: Room, at: tuple[float, float, float]) -> dict[str, float]:
    return {side: place[1] for side, place in pair_places(room, at)}


def _pictures(room_of: RoomOf, **each: tuple[float, float]) -> Room:
    over: dict[str, Any] = {
        name: {**WEST, "centre": [along, 1.4], "size": [width, 0.8]}
        for name, (along, width) in each.items()
    }
    return room_of({"furniture": over})


def test_a_pair_stands_on_both_sides_of_its_picture(room_of: RoomOf) -> None:
    found = _y(_pictures(room_of, tv=(2.25, 1.4)), (0.1, 2.0, 1.4))
    # Seen from the room, looking west, left is south.
    assert found["left"] == pytest.approx(2.25 - 0.7 - BESIDE)
    assert found["right"] == pytest.approx(2.25 + 0.7 + BESIDE)


@pytest.mark.parametrize("y", [2.25, 1.5, 3.0])
def test_two_pictures_side_by_side_have_their_pair_outside_of_both(
    y: float, room_of: RoomOf
) -> None:
    two = _pictures(room_of, a=(1.5, 1.4), b=(3.0, 1.4))
    found = _y(two, (0.1, y, 1.4))
    assert found["left"] == pytest.approx(1.5 - 0.7 - BESIDE)
    assert found["right"] == pytest.approx(3.0 + 0.7 + BESIDE)


def test_a_picture_far_along_the_wall_is_another_s(room_of: RoomOf) -> None:
    found = _y(_pictures(room_of, a=(1.0, 0.8), b=(3.4, 0.8)), (0.1, 3.5, 1.4))
    assert found["left"] == pytest.approx(3.5 - 0.4 - BESIDE)
    assert found["right"] == pytest.approx(3.5 + 0.4 + BESIDE)


def test_a_picture_round_the_corner_moves_no_pair(room_of: RoomOf) -> None:
    south = {"kind": "display", "wall": "south", "centre": [0.8, 1.4], "size": [1.4, 0.8]}
    room = room_of({"furniture": {"tv": south}})
    found = _y(room, (0.1, 1.0, 1.4))
    assert found["right"] - found["left"] == pytest.approx(PAIR_SPAN)
    assert (found["right"] + found["left"]) / 2 == pytest.approx(1.0)


@pytest.mark.parametrize("y", [0.2, 0.3, 4.3])
def test_neither_of_a_pair_stands_outside_the_room(y: float, room_of: RoomOf) -> None:
    found = _y(room_of(), (0.1, y, 1.4))
    assert 0.0 < found["left"] < found["right"] < 4.5


def test_a_picture_as_wide_as_its_wall_keeps_its_pair_in_the_room(room_of: RoomOf) -> None:
    found = _y(_pictures(room_of, wall=(2.25, 4.4)), (0.1, 2.25, 1.4))
    assert 0.0 < found["left"] < found["right"] < 4.5
