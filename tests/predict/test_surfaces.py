"""Areas, axes and volume of rooms that can be added up by hand."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.predict.evidence import Surface
from wellheard.predict.surfaces import air_volume, objects, surfaces
from wellheard.room.document import Room


@pytest.fixture(scope="session")
def rows_of(room_of: Callable[..., Room], catalogue: Catalogue) -> Callable[..., Any]:
    def made(over: dict[str, Any]) -> tuple[Room, dict[str, Surface]]:
        room = room_of(over)
        return room, {row.name: row for row in surfaces(room, catalogue)}

    return made


def test_a_box_has_six_faces(rows_of: Callable[..., Any]) -> None:
    room, rows = rows_of({})
    assert {name: row.area for name, row in rows.items()} == pytest.approx(
        {
            "floor": 27.0,
            "ceiling": 27.0,
            "south": 16.2,
            "east": 12.15,
            "north": 16.2,
            "west": 12.15,
        }
    )
    assert air_volume(room) == pytest.approx(72.9)
    assert rows["floor"].axis == rows["ceiling"].axis == (0, 0, 1)
    assert rows["south"].axis == pytest.approx((0, 1, 0))  # a wall along x faces y
    assert rows["east"].axis == pytest.approx((1, 0, 0))


def test_a_patch_takes_its_area_from_its_wall(rows_of: Callable[..., Any]) -> None:
    finish = {
        "absorption": dict.fromkeys(("125", "250", "500", "1000", "2000", "4000", "8000"), 0.9)
    }
    _, rows = rows_of(
        {
            "space": {
                "finishes": {
                    "patches": {
                        "panel": {
                            "wall": "south",
                            "from": 1,
                            "to": 3.5,
                            "bottom": 0.9,
                            "top": 2.1,
                            "finish": finish,
                        },
                        "door": {
                            "wall": "south",
                            "from": 4,
                            "to": 5,
                            "bottom": 0,
                            "top": 2.1,
                            "finish": "wood-door",
                        },
                    }
                }
            }
        }
    )
    assert rows["south: panel"].area == pytest.approx(3.0)
    assert rows["south: panel"].absorption == (0.9,) * 7
    assert rows["south: door"].area == pytest.approx(2.1)
    assert rows["south"].area == pytest.approx(16.2 - 5.1)
    assert rows["south: panel"].axis == rows["south"].axis


def test_a_column_takes_floor_and_ceiling_and_adds_its_sides(rows_of: Callable[..., Any]) -> None:
    square = [[2, 2], [2.5, 2], [2.5, 2.5], [2, 2.5]]
    room, rows = rows_of({"space": {"obstacles": {"column": {"outline": square}}}})
    sides = [row for name, row in rows.items() if name == "obstacle column"]
    assert rows["floor"].area == rows["ceiling"].area == pytest.approx(27.0 - 0.25)
    # Rows that face alike are one; a mapping by name keeps the last of the two directions.
    assert sides[0].area == pytest.approx(2 * 0.5 * 2.7)
    assert air_volume(room) == pytest.approx(72.9 - 0.25 * 2.7)


def test_a_cupboard_keeps_the_ceiling_above_it_and_adds_its_top(
    room_of: Callable[..., Room], catalogue: Catalogue
) -> None:
    square = [[2, 2], [3, 2], [3, 3], [2, 3]]
    room = room_of({"space": {"obstacles": {"chest": {"outline": square, "height": 1.2}}}})
    rows = surfaces(room, catalogue)
    area = {name: sum(r.area for r in rows if r.name == name) for name in {r.name for r in rows}}
    assert area["ceiling"] == pytest.approx(27.0)
    assert area["floor"] == pytest.approx(26.0)
    assert area["obstacle chest, top"] == pytest.approx(1.0)
    assert area["obstacle chest"] == pytest.approx(4 * 1.2)
    assert air_volume(room) == pytest.approx(72.9 - 1.2)


L_SHAPE = {
    "space": {
        "outline": [[0, 0], [8, 0], [8, 4.2], [4.6, 4.2], [4.6, 7], [0, 7]],
        "walls": "absent",
        "height": 3.4,
    }
}


def test_an_l_shape_is_added_up_wall_by_wall(rows_of: Callable[..., Any]) -> None:
    """8 × 4.2 + 4.6 × 2.8 = 46.48 m²; walls 8, 4.2, 3.4, 2.8, 4.6, 7 m; 3.4 m high."""
    room, rows = rows_of(L_SHAPE)
    assert rows["floor"].area == pytest.approx(46.48)
    assert air_volume(room) == pytest.approx(158.032)
    walls = sum(row.area for name, row in rows.items() if name not in ("floor", "ceiling"))
    assert walls == pytest.approx(30.0 * 3.4)
    facing_y = sum(row.area * row.axis[1] for row in rows.values())
    assert facing_y == pytest.approx((8 + 3.4 + 4.6) * 3.4)


def test_a_wall_askew_is_shared_between_the_axes(rows_of: Callable[..., Any]) -> None:
    """Rectangle with one corner cut at 30° to its longest wall: sin² 30° = 1/4 faces x."""
    cut = 2.0
    rise = cut * math.tan(math.radians(30))
    _, rows = rows_of(
        {
            "space": {
                "outline": [[0, 0], [8, 0], [8, 4], [2, 4], [0, 4 - rise]],
                "walls": ["a", "b", "c", "slant", "e"],
            }
        }
    )
    assert rows["slant"].axis == pytest.approx((0.25, 0.75, 0.0))
    for row in rows.values():
        assert sum(row.axis) == pytest.approx(1.0)


def test_turning_the_whole_plan_turns_nothing_in_the_shares(rows_of: Callable[..., Any]) -> None:
    turn = math.radians(35)
    corners = [
        [x * math.cos(turn) - y * math.sin(turn), x * math.sin(turn) + y * math.cos(turn)]
        for x, y in [(0, 0), (6, 0), (6, 4.5), (0, 4.5)]
    ]
    seat = {"people": {"seats": {"s1": {"at": [0.2, 3.0]}}}}
    _, rows = rows_of({"space": {"outline": corners}, **seat})
    assert rows["south"].axis == pytest.approx((0, 1, 0))
    assert rows["east"].axis == pytest.approx((1, 0, 0))
    assert rows["north"].area == pytest.approx(16.2)


def test_people_chairs_and_table_tops_absorb_by_the_piece(
    room_of: Callable[..., Room], catalogue: Catalogue
) -> None:
    """Ten seats at 70 %: seven in suits, three chairs; 1 kHz 7·0.8 + 3·0.35 (DIN list) = 6.65 m².

    A table of 2 m² counts as a hard object of 3 cm: (2·0.03)^(2/3) = 0.153 m² (EN 12354-6).
    """
    seats = {f"s{i}": {"at": [0.5 + 0.5 * i, 1]} for i in range(10)}
    room = room_of(
        {
            "people": {
                "seats": seats,
                "standing": {"board": {"outline": [[1, 3], [2, 3], [2, 4], [1, 4]], "facing": 0}},
            },
            "furniture": {
                "table": {"kind": "table", "outline": [[2, 1.5], [4, 1.5], [4, 2.5], [2, 2.5]]}
            },
        }
    )
    taken = objects(room, catalogue, occupancy=0.7)
    people = {row.name: row.count * row.each[3] for row in taken if row.name != "table"}
    assert people == pytest.approx(
        {"people seated": 7 * 0.80, "empty chairs": 3 * 0.35, "people standing": 0.98}
    )
    (table,) = [row for row in taken if row.name == "table"]
    assert table.each == pytest.approx((0.06 ** (2 / 3),) * 7)
    bare = {row.name for row in objects(room, catalogue, occupancy=0.0)}
    assert bare == {"empty chairs", "table"}
