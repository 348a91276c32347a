"""Bands against IEC 61260-1 and IEC 61672-1, figures in tests/reference."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from wellheard.bands import (
    A_WEIGHT_DB,
    C_WEIGHT_DB,
    EXACT_OCTAVES,
    NOISE_OCTAVES,
    OCTAVES,
    RATING_OCTAVES,
    SPEECH_BANDS,
    a_weighting_db,
    c_weighting_db,
    exact_midband,
)

DATA = Path(__file__).parent / "reference"
REFERENCE: dict[str, Any] = json.loads((DATA / "reference_values.json").read_text())
WORKED: dict[str, Any] = json.loads((DATA / "worked_examples.json").read_text())


def test_octaves_are_the_published_ones() -> None:
    assert list(RATING_OCTAVES) == REFERENCE["bands_octave_hz"]
    assert RATING_OCTAVES[1:] == NOISE_OCTAVES
    assert NOISE_OCTAVES[2:] == OCTAVES
    assert OCTAVES[SPEECH_BANDS] == (500.0, 1000.0, 2000.0, 4000.0)


def test_exact_midbands_reproduce_every_printed_digit() -> None:
    actual = [exact_midband(octave) for octave in RATING_OCTAVES]
    np.testing.assert_allclose(actual, REFERENCE["bands_octave_exact_hz"], rtol=0, atol=0.5e-3)
    assert list(EXACT_OCTAVES) == actual[3:]


def test_third_octave_labels_have_their_midbands() -> None:
    # IEC 61260-1:2014, clause 5: 1000·10^(k/10)
    assert exact_midband(800.0) == pytest.approx(794.328, abs=0.5e-3)
    assert exact_midband(3150.0) == pytest.approx(3162.278, abs=0.5e-3)


@pytest.mark.parametrize("label", [0.0, -125.0, 900.0, 110.0, float("nan"), float("inf")])
def test_a_frequency_that_labels_no_band_is_refused(label: float) -> None:
    with pytest.raises(ValueError, match="is no nominal octave"):
        exact_midband(label)


def test_weights_are_the_published_table() -> None:
    table = REFERENCE["weighting"]
    assert [A_WEIGHT_DB[octave] for octave in RATING_OCTAVES] == table["A"]
    assert [C_WEIGHT_DB[octave] for octave in RATING_OCTAVES] == table["C"]
    assert (A_WEIGHT_DB[16000.0], C_WEIGHT_DB[16000.0]) == (-6.6, -8.5)  # the same table


def test_weighting_formulas_reproduce_every_printed_digit_at_exact_frequencies() -> None:
    printed = WORKED["weighting_exact"]
    exact = [exact_midband(hz) for hz in printed["hz"]]
    np.testing.assert_allclose(a_weighting_db(exact), printed["A"], rtol=0, atol=0.5e-3)
    np.testing.assert_allclose(c_weighting_db(exact), printed["C"], rtol=0, atol=0.5e-3)


def test_weighting_formulas_round_to_the_table_at_exact_frequencies() -> None:
    for hz, weight in A_WEIGHT_DB.items():
        assert a_weighting_db(exact_midband(hz)) == pytest.approx(weight, abs=0.05)
    for hz, weight in C_WEIGHT_DB.items():
        assert c_weighting_db(exact_midband(hz)) == pytest.approx(weight, abs=0.05)


def test_nominal_frequencies_miss_the_table() -> None:
    for hz, printed in WORKED["weighting_exact"]["A_at_nominal"]:
        assert a_weighting_db(hz) == pytest.approx(printed, abs=0.5e-2)
        assert abs(a_weighting_db(hz) - A_WEIGHT_DB[hz]) > 0.05


def test_naming_a_band_does_not_wait_for_numpy() -> None:
    code = "import sys, wellheard.bands; sys.exit('numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
