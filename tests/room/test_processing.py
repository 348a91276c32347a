"""Stages and cables of a document: what they may name, and what stays when a device goes."""

from __future__ import annotations

from typing import Any

import pytest

from wellheard.room.consistency import contradictions
from wellheard.room.document import Room
from wellheard.room.edit import without_devices
from wellheard.room.processing import keeping


def _room(**parts: Any) -> Room:
    return Room.model_validate(
        {
            "wellheard": 1,
            "space": {"outline": [[0, 0], [6, 0], [6, 4], [0, 4]], "height": 2.7},
            "people": {"seats": {"s1": {"at": [2, 2]}}},
            "equipment": {"laptop": {"kind": "computer", "at": [3, 2, 0.75]}},
            "devices": {
                "m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [2, 2, 2]},
                "m2": {"kind": "microphone", "product": "ceiling-head-3", "at": [4, 2, 2]},
                "mixer": {"kind": "processor", "product": "bridge-2"},
            },
            **parts,
        }
    )


def test_what_the_customer_brings_may_be_connected() -> None:
    room = _room(
        links={"l1": {"from": "mixer.usb", "to": "laptop.usb"}},
        processing={"client": {"kind": "canceller", "on": "laptop.usb", "bypassed": True}},
    )
    assert list(contradictions(room)) == []


@pytest.mark.parametrize("field", ["on", "reference", "sources"])
def test_a_stage_of_a_device_that_is_not_there_is_refused_by_name(field: str) -> None:
    stage: dict[str, Any] = {"kind": "mixer", "on": "mixer.send"}
    stage[field] = ["m1.link", "q1.link"] if field == "sources" else "q1.link"
    (refused,) = contradictions(_room(processing={"mix": stage}))
    assert "there is no device q1" in refused.what
    assert refused.path[:3] == ("processing", "mix", field)


def test_a_mixer_loses_the_microphone_that_goes_and_keeps_the_others() -> None:
    stages = {"mix": {"kind": "mixer", "on": "mixer.send", "sources": ["m1.link", "m2.link"]}}
    left = without_devices(_room(processing=stages), ["m1"])
    assert left.processing["mix"].sources == ("m2.link",)


def test_a_lift_that_has_lost_all_its_microphones_goes_and_does_not_take_in_everything() -> None:
    stages = {
        "lift": {"kind": "lift", "on": "mixer.line-out", "sources": ["m1.link"]},
        "all": {"kind": "mixer", "on": "mixer.send"},
    }
    left = without_devices(_room(processing=stages), ["m1"])
    assert list(left.processing) == ["all"]


def test_stages_of_what_is_there_stay_the_same_objects() -> None:
    room = _room(processing={"mix": {"kind": "mixer", "on": "mixer.send", "sources": ["m1.link"]}})
    assert keeping(room.processing, lambda device: True)["mix"] is room.processing["mix"]
