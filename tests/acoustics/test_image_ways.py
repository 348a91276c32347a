"""Images in plans of any shape against pyroomacoustics, the lattice of a box, and mirrors."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import pyroomacoustics as pra
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from pyroomacoustics.room import wall_factory
from scipy.spatial import cKDTree

from tests.effort import rooms
from wellheard.acoustics.enclosure import Enclosure, Patch, box
from wellheard.acoustics.image_ways import Arrival, arrivals
from wellheard.arrays import Array
from wellheard.geometry.sight import clear_line

ALPHA = 0.2

T_SHAPE = [[0, 4], [0, 0], [9, 0], [9, 4], [6, 4], [6, 9], [3, 9], [3, 4]]
U_SHAPE = [[0, 0], [9, 0], [9, 7], [6.5, 7], [6.5, 3], [2.5, 3], [2.5, 7], [0, 7]]
OBLIQUE = [[0, 0], [8, 1], [9.5, 6], [5, 4.5], [4, 8], [-1, 6]]
COLUMNS = [[[3, 2], [4, 2.2], [3.9, 3.1], [3, 3]], [[6, 4], [6.6, 4], [6.6, 4.5]]]


def _room(outline: Any, height: float, columns: Any = (), patches: tuple[Patch, ...] = ()) -> Any:
    count = 2 + len(outline) + sum(len(column) for column in columns) + len(patches)
    return Enclosure(
        outline=np.array(outline, dtype=float),
        columns=tuple(np.array(column, dtype=float) for column in columns),
        height=height,
        names=tuple(f"surface {i}" for i in range(count)),
        absorption=np.full((count, 7), ALPHA),
        scattering=np.zeros(count),
        patches=patches,
    )


def _points(room: Enclosure, count: int, seed: int) -> Array:
    free = shapely.Polygon(room.outline, [c.tolist() for c in room.columns]).buffer(-0.15)
    rng = np.random.default_rng(seed)
    low, high = room.outline.min(axis=0), room.outline.max(axis=0)
    found = rng.uniform(low, high, (200 * count, 2))
    found = found[shapely.contains_xy(free, found)][:count]
    assert len(found) == count
    return np.column_stack([found, rng.uniform(0.3, room.height - 0.3, count)])


def _theirs(room: Enclosure, source: Array, receiver: Array, most: int) -> tuple[Array, Array]:
    """Images that the receiver sees, and their orders, by pyroomacoustics."""
    height = room.height
    sides = [
        np.array([[x0, x1, x1, x0], [y0, y1, y1, y0], [0, 0, height, height]])
        for x0, y0, x1, y1 in room.walls
    ]
    ring = room.outline
    sides.append(np.vstack([ring[::-1].T, np.zeros(len(ring))]))
    sides.append(np.vstack([ring.T, np.full(len(ring), height)]))
    walls = [
        wall_factory(side, np.array([ALPHA]), np.zeros(1), str(i)) for i, side in enumerate(sides)
    ]
    theirs = pra.Room(walls, fs=16000, max_order=most)
    theirs.add_source(source)
    theirs.add_microphone(receiver)
    theirs.image_source_model()
    seen = theirs.visibility[0][0].astype(bool)
    return theirs.sources[0].images.T[seen], theirs.sources[0].orders[seen]


def _assert_same_images(room: Enclosure, source: Array, receiver: Array, most: int) -> None:
    theirs, orders = _theirs(room, source, receiver, most)
    # All of them, but where some are far: up to a gap between two, for theirs are less exact.
    distance = np.sort(np.linalg.norm(theirs - receiver, axis=1))
    distance = distance[: np.searchsorted(distance, 25.0) + 1]
    gap_after = len(distance) - 1 - int(np.argmax(np.diff(distance)[::-1] > 0.01))
    limit = float(distance[gap_after - 1 : gap_after + 1].mean())
    near = np.linalg.norm(theirs - receiver, axis=1) < limit
    theirs, orders = theirs[near], orders[near]
    assert (orders == most).sum() > 3
    found = arrivals(room, source, receiver, limit_path=limit)
    assert found.complete_to == limit
    ours = [way for way in found.found if way.order <= most]
    assert sorted(way.order for way in ours) == sorted(orders.tolist())
    images = np.array([way.image for way in ours])
    gap, match = cKDTree(theirs).query(images)
    assert gap.max() < 1e-3  # theirs are in single precision
    assert cKDTree(images).query(theirs)[0].max() < 1e-3
    assert [way.order for way in ours] == orders[match].tolist()


@pytest.mark.parametrize("seed", range(rooms(20, thorough=60)))
def test_an_l_shaped_room_has_the_images_that_another_simulator_finds(seed: int) -> None:
    rng = np.random.default_rng(seed)
    length, width, height = rng.uniform([5.0, 5.0, 2.4], [12.0, 12.0, 4.0])
    a, b = rng.uniform(0.3, 0.7, 2) * [length, width]
    outline = [[0, 0], [length, 0], [length, b], [a, b], [a, width], [0, width]]
    room = _room(outline, height)
    source, receiver = _points(room, 2, seed)
    _assert_same_images(room, source, receiver, most=4)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize(
    ("outline", "columns", "most"),
    [
        (T_SHAPE, [], 4),
        (U_SHAPE, [], 4),
        (OBLIQUE, [], 4),
        ([[0, 0], [8, 0], [8, 6], [0, 6]], COLUMNS, 3),
        (OBLIQUE, [[[2, 3], [3, 3], [2.5, 4]]], 3),
    ],
)
def test_other_plans_have_the_images_that_another_simulator_finds(
    outline: Any, columns: Any, most: int, seed: int
) -> None:
    room = _room(outline, 2.9, columns)
    source, receiver = _points(room, 2, seed)
    _assert_same_images(room, source, receiver, most=most)


def _lattice(size: Array, source: Array, receiver: Array, reach: float) -> Array:
    """Images of Allen and Berkley (1979): ±x + 2nL along each axis."""
    most = int(reach / size.min()) + 2
    n = 2 * np.arange(-most, most + 1)[:, None]
    axes = [
        np.concatenate([n * length + at, n * length - at]).ravel()
        for length, at in zip(size, source, strict=True)
    ]
    images = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    return images[np.linalg.norm(images - receiver, axis=1) <= reach]


@pytest.mark.parametrize(
    ("source", "receiver"),
    [
        ([1.3, 2.1, 1.2], [4.7, 3.3, 1.6]),
        ([1.0, 1.0, 1.2], [2.0, 2.0, 1.2]),  # on the diagonal of a square: ways through corners
        ([2.0, 2.0, 1.0], [3.0, 3.0, 2.0]),  # on its middle
        ([2.0, 2.0, 1.0], [2.0, 2.0, 1.0]),  # in one place
    ],
)
@pytest.mark.parametrize("size", [[6.0, 5.0, 3.0], [4.0, 4.0, 3.0]])
def test_a_rectangle_has_the_lattice_of_a_box(
    size: list[float], source: list[float], receiver: list[float]
) -> None:
    if max(source[0], receiver[0]) > size[0]:
        return
    here = np.array(receiver)
    expected = _lattice(np.array(size), np.array(source), here, 20.05)
    room = box((size[0], size[1], size[2]), absorption=np.full(6, ALPHA))
    found = arrivals(room, np.array(source), here, limit_path=20.05).found
    # As sets with counts: a way through a corner is one.
    lengths = np.sort(np.linalg.norm(expected - here, axis=1))
    assert len(found) == len(expected)
    assert np.array([way.length for way in found]) == pytest.approx(lengths, abs=1e-6)
    assert cKDTree(np.array([way.image for way in found])).query(expected)[0].max() < 1e-6
    for way in found:
        assert way.energy == pytest.approx((1 - ALPHA) ** way.order)


def _assert_is_a_way(room: Enclosure, way: Arrival, source: Array, receiver: Array) -> None:
    """Its legs add up, touch what they say, are free, and turn as light does."""
    stops = np.vstack([source, way.points, receiver])
    legs = np.diff(stops, axis=0)
    assert np.linalg.norm(legs, axis=1).sum() == pytest.approx(way.length, abs=1e-5)
    ways = legs / np.maximum(np.linalg.norm(legs, axis=1), 1e-12)[:, None]
    assert way.departure == pytest.approx(ways[0], abs=1e-5)
    assert way.arrival == pytest.approx(-ways[-1], abs=1e-5)
    assert receiver + way.length * way.arrival == pytest.approx(way.image, abs=1e-5)
    for surface, point, before, after in zip(
        way.surfaces, way.points, ways[:-1], ways[1:], strict=True
    ):
        if surface < 2:
            assert point[2] == pytest.approx(surface * room.height)
            normal = np.array([0.0, 0.0, 1.0])
        else:
            x0, y0, x1, y1 = room.walls[surface - 2]
            normal = np.array([y0 - y1, x1 - x0, 0.0]) / np.hypot(x1 - x0, y1 - y0)
            assert (point[:2] - [x0, y0]) @ normal[:2] == pytest.approx(0.0, abs=1e-6)
            assert before @ normal < 0 < after @ normal
        assert after == pytest.approx(before - 2 * (before @ normal) * normal, abs=1e-5)
    for a, b in pairwise(stops[:, :2]):
        assert clear_line(room.walls, a, b)


@pytest.mark.parametrize(
    ("outline", "columns"),
    [(T_SHAPE, []), (OBLIQUE, []), ([[0, 0], [8, 0], [8, 6], [0, 6]], COLUMNS)],
)
def test_every_way_turns_at_its_surfaces_as_light_does(outline: Any, columns: Any) -> None:
    room = _room(outline, 2.7, columns)
    source, receiver = _points(room, 2, 5)
    found = arrivals(room, source, receiver, limit_path=16.0).found
    assert len(found) > 100
    for way in found:
        _assert_is_a_way(room, way, source, receiver)


def _same_both_ways(room: Enclosure, a: Array, b: Array, reach: float) -> int:
    there = arrivals(room, a, b, limit_path=reach)
    back = arrivals(room, b, a, limit_path=reach)
    limit = min(there.complete_to, back.complete_to) - 1e-6

    def signature(ways: tuple[Arrival, ...], turned: bool) -> Any:
        return sorted(
            (way.surfaces[::-1] if turned else way.surfaces, round(way.length, 5))
            for way in ways
            if way.length < limit
        )

    assert signature(there.found, False) == signature(back.found, True)
    pairs = {way.surfaces: way for way in there.found}
    for way in back.found:
        if way.length < limit:
            twin = pairs[way.surfaces[::-1]]
            assert way.departure == pytest.approx(twin.arrival, abs=1e-6)
            assert way.energy == pytest.approx(twin.energy)
    return len(there.found)


@pytest.mark.parametrize("outline", [T_SHAPE, U_SHAPE, OBLIQUE])
def test_both_ends_have_the_same_ways(outline: Any) -> None:
    room = _room(outline, 3.1)
    a, b = _points(room, 2, 11)
    assert _same_both_ways(room, a, b, 30.0) > 50


def _star(rng: np.random.Generator, corners: int) -> Array:
    turn = (np.arange(corners) + rng.uniform(-0.3, 0.3, corners)) * 2 * np.pi / corners
    reach = rng.uniform(1.5, 6.0, corners)
    return np.stack([reach * np.cos(turn), reach * np.sin(turn)], axis=1)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 100_000), st.integers(4, 11))
def test_any_plan_gives_finite_ways_that_are_the_same_from_both_ends(
    seed: int, corners: int
) -> None:
    rng = np.random.default_rng(seed)
    outline = _star(rng, corners)
    room = _room(outline, 3.0)
    ends = outline[rng.integers(0, corners, 2)] * rng.uniform(0.0, 0.9, (2, 1))
    a, b = np.column_stack([ends, rng.uniform(0.0, 3.0, 2)])
    _same_both_ways(room, a, b, 12.0)
    for way in arrivals(room, a, b, limit_path=12.0).found:
        parts = (way.points, way.image, way.energy, way.departure, way.arrival)
        assert all(np.isfinite(part).all() for part in parts)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 100_000), st.integers(4, 8))
def test_no_plan_loses_a_first_or_second_reflection(seed: int, corners: int) -> None:
    # Every pair of walls tried, legs checked for sight: Borish (1984) without a tree.
    rng = np.random.default_rng(seed)
    outline = _star(rng, corners)
    room = _room(outline, 100.0)  # floor and ceiling far away
    ends = outline[rng.integers(0, corners, 2)] * rng.uniform(0.05, 0.9, (2, 1))
    a, b = np.column_stack([ends, [50.0, 50.0]])
    expected = {
        walls
        for first in range(corners)
        for walls in [(first,), *((first, second) for second in range(corners))]
        if _is_seen(room.walls, a[:2], b[:2], walls)
    }
    found = arrivals(room, a, b, limit_path=40.0).found
    ours = {tuple(s - 2 for s in way.surfaces) for way in found if min(way.surfaces, default=0) > 1}
    assert {walls for walls in ours if len(walls) <= 2} == expected


def _is_seen(walls: Array, source: Array, here: Array, sequence: tuple[int, ...]) -> bool:
    images = [source]
    for wall in sequence:
        start, along = walls[wall, :2], walls[wall, 2:] - walls[wall, :2]
        normal = np.array([-along[1], along[0]]) / np.hypot(*along)
        height = normal @ (images[-1] - start)
        if height <= 1e-9:
            return False
        images.append(images[-1] - 2 * height * normal)
    for wall, image in zip(sequence[::-1], images[:0:-1], strict=True):
        start, along = walls[wall, :2] - here, walls[wall, 2:] - walls[wall, :2]
        way = image - here
        across = _cross(way, along)
        if across == 0.0 or not 0.0 < _cross(start, way) / across < 1.0:
            return False
        share = _cross(start, along) / across
        if not 0.0 < share < 1.0 or not clear_line(walls, here, here + share * way):
            return False
        here = here + share * way
    return bool(clear_line(walls, here, source))


def _cross(u: Array, v: Array) -> float:
    return float(u[0] * v[1] - u[1] * v[0])


def test_a_way_by_one_wall_meets_the_patch_that_is_there() -> None:
    patch = Patch(wall=0, start=2.0, end=4.0, bottom=1.0, top=2.0, surface=6)
    plain = _room([[0, 0], [6, 0], [6, 5], [0, 5]], 3.0, patches=(patch,))
    absorption = plain.absorption.copy()
    absorption[6] = 0.9
    room = Enclosure(**{**vars(plain), "absorption": absorption})
    # Half-way between the two at x = 3, y = 0, 1.5 m high: on it. At x = 1.5: beside it.
    on, beside = np.array([2.0, 2.0, 1.5]), np.array([0.5, 2.0, 1.5])
    first = {
        way.surfaces: way.energy[0]
        for start, end in ((on, [4.0, 2.0, 1.5]), (beside, [2.5, 2.0, 1.5]))
        for way in arrivals(room, start, np.array(end), limit_path=5.0).found
        if way.order == 1 and way.surfaces[0] in (2, 6)
    }
    assert first == pytest.approx({(6,): 0.1, (2,): 0.8})
    # By wall and floor the wall counts in the mean: 2 of 18 m² at 0.9, the rest at 0.2.
    mean = 1 - (0.2 * 16 + 0.9 * 2) / 18
    low = [w for w in arrivals(room, on, on, limit_path=9.0).found if set(w.surfaces) == {0, 2}]
    assert low[0].energy[0] == pytest.approx(mean * 0.8)


def test_a_wall_in_two_pieces_is_a_wall() -> None:
    whole = _room([[0, 0], [7, 0], [7, 5], [0, 5]], 3.0)
    split = _room([[0, 0], [3, 0], [4.5, 0], [7, 0], [7, 5], [3, 5], [0, 5]], 3.0)
    a, b = np.array([2.0, 1.5, 1.2]), np.array([4.0, 1.5, 1.2])  # meets the joint at x = 3
    one = np.array([way.image for way in arrivals(whole, a, b, limit_path=22.0).found])
    other = np.array([way.image for way in arrivals(split, a, b, limit_path=22.0).found])
    assert len(one) == len(other)
    assert cKDTree(one).query(other)[0].max() < 1e-6


def test_rooms_that_share_a_wall_of_no_thickness_do_not_hear_each_other() -> None:
    # One outline that touches itself: two squares, joined by a passage at y < 1 only.
    outline = [[0, 0], [8, 0], [8, 4], [4, 4], [4, 1], [4, 4], [0, 4]]
    room = _room(outline, 3.0)
    a, b = np.array([1.0, 2.8, 1.2]), np.array([7.0, 3.1, 1.7])
    found = arrivals(room, a, b, limit_path=15.0).found
    assert found
    assert all(way.order > 0 for way in found)
    for way in found:
        _assert_is_a_way(room, way, a, b)


@pytest.mark.parametrize(
    ("place", "count"),
    [
        ([3.0, 0.0], 2),
        ([3.0, 1e-7], 2),
        ([5.0, 6.0], 2),
        ([8.0, 4.0], 4),  # corners of 90°
        ([0.0, 0.0], 4),
        ([5.0, 4.0], 1),  # reaches into the room: no wall is behind it
    ],
)
def test_a_source_on_a_wall_has_its_image_where_it_is(place: list[float], count: int) -> None:
    room = _room([[0, 0], [8, 0], [8, 4], [5, 4], [5, 9], [0, 9]], 3.0)
    source, receiver = np.array([*place, 1.0]), np.array([2.0, 2.0, 1.5])
    found = arrivals(room, source, receiver, limit_path=25.0).found
    straight = found[0].length
    same = [way for way in found if abs(way.length - straight) < 1e-3 and way.order <= 2]
    assert len(same) == count
    back = arrivals(room, receiver, source, limit_path=25.0).found
    assert [w.length for w in back] == pytest.approx([w.length for w in found], abs=1e-6)


@pytest.mark.parametrize("kind", ["round", "star", "hall"])
def test_two_hundred_walls_end_in_a_tree_that_says_how_far_it_goes(kind: str) -> None:
    turn = np.arange(200) / 200 * 2 * np.pi
    reach = {
        "round": np.full(200, 5.0),
        "star": np.where(np.arange(200) % 2, 5.0, 3.0),
        "hall": np.where(np.arange(200) % 2, 150.0, 148.0),
    }[kind]
    room = _room(np.stack([reach * np.cos(turn), reach * np.sin(turn)], axis=1), 3.0)
    a, b = np.array([0.5, 0.2, 1.2]), np.array([-1.5, 1.0, 1.5])
    far = arrivals(room, a, b, limit_path=310.0 if kind == "hall" else 22.0)
    assert far.complete_to > 10.0
    # Up to where it is complete it has what a shorter search finds.
    near = arrivals(room, a, b, limit_path=far.complete_to - 1e-3)
    assert near.complete_to == pytest.approx(far.complete_to, abs=2e-3)
    kept = [way.surfaces for way in far.found if way.length < near.complete_to]
    assert kept == [way.surfaces for way in near.found]


def test_nobody_outside_the_room_is_heard() -> None:
    room = _room([[0, 0], [8, 0], [8, 6], [0, 6]], 3.0, COLUMNS)
    inside = np.array([1.0, 1.0, 1.2])
    for place in ([9.0, 3.0, 1.2], [3.5, 2.5, 1.2], [-5.0, -5.0, 1.2]):
        assert arrivals(room, inside, np.array(place), limit_path=20.0).found == ()
        assert arrivals(room, np.array(place), inside, limit_path=20.0).found == ()
