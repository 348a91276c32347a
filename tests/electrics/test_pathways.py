"""Conduit against tables of the electrical code and counts worked by hand."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wellheard.electrics import pathways

INCH = 0.0254
REFERENCE = json.loads(
    (Path(__file__).parents[1] / "reference" / "reference_values.json").read_text("utf-8")
)
LIMITS = REFERENCE["conduit_fill_percent"]
AREAS = {k: v for k, v in REFERENCE["emt_total_area_in2"].items() if k != "source"}

# NEC chapter 9 table 4, EMT, total area by an open table [L], ½ to 2 in. [in²]
PRINTED = {"1/2": 0.304, "3/4": 0.533, "1": 0.864, "1 1/4": 1.496, "1 1/2": 2.036, "2": 3.356}

# Cables at 40 % [L arithmetic], of 0.25 and of 0.30 in; where two would be the count the limit of
# 31 % leaves one.
COUNTS = [(0.25, [1, 4, 7, 12, 16, 27]), (0.30, [1, 3, 4, 8, 11, 18])]

# Inside diameters of EMT as handbooks print them, from memory [M]. [in]
INSIDES = {"1/2": 0.622, "3/4": 0.824, "1": 1.049, "1 1/4": 1.380, "1 1/2": 1.610, "2": 2.067}


def emt(size: str) -> pathways.Conduit:
    return next(one for one in pathways.conduits("emt") if one.size == f"{size} in")


def test_limits_of_fill_are_those_of_the_code() -> None:
    # Table 1: one cable 53, two 31, more 40 %.
    found = [round(100 * pathways.fill_limit(n)) for n in (1, 2, 3, 4, 30)]
    assert found == [53, 31, 40, 40, 40]
    assert found[:3] == [LIMITS["one"], LIMITS["two"], LIMITS["over_two"]]


@pytest.mark.parametrize(("size", "area"), AREAS.items())
def test_areas_are_those_of_the_code(size: str, area: float) -> None:
    assert emt(size).area / INCH**2 == pytest.approx(area, abs=0.0005)
    assert PRINTED.get(size, area) == area


@pytest.mark.parametrize(("size", "inside"), INSIDES.items())
def test_insides_are_those_of_handbooks(size: str, inside: float) -> None:
    assert emt(size).diameter / INCH == pytest.approx(inside, abs=0.0015)


@pytest.mark.parametrize(("diameter", "counts"), COUNTS)
def test_counts_are_those_worked_by_hand(diameter: float, counts: list[int]) -> None:
    found = [pathways.most_cables(diameter * INCH, area=emt(size).area) for size in PRINTED]
    assert found == counts


def test_two_cables_have_the_strictest_limit() -> None:
    # ½ in, 0.304 in²: 0.25 in has 0.0491 in², by hand one 16 %, two 32 %, and three 48 %.
    one, two, three = (pathways.fill([0.25 * INCH] * n, area=emt("1/2").area) for n in (1, 2, 3))
    assert [round(100 * x) for x in (one, two, three)] == [16, 32, 48]
    assert pathways.fits([0.25 * INCH], area=emt("1/2").area)
    assert not pathways.fits([0.25 * INCH] * 2, area=emt("1/2").area)
    # 0.2 in has 0.0314: three are 31.0 % of it and fit; two, 20.7 %, do as well.
    assert pathways.fits([0.2 * INCH] * 3, area=emt("1/2").area)


@given(
    diameter=st.floats(0.002, 0.02),
    size=st.sampled_from([one.size for one in pathways.conduits("emt")]),
)
def test_the_largest_count_fits_and_more_does_not(diameter: float, size: str) -> None:
    area = next(one.area for one in pathways.conduits("emt") if one.size == size)
    most = pathways.most_cables(diameter, area=area)
    assert pathways.fits([diameter] * most, area=area)
    assert not any(pathways.fits([diameter] * n, area=area) for n in range(most + 1, most + 4))


# Three cables jam between 2.8 and 3.2 [L]: 1 in EMT, 1.049 in inside.
@pytest.mark.parametrize(
    ("outer", "jams"), [(0.320, False), (0.330, True), (0.350, True), (0.370, True), (0.380, False)]
)
def test_three_cables_jam_in_a_band_of_ratios(outer: float, jams: bool) -> None:
    inside = 1.049 * INCH
    assert pathways.jams([outer * INCH] * 3, inside=inside) is jams
    assert pathways.jam_ratio([outer * INCH] * 3, inside=inside) == pytest.approx(1.049 / outer)
    assert not pathways.jams([outer * INCH] * 4, inside=inside)
    assert not pathways.jams([outer * INCH] * 2, inside=inside)


def test_the_smallest_conduit_is_a_size_up_where_three_would_jam() -> None:
    # 0.21 in: three are 0.1039 in² of 0.304, 34 %; but 0.622/0.21 = 2.96 jams. ¾ in: 3.92.
    found = pathways.smallest_conduit([0.21 * INCH] * 3, family="emt")
    assert found is not None
    assert found.size == "3/4 in"
    four = pathways.smallest_conduit([0.19 * INCH] * 4, family="emt")
    assert four is not None
    assert four.size == "1/2 in"


def test_no_conduit_is_large_enough_for_everything() -> None:
    # 4 in takes 40 % of 14.753 in²: 5.9 in² or 120 cables of 0.25 in.
    assert pathways.most_cables(0.25 * INCH, area=emt("4").area) == 120
    assert pathways.smallest_conduit([0.25 * INCH] * 121, family="emt") is None
    assert pathways.smallest_conduit([], family="emt") == emt("1/2")


def test_metric_sizes_are_inside_their_outer_diameter() -> None:
    # EN 60423 outer diameters; a wall of 1.6 to 2.0 mm, from memory [M].
    for one in pathways.conduits("metric"):
        outer = float(one.size.removesuffix(" mm")) / 1000
        assert 0.0031 < outer - one.diameter < 0.0041


def test_every_family_grows() -> None:
    for family in ("emt", "metric"):
        areas = [one.area for one in pathways.conduits(family)]
        assert areas == sorted(areas)
        assert len(areas) > 5


# TIA-569, from memory [M]: bends of six insides up to 2 in, ten above; 30 m and two bends of 90°
# between pull points.
def test_bends_of_conduit_grow_above_two_inches() -> None:
    assert pathways.conduit_bend_radius(emt("2").diameter) == pytest.approx(6 * emt("2").diameter)
    large = emt("2 1/2").diameter
    assert pathways.conduit_bend_radius(large) == pytest.approx(10 * large)


@pytest.mark.parametrize(
    ("pieces", "boxes"),
    [
        ([], 0),
        ([10, 10, 10], 0),
        ([10.1, 10, 10], 1),
        ([60], 1),
        ([60.1], 2),
        ([1, 1, 1, 1], 1),
        ([1, 1, 1, 1, 1], 1),
        ([1, 1, 1, 1, 1, 1], 2),
        # 60 m and three bends near one end: a box at 30 m, then 27 m and two bends, then the third.
        ([57, 1, 1, 1], 2),
        ([1, 1, 1, 57], 2),
    ],
)
def test_no_pull_is_too_long_or_too_bent(pieces: list[float], boxes: int) -> None:
    """30 m (100 ft) and two bends of 90° between pull points (TIA-569, from memory)."""
    assert pathways.pull_points(pieces) == boxes


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(1, 80), min_size=1, max_size=8))
def test_no_fewer_boxes_would_do(pieces: list[int]) -> None:
    """Against the fewest of all sets of places on a grid of 1 m, whole metres being enough."""
    bends, at = [], 0
    for piece in pieces[:-1]:
        at += piece
        bends.append(at)
    whole = sum(pieces)
    # reach[x]: the fewest boxes of which the last stands at x; a bend at a box is behind it.
    reach = {0: 0}
    for x in range(1, whole + 1):
        near = range(max(x - 30, 0), x)
        ways = [reach[y] for y in near if y in reach and _may_pull(y, x, bends)]
        if ways:
            reach[x] = min(ways) + 1
    least = reach[whole] - 1
    assert pathways.pull_points([float(p) for p in pieces]) == least


def _may_pull(start: int, end: int, bends: list[int]) -> bool:
    return end - start <= 30 and sum(start <= bend < end for bend in bends) <= 2


def test_cables_bend_as_their_standards_allow() -> None:
    # 4-pair 4 × OD installed [L open rule list]; fibre 10, under pull 20; coaxial 10 × [M].
    assert pathways.BEND_FACTORS == {
        "twisted pair": 4,
        "fibre": 10,
        "fibre under pull": 20,
        "coaxial": 10,
    }
    assert pathways.PULL_TENSION == 110  # 25 lbf [M]
    assert pytest.approx(25 * 4.448, rel=0.02) == pathways.PULL_TENSION


@pytest.mark.practice
def test_cables_hang_on_hooks_of_their_own() -> None:
    # Every 1.2 to 1.5 m [M/C]: 6 m are four spans, five hooks.
    assert pathways.supports(6.0) == 5
    assert pathways.supports(6.1) == 6
    assert pathways.supports(0) == 0


def test_power_keeps_its_distance() -> None:
    # 2 in of the code [L]; 200 mm along lines of 2 kVA [C].
    assert math.isclose(pathways.POWER_SEPARATION, 2 * INCH, rel_tol=0.02)
    assert pathways.POWER_SEPARATION_GOOD == 0.2


@pytest.mark.practice
def test_new_conduit_keeps_room_for_the_next_cable() -> None:
    # 25 to 40 % at first [C].
    assert 0.25 <= pathways.FIRST_FILL <= 0.40
