"""Energy arithmetic against computed sums and published spectra."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from wellheard.acoustics.levels import (
    a_weighted_level_db,
    a_weights_db,
    c_weighted_level_db,
    energy,
    energy_level_db,
    scaled_to_a_weighted_level_db,
    sum_levels_db,
)
from wellheard.bands import NOISE_OCTAVES, RATING_OCTAVES

DATA = Path(__file__).parents[1] / "reference"
REFERENCE: dict[str, Any] = json.loads((DATA / "reference_values.json").read_text())
WORKED: dict[str, Any] = json.loads((DATA / "worked_examples.json").read_text())


@pytest.mark.parametrize(("levels", "printed"), WORKED["energy_sums"]["rows"])
def test_sums_reproduce_every_printed_digit(levels: list[float], printed: float) -> None:
    assert sum_levels_db(levels) == pytest.approx(printed, abs=0.5e-3)


def test_sums_collapse_only_the_axis_they_are_told() -> None:
    levels = np.array([[60.0, 57.0], [60.0, 60.0]])
    np.testing.assert_allclose(sum_levels_db(levels, axis=0), [63.0103, 61.7643], atol=1e-4)
    assert sum_levels_db(levels, axis=None) == pytest.approx(65.44, abs=0.005)  # 4·60 but 3.5


def test_silence_adds_nothing_and_stays_silent() -> None:
    assert sum_levels_db([40.0, -np.inf]) == pytest.approx(40.0)
    assert energy_level_db(0.0) == -np.inf
    assert energy(-np.inf) == 0.0


@pytest.mark.parametrize("kind", ["lp_1m", "lw"])
def test_iso_3382_3_speech_sums_to_its_printed_a_level(kind: str) -> None:
    block = REFERENCE["speech_iso3382_3"]
    printed = block["lp_a" if kind == "lp_1m" else "lw_a"]
    assert a_weighted_level_db(block[kind]) == pytest.approx(printed, abs=0.05)


@pytest.mark.parametrize("row", WORKED["noise_spectra"]["rows"], ids=lambda row: str(row[1]))
def test_a_and_c_levels_of_noise_spectra_reproduce_every_printed_digit(row: list[Any]) -> None:
    levels, dba, dbc = row[0], row[5], row[6]
    assert a_weighted_level_db(levels, octaves=RATING_OCTAVES) == pytest.approx(dba, abs=0.05)
    assert c_weighted_level_db(levels, octaves=RATING_OCTAVES) == pytest.approx(dbc, abs=0.05)


def test_a_spectrum_is_scaled_row_by_row_without_changing_shape() -> None:
    shape = np.array([50.0, 48.0, 45.0, 44.0, 40.0, 35.0, 30.0, 22.0, 18.0])
    scaled = scaled_to_a_weighted_level_db(shape, level_dba=[30.0, 45.0], octaves=NOISE_OCTAVES)
    np.testing.assert_allclose(a_weighted_level_db(scaled, octaves=NOISE_OCTAVES), [30.0, 45.0])
    np.testing.assert_allclose(np.diff(scaled, axis=-1), np.diff(np.stack([shape, shape])))


def test_levels_that_do_not_fit_their_octaves_are_refused() -> None:
    with pytest.raises(ValueError, match="do not fit 9 octaves"):
        a_weighted_level_db(np.zeros(7), octaves=NOISE_OCTAVES)
    with pytest.raises(ValueError, match="have no weight"):
        a_weights_db((100.0,))
    with pytest.raises(ValueError, match="silent spectrum"):
        scaled_to_a_weighted_level_db(np.full(7, -np.inf), level_dba=30.0)
