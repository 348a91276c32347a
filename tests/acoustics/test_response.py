"""The pair engine: what it takes, what the direct sound is, what belongs to which part."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

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
    sources,
)
from wellheard.acoustics import compiled
from wellheard.acoustics.enclosure import Enclosure, box
from wellheard.acoustics.modulation import MODULATION_FREQUENCIES
from wellheard.acoustics.patterns import first_order_pattern, mean_over_sphere
from wellheard.acoustics.response import Pairs, Response, respond

ROOM = box((6.0, 5.0, 3.0), absorption=np.array([0.2, 0.6, 0.1, 0.3, 0.1, 0.2]))
DEAD = box((6.0, 5.0, 3.0), absorption=np.ones(6))
PARTS = ("distance", "direct", "joined", "early", "late", "modulation")


def a_map(room: Enclosure = ROOM, late: Any = None, **how: Any) -> Response:
    at = np.stack(np.meshgrid([1.0, 2.0, 4.5], [0.7, 3.1], [1.2]), axis=-1).reshape(-1, 3)
    return respond(
        room, late or nothing_late(), sources(at, (1.0, 0.0, 0.0), CARDIOID),
        receivers([[3.0, 2.5, 2.9], [5.0, 4.0, 1.0]], CARDIOID), how.pop("pairs", all_pairs(6, 2)),
        speed=SPEED, air=np.full(7, 1e-3), **how,
    )  # fmt: skip


def test_the_direct_sound_takes_both_patterns_in_proportion_between_entries() -> None:
    # A linear pattern has no error in proportion: 1 + cos over 2. Talker at 60° off, microphone at
    # 90°: 3 m apart along x, talker faces (½, √¾, 0), microphone hears up.
    line = np.repeat(0.5 + 0.5 * np.linspace(-1, 1, 513)[:, None], 7, axis=1)
    who = replace(sources([1, 1, 1], (0.5, np.sqrt(0.75), 0)), pattern=line)
    what = replace(receivers([4, 1, 1]), patterns=line[None])
    answer = respond(
        DEAD,
        nothing_late(),
        who,
        what,
        all_pairs(1, 1, (0, 0, 1)),
        speed=SPEED,
        air=np.full(7, 0.1),
    )
    assert answer.direct[0] == pytest.approx(np.full(7, 0.75 * 0.5 / 9 * np.exp(-0.3)), rel=1e-6)
    assert answer.distance[0] == pytest.approx(3.0)


def test_no_distance_counts_as_less_than_5_cm() -> None:
    answer = one_pair(DEAD, (2, 2, 1), (2, 2, 1.01))
    assert answer.direct[0, 0] == pytest.approx(400.0)
    assert answer.distance[0] == pytest.approx(0.01)


def test_the_rooms_mean_is_shared_out_by_time_and_patterns() -> None:
    # Both fields fall by 60 dB in 0.5 s, d = 3.43 m so t₀ = 10 ms, limit 60 ms. Scattered from t₀,
    # mirrored from t₀ + 60 ms on; before 50 ms early. Talker and microphone are cardioids, each
    # takes a third of a diffuse field.
    rate = np.log(1e6) / 0.5
    answer = one_pair(
        DEAD, (1, 2, 1), (4.43, 2, 1), talker=CARDIOID, capsule=CARDIOID,
        late=decaying_late(0.5, 0.9),
    )  # fmt: skip
    from_start, from_50, from_60 = 0.9 * np.exp(-rate * np.array([0.010, 0.060, 0.070])) / 9
    assert answer.early[0] == pytest.approx(np.full(7, from_start - from_50), rel=1e-4)
    assert answer.late[0] == pytest.approx(np.full(7, from_50 + from_60), rel=1e-4)
    turn = 2j * np.pi * np.array(MODULATION_FREQUENCIES)
    expected = (from_start + from_60 * np.exp(-turn * 0.060)) / (1 + turn / rate)
    assert answer.modulation[0, :, 2] == pytest.approx(expected, rel=1e-4)


def test_objects_thin_the_images_out_with_time() -> None:
    late = replace(nothing_late(), clear=np.linspace(1.0, 0.0, 200).astype(np.float32))
    # One image, the floor's, √(2² + 2²) = 2.83 m away: 8.25 ms after it left, in the bin whose
    # middle is t₀ + 2.5 ms with t₀ = 2/343 s. The share of row 5.83 + 2.5 of 199 is gone.
    room = box((6.0, 5.0, 3.0), absorption=np.array([0.0, 1, 1, 1, 1, 1]))
    thinned = one_pair(room, (1, 2, 1), (3, 2, 1), late=late)
    share = 1 - (2 / SPEED * 1000 + 2.5) / 199
    assert thinned.early[0] == pytest.approx(np.full(7, share / 8), rel=1e-5)


class _ByPlace:
    """Scattered energy that is the number of the source plus the height of the microphone."""

    def lookup(self, row: Any, points: Any, t0: Any) -> Any:
        early = np.repeat((row + points[:, 2])[:, None], 8, axis=1)
        modulation = np.repeat((1j * t0)[:, None, None], 14, axis=1).repeat(8, axis=2)
        return early, 2 * early, modulation


def test_scattered_energy_by_place_takes_the_place_of_the_mean() -> None:
    expected = np.repeat(np.arange(6), 2) + np.tile([2.9, 1.0], 6)
    both = decaying_late(0.5, 0.9)
    none = replace(
        both,
        scattered_energy=np.zeros_like(both.scattered_energy),
        scattered_modulation=np.zeros_like(both.scattered_modulation),
    )
    mirrored, placed = a_map(late=none), a_map(late=both, resolved=_ByPlace())
    for name, times in (("early", 1), ("late", 2)):
        more = getattr(placed, name) - getattr(mirrored, name)
        assert more == pytest.approx(np.repeat(times * expected[:, None] / 9, 7, axis=1), rel=1e-5)
    more = placed.modulation - mirrored.modulation
    assert more[:, 3, 3] == pytest.approx(1j * placed.distance / SPEED / 9, abs=1e-6)
    assert placed.joined == pytest.approx(mirrored.joined)


@pytest.mark.parametrize("kernel", ["numpy", "compiled"])
def test_no_pair_gives_an_empty_answer_and_one_pair_its_own(kernel: compiled.Kernel) -> None:
    if kernel == "compiled" and compiled.missing():
        pytest.skip(compiled.missing())
    every = all_pairs(6, 2)
    with compiled.using(kernel):
        whole = a_map()
        for chosen in ([], [7], [11, 0, 0]):
            some = Pairs(*(getattr(every, name)[chosen] for name in vars(every)))
            answer = a_map(pairs=some)
            for name in PARTS:
                assert getattr(answer, name).shape == getattr(whole, name)[chosen].shape
                assert getattr(answer, name) == pytest.approx(getattr(whole, name)[chosen])


@pytest.mark.parametrize("kernel", ["numpy", "compiled"])
def test_arrays_may_lie_in_memory_as_they_like(kernel: compiled.Kernel) -> None:
    if kernel == "compiled" and compiled.missing():
        pytest.skip(compiled.missing())
    every = all_pairs(6, 2)
    spread = Pairs(
        row=np.repeat(every.row, 3)[::3].astype(np.int32),
        column=np.repeat(every.column, 2)[::2].astype(np.int16),
        axis=np.asfortranarray(every.axis) * 2.5,  # of any length
        pattern=every.pattern[::-1],
        upper_only=np.repeat(every.upper_only, 2)[::2],
    )
    with compiled.using(kernel):
        plain, other = a_map(), a_map(pairs=spread)
    for name in PARTS:
        assert np.array_equal(getattr(plain, name), getattr(other, name)), name


@pytest.mark.skipif(bool(compiled.missing()), reason="no C compiler was there")
@pytest.mark.parametrize("threads", [2, 3, 50])
def test_threads_change_nothing(threads: int) -> None:
    late = decaying_late(0.4, 0.05)
    one, many = a_map(late=late), a_map(late=late, threads=threads)
    for name in PARTS:
        assert np.array_equal(getattr(one, name), getattr(many, name)), name


@pytest.mark.parametrize("kernel", ["numpy", "compiled"])
def test_a_box_with_a_bend_of_no_degrees_in_a_wall_sounds_the_same(kernel: compiled.Kernel) -> None:
    # The same room through the engine for any plan: a fifth corner in the middle of a wall.
    if kernel == "compiled" and compiled.missing():
        pytest.skip(compiled.missing())
    bent = replace(
        ROOM,
        outline=np.insert(ROOM.outline, 1, [2.5, 0.0], axis=0),
        names=(*ROOM.names, "more"),
        absorption=np.insert(ROOM.absorption, 2, ROOM.absorption[2], axis=0),
        scattering=np.zeros(7),
    )
    assert not bent.is_box
    late = decaying_late(0.4, 0.05)
    with compiled.using(kernel):
        straight, other = a_map(late=late), a_map(bent, late)
    for name in ("direct", "joined", "early", "late"):
        assert getattr(other, name) == pytest.approx(getattr(straight, name), rel=2e-3), name
    assert np.abs(other.modulation - straight.modulation).max() < 1e-4 * straight.early.max()


def test_a_wall_between_talker_and_microphone_takes_the_direct_sound() -> None:
    outline = np.array([[0, 0], [6, 0], [6, 2], [2, 2], [2, 5], [0, 5]], dtype=np.float64)
    room = Enclosure(outline, (), 3.0, ("",) * 8, np.ones((8, 7)), np.zeros(8))
    assert not one_pair(room, (5, 1, 1.2), (1, 4.5, 1.2)).direct.any()
    assert one_pair(room, (5, 1, 1.2), (1, 1, 1.2)).direct[0] == pytest.approx(np.full(7, 1 / 16))


@pytest.mark.parametrize(
    ("pairs", "said"),
    [
        (replace(all_pairs(1, 1), row=np.array([6])), "source"),
        (replace(all_pairs(1, 1), column=np.array([-1])), "microphone"),
        (replace(all_pairs(1, 1), pattern=np.array([1])), "pattern"),
    ],
)
def test_a_pair_that_names_nothing_is_refused_before_any_memory_is_touched(
    pairs: Pairs, said: str
) -> None:
    with pytest.raises(ValueError, match=f"names a {said} that is not there"):
        a_map(pairs=pairs)


def test_patterns_of_different_lengths_and_limits_of_nothing_are_refused() -> None:
    short = first_order_pattern(0.5)[::2]
    what = replace(
        receivers([3, 2, 2]), patterns=short[None], diffuse=mean_over_sphere(short)[None]
    )
    with pytest.raises(ValueError, match="513 entries, those of the microphones have 257"):
        respond(
            ROOM, nothing_late(), sources([1, 1, 1]), what, all_pairs(1, 1), speed=SPEED,
            air=np.zeros(7),
        )  # fmt: skip
    with pytest.raises(ValueError, match="a limit of 0"):
        a_map(limit=0.0)
