"""The outline of a room edited: right angles, names and what hangs on the walls."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

from wellheard.errors import DocumentError
from wellheard.room import codec
from wellheard.room.document import Room
from wellheard.room.operations import OperationError, apply

EXAMPLES = Path(__file__).parents[2] / "examples"
ELBOW = codec.load(EXAMPLES / "l-shape" / "l-shape.room.yaml").room
SNUG = codec.load(EXAMPLES / "huddle-four" / "huddle-four.room.yaml").room


def room_of(outline: list[list[float]], **more: Any) -> Room:
    """An empty room with one seat near its first corner."""
    (x, y), (x1, y1) = outline[0], outline[1]
    along = math.hypot(x1 - x, y1 - y)
    ux, uy = (x1 - x) / along, (y1 - y) / along
    seat = [x + 0.3 * ux - 0.3 * uy, y + 0.3 * uy + 0.3 * ux]
    return codec.from_data(
        {
            "wellheard": 1,
            "space": {"outline": outline, "height": 2.7, **more},
            "people": {"seats": {"s1": {"at": seat}}},
        }
    )


def lengths(room: Room) -> list[float]:
    corners = room.space.outline
    return [math.dist(a, b) for a, b in zip(corners, (*corners[1:], corners[0]), strict=True)]


def right_angles(room: Room) -> bool:
    corners = room.space.outline
    sides = [
        (b[0] - a[0], b[1] - a[1]) for a, b in zip(corners, (*corners[1:], corners[0]), strict=True)
    ]
    following = [*sides[1:], sides[0]]
    return all(abs(a[0] * b[0] + a[1] * b[1]) < 1e-6 for a, b in zip(sides, following, strict=True))


RECTANGLE: list[list[float]] = [[0, 0], [6, 0], [6, 4], [0, 4]]
ELL: list[list[float]] = [[0, 0], [8, 0], [8, 4.2], [4.6, 4.2], [4.6, 7], [0, 7]]


@settings(max_examples=60, deadline=None)
@given(
    outline=st.sampled_from([RECTANGLE, ELL]),
    wall=st.integers(0, 5),
    length=st.integers(500, 12_000).map(lambda mm: mm / 1000),
    turn=st.sampled_from([0.0, 90.0, 31.0]),
)
def test_a_wall_of_another_length_leaves_right_angles_right(
    outline: list[list[float]], wall: int, length: float, turn: float
) -> None:
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    room = room_of([[c * x - s * y, s * x + c * y] for x, y in outline])
    wall %= len(outline)
    try:
        done = apply(
            room, [{"do": "wall-length", "wall": wall, "typed": f"{length} m"}], unit="m"
        ).room
    except OperationError:
        # Only where the wall that takes up the difference has no length left, or crosses another.
        assert outline is ELL
        return
    assert lengths(done)[wall] == pytest.approx(length, abs=1e-6)
    assert right_angles(done)
    shape = Polygon(done.space.outline)  # shapely judges what we made
    assert shape.is_valid
    assert shape.exterior.is_ccw
    if outline is RECTANGLE:
        assert shape.area == pytest.approx(length * (4 if wall % 2 == 0 else 6), abs=1e-5)


# By hand, on squared paper: the elbow of 8.0 × 4.2 m with its leg of 4.6 m up to 7.0 m.
@pytest.mark.parametrize(
    ("wall", "typed", "unit", "outline"),
    [
        (0, "8.5", "m", [[0, 0], [8.5, 0], [8.5, 4.2], [5.1, 4.2], [5.1, 7], [0, 7]]),
        (1, "4.0 m", "ft", [[0, 0], [8, 0], [8, 4.0], [4.6, 4.0], [4.6, 6.8], [0, 6.8]]),
        (2, "3 m", "m", [[0, 0], [8, 0], [8, 4.2], [5.0, 4.2], [5.0, 7], [0, 7]]),
        (3, "3 m", "m", [[0, 0], [8, 0], [8, 4.2], [4.6, 4.2], [4.6, 7.2], [0, 7.2]]),
        (4, "4.8 m", "m", [[-0.2, 0], [8, 0], [8, 4.2], [4.6, 4.2], [4.6, 7], [-0.2, 7]]),
        (5, "23 ft", "m", [[0, -0.0104], [8, -0.0104], [8, 4.2], [4.6, 4.2], [4.6, 7], [0, 7]]),
    ],
)
def test_a_wall_grows_at_its_end_and_what_follows_shifts(
    wall: int, typed: str, unit: Any, outline: list[list[float]]
) -> None:
    room = room_of(ELL)
    done = apply(room, [{"do": "wall-length", "wall": wall, "typed": typed}], unit=unit).room
    for found, wanted in zip(done.space.outline, outline, strict=True):
        assert found == pytest.approx(tuple(wanted), abs=1e-9)


def test_a_wall_without_a_parallel_one_moves_its_end_alone() -> None:
    triangle = room_of([[0.0, 0.0], [4, 0], [0, 3]])
    done = apply(triangle, [{"do": "wall-length", "wall": 0, "typed": "5 m"}], unit="m").room
    assert done.space.outline == ((0, 0), (5, 0), (0, 3))


@pytest.mark.parametrize(
    "operation",
    [
        {"do": "corner-move", "corner": 0, "to": [9, 4]},  # over the far wall
        {"do": "corner-move", "corner": 0, "to": [6, 0]},  # onto its neighbour
        {"do": "move", "items": ["space.walls.0"], "by": [0, 4.5]},  # beyond the opposite one
        {"do": "move", "items": ["space.outline.1", "space.outline.2"], "by": [-6, 0]},
        {"do": "corner-add", "wall": 0, "at": [0.001, 0]},
        {"do": "wall-length", "wall": 5, "typed": "2 m"},  # the south wall through the leg
    ],
)
def test_an_outline_that_would_be_none_is_refused(operation: dict[str, Any]) -> None:
    room = room_of(ELL if operation["do"] == "wall-length" else RECTANGLE)
    with pytest.raises(OperationError) as error:
        apply(room, [operation], unit="m")
    assert error.value.where.startswith("space.")


def test_a_split_wall_hands_what_is_on_it_to_the_right_stretch() -> None:
    room = room_of(
        RECTANGLE,
        walls=["south", "east", "north", "west"],
        finishes={
            "walls": {"south": "glass-front", "east": "concrete"},
            "patches": {
                "door": {
                    "wall": "south",
                    "from": 0.5,
                    "to": 1.4,
                    "top": 2.1,
                    "finish": "wood-door",
                },
                "panel": {
                    "wall": "south",
                    "from": 4,
                    "to": 5.5,
                    "top": 2,
                    "finish": "fabric-panel",
                },
            },
        },
        isolation={"south": {"stc": 45}},
    )
    done = apply(room, [{"do": "corner-add", "wall": 0, "at": [3, 0.4]}], unit="m")
    space = done.room.space
    assert done.created == ("space.outline.1",)
    assert space.outline == ((0, 0), (3, 0), (6, 0), (6, 4), (0, 4))
    assert space.walls == ("south", "south-2", "east", "north", "west")
    assert space.wall_finish("south") == space.wall_finish("south-2") == "glass-front"
    assert space.isolation["south-2"].stc == 45
    door = space.finishes.wall_patches["door"]
    assert (door.wall, door.from_) == ("south", 0.5)
    panel = space.finishes.wall_patches["panel"]
    assert (panel.wall, panel.from_, panel.to) == ("south-2", 1.0, 2.5)
    with pytest.raises(OperationError, match="panel lies across that point"):
        apply(room, [{"do": "corner-add", "wall": 0, "at": [4.5, 0]}], unit="m")


def test_a_split_taken_back_is_the_same_room() -> None:
    for wall in range(6):
        start, end = ELBOW.space.wall_ends(ELBOW.space.walls[wall])
        at = [start[0] * 0.95 + end[0] * 0.05, start[1] * 0.95 + end[1] * 0.05]
        split = apply(ELBOW, [{"do": "corner-add", "wall": wall, "at": at}], unit="m").room
        assert len(split.space.outline) == 7
        back = apply(split, [{"do": "corner-remove", "corner": wall + 1}], unit="m").room
        assert back.space.walls == ELBOW.space.walls
        assert codec.parse(codec.dump(back)) == back
        assert Polygon(back.space.outline).area == pytest.approx(
            Polygon(ELBOW.space.outline).area, abs=1e-6
        )
        for key, patch in ELBOW.space.finishes.wall_patches.items():
            after = back.space.finishes.wall_patches[key]
            assert after.wall == patch.wall
            assert after.from_ == pytest.approx(patch.from_, abs=2e-4)


def test_a_window_stays_where_it_is_when_a_corner_of_its_wall_moves() -> None:
    room = room_of(
        RECTANGLE,
        finishes={
            "patches": {"w": {"wall": "w0", "from": 4, "to": 5, "top": 2, "finish": "blinds"}}
        },
    )
    longer = apply(room, [{"do": "corner-move", "corner": 0, "to": [-1, 0]}], unit="m").room
    patch = longer.space.finishes.wall_patches["w"]
    assert (patch.from_, patch.to) == (5.0, 6.0)
    shorter = apply(room, [{"do": "corner-move", "corner": 1, "to": [4.5, 0]}], unit="m").room
    patch = shorter.space.finishes.wall_patches["w"]
    assert (patch.from_, patch.to) == (3.5, 4.5)  # as near as the wall allows
    with pytest.raises(OperationError, match=r"1\.00 m wide and the wall would be 0\.50 m long"):
        apply(room, [{"do": "corner-move", "corner": 1, "to": [0.5, 0]}], unit="m")


def test_a_wall_that_moves_as_a_whole_takes_its_window_along() -> None:
    done = apply(SNUG, [{"do": "move", "items": ["space.walls.2"], "by": [0, 0.4]}], unit="m").room
    assert done.space.outline == ((0, 0), (3.6, 0), (3.6, 3.4), (0, 3.4))
    assert done.space.finishes.patches == SNUG.space.finishes.patches
    # The west wall starts at the corner that moved: its picture is 1.5 m from the other one.
    picture = done.furniture["picture"]
    assert picture.kind == "display"
    assert picture.centre == (1.9, 1.35)


def test_a_renamed_wall_is_renamed_wherever_it_is_named() -> None:
    done = apply(SNUG, [{"path": "space.walls.3", "typed": "screen-wall"}], unit="m").room
    assert done.space.walls[3] == "screen-wall"
    assert done.space.wall_finish("screen-wall") == SNUG.space.wall_finish("west")
    assert codec.parse(codec.dump(done)) == done
    for taken in ("south", "Not An Id", ""):
        with pytest.raises(OperationError):
            apply(SNUG, [{"path": "space.walls.3", "set": taken}], unit="m")


def test_a_triangle_keeps_its_corners() -> None:
    triangle = room_of([[0, 0], [4, 0], [0, 3]])
    with pytest.raises(OperationError, match="three corners"):
        apply(triangle, [{"do": "corner-remove", "corner": 1}], unit="m")


@settings(max_examples=80, deadline=None)
@given(
    st.lists(
        st.one_of(
            st.tuples(st.integers(0, 6), st.tuples(st.floats(-2, 9), st.floats(-2, 9))).map(
                lambda one: {"do": "corner-move", "corner": one[0], "to": list(one[1])}
            ),
            st.tuples(st.integers(0, 6), st.tuples(st.floats(-2, 9), st.floats(-2, 9))).map(
                lambda one: {"do": "corner-add", "wall": one[0], "at": list(one[1])}
            ),
            st.integers(0, 6).map(lambda one: {"do": "corner-remove", "corner": one}),
            st.tuples(st.integers(0, 6), st.floats(0.1, 12)).map(
                lambda one: {"do": "wall-length", "wall": one[0], "typed": f"{one[1]:.3f} m"}
            ),
        ),
        min_size=1,
        max_size=4,
    )
)
def test_an_outline_stays_simple_and_counter_clockwise(operations: list[dict[str, Any]]) -> None:
    try:
        done = apply(ELBOW, operations, unit="m").room
    except OperationError:
        return
    shape = Polygon(done.space.outline)
    assert shape.is_valid
    assert shape.exterior.is_ccw
    assert len(done.space.walls) == len(done.space.outline) == len(set(done.space.walls))
    try:
        assert codec.parse(codec.dump(done)) == done
    except DocumentError as error:
        # What stands in the room may be outside it now; what is on its walls is on them.
        for problem in error.problems:
            assert problem.path.split(".")[0] in ("people", "noise", "overhead", "equipment") or (
                problem.path.startswith("furniture.table")
            ), problem
