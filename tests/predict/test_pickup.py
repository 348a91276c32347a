"""How microphones hear: against hand geometry, direct evaluation and the sheet's own figures."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

from wellheard.acoustics.air import speed_of_sound
from wellheard.acoustics.beamforming import (
    beam_directivity_index_db,
    beam_response,
    beam_weights,
    third_frequencies,
)
from wellheard.acoustics.patterns import COSINES, mean_over_sphere
from wellheard.arrays import Array
from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import Beam, BeamDesign, Microphone
from wellheard.predict.pickup import BEYOND_STEERING_DB, pickup

SHIPPED = Catalogue.shipped()
ALL = [pytest.param(one, id=one.id) for one in SHIPPED.microphones]
SPEED = float(speed_of_sound(20.0))


def way(azimuth_deg: float, elevation_deg: float) -> list[float]:
    azimuth, elevation = math.radians(azimuth_deg), math.radians(elevation_deg)
    level = math.cos(elevation)
    return [level * math.cos(azimuth), level * math.sin(azimuth), math.sin(elevation)]


def ways(*angles: tuple[float, float]) -> Array:
    """Directions for one row each, at one microphone."""
    return np.array([[way(*one)] for one in angles])


def line_array(design: BeamDesign = "delay-and-sum") -> Microphone:
    """Invented: eight capsules along a bar of 0.42 m, aimed across it."""
    bar = SHIPPED.microphone("front-bar")
    assert bar.beam is not None
    at = tuple((0.0, -0.21 + 0.06 * i, 0.0) for i in range(8))
    beam = dataclasses.replace(bar.beam, design=design)
    return dataclasses.replace(bar, positions=at, beam=beam)


@pytest.mark.parametrize("product", ALL)
def test_tables_end_on_the_axis_and_have_the_mean_that_they_say(product: Microphone) -> None:
    found = pickup(product)
    count = len(found.patterns)
    assert found.patterns.shape == (count, len(COSINES), 7)
    share = 0.5 if found.upper_only else 1.0  # the engine leaves out what comes from below
    assert share * mean_over_sphere(found.patterns) == pytest.approx(found.diffuse, rel=1e-5)
    assert found.patterns[0, -1] == pytest.approx(np.ones(7))
    assert np.all(found.patterns >= 0.0)


@pytest.mark.parametrize("product", ALL)
def test_in_free_air_the_index_is_that_of_the_sheet(product: Microphone) -> None:
    found = pickup(product)
    # An array that is part of the ceiling hears half of all directions: 3.01 dB more, see above.
    extra = 10 * math.log10(2) if product.flush and product.positions else 0.0
    index = -10 * np.log10(found.diffuse[0])
    assert index - extra == pytest.approx(product.directivity_index_db(), abs=0.06)


@pytest.mark.parametrize(
    ("product", "aim_deg", "talker", "element"),
    [
        ("ceiling-head-3", 0.0, (10.0, -20.0), 0),
        ("ceiling-head-3", 0.0, (100.0, -20.0), 1),
        ("ceiling-head-3", 90.0, (100.0, -20.0), 0),
        ("ceiling-head-3", 90.0, (-30.0, -60.0), 2),
        ("ceiling-head-2", 0.0, (170.0, -40.0), 1),
        ("ceiling-head-6", 30.0, (330.0, -30.0), 5),
        # Straight down all capsules hear alike: the first.
        ("ceiling-head-3", 17.0, (0.0, -90.0), 0),
        ("ceiling-head-6", 50.0, (0.0, -90.0), 0),
    ],
)
def test_a_head_hears_through_the_capsule_that_faces_the_talker(
    product: str, aim_deg: float, talker: tuple[float, float], element: int
) -> None:
    one = SHIPPED.microphone(product)
    found = pickup(one).choose(np.array([aim_deg]), ways(talker))
    assert found.element.tolist() == [[element]]
    capsule = one.elements[element]
    axis = way(aim_deg + capsule.azimuth_deg, capsule.elevation_deg)
    assert found.axis[0, 0] == pytest.approx(axis)
    cosine = float(np.dot(axis, way(*talker)))
    by_hand = (capsule.pattern_a + (1 - capsule.pattern_a) * cosine) ** 2
    assert found.on_axis[0, 0] == pytest.approx([by_hand] * 7)


def test_unlike_capsules_are_weighed_by_what_they_take_from_the_room() -> None:
    # An omni and a cardioid, talker on the cardioid's axis: both hear 1, the cardioid takes 1/3.
    head = SHIPPED.microphone("ceiling-head-2")
    omni = dataclasses.replace(head.elements[0], pattern_a=1.0)
    cardioid = dataclasses.replace(head.elements[1], pattern_a=0.5)
    mixed = dataclasses.replace(head, elements=(omni, cardioid))
    found = pickup(mixed).choose(np.zeros(1), ways((180.0, -40.0), (0.0, 40.0)))
    assert found.element.tolist() == [[1], [0]]
    tables = pickup(mixed)
    assert tables.diffuse[found.pattern[:, 0], 0] == pytest.approx([1 / 3, 1.0])
    assert tables.patterns[found.pattern[0, 0], 0] == pytest.approx(np.zeros(7))


def test_a_capsule_in_a_table_top_hears_half_of_all_directions() -> None:
    found = pickup(SHIPPED.microphone("table-boundary"))
    assert found.upper_only
    assert found.diffuse == pytest.approx(np.full((1, 7), 0.5))
    assert not pickup(SHIPPED.microphone("gooseneck")).upper_only


def test_an_array_points_at_the_talker_and_takes_the_table_of_that_tilt() -> None:
    one = SHIPPED.microphone("ceiling-array-16")
    talkers = ways((0, -90), (30, -88), (200, -60), (200, -21))
    found = pickup(one).choose(np.array([77.0]), talkers)
    assert found.axis == pytest.approx(talkers)
    assert found.on_axis == pytest.approx(np.ones((4, 1, 7)))
    # Tilts 0, 2, 30, 69 from straight down in steps of 5.
    assert found.pattern[:, 0].tolist() == [0, 0, 6, 14]


def test_beyond_its_limit_an_array_stays_there_and_the_talker_gets_its_flank() -> None:
    one = SHIPPED.microphone("ceiling-array-16")
    assert one.beam is not None
    assert one.beam.steer_limit_deg == 70
    talkers = ways((40, -10), (40, -19.9), (40, 0))
    tables = pickup(one)
    found = tables.choose(np.array([0.0]), talkers)
    assert found.axis[:, 0] == pytest.approx(np.array([way(40, -20)] * 3))
    assert found.pattern[:, 0].tolist() == [14] * 3
    for row, off_deg in enumerate((10.0, 0.1, 20.0)):
        expected = [
            np.interp(math.cos(math.radians(off_deg)), COSINES, tables.patterns[14, :, band])
            for band in range(7)
        ]
        assert found.on_axis[row, 0] == pytest.approx(expected)
    # Just beyond, next to nothing is lost; farther, most at high frequencies, little at low ones.
    assert np.all(found.on_axis[1] > 0.99)
    assert found.on_axis[0, 0, 0] > 0.9
    assert found.on_axis[2, 0, 5] < 0.3


def test_an_array_in_the_ceiling_hears_nothing_from_above() -> None:
    found = pickup(SHIPPED.microphone("ceiling-array-48"))
    assert np.all(found.patterns[0, : len(COSINES) // 2 - 1] == 0.0)


def test_an_array_that_hangs_hears_all_round() -> None:
    one = SHIPPED.microphone("ceiling-array-16")
    hung = pickup(dataclasses.replace(one, drops=(0.0, 0.5)))
    assert hung.diffuse == pytest.approx(2 * pickup(one).diffuse)


def test_the_beam_of_a_sheet_hears_the_talker_in_front_and_12_db_less_of_one_behind() -> None:
    # A bar on the wall y = 0, aimed into the room (90°); its limit is 60°.
    tables = pickup(SHIPPED.microphone("front-bar"))
    talkers = ways((90, 0), (31, 0), (29, 0), (270, 0))
    found = tables.choose(np.array([90.0]), talkers)
    assert found.on_axis[:2] == pytest.approx(np.ones((2, 1, 7)))
    assert found.on_axis[2:] == pytest.approx(np.full((2, 1, 7), 10 ** (BEYOND_STEERING_DB / 10)))
    assert found.axis == pytest.approx(talkers)
    assert found.pattern[:, 0].tolist() == [0, 0, 1, 1]
    # What the engine looks up on the axis is what the talker gets.
    assert tables.patterns[found.pattern[:, 0], -1] == pytest.approx(found.on_axis[:, 0])
    assert tables.diffuse[0] == pytest.approx(tables.diffuse[1])


@pytest.mark.parametrize("design", ["delay-and-sum", "superdirective"])
def test_a_bar_of_capsules_has_a_table_for_each_side(design: BeamDesign) -> None:
    one = line_array(design)
    tables = pickup(one)
    # Rival: the index of the beam itself, sideways in the plane of the bar and upwards, across it.
    sideways, upwards = way(130.0, 0.0), way(90.0, 40.0)
    found = tables.choose(np.array([90.0]), np.array([[sideways], [upwards]]))
    for row, (azimuth, elevation) in enumerate(((40.0, 0.0), (0.0, 40.0))):
        expected = beam_directivity_index_db(
            one.positions,
            toward=way(azimuth, elevation),
            design=design,
        )
        index = -10 * np.log10(tables.diffuse[found.pattern[row, 0]])
        assert index == pytest.approx(expected, abs=0.01)
    # Upwards the bar keeps its width, and the beam is its own mirror image about the bar.
    assert found.pattern[0, 0] != found.pattern[1, 0]


def test_the_table_of_a_bar_is_its_response_round_the_axis() -> None:
    one = line_array()
    tables = pickup(one)
    talker = way(0.0, 40.0)
    found = tables.choose(np.zeros(1), np.array([[talker]]))
    frequency = third_frequencies()[3]
    w = beam_weights(one.positions, toward=[talker], frequency=frequency, speed=SPEED)
    turn = 2 * np.pi * np.arange(360) / 360
    up = np.array(way(0.0, 130.0))
    left = np.array([0.0, 1.0, 0.0])
    for entry in (60, 200, 300, 450):
        side = np.cos(turn)[:, None] * up + np.sin(turn)[:, None] * left
        c = COSINES[entry]
        round_it = c * np.array(talker) + math.sqrt(1 - c**2) * side
        response = beam_response(
            w, one.positions, toward=round_it, frequency=frequency, speed=SPEED
        )
        table = tables.patterns[found.pattern[0, 0], entry, 3]
        assert table == pytest.approx(float(response.mean()), abs=0.02)


def test_own_noise_is_rated_at_the_beam_and_counted_once() -> None:
    # The rated dBA is of the beam at rest, so the A-weighted sum of its octaves is 0 re rated.
    for one in (SHIPPED.microphone("ceiling-array-48"), line_array()):
        found = pickup(one)
        assert found.self_noise_db == pytest.approx(np.zeros_like(found.self_noise_db), abs=1e-9)
        gain_db = 10 * math.log10(len(one.positions))
        assert found.white_noise_gain_db == pytest.approx(
            np.full_like(found.white_noise_gain_db, gain_db)
        )
    loud = pickup(line_array("superdirective"))
    assert loud.self_noise_db[0, 0] > loud.self_noise_db[0, 5]
    a_db = np.array([-16.1, -8.6, -3.2, 0.0, 1.2, 1.0, -1.1])  # IEC 61672-1
    even = 10 * np.log10(np.sum(10 ** (a_db / 10)))
    rest = 10 * np.log10(np.sum(10 ** ((a_db + loud.self_noise_db[0]) / 10)))
    assert rest == pytest.approx(even, abs=0.02)
    # A bar across its own axis gains little by superdirective weights and much along it.
    assert np.all(loud.white_noise_gain_db >= -10.0 - 1e-3)


def test_of_a_sheet_without_positions_the_noise_of_capsules_is_unknown() -> None:
    found = pickup(SHIPPED.microphone("front-bar"))
    assert np.all(np.isnan(found.white_noise_gain_db))
    assert np.all(found.self_noise_db == 0.0)


def test_panels_for_two_grids_share_their_tables() -> None:
    metric = pickup(SHIPPED.microphone("ceiling-array-48"))
    feet = pickup(SHIPPED.microphone("ceiling-array-48-24in"))
    assert metric.patterns is feet.patterns
    assert pickup(SHIPPED.microphone("ceiling-array-48")) is metric


def test_a_beam_that_may_look_anywhere_has_no_talker_beyond() -> None:
    bar = SHIPPED.microphone("front-bar")
    everywhere = Beam(directivity_index_db=(3.0,) * 7, steer_limit_deg=180, elevation_deg=0)
    tables = pickup(dataclasses.replace(bar, beam=everywhere))
    found = tables.choose(np.zeros(1), ways((180, 0), (90, 60), (0, 0)))
    assert found.on_axis == pytest.approx(np.ones((3, 1, 7)))
