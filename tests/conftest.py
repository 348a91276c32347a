"""Rooms and designs that several parts of the tests share. Everything here is invented."""

from __future__ import annotations

import fcntl
import pickle
from collections.abc import Callable
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.predict import scene as scenes
from wellheard.predict.scene import Scene
from wellheard.room.document import Room
from wellheard.workflow.design import Designed, design
from wellheard.workflow.load import load

EXAMPLES = Path(__file__).parents[1] / "examples"
OCTAVES = (125, 250, 500, 1000, 2000, 4000, 8000)

PLAIN: dict[str, Any] = {
    "wellheard": 1,
    "units": "m",
    "space": {
        "outline": [[0, 0], [6, 0], [6, 4.5], [0, 4.5]],
        "walls": ["south", "east", "north", "west"],
        "height": 2.7,
        "climate": {"temperature_c": 20, "humidity": 0.5},
        "finishes": {
            "floor": "carpet-tile",
            "ceiling": "ceiling-mineral-tile",
            "walls": "plasterboard",
        },
    },
    "people": {"occupancy": 0, "seats": {"s1": {"at": [2, 2], "facing": 0}}},
    "noise": {"background": {"nc": 25}},
}
"""A box of which nothing is assumed that matters."""


def merged(base: dict[str, Any], over: dict[str, Any]) -> dict[str, Any]:
    """``base`` with ``over`` laid on it, mapping by mapping; ``absent`` takes a key away."""
    result = deepcopy(base)
    for key, value in over.items():
        both = isinstance(value, dict) and isinstance(result.get(key), dict)
        result[key] = merged(result[key], value) if both else deepcopy(value)
        if isinstance(value, str) and value == "absent":
            del result[key]
    return result


@pytest.fixture(scope="session")
def catalogue() -> Catalogue:
    return Catalogue.shipped()


@pytest.fixture(scope="session")
def room_of() -> Callable[..., Room]:
    """Give the function that lays changes over a plain box."""

    def made(over: dict[str, Any] | None = None) -> Room:
        return Room.model_validate(merged(PLAIN, over or {}))

    return made


@pytest.fixture(scope="session")
def scene_of(room_of: Callable[..., Room], catalogue: Catalogue) -> Callable[..., Scene]:
    """Give the function that makes such a room ready for prediction."""

    def made(over: dict[str, Any] | Room | None = None) -> Scene:
        room = over if isinstance(over, Room) else room_of(over)
        return scenes.build(room, catalogue)

    return made


@pytest.fixture(scope="session")
def designed(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Designed]:
    """Give the function that designs an example, once for all workers of a run."""
    base = tmp_path_factory.getbasetemp()
    shared = base.parent if base.name.startswith("popen-") else base
    known: dict[str, Designed] = {}

    def made(name: str) -> Designed:
        if name not in known:
            kept = shared / f"designed-{name}.pickle"
            with (shared / f"designed-{name}.lock").open("w") as lock:
                fcntl.flock(lock, fcntl.LOCK_EX)
                if not kept.exists():
                    answer = design(load(EXAMPLES / name / f"{name}.room.yaml"))
                    kept.write_bytes(pickle.dumps(answer))
            known[name] = pickle.loads(kept.read_bytes())  # written by this run itself
        return known[name]

    return made
