"""Volts, sensitivities, digital levels and noise against handbook arithmetic."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wellheard.acoustics.gain import (
    DBU_RE_DBV,
    EBU_FULL_SCALE_DBU,
    PASCAL_DB,
    SMPTE_FULL_SCALE_DBU,
    dbfs_of_dbu,
    dbu_of_dbv,
    dbu_of_volts,
    dbv_of_dbu,
    equivalent_acoustic_noise_db,
    headroom_db,
    microphone_output_dbu,
    preamplifier_gain_db,
    sensitivity_db,
    sensitivity_millivolts_per_pascal,
    stage_noise_db,
    thermal_noise_dbu,
    volts_of_dbu,
)


@pytest.mark.parametrize(
    ("millivolts", "printed"),
    # 20 lg(mV/1000), printed to 0.01 dB [L].
    [(5.6, -45.04), (10.0, -40.0), (20.0, -33.98), (31.6, -30.01), (50.0, -26.02)],
)
def test_sensitivity_reads_both_ways(millivolts: float, printed: float) -> None:
    assert sensitivity_db(millivolts) == pytest.approx(printed, abs=0.0051)
    assert sensitivity_millivolts_per_pascal(printed) == pytest.approx(millivolts, rel=1e-3)


def test_the_references_are_one_milliwatt_and_one_pascal() -> None:
    # Definitions [L]: 0 dBu is 1 mW into 600 Ω, 0.7746 V, 2.218 dB; 1 Pa re 20 µPa is 93.98 dB.
    assert volts_of_dbu(0.0) == pytest.approx(math.sqrt(0.001 * 600.0))
    assert pytest.approx(2.218, abs=5e-4) == DBU_RE_DBV
    assert pytest.approx(93.979, abs=5e-4) == PASCAL_DB


@pytest.mark.parametrize(
    ("dbu", "volts"),
    # Line levels [L]: +4 dBu 1.228 V, +24 dBu 12.28 V, −7.78 dBu (−10 dBV) 0.316 V.
    [(4.0, 1.228), (24.0, 12.28), (-7.782, 0.3162)],
)
def test_line_levels_are_these_voltages(dbu: float, volts: float) -> None:
    assert volts_of_dbu(dbu) == pytest.approx(volts, rel=5e-4)
    assert dbu_of_volts(volts) == pytest.approx(dbu, abs=5e-3)


def test_consumer_line_level_in_both_references() -> None:
    assert dbu_of_dbv(-10.0) == pytest.approx(-7.78, abs=0.005)
    assert dbv_of_dbu(dbu_of_dbv(-3.3)) == pytest.approx(-3.3)


def test_a_microphone_of_10_mv_gives_what_the_worked_example_says() -> None:
    # By hand [L]: 10 mV/Pa at 60 dB: −73.98 dBV, −71.76 dBu; 61.8 dB more are −10 dBu.
    output = microphone_output_dbu(60.0, sensitivity_db=-40.0)
    assert output == pytest.approx(-71.76, abs=0.005)
    assert dbv_of_dbu(output) == pytest.approx(-73.98, abs=0.005)
    gain = preamplifier_gain_db(
        60.0, sensitivity_db=-40.0, full_scale_dbu=EBU_FULL_SCALE_DBU, average_dbfs=-28.0
    )
    assert gain == pytest.approx(61.8, abs=0.05)
    # 94 dB on a microphone is its sensitivity.
    assert dbv_of_dbu(microphone_output_dbu(PASCAL_DB, sensitivity_db=-33.3)) == pytest.approx(
        -33.3
    )


def test_alignment_levels_are_those_of_the_broadcasters() -> None:
    # EBU R 68 [M]: 0 dBu is −18 dBFS. SMPTE RP 155 [M]: +4 dBu is −20 dBFS.
    assert dbfs_of_dbu(0.0, full_scale_dbu=EBU_FULL_SCALE_DBU) == -18.0
    assert dbfs_of_dbu(4.0, full_scale_dbu=SMPTE_FULL_SCALE_DBU) == -20.0


@given(st.floats(40, 90), st.floats(-60, -20), st.floats(0, 30), st.floats(-30, -10))
def test_the_gain_brings_speech_to_the_wanted_digital_level(
    level: float, sensitivity: float, full_scale: float, average: float
) -> None:
    gain = preamplifier_gain_db(
        level, sensitivity_db=sensitivity, full_scale_dbu=full_scale, average_dbfs=average
    )
    line = microphone_output_dbu(level, sensitivity_db=sensitivity) + gain
    assert dbfs_of_dbu(line, full_scale_dbu=full_scale) == pytest.approx(average)
    # 15 dB louder with peaks 12 dB over it: by hand −average − 27.
    left = headroom_db(
        level + 15.0, sensitivity_db=sensitivity, gain_db=gain, full_scale_dbu=full_scale
    )
    assert left == pytest.approx(-average - 27.0)


def test_peaks_are_told_by_their_crest() -> None:
    # By hand: 60 dB on 10 mV/Pa with 61.76 dB is −10 dBu; 18 dBu full scale, peaks 18 dB over.
    left = headroom_db(
        60.0, sensitivity_db=-40.0, gain_db=61.76, full_scale_dbu=18.0, crest_db=18.0
    )
    assert left == pytest.approx(10.0, abs=0.005)


def test_a_preamplifier_is_quieter_than_a_microphone() -> None:
    # By hand [L]: −129 dBu and 10 mV/Pa: −129 + 37.78 + 93.98 = 2.8 dB.
    assert equivalent_acoustic_noise_db(-129.0, sensitivity_db=-40.0) == pytest.approx(
        2.8, abs=0.05
    )


def test_thermal_noise_is_the_limit_that_data_sheets_print() -> None:
    # Handbooks [L]: 150 Ω, 20 kHz: −130.9 dBu. By hand 200 Ω: 1.25 dB more.
    assert thermal_noise_dbu(150.0) == pytest.approx(-130.9, abs=0.05)
    assert thermal_noise_dbu(200.0) - thermal_noise_dbu(150.0) == pytest.approx(1.249, abs=1e-3)
    warm = thermal_noise_dbu(150.0, temperature_c=60.0, bandwidth=10_000.0)
    # By hand 10 lg(333.15/293.15 / 2) = −2.455.
    assert warm - thermal_noise_dbu(150.0) == pytest.approx(-2.455, abs=1e-3)


def test_noise_of_stages_adds_at_the_output() -> None:
    # By hand: −129 + 50 + 10, −100 + 10, −90: −69, −90, −90 → 10 lg(10^−6.9 + 2·10^−9) = −68.93.
    found = stage_noise_db([-129.0, -100.0, -90.0], gain_db=[50.0, 10.0, 0.0])
    assert found == pytest.approx(-68.931, abs=1e-3)
    # rival: Friis for noise factors at room temperature
    factors, gains = np.array([2.0, 10.0, 5.0]), np.array([100.0, 4.0, 3.0])
    friis = factors[0] + (factors[1] - 1.0) / gains[0] + (factors[2] - 1.0) / (gains[0] * gains[1])
    added = 10.0 * np.log10([factors[0], factors[1] - 1.0, factors[2] - 1.0])
    output = stage_noise_db(added, gain_db=10.0 * np.log10(gains))
    assert output - 10.0 * np.log10(gains.prod()) == pytest.approx(10.0 * math.log10(friis))


def test_a_stage_without_noise_adds_none() -> None:
    found = stage_noise_db([[-100.0, -np.inf], [-np.inf, -80.0]], gain_db=[20.0, 5.0])
    assert found == pytest.approx([-75.0, -75.0])
