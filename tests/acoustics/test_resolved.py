"""Scattered energy by place: against the room's mean, reciprocity, and another simulator."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from tests.oracle import simulator
from wellheard.acoustics import compiled
from wellheard.acoustics.decay_table import decay_table
from wellheard.acoustics.enclosure import Enclosure, Patch, Prism
from wellheard.acoustics.late import ANGULAR, Late, late_tables
from wellheard.acoustics.plan_cells import plan_cells
from wellheard.acoustics.rays import trace
from wellheard.acoustics.resolved import Complex, Lanes, Resolved, needs_resolving, resolve
from wellheard.arrays import Array
from wellheard.geometry.sight import clear_line

SPEED = 343.0
AIR = np.array([0.1, 0.3, 0.6, 1.0, 1.7, 4.1, 13.5]) * 1e-3  # EN 12354-6, 20 °C, 50–70 %
STILL = np.zeros(7)
KERNELS = ("numpy", "plain", "compiled") if not compiled.missing() else ("numpy",)

L_SHAPE = np.array([[0, 0], [8, 0], [8, 3], [4, 3], [4, 7], [0, 7]], dtype=float)
U_SHAPE = np.array(
    [[0, 0], [9, 0], [9, 6], [5.1, 6], [5.1, 2], [5, 2], [5, 6], [0, 6]], dtype=float
)


def room(
    outline: Array,
    *,
    scattering: float = 1.0,
    absorption: float = 0.2,
    height: float = 2.7,
    objects: tuple[Prism, ...] = (),
    columns: tuple[Array, ...] = (),
) -> Enclosure:
    count = 4 + len(outline) + sum(map(len, columns))
    return Enclosure(
        outline,
        columns,
        height,
        tuple(f"surface {i}" for i in range(count)),
        np.full((count, 7), absorption),
        np.full(count, scattering),
        (Patch(1, 0.5, 2.0, 0.8, 2.0, count - 2),),
        objects,
    )


def late_of(e: Enclosure, *, air: Array = AIR, rays: int = 8000) -> Late:
    table = decay_table(trace(e, rays=rays, length=150.0), e.absorption, speed=SPEED)
    return late_tables(table, volume=e.volume, speed=SPEED, air=air)


def asked(
    e: Enclosure, roots: Array, points: Array, *, air: Array = AIR, rays: int = 2000, seed: int = 0
) -> tuple[Resolved, Lanes, Lanes, Complex, Array]:
    """Every root to every point: early, late, modulation and direct times."""
    field = resolve(
        e, roots, e.absorption, late_of(e, air=air), speed=SPEED, air=air, rays=rays, seed=seed
    )
    index = np.repeat(np.arange(len(roots)), len(points))
    ends = np.tile(points, (len(roots), 1))
    t0 = np.linalg.norm(roots[index] - ends, axis=1) / SPEED
    return field, *field.lookup(index, ends, t0), t0


# --- Cells ----------------------------------------------------------------------------------


@pytest.mark.parametrize("outline", [L_SHAPE, U_SHAPE], ids="LU")
def test_the_cells_hold_all_the_air_and_no_more(outline: Array) -> None:
    objects = (
        Prism(np.array([[0.5, 0.5], [2.1, 0.5], [2.1, 1.9], [0.5, 1.9]]), 0.7, 0.74, 11),
        Prism(np.array([[0, 4], [0.6, 4], [0.6, 5.5], [0, 5.5]], dtype=float), 0.0, 2.0, 11),
    )
    e = room(outline, objects=objects)
    cells = plan_cells(e)
    assert cells.volume.sum() == pytest.approx(e.volume)
    assert cells.volume.min() > 0.25 * cells.volume.max()


def test_two_solids_in_one_place_take_its_air_once() -> None:
    """Drawn twice, or standing in each other: there is as much air as with one."""
    block = np.array([[0.2, 4.2], [1.4, 4.2], [1.4, 5.6], [0.2, 5.6]])
    one = room(L_SHAPE, objects=(Prism(block, 0.0, 2.0, 11),))
    two = room(L_SHAPE, objects=(Prism(block, 0.0, 2.0, 11), Prism(block, 0.5, 2.0, 11)))
    assert two.volume == pytest.approx(one.volume)
    assert plan_cells(two).volume == pytest.approx(plan_cells(one).volume)
    full = room(L_SHAPE, objects=(Prism(block, 0.0, 2.7, 11),))
    assert plan_cells(full).volume.min() > 0.0


def test_large_rooms_have_large_cells_and_about_as_many() -> None:
    assert 60 < len(plan_cells(room(L_SHAPE)).volume) < 130
    assert 60 < len(plan_cells(room(L_SHAPE * 10)).volume) < 130


def test_nothing_is_blended_through_a_wall() -> None:
    """A wall of 10 cm between two arms: on either side, only cells of that side."""
    cells = plan_cells(room(U_SHAPE))
    y = np.linspace(2.9, 5.9, 40)
    left, _ = cells.blend(np.column_stack([np.full(40, 4.96), y]))
    right, _ = cells.blend(np.column_stack([np.full(40, 5.14), y]))
    assert not set(left.ravel()) & set(right.ravel())


def test_weights_are_shares() -> None:
    e = room(L_SHAPE)
    points = trace(e, rays=500, length=1.0).start
    regions, weights = plan_cells(e).blend(points[:, :2])
    assert weights.min() >= 0.0
    assert weights.sum(axis=1) == pytest.approx(np.ones(500), rel=1e-6)
    assert regions.max() < len(plan_cells(e).volume)


@pytest.mark.parametrize(
    ("outline", "columns", "needed"),
    [
        (L_SHAPE, (), True),
        (L_SHAPE[[0, 1, 2, 5]], (), False),
        (L_SHAPE[[0, 1, 2, 5]], (np.array([[2, 1], [2.4, 1], [2.4, 1.4]]),), True),
    ],
)
def test_rooms_that_hide_something_from_themselves_need_it(
    outline: Array, columns: tuple[Array, ...], needed: bool
) -> None:
    assert needs_resolving(room(outline, columns=columns)) == needed


# --- Energy ---------------------------------------------------------------------------------

ROOTS = np.array([[1.5, 1.5, 1.2], [6.5, 1.0, 2.65], [2.0, 5.5, 1.2]])


def test_over_the_whole_plan_it_is_the_mean_of_the_room() -> None:
    """The mean over evenly spread roots and all regions is the late table of the room."""
    e = room(L_SHAPE, scattering=0.5)
    roots = trace(e, rays=60, length=1.0).start
    late = late_of(e)
    field = resolve(e, roots, e.absorption, late, speed=SPEED, air=AIR, rays=500)
    share = field.cells.volume / field.cells.volume.sum()
    mean = np.einsum("rnbo,n->bo", field.energy, share)[:, :7] / len(roots)
    for start, end in ((0, 10), (10, 25), (25, 50), (50, 75)):
        of_room = late.scattered_energy[2 * start] - late.scattered_energy[2 * end]
        off_db = 10.0 * np.log10(mean[start:end].sum(axis=0) / of_room[:7])
        assert np.abs(off_db).max() < 0.35, (start, end)


@pytest.mark.parametrize("scale", [1.0, 3.0])
def test_another_seed_says_almost_the_same_by_the_rule_for_the_size(scale: float) -> None:
    e = room(L_SHAPE * scale, scattering=0.3, height=2.7 if scale == 1.0 else 5.0)
    root, far = ROOTS[1:2] * [scale, scale, 1.0], np.array([[1.0, 6.0, 1.2]]) * [scale, scale, 1.0]
    late = late_of(e)
    early = []
    for seed in range(6):
        field = resolve(e, root, e.absorption, late, speed=SPEED, air=AIR, seed=100 * seed)
        t0 = np.linalg.norm(root - far, axis=1) / SPEED
        early.append(field.lookup(np.zeros(1, dtype=np.int64), far, t0)[0][0, :7])
    assert np.all(np.std(early, axis=0) < 0.16 * np.mean(early, axis=0))


def test_two_places_hear_each_other_alike() -> None:
    """Reciprocity: the same energy from a root to a point as from there to here."""
    e = room(L_SHAPE, scattering=0.7)
    _, early, late, _, _ = asked(e, ROOTS, ROOTS, rays=20_000)
    for parts in (early, late):
        level_db = 10.0 * np.log10(parts[:, :7]).reshape(3, 3, 7)
        apart = level_db - level_db.transpose(1, 0, 2)
        assert np.abs(apart).max() < 0.6


def test_sums_and_transform_belong_together() -> None:
    """At almost no modulation the transform is the sum of the energies; it never exceeds it."""
    e = room(U_SHAPE, scattering=0.5)
    points = trace(e, rays=200, length=1.0).start
    _, early, late, modulation, _ = asked(e, np.array([[1.0, 1.0, 1.2]]), points)
    whole = (early + late)[:, :7]
    m = np.abs(modulation[:, :, :7]) / whole[:, None, :]
    assert m.max() <= 1.0 + 1e-5
    # Near 0 Hz the phase of the mean delay is all there is: |m| = 1 − (ωσ)²/2.
    assert m[:, 0].min() > 0.93
    assert np.all(m[:, 0] >= m[:, -1])
    assert not early[:, 7].any()
    assert not modulation[:, :, 7].any()


def test_past_the_horizon_the_decay_of_the_room_goes_on() -> None:
    """An exponential decay of its own, cut at the horizon, is the same one after it."""
    e = room(L_SHAPE, absorption=0.1)
    field, _, late, _, t0 = asked(e, ROOTS[:1], ROOTS[2:], rays=20_000)
    mean = late_of(e).scattered_energy[:, :7]
    row = int((t0[0] + 0.05) * 1e3)
    share = 10.0 * np.log10(late[0, :7] / mean[row])
    assert np.abs(share).max() < 1.0
    assert field.level[..., :7].min() > 0.7
    assert field.level[..., :7].max() < 1.4


def test_a_pair_far_apart_in_a_large_hall_hears_it() -> None:
    """200 m through an L take 0.6 s: far past the horizon of ordinary rooms."""
    e = room(L_SHAPE * 20, absorption=0.05, scattering=0.3, height=20.0)
    ends = np.array([[10.0, 130.0, 1.2]])
    field, early, late, modulation, t0 = asked(e, np.array([[150.0, 20.0, 1.2]]), ends, rays=20_000)
    assert field.horizon > t0[0] + 0.05
    assert early[0, :7].min() > 0.0
    assert late[0, :7].min() > 0.0
    assert np.abs(modulation[0, 0, :7] / (early + late)[0, :7]).max() < 1.0


@pytest.mark.skipif(bool(compiled.missing()), reason="there is no library of kernels")
def test_the_kernels_and_their_twins_agree() -> None:
    columns = (np.array([[1.0, 4.0], [1.4, 4.0], [1.4, 4.4], [1.0, 4.4]]),)
    e = room(U_SHAPE, scattering=0.4, columns=columns)
    points = trace(e, rays=100, length=1.0).start
    answers = []
    for kernel in KERNELS:
        with compiled.using(kernel):  # type: ignore[arg-type]
            answers.append(asked(e, ROOTS[:2], points, rays=300))
    for field, early, late, modulation, _ in answers[1:]:
        assert np.abs(field.energy - answers[0][0].energy).max() < 1e-5 * field.energy.max()
        assert early == pytest.approx(answers[0][1], rel=1e-4, abs=1e-9)
        assert late == pytest.approx(answers[0][2], rel=1e-4, abs=1e-9)
        assert np.abs(modulation - answers[0][3]).max() < 1e-4 * np.abs(modulation).max()


def test_a_microphone_in_the_ceiling_or_a_wall_or_a_table_can_be_a_root() -> None:
    table = Prism(np.array([[1, 1], [3, 1], [3, 2], [1, 2]], dtype=float), 0.7, 0.75, 9)
    e = room(L_SHAPE, objects=(table,))
    roots = np.array([[2, 2, 2.7], [0, 2, 1.5], [0, 0, 0], [2, 1.5, 0.75], [2, 1.5, 0.72]])
    nearby = np.array([[2, 2, 2.5], [0.2, 2, 1.5], [0.2, 0.2, 0.2], [2, 1.5, 0.95], [2, 1.5, 0.95]])
    here, there = (asked(e, at, ROOTS, rays=5000) for at in (roots, nearby))
    for one, other in zip(here[1:3], there[1:3], strict=True):
        assert np.abs(10.0 * np.log10(one[:, 3] / other[:, 3])).max() < 1.5


# --- Another simulator ----------------------------------------------------------------------


@cache
def drawn(seed: int) -> tuple[Enclosure, Array, Array]:
    """An L whose octaves absorb differently, a talker in one arm, seats hidden in the other."""
    rng = np.random.default_rng(seed)
    x, y, height = rng.uniform([7.0, 6.0, 2.5], [10.0, 9.0, 3.2])
    cut = rng.uniform(0.4, 0.55, 2) * [x, y]
    outline = np.array([[0, 0], [x, 0], [x, cut[1]], [cut[0], cut[1]], [cut[0], y], [0, y]])
    e = Enclosure(
        outline, (), height, tuple("fcabcdef"), rng.uniform(0.1, 0.45, (8, 7)), np.ones(8)
    )
    talker = np.array([[x - 1.0, cut[1] * 0.6, 1.2]])
    seats = rng.uniform([0.4, cut[1] + 1.0, 1.0], [cut[0] - 0.4, y - 0.4, 1.4], (60, 3))
    hidden = ~clear_line(e.walls, np.repeat(talker[:, :2], 60, axis=0), seats[:, :2])
    return e, talker, seats[hidden][:4]


@pytest.mark.parametrize("seed", range(2))
def test_hidden_seats_get_their_energy_when_the_rays_of_a_simulator_say(seed: int) -> None:
    """pyroomacoustics, all scattered: C50 and level of what is reflected, octave by octave."""
    e, talker, seats = drawn(seed)
    assert len(seats) == 4
    _, early, late, _, t0 = asked(e, talker, seats, air=STILL, rays=8000)
    theirs = simulator.rays(e, talker[0], seats, count=6_000, until=1.0, radius=0.1)
    split = np.round((t0 + 0.05) / theirs.step).astype(int)
    pairs = zip(theirs.energy, split, strict=True)
    parts = np.array([(one[:k].sum(axis=0), one[k:].sum(axis=0)) for one, k in pairs])
    early, late = early[:, :7], late[:, :7]
    clarity_db = 10.0 * np.log10(early / late) - 10.0 * np.log10(parts[:, 0] / parts[:, 1])
    level_db = 10.0 * np.log10((early + late) / parts.sum(axis=1))
    assert np.abs(clarity_db).max() <= 1.0  # 1.5 dB would still pass for seats out of sight
    assert np.abs(level_db).max() <= 1.0


def test_transforms_are_what_a_sum_over_bins_says() -> None:
    """The definition by hand, one pair in one region, before the tail."""
    e = room(L_SHAPE)
    field, _, _, modulation, t0 = asked(e, ROOTS[:1], ROOTS[2:])
    regions, weights = field.cells.blend(ROOTS[2:, :2])
    bins = np.einsum("k,kbo->bo", weights[0], field.energy[0, regions[0]])[:, :7]
    delay = np.maximum((np.arange(len(bins)) + 0.5) * 0.002 - t0[0], 0.0)
    by_hand = np.exp(-1j * np.outer(ANGULAR, delay)) @ bins
    level = np.einsum("k,ko->o", weights[0], field.level[0, regions[0]])[:7]
    late = late_of(e)
    past = np.exp(-1j * ANGULAR * (field.horizon - t0[0]))[:, None]
    by_hand += level * past * late.scattered_modulation[round(field.horizon * 1e3), :, :7]
    assert np.abs(modulation[0, :, :7] / by_hand - 1.0).max() < 1e-3
