"""What stands between mouth and microphone, by hand with Kurze and Anderson's formula."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from wellheard.predict import ledger
from wellheard.predict.evidence import Path
from wellheard.predict.scene import Scene

OCTAVES = (125.89, 251.19, 501.19, 1000.0, 1995.26, 3981.07, 7943.28)  # IEC 61260-1, base ten [L]
SPEED = 343.2  # 20 °C, ISO 9613-1 [L]


@pytest.fixture(scope="module")
def path_of(scene_of: Callable[..., Scene]) -> Callable[..., Path]:
    def made(at: tuple[float, float, float], **over: Any) -> Path:
        product = over.pop("product", "omni-reference")
        devices = {"m1": {"kind": "microphone", "product": product, "at": list(at)}}
        scene = scene_of({"devices": devices, **over})
        (path,) = ledger.evidence(scene, assumptions=False).paths
        return path

    return made


def loss_db(detour: float) -> list[float]:
    """5 + 20 lg(√(2πN)/tanh √(2πN)), N = 2δ/λ (Kurze & Anderson 1971, via handbooks [L])."""
    found = []
    for frequency in OCTAVES:
        root = math.sqrt(2 * math.pi * 2 * detour * frequency / SPEED)
        found.append(5 + 20 * math.log10(root / math.tanh(root)))
    return found


def cupboard(height: float) -> dict[str, Any]:
    corners = [[2.9, 1.5], [3.1, 1.5], [3.1, 2.5], [2.9, 2.5]]
    return {"furniture": {"it": {"kind": "cupboard", "outline": corners, "height": height}}}


def by_hand(points: list[tuple[float, float]]) -> float:
    """Detour along points of a section: there and back less the straight line [m]."""
    ways = sum(math.dist(p, q) for p, q in pairwise(points))
    return ways - math.dist(points[0], points[-1])


@pytest.mark.parametrize(
    ("height", "at", "section"),
    [
        (1.6, (4.0, 2.0, 1.2), [(2.0, 1.2), (2.9, 1.6), (3.1, 1.6), (4.0, 1.2)]),
        (1.7, (4.0, 2.0, 2.2), [(2.0, 1.2), (2.9, 1.7), (4.0, 2.2)]),
    ],
    ids=["over two edges", "over the nearer edge"],
)
def test_what_stands_in_the_way_leaves_what_bends_over_it(
    path_of: Callable[..., Path],
    height: float,
    at: tuple[float, float, float],
    section: list[tuple[float, float]],
) -> None:
    free = path_of(at)
    behind = path_of(at, **cupboard(height))
    assert (free.screened, behind.screened) == (False, True)
    lost = np.subtract(free.direct_db, behind.direct_db)
    assert lost == pytest.approx(loss_db(by_hand(section)), abs=0.35)


def test_a_detour_of_half_a_wavelength_costs_13_db() -> None:
    """Maekawa's measured curve at N = 1 [M], here at 1 kHz."""
    assert loss_db(SPEED / 1000 / 2)[3] == pytest.approx(13.0, abs=0.3)


@pytest.mark.parametrize("height", [1.1, 1.15])
def test_what_the_line_clears_does_not_screen(path_of: Callable[..., Path], height: float) -> None:
    at = (4.0, 2.0, 1.2)
    behind = path_of(at, **cupboard(height))
    assert not behind.screened
    assert behind.direct_db == pytest.approx(path_of(at).direct_db)


def test_a_table_screens_nothing(path_of: Callable[..., Path]) -> None:
    corners = [[2.9, 1.5], [3.1, 1.5], [3.1, 2.5], [2.9, 2.5]]
    table = {"furniture": {"it": {"kind": "table", "outline": corners, "height": 1.3}}}
    assert not path_of((4.0, 2.0, 1.2), **table).screened


L_SHAPE: dict[str, Any] = {
    "space": {
        "outline": [[0, 0], [6, 0], [6, 2], [2, 2], [2, 6], [0, 6]],
        "walls": "absent",
    },
    "people": {"directivity": "omni", "seats": {"s1": {"at": [5, 1]}}},
}


@pytest.mark.parametrize("z", [1.2, 2.2])
def test_round_the_corner_comes_what_bends_there(
    path_of: Callable[..., Path], oracle: Any, z: float
) -> None:
    """From (5, 1) by the corner (2, 2) to (1, 5): √10 twice on the plan, straight √32."""
    path = path_of((1.0, 5.0, z), **L_SHAPE)
    rise = z - 1.2
    straight = math.hypot(math.sqrt(32), rise)
    detour = math.hypot(2 * math.sqrt(10), rise) - straight
    free = [10 * math.log10(e) for e in oracle.direct(straight, None, 1.0)]
    assert path.screened
    assert np.subtract(free, path.direct_db) == pytest.approx(loss_db(detour), abs=0.01)


def test_in_plain_sight_nothing_is_lost(path_of: Callable[..., Path], oracle: Any) -> None:
    path = path_of((3.0, 1.0, 1.2), **L_SHAPE)
    assert not path.screened
    expected = [10 * math.log10(e) for e in oracle.direct(2.0, None, 1.0)]
    assert path.direct_db == pytest.approx(expected, abs=0.01)


def test_behind_a_column_sound_goes_round_two_corners(path_of: Callable[..., Path]) -> None:
    """A pillar of 0.2 m by 1 m in the middle of 2 m: 0.9 and 0.5 aside, along, and back."""
    corners = [[2.9, 1.5], [3.1, 1.5], [3.1, 2.5], [2.9, 2.5]]
    pillar = {"space": {"obstacles": {"pillar": {"outline": corners, "finish": "concrete"}}}}
    at = (4.0, 2.0, 1.2)
    behind = path_of(at, **pillar)
    detour = 2 * math.hypot(0.9, 0.5) + 0.2 - 2.0
    assert behind.screened
    lost = np.subtract(path_of(at).direct_db, behind.direct_db)
    assert lost == pytest.approx(loss_db(detour), abs=0.35)


def test_a_direction_that_a_capsule_does_not_hear_is_not_something_in_the_way(
    path_of: Callable[..., Path],
) -> None:
    """A cardioid that looks down, right under a mouth: its null, and nothing stands there."""
    assert not path_of((2.0, 2.0, 0.9), product="pendant-cardioid").screened
    assert not path_of(
        (2.0, 2.0, 0.9),
        product="pendant-cardioid",
        space=L_SHAPE["space"],
        people={"seats": {"s1": {"at": [2.0, 1.0]}}},
    ).screened


def test_a_mouth_below_the_table_top_is_in_its_shadow(path_of: Callable[..., Path]) -> None:
    """A capsule set into a high table hears nothing straight through it: 5 dB at the edge."""
    corners = [[2.3, 1.5], [4, 1.5], [4, 2.5], [2.3, 2.5]]
    bar: dict[str, Any] = {
        "furniture": {"bar": {"kind": "table", "outline": corners, "height": 1.1}},
        "people": {"seats": {"s1": {"height": 1.0}}},
    }
    at = (2.6, 2.0, 1.1)
    set_in, on_top = path_of(at, product="table-boundary", **bar), path_of(at, **bar)
    assert (set_in.screened, on_top.screened) == (True, False)
    assert np.subtract(on_top.direct_db, set_in.direct_db) == pytest.approx([5.0] * 7, abs=0.01)
