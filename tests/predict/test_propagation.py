"""Rays of a room: shared by rooms that are one, weighed by what absorbs, told what was measured."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from wellheard.acoustics.late import steady_energy
from wellheard.predict import propagation
from wellheard.predict.scene import Scene

OCTAVES = ("125", "250", "500", "1000", "2000", "4000", "8000")
TIMES = (0.9, 0.8, 0.7, 0.62, 0.55, 0.5, 0.42)


def told(times: tuple[float, ...]) -> dict[str, Any]:
    return {"space": {"measured_reverberation": dict(zip(OCTAVES, times, strict=True))}}


@pytest.fixture(scope="module")
def plain(scene_of: Callable[..., Scene]) -> Scene:
    return scene_of()


@pytest.mark.parametrize("factor", [0.8, 1.0, 1.5])
def test_a_measured_decay_is_that_of_the_rays_to_a_hundredth(
    scene_of: Callable[..., Scene], factor: float
) -> None:
    times = tuple(factor * t for t in TIMES)
    scene = scene_of(told(times))
    assert scene.reverberation.reproduced
    assert scene.propagation.time == pytest.approx(times, rel=0.01)
    assert scene.reverberation.time == times


def test_a_decay_that_the_air_alone_ends_sooner_is_not_reproduced(
    scene_of: Callable[..., Scene],
) -> None:
    """At 8 kHz, 20 °C and 50 %, air takes 0.1 dB/m: 60 dB in 1.7 s (ISO 9613-1 [L])."""
    scene = scene_of(told((*TIMES[:6], 3.0)))
    assert not scene.reverberation.reproduced
    assert scene.propagation.time[:6] == pytest.approx(TIMES[:6], rel=0.01)
    assert scene.propagation.time[6] < 1.75


def test_longer_measured_is_less_absorbed(scene_of: Callable[..., Scene]) -> None:
    short, long = (
        np.array(scene_of(told(tuple(f * t for t in TIMES))).reverberation.exponent)
        for f in (0.8, 1.5)
    )
    assert np.all(long < short)


def turned(scene: Scene, angle_deg: float, by: tuple[float, float]) -> Any:
    """The same room, turned and drawn from another corner of the site."""
    angle = math.radians(angle_deg)
    turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    room = scene.propagation.enclosure
    return replace(
        room,
        outline=room.outline @ turn + by,
        objects=tuple(replace(o, outline=o.outline @ turn + by) for o in room.objects),
    )


@pytest.mark.parametrize("angle_deg", [0.0, 33.0, 90.0, 251.7])
def test_a_room_that_is_only_turned_has_the_same_rays(plain: Scene, angle_deg: float) -> None:
    sound = plain.propagation
    other = turned(plain, angle_deg, (-17.3, 204.6))
    upright, again = (propagation.upright(e) for e in (sound.enclosure, other))
    assert upright.path_key == again.path_key
    assert np.all(upright.outline[0] == 0.0)
    flights = [propagation.flights_of(e, length=sound.length) for e in (sound.enclosure, other)]
    assert flights[0] is flights[1]


def test_setting_upright_keeps_every_length(plain: Scene) -> None:
    other = turned(plain, 33.0, (-17.3, 204.6))
    upright = propagation.upright(other)
    for one, same in ((other, upright), (plain.propagation.enclosure, upright)):
        assert one.wall_lengths == pytest.approx(same.wall_lengths, abs=2e-6)
        assert one.volume == pytest.approx(same.volume, rel=1e-6)


@pytest.mark.parametrize("share", [1.05, 1.5, 3.0])
def test_more_absorption_never_leaves_more_sound(plain: Scene, share: float) -> None:
    sound = plain.propagation
    damped = sound.absorbing(share)
    assert np.all(damped.table.total <= sound.table.total + 1e-12)
    energies = [
        steady_energy(one.table, volume=72.9, speed=one.speed, air=one.air)
        for one in (sound, damped)
    ]
    assert np.all(energies[1] < energies[0])


def test_one_softer_surface_never_leaves_more_sound(scene_of: Callable[..., Scene]) -> None:
    hard, soft = (
        scene_of({"space": {"finishes": {"ceiling": finish}}}).propagation
        for finish in ("ceiling-plasterboard", "ceiling-mineral-tile")
    )
    # Mineral tile absorbs more from 250 Hz up.
    rows = min(len(soft.table.total), len(hard.table.total))  # each to where nothing is left
    assert np.all(soft.table.total[:rows, 1:] <= hard.table.total[:rows, 1:] + 1e-12)


def test_the_level_time_is_that_of_the_exponential_decay_with_as_much_energy(
    plain: Scene,
) -> None:
    """∫ e dt of e^(−13.8155 t/T) is T/13.8155; with air, e takes e^(−mct) along.

    By the trapezoidal rule over the table of the rays, and what is left at its end at its rate.
    """
    sound = plain.propagation
    table = sound.table
    time = table.step * np.arange(len(table.total))
    loss = sound.speed * sound.air
    there = table.total * np.exp(-np.multiply.outer(time, loss))
    whole = np.trapezoid(there, dx=table.step, axis=0) + there[-1] / (table.total_rate + loss)
    assert sound.level_time == pytest.approx(13.8155 * whole, rel=0.002)


def shape(outline: list[list[float]]) -> dict[str, Any]:
    return {
        "space": {"outline": outline, "walls": "absent"},
        "people": {"seats": {"s1": {"at": [1.0, 1.4]}}},
    }


@pytest.mark.parametrize(
    ("outline", "by_place"),
    [
        ([[0, 0], [6, 0], [6, 4.5], [0, 4.5]], False),
        ([[0, 0], [10, 0], [10, 3], [0, 3]], False),
        ([[0, 0], [12, 0], [12, 2.1], [0, 2.1]], False),
        ([[0, 0], [13, 0], [13, 2.1], [0, 2.1]], True),
        ([[0, 0], [7.8, 10.4], [6.12, 11.66], [-1.68, 1.26]], True),
        ([[0, 0], [6, 0], [6, 3], [3, 3], [3, 6], [0, 6]], True),
    ],
    ids=["ordinary", "oblong", "not yet a corridor", "a corridor", "turned", "round a corner"],
)
def test_only_rooms_that_are_far_from_even_are_heard_place_by_place(
    scene_of: Callable[..., Scene], outline: list[list[float]], by_place: bool
) -> None:
    """Six times as long as wide, or with a corner that hides a part of it."""
    assert scene_of(shape(outline)).propagation.needs_places is by_place


def test_rooms_are_forgotten_in_the_order_in_which_they_were_asked_for(plain: Scene) -> None:
    sound = plain.propagation

    def traced(height: float) -> Any:
        room = replace(sound.enclosure, height=height)
        return propagation.flights_of(room, length=1.0)

    first = traced(3.0)
    for more in range(propagation.KEPT - 1):
        traced(3.1 + 0.01 * more)
    assert traced(3.0) is first
    for more in range(propagation.KEPT):
        traced(4.1 + 0.01 * more)
    assert traced(3.0) is not first
