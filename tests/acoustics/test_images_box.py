"""Image sources of a box against hand calculations and an enumeration of our own."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from tests.acoustics.rooms import (
    CARDIOID,
    SPEED,
    all_pairs,
    decaying_late,
    nothing_late,
    one_pair,
    receivers,
    reflected_energy,
    sources,
)
from wellheard.acoustics import compiled
from wellheard.acoustics.decay_table import decay_table
from wellheard.acoustics.enclosure import Enclosure, Patch, box
from wellheard.acoustics.indices import indices
from wellheard.acoustics.late import late_tables
from wellheard.acoustics.modulation import MODULATION_FREQUENCIES
from wellheard.acoustics.rays import advised_length, trace
from wellheard.acoustics.response import Response, respond
from wellheard.arrays import Array

KERNELS = ("numpy", "compiled", "plain")
FLOOR, CEILING, SOUTH, EAST, NORTH, WEST = range(6)


@pytest.fixture(params=KERNELS)
def kernel(request: pytest.FixtureRequest) -> Iterator[str]:
    """The numpy twin, and the kernel with and without AVX2."""
    if request.param != "numpy" and compiled.missing():
        pytest.skip(compiled.missing())
    with compiled.using(request.param):
        yield request.param


def only(
    surface: int, alpha: float, size: tuple[float, float, float] = (5.0, 4.0, 3.0)
) -> Enclosure:
    """A box of which one surface reflects."""
    absorption = np.ones(6)
    absorption[surface] = alpha
    return box(size, absorption=absorption)


# By hand: source 1, 1, 1 and microphone 4, 3, 2 in a room of 5 × 4 × 3 m. The image in a surface
# keeps two coordinates; the squares of the distances are sums of three small squares.
SOURCE, MICROPHONE = (1.0, 1.0, 1.0), (4.0, 3.0, 2.0)
FIRST_ORDER = {
    FLOOR: 9 + 4 + 9,  # image at z = −1
    CEILING: 9 + 4 + 9,  # z = 5
    SOUTH: 9 + 16 + 1,  # y = −1
    EAST: 25 + 4 + 1,  # x = 9
    NORTH: 9 + 16 + 1,  # y = 7
    WEST: 25 + 4 + 1,  # x = −1
}


@pytest.mark.parametrize("surface", FIRST_ORDER)
def test_a_single_reflection_is_that_of_its_image(kernel: str, surface: int) -> None:
    answer = one_pair(only(surface, 0.3), SOURCE, MICROPHONE)
    assert reflected_energy(answer)[0] == pytest.approx(np.full(7, 0.7 / FIRST_ORDER[surface]))
    assert answer.direct[0] == pytest.approx(np.full(7, 1 / 14))


def test_two_parallel_surfaces_give_the_flutter_between_them(kernel: str) -> None:
    # Floor and ceiling only, 3 m apart; mirrored in turn the source at 1 m comes to these heights
    # as long as the distance, √(9 + 4 + (z − 2)²), is less than √14 + 343 · 0.06 m = 24.32 m.
    room = box((5.0, 4.0, 3.0), absorption=np.array([0.2, 0.4, 1, 1, 1, 1]))
    floor_first, ceiling_first = (-1, 7, -7, 13, -13, 19, -19, 25), (5, -5, 11, -11, 17, -17, 23)
    expected = 0.0
    for order, z in enumerate(floor_first, 1):
        expected += 0.8 ** ((order + 1) // 2) * 0.6 ** (order // 2) / (13 + (z - 2) ** 2)
    for order, z in enumerate(ceiling_first, 1):
        expected += 0.6 ** ((order + 1) // 2) * 0.8 ** (order // 2) / (13 + (z - 2) ** 2)
    answer = one_pair(room, SOURCE, MICROPHONE)
    assert reflected_energy(answer)[0, 0] == pytest.approx(expected, rel=1e-6)


def test_scattered_energy_leaves_the_images(kernel: str) -> None:
    room = replace(only(FLOOR, 0.3), scattering=np.full(6, 0.4))
    answer = one_pair(room, SOURCE, MICROPHONE)
    assert reflected_energy(answer)[0] == pytest.approx(np.full(7, 0.7 * 0.6 / 22))


def test_air_takes_its_share_up_to_the_middle_of_the_millisecond(kernel: str) -> None:
    air = np.array([0.0, 1e-4, 1e-3, 3e-3, 1e-2, 2e-2, 5e-2])
    answer = one_pair(only(FLOOR, 0.0), SOURCE, MICROPHONE, air=air)
    exact = np.exp(-air * np.sqrt(22)) / 22
    at_most = np.exp(air * SPEED * 0.0005) - 1  # half a bin of path
    assert np.all(np.abs(reflected_energy(answer)[0] / exact - 1) <= at_most + 1e-6)
    assert answer.direct[0] == pytest.approx(np.exp(-air * np.sqrt(14)) / 14)


def test_a_talker_is_heard_at_the_angle_of_departure(kernel: str) -> None:
    # Source and microphone 1 m above the floor, 2 m apart: the reflection leaves 45° down. A
    # cardioid talker who looks down at 45° towards it is heard from the front, (½ + ½·1)² = 1; one
    # who looks straight up has cos = −√½.
    room, source, microphone = only(FLOOR, 0.0), (1.0, 2.0, 1.0), (3.0, 2.0, 1.0)
    for facing, cosine in (
        ((1, 0, -1), 1.0),
        ((0, 0, 1), -np.sqrt(0.5)),
        ((1, 0, 0), np.sqrt(0.5)),
    ):
        answer = one_pair(room, source, microphone, facing=facing, talker=CARDIOID)
        energy = (0.5 + 0.5 * cosine) ** 2 / 8
        # The nearest of 513 entries is up to 1/512 in the cosine away.
        assert reflected_energy(answer)[0, 0] == pytest.approx(energy, abs=1e-3 / 8)


def test_a_microphone_hears_at_the_angle_of_arrival(kernel: str) -> None:
    room, source, microphone = only(FLOOR, 0.0), (1.0, 2.0, 1.0), (3.0, 2.0, 1.0)
    for axis, cosine in (
        ((-1, 0, -1), 1.0),
        ((0, 0, 1), -np.sqrt(0.5)),
        ((-1, 0, 0), np.sqrt(0.5)),
    ):
        answer = one_pair(room, source, microphone, axis=axis, capsule=CARDIOID)
        energy = (0.5 + 0.5 * cosine) ** 2 / 8
        assert reflected_energy(answer)[0, 0] == pytest.approx(energy, abs=1e-3 / 8)


@pytest.mark.parametrize(
    ("turn", "back"), [(EAST, (1, 0, 0)), (NORTH, (0, 1, 0)), (CEILING, (0, 0, 1))]
)
def test_a_wall_in_front_of_a_talker_throws_his_front_back(
    kernel: str, turn: int, back: tuple[int, int, int]
) -> None:
    # Source and microphone at one place, talker and microphone both towards the wall: both hear
    # their front, and the same with both turned round hears nothing.
    room, place = only(turn, 0.0, (4.0, 4.0, 4.0)), (2.0, 2.0, 2.0)
    towards = one_pair(
        room, place, place, facing=back, axis=back, talker=CARDIOID, capsule=CARDIOID
    )
    away = one_pair(
        room, place, place, facing=np.negative(back), axis=np.negative(back),
        talker=CARDIOID, capsule=CARDIOID,
    )  # fmt: skip
    assert reflected_energy(towards)[0, 0] == pytest.approx(1 / 16)
    assert reflected_energy(away)[0, 0] == pytest.approx(0.0, abs=1e-9)


def lattice(
    size: Array, absorption: Array, source: Array, microphone: Array, limit: float
) -> tuple[Array, Array]:
    """Distances and energies of all images, as equations (10)–(12) of Allen and Berkley (1979).

    ``absorption`` of x = 0, x = L, y = 0, y = W, floor, ceiling. Written without the code under
    test: a full enumeration of mirror and translation in three dimensions.
    """
    left = 1.0 - absorption
    reach = np.linalg.norm(source - microphone) + limit
    most = (np.ceil(reach / (2 * size)) + 1).astype(int)
    distances, energies = [], []
    for m in itertools.product(*(range(-n, n + 1) for n in most)):
        for mirrored in itertools.product((0, 1), repeat=3):
            place = [
                (1 - 2 * q) * s + 2 * n * length
                for q, s, n, length in zip(mirrored, source, m, size, strict=True)
            ]
            d = float(np.linalg.norm(np.array(place) - microphone))
            if (not any(m) and not any(mirrored)) or d >= reach:
                continue
            energy = 1.0 / d**2
            for axis in range(3):
                energy *= left[2 * axis] ** abs(m[axis] - mirrored[axis])
                energy *= left[2 * axis + 1] ** abs(m[axis])
            distances.append(d)
            energies.append(energy)
    return np.array(distances), np.array(energies)


@pytest.mark.parametrize("seed", range(6))
def test_energy_is_that_of_the_whole_lattice(kernel: str, seed: int) -> None:
    rng = np.random.default_rng(seed)
    size = rng.uniform([2.5, 2.0, 2.2], [9.0, 7.0, 4.0])
    source, microphone = rng.uniform(0.05, 0.95, (2, 3)) * size
    walls = rng.uniform(0.02, 0.7, 6)  # west, east, south, north, floor, ceiling
    room = box(tuple(size), absorption=walls[[4, 5, 2, 1, 3, 0]])
    distances, energies = lattice(size, walls, source, microphone, 0.060 * SPEED)
    answer = one_pair(room, source, microphone)

    time = (distances - np.linalg.norm(source - microphone)) / SPEED
    parts = (time < 0.001), (time >= 0.001) & (time < 0.050), time >= 0.050
    for found, part in zip((answer.joined, answer.early, answer.late), parts, strict=True):
        assert found[0, 3] == pytest.approx(energies[part].sum(), rel=1e-5)
    # Bins of 1 ms move no arrival by more than half of one: |Δφ| ≤ 2πF · 0.5 ms.
    for f, frequency in enumerate(MODULATION_FREQUENCIES):
        exact = (energies * np.exp(-2j * np.pi * frequency * time))[time >= 0.001].sum()
        bound = 2 * np.pi * frequency * 0.0005 * energies[time >= 0.001].sum()
        assert abs(answer.modulation[0, f, 3] - exact) <= bound + 1e-6 * energies.sum()


def test_source_and_microphone_change_places(kernel: str) -> None:
    # Reciprocity of omnidirectional ends (Kuttruff, Room Acoustics).
    rng = np.random.default_rng(1)
    room = box((6.0, 5.0, 3.0), absorption=rng.uniform(0.05, 0.6, 6))
    for a, b in rng.uniform(0.1, 0.9, (5, 2, 3)) * [6.0, 5.0, 3.0]:
        there, back = one_pair(room, a, b), one_pair(room, b, a)
        for name in ("joined", "early", "late", "direct"):
            assert getattr(there, name) == pytest.approx(getattr(back, name), rel=1e-4)


@pytest.mark.parametrize(
    ("source", "microphone"),
    [
        ((0.0, 2.0, 1.2), (2.0, 2.0, 3.0)),
        ((0.0, 0.0, 0.0), (0.0, 0.0, 0.0)),
        ((5.0, 4.0, 3.0), (0.0, 0.0, 0.0)),
        ((2.0, 2.0, 1.2), (2.0, 2.0, 1.2)),
        ((2.0, 4.0, 1.2), (2.0, 4.0, 1.2)),
    ],
)
def test_places_on_surfaces_and_on_each_other_stay_finite(
    kernel: str, source: tuple[float, float, float], microphone: tuple[float, float, float]
) -> None:
    room = box((5.0, 4.0, 3.0), absorption=np.full(6, 0.2))
    answer = one_pair(room, source, microphone, talker=CARDIOID, capsule=CARDIOID)
    for name in ("direct", "joined", "early", "late", "modulation"):
        assert np.all(np.isfinite(getattr(answer, name))), name
    # Nothing counts as nearer than 5 cm, 400 times the energy at 1 m; in a corner eight of them.
    assert reflected_energy(answer).max() < 9 * 400


def test_a_microphone_in_a_hard_ceiling_hears_twice_the_energy_at_once(kernel: str) -> None:
    # Its image in the ceiling is the talker's own distance away: an energy of 2, joined. (Pressure
    # doubling would make it 4; energies are not added in phase.)
    answer = one_pair(only(CEILING, 0.0), (1.0, 1.0, 1.2), (3.0, 2.0, 3.0))
    assert answer.joined == pytest.approx(answer.direct)
    assert not answer.early.any()


def test_a_microphone_in_a_table_takes_nothing_from_below(kernel: str) -> None:
    floor, ceiling = only(FLOOR, 0.0), only(CEILING, 0.0)
    place = (1.0, 1.0, 1.2), (3.0, 2.0, 0.75)
    assert reflected_energy(one_pair(floor, *place)).all()
    assert not reflected_energy(one_pair(floor, *place, upper_only=True)).any()
    heard = reflected_energy(one_pair(ceiling, *place, upper_only=True))
    assert heard == pytest.approx(reflected_energy(one_pair(ceiling, *place)))
    level = (1.0, 1.0, 0.75), (3.0, 2.0, 0.75)
    assert reflected_energy(one_pair(only(WEST, 0.0), *level, upper_only=True)).all()
    below = one_pair(ceiling, (1.0, 1.0, 0.5), (3.0, 2.0, 0.75), upper_only=True)
    assert not below.direct.any()


def with_panel(room: Enclosure, wall: int, span: tuple[float, float, float, float]) -> Enclosure:
    """The room with a panel that absorbs all, on one wall."""
    return replace(
        room,
        names=(*room.names, "panel"),
        absorption=np.vstack([room.absorption, np.ones(7)]),
        scattering=np.append(room.scattering, 0.0),
        patches=(Patch(wall - 2, *span, surface=6),),
    )


# Both 1 m from the wall and 1.5 m high: the first reflection is half-way between them. "Along" runs
# with the room on the left: south with x, east with y, north against x, west against y.
BESIDE_WALLS = {
    SOUTH: ((1.0, 1.0, 1.5), (3.0, 1.0, 1.5), 2.0),
    EAST: ((4.0, 0.5, 1.5), (4.0, 2.5, 1.5), 1.5),
    NORTH: ((1.0, 3.0, 1.5), (2.0, 3.0, 1.5), 3.5),
    WEST: ((1.0, 0.5, 1.5), (1.0, 1.5, 1.5), 3.0),
}


@pytest.mark.parametrize("wall", BESIDE_WALLS)
def test_a_panel_takes_the_first_reflection_that_meets_it_and_no_other(
    kernel: str, wall: int
) -> None:
    source, microphone, along = BESIDE_WALLS[wall]
    bare = only(wall, 0.2)
    plain = reflected_energy(one_pair(bare, source, microphone))
    met = with_panel(bare, wall, (along - 0.3, along + 0.3, 1.2, 1.8))
    assert not reflected_energy(one_pair(met, source, microphone)).any()
    for beside in ((along + 0.1, along + 0.5, 1.2, 1.8), (along - 0.3, along + 0.3, 1.6, 2.2)):
        missed = with_panel(bare, wall, beside)
        assert reflected_energy(one_pair(missed, source, microphone)) == pytest.approx(plain)


def test_later_reflections_meet_a_wall_by_its_mean(kernel: str) -> None:
    # South and north only; the second order off both, north first, is 2·4 m away in y.
    absorption = np.array([1, 1, 0.2, 1, 0.0, 1])
    bare = box((5.0, 4.0, 3.0), absorption=absorption)
    source, microphone = (1.0, 1.0, 1.5), (3.0, 1.0, 1.5)
    panel = with_panel(bare, SOUTH, (0.0, 2.5, 0.0, 3.0))  # half of it, and the first reflection
    # Energies by order from y: images at −1 (south), 7 (north), 9 and −7 (both), …; up to 22.58 m.
    mean, expected = 0.5 * 0.8, 1.0 / (4 + 36)
    for k in range(1, 4):
        expected += 2 * mean**k / (4 + (8 * k) ** 2) if 8 * k < 22.5 else 0.0
        expected += mean ** (k + 1) / (4 + (8 * k + 2) ** 2) if 8 * k + 2 < 22.5 else 0.0
        expected += mean**k / (4 + (8 * k + 6) ** 2) if 8 * k + 6 < 22.5 else 0.0
    found = reflected_energy(one_pair(panel, source, microphone))[0, 0]
    assert found == pytest.approx(expected, rel=1e-6)


def turned(room: Enclosure, angle: float, shift: tuple[float, float]) -> Enclosure:
    c, s = np.cos(angle), np.sin(angle)
    return replace(room, outline=room.outline @ np.array([[c, s], [-s, c]]) + shift)


def test_a_turned_box_sounds_as_one_that_is_not(kernel: str) -> None:
    rng = np.random.default_rng(3)
    room = with_panel(
        box((6.0, 4.5, 2.8), absorption=rng.uniform(0.05, 0.5, 6)), EAST, (1.0, 3.0, 0.5, 2.0)
    )
    at = rng.uniform(0.1, 0.9, (8, 3)) * [6.0, 4.5, 2.8]
    mic = rng.uniform(0.1, 0.9, (3, 3)) * [6.0, 4.5, 2.8]
    ways = rng.normal(size=(8, 3))
    plain = respond(
        room, nothing_late(), sources(at, ways, CARDIOID), receivers(mic, CARDIOID),
        all_pairs(8, 3, (1.0, 0.0, -1.0)), speed=SPEED, air=np.zeros(7),
    )  # fmt: skip
    angle, shift = 0.7, (-3.0, 11.0)
    turn = np.array(
        [[np.cos(angle), np.sin(angle), 0], [-np.sin(angle), np.cos(angle), 0], [0, 0, 1]]
    )
    move = np.array([*shift, 0.0])
    other = turned(room, angle, shift)
    assert other.is_box
    again = respond(
        other, nothing_late(), sources(at @ turn + move, ways @ turn, CARDIOID),
        receivers(mic @ turn + move, CARDIOID),
        all_pairs(8, 3, np.array([1.0, 0.0, -1.0]) @ turn), speed=SPEED, air=np.zeros(7),
    )  # fmt: skip
    total = plain.direct + reflected_energy(plain)
    assert again.direct == pytest.approx(plain.direct, rel=1e-6)
    assert np.abs(reflected_energy(again) - reflected_energy(plain)).max() < 2e-3 * total.min()


def random_room(seed: int) -> tuple[Response, Array]:
    """Response of a random room with everything that there is, and its transmission index."""
    rng = np.random.default_rng(seed)
    size = rng.uniform([2.5, 2.5, 2.3], [12.0, 9.0, 4.5])
    absorption = rng.uniform(0.03, 0.9, (6, 7))
    room = replace(box(tuple(size), absorption=absorption), scattering=rng.uniform(0.0, 0.5, 6))
    room = turned(
        with_panel(room, int(rng.integers(2, 6)), (0.3, 1.7, 0.4, 2.0)), rng.uniform(0, 6), (2, 3)
    )
    x, y = (room.outline[i] - room.outline[0] for i in (1, 3))
    shares = rng.uniform(0.02, 0.98, (53, 3))
    points = np.column_stack(
        [room.outline[0] + shares[:, :1] * x + shares[:, 1:2] * y, shares[:, 2] * size[2]]
    )
    pairs = all_pairs(50, 3)
    pairs = replace(
        pairs, axis=rng.normal(size=(150, 3)), upper_only=rng.integers(0, 2, 150).astype(bool)
    )
    late = replace(
        decaying_late(float(rng.uniform(0.2, 1.2)), 0.02),
        clear=np.exp(-np.arange(1500) / rng.uniform(10, 90)).astype(np.float32),
    )
    answer = respond(
        room, late, sources(points[:50], rng.normal(size=(50, 3)), 0.6),
        receivers(points[50:], CARDIOID), pairs, speed=SPEED,
        air=np.geomspace(1e-4, 2e-2, 7), limit=float(rng.uniform(0.02, 0.08)),
    )  # fmt: skip
    sti = indices(answer.direct + answer.joined, answer.early + answer.late, answer.modulation)[1]
    return answer, sti


@pytest.mark.skipif(bool(compiled.missing()), reason="no C compiler was there")
@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("fast", ["compiled", "plain"])
def test_the_kernel_says_what_its_twin_says(fast: compiled.Kernel, seed: int) -> None:
    with compiled.using("numpy"):
        twin, index = random_room(seed)
    with compiled.using(fast):
        quick, other = random_room(seed)
    all_of_it = reflected_energy(twin)
    assert np.abs(other - index).max() < 1e-4
    # A rounding error may move a cosine to the next of 513 entries, or an arrival to the next bin.
    for name in ("joined", "early", "late", "direct"):
        apart = np.abs(getattr(quick, name) - getattr(twin, name)) / all_of_it
        assert np.median(apart) < 1e-6, name
        assert np.quantile(apart, 0.99) < 1e-4, name
    apart = np.abs(quick.modulation - twin.modulation) / all_of_it[:, None, :]
    assert np.quantile(apart, 0.99) < 1e-4


def test_any_limit_gives_the_same_answer(kernel: str) -> None:
    # What images leave out the room's mean brings: specular from the limit on, scattered from the
    # direct sound on. An uneven room with scattering, where counting twice would show.
    if kernel == "plain":
        pytest.skip("the same as compiled")
    absorption = np.array([0.3, 0.6, 0.05, 0.05, 0.05, 0.05])
    room = box((8.0, 6.0, 3.0), absorption=absorption, scattering=0.3)
    flights = trace(room, rays=4000, length=advised_length(room), seed=1)
    table = decay_table(flights, room.absorption, speed=SPEED)
    late = late_tables(table, volume=room.volume, speed=SPEED, air=np.zeros(7))
    rng = np.random.default_rng(0)
    at = rng.uniform([0.5, 0.5, 1.1], [7.5, 5.5, 1.3], (30, 3))
    mic = rng.uniform([1, 1, 2.5], [7, 5, 2.95], (3, 3))
    found = []
    for limit in (0.020, 0.040, 0.060, 0.080):
        answer = respond(
            room, late, sources(at), receivers(mic), all_pairs(30, 3),
            speed=SPEED, air=np.zeros(7), limit=limit,
        )  # fmt: skip
        near, far = answer.direct + answer.joined, answer.early + answer.late
        c50 = 10 * np.log10((near + answer.early) / answer.late)
        found.append((indices(near, far, answer.modulation)[1], c50[:, 3], (near + far)[:, 3]))
    for sti, c50, energy in found:
        assert np.abs(sti - found[2][0]).max() < 0.012
        assert np.abs(c50 - found[2][1]).mean() < 0.15
        assert np.abs(10 * np.log10(energy / found[2][2])).mean() < 0.1


def test_a_hall_of_300_m_has_no_more_images_than_a_room(kernel: str) -> None:
    # 4π/3·R³/V with R = 345 + 21 m in 300 × 300 × 3 m is 760; fewer lie near one corner.
    room = box((300.0, 300.0, 3.0), absorption=np.full(6, 0.1))
    answer = one_pair(room, (5.0, 5.0, 1.2), (250.0, 245.0, 2.9))
    distances, energies = lattice(
        np.array([300.0, 300.0, 3.0]), np.full(6, 0.1), np.array([5.0, 5.0, 1.2]),
        np.array([250.0, 245.0, 2.9]), 0.060 * SPEED,
    )  # fmt: skip
    assert len(distances) < 760
    assert reflected_energy(answer)[0, 0] == pytest.approx(energies.sum(), rel=1e-5)
