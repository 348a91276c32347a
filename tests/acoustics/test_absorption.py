"""Absorption averages and single numbers."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from wellheard.acoustics.absorption import (
    absorption_area,
    capped_absorption,
    hard_object_absorption_area,
    mean_absorption,
    noise_reduction_coefficient,
)

OCTAVES = ("125", "250", "500", "1000", "2000", "4000")
with (Path(__file__).parents[1] / "reference" / "absorption.csv").open(encoding="utf-8") as file:
    PUBLISHED = [row for row in csv.DictReader(file) if row["nrc"]]


@pytest.mark.parametrize("row", PUBLISHED, ids=lambda row: row["id"])
def test_noise_reduction_coefficient_of_published_finishes(row: dict[str, str]) -> None:
    bands = [float(row[octave]) for octave in OCTAVES]
    assert noise_reduction_coefficient([*bands, bands[-1]]) == float(row["nrc"])


def test_a_tie_rounds_up() -> None:
    # astm-c423 from memory: nearest multiple of 0.05, halves up
    assert noise_reduction_coefficient([0.0, 0.2, 0.2, 0.2, 0.3, 0.0, 0.0]) == 0.25


def test_mean_absorption_weighs_by_area_and_keeps_bands_last() -> None:
    absorption = np.array([[0.1, 0.4], [0.6, 0.2], [0.0, 1.0]])
    areas = np.array([[30.0, 10.0, 0.0], [10.0, 10.0, 20.0]])
    np.testing.assert_allclose(absorption_area(absorption, areas=areas), [[9.0, 14.0], [7.0, 26.0]])
    np.testing.assert_allclose(
        mean_absorption(absorption, areas=areas), [[0.225, 0.35], [0.175, 0.65]]
    )


def test_measured_values_above_one_are_capped_only_at_the_limit_asked_for() -> None:
    measured = [0.3, 1.05, 1.3]
    np.testing.assert_array_equal(capped_absorption(measured), [0.3, 1.0, 1.0])
    np.testing.assert_array_equal(capped_absorption(measured, limit=1.2), [0.3, 1.05, 1.2])
    with pytest.raises(ValueError, match="negative"):
        capped_absorption([-0.01])


def test_a_hard_object_absorbs_like_a_face_of_its_cube() -> None:
    # en12354-6:2003 Formula 4
    np.testing.assert_allclose(hard_object_absorption_area([1.0, 0.064, 8.0]), [1.0, 0.16, 4.0])
