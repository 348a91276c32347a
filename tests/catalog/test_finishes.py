"""Finishes carry the published figures, every one of them, and say where from."""

from __future__ import annotations

from pathlib import Path

import pytest

from wellheard import tables
from wellheard.catalog.finishes import OCTAVE_COLUMNS, Finish, from_table
from wellheard.errors import CatalogError

# Second copy of the published figures, source in each row; see absorption.toml beside it.
REFERENCE = Path(__file__).parents[1] / "reference"
ROWS = tables.parse(
    (REFERENCE / "absorption.csv").read_text(encoding="utf-8"),
    (REFERENCE / "absorption.toml").read_text(encoding="utf-8"),
    name="absorption",
).rows
SHIPPED = {finish.id: finish for finish in from_table(tables.load("finishes"))}

ALWAYS_PRESENT = {
    "carpet-tile": "carpet_thin",
    "carpet-heavy": "carpet_heavy_on_concrete",
    "vinyl-floor": "linoleum_on_concrete",
    "wood-floor": "parquet_on_concrete",
    "concrete-floor": "concrete_floor",
    "ceiling-mineral-tile": "ceiling_fissured_tile",
    "ceiling-plasterboard": "ceiling_plasterboard",
    "ceiling-perforated-gypsum": "ceiling_perforated_gypsum_board",
    "plasterboard": "plasterboard",
    "concrete": "unpainted_concrete",
    "glass-front": "plate_glass_heavy",
    "double-glazing": "double_glazing_10mm",
    "wood-door": "wooden_door",
    "wood-panel": "wooden_lining",
    "fabric-panel": "panel_fabric_covered_6pcf",
    "curtain": "curtains_cotton_0.5",
    "blinds": "blinds_half_open",
}


def kebab(reference_id: str) -> str:
    return reference_id.replace("_", "-").replace(".", "-")


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["id"])
def test_every_published_row_is_there_digit_for_digit(row: dict[str, str]) -> None:
    finish = SHIPPED[kebab(row["id"])]
    published = [float(row[band]) for band in OCTAVE_COLUMNS if row[band]]
    assert list(finish.absorption[: len(published)]) == published
    assert finish.extrapolated == (len(published) == 6)
    if finish.extrapolated:
        assert finish.absorption[6] == finish.absorption[5]
    assert finish.source == row["source"]
    assert finish.trust == row["trust"]
    assert finish.per_item == row["id"].endswith("_each")


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["id"])
def test_the_noise_reduction_coefficient_is_the_mean_to_the_nearest_twentieth(
    row: dict[str, str],
) -> None:
    finish = SHIPPED[kebab(row["id"])]
    if row["nrc"] == "":
        assert finish.noise_reduction_coefficient is None
    else:
        assert finish.noise_reduction_coefficient == pytest.approx(float(row["nrc"]), abs=1e-12)


def test_sixty_rows_were_copied() -> None:
    assert len(ROWS) == 60


@pytest.mark.parametrize(("name", "reference_id"), ALWAYS_PRESENT.items())
def test_the_common_names_stand_for_published_rows(name: str, reference_id: str) -> None:
    alias, target = SHIPPED[name], SHIPPED[kebab(reference_id)]
    assert alias.absorption == target.absorption
    assert alias.source == target.source
    assert alias.same_as == ("" if name == target.id else target.id)


def test_no_figure_is_typed_twice() -> None:
    for row in tables.load("finishes").rows:
        if row["same_as"]:
            assert not any(row[band] for band in OCTAVE_COLUMNS), row["id"]


def test_both_lineages_of_gypsum_board_are_there_and_say_so() -> None:
    high, low = SHIPPED["gypsum-12mm-studs"], SHIPPED["gypsum-12mm-studs-alt"]
    assert (high.absorption[0], low.absorption[0]) == (0.29, 0.10)
    assert low.id in high.note
    assert high.id in low.note
    assert high.source != low.source
    for one in (high, low):
        assert one.source
        assert one.same_as == ""


def test_absorption_above_one_is_kept() -> None:
    table = tables.parse(
        "id,name,125,250,500,1000,2000,4000,8000\nx,X,0.3,0.7,1.15,1.1,1,1,1\n", None, name="t"
    )
    assert from_table(table)[0].absorption[2] == 1.15
    assert max(SHIPPED["person-group-max-each"].absorption) == 1.40


def test_ties_of_the_noise_reduction_coefficient_round_up() -> None:
    # 0.10 + 0.20 + 0.30 + 0.30 = 0.90, mean 0.225, halfway between 0.20 and 0.25
    finish = Finish(id="t", name="t", absorption=(0, 0.10, 0.20, 0.30, 0.30, 0, 0))
    assert finish.noise_reduction_coefficient == 0.25


HEAD = "id,name,same_as,125,250,500,1000,2000,4000,8000\n"


@pytest.mark.parametrize(
    ("rows", "message"),
    [
        ("a,A,,0.1,,0.1,0.1,0.1,0.1,0.1\n", r"mine\.csv:2: a: 250 Hz: '' is not a number"),
        ("a,A,,0.1,-1,0.1,0.1,0.1,0.1,0.1\n", "250 Hz: -1 must be 0 or more"),
        ("a,A,,nan,0,0.1,0.1,0.1,0.1,0.1\n", "125 Hz: nan must be"),
        ("a,A,,0,0,0,0,0,0,0\na,B,,0,0,0,0,0,0,0\n", "csv:3: id 'a' occurs twice"),
        ("a,A,b,,,,,,,\n", "same_as 'b' must name a finish"),
        ("a,A,,0,0,0,0,0,0,0\nb,B,a,,,,,,,\nc,C,b,,,,,,,\n", "csv:4: c: same_as 'b'"),
        ("a,A,,0,0,0,0,0,0,0\nb,B,a,0.5,,,,,,\n", r"either same_as or figures \(125 Hz\)"),
    ],
)
def test_each_fault_is_refused_with_its_line(rows: str, message: str) -> None:
    with pytest.raises(CatalogError, match=message):
        from_table(tables.parse(HEAD + rows, None, name="mine"))
