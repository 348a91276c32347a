"""Which cable, how long, for how much: against sums by hand and the limits of the trade."""

from __future__ import annotations

from typing import Any

import pytest

from wellheard.acoustics import line
from wellheard.catalog.catalogue import Catalogue
from wellheard.room.document import Room
from wellheard.wiring.task import Way
from wellheard.wiring.ways import Ways

SHIPPED = Catalogue.shipped()


def _hall(length: float, **over: Any) -> Room:
    """A hall with a rack at each end, a computer in each, and a display on each end wall."""
    display = {"kind": "display", "centre": [2, 1.4], "size": [1.6, 0.9]}
    return Room.model_validate(
        {
            "wellheard": 1,
            "space": {
                "outline": [[0, 0], [length, 0], [length, 4], [0, 4]],
                "walls": ["south", "east", "north", "west"],
                "height": 2.7,
                "ceiling": {"kind": "tiles", "module": 0.6, "void_depth": 0.4, "air_return": False},
            },
            "people": {"seats": {"s1": {"at": [2, 2], "facing": 0}}},
            "furniture": {"west": {**display, "wall": "west"}, "east": {**display, "wall": "east"}},
            "equipment": {
                "rack": {"kind": "rack", "at": [0.3, 0.3, 0.5]},
                "far": {"kind": "rack", "at": [length - 0.3, 0.3, 0.5]},
            },
            **over,
        }
    )


def _way(room: Room, *asked: Any, **limits: Any) -> Way:
    found = Ways(room, SHIPPED).way(*asked, **limits)
    assert isinstance(found, Way), found
    return found


def test_run_costs_its_cable_its_ends_and_the_work_on_it() -> None:
    """By hand: cut at 11 m, 10 + 0.8 a metre; 8 + 2 · 9 minutes, 4 a metre of wall, at 58/h."""
    room = _hall(8.0)
    run = Ways(room, SHIPPED).runs.run("rack.out", "far.in")
    way = _way(room, "twisted-pair", "audio", "rack.out", "far.in", limit=30.0)
    # Down 0.5 m and 0.3 m to the wall, 7.4 m along its foot, back up; 1 m spare at each end.
    assert run.length == pytest.approx(2 * (0.5 + 0.3) + 7.4 + 2)
    by_hand = 10 + 0.8 * 11 + (8 + 2 * 9 + 4 * 9) / 60 * 58
    assert way.cents == round(100 * by_hand)
    assert [(leg.cable, leg.jacket) for leg in way.legs] == [("twisted-pair", "general")]


@pytest.mark.parametrize(
    ("air", "jacket"), [(True, "plenum"), (None, "plenum"), (False, "general")]
)
def test_jacket_is_that_of_the_void(air: bool | None, jacket: str) -> None:
    """CMP where it carries return air, and where nobody knows (NEC 800.179, via open lists)."""
    ceiling = {"kind": "tiles", "module": 0.6, "void_depth": 0.4, "air_return": air}
    space = {"outline": [[0, 0], [8, 0], [8, 4], [0, 4]], "height": 2.7, "ceiling": ceiling}
    devices = {"m1": {"kind": "microphone", "product": "pendant-cardioid", "at": [4, 2, 2.4]}}
    room = _hall(8.0, space=space, furniture={}, devices=devices)
    way = _way(room, "balanced", "microphone", "m1.link", "far.mic")
    assert way.legs[0].jacket == jacket


@pytest.mark.parametrize(
    ("length", "legs", "extender"),
    [(8.0, 1, ""), (30.0, 2, "link-repeater-30"), (45.0, 2, "link-repeater-30")],
)
def test_repeater_stands_in_a_run_that_is_longer_than_its_link(
    length: float, legs: int, extender: str
) -> None:
    """Thirty metres are the link's (100 ft, common practice [C]); a repeater gives thirty more."""
    way = _way(_hall(length), "twisted-pair", "audio", "rack.out", "far.in", limit=30.0)
    assert (len(way.legs), way.extender) == (legs, extender)
    assert all(leg.length <= 30.0 + 1e-6 for leg in way.legs)
    whole = Ways(_hall(length), SHIPPED).runs.run("rack.out", "far.in").length
    assert sum(leg.length for leg in way.legs) == pytest.approx(whole)


def test_one_repeater_and_no_more_to_a_run() -> None:
    why = Ways(_hall(70.0), SHIPPED).way("twisted-pair", "audio", "rack.out", "far.in", limit=30.0)
    assert "reaches 30.00 m" in str(why)


@pytest.mark.parametrize(("length", "cable"), [(2.4, "usb-cord-2"), (5.4, "usb-cord-5")])
def test_usb_cord_is_the_shortest_that_reaches(length: float, cable: str) -> None:
    way = _way(_hall(length, furniture={}), "usb", "audio", "rack.usb", "far.usb")
    assert [leg.cable for leg in way.legs] == [cable]


def test_usb_beyond_five_metres_is_extended_over_twisted_pair() -> None:
    """USB 2.0 high speed reaches 5 m on a passive cable [L, three open texts]."""
    way = _way(_hall(9.0), "usb", "audio", "rack.usb", "far.usb")
    assert way.extender == "usb-extender-50"
    assert [leg.cable for leg in way.legs] == ["usb-cord-2", "twisted-pair", "usb-cord-2"]
    why = Ways(_hall(60.0), SHIPPED).way("usb", "audio", "rack.usb", "far.usb")
    assert isinstance(why, str)


def test_picture_beyond_five_metres_is_extended() -> None:
    """3 to 5 m for 3840 by 2160 points at 60 Hz on a passive cable (common practice [C])."""
    room = _hall(9.0)
    near = _way(room, "hdmi", "picture", "rack.hdmi-out", "west.hdmi-1")
    far = _way(room, "hdmi", "picture", "rack.hdmi-out", "east.hdmi-1")
    assert [leg.cable for leg in near.legs] == ["hdmi-cord-2"]
    assert far.extender == "hdmi-extender-70"


def test_serial_control_reaches_fifteen_metres() -> None:
    """RS-232 at 19.2 kb/s [M/C]."""
    _way(_hall(8.0), "control", "control", "rack.control", "far.control")
    why = Ways(_hall(20.0), SHIPPED).way("control", "control", "rack.control", "far.control")
    assert "reaches 15.00 m" in str(why)


@pytest.mark.parametrize(("length", "cable"), [(8.0, "16"), (17.0, "14"), (30.0, "")])
def test_loudspeaker_cable_loses_no_more_than_half_a_decibel(length: float, cable: str) -> None:
    """0.5 dB into 8 Ω: 11.3 m of 18 AWG [L], so 18.0 m of 16 and 28.6 m of 14.

    By their resistance, ASTM B258: 20.948, 13.174 and 8.285 Ω/km.
    """
    assert line.longest_line(awg=16, load=8.0) == pytest.approx(11.3 * 20.948 / 13.174, abs=0.1)
    found = Ways(_hall(length), SHIPPED).way(
        "low-impedance", "loudspeaker", "rack.out", "far.in", load=8.0
    )
    run = Ways(_hall(length), SHIPPED).runs.run("rack.out", "far.in").length
    assert run is not None
    expected = "16" if run <= 18.0 else "14" if run <= 28.6 else ""
    assert expected == cable
    if cable:
        assert isinstance(found, Way)
        assert found.legs[0].cable == f"loudspeaker-pair-{cable}"
    else:
        assert "loses more than 0.5 dB" in str(found)


def test_stated_length_of_a_link_goes_before_the_estimate() -> None:
    devices = {
        "m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [2, 2, 2.4]},
        "mixer": {"kind": "processor", "product": "bridge-2", "equipment": "rack"},
    }
    links = {"run": {"from": "m1.link", "to": "mixer.mic-1", "length": 22.5}}
    room = _hall(8.0, devices=devices, links=links)
    way = _way(room, "twisted-pair", "audio", "m1.link", "mixer.mic", limit=30.0)
    assert way.legs[0].length == 22.5
