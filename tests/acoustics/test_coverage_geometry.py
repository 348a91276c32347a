"""Circles of ceiling loudspeakers, and how even a lattice is, against independent tables."""

from __future__ import annotations

import math

import numpy as np
import pytest

from wellheard.acoustics.coverage import (
    Layout,
    Overlap,
    area_each,
    coverage_diameter,
    lattice_spacing,
    level_variation_db,
)

# D = 2h tan(φ/2), worked by hand [L]: ceiling, ears [m], then D at 90°, 120° and 140° [m].
CIRCLES = [
    (2.7, 1.2, "3.000", "5.196", "8.242"),
    (2.74, 1.2, "3.080", "5.335", "8.462"),
    (3.0, 1.2, "3.600", "6.235", "9.891"),
    (3.6, 1.2, "4.800", "8.314", "13.188"),
    (2.7, 1.6, "2.200", "3.811", "6.044"),
]


def near(printed: str) -> object:
    return pytest.approx(float(printed), abs=0.5001 * 10.0 ** -len(printed.partition(".")[2]))


@pytest.mark.parametrize(("ceiling", "ears", "at_90", "at_120", "at_140"), CIRCLES)
def test_a_circle_has_the_printed_diameter(
    ceiling: float, ears: float, at_90: str, at_120: str, at_140: str
) -> None:
    for angle_deg, printed in ((90, at_90), (120, at_120), (140, at_140)):
        assert coverage_diameter(ceiling - ears, angle_deg=angle_deg) == near(printed)


@pytest.mark.parametrize(
    ("throw", "angle_deg"), [(0.0, 90.0), (-1.0, 90.0), (1.5, 180.0), (1.5, 0.0), (1.5, math.nan)]
)
def test_what_covers_nothing_or_everything_has_no_circle(throw: float, angle_deg: float) -> None:
    with pytest.raises(ValueError, match="is allowed"):
        coverage_diameter(throw, angle_deg=angle_deg)


def farthest_place(layout: Layout) -> float:
    """How far the middle between neighbours is from all of them, re their spacing, by search."""
    row = 1.0 if layout == "square" else math.sqrt(3) / 2
    sites = np.array(
        [
            (i + (0.5 * (j % 2) if layout == "hexagonal" else 0.0), j * row)
            for i in range(-3, 4)
            for j in range(-3, 4)
        ]
    )
    x, y = np.meshgrid(np.linspace(0, 1, 301), np.linspace(0, row, 301))
    away = np.hypot(x[..., None] - sites[:, 0], y[..., None] - sites[:, 1])
    return float(away.min(axis=-1).max())


@pytest.mark.parametrize("layout", ["square", "hexagonal"])
def test_minimum_overlap_leaves_no_hole_and_no_less_would_do(layout: Layout) -> None:
    step = lattice_spacing(1.0, layout=layout, overlap="minimum overlap")
    assert step * farthest_place(layout) == pytest.approx(0.5, abs=0.002)


# 0.707 D, 0.866 D, D and D/2: geometry.
@pytest.mark.parametrize(
    ("layout", "overlap", "printed"),
    [
        ("square", "minimum overlap", "0.707"),
        ("hexagonal", "minimum overlap", "0.866"),
        ("square", "edge to edge", "1.000"),
        ("hexagonal", "centre to centre", "0.500"),
    ],
)
def test_spacing_is_the_printed_share_of_a_circle(
    layout: Layout, overlap: Overlap, printed: str
) -> None:
    assert lattice_spacing(1.0, layout=layout, overlap=overlap) == near(printed)


def test_each_takes_the_area_of_its_cell() -> None:
    # s² and 0.866 s².
    assert area_each(2.0, layout="square") == pytest.approx(4.0)
    assert area_each(2.0, layout="hexagonal") == pytest.approx(3.464, abs=5e-4)


# Computed independently of this program [L]: 33 × 33 units, 60 × 60 points in a quarter of a cell.
# Spacing re D, then square and hexagonal at 90°, the same at 120° [dB].
EVENNESS = [
    (1.0, "8.22", "6.12", "10.33", "8.57"),
    (math.sqrt(3) / 2, "5.96", "4.23", "8.30", "6.69"),
    (math.sqrt(0.5), "3.38", "2.19", "5.71", "4.37"),
    (0.5, "0.83", "0.42", "2.35", "1.57"),
]


@pytest.mark.parametrize(("ratio", "square_90", "hex_90", "square_120", "hex_120"), EVENNESS)
def test_a_lattice_is_as_even_as_the_table_says(
    ratio: float, square_90: str, hex_90: str, square_120: str, hex_120: str
) -> None:
    rows: list[tuple[Layout, int, str]] = [
        ("square", 90, square_90),
        ("hexagonal", 90, hex_90),
        ("square", 120, square_120),
        ("hexagonal", 120, hex_120),
    ]
    for layout, angle_deg, printed in rows:
        found = level_variation_db(ratio, angle_deg=angle_deg, layout=layout)
        assert found == pytest.approx(float(printed), abs=0.0055)


def test_one_far_from_the_others_falls_off_as_it_does_alone() -> None:
    # Limit: at ten circles apart the loudest place hears one unit, the middle of four hears four.
    # cosⁿ θ/r² with n + 2 = 5.986 at 90°, from r = h to h √(1 + (10 D)²/2), D = 2h.
    far = 10 * 5.986 / 2 * math.log10(1 + 200) - 10 * math.log10(4)
    assert level_variation_db(10.0, angle_deg=90, layout="square") == pytest.approx(far, abs=0.1)
