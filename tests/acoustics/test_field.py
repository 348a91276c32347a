"""Direct and reverberant sound against phonometry, image-source runs and Barron's formula."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wellheard.acoustics.field import (
    barron_levels,
    critical_distance,
    diffuse_energy,
    direct_to_reverberant_db,
    mean_free_path,
    room_constant,
    sabine_constant,
    schroeder_frequency,
    steady_level_db,
)

DATA = Path(__file__).parents[1] / "reference"
REFERENCE: dict[str, Any] = json.loads((DATA / "reference_values.json").read_text())
WORKED: dict[str, Any] = json.loads((DATA / "worked_examples.json").read_text())
CASES = REFERENCE["check_cases"]
ROOMS = {room["room"]: room for room in CASES["reverberation"]}


def test_sabine_constant_is_the_printed_one() -> None:
    assert sabine_constant(343.0) == pytest.approx(0.16111, abs=0.5e-5)


@pytest.mark.parametrize("row", WORKED["rooms"]["rows"], ids=lambda row: str(row[0]))
def test_rooms_reproduce_every_printed_digit(row: list[Any]) -> None:
    name, path, constant, schroeder, by_constant, by_area = row
    room = ROOMS[name]
    area = room.get("A", 0.2 * room["S"])
    r = room_constant(area / room["S"], area=room["S"])
    assert mean_free_path(room["V"], area=room["S"]) == pytest.approx(path, abs=0.5e-3)
    assert r == pytest.approx(constant, abs=0.5e-2 if name == "A" else 0.5e-3)
    assert schroeder_frequency(room["eyring"], volume=room["V"]) == pytest.approx(
        schroeder, abs=0.05
    )
    if by_constant is not None:
        assert critical_distance(r) == pytest.approx(by_constant, abs=0.5e-3)
        assert critical_distance(area) == pytest.approx(by_area, abs=0.5e-3)


@pytest.mark.parametrize("row", WORKED["steady_level"]["rows"], ids=str)
def test_steady_level_reproduces_every_printed_digit(row: list[float]) -> None:
    q, r, constant, level, direct, reverberant, ratio, distance = row
    near = {"absorption_area": constant, "directivity": q}
    assert steady_level_db(r, **near) == pytest.approx(level, abs=0.5e-2)
    free = steady_level_db(r, absorption_area=np.inf, directivity=q)
    assert free == pytest.approx(direct, abs=0.5e-2)
    far = steady_level_db(1e9, **near)
    assert far == pytest.approx(reverberant, abs=0.5e-2)
    assert direct_to_reverberant_db(
        r, absorption_area=constant, source_directivity=q
    ) == pytest.approx(ratio, abs=0.5e-2)
    assert critical_distance(constant, directivity=q) == pytest.approx(distance, abs=0.5e-3)


@pytest.mark.parametrize(("distance", "printed"), WORKED["diffuser_level"]["rows"])
def test_a_ceiling_diffuser_is_as_loud_as_printed(distance: float, printed: float) -> None:
    level = 35.0 + steady_level_db(distance, absorption_area=40.84, directivity=2.0)
    assert level == pytest.approx(printed, abs=0.5e-2)


@pytest.mark.parametrize(("distance", "omni", "directed"), WORKED["pickup_room_b"]["rows"])
def test_pickup_in_room_b_reproduces_every_printed_digit(
    distance: float, omni: float, directed: float
) -> None:
    plain = direct_to_reverberant_db(distance, absorption_area=40.84)
    better = direct_to_reverberant_db(
        distance, absorption_area=40.84, source_directivity=2.0, receiver_directivity=3.0
    )
    assert plain == pytest.approx(omni, abs=0.5e-2)
    assert better == pytest.approx(directed, abs=0.5e-2)


@pytest.mark.parametrize("row", WORKED["room_a_total_level"]["rows"], ids=str)
def test_three_formulas_for_room_a_reproduce_their_printed_columns(row: list[float]) -> None:
    r, _, with_constant, with_area, barron, _, ratio = row
    re_direct_at_1m = 10.0 * np.log10(4.0 * np.pi)
    for area, printed in ((31.5, with_constant), (25.2, with_area)):
        level = steady_level_db(r, absorption_area=area) + re_direct_at_1m
        assert level == pytest.approx(printed, abs=0.5e-2)
    late = diffuse_energy(r, reverberation_time=0.51573, volume=90.0)
    assert 10.0 * np.log10(1.0 / r**2 + late) == pytest.approx(barron, abs=0.5e-2)
    assert direct_to_reverberant_db(r, absorption_area=31.5) == pytest.approx(ratio, abs=0.5e-2)


def test_the_model_stands_within_its_stated_error_of_simulated_room_a() -> None:
    # pyroomacoustics, image sources: level within 1.3 dB, direct-to-reverberant within 1.5 dB
    run = CASES["simulation_room_A"]
    r = np.array(run["distance"])
    late = diffuse_energy(r, reverberation_time=0.51573, volume=90.0)
    direct = 1.0 / r**2
    level = 10.0 * np.log10(direct + late)
    np.testing.assert_allclose(level, run["total_re_direct_1m_db"], rtol=0, atol=1.3)
    ratio = direct_to_reverberant_db(r, absorption_area=31.5)
    np.testing.assert_allclose(ratio, run["drr_db"], rtol=0, atol=1.5)


@pytest.mark.parametrize("row", CASES["barron"]["rows"], ids=str)
def test_barron_reproduces_every_printed_digit(row: list[float]) -> None:
    r, t, v, g, c80, c50, d50, drr = row
    field = barron_levels(r, reverberation_time=t, volume=v)
    assert field.strength_db == pytest.approx(g, abs=0.5e-2)
    assert field.c80_db == pytest.approx(c80, abs=0.5e-2)
    assert field.c50_db == pytest.approx(c50, abs=0.5e-2)
    assert field.d50 == pytest.approx(d50, abs=0.5e-3)
    assert field.direct_to_reverberant_db == pytest.approx(drr, abs=0.5e-2)
    assert field.early_80ms + field.late_80ms == pytest.approx(field.early_50ms + field.late_50ms)


@pytest.mark.parametrize(("r", "t", "v", "printed"), WORKED["barron_without_distance"]["rows"])
def test_barrons_distance_factor_is_the_whole_difference_to_classic_theory(
    r: float, t: float, v: float, printed: float
) -> None:
    field = barron_levels(r, reverberation_time=t, volume=v)
    reverberant = (field.early_80ms + field.late_80ms) * np.exp(0.04 * r / t)
    assert 10.0 * np.log10(field.direct + reverberant) == pytest.approx(printed, abs=0.5e-2)


@pytest.mark.parametrize("row", CASES["barron"]["rows"], ids=str)
def test_diffuse_energy_is_barrons_reverberant_energy_at_one_metre(row: list[float]) -> None:
    # the printed 31200 is 100·16π/0.16111 rounded
    r, t, v = row[:3]
    field = barron_levels(r, reverberation_time=t, volume=v)
    late = diffuse_energy(r, reverberation_time=t, volume=v)
    assert 100.0 * late == pytest.approx(field.early_80ms + field.late_80ms, rel=2e-4)


def test_diffuse_energy_falls_with_both_directivities_and_follows_the_speed_of_sound() -> None:
    base = {"reverberation_time": 0.7, "volume": 120.0}
    plain = diffuse_energy(3.0, **base)
    directed = diffuse_energy(3.0, **base, directivity_index_db=3.0, random_energy_efficiency=1 / 3)
    assert 10.0 * np.log10(plain / directed) == pytest.approx(3.0 + 4.771, abs=1e-3)
    warm = diffuse_energy(3.0, **base, speed_of_sound=350.0)
    assert warm / plain == pytest.approx(350.0 / 343.0)


@settings(max_examples=80, deadline=None)
@given(
    near=st.floats(0.2, 20.0),
    step=st.floats(0.0, 20.0),
    t=st.floats(0.1, 3.0),
    volume=st.floats(20.0, 2000.0),
    directivity_index_db=st.floats(0.0, 8.0),
)
def test_farther_on_the_same_ray_is_never_louder(
    near: float, step: float, t: float, volume: float, directivity_index_db: float
) -> None:
    r = np.array([near, near + step])
    late = diffuse_energy(
        r, reverberation_time=t, volume=volume, directivity_index_db=directivity_index_db
    )
    close, far = 1.0 / r**2 + late
    assert far <= close
    field = barron_levels(r, reverberation_time=t, volume=volume)
    assert field.strength_db[1] <= field.strength_db[0]
    level = steady_level_db(r, absorption_area=sabine_constant() * volume / t)
    assert level[1] <= level[0]
