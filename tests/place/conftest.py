"""Covering instances with a known answer, from outside the project."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pytest

from wellheard.arrays import Mask
from wellheard.catalog.catalogue import Catalogue
from wellheard.predict.parts import PartScene, build_parts
from wellheard.predict.scene import Scene


def hit_every(blocks: Sequence[Sequence[int]], points: int) -> Mask:
    """Seats are blocks, candidates are points; a point serves the blocks that hold it."""
    serves = np.zeros((len(blocks), points), dtype=np.bool_)
    for row, block in enumerate(blocks):
        serves[row, list(block)] = True
    return serves


def affine_lines(dimension: int) -> Mask:
    """Points against lines of the affine space over three elements: Steiner triple systems."""
    points = list(itertools.product(range(3), repeat=dimension))
    number = {point: i for i, point in enumerate(points)}
    lines = set()
    for a, b in itertools.combinations(points, 2):
        c = tuple(-(p + q) % 3 for p, q in zip(a, b, strict=True))
        lines.add(tuple(sorted((number[a], number[b], number[c]))))
    return hit_every(sorted(lines), len(points))


@pytest.fixture
def steiner_9() -> Mask:
    """STS(9), 12 triples: fewest points that hit all are 5.

    Fulkerson, Nemhauser and Trotter, "Two computationally difficult set covering problems that
    arise in computing the 1-width of incidence matrices of Steiner triple systems",
    Mathematical Programming Study 2 (1974), instance A9 [M]. The same follows from the largest
    cap in the affine plane of order 3 being 4: 9 − 4 = 5 [M].
    """
    return affine_lines(2)


@pytest.fixture
def steiner_27() -> Mask:
    """STS(27), 117 triples: 18, instance A27 of the same paper; largest cap 9 [M]."""
    return affine_lines(3)


@pytest.fixture
def fano() -> Mask:
    """The projective plane of order 2: three points, those of a line, hit every line.

    Any two lines meet, so the points of one line suffice; two points miss the line through
    neither, as only 3 + 3 − 1 of 7 lines pass through them.
    """
    blocks = [(0, 1, 2), (0, 3, 4), (0, 5, 6), (1, 3, 5), (1, 4, 6), (2, 3, 6), (2, 4, 5)]
    return hit_every(blocks, 7)


@pytest.fixture
def greed_loses() -> Mask:
    """Two rows of 7 seats: two candidates cover a row each, yet greed takes 4 + 2 + 1 columns.

    The textbook family on which greedy covering loses (folklore of algorithm courses).
    """
    serves = np.zeros((14, 5), dtype=np.bool_)
    serves[:7, 3] = serves[7:, 4] = True
    for candidate, columns in ((0, range(4)), (1, range(4, 6)), (2, range(6, 7))):
        for column in columns:
            serves[[column, column + 7], candidate] = True
    return serves


FOLD = 4.8
"""Where the partition of these rooms stands: the same for all, half way [m]."""
DEAD = {"absorption": {str(f): 0.85 for f in (125, 250, 500, 1000, 2000, 4000, 8000)}}
BOTH = {"joined": {"open": ["fold"]}, "split": {"closed": ["fold"]}}
HALVES: dict[str, Any] = {
    "space": {
        "outline": [[0, 0], [9.6, 0], [9.6, 4.8], [0, 4.8]],
        "ceiling": {"kind": "tiles", "module": 0.6, "origin": [0, 0]},
        "finishes": {"floor": DEAD, "ceiling": DEAD, "walls": DEAD},
    },
    "people": {
        "seats": {"s1": {"at": [3.6, 2.4], "facing": 0}, "s2": {"at": [6.0, 2.4], "facing": 180}}
    },
    "choices": {"allow": ["ceiling-head-3"], "mounting": ["ceiling"], "max_drop": 0},
    "partitions": {"fold": {"from": [FOLD, 0], "to": [FOLD, 4.8]}},
    "arrangements": BOTH,
}
"""Two people in a dead room, either side of a partition, within reach of one head."""


@pytest.fixture
def halves() -> dict[str, Any]:
    """What such a room says, to lay changes over."""
    return HALVES


@pytest.fixture
def divided(
    scene_of: Callable[..., Scene], catalogue: Catalogue
) -> Callable[..., tuple[Scene, tuple[PartScene, ...]]]:
    """Give the function that makes such a room, and its parts, ready."""

    def made(**over: Any) -> tuple[Scene, tuple[PartScene, ...]]:
        scene = scene_of({**HALVES, **over})
        return scene, build_parts(scene.room, catalogue)

    return made
