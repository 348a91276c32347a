"""Rays against geometry: where they go, how far between hits, and that none gets away."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wellheard.acoustics import compiled
from wellheard.acoustics.enclosure import Enclosure, Patch, Prism, box
from wellheard.acoustics.facets import free_of_solids
from wellheard.acoustics.rays import NEVER, Flights, advised_length, directions_all_round, trace
from wellheard.arrays import Array

KERNELS = ("numpy", "plain", "compiled") if not compiled.missing() else ("numpy",)


@pytest.fixture(params=KERNELS)
def kernel(request: pytest.FixtureRequest) -> Iterator[str]:
    with compiled.using(request.param):
        yield request.param


def regular(corners: int, *, at: tuple[float, float], radius: float) -> Array:
    angle = np.arange(corners) / corners * 2.0 * np.pi
    return np.stack([at[0] + radius * np.cos(angle), at[1] + radius * np.sin(angle)], axis=1)


def room(
    outline: Array,
    *,
    height: float = 2.7,
    scattering: float = 0.0,
    columns: tuple[Array, ...] = (),
    patches: tuple[Patch, ...] = (),
    objects: tuple[Prism, ...] = (),
) -> Enclosure:
    """Walls, then one surface for all patches, then one for all objects."""
    walls = len(outline) + sum(map(len, columns))
    names = ("floor", "ceiling", *(f"wall {i}" for i in range(walls)), "patch", "object")
    return Enclosure(
        outline=np.asarray(outline, dtype=float),
        columns=columns,
        height=height,
        names=names,
        absorption=np.full((len(names), 7), 0.1),
        scattering=np.full(len(names), scattering),
        patches=tuple(replace(patch, surface=2 + walls) for patch in patches),
        objects=tuple(replace(one, surface=3 + walls) for one in objects),
    )


L_SHAPE = np.array([[0, 0], [8, 0], [8, 3], [4, 3], [4, 7], [0, 7]], dtype=float)
U_SHAPE = np.array(
    [[0, 0], [9, 0], [9, 6], [5, 6], [5, 2], [4.8, 2], [4.8, 6], [0, 6]], dtype=float
)


def furnished(scattering: float = 0.3, *, sitters: int = 9) -> Enclosure:
    """An L with a column, a board on a wall, a table with a bay in it, and sitters."""
    bay = np.array([[0.8, 1.3], [4, 1.3], [4, 1.9], [2, 1.6], [0.8, 1.9]])
    places = [(1.0 + 0.7 * (i % 5), 0.7 + 1.8 * (i // 5)) for i in range(sitters)]
    people = [Prism(regular(6, at=at, radius=0.22), 0.0, 1.25, -1) for at in places]
    return room(
        L_SHAPE,
        scattering=scattering,
        columns=(np.array([[5, 1], [5.3, 1], [5.3, 1.3], [5, 1.3]], dtype=float),),
        patches=(Patch(1, 0.5, 2.0, 0.8, 2.0, -1), Patch(5, 1.0, 3.0, 0.5, 2.5, -1)),
        objects=(Prism(bay, 0.7, 0.74, -1), *people),
    )


def legs(flights: Flights) -> Array:
    """Lengths between hits, without the way from a start."""
    inner = np.ones(len(flights.path), dtype=bool)
    inner[flights.first[:-1]] = False
    return np.diff(flights.path.astype(float), prepend=0.0)[inner]


def same(one: Flights, other: Flights) -> bool:
    fields = ("first", "path", "surface", "points", "scattered", "object")
    return all(np.array_equal(getattr(one, f), getattr(other, f)) for f in fields)


# --- Closed forms ---------------------------------------------------------------------------


def test_a_single_ray_takes_the_way_that_a_ruler_finds(kernel: str) -> None:
    """By hand: in the plane z = 1 of a 4 × 3 box, along (4, 3)/5 from the middle of a diagonal."""
    flights = trace(
        box((4.0, 3.0, 2.0), absorption=np.zeros(6)),
        rays=1,
        length=8.0,
        starts=np.array([1.0, 0.0, 1.0]),
        directions=np.array([[0.6, 0.8, 0.0]]),
    )
    # (1, 0) → (3.25, 3) → (4, 2) → (2.5, 0) → (0.25, 3)
    assert flights.path == pytest.approx([3.75, 5.0, 7.5, 11.25])
    assert flights.surface.tolist() == [4, 3, 2, 4]
    assert flights.points == pytest.approx(
        np.array([[3.25, 3, 1], [4, 2, 1], [2.5, 0, 1], [0.25, 3, 1]]), abs=1e-6
    )


def test_a_board_on_a_wall_and_a_table_are_met_where_they_are(kernel: str) -> None:
    table = Prism(np.array([[1, 1], [3, 1], [3, 2], [1, 2]], dtype=float), 0.7, 0.75, -1)
    outline = np.array([[0, 0], [4, 0], [4, 3], [0, 3]], dtype=float)
    e = room(outline, patches=(Patch(1, 1.0, 2.0, 1.0, 2.0, -1),), objects=(table,))
    starts = np.array([[1, 1.5, 1.5], [1, 1.5, 2.5], [2, 1.5, 2], [0.5, 1.5, 2], [2, 1.5, 0.2],
                       [0.5, 1.5, 0.72], [0.5, 1.5, 0.76]])  # fmt: skip
    ahead, down, up = [1.0, 0, 0], [0, 0, -1.0], [0, 0, 1.0]
    flights = trace(
        e,
        rays=7,
        length=0.1,
        starts=starts,
        directions=np.array([ahead, ahead, down, down, up, ahead, ahead]),
    )
    assert flights.surface.tolist() == [6, 3, 7, 0, 7, 7, 3]
    assert flights.path == pytest.approx([3, 3, 1.25, 2, 0.5, 0.5, 3.5])
    assert (flights.object == 0).tolist() == [False, False, True, False, True, True, False]
    assert np.array_equal(flights.object, flights.scattered)


@pytest.mark.parametrize(
    "e",
    [
        box((6.0, 4.5, 2.7), absorption=np.zeros(6), scattering=1.0),
        box((10.0, 5.0, 1.0), absorption=np.zeros(6), scattering=1.0),
        room(L_SHAPE, scattering=1.0),
        furnished(1.0),
    ],
    ids=["room B", "flat", "L", "furnished"],
)
def test_the_mean_way_between_hits_is_4v_over_s(e: Enclosure) -> None:
    """kuttruff2009: 4V/S for diffuse reflection, whatever the shape; S counted by hand here."""
    area = 2.0 * e.floor_area + float(e.wall_lengths.sum()) * e.height
    for one in e.objects:
        side = np.hypot(*(np.roll(one.outline, -1, axis=0) - one.outline).T)
        x, y = one.outline.T
        plan = 0.5 * abs(float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)))
        area += float(side.sum()) * (one.top - one.bottom) + plan * 2 * (one.bottom > 0)
    flights = trace(e, rays=4000, length=150.0)
    # The hidden floor under sitters is no surface, but their tops are as large.
    assert legs(flights).mean() == pytest.approx(4.0 * e.volume / area, rel=0.015)


def test_path_lengths_of_a_diffuse_room_spread_as_published() -> None:
    """γ² = 0.365 for 6 × 4.5 × 2.7 m, Monte Carlo with chords [L]."""
    free = legs(
        trace(box((6.0, 4.5, 2.7), absorption=np.zeros(6), scattering=1.0), rays=8000, length=150.0)
    )
    assert free.var() / free.mean() ** 2 == pytest.approx(0.365, abs=0.012)


def test_hits_share_themselves_out_by_area() -> None:
    """A diffuse field meets every face as often as its area says (Lambert)."""
    size = (6.0, 4.5, 2.7)
    flights = trace(box(size, absorption=np.zeros(6), scattering=1.0), rays=8000, length=100.0)
    x, y, z = size
    area = np.array([x * y, x * y, x * z, y * z, x * z, y * z])
    share = np.bincount(flights.surface, minlength=6) / len(flights.surface)
    assert share == pytest.approx(area / area.sum(), rel=0.015)


def test_directions_leave_a_diffuse_face_by_lamberts_law() -> None:
    """Mean cosine 2/3, mean squared cosine 1/2: integrals of the law by hand."""
    e = box((1e4, 1e4, 10.0), absorption=np.zeros(6), scattering=1.0)
    down = np.tile([0.0, 0.0, -1.0], (20_000, 1))
    flights = trace(
        e, rays=len(down), length=5.5, starts=np.array([5e3, 5e3, 5.0]), directions=down
    )
    second = flights.first[:-1] + 1
    up = flights.points[second] - flights.points[second - 1]
    up = up / np.linalg.norm(up, axis=1)[:, None]
    assert up[:, 2].mean() == pytest.approx(2.0 / 3.0, abs=0.005)
    assert (up[:, 2] ** 2).mean() == pytest.approx(0.5, abs=0.006)
    assert up[:, :2].mean(axis=0) == pytest.approx([0.0, 0.0], abs=0.012)


def test_starts_and_directions_are_even() -> None:
    e = furnished()
    flights = trace(e, rays=4000, length=1.0)
    assert free_of_solids(e, flights.start).all()
    arm = (flights.start[:, 0] > 4.0).mean()
    assert arm == pytest.approx(12.0 / 40.0, abs=0.015)  # floor areas, by hand
    u = directions_all_round(4000)
    assert np.linalg.norm(u, axis=1) == pytest.approx(np.ones(4000))
    assert u.mean(axis=0) == pytest.approx(np.zeros(3), abs=0.004)
    assert (u * u).mean(axis=0) == pytest.approx(np.full(3, 1 / 3), abs=0.004)


# --- Twins ----------------------------------------------------------------------------------


@pytest.mark.skipif(bool(compiled.missing()), reason="there is no library of kernels")
@pytest.mark.parametrize("scattering", [0.0, 0.3, 1.0])
def test_the_kernel_and_its_twin_follow_the_same_paths(scattering: float) -> None:
    e = furnished(scattering)
    runs = []
    for kernel in KERNELS:
        with compiled.using(kernel):  # type: ignore[arg-type]
            runs.append(trace(e, rays=300, length=90.0, seed=3))
    assert same(runs[0], runs[1])
    assert same(runs[0], runs[2])


def test_what_does_not_fit_the_first_guess_is_followed_all_the_same() -> None:
    """A lane of 2 cm beside a hall: its rays meet a hundred times more than the mean."""
    lane = np.array(
        [[0, 0], [20, 0], [20, 20], [10, 20], [10, 39], [9.98, 39], [9.98, 20], [0, 20]]
    )
    start, ahead = np.tile([9.99, 30.0, 5.0], (50, 1)), np.tile([1.0, 0.0, 0.0], (50, 1))
    flights = trace(room(lane, height=10.0), rays=50, length=20.0, starts=start, directions=ahead)
    assert np.diff(flights.first) == pytest.approx(np.full(50, 1001), abs=1)
    assert flights.lost == 0


# --- Properties -----------------------------------------------------------------------------


@settings(max_examples=25, deadline=None)
@given(
    radii=st.lists(st.floats(0.5, 20.0), min_size=3, max_size=24),
    height=st.floats(2.0, 12.0),
    scattering=st.sampled_from([0.0, 0.2, 1.0]),
    seed=st.integers(0, 2**32),
)
def test_no_ray_gets_out_of_any_star_shaped_plan(
    radii: list[float], height: float, scattering: float, seed: int
) -> None:
    angle = np.arange(len(radii)) / len(radii) * 2.0 * np.pi
    outline = np.array(radii)[:, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    e = room(outline, height=height, scattering=scattering)
    flights = trace(e, rays=200, length=60.0, seed=seed)
    assert flights.lost == 0
    assert flights.turned_back == 0
    assert np.isfinite(flights.points).all()
    low, high = outline.min(axis=0) - 1e-4, outline.max(axis=0) + 1e-4
    assert ((flights.points[:, :2] >= low) & (flights.points[:, :2] <= high)).all()
    assert (flights.path[flights.first[1:] - 1] >= 60.0 - 1e-4).all()
    assert legs(flights).min() >= 0.0


def test_rays_into_corners_come_back(kernel: str) -> None:
    """Straight at every corner of an L, in plan and in space, and along its walls."""
    e = room(L_SHAPE)
    here = np.array([2.0, 1.5, 1.0])
    corners = np.concatenate([np.column_stack([L_SHAPE, np.full(6, z)]) for z in (0.0, 1.0, 2.7)])
    away = corners - here
    along = np.array([[1.0, 0, 0], [0, 1.0, 0], [0, 0, 1.0], [-1.0, 0, 0]])
    u = np.concatenate([away / np.linalg.norm(away, axis=1)[:, None], along])
    flights = trace(e, rays=len(u), length=100.0, starts=here, directions=u)
    assert flights.lost == 0
    # Exactly at the corner that reaches into the room there is no right way to go on.
    assert flights.turned_back <= 3


def test_rays_where_a_plan_is_inside_out_are_counted_and_none_hangs(kernel: str) -> None:
    """The left half of this bow tie has its walls on the wrong side."""
    tie = np.array([[0, 3], [6, -1], [6, 4], [0, 0]], dtype=float)
    flights = trace(room(tie), rays=200, length=80.0, starts=np.array([0.3, 1.5, 1.0]))
    assert flights.lost > 0
    assert flights.turned_back >= 8 * flights.lost
    assert np.isfinite(flights.points).all()


def test_a_slit_between_two_rooms_lets_nothing_through(kernel: str) -> None:
    """A plan that touches itself along a line: a wall without thickness."""
    slit = np.array([[0, 0], [4, 0], [4, 3], [4, 0], [8, 0], [8, 4], [0, 4]], dtype=float)
    flights = trace(room(slit, scattering=0.3), rays=300, length=100.0)
    assert flights.turned_back == 0
    assert flights.lost == 0
    a, b = flights.points[:-1].astype(float), flights.points[1:].astype(float)
    passes = (a[:, 0] - 4.0) * (b[:, 0] - 4.0) < -1e-3
    passes[flights.first[1:-1] - 1] = False  # from one ray to the next
    share = (4.0 - a[passes, 0]) / (b[passes, 0] - a[passes, 0])
    assert passes.sum() > 100
    assert (a[passes, 1] + share * (b[passes, 1] - a[passes, 1]) > 2.999).all()


def test_cupboards_flush_with_walls_and_each_other_hold_no_ray(kernel: str) -> None:
    cupboards = tuple(
        Prism(np.array([[x, 0], [x + 1, 0], [x + 1, 0.5], [x, 0.5]], dtype=float), 0.0, top, -1)
        for x, top in ((0.0, 2.0), (1.0, 2.0), (2.0, 2.7), (7.0, 1.0))
    )
    flights = trace(room(L_SHAPE, scattering=0.5, objects=cupboards), rays=500, length=100.0)
    assert flights.lost == 0
    inside = (flights.points > [0.001, 0.001, 0.001]) & (flights.points < [2.999, 0.499, 1.999])
    assert not inside.all(axis=1).any()


@pytest.mark.skipif(bool(compiled.missing()), reason="there is no library of kernels")
def test_large_halls_many_walls_and_many_sitters_are_followed_to_the_end() -> None:
    angle = np.arange(200) / 200 * 2.0 * np.pi
    radius = np.where(np.arange(200) % 2, 150.0, 140.0)
    outline = np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1)
    places = [(-50.0 + 4 * (i % 25), -38.0 + 4 * (i // 25)) for i in range(500)]
    sitters = tuple(Prism(regular(6, at=at, radius=0.25), 0.0, 1.3, -1) for at in places)
    e = room(outline, height=12.0, scattering=0.3, objects=sitters)
    flights = trace(e, rays=500, length=advised_length(e))
    assert flights.lost == 0
    assert flights.turned_back == 0
    assert (flights.object < NEVER).any()
    with compiled.using("numpy"):
        twin = trace(e, rays=40, length=200.0)
    assert same(trace(e, rays=40, length=200.0), twin)


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"rays": 0, "length": 1.0}, "more than 0"),
        ({"rays": 1, "length": np.nan}, "more than 0"),
        ({"rays": 1, "length": 1.0, "starts": np.array([9.0, 9.0, 1.0])}, "outside the walls"),
        ({"rays": 1, "length": 1.0, "starts": np.array([1.0, 1.0, 3.0])}, "outside the walls"),
    ],
)
def test_what_cannot_be_followed_is_refused(more: dict[str, npt.ArrayLike], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        trace(room(L_SHAPE), **more)  # type: ignore[arg-type]


def test_a_room_without_air_is_refused() -> None:
    full = Prism(L_SHAPE, 0.0, 2.7, -1)
    with pytest.raises(ValueError, match="no air"):
        trace(room(L_SHAPE, objects=(full,)), rays=10, length=10.0)
