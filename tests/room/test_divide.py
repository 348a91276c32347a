"""A room that divides, as the rooms that it divides into: by hand, and by what must stay true."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely

from wellheard.geometry import polygon_area
from wellheard.room import Room, codec
from wellheard.room.consistency import contradictions
from wellheard.room.divide import Part, parts
from wellheard.room.furniture import Display, Screen, Table

BOX: list[list[float]] = [[0, 0], [8, 0], [8, 5], [0, 5]]
L_SHAPE: list[list[float]] = [[0, 0], [8, 0], [8, 4], [3, 4], [3, 7], [0, 7]]


def room(outline: list[list[float]] | None = None, **extra: Any) -> Room:
    space = {
        "outline": outline or BOX,
        "walls": ["south", "east", "north", "west"] if outline is None else None,
        "height": 3,
        **extra.pop("space", {}),
    }
    people = extra.pop("people", {"seats": {"s1": {"at": [1, 1]}, "s2": {"at": [7, 1]}}})
    return codec.from_data(
        {
            "wellheard": 1,
            "space": {k: v for k, v in space.items() if v is not None},
            "people": people,
            "partitions": {"fold": {"from": [3, 0], "to": [3, 5], "finish": "wood-panel"}},
            "arrangements": {"joined": {"open": ["fold"]}, "split": {"closed": ["fold"]}},
            **extra,
        }
    )


def by_name(made: Room) -> dict[str, Part]:
    return {part.name: part for part in parts(made)}


def area(made: Room) -> float:
    return polygon_area(np.array(made.space.outline))


def test_a_room_without_arrangements_is_its_only_part() -> None:
    plain = room(partitions={}, arrangements={})
    assert parts(plain) == (Part("", "", "", plain),)
    with_a_fold = room(arrangements={})
    assert parts(with_a_fold) == (Part("", "", "", with_a_fold),)


def test_parts_are_named_by_arrangement_and_by_space() -> None:
    assert [(p.name, p.arrangement, p.cell) for p in parts(room())] == [
        ("joined", "joined", ""),
        ("split.a", "split", "a"),
        ("split.b", "split", "b"),
    ]


def test_an_open_partition_is_not_there() -> None:
    joined = by_name(room())["joined"].room
    assert joined == room(partitions={}, arrangements={})


def test_walls_keep_their_names_and_the_partition_is_one_by_its_id() -> None:
    found = by_name(room())
    assert found["split.a"].room.space.outline == ((0, 0), (3, 0), (3, 5), (0, 5))
    assert found["split.a"].room.space.walls == ("south", "fold", "north", "west")
    assert found["split.b"].room.space.outline == ((3, 0), (8, 0), (8, 5), (3, 5))
    assert found["split.b"].room.space.walls == ("south", "east", "north", "fold")


def test_each_wall_has_the_finish_it_had_and_the_partition_its_own() -> None:
    finishes = {"walls": {"south": "concrete", "east": "glass-front"}}
    split = by_name(room(space={"finishes": finishes}))["split.b"].room.space
    assert [split.wall_finish(wall) for wall in split.walls] == [
        "concrete",
        "glass-front",
        "plasterboard",
        "wood-panel",
    ]
    one = by_name(room(space={"finishes": {"walls": "concrete"}}))["split.a"].room.space
    assert [one.wall_finish(wall) for wall in one.walls] == [
        "concrete",
        "wood-panel",
        "concrete",
        "concrete",
    ]


def test_a_partition_keeps_from_the_space_beside_it_what_its_class_says() -> None:
    made = room(
        space={"isolation": {"south": {"stc": 40, "outside": {"nc": 35}}}},
        noise={"background": {"nc": 27}},
        partitions={"fold": {"from": [3, 0], "to": [3, 5], "stc": 48}},
    )
    split = by_name(made)["split.b"].room.space.isolation
    assert {k: (w.stc, w.outside and w.outside.nc) for k, w in split.items()} == {
        "south": (40, 35),
        "fold": (48, 27),
    }


def test_a_background_that_nobody_told_hides_nothing_behind_a_partition() -> None:
    fold = {"fold": {"from": [3, 0], "to": [3, 5], "stc": 48}}
    one = by_name(room(partitions=fold))["split.a"].room.space.isolation["fold"]
    assert (one.stc, one.outside) == (48, None)


def test_a_patch_is_counted_from_its_own_piece_of_the_wall_and_cut_where_a_partition_meets_it() -> (
    None
):
    window = {"bottom": 1, "top": 2, "finish": "double-glazing"}
    patches = {
        "left": {"wall": "south", "from": 0.5, "to": 1.5, **window},
        "across": {"wall": "north", "from": 4, "to": 7, **window},
        "right": {"wall": "south", "from": 4, "to": 6, **window},
    }
    found = by_name(room(space={"finishes": {"patches": patches}}))
    a = found["split.a"].room.space.finishes.wall_patches
    b = found["split.b"].room.space.finishes.wall_patches
    # North runs from x = 8 to x = 0, so the cut at x = 3 is 5 m along it.
    assert {k: (p.wall, p.from_, p.to) for k, p in a.items()} == {
        "left": ("south", 0.5, 1.5),
        "across": ("north", 0.0, 2.0),
    }
    assert {k: (p.wall, p.from_, p.to) for k, p in b.items()} == {
        "across": ("north", 4.0, 5.0),
        "right": ("south", 1.0, 3.0),
    }


def test_a_picture_is_counted_from_its_own_piece_of_the_wall() -> None:
    furniture = {
        "east": {"kind": "display", "wall": "east", "centre": [2, 1.5], "size": [1, 0.6]},
        "south": {"kind": "screen", "wall": "south", "centre": [6, 1.5], "size": [1, 0.6]},
    }
    found = by_name(room(furniture=furniture))
    assert found["split.a"].room.furniture == {}
    b = found["split.b"].room
    pictures = {k: f for k, f in b.furniture.items() if isinstance(f, Display | Screen)}
    assert {k: (f.wall, f.centre) for k, f in pictures.items()} == {
        "east": ("east", (2.0, 1.5)),
        "south": ("south", (3.0, 1.5)),
    }


def test_what_lies_flat_is_cut_and_what_reaches_over_by_less_than_a_millimetre_is_not() -> None:
    made = room(
        furniture={
            "across": {"kind": "table", "outline": [[2, 2], [5, 2], [5, 3], [2, 3]]},
            "beside": {"kind": "table", "outline": [[1, 1], [3.0005, 1], [3.0005, 2], [1, 2]]},
        },
        overhead={"lamp": {"outline": [[1, 4], [7, 4], [7, 4.2], [1, 4.2]], "clearance": 0.1}},
        people={
            "seats": {"s1": {"at": [1, 1]}},
            "standing": {"stage": {"outline": [[2, 0.5], [4, 0.5], [4, 1.5], [2, 1.5]]}},
        },
    )
    found = by_name(made)
    a, b = found["split.a"].room, found["split.b"].room
    assert list(a.furniture) == ["across", "beside"]
    assert list(b.furniture) == ["across"]
    table = b.furniture["across"]
    assert isinstance(table, Table)
    assert shapely.Polygon(table.outline).equals(shapely.box(3, 2, 5, 3))
    assert shapely.Polygon(b.overhead["lamp"].outline).equals(shapely.box(3, 4, 7, 4.2))
    assert shapely.Polygon(a.people.standing["stage"].outline).equals(shapely.box(2, 0.5, 3, 1.5))
    # Nobody sits in the east, but somebody may stand there.
    assert list(b.people.seats) == []
    assert list(b.people.standing) == ["stage"]


def test_a_space_without_people_is_no_part_and_a_lone_one_has_no_letter() -> None:
    made = room(people={"seats": {"s1": {"at": [7, 1]}}})
    assert [p.name for p in parts(made)] == ["joined", "split"]
    assert by_name(made)["split"].room.space.outline[0] == (3, 0)


def test_electronics_serve_every_space_and_what_hears_or_is_heard_its_own() -> None:
    made = room(
        equipment={"rack": {"kind": "rack", "at": [0.3, 0.3, 0.5]}},
        devices={
            "m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [1.5, 2.5, 3]},
            "m2": {"kind": "microphone", "product": "ceiling-head-3", "at": [5.5, 2.5, 3]},
            "mixer": {"kind": "processor", "product": "processor-12", "equipment": "rack"},
            "speaker": {"kind": "loudspeaker", "product": "x", "at": [7, 4, 3]},
        },
        links={
            "l1": {"from": "m1.link", "to": "mixer.mic-1"},
            "l2": {"from": "m2.link", "to": "mixer.mic-2"},
        },
        noise={
            "sources": {
                "vent": {"kind": "air-outlet", "at": [1, 1, 3], "dba_at_1m": 30},
                "between": {"kind": "air-outlet", "at": [3, 1, 3], "dba_at_1m": 30},
            }
        },
        basis={"devices.m2.at": "drawing", "links.l1": "told", "space.height": "measured"},
    )
    a, b = (by_name(made)[name].room for name in ("split.a", "split.b"))
    assert list(a.devices) == ["m1", "mixer"]
    assert list(b.devices) == ["m2", "mixer", "speaker"]
    assert list(a.equipment) == list(b.equipment) == ["rack"]
    assert (list(a.links), list(b.links)) == (["l1"], ["l2"])
    # A source that a closed partition passes under or over is heard on both sides.
    assert (list(a.noise.sources), list(b.noise.sources)) == (["vent", "between"], ["between"])
    assert set(a.basis) == {"links.l1", "space.height"}
    assert set(b.basis) == {"devices.m2.at", "space.height"}


def test_measured_decay_times_hold_for_the_undivided_room_only() -> None:
    measured = dict.fromkeys((125, 250, 500, 1000, 2000, 4000, 8000), 0.5)
    found = by_name(room(space={"measured_reverberation": measured}))
    assert found["joined"].room.space.measured_reverberation is not None
    assert found["split.a"].room.space.measured_reverberation is None
    assert found["split.b"].room.space.measured_reverberation is None


def test_two_pieces_of_one_wall_in_one_space_have_two_names() -> None:
    made = room(
        partitions={
            "a": {"from": [2, 0], "to": [2, 2]},
            "b": {"from": [2, 2], "to": [5, 2]},
            "c": {"from": [5, 2], "to": [5, 0]},
        },
        arrangements={"booth": {"closed": ["a", "b", "c"]}},
        people={"seats": {"in": {"at": [3, 1]}, "out": {"at": [7, 4]}}},
        space={
            "finishes": {
                "walls": {"south": "concrete"},
                "patches": {
                    "w": {
                        "wall": "south",
                        "from": 1,
                        "to": 7,
                        "bottom": 1,
                        "top": 2,
                        "finish": "glass-front",
                    }
                },
            }
        },
    )
    outer, inner = parts(made)
    assert outer.room.space.walls == ("south", "a", "b", "c", "south-2", "east", "north", "west")
    assert outer.room.space.wall_finish("south-2") == "concrete"
    cut = outer.room.space.finishes.wall_patches
    assert {k: (p.wall, p.from_, p.to) for k, p in cut.items()} == {
        "w": ("south", 1.0, 2.0),
        "w-2": ("south-2", 0.0, 2.0),
    }
    assert inner.room.space.walls == ("south", "c", "b", "a")
    assert inner.room.space.finishes.wall_patches["w"].to == 3.0


SHAPES: list[tuple[list[list[float]], dict[str, Any]]] = [
    (BOX, {"f": {"from": [3, 0], "to": [3, 5]}}),
    (BOX, {"f": {"from": [3, 0], "to": [5, 5]}, "g": {"from": [0, 2], "to": [8, 3]}}),
    (BOX, {"f": {"from": [3, 0], "to": [3, 5]}, "g": {"from": [3, 2], "to": [8, 2]}}),
    (L_SHAPE, {"f": {"from": [3, 4], "to": [0, 4]}}),
    (L_SHAPE, {"f": {"from": [3, 4], "to": [3, 0]}, "g": {"from": [3, 4], "to": [0, 4]}}),
]


@pytest.mark.parametrize(("outline", "partitions"), SHAPES)
def test_areas_add_up_nobody_is_lost_and_every_part_is_a_sound_document(
    outline: list[list[float]], partitions: dict[str, Any]
) -> None:
    polygon = shapely.Polygon(outline)
    xs, ys = np.meshgrid(np.arange(0.25, 8, 0.5), np.arange(0.25, 7, 0.5))
    inside = [
        p for p in zip(xs.ravel(), ys.ravel(), strict=True) if polygon.contains(shapely.Point(p))
    ]
    lines = [shapely.LineString([p["from"], p["to"]]) for p in partitions.values()]
    clear = [p for p in inside if min(line.distance(shapely.Point(p)) for line in lines) > 0.01]
    seats = {f"s{i}": {"at": [float(x), float(y)]} for i, (x, y) in enumerate(clear)}
    made = room(
        outline,
        people={"seats": seats},
        partitions=partitions,
        arrangements={"split": {"closed": list(partitions)}},
    )
    found = [part.room for part in parts(made)]
    assert sum(area(one) for one in found) == pytest.approx(polygon.area, rel=1e-12)
    assert all(area(one) > 0 for one in found)
    assert sorted(k for one in found for k in one.people.seats) == sorted(seats)
    for one in found:
        assert list(contradictions(one)) == []
        for seat in one.people.seats.values():
            assert shapely.Polygon(one.space.outline).contains(shapely.Point(seat.at))
