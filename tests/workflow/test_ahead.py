"""What is worked out before it is asked for is what would have been answered."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from wellheard.room import edit
from wellheard.room.devices import Device
from wellheard.workflow.ahead import named, next_places
from wellheard.workflow.dragged import Move
from wellheard.workflow.live import Live
from wellheard.workflow.load import Loaded, load

EXAMPLES = Path(__file__).parents[2] / "examples"
TWO_FEET = 0.6096


@pytest.fixture(scope="module")
def loaded() -> Loaded:
    """Ten seats under tiles of 2 ft, one head in the middle of a tile."""
    found = load(EXAMPLES / "ten-seats" / "ten-seats.room.yaml")
    at = (3.5 * TWO_FEET, 3.5 * TWO_FEET, found.room.space.height)
    head = Device(kind="microphone", product="ceiling-head-3", at=at)
    room = edit.with_devices(found.room, {"m1": head})
    return replace(found, document=replace(found.document, room=room))


def test_an_answer_worked_out_ahead_is_the_one_that_would_be_given(loaded: Loaded) -> None:
    x, y, z = loaded.room.devices["m1"].at or (0.0, 0.0, 0.0)
    here, there = {"devices.m1": [x, y, z]}, {"devices.m1": [x + TWO_FEET / 2, y + TWO_FEET / 2, z]}
    asked = []

    def stop() -> bool:
        asked.append(1)
        return len(asked) > 8

    quick = Live(loaded)
    quick.moved(here, unit="m")
    quick.look_ahead(here, unit="m", quantity="sti", worst=False, stop=stop)
    assert len(asked) == 8
    assert quick.moved(there, unit="m") == Live(loaded).moved(there, unit="m")


def test_looking_ahead_stops_when_somebody_waits(loaded: Loaded) -> None:
    live = Live(loaded)
    x, y, z = loaded.room.devices["m1"].at or (0.0, 0.0, 0.0)
    here = {"devices.m1": [x, y, z]}
    live.look_ahead(here, unit="m", quantity="sti", worst=False, stop=lambda: True)
    assert not live._answers


def test_a_hand_goes_on_the_way_it_went(loaded: Loaded) -> None:
    x, y, z = loaded.room.devices["m1"].at or (0.0, 0.0, 0.0)
    first, *_, last = next_places(loaded.room, {"devices.m1": [x, y, z]}, before=(x - TWO_FEET, y))
    assert first["devices.m1"] == pytest.approx([x + TWO_FEET, y, z])
    assert last["devices.m1"] == pytest.approx([x - TWO_FEET, y, z])


def test_nothing_is_guessed_between_tiles_nor_for_several_things(loaded: Loaded) -> None:
    x, y, z = loaded.room.devices["m1"].at or (0.0, 0.0, 0.0)
    assert next_places(loaded.room, {"devices.m1": [x + 0.1, y, z]}, before=None) == []
    two: dict[str, Move] = {"devices.m1": [x, y, z], "people.seats.s1": {"by": [0.1, 0.0]}}
    assert next_places(loaded.room, two, before=None) == []
    assert next_places(loaded.room, {"people.seats.s1": [x, y]}, before=None) == []


def test_places_that_no_drawing_tells_apart_have_one_name() -> None:
    assert named({"devices.m1": [1.0, 2.0, 2.7]}) == named({"devices.m1": [1.00004, 2.0, 2.7]})
    assert named({"devices.m1": [1.0, 2.0, 2.7]}) != named({"devices.m1": [1.001, 2.0, 2.7]})
    assert named({"a": {"by": [1.0, 0.0]}}) != named({"a": {"by": [0.0, 1.0]}})
