"""An invented hall for the tests of the diagram: every kind of link, wired by hand."""

from __future__ import annotations

from typing import Any

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.room.document import Room


def hall(*, links: bool = True, loudspeakers: int = 8, **more: Any) -> Room:
    """Twelve microphones on two processors, network and line loudspeakers, computer, camera."""
    rack = {"equipment": "rack"}
    devices: dict[str, Any] = {
        f"m{k}": {"kind": "microphone", "product": "ceiling-head-3", "at": [k / 2, 4, 3]}
        for k in range(1, 13)
    }
    devices |= {
        "main": {"kind": "processor", "product": "processor-12", **rack},
        "branch": {"kind": "processor", "product": "processor-4", **rack},
        "switch": {"kind": "switch", "product": "switch-24", **rack},
        "amp": {"kind": "amplifier", "product": "line-amplifier-1x120", **rack},
    }
    for k in range(1, loudspeakers + 1):
        product = "ceiling-6" if k % 2 else "ceiling-6-network"
        devices[f"l{k}"] = {"kind": "loudspeaker", "product": product, "at": [k / 4, 2, 3]}
    ends = [
        *((f"m{k}.link", f"main.mic-{k}", "twisted-pair", 12.5) for k in range(1, 9)),
        *((f"m{k}.link", f"branch.mic-{k - 8}", "twisted-pair", 9.25) for k in range(9, 13)),
        ("main.line-in-1", "branch.line-out-1", "microphone-pair", 1.5),
        ("main.line-out-2", "branch.line-in-1", "microphone-pair", 1.5),
        ("main.line-out-1", "amp.in", "microphone-pair", 1.0),
        ("main.network", "switch.network-1", "network-cord-3", 3.0),
        ("main.usb", "computer.usb", "usb-cord-2", 2.0),
        ("camera.usb", "computer.usb", "usb-cord-5", 5.0),
        *((f"l{k}.in", "amp.out", "loudspeaker-pair-16", 14) for k in range(1, loudspeakers, 2)),
        *(
            (f"switch.network-{k}", f"l{k}.in", "twisted-pair", 18)
            for k in range(2, loudspeakers + 1, 2)
        ),
    ]
    document: dict[str, Any] = {
        "wellheard": 1,
        "title": "Heron Hall",
        "space": {"outline": [[0, 0], [12, 0], [12, 9], [0, 9]], "height": "3 m"},
        "people": {"seats": {"s1": {"at": [3, 3]}}},
        "equipment": {
            "rack": {"kind": "rack", "at": [0.3, 8, 0.5]},
            "computer": {"kind": "computer", "at": [0.5, 8, 0.8]},
            "camera": {"kind": "camera", "at": [0.1, 4, 1.2]},
        },
        "devices": devices,
        "links": {
            f"c{k:02}": {"from": one, "to": other, "cable": cable, "length": length}
            for k, (one, other, cable, length) in enumerate(ends, start=1)
        }
        if links
        else {},
        **more,
    }
    return Room.model_validate(document)


@pytest.fixture(scope="session")
def catalogue() -> Catalogue:
    return Catalogue.shipped()
