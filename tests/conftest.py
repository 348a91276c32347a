"""Rooms and designs that several parts of the tests share. Everything here is invented."""

from __future__ import annotations

import fcntl
import gc
import os
import pickle
from collections.abc import Callable, Iterator
from copy import deepcopy
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.effort import ALL_RAYS, FEW_RAYS, effects, rays
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

# Hundreds of commands and servers are started in processes of their own: compile once for all.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Iterator[None]:
    """Spare what is imported and collected from every later search for garbage.

    All of it lives as long as the run, and who makes sure of an empty page before and after each
    test searches hundreds of thousands of objects otherwise.
    """
    gc.disable()
    try:
        return (yield)
    finally:
        gc.enable()
        gc.collect()
        gc.freeze()


def merged(base: dict[str, Any], over: dict[str, Any]) -> dict[str, Any]:
    """``base`` with ``over`` laid on it, mapping by mapping; ``absent`` takes a key away."""
    result = deepcopy(base)
    for key, value in over.items():
        both = isinstance(value, dict) and isinstance(result.get(key), dict)
        result[key] = merged(result[key], value) if both else deepcopy(value)
        if isinstance(value, str) and value == "absent":
            del result[key]
    return result


@pytest.fixture(scope="module")
def few_rays() -> Iterator[None]:
    """Trace a rougher decay, for files whose claims hold for any decay.

    That is where two ways to a figure are compared, or words and pages are; not where a figure
    is: reverberation times may be off by a tenth or two then.
    """
    with rays(*FEW_RAYS):
        yield


@pytest.fixture
def few_rays_here() -> Iterator[None]:
    """The same for one test of a file."""
    with rays(*FEW_RAYS):
        yield


@pytest.fixture(scope="module")
def effects_untried() -> Iterator[None]:
    """Do not try what each assumption does to the worst seat, for files that do not ask for it."""
    with effects(tried=False):
        yield


@pytest.fixture
def effects_tried() -> Iterator[None]:
    """Try it all the same, for one test of such a file."""
    with effects(tried=True):
        yield


@pytest.fixture(scope="session", autouse=True)
def no_products_of_mine(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Let no test see what whoever runs it has in a catalogue of their own."""
    folder = tmp_path_factory.mktemp("own-catalogue")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("WELLHEARD_CATALOGUE", str(folder))
        yield folder


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
                    with rays(*ALL_RAYS), effects(tried=True):
                        answer = design(load(EXAMPLES / name / f"{name}.room.yaml"))
                    kept.write_bytes(pickle.dumps(answer))
            known[name] = pickle.loads(kept.read_bytes())  # written by this run itself
        return known[name]

    return made


@pytest.fixture(scope="session")
def small_room() -> Callable[[int], Room]:
    """Give the function that makes a small room with big tiles and flush heads by its seed."""
    return _small_room


def _small_room(seed: int) -> Room:
    """Two to four people, a handful of places; by the seed keep-outs, loudspeakers, locks."""
    rng = np.random.default_rng(seed)
    x, y = float(rng.choice([3.6, 4.8, 6.0])), float(rng.choice([3.6, 4.2, 4.8]))
    height = float(rng.choice([2.5, 2.7, 3.0]))
    words: list[Any] = [0, 90, 180, 270, "across", ["across", 0], [90, 270]]
    seats = {
        f"s{i + 1}": {
            "at": [float(rng.uniform(0.5, x - 0.5)), float(rng.uniform(0.5, y - 0.5))],
            "facing": words[int(rng.integers(len(words)))],
        }
        for i in range(int(rng.integers(2, 5)))
    }
    alpha = float(rng.uniform(0.12, 0.55))
    finish = {"absorption": {str(f): alpha for f in OCTAVES}}
    heads = ["ceiling-head-2", "ceiling-head-3", "ceiling-head-6"]
    allow = [heads[i] for i in rng.permutation(3)[: 1 + seed % 2]]
    document: dict[str, Any] = {
        "wellheard": 1,
        "units": "m",
        "space": {
            "outline": [[0, 0], [x, 0], [x, y], [0, y]],
            "height": height,
            "ceiling": {"kind": "tiles", "module": 1.2, "origin": [0, float(rng.choice([0, 0.3]))]},
            "finishes": {"floor": finish, "ceiling": finish, "walls": finish},
        },
        "people": {"seats": seats, "occupancy": 0.5},
        "noise": {"background": {"nc": int(rng.integers(15, 36))}},
        "choices": {"allow": allow, "mounting": ["ceiling"], "max_drop": 0},
        "targets": {"direct_to_reverberant_db": float(rng.uniform(-9, -3))},
        "basis": {"people.seats": "measured"},
    }
    if seed % 3 == 0:
        corner = rng.uniform([0, 0], [x - 1.0, y - 1.0])
        document["overhead"] = {
            "lamp": {"outline": np.add(corner, [[0, 0], [1, 0], [1, 1], [0, 1]]).tolist()}
        }
    devices: dict[str, Any] = {}
    if seed % 4 == 1:
        devices["ls"] = {
            "kind": "loudspeaker",
            "product": "ceiling-6",
            "at": [*rng.uniform([0.5, 0.5], [x - 0.5, y - 0.5]).tolist(), height],
        }
    if seed % 5 == 2:
        devices["old"] = {
            "kind": "microphone",
            "product": "ceiling-head-3",
            "at": [*rng.uniform([0.5, 0.5], [x - 0.5, y - 0.5]).tolist(), height],
            "locked": True,
            "owned": bool(rng.integers(2)),
        }
    document["devices"] = devices
    return Room.model_validate(document)


@pytest.fixture(scope="session")
def crowded_room() -> Callable[[int], Room]:
    """Give the function that makes a room with much on its ceiling by its seed."""
    return _crowded_room


def _crowded_room(seed: int) -> Room:
    """All kinds of mounting, ceiling and trouble: lamps, ducts, outlets, fans, loudspeakers."""
    rng = np.random.default_rng(1000 + seed)
    x, y = float(rng.uniform(4.5, 8.5)), float(rng.uniform(3.6, 6.0))
    height = float(rng.choice([2.6, 2.9, 3.4]))
    half = float(rng.uniform(0.4, 0.7))
    table = [
        [1.4, y / 2 - half],
        [x - 1.4, y / 2 - half],
        [x - 1.4, y / 2 + half],
        [1.4, y / 2 + half],
    ]
    seats = {}
    for i, along in enumerate(np.arange(1.7, x - 1.6, 0.9)):
        for side in (-1, 1):
            at = [float(along), y / 2 + side * (half + 0.3)]
            seats[f"s{i}{'ns'[side > 0]}"] = {"at": at, "facing": ["across", "display"]}
    kinds = ["luminaire", "sprinkler", "beam", "duct", "air-outlet", "detector", "projector"]
    overhead = {}
    for i in range(int(rng.integers(1, 5))):
        kind = kinds[int(rng.integers(len(kinds)))]
        corner = rng.uniform([0.2, 0.2], [x - 1.3, y - 1.0])
        wide = rng.uniform([0.2, 0.2], [1.0, 0.6])
        overhead[f"o{i}"] = {
            "kind": kind,
            "outline": (corner + np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * wide).tolist(),
            "clearance": float(rng.choice([0.0, 0.15, 0.3])),
            **({"bottom": height - float(rng.uniform(0.1, 0.5))} if rng.integers(2) else {}),
        }
    places = {"air-outlet": height, "projector": height - 0.3, "fan-coil": height - 0.1}
    sources = {}
    for i in range(int(rng.integers(0, 3))):
        kind = str(rng.choice(list(places)))
        spot = rng.uniform([0.3, 0.3], [x - 0.3, y - 0.3]).tolist()
        sources[f"n{i}"] = {"kind": kind, "at": [*spot, places[kind]], "dba_at_1m": 26}
    devices: dict[str, Any] = {
        "mixer": {"kind": "processor", "product": "processor-12", "equipment": "rack"}
    }
    if seed % 3 == 0:
        spot = rng.uniform([0.5, 0.5], [x - 0.5, y - 0.5]).tolist()
        devices["ls"] = {"kind": "loudspeaker", "product": "ceiling-6", "at": [*spot, height]}
    if seed % 7 == 3:
        devices["bar"] = {
            "kind": "microphone",
            "product": "front-bar",
            "at": [0.05, y / 2, 0.75],
            "locked": True,
        }
    allow = [
        ["ceiling-head-3"],
        ["ceiling-head-2", "ceiling-head-6"],
        ["ceiling-head-3", "table-boundary"],
        ["pendant-cardioid", "ceiling-head-3"],
        ["ceiling-array-16"],
        ["ceiling-head-6", "front-bar"],
    ][seed % 6]
    ceiling = [{"kind": "tiles", "module": 0.6}, {"kind": "hard"}, {"kind": "open"}][seed % 3]
    soft = {"absorption": {str(f): 0.45 for f in OCTAVES}}
    furniture: dict[str, Any] = {
        "table": {"kind": "table", "outline": table},
        "picture": {"kind": "display", "wall": "west", "centre": [y / 2, 1.4], "size": [1.4, 0.8]},
        "chest": {"kind": "cupboard", "outline": [[0.1, 0.1], [1, 0.1], [1, 0.5], [0.1, 0.5]]},
    }
    return Room.model_validate(
        {
            "wellheard": 1,
            "units": "m",
            "space": {
                "outline": [[0, 0], [x, 0], [x, y], [0, y]],
                "walls": ["south", "east", "north", "west"],
                "height": height,
                "ceiling": ceiling,
                "finishes": {"floor": soft, "ceiling": soft, "walls": soft},
            },
            "furniture": furniture,
            "people": {"seats": seats},
            "noise": {"background": {"nc": 20}, "sources": sources},
            "overhead": overhead,
            "equipment": {"rack": {"kind": "rack", "at": [x - 0.4, 0.4, 0.6]}},
            "choices": {"allow": allow},
            "targets": {"direct_to_reverberant_db": -8},
            "devices": devices,
        }
    )
