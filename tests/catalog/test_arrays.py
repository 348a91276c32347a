"""Arrays: the sheet's directivity is what the positions of the capsules give, no more."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

from wellheard.acoustics.beamforming import beam_directivity_index_db
from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import Microphone

SHIPPED = Catalogue.shipped()
ARRAYS = [one for one in SHIPPED.microphones if one.positions]


def test_all_ceiling_arrays_say_where_their_capsules_sit() -> None:
    counts = {one.id: len(one.positions) for one in ARRAYS}
    assert counts == {
        "ceiling-array-16": 16,
        "ceiling-array-16-24in": 16,
        "ceiling-array-48": 48,
        "ceiling-array-48-24in": 48,
    }


@pytest.mark.parametrize("one", ARRAYS, ids=lambda one: one.id)
def test_the_directivity_of_an_array_is_that_of_its_positions_straight_down(
    one: Microphone,
) -> None:
    # Computed by the published formula of `wellheard.acoustics.beamforming`, which is checked
    # there by hand and against integration; the sheet prints one decimal.
    assert one.beam is not None
    computed = beam_directivity_index_db(one.positions, toward=one.axes()[0])
    np.testing.assert_allclose(one.beam.directivity_index_db, computed, rtol=0, atol=0.05)


@pytest.mark.parametrize("one", ARRAYS, ids=lambda one: one.id)
def test_steered_to_its_limit_an_array_still_gives_the_half_of_its_sheet(one: Microphone) -> None:
    # The model keeps the sheet's directivity to the limit; delay and sum loses at most 3 dB there.
    assert one.beam is not None
    tilt = math.radians(one.beam.steer_limit_deg)
    for azimuth in np.radians(np.arange(0, 360, 15)):
        toward = [
            math.sin(tilt) * math.cos(azimuth),
            math.sin(tilt) * math.sin(azimuth),
            -math.cos(tilt),
        ]
        steered = beam_directivity_index_db(one.positions, toward=toward)
        assert np.all(steered > np.array(one.beam.directivity_index_db) - 3.0)


@pytest.mark.parametrize("one", ARRAYS, ids=lambda one: one.id)
def test_every_capsule_sits_in_the_housing_and_alone(one: Microphone) -> None:
    at = np.array(one.positions)
    assert np.all(np.abs(at) <= np.array(one.size) / 2)
    assert len({tuple(p) for p in one.positions}) == len(one.positions)


@pytest.mark.parametrize("name", ["ceiling-array-16", "ceiling-array-48"])
def test_the_panel_for_a_grid_in_feet_differs_by_its_size_alone(name: str) -> None:
    """24 in are 609.6 mm; a panel for such a grid is 23¾ in, 603 mm: common practice [C]."""
    metric, feet = SHIPPED.microphone(name), SHIPPED.microphone(f"{name}-24in")
    told = {"id", "name", "note", "module", "size", "cutout"}
    for field in dataclasses.fields(Microphone):
        if field.name not in told:
            assert getattr(feet, field.name) == getattr(metric, field.name), field.name
    assert feet.module == pytest.approx((24 * 0.0254, 24 * 0.0254))
    assert feet.size[:2] == pytest.approx((23.75 * 0.0254, 23.75 * 0.0254), abs=5e-4)
    assert feet.cutout == feet.size[0]


def test_the_ceiling_arrays_alone_are_always_part_of_the_ceiling() -> None:
    flush = {one.id for one in SHIPPED.microphones if one.flush}
    assert flush == {one.id for one in ARRAYS}


@pytest.mark.parametrize("one", ARRAYS, ids=lambda one: one.id)
def test_the_rated_noise_of_an_array_is_that_of_its_beam(one: Microphone) -> None:
    # Common practice [C]: small capsules of arrays have 28 to 34 dBA of their own; delay and sum of
    # n lowers that by 10 lg n.
    capsule_dba = one.self_noise_dba + 10 * math.log10(len(one.positions))
    assert 28 <= capsule_dba <= 34
