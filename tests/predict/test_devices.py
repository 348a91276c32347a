"""How devices of a document are mounted and where they look."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.predict.devices import (
    loudspeaker_places,
    nearest_loudspeaker,
    other_devices,
    placed_microphones,
)
from wellheard.predict.evidence import PlacedMicrophone
from wellheard.predict.talkers import talkers
from wellheard.room.document import Room
from wellheard.signal.mounted import wall_distance

FURNITURE = {
    "table": {"kind": "table", "outline": [[2, 1.5], [4, 1.5], [4, 2.5], [2, 2.5]]},
    "lectern": {"kind": "lectern", "at": [5, 3.5]},
}


@pytest.fixture(scope="session")
def placed_of(room_of: Callable[..., Room], catalogue: Catalogue) -> Callable[..., Any]:
    def made(product: str, at: list[float], **more: Any) -> PlacedMicrophone:
        device = {"kind": "microphone", "product": product, "at": at, **more}
        room = room_of({"furniture": FURNITURE, "devices": {"m1": device}})
        (found,) = placed_microphones(room, catalogue, talkers(room))
        return found

    return made


@pytest.mark.parametrize(
    ("product", "at", "mounting"),
    [
        ("ceiling-head-3", [3, 2, 2.1], "ceiling"),
        ("table-boundary", [3, 2, 0.74], "table"),
        ("gooseneck", [5.1, 3.5, 1.45], "lectern"),
        ("gooseneck", [3, 2, 1.09], "table"),
        ("front-bar", [0.05, 2, 1.2], "front"),
        ("omni-reference", [3, 2, 1.2], "stand"),
    ],
)
def test_a_microphone_is_mounted_as_its_place_and_product_say(
    placed_of: Callable[..., PlacedMicrophone], product: str, at: list[float], mounting: str
) -> None:
    assert placed_of(product, at).mounting == mounting


def test_only_what_is_under_a_ceiling_has_a_drop(
    placed_of: Callable[..., PlacedMicrophone],
) -> None:
    assert placed_of("ceiling-head-3", [3, 2, 2.1]).drop == pytest.approx(0.6)
    assert placed_of("table-boundary", [3, 2, 0.74]).drop is None


def test_a_microphone_looks_where_it_is_told_else_where_its_mounting_looks(
    placed_of: Callable[..., PlacedMicrophone],
) -> None:
    """One talker, at (2, 2): from the lectern towards her, from the wall towards her."""
    assert placed_of("gooseneck", [5.1, 3.5, 1.45], aim_deg=180).aim_deg == 180.0
    lectern = placed_of("gooseneck", [5, 3.5, 1.45]).aim_deg
    assert lectern == pytest.approx(math.degrees(math.atan2(-1.5, -3)) % 360)
    assert placed_of("front-bar", [0.05, 2, 1.2]).aim_deg == pytest.approx(0)
    assert placed_of("ceiling-head-3", [3, 2, 2.7]).aim_deg == 0.0
    assert placed_of("ceiling-head-3", [3, 2, 2.7], rotation_deg=30).aim_deg == 30.0


def test_a_device_in_a_rack_stands_where_the_rack_stands(
    room_of: Callable[..., Room], catalogue: Catalogue
) -> None:
    room = room_of(
        {
            "equipment": {"rack": {"kind": "rack", "at": [5, 4, 0.5]}},
            "devices": {
                "mixer": {"kind": "processor", "product": "bridge-2", "equipment": "rack"},
                "ls": {"kind": "loudspeaker", "product": "ceiling-6", "at": [3, 3, 2.7]},
            },
        }
    )
    found = {d.id: d for d in other_devices(room, catalogue)}
    assert found["mixer"].at == (5, 4, 0.5)
    assert found["ls"].kind == "loudspeaker"


def test_the_nearest_wall_counts_in_a_notch_too() -> None:
    outline = np.array([[0, 0], [8, 0], [8, 4.2], [4.6, 4.2], [4.6, 7], [0, 7.0]])
    assert wall_distance(outline, (4.0, 5.0, 2.0)) == pytest.approx(0.6)
    assert wall_distance(outline, (6.0, 3.9, 2.0)) == pytest.approx(0.3)


def test_a_combined_device_plays_but_not_to_itself(
    room_of: Callable[..., Room], catalogue: Catalogue
) -> None:
    bar = {"kind": "microphone", "product": "front-bar", "at": [0.05, 2, 1.2]}
    head = {"kind": "microphone", "product": "ceiling-head-3", "at": [1.0, 2, 2.7]}
    room = room_of({"devices": {"bar": bar, "m1": head}})
    places = loudspeaker_places(room, catalogue)
    assert set(places) == {"bar"}
    assert loudspeaker_places(room, catalogue, locked_only=True) == {}
    at = np.array([bar["at"], head["at"]], dtype=float)
    found = nearest_loudspeaker(at, ["bar", "m1"], places)
    assert found[0] == np.inf
    assert found[1] == pytest.approx(math.hypot(0.95, 1.5))
