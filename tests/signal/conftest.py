"""Documents of rooms by their devices, and the graphs of them. Rooms and devices are invented."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.room.document import Room
from wellheard.signal.graph import Graph, graph

GraphOf = Callable[..., Graph]
PRODUCTS: dict[str, tuple[str, str]] = {
    "head": ("microphone", "ceiling-head-3"),
    "gooseneck": ("microphone", "gooseneck"),
    "array": ("microphone", "ceiling-array-16"),
    "bar": ("combined", "front-bar"),
    "bridge": ("processor", "bridge-2"),
    "processor": ("processor", "processor-4"),
    "mixer": ("processor", "mixer-4"),
    "splitter": ("processor", "splitter-1"),
    "usb": ("processor", "usb-bridge"),
    "amplifier": ("amplifier", "amplifier-2x40"),
    "line-amplifier": ("amplifier", "line-amplifier-1x120"),
    "network-amplifier": ("amplifier", "amplifier-4x150"),
    "ceiling": ("loudspeaker", "ceiling-6"),
    "active": ("loudspeaker", "wall-5-active"),
    "network": ("loudspeaker", "ceiling-6-network"),
    "switch": ("switch", "switch-8"),
    "repeater": ("other", "link-repeater-30"),
    "usb-extender": ("other", "usb-extender-50"),
}
"""Kind and product by a short word."""


@pytest.fixture(scope="session")
def graph_of() -> GraphOf:
    """Give the function that makes the graph of a document.

    It takes devices as ``"m1 head, p processor"``, cables as ``"m1.link p.mic-1, …"``, stages
    by id, and equipment by id and kind.
    """
    return _graph


@pytest.fixture(scope="session")
def made_room() -> Callable[..., Room]:
    """Give the function that makes such a document."""
    return room_of


def room_of(
    devices: str = "",
    links: str = "",
    equipment: dict[str, str] | None = None,
    **stages: dict[str, Any],
) -> Room:
    """The document."""
    made: dict[str, dict[str, Any]] = {}
    for number, device in enumerate(filter(None, devices.split(", "))):
        name, word = device.split()
        kind, product = PRODUCTS[word]
        made[name] = {"kind": kind, "product": product}
        if kind in ("microphone", "combined", "loudspeaker"):
            made[name] = {**made[name], "at": [1 + 0.1 * number, 1.0, 2.0]}
    pairs = [link.split() for link in filter(None, links.split(", "))]
    return Room.model_validate(
        {
            "wellheard": 1,
            "space": {"outline": [[0, 0], [9, 0], [9, 5], [0, 5]], "height": 2.7},
            "people": {"seats": {"s1": {"at": [2, 2]}}},
            "equipment": {
                name: {"kind": kind, "at": [1, 1, 0.5]} for name, kind in (equipment or {}).items()
            },
            "devices": made,
            "links": {
                f"l{i}": {"from": one, "to": other} for i, (one, other) in enumerate(pairs, start=1)
            },
            "processing": stages,
        }
    )


def _graph(*arguments: Any, **named: Any) -> Graph:
    return graph(room_of(*arguments, **named), Catalogue.shipped())
