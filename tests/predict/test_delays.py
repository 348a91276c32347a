"""Delays in the room, part by part, against distances over 343 m/s and the sheets."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from wellheard.predict import ledger
from wellheard.predict.delays import delays
from wellheard.predict.scene import Scene
from wellheard.predict.wayback import DelayPart, Delays, Playback

Levels = Callable[[Scene, float], Playback]
Rooms = Callable[[dict[str, Any]], Scene]

SPEED = 343.2
"""At 20 °C, ISO 9613-1 [L]. [m/s]"""

HEAD = {"kind": "microphone", "product": "ceiling-head-3", "at": [8, 8, 1.2]}
ARRAY = {"kind": "microphone", "product": "ceiling-array-16", "at": [8, 8, 1.2]}
BOX = {"kind": "loudspeaker", "product": "wall-8", "at": [10.4, 8, 1.2]}
ACTIVE = {"kind": "loudspeaker", "product": "ceiling-6-network", "at": [10.4, 8, 1.2]}
PROCESSOR = {"kind": "processor", "product": "processor-4"}
AMPLIFIER = {"kind": "amplifier", "product": "amplifier-2x40"}
SEATS = {"s1": {"at": [6, 8], "facing": 0}, "s2": {"at": [3, 8], "facing": 0}}


def _delays(
    dead_room_of: Rooms, playback_at: Levels, devices: dict[str, Any], **over: Any
) -> Delays:
    scene = dead_room_of({"people": {"seats": SEATS}, "devices": devices, **over})
    found = ledger.evidence(scene, assumptions=False)
    plays = any(one["kind"] in ("loudspeaker", "combined") for one in devices.values())
    playback = playback_at(scene, 70.0) if plays else None
    return delays(scene, found.microphones, found.outbound, playback)


def _ms(parts: tuple[DelayPart, ...], name: str) -> float:
    return sum(part.ms for part in parts if part.name == name)


def test_the_farthest_mouth_and_the_sheets_make_the_way_out(
    dead_room_of: Rooms, playback_at: Levels
) -> None:
    """5 m of air 14.6 ms, microphone 2.5 ms, processor 14 ms."""
    found = _delays(dead_room_of, playback_at, {"m1": HEAD, "p1": PROCESSOR})
    assert _ms(found.outbound, "air") == pytest.approx(5000 / SPEED, abs=0.02)
    assert _ms(found.outbound, "microphone") == 2.5
    assert _ms(found.outbound, "processor") == 14.0
    assert found.outbound_ms == pytest.approx(14.57 + 16.5, abs=0.02)
    assert found.inbound_ms is None


def test_networked_audio_adds_its_hop(dead_room_of: Rooms, playback_at: Levels) -> None:
    """A hop of 1 ms, common practice [C]."""
    found = _delays(dead_room_of, playback_at, {"m1": ARRAY, "p1": PROCESSOR})
    assert _ms(found.outbound, "network audio") == 1.0


def test_of_several_loudspeakers_an_ear_hears_the_first(
    dead_room_of: Rooms, playback_at: Levels
) -> None:
    """s2 is 7.4 m from one and 2 m from the other, s1 4.4 and 5 m: the last first is 4.4 m."""
    near = {**BOX, "at": [1, 8, 1.2]}
    devices = {"l1": BOX, "l2": near, "p1": PROCESSOR, "a1": AMPLIFIER}
    found = _delays(dead_room_of, playback_at, devices)
    assert _ms(found.inbound, "air") == pytest.approx(4400 / SPEED, abs=0.02)
    assert _ms(found.inbound, "processor") == 14.0


def test_a_stated_delay_of_a_loudspeaker_counts(dead_room_of: Rooms, playback_at: Levels) -> None:
    stage = {"late": {"kind": "delay", "on": "l1.in", "delay_ms": 12}}
    devices = {"l1": BOX, "p1": PROCESSOR, "a1": AMPLIFIER}
    plain = _delays(dead_room_of, playback_at, devices)
    found = _delays(dead_room_of, playback_at, devices, processing=stage)
    assert (found.inbound_ms or 0) - (plain.inbound_ms or 0) == pytest.approx(12.0)


def test_a_lift_goes_from_mouth_to_another_ear(dead_room_of: Rooms, playback_at: Levels) -> None:
    """s1 to the head 2 m, loudspeaker 7.4 m from s2; s2 to the head 5 m, 4.4 m to s1: 9.4 m."""
    lift = {"lift": {"kind": "lift", "on": "l1.in", "sources": ["m1.link"], "gain_db": -6}}
    devices = {"m1": HEAD, "l1": BOX, "p1": PROCESSOR, "a1": AMPLIFIER}
    found = _delays(dead_room_of, playback_at, devices, processing=lift)
    assert _ms(found.lift, "air") == pytest.approx(9400 / SPEED, abs=0.05)
    assert _ms(found.lift, "microphone") == 2.5
    assert _delays(dead_room_of, playback_at, devices).lift_ms is None


def test_sound_after_picture_is_positive(dead_room_of: Rooms, playback_at: Levels) -> None:
    call = {"far_end": {"one_way_delay_ms": 180, "picture_delay_ms": 240}}
    found = _delays(dead_room_of, playback_at, {"m1": HEAD, "p1": PROCESSOR}, **call)
    assert found.lip_sync_ms == pytest.approx(-60.0)
    assert found.one_way_ms == 180.0
    unknown = _delays(dead_room_of, playback_at, {"m1": HEAD, "p1": PROCESSOR})
    assert unknown.lip_sync_ms is None


def test_a_network_loudspeaker_adds_a_hop_and_its_own_delay(
    dead_room_of: Rooms, playback_at: Levels
) -> None:
    found = _delays(dead_room_of, playback_at, {"l1": ACTIVE, "p1": PROCESSOR})
    assert _ms(found.inbound, "network audio") == 1.0
