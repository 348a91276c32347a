"""Energy of images in any plan: against the box, against every way listed, both kernels alike."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.acoustics.rooms import (
    CARDIOID,
    SPEED,
    all_pairs,
    nothing_late,
    one_pair,
    receivers,
    reflected_energy,
    sources,
)
from wellheard.acoustics import compiled
from wellheard.acoustics.enclosure import Enclosure, Patch, box
from wellheard.acoustics.image_ways import arrivals
from wellheard.acoustics.images_plan import grow_forest
from wellheard.acoustics.plan_tree import PlanTree, grow, stand
from wellheard.acoustics.response import Pairs, Response, respond
from wellheard.arrays import Array

AIR = np.array([0.0, 1e-4, 1e-3, 3e-3, 1e-2, 2e-2, 5e-2])
NAMES = ("joined", "early", "late", "modulation")
L_SHAPE = [[0, 0], [8, 0], [8, 4], [5, 4], [5, 9], [0, 9]]
U_SHAPE = [[0, 0], [9, 0], [9, 7], [6.5, 7], [6.5, 3], [2.5, 3], [2.5, 7], [0, 7]]
PILLAR = [[2, 6], [2.5, 6], [2.5, 6.5], [2, 6.5]]


@pytest.fixture(params=("numpy", "compiled", "plain"))
def kernel(request: pytest.FixtureRequest) -> Iterator[str]:
    """The numpy twin, and the kernel with and without AVX2."""
    if request.param != "numpy" and compiled.missing():
        pytest.skip(compiled.missing())
    with compiled.using(request.param):
        yield request.param


def _room(outline: Any, columns: Any = (), patches: tuple[Patch, ...] = (), seed: int = 0) -> Any:
    rng = np.random.default_rng(seed)
    count = 2 + len(outline) + sum(len(column) for column in columns) + len(patches)
    return Enclosure(
        outline=np.array(outline, dtype=float),
        columns=tuple(np.array(column, dtype=float) for column in columns),
        height=2.8,
        names=tuple(f"surface {i}" for i in range(count)),
        absorption=rng.uniform(0.05, 0.6, (count, 7)),
        scattering=rng.uniform(0.0, 0.3, count),
        patches=patches,
    )


def _ends(count: int, seed: int) -> Array:
    """Points in the foot of the L, which all rooms here share."""
    rng = np.random.default_rng(seed)
    return rng.uniform([0.3, 0.3, 0.6], [7.7, 2.7, 2.4], (count, 3))


def _ways(count: int, seed: int) -> Array:
    ways = np.random.default_rng(seed).normal(size=(count, 3))
    return np.asarray(ways / np.linalg.norm(ways, axis=1, keepdims=True))


def _ask(room: Enclosure, at: Array, microphone: Array, *, upper: bool = False) -> Response:
    pairs = all_pairs(len(at), len(microphone), upper_only=upper)
    return respond(
        room,
        nothing_late(),
        sources(at, _ways(len(at), 5), CARDIOID),
        receivers(microphone, CARDIOID),
        replace(pairs, axis=_ways(len(pairs.row), 6)),
        speed=SPEED,
        air=AIR,
    )


def _assert_alike(one: Response, other: Response, within: float = 1e-4) -> None:
    for name in NAMES:
        a, b = getattr(one, name), getattr(other, name)
        assert np.abs(a - b).max() <= within * np.abs(a).max(), name


@pytest.mark.parametrize(("talkers", "microphones"), [(7, 2), (2, 7)])
@pytest.mark.parametrize("turn", [0.0, 0.4])
def test_a_rectangle_with_a_corner_more_is_the_box(
    kernel: str, talkers: int, microphones: int, turn: float
) -> None:
    # One wall in two pieces of the same surface: no box to the engine, and the same room. The box
    # is counted by the lattice of Allen and Berkley, another code.
    corners = np.array([[0.0, 0.0], [8.0, 0.0], [8.0, 5.0], [0.0, 5.0]])
    turned = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    plain = replace(_room(corners), outline=corners @ turned)
    piece = (corners[0] + [3.1, 0.0]) @ turned
    rows = [0, 1, 2, 2, 3, 4, 5]
    pieces = replace(
        plain,
        outline=np.insert(plain.outline, 1, piece, axis=0),
        names=tuple(f"surface {i}" for i in range(7)),
        absorption=plain.absorption[rows],
        scattering=plain.scattering[rows],
    )
    assert plain.is_box
    assert not pieces.is_box
    around = np.eye(3)
    around[:2, :2] = turned
    at, microphone = _ends(talkers, 1) @ around, _ends(microphones, 2) @ around
    _assert_alike(_ask(plain, at, microphone), _ask(pieces, at, microphone))


@pytest.mark.parametrize("rooted", ["talkers", "microphones"])
@pytest.mark.parametrize("upper", [False, True])
def test_energy_is_the_sum_of_all_ways(kernel: str, rooted: str, upper: bool) -> None:
    patches = (Patch(0, 1.0, 5.0, 0.5, 2.0, 12), Patch(5, 1.0, 3.0, 0.5, 2.0, 13))
    room = _room(L_SHAPE, [PILLAR], patches)
    at, microphone = _ends(3, 3), np.array([[1.0, 8.0, 1.9], [7.0, 1.0, 1.0]])
    if rooted == "talkers":
        at, microphone = at[:1], np.vstack([microphone, _ends(2, 4)])
    answer = _ask(room, at, microphone, upper=upper)
    pairs = all_pairs(len(at), len(microphone))
    facing, axis = _ways(len(at), 5), _ways(len(pairs.row), 6)
    for p, (row, column) in enumerate(zip(pairs.row, pairs.column, strict=True)):
        straight = float(np.linalg.norm(at[row] - microphone[column]))
        limit = straight + SPEED * 0.060
        expected = np.zeros((3, 7))
        for way in arrivals(room, at[row], microphone[column], limit_path=limit).found:
            if way.order == 0 or (upper and way.arrival[2] < 0):
                continue
            # Cardioids in energy; air to the middle of the millisecond.
            speaks = (0.5 + 0.5 * _entry(way.departure @ facing[row])) ** 2
            hears = (0.5 + 0.5 * _entry(way.arrival @ axis[p])) ** 2
            n = int((way.length - straight) / (SPEED * 0.001))
            air = np.exp(-AIR * (straight + SPEED * 0.001 * (n + 0.5)))
            when = 0 if n == 0 else 1 if n < 50 else 2
            expected[when] += way.energy * speaks * hears * air / way.length**2
        got = np.stack([answer.joined[p], answer.early[p], answer.late[p]])
        # Single precision may take a neighbouring entry.
        assert got == pytest.approx(expected, rel=2e-3, abs=1e-4 * expected.max())


def _entry(cosine: float) -> float:
    """The nearest of 513 entries of a pattern."""
    return float(np.floor((cosine + 1.0) * 256.0 + 0.5) / 256.0 - 1.0)


def test_pairs_together_are_the_pairs_alone(kernel: str) -> None:
    # Together the trees are those of the microphones or of the talkers; alone of the microphone.
    room = _room(U_SHAPE, seed=4)
    at, microphone = np.array([[1.0, 6.0, 1.2], [8.0, 5.0, 1.2]]), _ends(3, 7)
    for upper in (False, True):
        together = _ask(room, at, microphone, upper=upper)
        axis, facing = _ways(6, 6), _ways(2, 5)
        for p, (i, j) in enumerate(np.ndindex(2, 3)):
            alone = one_pair(
                room,
                at[i],
                microphone[j],
                facing=facing[i],
                axis=axis[p],
                talker=CARDIOID,
                capsule=CARDIOID,
                upper_only=upper,
                air=AIR,
            )
            for name in NAMES:
                a, b = getattr(together, name)[p], getattr(alone, name)[0]
                assert np.abs(a - b).max() <= 1e-4 * np.abs(reflected_energy(alone)).max()


def test_behind_a_corner_there_is_no_direct_sound_but_reflections(kernel: str) -> None:
    answer = one_pair(_room(L_SHAPE), [7.5, 3.5, 1.2], [1.0, 8.5, 1.2])
    assert not answer.direct.any()
    assert (reflected_energy(answer) > 0).all()


@pytest.mark.skipif(bool(compiled.missing()), reason="no C compiler was there")
@pytest.mark.parametrize(
    ("outline", "columns"), [(L_SHAPE, []), (U_SHAPE, []), (L_SHAPE, [PILLAR])]
)
def test_the_compiled_kernel_is_its_twin(outline: Any, columns: Any) -> None:
    room = _room(outline, columns, (Patch(1, 0.5, 2.5, 0.0, 2.0, 2 + len(outline)),))
    for talkers, microphones in ((12, 3), (3, 12)):
        at, microphone = _ends(talkers, 8), _ends(microphones, 9)
        with compiled.using("numpy"):
            twin = _ask(room, at, microphone)
        _assert_alike(twin, _ask(room, at, microphone))


def _key(tree: PlanTree) -> list[tuple[Any, ...]]:
    return sorted(
        (tree.sequence(beam), int(tree.stop[beam]), *np.round(tree.image[beam], 6))
        for beam in range(len(tree.last))
    )


@pytest.mark.skipif(bool(compiled.missing()), reason="no C compiler was there")
@pytest.mark.parametrize("place", [[1.0, 2.0], [5.0, 4.0], [8.0, 2.0], [4.0, 4.5], [0.0, 0.0]])
@pytest.mark.parametrize(("outline", "columns"), [(L_SHAPE, [PILLAR]), (U_SHAPE, [])])
def test_the_compiled_tree_is_its_twin(outline: Any, columns: Any, place: list[float]) -> None:
    walls = _room(outline, columns).walls
    root = stand(walls, np.array(place))
    with compiled.using("numpy"):
        twin = grow(walls, root, reach=22.0)
    tree = grow(walls, root, reach=22.0)
    assert _key(tree) == _key(twin)
    assert tree.complete_to == twin.complete_to
    assert np.sort(tree.nearest) == pytest.approx(np.sort(twin.nearest))


def test_beams_of_the_root_part_the_room(kernel: str) -> None:
    walls = _room(L_SHAPE, [PILLAR]).walls
    tree = grow(walls, stand(walls, np.array([1.0, 2.0])), reach=0.1)
    assert (tree.last < 0).all()
    points = stand(walls, np.random.default_rng(0).uniform([0, 0], [8, 9], (2000, 2)))
    seen = tree.seen(points).sum(axis=1)
    assert set(seen.tolist()) == {0, 1}
    from wellheard.geometry.sight import clear_line

    inside = ~((points[:, 0] > 5) & (points[:, 1] > 4))
    inside &= ~((np.abs(points - 2.25 - [0, 4]) < 0.25).all(axis=1))
    visible = clear_line(walls, points, np.array([1.0, 2.0]))
    assert (seen[inside] == visible[inside]).all()


def test_a_tree_that_stops_growing_shortens_the_reach_of_its_forest(kernel: str) -> None:
    turn = np.arange(60) / 60 * 2 * np.pi
    radius = np.where(np.arange(60) % 2, 5.0, 3.0)
    room = _room(np.stack([radius * np.cos(turn), radius * np.sin(turn)], axis=1))
    at, microphone = np.array([[0.5, 0.2, 1.2]]), np.array([[-1.5, 1.0, 1.5]])
    index = np.zeros(1, dtype=np.int64)
    direct = np.linalg.norm(at - microphone, axis=1)
    asked: dict[str, Any] = {"row": index, "column": index, "direct": direct, "reach": 20.0}
    short = grow_forest(room, at, microphone, most_beams=300, **asked)
    assert 300 <= len(short.trees[0].last) <= 300 + 60
    assert short.reach == short.trees[0].complete_to - direct[0]
    assert 0.0 < short.reach < 20.0
    assert grow_forest(room, at, microphone, most_beams=5, **asked).reach < short.reach


@pytest.mark.skipif(bool(compiled.missing()), reason="no C compiler was there: 10 s of numpy")
def test_reflections_past_the_limit_of_a_large_plan_are_left_to_the_mean() -> None:
    # Where the tree stops early the response is that of a limit as early.
    turn = np.arange(200) / 200 * 2 * np.pi
    radius = np.where(np.arange(200) % 2, 5.0, 3.0)
    room = _room(np.stack([radius * np.cos(turn), radius * np.sin(turn)], axis=1))
    at, microphone = np.array([[0.5, 0.2, 1.2]]), np.array([[-1.5, 1.0, 1.5]])
    index = np.zeros(1, dtype=np.int64)
    forest = grow_forest(
        room,
        at,
        microphone,
        row=index,
        column=index,
        direct=np.linalg.norm(at - microphone, axis=1),
        reach=SPEED * 0.060,
    )
    assert forest.reach < SPEED * 0.060
    whole = one_pair(room, at[0], microphone[0])
    cut = one_pair(room, at[0], microphone[0], limit=forest.reach / SPEED)
    _assert_alike(whole, cut, 1e-6)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 100_000), st.integers(4, 12))
def test_any_plan_has_finite_energies_that_are_the_same_from_both_ends(
    seed: int, corners: int
) -> None:
    rng = np.random.default_rng(seed)
    turn = (np.arange(corners) + rng.uniform(-0.3, 0.3, corners)) * 2 * np.pi / corners
    radius = rng.uniform(1.5, 6.0, corners)
    outline = np.stack([radius * np.cos(turn), radius * np.sin(turn)], axis=1)
    room = _room(outline, seed=seed)
    ends = outline[rng.integers(0, corners, 2)] * rng.uniform(0.0, 1.0, (2, 1))
    if seed % 3 == 0:
        ends = outline[rng.integers(0, corners, 2)]  # in corners, perhaps the same
    a, b = np.column_stack([ends, rng.uniform(0.0, 2.8, 2)])
    there, back = one_pair(room, a, b), one_pair(room, b, a)
    for name in ("direct", *NAMES):
        assert np.isfinite(getattr(there, name)).all()
    _assert_alike(there, back)


@pytest.mark.parametrize("place", [[4.0, 2.5, 0.75], [8.0, 2.0, 1.5], [0.0, 0.0, 0.0]])
def test_a_microphone_right_at_a_surface_hears_it_joined(kernel: str, place: list[float]) -> None:
    # By hand: with the microphone on one wall, in an otherwise dead room, the image is where the
    # source is: joined = direct · (1 − α). In a corner of three surfaces 2³ − 1 images.
    hard = _room([[0, 0], [8, 0], [8, 4], [5, 4], [5, 5], [0, 5]])
    room = replace(hard, absorption=np.zeros((8, 7)), scattering=np.zeros(8))
    answer = one_pair(room, [3.0, 2.0, 1.2], place)
    on = {0.0: 7, 8.0: 1, 4.0: 0}[place[0]]
    assert answer.joined[0] == pytest.approx(on * answer.direct[0], rel=1e-3)


def test_a_box_and_its_plan_count_the_same_from_right_above_a_talker(kernel: str) -> None:
    # Sound comes back to a point in line with the talker from each corner of the plan: once.
    room = box((6.0, 5.0, 3.0), absorption=np.full(6, 0.2))
    pieces = replace(
        room,
        outline=np.insert(room.outline, 1, [2.0, 0.0], axis=0),
        names=(*room.names, "south again"),
        absorption=np.full((7, 7), 0.2),
        scattering=np.zeros(7),
    )
    for place in ([2.0, 2.0], [3.0, 2.5], [1.3, 0.7]):
        talker, above = [*place, 1.2], [*place, 3.0]
        _assert_alike(one_pair(room, talker, above), one_pair(pieces, talker, above))


def test_pairs_may_come_in_any_order(kernel: str) -> None:
    room = _room(L_SHAPE)
    at, microphone = _ends(4, 1), _ends(3, 2)
    pairs = all_pairs(4, 3)
    shuffled = np.random.default_rng(3).permutation(12)
    some = Pairs(*(getattr(pairs, name)[shuffled] for name in pairs.__dataclass_fields__))

    def ask(asked: Pairs) -> Response:
        return respond(
            room, nothing_late(), sources(at), receivers(microphone), asked, speed=SPEED, air=AIR
        )

    ordered, mixed = ask(pairs), ask(some)
    assert mixed.early == pytest.approx(ordered.early[shuffled], rel=1e-6)
