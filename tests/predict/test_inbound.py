"""What ears hear of loudspeakers, against textbooks: free field, diffuse field, echoes, arrivals.

References: inverse square law and air after ISO 9613-1:1993 [L]; steady field of a room, Bies,
Hansen & Howard [L]; full method of IEC 60268-16:2020 [L]; the crest and power of speech from a
handbook's working [L]. Rooms and devices are invented.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.predict import inbound, promises
from wellheard.predict.inbound import playback
from wellheard.predict.loudspeakers import ears, placed_loudspeakers, played
from wellheard.predict.scene import Scene, build
from wellheard.predict.wayback import Playback
from wellheard.room.document import Room

SceneOf = Callable[[dict[str, Any]], Scene]

NORMAL_DB = (49.0, 57.23, 59.75, 53.49, 48.8, 43.81, 38.61)
"""Speech at normal effort, ANSI S3.5-1997 [L]; 125 Hz is common practice [C]."""

MODULATIONS = (0.63, 0.8, 1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0, 10.0, 12.5)
SPEED = 343.2  # at 20 °C, ISO 9613-1 [L]


def loudspeaker(*at: float, product: str = "wall-8") -> dict[str, Any]:
    return {"kind": "loudspeaker", "product": product, "at": list(at)}


def dead(
    dead_room_of: SceneOf,
    devices: dict[str, Any],
    seats: dict[str, list[float]],
    **over: Any,
) -> Playback:
    """What is heard in a large room without reflections, heads at 1.2 m."""
    people: dict[str, Any] = {"seats": {"s1": "absent"}}
    people["seats"] |= {name: {"at": at, "facing": 0} for name, at in seats.items()}
    found = playback(dead_room_of({"people": people, "devices": devices, **over}))
    assert found is not None
    return found


def test_twice_the_distance_is_six_decibels_and_air(dead_room_of: SceneOf, oracle: Any) -> None:
    found = dead(dead_room_of, {"l1": loudspeaker(4, 8, 1.2)}, {"near": [6, 8], "far": [8, 8]})
    fell = np.subtract(found.row("near").levels_db, found.row("far").levels_db)
    wanted = [20 * math.log10(2) + 10 * math.log10(math.e) * m * 2.0 for m in oracle.air()]
    np.testing.assert_allclose(fell, wanted, atol=0.05)


def test_four_equal_loudspeakers_are_six_decibels_louder_than_one(dead_room_of: SceneOf) -> None:
    # n incoherent equal contributions: + 10 lg n
    corners = {"a": (6, 6), "b": (10, 6), "c": (10, 10), "d": (6, 10)}
    every = {name: loudspeaker(*at, 1.2) for name, at in corners.items()}
    one = dead(dead_room_of, {"a": every["a"]}, {"s1": [8, 8]})
    four = dead(dead_room_of, every, {"s1": [8, 8]})
    assert one.level_1m_dba - four.level_1m_dba == pytest.approx(10 * math.log10(4), abs=0.02)


def test_the_level_before_the_loudspeaker_is_that_of_the_inverse_square_law(
    dead_room_of: SceneOf,
) -> None:
    # 70 dBA wanted at 4 m: 12.04 dB more at 1 m, and what air takes of speech in 3 m, below 0.1 dB
    found = dead(dead_room_of, {"l1": loudspeaker(4, 8, 1.2)}, {"s1": [8, 8]})
    assert found.mean_dba == pytest.approx(70.0, abs=0.01)
    assert found.level_1m_dba == pytest.approx(82.04, abs=0.1)


def test_the_mean_that_playback_is_set_to_is_one_of_energies(dead_room_of: SceneOf) -> None:
    found = dead(dead_room_of, {"l1": loudspeaker(4, 8, 1.2)}, {"near": [5, 8], "far": [12, 8]})
    energies = [10 ** (row.level.value / 10) for row in found.rows]
    assert 10 * math.log10(sum(energies) / 2) == pytest.approx(70.0, abs=0.01)


@pytest.mark.parametrize(("stated", "mean"), [(66.0, 66.0), (None, 70.0)])
def test_playback_is_set_to_the_promise_or_the_usual_level(
    stated: float | None, mean: float, dead_room_of: SceneOf
) -> None:
    found = dead(
        dead_room_of,
        {"l1": loudspeaker(4, 8, 1.2)},
        {"s1": [8, 8]},
        targets={"playback_level_dba": stated},
    )
    assert (found.target_dba, round(found.mean_dba, 2)) == (mean, mean)


@pytest.mark.parametrize("late_ms", [0.0, 25.0, 60.0, 120.0])
def test_sti_of_two_arrivals_is_that_of_their_two_impulses(
    late_ms: float, dead_room_of: SceneOf, oracle: Any
) -> None:
    # Two impulses e₁ and e₂, τ apart: |e₁ + e₂ e^(−j2πFτ)| / (e₁ + e₂), then noise and hearing.
    stages = {"late": {"kind": "delay", "on": "b.in", "delay_ms": late_ms}}
    found = dead(
        dead_room_of,
        {"a": loudspeaker(5, 8, 1.2), "b": loudspeaker(8, 12.5, 1.2)},
        {"s1": [8, 8]},
        processing=stages,
    )
    first, second = oracle.direct(3.0, None, 1.0), oracle.direct(4.5, None, 1.0)
    apart = 1.5 / SPEED + late_ms / 1000
    transfer = [
        [abs(e + f * np.exp(-2j * np.pi * rate * apart)) / (e + f) for rate in MODULATIONS]
        for e, f in zip(first, second, strict=True)
    ]
    arrives = [s + 10 * math.log10(e + f) for s, e, f in zip(NORMAL_DB, first, second, strict=True)]
    gain = 70.0 - oracle.a_weighted(arrives)
    wanted = oracle.sti(transfer, [a + gain for a in arrives], oracle.nc(25))
    row = found.row("s1")
    assert row.sti.value == pytest.approx(wanted, abs=0.002)
    assert [one.loudspeaker for one in row.arrivals] == ["a", "b"]
    assert row.arrivals[1].time - row.arrivals[0].time == pytest.approx(apart, abs=1e-5)


def test_the_field_of_a_plain_room_is_that_of_its_room_constant(
    room_of: Callable[..., Room], omnidirectional: Catalogue
) -> None:
    # 6.0 × 5.0 × 4.0 m, every surface 0.2: S = 148 m², R = S·ᾱ/(1−ᾱ) = 37.0 m²;
    # L − L(1 m) = 10 lg(1/r² + 16π/R), within what a bare box does to it (1.3 dB)
    even = {"absorption": dict.fromkeys((125, 250, 500, 1000, 2000, 4000, 8000), 0.2)}
    room = room_of(
        {
            "space": {
                "outline": [[0, 0], [6, 0], [6, 5], [0, 5]],
                "height": 4.0,
                "finishes": {"floor": even, "ceiling": even, "walls": even},
            },
            "people": {"seats": {"s1": {"at": [4.2, 3.1], "facing": 0}}},
            "devices": {"l1": loudspeaker(1.4, 1.3, 2.1)},
        }
    )
    found = playback(build(room, omnidirectional))
    assert found is not None
    (row,) = found.rows
    distance = math.dist((1.4, 1.3, 2.1), (4.2, 3.1, 1.2))
    wanted = 10 * math.log10(1 / distance**2 + 16 * math.pi / 37.0)
    at_500 = row.levels_db[2] - found.speech_1m_db[2]
    at_1k = row.levels_db[3] - found.speech_1m_db[3]
    assert at_500 == pytest.approx(wanted, abs=1.3)
    assert at_1k == pytest.approx(wanted, abs=1.3)


@pytest.fixture(scope="module")
def omnidirectional(catalogue: Catalogue) -> Catalogue:
    """Every loudspeaker of it radiates alike in all directions."""
    return replace(
        catalogue,
        loudspeakers=tuple(
            replace(one, angle_deg=360.0, polar=None, drops=()) for one in catalogue.loudspeakers
        ),
    )


def test_source_and_ear_change_places_and_nothing_is_heard_of_it(
    room_of: Callable[..., Room], omnidirectional: Catalogue
) -> None:
    # reciprocity of an omnidirectional source and receiver, in a furnished room that is not square
    devices = {"a": loudspeaker(1.2, 0.9, 1.7), "b": loudspeaker(4.7, 3.3, 1.1)}
    scene = build(room_of({"devices": devices}), omnidirectional)
    a, b = placed_loudspeakers(scene.room, scene.catalogue, scene.talkers)
    there = played(scene, [a], ears(np.array([b.at])))
    back = played(scene, [b], ears(np.array([a.at])))
    for name in ("direct", "early", "late"):
        np.testing.assert_allclose(getattr(there, name), getattr(back, name), rtol=1e-3)


def test_a_trim_moves_its_own_loudspeaker_alone(dead_room_of: SceneOf) -> None:
    devices = {"a": loudspeaker(5, 8, 1.2), "b": loudspeaker(11, 8, 1.2)}
    trim = {"down": {"kind": "gain", "on": "b.in", "gain_db": -6.0}}
    found = dead(dead_room_of, devices, {"s1": [8, 8]}, processing=trim)
    a, b = sorted(found.row("s1").arrivals, key=lambda one: one.loudspeaker)
    assert a.level_dba - b.level_dba == pytest.approx(6.0, abs=0.01)
    louder, softer = found.drives
    assert louder.level_1m_dba - softer.level_1m_dba == pytest.approx(6.0, abs=1e-9)


def test_power_is_that_of_the_handbook(bare_of: SceneOf) -> None:
    # 70 dB wanted at 1.8 m, crest 12 dB, 88 dB at 1 W and 1 m: 0.814 W; ceiling-6 has 88 dB and
    # its smallest tap, 1.5 W, is enough
    scene = bare_of({"devices": {"l1": loudspeaker(2, 2, 2.7, product="ceiling-6")}})
    (one,) = placed_loudspeakers(scene.room, scene.catalogue, scene.talkers)
    at_1m = 70.0 + 20 * math.log10(1.8) - 10 * math.log10(7)
    found = inbound.drive(scene.room, one, np.full(7, at_1m))
    assert found.power_w == pytest.approx(0.814, abs=0.0005)
    assert found.tap_w == 1.5
    assert found.headroom_db == pytest.approx(105 - (75.105 + 12), abs=0.01)


def test_no_tap_is_named_where_none_is_enough(bare_of: SceneOf) -> None:
    # 100 dB with the crest is 24 dB over the sensitivity: 251 W, and the greatest tap is 25 W
    scene = bare_of({"devices": {"l1": loudspeaker(2, 2, 2.7, product="ceiling-6")}})
    (one,) = placed_loudspeakers(scene.room, scene.catalogue, scene.talkers)
    found = inbound.drive(scene.room, one, np.full(7, 100.0 - 10 * math.log10(7)))
    assert found.power_w == pytest.approx(251, abs=0.5)
    assert found.tap_w is None


def test_a_pair_shares_its_level_and_its_maximum(bare_of: SceneOf) -> None:
    scene = bare_of({"devices": {"p": loudspeaker(0.2, 2.25, 1.2, product="display-pair")}})
    found = playback(scene)
    assert found is not None
    assert [one.loudspeaker for one in found.drives] == ["p.left", "p.right"]
    for one in found.drives:
        assert found.level_1m_dba - one.level_1m_dba == pytest.approx(3.01, abs=0.01)
        assert one.max_level_db == pytest.approx(103 - 3.01, abs=0.01)


def test_room_without_a_placed_loudspeaker_plays_nothing(bare_of: SceneOf) -> None:
    assert playback(bare_of({})) is None
    nowhere = {"l1": {"kind": "loudspeaker", "product": "ceiling-6"}}
    assert playback(bare_of({"devices": nowhere})) is None


PICTURE = {
    "picture": {"kind": "display", "wall": "west", "centre": [2.25, 1.4], "size": [1.6, 0.9]}
}
SEATS = {f"s{i}": {"at": [2.0 + 0.75 * i, 2.25], "facing": "display"} for i in range(5)}


@pytest.mark.practice
def test_front_loudspeakers_put_the_voice_at_the_picture_and_ceiling_ones_overhead(
    bare_of: SceneOf,
) -> None:
    room = {"furniture": PICTURE, "people": {"seats": SEATS}}
    front = playback(
        bare_of({**room, "devices": {"p": loudspeaker(0.1, 2.25, 1.4, product="display-pair")}})
    )
    over = {f"c{i}": loudspeaker(2.0 + 1.5 * i, 2.25, 2.7, product="ceiling-6") for i in range(3)}
    ceiling = playback(bare_of({**room, "devices": over}))
    assert front is not None
    assert ceiling is not None
    at_front = [row.direction_deg for row in front.rows]
    overhead = [row.direction_deg for row in ceiling.rows]
    assert all(angle is not None and angle < 30 for angle in at_front)
    assert all(angle is not None and angle > 45 for angle in overhead)


@pytest.mark.practice
def test_ceiling_loudspeakers_are_more_even_than_one_at_the_front(dead_room_of: SceneOf) -> None:
    seats = {f"s{i}": [5.0 + 1.5 * i, 8.0] for i in range(5)}
    over = {f"c{i}": loudspeaker(5.0 + 2 * i, 8.0, 3.0) for i in range(4)}
    front = dead(dead_room_of, {"f": loudspeaker(3.5, 8.0, 1.5)}, seats)
    ceiling = dead(dead_room_of, over, seats)
    assert ceiling.uniformity.value < front.uniformity.value


def test_uniformity_is_the_loudest_less_the_quietest(dead_room_of: SceneOf) -> None:
    # 2 m and 8 m: 12.04 dB, and air in 6 m, which takes little of speech
    found = dead(
        dead_room_of,
        {"l1": loudspeaker(4, 8, 1.2)},
        {"near": [6, 8], "mid": [9, 8], "far": [12, 8]},
    )
    assert found.uniformity.value == pytest.approx(12.04, abs=0.2)
    assert found.uniformity.chance is not None
    assert found.uniformity.chance < 0.01  # 6 dB are promised


@pytest.mark.parametrize(
    ("level", "chance", "state"),
    [
        (70.0, 0.9876, "kept"),  # 2.5σ to either end: 2·Φ(2.5) − 1
        (74.0, 0.6915, "at risk"),  # Φ(0.5) − Φ(−4.5)
        (63.0, 0.1587, "broken"),  # Φ(−1)
        (77.0, 0.1587, "broken"),
    ],
)
def test_chance_of_a_level_is_that_of_lying_within_the_range(
    level: float, chance: float, state: str, room_of: Callable[..., Room]
) -> None:
    # standard normal table
    room = room_of({"targets": {"listening_level_dba": [65, 75], "sti_inbound": None}})
    found = inbound.level_quantity(room, level, 2.0)
    sti = promises.quantity("sti_inbound", 0.7, 0.05, None)
    assert found.chance == pytest.approx(chance, abs=1e-4)
    assert inbound.state(room, sti, found) == state


def test_nothing_promised_is_not_assessed(bare_of: SceneOf) -> None:
    found = playback(
        bare_of(
            {
                "devices": {"l1": loudspeaker(1, 1, 1.2)},
                "targets": {
                    "sti_inbound": None,
                    "listening_level_dba": None,
                    "uniformity_db": None,
                },
            }
        )
    )
    assert found is not None
    assert {(row.state, row.binds, row.chance) for row in found.rows} == {("not assessed", "", 1.0)}
    assert found.uniformity.chance is None


def test_noise_from_a_source_is_louder_at_the_ear_beside_it(bare_of: SceneOf) -> None:
    found = playback(
        bare_of(
            {
                "people": {"seats": {"a": {"at": [1, 1]}, "b": {"at": [5, 3.5]}}},
                "devices": {"l1": loudspeaker(3, 2.2, 1.6)},
                "noise": {
                    "sources": {"fan": {"kind": "fan-coil", "at": [1, 1, 2.4], "dba_at_1m": 45}}
                },
            }
        )
    )
    assert found is not None
    beside, away = found.row("a"), found.row("b")
    assert all(x > y for x, y in zip(beside.noise_db, away.noise_db, strict=True))
    assert beside.speech_to_noise_db < away.speech_to_noise_db


def test_what_is_unsure_makes_the_ranges_wider(bare_of: SceneOf) -> None:
    room = {"devices": {"l1": loudspeaker(1, 1, 1.6)}}
    told = playback(bare_of({**room, "basis": {"noise.background": "assumed"}}))
    known = playback(bare_of({**room, "basis": {"noise.background": "measured"}}))
    assert told is not None
    assert known is not None
    assert told.rows[0].sti.sigma > known.rows[0].sti.sigma
    assert known.rows[0].level.sigma >= math.hypot(1.0, 1.0)  # setting and model at least


def test_spread_of_a_level_in_the_free_field_is_setting_model_and_place(
    dead_room_of: SceneOf,
) -> None:
    # Seats off a drawing are known to 0.1 m: 20 lg(1 + 0.1/2) = 0.424 dB at 2 m; 1 dB each of
    # setting and model: √(0.424² + 1 + 1) = 1.476 dB
    people = {"seats": {"s1": {"at": [8, 8], "facing": 0}}}
    room = {
        "people": people,
        "devices": {"l1": loudspeaker(6, 8, 1.2)},
        "basis": {"people.seats.s1": "measured", "people.seats.s1.at": "drawing"},
    }
    found = playback(dead_room_of(room))
    assert found is not None
    assert found.rows[0].level.sigma == pytest.approx(1.476, abs=0.01)


@pytest.mark.parametrize("distance", [2.0, 4.0, 6.0])
def test_levels_fall_with_distance_as_the_revised_theory_says(
    distance: float, room_of: Callable[..., Room], omnidirectional: Catalogue, oracle: Any
) -> None:
    # Direct sound and Barron's reverberant one (1988 [M]), the room's own decay: 10 × 8 × 3.5 m
    even = {"absorption": dict.fromkeys((125, 250, 500, 1000, 2000, 4000, 8000), 0.15)}
    room = room_of(
        {
            "space": {
                "outline": [[0, 0], [10, 0], [10, 8], [0, 8]],
                "height": 3.5,
                "finishes": {"floor": even, "ceiling": even, "walls": even},
            },
            "people": {"seats": {"s1": {"at": [2.0 + distance, 3.1], "facing": 0}}},
            "devices": {"l1": loudspeaker(2.0, 3.1, 1.2)},
        }
    )
    scene = build(room, omnidirectional)
    found = playback(scene)
    assert found is not None
    time = list(scene.reverberation.level_time)
    diffuse = oracle.diffuse(distance, time=time, volume=280.0)
    direct = oracle.direct(distance, None, 1.0)
    for octave in (2, 3, 4):
        wanted = 10 * math.log10(direct[octave] + diffuse[octave])
        got = found.rows[0].levels_db[octave] - found.speech_1m_db[octave]
        assert got == pytest.approx(wanted, abs=1.0)
