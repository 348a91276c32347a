"""A room in space: faces that are flat and closed, lines and marks where the document has them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from shapely.geometry import Polygon

from wellheard.room import codec
from wellheard.room.operations import apply
from wellheard.workflow.load import Loaded, load
from wellheard.workflow.solid import solid

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*/*.room.yaml"))
LOADED = {path.parent.name: load(path) for path in EXAMPLES}


@pytest.fixture(params=LOADED)
def loaded(request: pytest.FixtureRequest) -> Loaded:
    return LOADED[request.param]


def area_vector(points: Any) -> Any:
    """Vector area of a polygon in space, after Newell: its length is the area."""
    p = np.asarray(points)
    return np.cross(p, np.roll(p, -1, axis=0)).sum(axis=0) / 2


def test_the_shell_of_a_room_is_closed_and_faces_inwards(loaded: Loaded) -> None:
    room = loaded.room
    shell = [f for f in solid(loaded)["faces"] if f["kind"] in ("floor", "ceiling", "wall")]
    vectors = [area_vector(face["points"]) for face in shell]
    # The vector areas of a closed surface add up to nothing (Gauss).
    assert np.abs(np.sum(vectors, axis=0)).max() < 1e-9
    assert np.linalg.norm(vectors[0]) == pytest.approx(Polygon(room.space.outline).area)
    # And the volume is that of the prism, its sign that of faces seen from inside.
    volume = sum(np.dot(face["points"][0], v) for face, v in zip(shell, vectors, strict=True)) / 3
    assert -volume == pytest.approx(Polygon(room.space.outline).area * room.space.height)


def test_every_face_is_flat_and_in_the_room(loaded: Loaded) -> None:
    drawn = solid(loaded)
    low, high = np.array(drawn["bounds"][:3]) - 1e-6, np.array(drawn["bounds"][3:]) + 1e-6
    for face in drawn["faces"]:
        points = np.asarray(face["points"])
        assert len(points) >= 3
        assert (points >= low).all()
        assert (points <= high).all()
        normal = area_vector(points)
        assert np.linalg.norm(normal) > 1e-6
        offsets = (points - points[0]) @ (normal / np.linalg.norm(normal))
        assert np.abs(offsets).max() < 1e-6


def test_it_is_plain_data(loaded: Loaded) -> None:
    drawn = solid(loaded)
    assert json.loads(json.dumps(drawn, allow_nan=False)) == drawn


def test_what_hangs_has_a_drop_and_nothing_spreads_from_a_microphone() -> None:
    base = LOADED["huddle-four"]
    head = {"kind": "microphone", "product": "ceiling-head-3"}
    room = apply(
        base.room,
        [
            {"path": "devices.m1", "set": {**head, "at": [1.8, 1.5, 2.25]}},
            {"path": "devices.m2", "set": {**head, "at": [0.9, 0.9, 2.6]}},
        ],
        unit="m",
    ).room
    drawn = solid(Loaded(codec.parse_document(codec.dump(room)), base.catalogue))
    drops = [line["points"] for line in drawn["lines"] if line["kind"] == "drop"]
    assert drops == [[[1.8, 1.5, 2.25], [1.8, 1.5, 2.6]]]  # the other one is flush
    assert {line["kind"] for line in drawn["lines"]} <= {"drop", "tile"}
    marks = {mark["path"]: mark for mark in drawn["marks"]}
    assert marks["devices.m1"]["at"] == [1.8, 1.5, 2.25]
    assert marks["people.seats.s1"]["at"] == [1.375, 0.65, 1.2]
