"""Rules of what else is in the room: each refuses where the geometry says so, and can be relaxed.

Rooms are those of `tests/conftest.py`: 6 × 4.5 × 2.7 m, somebody at (2, 2), a mouth 1.2 m high.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.place import candidates
from wellheard.place.microphones import place_microphones, products_of_choice
from wellheard.place.places import Candidate, places
from wellheard.place.rules import Rules
from wellheard.predict import scene as scenes
from wellheard.predict.scene import Scene
from wellheard.room.document import Room
from wellheard.signal.mounted import held_by

Place = tuple[str, str, tuple[float, float, float]]

TABLE = {"kind": "table", "outline": [[1.5, 2.3], [5, 2.3], [5, 3.7], [1.5, 3.7]], "height": 0.74}
# The screen is 1.6 × 0.9 m about (0, 2.25, 1.4); half way from the lens at (4, 2.25, 2.4) the beam
# reaches from 1.675 to 2.125 m, and the head is 0.055 m high.
CANVAS = {
    "furniture": {
        "canvas": {"kind": "screen", "wall": "west", "centre": [2.25, 1.4], "size": [1.6, 0.9]}
    },
    "noise": {"sources": {"beamer": {"kind": "projector", "at": [4, 2.25, 2.4], "dba_at_1m": 34}}},
    "targets": {
        "house_rules": {
            code: {"relaxed": True, "because": "only the beam is looked at"}
            for code in ("sight-line-crossed", "head-height-under-pendant", "microphone-near-fan")
        }
    },
}
# From the camera at (0.1, 2, 2.6) the line falls by 1.4 m on its 1.9 m to the mouth: at x = 1.05 it
# is 1.9 m high.
CAMERA = {
    "equipment": {"cam": {"kind": "camera", "at": [0.1, 2, 2.6]}},
    "targets": {"house_rules": {"head-height-under-pendant": {"relaxed": True, "because": "test"}}},
}
LOOSE = {"targets": {"house_rules": {"microphone-near-wall": {"relaxed": True, "because": "x"}}}}
TILES_24 = {"space": {"ceiling": {"kind": "tiles", "module": "24 in"}}}
TILES_06 = {"space": {"ceiling": {"kind": "tiles", "module": 0.6}}}
LOCKED = {
    "devices": {
        "old": {
            "kind": "microphone",
            "product": "ceiling-array-16",
            "at": [3, 2, 2.7],
            "locked": True,
        }
    }
}
BOX = {"devices": {"box": {"kind": "processor", "product": "processor-4", "at": [3, 2, 2.5]}}}
PILLAR = {"outline": [[3.03, 1.9], [3.4, 1.9], [3.4, 2.1], [3.03, 2.1]]}

REFUSED: dict[str, tuple[Place, dict[str, Any], str]] = {
    # A panel 0.595 m wide beside another, 0.55 m off: 0.045 m in one another.
    "in a panel that stays": (
        ("ceiling-array-16", "ceiling", (3.55, 2.0, 2.7)),
        {**LOCKED, "space": {"ceiling": {"kind": "hard"}}},
        "device-overlaps",
    ),
    "in a processor up there": (
        ("ceiling-head-3", "ceiling", (3.05, 2.0, 2.5)),
        BOX,
        "device-overlaps",
    ),
    # Half of 0.11 m, 0.04 m from the wall: 0.015 m in it.
    "in the wall": (("ceiling-head-3", "ceiling", (0.04, 2.0, 2.7)), LOOSE, "device-overlaps"),
    # The housing ends at 3.055 m, the column begins at 3.03 m.
    "in a column": (
        ("ceiling-head-3", "ceiling", (3.0, 2.0, 2.7)),
        {**LOOSE, "space": {"obstacles": {"pillar": PILLAR}}},
        "device-overlaps",
    ),
    "in the beam": (
        ("ceiling-head-3", "ceiling", (2.0, 2.25, 2.0)),
        CANVAS,
        "pendant-in-projector-beam",
    ),
    "its rod in the beam": (
        ("ceiling-head-3", "ceiling", (2.0, 2.25, 1.55)),
        CANVAS,
        "pendant-in-projector-beam",
    ),
    "before a face": (
        ("ceiling-head-3", "ceiling", (1.05, 2.0, 1.9)),
        CAMERA,
        "pendant-in-camera-view",
    ),
    # s1 sits 0.3 m before the edge at y = 2.3: its working place is 0.6 m wide, 0.45 m deep.
    "where the papers are": (
        ("table-boundary", "table", (2.1, 2.5, 0.74)),
        {"furniture": {"table": TABLE}},
        "microphone-near-papers",
    ),
    # 24 in are 609.6 mm.
    "a metric panel in a grid of 24 in": (
        ("ceiling-array-16", "ceiling", (3.0, 2.0, 2.7)),
        TILES_24,
        "grid-mixed",
    ),
    "a panel of 24 in in a metric grid": (
        ("ceiling-array-16-24in", "ceiling", (3.0, 2.0, 2.7)),
        TILES_06,
        "grid-mixed",
    ),
    "a panel that lies on no tee": (
        ("ceiling-array-16", "ceiling", (3.0, 2.0, 2.7)),
        {"space": {"ceiling": {"kind": "tiles", "module": 0.625}}},
        "grid-mixed",
    ),
}

ALLOWED: dict[str, tuple[Place, dict[str, Any]]] = {
    "beside a panel": (
        ("ceiling-array-16", "ceiling", (3.6, 2.0, 2.7)),
        {**LOCKED, "space": {"ceiling": {"kind": "hard"}}},
    ),
    "over a panel that goes": (
        ("ceiling-array-16", "ceiling", (3.3, 2.0, 2.7)),
        {"devices": {"old": {**LOCKED["devices"]["old"], "locked": False}}},
    ),
    "under a processor": (("ceiling-head-3", "ceiling", (3.05, 2.0, 2.3)), BOX),
    "a bar on the wall": (("front-bar", "front", (0.05, 2.25, 0.9)), LOOSE),
    "above the beam": (("ceiling-head-3", "ceiling", (2.0, 2.25, 2.25)), CANVAS),
    "flush over the beam": (("ceiling-head-3", "ceiling", (2.0, 2.25, 2.7)), CANVAS),
    "behind the projector": (("ceiling-head-3", "ceiling", (4.3, 2.25, 2.4)), CANVAS),
    "with a projector and no screen": (
        ("ceiling-head-3", "ceiling", (2.0, 2.25, 2.0)),
        {**CANVAS, "furniture": {}},
    ),
    "above the face": (("ceiling-head-3", "ceiling", (1.05, 2.0, 2.15)), CAMERA),
    "beside the face": (("ceiling-head-3", "ceiling", (1.05, 2.3, 1.9)), CAMERA),
    "between two working places": (
        ("table-boundary", "table", (2.5, 2.5, 0.74)),
        {"furniture": {"table": TABLE}},
    ),
    "a gooseneck over the papers": (
        ("gooseneck", "table", (2.1, 2.5, 1.09)),
        {"furniture": {"table": TABLE}},
    ),
    "a panel in its own grid": (("ceiling-array-16", "ceiling", (3.0, 2.0, 2.7)), TILES_06),
    "a panel of 24 in in its own grid": (
        ("ceiling-array-16-24in", "ceiling", (3.0, 2.0, 2.7)),
        TILES_24,
    ),
    "a panel under a hard ceiling": (
        ("ceiling-array-16", "ceiling", (3.0, 2.0, 2.7)),
        {"space": {"ceiling": {"kind": "hard", "module": "24 in"}}},
    ),
    "a panel where the module is assumed": (
        ("ceiling-array-16-24in", "ceiling", (3.0, 2.0, 2.7)),
        {"space": {"ceiling": {"kind": "tiles"}}},
    ),
}


@pytest.fixture
def refused(scene_of: Callable[..., Scene], catalogue: Catalogue) -> Callable[..., str]:
    """Code that refuses one place, '' where none does."""

    def made(place: Place, over: dict[str, Any]) -> str:
        scene = scene_of(over)
        product, mounting, at = place
        found = catalogue.microphone(product)
        overhead = mounting == "ceiling"
        drop = scene.room.space.height - at[2] if overhead else None
        fit = held_by(scene.room, found)[0] if overhead else None
        return Rules(scene).refuses(Candidate(found, at, 0.0, mounting, drop, fit))

    return made


@pytest.mark.parametrize("case", REFUSED)
def test_a_place_is_refused_by_the_rule_it_breaks(case: str, refused: Callable[..., str]) -> None:
    place, over, code = REFUSED[case]
    assert refused(place, over) == code


@pytest.mark.parametrize("case", ALLOWED)
def test_a_place_that_breaks_no_rule_is_allowed(case: str, refused: Callable[..., str]) -> None:
    place, over = ALLOWED[case]
    assert refused(place, over) == ""


@pytest.mark.parametrize("case", REFUSED)
def test_a_relaxed_rule_refuses_nothing(case: str, refused: Callable[..., str]) -> None:
    place, over, code = REFUSED[case]
    targets = over.get("targets", {}).get("house_rules", {})
    relaxed = {**targets, code: {"relaxed": True, "because": "the client wants it"}}
    assert refused(place, {**over, "targets": {"house_rules": relaxed}}) == ""


LIMITS: dict[str, float] = {
    "a metric panel in a grid of 24 in": 0.01,
    "in a panel that stays": 0.05,
}


@pytest.mark.parametrize("case", LIMITS)
def test_another_limit_is_the_documents(case: str, refused: Callable[..., str]) -> None:
    place, over, code = REFUSED[case]
    rules = {code: {"limit": LIMITS[case], "because": "measured there"}}
    assert refused(place, {**over, "targets": {"house_rules": rules}}) == ""


def test_what_fits_no_grid_here_is_offered_and_refused_by_name(
    scene_of: Callable[..., Scene], catalogue: Catalogue
) -> None:
    scene = scene_of({"space": {"ceiling": {"kind": "tiles", "module": 0.625}}})
    panel = catalogue.microphone("ceiling-array-16")
    found = candidates.microphones(scene, (panel,))
    assert found.allowed == ()
    assert found.refused["grid-mixed"] > 0
    assert {c.fit for c in places(scene, panel, "ceiling")} == {"tile"}


@pytest.mark.parametrize(
    ("units", "module", "fitting", "other"),
    [
        ("m", None, "ceiling-array-16", "ceiling-array-16-24in"),
        ("m", 0.6, "ceiling-array-16", "ceiling-array-16-24in"),
        ("m", "24 in", "ceiling-array-16-24in", "ceiling-array-16"),
        ("ft", None, "ceiling-array-16-24in", "ceiling-array-16"),
        ("ft", 2, "ceiling-array-16-24in", "ceiling-array-16"),
        ("ft", "600 mm", "ceiling-array-16", "ceiling-array-16-24in"),
    ],
)
def test_the_panel_that_is_tried_is_that_for_the_tiles(
    units: str, module: object, fitting: str, other: str, catalogue: Catalogue
) -> None:
    ceiling = {"kind": "tiles"} if module is None else {"kind": "tiles", "module": module}
    side = 20 if units == "ft" else 6
    document = {
        "wellheard": 1,
        "units": units,
        "space": {
            "outline": [[0, 0], [side, 0], [side, side], [0, side]],
            "height": "2.7 m",
            "ceiling": ceiling,
        },
        "people": {"seats": {"s1": {"at": [side / 2, side / 2], "facing": 0}}},
    }
    scene = scenes.build(Room.model_validate(document), catalogue)
    tried = {p.id for p in products_of_choice(scene)}
    assert fitting in tried
    assert other not in tried


def test_a_locked_device_of_a_computer_keeps_others_away_and_says_so(
    scene_of: Callable[..., Scene],
) -> None:
    """A unit rated to 1.4 m at one end cannot serve somebody 3.5 m away, and stands alone."""
    table = {"kind": "table", "outline": [[1, 1.5], [5, 1.5], [5, 2.5], [1, 2.5]], "height": 0.74}
    seats = {"s1": {"at": [1.5, 1.2], "facing": 90}, "s2": {"at": [4.8, 1.2], "facing": 90}}
    unit = {"kind": "microphone", "product": "table-unit", "at": [1.5, 2.0, 0.76]}
    over = {"furniture": {"table": table}, "people": {"seats": seats}}
    over["choices"] = {"allow": ["ceiling-head-3"], "max_drop": 0}

    free = place_microphones(scene_of({**over, "devices": {"unit": unit}}))
    assert free.proof.status == "optimal"
    assert "computer" not in free.proof.scope

    kept = place_microphones(scene_of({**over, "devices": {"unit": {**unit, "locked": True}}}))
    assert [d.id for d in kept.devices] == ["unit"]
    assert kept.proof.status == "infeasible"
    assert "connects to a computer by itself is alone in its space" in kept.proof.scope
    assert any("unit (table-unit) is locked" in said for said in kept.would_have_to_give)
    assert math.dist(seats["s2"]["at"], unit["at"][:2]) > 1.4  # type: ignore[arg-type]
