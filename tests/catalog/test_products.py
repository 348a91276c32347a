"""Axes, patterns and directivity are those of the closed form, and the ids promised are there."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

from wellheard import tables
from wellheard.acoustics.radiation import directivity_index_db, nominal_pattern, polar_pattern
from wellheard.catalog import reading
from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import AnyProduct, Beam, Element, Link, Microphone

SHIPPED = Catalogue.shipped()

# A, then REE, Q and DI as printed. Closed form integrated numerically; Q agrees with the
# CardioidFamily of pyroomacoustics: 1, 1.9231, 3, 3.7322, 4, 3.
PATTERNS = [
    ("omni", 1.0, "1.0000", "1.000", "0.00"),
    ("subcardioid", 0.7, "0.5200", "1.923", "2.84"),
    ("cardioid", 0.5, "0.3333", "3.000", "4.77"),
    ("supercardioid", (math.sqrt(3) - 1) / 2, "0.2679", "3.732", "5.72"),
    ("hypercardioid", 0.25, "0.2500", "4.000", "6.02"),
    ("bidirectional", 0.0, "0.3333", "3.000", "4.77"),
]


def microphone(**changes: object) -> Microphone:
    base = SHIPPED.microphone("pendant-cardioid")
    return Microphone(**{**base.__dict__, **changes})


def half_last_digit(printed: str) -> float:
    return 0.5 * 10.0 ** -len(printed.partition(".")[2])


@pytest.mark.parametrize(("name", "a", "ree", "q", "di_db"), PATTERNS)
def test_each_pattern_has_its_printed_directivity(
    name: str, a: float, ree: str, q: str, di_db: str
) -> None:
    element = Element(azimuth_deg=10, elevation_deg=-20, pattern_a=a)
    one = microphone(elements=(element,))
    for band in range(7):
        efficiency = one.random_energy_efficiency()[band]
        assert efficiency == pytest.approx(float(ree), abs=half_last_digit(ree))
        assert 1 / efficiency == pytest.approx(float(q), abs=half_last_digit(q))
        assert one.directivity_index_db()[band] == pytest.approx(
            float(di_db), abs=half_last_digit(di_db)
        )


def test_efficiency_is_the_mean_of_the_squared_pattern_over_the_sphere() -> None:
    # Analytic: ½ ∫ M² d(cos θ), by the midpoint rule.
    steps = 2000
    for a in (0.35, 0.6, 0.85):
        cosines = [-1 + (i + 0.5) * 2 / steps for i in range(steps)]
        mean = sum((a + (1 - a) * c) ** 2 for c in cosines) / steps
        element = Element(azimuth_deg=0, elevation_deg=0, pattern_a=a)
        assert element.random_energy_efficiency == pytest.approx(mean, abs=1e-6)


def test_a_half_omni_in_a_table_top_gains_three_decibels() -> None:
    # Analytic: pressure doubles from every direction, and only half the directions exist.
    table = SHIPPED.microphone("table-boundary")
    assert table.boundary
    assert table.random_energy_efficiency() == pytest.approx((0.5,) * 7)
    assert table.directivity_index_db()[3] == pytest.approx(10 * math.log10(2))


def test_a_beam_takes_what_its_directivity_index_says() -> None:
    index = (0.0, 3.0, 6.0, 10.0, 10.0, 9.0, 8.0)
    beam = Beam(directivity_index_db=index, steer_limit_deg=60, elevation_deg=-90)
    one = microphone(selects="steered beam", elements=(), beam=beam)
    assert one.random_energy_efficiency()[3] == pytest.approx(0.1)
    assert one.directivity_index_db() == pytest.approx(index)
    assert one.patterns == (1.0,)
    assert one.axes(123.0)[0] == pytest.approx((0, 0, -1), abs=1e-12)


def test_axes_turn_anticlockwise_with_the_aim_and_point_down_where_negative() -> None:
    elements = (
        Element(azimuth_deg=0, elevation_deg=0, pattern_a=0.5),
        Element(azimuth_deg=90, elevation_deg=-30, pattern_a=0.5),
    )
    one = microphone(selects="best element", elements=elements)
    ahead, aside = one.axes(90.0)
    assert ahead == pytest.approx((0, 1, 0), abs=1e-12)
    assert aside == pytest.approx((-math.sqrt(0.75), 0, -0.5), abs=1e-12)
    assert one.axes() != one.axes(90.0)


@pytest.mark.parametrize("one", SHIPPED.microphones, ids=lambda one: one.id)
def test_axes_patterns_and_efficiencies_go_together(one: Microphone) -> None:
    assert len(one.axes(17.0)) == len(one.patterns) == len(one.random_energy_efficiencies())
    for axis in one.axes(17.0):
        assert math.hypot(*axis) == pytest.approx(1)


def test_efficiency_of_unlike_capsules_is_their_mean() -> None:
    elements = (
        Element(azimuth_deg=0, elevation_deg=0, pattern_a=1.0),
        Element(azimuth_deg=0, elevation_deg=0, pattern_a=0.5),
    )
    one = microphone(selects="best element", elements=elements)
    assert one.random_energy_efficiency()[0] == pytest.approx((1 + 1 / 3) / 2)


ALWAYS_PRESENT = (
    "ceiling-head-2",
    "ceiling-head-3",
    "ceiling-head-6",
    "pendant-cardioid",
    "ceiling-array-16",
    "table-boundary",
    "gooseneck",
    "front-bar",
    "omni-reference",
)


@pytest.mark.parametrize("product_id", ALWAYS_PRESENT)
def test_the_promised_microphones_are_there(product_id: str) -> None:
    assert SHIPPED.microphone(product_id).kind == "microphone"


@pytest.mark.parametrize("one", SHIPPED.products, ids=lambda one: one.id)
def test_every_product_has_all_that_a_sheet_has(one: AnyProduct) -> None:
    assert one.warranty_years > 0
    assert one.colours
    assert one.fittings
    assert one.price > 0
    assert (one.lead_time_weeks > 0) == (one.status != "discontinued")
    assert (one.powered_from == "none") == (one.power_w == 0)
    if one.mountings[0] == "ceiling" and one.kind == "microphone":
        assert one.plenum is not None


def test_the_range_is_wide_enough_for_a_meeting_room() -> None:
    assert len(SHIPPED.products) >= 24
    assert {p.microphone_ports for p in SHIPPED.processors} >= {0, 1, 2, 4, 12}
    for count in (1, 4):
        cancels = {p.canceller for p in SHIPPED.processors if p.microphone_ports == count}
        assert cancels == {True, False}
    assert any(a.line_voltages and not a.minimum_impedance for a in SHIPPED.amplifiers)
    assert any(a.minimum_impedance and not a.line_voltages for a in SHIPPED.amplifiers)
    assert {e.carries for e in SHIPPED.extenders} == {"usb", "twisted-pair", "hdmi"}
    assert {one.plenum for one in SHIPPED.products} == {True, False, None}
    assert len({s.poe_budget_w for s in SHIPPED.switches}) == 2


def test_what_can_no_longer_be_had_says_what_takes_its_place() -> None:
    leaving = {one.id: one for one in SHIPPED.products if one.status != "current"}
    assert {one.status for one in leaving.values()} == {"last orders", "discontinued"}
    for one in leaving.values():
        assert one.last_orders is not None
        assert SHIPPED.product(one.successor).status == "current"


def test_what_takes_the_place_of_a_tile_names_the_tile() -> None:
    for one in SHIPPED.microphones:
        across = min(one.size[:2])
        if "tile" in one.fits and across > 0.3:
            assert one.module in ((0.6, 0.6), (0.6096, 0.6096))  # 24 in
            assert 0.004 < one.module[0] - across < 0.008  # it lies on the tees with play
        else:
            assert one.module is None


@pytest.mark.parametrize("count", [2, 3, 6])
def test_ceiling_heads_look_evenly_all_round_and_down(count: int) -> None:
    head = SHIPPED.microphone(f"ceiling-head-{count}")
    azimuths = sorted(element.azimuth_deg for element in head.elements)
    assert azimuths == [i * 360 / count for i in range(count)]
    assert all(element.elevation_deg < 0 for element in head.elements)
    assert head.selects == "best element"


def test_only_the_measuring_microphone_is_beyond_a_solver() -> None:
    assert [one.id for one in SHIPPED.products if not one.selectable] == ["omni-reference"]
    ideal = SHIPPED.microphone("omni-reference")
    assert ideal.mountings == ("stand",)
    assert ideal.patterns == (1.0,)
    assert ideal.rated_distances == ()


@pytest.mark.parametrize(
    ("combined", "mounting"), [("front-bar", "front"), ("table-unit", "table")]
)
def test_combined_devices_cancel_their_own_echo(combined: str, mounting: str) -> None:
    one = SHIPPED.microphone(combined)
    assert one.mountings[0] == mounting
    assert one.built_in is not None
    assert one.built_in.canceller


def test_only_the_bar_and_the_table_unit_are_combined() -> None:
    assert {one.id for one in SHIPPED.microphones if one.combined} == {"front-bar", "table-unit"}


@pytest.mark.parametrize(
    ("ceiling", "new_holes", "fits"),
    [
        ("tiles", True, ("tile", "hole")),
        ("tiles", False, ("tile",)),
        ("hard", True, ("hole", "hard")),
        ("hard", False, ("hard",)),
        ("open", True, ("open",)),
    ],
)
def test_the_ceiling_decides_how_a_head_may_hold(
    ceiling: str, new_holes: bool, fits: tuple[str, ...]
) -> None:
    head = SHIPPED.microphone("ceiling-head-3")
    assert head.fits_for_ceiling(ceiling, new_holes=new_holes) == fits


@pytest.mark.parametrize(
    ("product", "module", "fits"),
    [
        ("ceiling-array-16", (0.6, 0.6), ("tile",)),
        ("ceiling-array-16", (0.6096, 0.6096), ("tile",)),  # 2 ft
        ("ceiling-array-16-24in", (0.6096, 0.6096), ("tile",)),
        ("ceiling-array-16", (0.625, 0.625), ()),
        ("ceiling-array-16", (0.6, 1.2), ()),
        ("ceiling-array-16", None, ("tile",)),
        ("ceiling-head-3", (0.6, 1.2), ("tile", "hole")),  # hangs through a tile, takes none
    ],
)
def test_what_replaces_a_tile_fits_only_its_module(
    product: str, module: tuple[float, float] | None, fits: tuple[str, ...]
) -> None:
    assert SHIPPED.product(product).fits_for_ceiling("tiles", module=module) == fits


def test_a_long_panel_fits_a_long_tile_whichever_way_the_grid_is_named() -> None:
    panel = dataclasses.replace(SHIPPED.microphone("ceiling-array-16"), module=(1.2, 0.6))
    assert panel.replaces_tile((0.6, 1.2))
    assert not panel.replaces_tile((0.6, 0.6))


def test_an_array_cannot_hang_from_open_structure_nor_a_bar_anywhere_overhead() -> None:
    assert SHIPPED.microphone("ceiling-array-16").fits_for_ceiling("open") == ()
    assert SHIPPED.microphone("front-bar").fits_for_ceiling("tiles") == ()


def test_some_loudspeakers_have_polars_which_agree_with_their_nominal_angle() -> None:
    # Two ways to the directivity: their own polar, integrated, and the law of the nominal angle.
    measured = [one for one in SHIPPED.loudspeakers if one.polar is not None]
    assert {one.id for one in measured} >= {"ceiling-6", "wall-8"}
    for one in measured:
        assert one.polar is not None
        own = polar_pattern(one.polar.angles_deg, one.polar.levels_db, half_space=one.flush)
        law = nominal_pattern(one.angle_deg, half_space=one.flush)
        assert directivity_index_db(own) == pytest.approx(directivity_index_db(law), abs=2.5)
        assert (np.diff(directivity_index_db(own)) >= 0).all()


def test_only_what_never_hangs_below_the_ceiling_is_flush() -> None:
    flush = {one.id for one in SHIPPED.loudspeakers if one.flush}
    assert flush == {"ceiling-4", "ceiling-6", "ceiling-6-network"}


def test_a_pair_is_two_sources_and_all_else_is_one() -> None:
    assert {one.id: one.units for one in SHIPPED.loudspeakers if one.units != 1} == {
        "display-pair": 2
    }


@pytest.mark.parametrize("one", SHIPPED.microphones, ids=lambda one: one.id)
def test_a_microphone_gives_volts_or_digits_as_its_link_does(one: Microphone) -> None:
    analogue = one.link.kind == "balanced"
    assert (one.sensitivity_mv_pa is not None) == analogue
    assert (one.sensitivity_dbfs is not None) == (not analogue)


@pytest.mark.practice
def test_rated_distances_of_a_head_are_five_ten_and_fifteen_feet() -> None:
    # Common practice, no source: 5, 10, 15 ft, rounded to 0.1 m.
    rated = SHIPPED.microphone("ceiling-head-3").rated_distances
    assert rated == pytest.approx((5 * 0.3048, 10 * 0.3048, 15 * 0.3048), abs=0.05)


@pytest.mark.practice
def test_links_of_heads_reach_thirty_metres() -> None:
    # Common practice, no source: 100 ft of twisted pair.
    for count in (2, 3, 6):
        link = SHIPPED.microphone(f"ceiling-head-{count}").link
        assert link == Link(kind="twisted-pair", max_length=30)


@pytest.mark.parametrize(
    "name", [field.name for field in dataclasses.fields(reading.ProductTables)]
)
def test_every_product_table_says_that_it_is_invented(name: str) -> None:
    provenance = tables.load(name).provenance
    assert provenance["invented"] is True
    assert "invented" in provenance["source"]
