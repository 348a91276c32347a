"""Microphones and loudspeakers together: what is proposed keeps the promise and its distances."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.place.devices import place_devices, why_no_loudspeakers
from wellheard.place.microphones import place_microphones
from wellheard.place.proposal import Proposal
from wellheard.predict.scene import Scene
from wellheard.room.document import Room

FOUR: dict[str, Any] = {
    "s1": {"at": [1.2, 1.3], "facing": [0, 90]},
    "s2": {"at": [4.7, 1.3], "facing": [180, 90]},
    "s3": {"at": [4.7, 3.2], "facing": [180, 270]},
    "s4": {"at": [1.2, 3.2], "facing": [0, 270]},
}
BASE: dict[str, Any] = {
    "space": {"ceiling": {"kind": "tiles", "module": 0.9, "origin": [0, 0]}},
    "people": {"seats": FOUR},
    "furniture": {
        "picture": {"kind": "display", "wall": "west", "centre": [2.25, 1.4], "size": [1.4, 0.8]}
    },
    "choices": {
        "allow": ["ceiling-head-3", "display-pair", "ceiling-6"],
        "max_drop": 0,
    },
}


@pytest.fixture(scope="session")
def together(scene_of: Callable[..., Scene]) -> Callable[..., Proposal]:
    def made(**over: Any) -> Proposal:
        return place_devices(scene_of({**BASE, **over}))

    return made


def loudspeakers(proposal: Proposal) -> list[str]:
    return [d.product for d in proposal.devices if d.kind == "loudspeaker"]


def test_microphones_alone_are_proposed_as_before_where_no_loudspeaker_is_allowed(
    scene_of: Callable[..., Scene],
) -> None:
    scene = scene_of({**BASE, "choices": {"allow": ["ceiling-head-3"], "max_drop": 0}})
    found, alone = place_devices(scene), place_microphones(scene)
    assert found.devices == alone.devices
    assert found.price == alone.price
    assert "choices.allow names no loudspeaker" in found.proof.scope


def test_nothing_promised_of_the_far_end_asks_for_no_loudspeaker(
    room_of: Callable[..., Room], catalogue: Catalogue
) -> None:
    nothing = {"sti_inbound": None, "listening_level_dba": None, "uniformity_db": None}
    assert why_no_loudspeakers(room_of({**BASE, "targets": nothing}), catalogue) == ""
    assert why_no_loudspeakers(room_of(BASE), catalogue) is None


def test_every_microphone_keeps_its_distance_from_every_loudspeaker(
    together: Callable[..., Proposal],
) -> None:
    """4 ft, 1.2 m, between a microphone and a loudspeaker (common practice, no source [C])."""
    found = together()
    assert found.proof.status == "optimal"
    assert found.loudspeakers >= 1
    for one in found.devices:
        for other in found.devices:
            if one.kind == "microphone" and other.kind == "loudspeaker":
                assert math.dist(one.at, other.at) >= 1.2 - 1e-9
