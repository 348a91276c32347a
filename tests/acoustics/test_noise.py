"""NC, RC and NR against ANSI/ASA S12.2-2019 and AS 1469 by way of open projects."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, cast

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wellheard.acoustics.levels import a_weighted_level_db
from wellheard.acoustics.noise import (
    SHAPE_OCTAVES,
    SIL_OCTAVES,
    NoiseKind,
    background_levels_db,
    nc_levels_db,
    nc_rating,
    noise_shape_db,
    nr_levels_db,
    nr_rating,
    rc_levels_db,
    rc_mark2,
)
from wellheard.bands import NOISE_OCTAVES, RATING_OCTAVES

DATA = Path(__file__).parents[1] / "reference"
REFERENCE: dict[str, Any] = json.loads((DATA / "reference_values.json").read_text())
WORKED: dict[str, Any] = json.loads((DATA / "worked_examples.json").read_text())
SPECTRA = WORKED["noise_spectra"]["rows"]
NC = {int(number): levels for number, levels in REFERENCE["nc_curves"]["curves"].items()}


def spectrum(levels: Any) -> dict[float, float]:
    return dict(zip(RATING_OCTAVES, levels, strict=True))


@pytest.mark.parametrize("number", list(NC))
def test_nc_curves_are_the_2019_table(number: int) -> None:
    np.testing.assert_array_equal(nc_levels_db(number), NC[number])


def test_the_older_table_is_not_used_and_differs_in_its_twelve_cells() -> None:
    old = REFERENCE["nc_curves_older"]["curves"]
    differing = {
        (number, octave)
        for number, levels in NC.items()
        for octave, new, was in zip(SHAPE_OCTAVES, levels[2:], old[str(number)], strict=True)
        if new != was
    }
    assert {
        (15, 250.0), (15, 1000.0), (20, 63.0), (20, 2000.0), (25, 8000.0), (30, 1000.0),
        (40, 500.0), (60, 250.0), (60, 1000.0), (65, 1000.0), (70, 63.0), (70, 4000.0),
    } == differing  # fmt: skip


@pytest.mark.parametrize(("number", "dba", "sil"), WORKED["nc_curve_totals"]["rows"])
def test_nc_curves_have_the_printed_totals(number: int, dba: float, sil: float) -> None:
    levels = nc_levels_db(number)
    assert a_weighted_level_db(levels[2:], octaves=SHAPE_OCTAVES) == pytest.approx(dba, abs=0.05)
    by_octave = spectrum(levels)
    assert np.mean([by_octave[octave] for octave in SIL_OCTAVES]) == pytest.approx(sil, abs=5e-3)
    rated = nc_rating(by_octave)
    assert rated.speech_interference_level_db == pytest.approx(sil)
    if number < 70:
        assert rated.tangency == number


@pytest.mark.parametrize("row", SPECTRA, ids=lambda row: str(row[1]))
def test_noise_spectra_get_their_published_labels(row: list[Any]) -> None:
    levels, label, governing, tangency, rc = row[:5]
    rated = nc_rating(spectrum(levels))
    assert rated.label == label
    assert rated.governing == governing
    assert rated.tangency == pytest.approx(tangency, abs=0.5e-2)
    assert rated.out_of_range == ""
    assert rated.missing == ()
    assert rc_mark2(spectrum(levels)).label == rc


@pytest.mark.parametrize("case", REFERENCE["check_cases"]["nc"], ids=lambda case: case["label"])
def test_check_cases_get_their_published_labels(case: dict[str, Any]) -> None:
    rated = nc_rating(spectrum(case["levels"]))
    label = rated.label if rated.governing else f"{rated.label}; tangency {rated.tangency:g}"
    assert label == case["label"]
    assert rc_mark2(spectrum(case["levels"])).label == case["rc"]


def test_missing_low_octaves_are_named_and_change_nothing_else() -> None:
    levels = spectrum([60, 55, 50, 45, 40, 36, 32, 28, 22, 16])
    short = {octave: level for octave, level in levels.items() if octave >= 125.0}
    rated = nc_rating(short)
    assert rated.label == "NC-31 (500 Hz)"
    assert rated.missing == (16.0, 31.5, 63.0)


def test_beyond_the_curves_there_is_no_number() -> None:
    loud = nc_rating(spectrum([85, 80, 84, 79, 75, 72, 72, 66, 60, 55]))
    assert (loud.value, loud.out_of_range, loud.label) == (None, "above", "above NC-70 (1000 Hz)")
    quiet = nc_rating(spectrum([60, 50, 40, 30, 20, 15, 12, 10, 8, 6]))
    assert (quiet.value, quiet.out_of_range, quiet.label) == (None, "below", "below NC-15")
    rumble = nc_rating(spectrum([60, 50, 54, 30, 20, 15, 12, 10, 8, 6]))
    assert (rumble.value, rumble.governing) == (25.0, 63.0)
    hiss = nc_rating({500.0: 72, 1000.0: 71, 2000.0: 70, 4000.0: 68})
    assert (hiss.value, hiss.tangency, hiss.out_of_range) == (None, 70.0, "above")
    assert hiss.label == "above NC-70 by SIL"


def test_curves_that_coincide_count_as_the_lowest() -> None:
    # 16 Hz is 90 dB on NC-60, 65 and 70: the level is not above NC-60
    levels = {16.0: 90.0, 500.0: 20.0, 1000.0: 20.0, 2000.0: 20.0, 4000.0: 20.0}
    assert nc_rating(levels).tangency == 60.0


def test_nc_needs_the_speech_octaves_and_only_octaves() -> None:
    with pytest.raises(ValueError, match="needs the octaves 4000 Hz"):
        nc_rating({500.0: 30.0, 1000.0: 28.0, 2000.0: 25.0})
    with pytest.raises(ValueError, match="100 Hz"):
        nc_rating({100.0: 1.0, 500.0: 30.0, 1000.0: 28.0, 2000.0: 25.0, 4000.0: 20.0})
    with pytest.raises(ValueError, match="from 15 to 70"):
        nc_levels_db([30.0, 71.0])


@settings(max_examples=60, deadline=None)
@given(
    levels=st.lists(st.floats(10.0, 60.0), min_size=10, max_size=10),
    band=st.integers(0, 9),
    more=st.floats(0.0, 20.0),
)
def test_more_noise_never_lowers_tangency_or_nr(
    levels: list[float], band: int, more: float
) -> None:
    louder = list(levels)
    louder[band] += more
    before, after = nc_rating(spectrum(levels)), nc_rating(spectrum(louder))
    order = {"below": -np.inf, "above": np.inf}

    def ranked(rated: Any) -> float:
        return order[rated.out_of_range] if rated.tangency is None else float(rated.tangency)

    assert ranked(after) >= ranked(before)
    assert nr_rating(spectrum(louder)).value >= nr_rating(spectrum(levels)).value


@pytest.mark.parametrize("number", [25, 30, 35, 40, 45, 50])
def test_rc_curves_are_the_published_ones(number: int) -> None:
    assert list(RATING_OCTAVES) == REFERENCE["rc_mark2"]["bands_hz"]
    np.testing.assert_array_equal(
        rc_levels_db(number), REFERENCE["rc_mark2"]["curves"][str(number)]
    )


def test_rc_tags_turn_only_beyond_five_and_three_decibels() -> None:
    on = spectrum(rc_levels_db(35))
    assert rc_mark2(on).label == "RC-35(N)"
    assert rc_mark2({**on, 63.0: on[63.0] + 5.0}).quality == "N"
    assert rc_mark2({**on, 63.0: on[63.0] + 5.1}).quality == "R"
    assert rc_mark2({**on, 4000.0: on[4000.0] + 3.0}).quality == "N"
    assert rc_mark2({**on, 4000.0: on[4000.0] + 3.1}).quality == "H"
    assert rc_mark2({**on, 4000.0: 30.0, 31.5: 70.0}).quality == "RH"
    # 500 Hz counts as low and 1 kHz as high; both also lift the number, here by 3 and 2
    assert rc_mark2({**on, 500.0: on[500.0] + 9.0}).label == "RC-38(R)"
    assert rc_mark2({**on, 1000.0: on[1000.0] + 6.0}).label == "RC-37(H)"


def test_rc_outside_its_family_has_no_number() -> None:
    shape = np.array([65, 60, 55, 50, 45, 40, 35, 30, 25, 20], dtype=float)
    below, above = (rc_mark2(spectrum(shape + shift)) for shift in (-12.0, 17.0))
    assert (below.value, below.out_of_range, below.label) == (None, "below", "below RC-25")
    assert (above.value, above.out_of_range, above.quality) == (None, "above", "")
    with pytest.raises(ValueError, match=r"needs the octaves 31\.5 Hz"):
        rc_mark2({octave: 40.0 for octave in RATING_OCTAVES if octave != 31.5})
    with pytest.raises(ValueError, match="from 25 to 50"):
        rc_levels_db(24)


def test_nr_is_anchored_in_the_right_bands() -> None:
    # two open codes carry the list one band too high
    block = REFERENCE["nr_curves"]
    anchors = dict(zip(block["bands_hz"], zip(block["a"], block["b"], strict=True), strict=True))
    assert anchors[31.5] == (55.4, 0.681)
    assert anchors[1000] == (0, 1.0)
    zero, ten = nr_levels_db(0.0), nr_levels_db(10.0)
    np.testing.assert_allclose(zero, block["a"])
    np.testing.assert_allclose(ten - zero, 10.0 * np.array(block["b"]))


@pytest.mark.parametrize(("number", "printed"), WORKED["nr_curves_printed"]["rows"])
def test_nr_curves_reproduce_every_printed_digit(number: float, printed: list[float]) -> None:
    curve = nr_levels_db(number)
    np.testing.assert_allclose(curve, printed, rtol=0, atol=0.05 + 1e-9)
    rated = nr_rating(dict(zip(NOISE_OCTAVES, curve, strict=True)))
    assert rated.value == pytest.approx(number)
    assert rated.label.startswith(f"NR-{number:g} ")


def test_nr_30_has_the_printed_a_level() -> None:
    dba = a_weighted_level_db(nr_levels_db(30.0), octaves=NOISE_OCTAVES)
    assert dba == pytest.approx(WORKED["nr_curves_printed"]["nr30_dba"], abs=0.05)


def test_nr_names_the_octave_that_decides_and_what_is_missing() -> None:
    rated = nr_rating({16.0: 120.0, 125.0: 50.0, 1000.0: 31.0})
    assert rated.governing == 125.0
    assert rated.value == pytest.approx((50.0 - 22.0) / 0.870)
    assert 63.0 in rated.missing
    with pytest.raises(ValueError, match="at least one octave"):
        nr_rating({16.0: 60.0})


@pytest.mark.practice
@pytest.mark.parametrize("kind", ["ceiling_diffuser", "duct_rumble", "fan_coil", "projector_fan"])
def test_shapes_are_the_practice_scaled_to_the_level_asked_for(kind: NoiseKind) -> None:
    block = REFERENCE["noise_shapes"]
    assert list(SHAPE_OCTAVES) == block["bands_hz"]
    # the printed shapes sum to 0 dBA within their rounding
    assert a_weighted_level_db(block[kind], octaves=SHAPE_OCTAVES) == pytest.approx(0.0, abs=0.06)
    levels = noise_shape_db(kind, level_dba=[31.0, 42.5])
    np.testing.assert_allclose(a_weighted_level_db(levels, octaves=SHAPE_OCTAVES), [31.0, 42.5])
    np.testing.assert_allclose(levels[0] - 31.0, block[kind], rtol=0, atol=0.06)


def test_an_unknown_kind_of_noise_is_refused_with_the_known_ones() -> None:
    with pytest.raises(ValueError, match="ceiling_diffuser, duct_rumble"):
        noise_shape_db(cast(NoiseKind, "waterfall"), level_dba=30.0)


@pytest.mark.parametrize("number", [15, 25, 40, 70])
def test_a_background_told_in_dba_is_the_nc_curve_of_that_level(number: int) -> None:
    curve = nc_levels_db(number)[2:]
    dba = a_weighted_level_db(curve, octaves=SHAPE_OCTAVES)
    np.testing.assert_allclose(background_levels_db(dba), curve)


@settings(max_examples=60, deadline=None)
@given(low=st.floats(15.0, 80.0), more=st.floats(0.0, 10.0))
def test_a_background_meets_its_level_and_grows_with_it(low: float, more: float) -> None:
    quiet, loud = background_levels_db([low, low + more])
    assert a_weighted_level_db(quiet, octaves=SHAPE_OCTAVES) == pytest.approx(low)
    assert np.all(loud >= quiet - 1e-9)
