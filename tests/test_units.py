"""Lengths against the definitions: 1 ft = 0.3048 m, 1 in = 25.4 mm exactly (international foot)."""

from __future__ import annotations

import math
import subprocess
import sys
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wellheard.units import (
    FOOT,
    INCH,
    Unit,
    energy,
    format_length,
    format_millimetres,
    kelvin,
    level_db,
    parse_length,
)

READ: list[tuple[str | float, Unit, float]] = [
    ("14 ft 6 in", "m", 4.4196),
    ("17'-4\"", "m", 5.2832),
    ("17' 4\"", "ft", 5.2832),
    ("17′-4″", "m", 5.2832),
    ("17'4''", "m", 5.2832),
    ("4.42 m", "ft", 4.42),
    ("442 cm", "ft", 4.42),
    ("4420mm", "ft", 4.42),
    ("5 1/2 in", "m", 0.1397),
    ('5-1/2"', "m", 0.1397),
    ("5½ in", "m", 0.1397),
    ("½ in", "m", 0.0127),
    ("9'-0⅛\"", "m", 2.746375),
    ("9'-3/4\"", "m", 2.76225),
    ("2 ft", "m", 0.6096),
    ("2.5 feet", "m", 0.762),
    ("-3 ft 6 in", "m", -1.0668),
    ("−0.4 m", "ft", -0.4),
    (".5 m", "ft", 0.5),
    ("3 metres", "ft", 3.0),
    (2, "ft", 0.6096),
    (2, "m", 2.0),
    (-1.5, "ft", -0.4572),
    (0, "m", 0.0),
]


@pytest.mark.parametrize(("written", "unit", "metres"), READ)
def test_lengths_are_read_exactly(written: str | float, unit: Unit, metres: float) -> None:
    assert parse_length(written, unit=unit) == metres


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "4,2 m",
        "1,234.5 m",
        "4.42",
        "14' 6",
        "14 6 in",
        "14.5 ft 6 in",
        "14 ft 12 in",
        "5 3/2 in",
        "5 1/3 in",
        "5 0/2 in",
        "1/0 in",
        "4 m 20 cm",
        "6 in 14 ft",
        "4.4.2 m",
        "4 yd",
        "- ",
        "--4 m",
        "4 m -",
        "4 ft -",
        "- 6 in -",
        "nan m",
        "1e3 m",
        "m",
        "ft",
        "four m",
        "4 m²",
        "٤ m",
        "4" * 60 + " m",
        True,
        None,
        math.nan,
        math.inf,
        1e12,
        [1, 2],
    ],
)
def test_what_has_no_one_reading_is_refused_with_what_is_allowed(text: object) -> None:
    with pytest.raises(ValueError, match=";"):
        parse_length(text, unit="m")  # type: ignore[arg-type]


@given(st.integers(0, 300), st.integers(0, 95))
def test_feet_and_inches_in_print_read_back_as_the_same_length(feet: int, eighths: int) -> None:
    metres = float(Fraction(254, 10000) * (12 * feet + Fraction(eighths, 8)))
    assert parse_length(format_length(metres, unit="ft"), unit="m") == metres


@given(st.floats(-200, 200))
def test_metric_print_reads_back_within_half_its_last_digit(metres: float) -> None:
    assert (
        abs(parse_length(format_length(metres, unit="m", places=3), unit="ft") - metres) <= 5.1e-4
    )


@given(st.floats(-200, 200))
def test_imperial_print_reads_back_within_a_sixteenth(metres: float) -> None:
    printed = format_length(metres, unit="ft")
    assert abs(parse_length(printed, unit="m") - metres) <= INCH / 16 + 1e-9


@pytest.mark.parametrize(
    ("metres", "printed"),
    [
        (6.4008, "21'-0\""),
        (0.3048, "1'-0\""),
        (0.0, '0"'),
        (0.003175, '⅛"'),
        (0.2032, '8"'),
        (2.413, "7'-11\""),
        (2.4003, "7'-10½\""),
        (FOOT - 0.0001, "1'-0\""),
        (-0.4572, "−1'-6\""),
        (-0.0001, '0"'),
    ],
)
def test_feet_are_printed_as_architects_write_them(metres: float, printed: str) -> None:
    assert format_length(metres, unit="ft") == printed


def test_metres_are_printed_with_their_places_and_a_true_minus() -> None:
    assert format_length(6.4, unit="m") == "6.40 m"
    assert format_length(-1.25, unit="m", places=1) == "−1.2 m"
    assert format_length(-0.001, unit="m") == "0.00 m"
    assert format_millimetres(2.3004) == "2300"
    assert format_millimetres(-0.45) == "−450"


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_what_is_no_number_is_not_printed(value: float) -> None:
    with pytest.raises(ValueError, match="no length"):
        format_length(value, unit="m")
    with pytest.raises(ValueError, match="no length"):
        format_millimetres(value)


def test_absolute_zero_is_at_minus_273_15_degrees() -> None:
    assert kelvin(-273.15) == 0.0  # definition of the degree Celsius, SI brochure


def test_levels_of_energy_are_tens_of_the_logarithm() -> None:
    assert level_db(2.0) == pytest.approx(3.0103, abs=5e-5)
    assert energy(-3.0) == pytest.approx(0.501187, abs=5e-7)
    assert level_db(0.0) == -math.inf
    np.testing.assert_allclose(level_db(np.array([1.0, 1000.0])), [0.0, 30.0])
    np.testing.assert_array_equal(level_db(np.array([0.0, 1.0])), [-np.inf, 0.0])
    np.testing.assert_allclose(energy(np.array([0.0, 30.0, -np.inf])), [1.0, 1000.0, 0.0])


@given(st.floats(-150, 150))
def test_energy_undoes_level(level: float) -> None:
    assert level_db(energy(level)) == pytest.approx(level, abs=1e-9)


def test_units_and_errors_load_without_numpy_and_pydantic() -> None:
    code = (
        "import sys, wellheard.units, wellheard.errors; "
        "print([m for m in ('numpy', 'pydantic', 'yaml', 'shapely') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
