"""Reverberation models against phonometry and python-acoustics, and against each other."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wellheard.acoustics.absorption import absorption_area
from wellheard.acoustics.air import power_attenuation
from wellheard.acoustics.reverberation import (
    reverberation_time_arau_puchades,
    reverberation_time_en12354_6,
    reverberation_time_eyring,
    reverberation_time_fitzroy,
    reverberation_time_kuttruff,
    reverberation_time_kuttruff_uneven,
    reverberation_time_millington,
    reverberation_time_sabine,
)
from wellheard.arrays import Array

DATA = Path(__file__).parents[1] / "reference"
REFERENCE: dict[str, Any] = json.loads((DATA / "reference_values.json").read_text())
WORKED: dict[str, Any] = json.loads((DATA / "worked_examples.json").read_text())
CASES = REFERENCE["check_cases"]
ROOMS = {room["room"]: room for room in CASES["reverberation"]}
with (DATA / "absorption.csv").open(encoding="utf-8") as file:
    FINISHES = {row["id"]: row for row in csv.DictReader(file)}

PER_WALL = {
    "sabine": reverberation_time_sabine,
    "eyring": reverberation_time_eyring,
    "millington": reverberation_time_millington,
}
PER_PAIR = {
    "fitzroy": reverberation_time_fitzroy,
    "arau": reverberation_time_arau_puchades,
}


def walls(dimensions: Any) -> Array:
    """Areas of x0, x1, y0, y1, floor and ceiling, the order of the reference."""
    x, y, z = dimensions
    return np.array([y * z, y * z, x * z, x * z, x * y, x * y])


def pairs(areas: Array, absorption: Array) -> tuple[Array, Array]:
    by_pair = areas.reshape(3, 2)
    mean = np.einsum("ps,psb->pb", by_pair, absorption.reshape(3, 2, -1))
    return by_pair.sum(axis=1), mean / by_pair.sum(axis=1)[:, None]


def times(dimensions: Any, absorption: Array, **more: Any) -> dict[str, Array]:
    areas = walls(dimensions)
    volume = float(np.prod(dimensions))
    by_wall: dict[str, Any] = {"areas": areas, "absorption": absorption}
    pair_areas, pair_absorption = pairs(areas, absorption)
    by_pair: dict[str, Any] = {"areas": pair_areas, "absorption": pair_absorption}
    return {
        **{name: model(volume=volume, **by_wall, **more) for name, model in PER_WALL.items()},
        **{name: model(volume=volume, **by_pair, **more) for name, model in PER_PAIR.items()},
    }


def room_absorption(room: dict[str, Any]) -> Array:
    return np.array(room.get("alpha", room.get("alpha_xyz_pairs")))[:, None]


@pytest.mark.parametrize("name", list(ROOMS))
@pytest.mark.parametrize("model", ["sabine", "eyring", "millington", "fitzroy", "arau"])
def test_rooms_reproduce_every_printed_digit(name: str, model: str) -> None:
    room = ROOMS[name]
    actual = times(room["dims"], room_absorption(room), speed_of_sound=room["c"])[model]
    np.testing.assert_allclose(actual, [room[model]], rtol=0, atol=0.5e-4)


@pytest.mark.parametrize("name", list(ROOMS))
def test_rooms_have_the_printed_volume_surface_and_absorption_area(name: str) -> None:
    room = ROOMS[name]
    areas = walls(room["dims"])
    assert np.prod(room["dims"]) == pytest.approx(room["V"], abs=0.5e-4)
    assert areas.sum() == pytest.approx(room["S"], abs=0.5e-4)
    if "A" in room:
        actual = absorption_area(room_absorption(room), areas=areas)
        np.testing.assert_allclose(actual, [room["A"]], rtol=0, atol=0.5e-4)


@pytest.mark.parametrize(("name", "printed"), WORKED["kuttruff_gamma2_0p4"]["rows"])
def test_kuttruffs_path_correction_reproduces_every_printed_digit(
    name: str, printed: float
) -> None:
    room = ROOMS[name]
    if "kuttruff_gamma2_0p4" in room:
        assert room["kuttruff_gamma2_0p4"] == printed
    actual = reverberation_time_kuttruff(
        volume=room["V"],
        areas=walls(room["dims"]),
        absorption=room_absorption(room),
        path_variance=0.4,
        speed_of_sound=room["c"],
    )
    np.testing.assert_allclose(actual, [printed], rtol=0, atol=0.5e-4)


@pytest.mark.parametrize(("name", "printed"), WORKED["kuttruff_uneven"]["rows"])
def test_kuttruffs_wall_correction_reproduces_every_printed_digit(
    name: str, printed: float
) -> None:
    room = ROOMS[name]
    assert room["kuttruff_nonuniform"] == printed
    actual = reverberation_time_kuttruff_uneven(
        volume=room["V"],
        areas=walls(room["dims"]),
        absorption=room_absorption(room),
        speed_of_sound=room["c"],
    )
    np.testing.assert_allclose(actual, [printed], rtol=0, atol=0.5e-4)


def octave_room() -> dict[str, Any]:
    room = CASES["octave_room"]
    bands = [str(band) for band in room["bands"]]
    wall, floor, ceiling = (
        [float(FINISHES[room[part]][band]) for band in bands]
        for part in ("walls", "floor", "ceiling")
    )
    air = power_attenuation(
        room["bands"],
        temperature_c=room["air"]["t_c"],
        humidity=room["air"]["rh"] / 100.0,
    )
    return {
        "volume": float(np.prod(room["dims"])),
        "areas": walls(room["dims"]),
        "absorption": np.array([wall] * 4 + [floor, ceiling]),
        "air": air,
    }


def test_the_octave_room_reproduces_every_printed_digit() -> None:
    printed, room = CASES["octave_room"], octave_room()
    bare = {key: room[key] for key in ("volume", "areas", "absorption")}
    area = absorption_area(room["absorption"], areas=room["areas"])
    np.testing.assert_allclose(area, printed["area"], rtol=0, atol=0.5e-3)
    for actual, key in (
        (reverberation_time_sabine(**bare), "sabine_no_air"),
        (reverberation_time_sabine(**room), "sabine_air"),
        (reverberation_time_eyring(**room), "eyring_air"),
    ):
        np.testing.assert_allclose(actual, printed[key], rtol=0, atol=0.5e-4, err_msg=key)


def test_eight_chairs_shorten_the_octave_room_as_printed() -> None:
    chairs = WORKED["octave_room_chairs"]
    objects = chairs["count"] * np.array(chairs["each"])
    actual = reverberation_time_sabine(**octave_room(), objects=objects)
    np.testing.assert_allclose(actual, chairs["sabine"], rtol=0, atol=0.5e-4)


def test_bulky_objects_without_absorption_scale_the_time_by_the_volume_they_leave() -> None:
    # en12354-6:2003: 4mV(1 − ψ) in the denominator, V(1 − ψ) in the numerator
    room = octave_room()
    m = room["air"]
    bulky = reverberation_time_en12354_6(**room, object_volume=0.1 * room["volume"])
    left = 0.9 * room["volume"]
    area = absorption_area(room["absorption"], areas=room["areas"])
    np.testing.assert_allclose(bulky, 55.262 / 343.0 * left / (area + 4.0 * m * left), rtol=1e-5)


def test_simulated_decays_of_room_a_lie_where_eyring_and_sabine_lead_one_to_expect() -> None:
    # pyroomacoustics, image sources: a specular box decays slower than Eyring, 12 to 18 %
    simulated = np.array(CASES["simulation_room_A"]["t20"])
    eyring = ROOMS["A"]["eyring"]
    assert np.all((simulated > 1.05 * eyring) & (simulated < 1.25 * eyring))


def test_arau_and_sabine_bracket_the_scattered_decay_of_room_b() -> None:
    # pyroomacoustics, ray tracing, scattering 0.3; the specular decay lies far beyond
    room = ROOMS["B"]
    predicted = times(room["dims"], room_absorption(room), speed_of_sound=room["c"])
    scattered = CASES["simulation_room_B"]["ray_tracing_scatter_0p3_t20"]
    assert np.all(np.array(scattered) > predicted["sabine"])
    assert np.all(np.array(scattered) < predicted["arau"])
    assert min(CASES["simulation_room_B"]["specular_t20"]) > predicted["fitzroy"]


def test_bands_volumes_and_rooms_broadcast() -> None:
    absorption = np.array([[[0.1, 0.2, 0.3]] * 3, [[0.2, 0.3, 0.4]] * 3])
    areas = np.array([[20.0, 30.0, 50.0], [40.0, 60.0, 110.0]])
    both = reverberation_time_arau_puchades(
        volume=[60.0, 180.0],
        areas=areas,
        absorption=absorption,
        objects=[[1.0, 2.0, 3.0], [4.0, 5.0, 6.0]],
        air=[0.001, 0.002, 0.003],
        speed_of_sound=[340.0, 346.0],
    )
    second = reverberation_time_arau_puchades(
        volume=180.0,
        areas=areas[1],
        absorption=absorption[1],
        objects=[4.0, 5.0, 6.0],
        air=[0.001, 0.002, 0.003],
        speed_of_sound=346.0,
    )
    assert both.shape == (2, 3)
    np.testing.assert_allclose(both[1], second)


def test_without_air_every_model_is_inverse_to_the_speed_of_sound() -> None:
    room = ROOMS["C"]
    slow = times(room["dims"], room_absorption(room), speed_of_sound=330.0)
    fast = times(room["dims"], room_absorption(room), speed_of_sound=352.0)
    for model, time in slow.items():
        np.testing.assert_allclose(fast[model], time * 330.0 / 352.0)


def test_models_with_a_logarithm_refuse_what_they_cannot_take() -> None:
    too_much: dict[str, Any] = {"volume": 50.0, "areas": [80.0], "absorption": [[1.1]]}
    for model in (reverberation_time_eyring, reverberation_time_millington):
        with pytest.raises(ValueError, match="exceeds 1"):
            model(**too_much)
    assert reverberation_time_sabine(**too_much) > 0.0
    with pytest.raises(ValueError, match="three wall pairs"):
        reverberation_time_fitzroy(volume=50.0, areas=[40.0, 40.0], absorption=[[0.1], [0.2]])


def test_limits_of_the_models_are_what_their_notes_say() -> None:
    soft: dict[str, Any] = {"volume": 50.0, "areas": [79.0, 1.0], "absorption": [[0.1], [1.0]]}
    assert reverberation_time_millington(**soft) == 0.0
    assert reverberation_time_eyring(**soft) > 0.3
    hard: dict[str, Any] = {"volume": 50.0, "areas": [80.0], "absorption": [[0.0]]}
    assert reverberation_time_sabine(**hard) == np.inf
    dead: dict[str, Any] = {"volume": 50.0, "areas": [80.0], "absorption": [[0.95]]}
    assert np.isnan(reverberation_time_kuttruff(**dead, path_variance=0.4)).all()
    assert np.isfinite(reverberation_time_kuttruff(**dead, path_variance=0.3)).all()


SIDE = st.floats(2.2, 14.0)
BOX = st.tuples(SIDE, SIDE, st.floats(2.2, 6.0))
ALPHA = st.floats(0.01, 0.95)
SIX = st.lists(ALPHA, min_size=6, max_size=6)
AIR = st.floats(0.0, 0.03)
MODELS = ("sabine", "eyring", "millington", "fitzroy", "arau")


@settings(max_examples=60, deadline=None)
@given(box=BOX, alpha=SIX, air=AIR, wall=st.integers(0, 5), more=st.floats(0.0, 0.04))
def test_more_absorption_never_lengthens_any_model(
    box: tuple[float, float, float], alpha: list[float], air: float, wall: int, more: float
) -> None:
    base = np.array(alpha)[:, None]
    soft = base.copy()
    soft[wall] += more
    before, after = times(box, base, air=air), times(box, soft, air=air)
    for model in MODELS:
        assert after[model] <= before[model] * (1.0 + 1e-12)


@settings(max_examples=60, deadline=None)
@given(box=BOX, alpha=SIX, air=AIR)
def test_eyring_is_shorter_than_sabine_and_arau_not_longer_than_fitzroy(
    box: tuple[float, float, float], alpha: list[float], air: float
) -> None:
    t = times(box, np.array(alpha)[:, None], air=air)
    assert t["eyring"] < t["sabine"]
    assert t["millington"] <= t["eyring"] * (1.0 + 1e-12)
    assert t["arau"] <= t["fitzroy"] * (1.0 + 1e-12)


@settings(max_examples=60, deadline=None)
@given(box=BOX, alpha=ALPHA, air=AIR, objects=st.floats(0.0, 20.0))
def test_even_absorption_collapses_every_model_to_eyring(
    box: tuple[float, float, float], alpha: float, air: float, objects: float
) -> None:
    absorption = np.full((6, 1), alpha)
    t = times(box, absorption, air=air, objects=[objects])
    for model in ("millington", "fitzroy", "arau"):
        np.testing.assert_allclose(t[model], t["eyring"], rtol=1e-9)
    more: dict[str, Any] = {"air": air, "objects": [objects]}
    uneven = reverberation_time_kuttruff_uneven(
        volume=float(np.prod(box)), areas=walls(box), absorption=absorption, **more
    )
    np.testing.assert_allclose(uneven, t["eyring"], rtol=1e-9)
    no_spread = reverberation_time_kuttruff(
        volume=float(np.prod(box)),
        areas=walls(box),
        absorption=absorption,
        path_variance=0.0,
        **more,
    )
    np.testing.assert_allclose(no_spread, t["eyring"], rtol=1e-9)


@settings(max_examples=60, deadline=None)
@given(box=BOX, alpha=SIX, scale=st.floats(0.3, 4.0))
def test_without_air_the_time_scales_with_the_size(
    box: tuple[float, float, float], alpha: list[float], scale: float
) -> None:
    absorption = np.array(alpha)[:, None]
    small, large = times(box, absorption), times(scale * np.array(box), absorption)
    for model in MODELS:
        np.testing.assert_allclose(large[model], scale * small[model], rtol=1e-9)
