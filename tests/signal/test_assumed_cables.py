"""Cables that a document leaves out: which ports they are taken to join."""

from __future__ import annotations

from typing import Any

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.room.document import Room
from wellheard.signal.graph import graph

DEVICES = {
    "m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [2, 1.5, 2.7]},
    "mixer": {"kind": "processor", "product": "processor-4"},
    "a1": {"kind": "amplifier", "product": "amplifier-2x40"},
    "l1": {"kind": "loudspeaker", "product": "display-pair", "at": [0.1, 1.5, 1.3]},
}
COMPUTER = {"computer": {"kind": "computer", "at": [0.5, 0.5, 0.5]}}


def cables(**more: Any) -> set[tuple[str, str]]:
    document = {
        "wellheard": 1,
        "space": {"outline": [[0, 0], [4, 0], [4, 3], [0, 3]], "height": 2.7},
        "people": {"seats": {"s1": {"at": [1, 1]}}},
        "devices": DEVICES,
        "equipment": COMPUTER,
        **more,
    }
    return set(graph(Room.model_validate(document), Catalogue.shipped()).assumed_cables)


@pytest.mark.practice
def test_a_room_without_links_is_wired_as_an_engineer_would() -> None:
    assert cables() >= {
        ("m1.link", "mixer.mic-1"),
        ("mixer.line-out-1", "a1.in-1"),
        ("a1.out-1", "l1.in"),
        ("mixer.usb", "computer.usb"),
        ("computer.usb", "mixer.usb"),
    }


def test_a_stated_cable_is_not_assumed_besides() -> None:
    links = {
        "l": {"from": "m1.link", "to": "mixer.mic-3"},
        "u": {"from": "mixer.usb", "to": "computer.usb"},
    }
    found = cables(links=links)
    assert not any(port.startswith(("m1.", "computer.")) for pair in found for port in pair)
    assert ("a1.out-1", "l1.in") in found


def test_a_computer_that_is_not_there_is_the_far_end_itself() -> None:
    found = cables(equipment={})
    assert {("mixer.usb", "far-end"), ("far-end", "mixer.usb")} <= found


def test_what_runs_inside_a_device_is_no_cable() -> None:
    assert all(a.partition(".")[0] != b.partition(".")[0] for a, b in cables())
