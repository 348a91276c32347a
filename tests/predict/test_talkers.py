"""Who talks from where, and which way they look."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from wellheard.geometry.points import contains_points
from wellheard.predict import ledger
from wellheard.predict.scene import Scene
from wellheard.predict.talkers import display_place, facings_deg, talkers
from wellheard.room.document import Room

TABLE = {"kind": "table", "outline": [[2, 1.5], [4, 1.5], [4, 2.5], [2, 2.5]]}
PICTURE = {"kind": "display", "wall": "west", "centre": [2.0, 1.4], "size": [1.6, 0.9]}


def facing(
    room_of: Callable[..., Room], at: tuple[float, float], word: Any, **furniture: Any
) -> Any:
    return facings_deg(room_of({"furniture": furniture}), at, word)


def test_across_looks_square_at_the_tables_edge(room_of: Callable[..., Room]) -> None:
    assert facing(room_of, (3, 1), "across", table=TABLE) == (90.0,)
    assert facing(room_of, (3, 3), "across", table=TABLE) == (270.0,)
    assert facing(room_of, (1, 2), "across", table=TABLE) == (0.0,)
    assert facing(room_of, (5, 2), "across", table=TABLE) == (180.0,)


def test_across_from_beyond_a_corner_looks_at_the_corner(room_of: Callable[..., Room]) -> None:
    assert facing(room_of, (1, 0.5), "across", table=TABLE) == pytest.approx((45.0,))


def test_across_looks_at_the_nearest_of_several_tables(room_of: Callable[..., Room]) -> None:
    far = {"kind": "table", "outline": [[2, 3.5], [4, 3.5], [4, 4.2], [2, 4.2]]}
    assert facing(room_of, (3, 2.8), "across", table=TABLE, far=far) == (270.0,)
    assert facing(room_of, (3, 3.3), "across", table=TABLE, far=far) == (90.0,)


def test_across_from_over_the_table_looks_at_its_middle(room_of: Callable[..., Room]) -> None:
    assert facing(room_of, (2.5, 2.0), "across", table=TABLE) == pytest.approx((0.0,))


def test_across_without_a_table_looks_at_the_middle_of_the_seats(
    room_of: Callable[..., Room],
) -> None:
    seats = {"s1": {"at": [1, 1]}, "s2": {"at": [5, 1]}, "s3": {"at": [3, 4]}}
    room = room_of({"people": {"seats": seats}})
    assert facings_deg(room, (3, 4), "across") == pytest.approx((270.0,))


def test_display_looks_at_the_middle_of_the_picture(room_of: Callable[..., Room]) -> None:
    """The west wall runs from (0, 4.5) to (0, 0): 2 m along it is (0, 2.5)."""
    room = room_of({"furniture": {"picture": PICTURE}})
    assert display_place(room, "picture") == pytest.approx((0, 2.5, 1.4))
    assert facings_deg(room, (3, 2.5), "display") == pytest.approx((180.0,))
    assert facings_deg(room, (2.5, 0.0), "display") == pytest.approx((135.0,))


def test_display_looks_at_the_nearest_picture(room_of: Callable[..., Room]) -> None:
    other = {**PICTURE, "wall": "east", "centre": [2.5, 1.4]}
    room = room_of({"furniture": {"picture": PICTURE, "screen": {**other, "kind": "screen"}}})
    assert facings_deg(room, (5, 2.5), "display") == pytest.approx((0.0,))
    assert facings_deg(room, (1, 2.5), "display") == pytest.approx((180.0,))


def test_degrees_are_taken_as_stated_and_equal_facings_once(room_of: Callable[..., Room]) -> None:
    assert facing(room_of, (3, 1), 450) == (90.0,)
    assert facing(room_of, (3, 1), -90) == (270.0,)
    assert facing(room_of, (3, 1), ["across", 90, 0], table=TABLE) == (90.0, 0.0)


def test_a_standing_area_is_sampled_to_its_corners_and_no_coarser_than_stated(
    room_of: Callable[..., Room],
) -> None:
    outline = [[1.0, 1.0], [2.5, 1.0], [2.5, 3.0], [1.0, 3.0]]
    room = room_of({"people": {"standing": {"board": {"outline": outline, "facing": 315}}}})
    found = [t for t in talkers(room) if t.kind == "standing"]
    points = np.array([t.at[:2] for t in found])
    assert [t.id for t in found] == [f"board.{i + 1}" for i in range(len(found))]
    assert {t.owner for t in found} == {"people.standing.board"}
    assert {t.at[2] for t in found} == {1.6}
    assert {t.facings_deg for t in found} == {(315.0,)}
    for corner in outline:
        assert np.min(np.linalg.norm(points - corner, axis=1)) < 1e-9
    assert bool(contains_points(np.array(outline), points).all())
    # No place of the area is farther from a sample than half a cell's diagonal.
    grid = np.stack(np.meshgrid(np.linspace(1, 2.5, 31), np.linspace(1, 3, 41)), -1).reshape(-1, 2)
    gap = np.linalg.norm(grid[:, None] - points[None], axis=-1).min(axis=1)
    assert gap.max() <= 0.8 * math.sqrt(2) / 2 + 1e-9


def test_seats_keep_the_documents_order_and_their_height(room_of: Callable[..., Room]) -> None:
    seats = {"b": {"at": [1, 1], "height": 1.1}, "a": {"at": [2, 1]}}
    room = room_of({"people": {"seats": {"s1": "absent", **seats}}})
    assert [t.id for t in talkers(room)] == ["s1", "b", "a"] or [t.id for t in talkers(room)] == [
        "b",
        "a",
    ]
    assert {t.id: t.at[2] for t in talkers(room)}["b"] == 1.1


def test_of_several_facings_the_worst_counts(scene_of: Callable[..., Scene]) -> None:
    def row(stated: Any) -> Any:
        scene = scene_of(
            {
                "people": {"seats": {"s1": {"facing": stated}}},
                "devices": {
                    "m1": {"kind": "microphone", "product": "omni-reference", "at": [3.5, 2, 1.2]}
                },
            }
        )
        (found,) = ledger.evidence(scene, assumptions=False).outbound
        return found

    front, behind, both = row(0), row(180), row([0, 180])
    assert front.path.sti > behind.path.sti
    assert both.path == behind.path
    assert both.path.facing_deg == 180.0
