"""The section of a room, with a map and without one."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pytest

from wellheard.room import edit
from wellheard.room.devices import Device
from wellheard.workflow.load import Loaded, load
from wellheard.workflow.sections import section_picture

EXAMPLES = Path(__file__).parents[2] / "examples"


def _words(svg: str) -> str:
    return " ".join(ElementTree.fromstring(svg).itertext())


def _with_microphone(loaded: Loaded) -> Loaded:
    head = Device(kind="microphone", product="ceiling-head-3", at=(3.0, 2.0, 2.7))
    room = edit.with_devices(loaded.room, {"m1": head})
    return replace(loaded, document=replace(loaded.document, room=room))


def test_a_room_without_microphones_is_cut_and_not_mapped() -> None:
    words = _words(section_picture(load(EXAMPLES / "ten-seats" / "ten-seats.room.yaml")))
    assert "mouth and ear, seated" in words
    assert "STI" not in words


def test_the_plane_of_the_microphones_is_mapped_in_the_quantity_asked_for() -> None:
    loaded = _with_microphone(load(EXAMPLES / "ten-seats" / "ten-seats.room.yaml"))
    assert "Speech transmission index" in _words(section_picture(loaded))
    assert "Clarity C50" in _words(section_picture(loaded, quantity="c50"))
    assert "Low end" in _words(section_picture(loaded, worst=True))


@pytest.mark.parametrize(("unit", "height"), [("m", "2743"), ("ft", "9'-0\"")])
def test_heights_are_printed_in_the_readers_unit(unit: str, height: str) -> None:
    loaded = load(EXAMPLES / "ten-seats" / "ten-seats.room.yaml")
    assert height in _words(section_picture(loaded, unit=unit))  # type: ignore[arg-type]
