"""Speech spectra against ANSI S3.5, IEC 60268-16 and their printed totals."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, cast

import numpy as np
import pytest

from wellheard import tables
from wellheard.acoustics.levels import a_weighted_level_db, sum_levels_db
from wellheard.acoustics.speech import (
    VocalEffort,
    iec_female_spectrum_2011,
    iec_male_spectrum_2011,
    iec_male_spectrum_2020,
    sii_octave_importance,
    speech_levels_db,
)
from wellheard.bands import OCTAVES, a_weighting_db, exact_midband

DATA = Path(__file__).parents[1] / "reference"
REFERENCE: dict[str, Any] = json.loads((DATA / "reference_values.json").read_text())
WORKED: dict[str, Any] = json.loads((DATA / "worked_examples.json").read_text())
S35 = REFERENCE["speech_s35"]
IEC = REFERENCE["speech_iec60268_16"]
EFFORTS: list[VocalEffort] = ["normal", "raised", "loud", "shout"]


@pytest.mark.parametrize("effort", EFFORTS)
def test_octave_levels_are_spectrum_level_plus_bandwidth(effort: VocalEffort) -> None:
    levels = speech_levels_db(effort)[1:]
    np.testing.assert_array_equal(levels, S35["octave_band_level_1m_db"][effort])
    summed = np.add(S35["octave_spectrum_level_db"][effort], S35["octave_bandwidth_adjust_db"])
    np.testing.assert_allclose(levels, summed, rtol=0, atol=1e-9)


@pytest.mark.parametrize("effort", EFFORTS)
def test_octave_sums_have_the_printed_a_level(effort: VocalEffort) -> None:
    levels = speech_levels_db(effort).copy()
    levels[0] = -np.inf  # the standard has no 125 Hz octave
    assert a_weighted_level_db(levels) == pytest.approx(WORKED["octave_sums_s35"][effort], abs=0.05)


@pytest.mark.parametrize("effort", EFFORTS)
def test_the_filler_at_125_hz_is_the_practice_and_weighs_nothing(effort: VocalEffort) -> None:
    # common practice, no source: 49 dB at normal effort, else 8.2 dB below 250 Hz
    levels = speech_levels_db(effort)
    assert levels[0] == pytest.approx(49.0 if effort == "normal" else levels[1] - 8.2, abs=1e-9)
    without = levels.copy()
    without[0] = -np.inf
    assert a_weighted_level_db(levels) - a_weighted_level_db(without) < 0.02


@pytest.mark.parametrize("effort", EFFORTS)
def test_third_octave_sums_are_the_stated_overall_levels(effort: VocalEffort) -> None:
    # the octave levels above and these third octaves are of one standard, so they check each other
    spectrum = np.array(S35["third_octave_spectrum_level_db"][effort])
    # the standard's widths are those of base-two bands about the nominal mid-band
    nominal = np.array(S35["third_octave_hz"])
    band = spectrum + 10.0 * np.log10(nominal * (2.0 ** (1 / 6) - 2.0 ** (-1 / 6)))
    printed = {"normal": 62.35, "raised": 68.28, "loud": 74.86, "shout": 82.36}  # [L computed]
    assert sum_levels_db(band) == pytest.approx(printed[effort], abs=0.5e-2)
    assert sum_levels_db(band) == pytest.approx(S35["overall_db"][effort], abs=0.07)
    weights = a_weighting_db([exact_midband(hz) for hz in nominal]).round(1)  # the nominal table
    assert sum_levels_db(band + weights) == pytest.approx(
        S35["overall_dba_from_thirds"][effort], abs=0.05
    )


def test_a_quiet_voice_is_a_normal_one_at_55_dba() -> None:
    # common practice, no source
    quiet = speech_levels_db("quiet")
    assert a_weighted_level_db(quiet) == pytest.approx(55.0, abs=1e-9)
    shift = speech_levels_db("normal") - quiet
    np.testing.assert_allclose(shift, shift[0])


def test_several_efforts_come_as_rows_and_cannot_be_spoilt() -> None:
    rows = speech_levels_db(["quiet", "shout"])
    assert rows.shape == (2, 7)
    rows[:] = 0.0
    speech_levels_db("shout")[:] = 0.0
    np.testing.assert_array_equal(
        speech_levels_db("shout")[1:], S35["octave_band_level_1m_db"]["shout"]
    )


def test_an_unknown_effort_is_refused_with_the_known_ones() -> None:
    with pytest.raises(ValueError, match="quiet, normal, raised, loud, shout"):
        speech_levels_db(cast(VocalEffort, "whisper"))


def test_iec_spectra_reproduce_their_tables_and_sums() -> None:
    assert list(OCTAVES) == IEC["bands_hz"]
    checks = REFERENCE["sti"]["check_cases"]["a_check"]
    re_500 = iec_male_spectrum_2020(0.0) - iec_male_spectrum_2020(0.0)[2]
    np.testing.assert_allclose(re_500, IEC["male_2020_re_500"], rtol=0, atol=1e-9)
    assert a_weighted_level_db(iec_male_spectrum_2020(61.0)) == pytest.approx(61.0)
    np.testing.assert_allclose(
        iec_male_spectrum_2020(0.0), checks["male2020_re_A"], rtol=0, atol=0.5e-2
    )
    np.testing.assert_array_equal(iec_male_spectrum_2011(0.0), IEC["male_2011_re_A"])
    assert a_weighted_level_db(iec_male_spectrum_2011(0.0)) == pytest.approx(
        checks["male2011"], abs=0.5e-3
    )
    female = iec_female_spectrum_2011(0.0)
    np.testing.assert_array_equal(female[1:], IEC["female_2011_re_A"][1:])
    assert female[0] == -np.inf
    assert a_weighted_level_db(female) == pytest.approx(checks["female2011"], abs=0.5e-3)


def test_iec_spectra_move_with_the_level_row_by_row() -> None:
    for spectrum in (iec_male_spectrum_2020, iec_male_spectrum_2011, iec_female_spectrum_2011):
        rows = spectrum([50.0, 66.0])[:, 1:]  # the female one leaves out 125 Hz
        np.testing.assert_allclose(rows[1] - rows[0], 16.0)


def test_importance_is_the_published_one_and_adds_up() -> None:
    assert list(sii_octave_importance()[1:]) == S35["octave_importance"]
    assert sii_octave_importance()[0] == 0.0
    assert sii_octave_importance().sum() == pytest.approx(1.0, abs=1e-9)


def test_the_omnidirectional_spectrum_of_iso_3382_3_is_carried_unchanged() -> None:
    row = tables.load("speech_spectra").by("id")["iso3382_3_normal"]
    actual = [float(row[f"{octave:g}"]) for octave in OCTAVES]
    assert actual == REFERENCE["speech_iso3382_3"]["lp_1m"]
