"""Products that absorb: their figures are those of the published finish that they name."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from wellheard import tables
from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.treatments import from_table
from wellheard.errors import CatalogError

REFERENCE = Path(__file__).parents[1] / "reference" / "absorption.csv"
# Product, and the row of published absorption that it is said to have.
SAME = {
    "wall-panel-50": "rockwool_50mm_40kgm3",
    "wall-panel-100": "panel_fabric_covered_6pcf",
    "wall-panel-bass": "plywood_thin",
    "ceiling-panel-50": "rockwool_50mm_40kgm3",
    "ceiling-tile-absorbing": "ceiling_fibre_absorber",
    "floor-carpet-cushioned": "carpet_6mm_open_cell_foam",
    "glass-curtain": "curtains_cotton_0.5",
}


@pytest.mark.parametrize(("product", "published"), SAME.items())
def test_absorption_is_that_of_the_published_row(product: str, published: str) -> None:
    with REFERENCE.open(encoding="utf-8") as file:
        row = next(r for r in csv.DictReader(file) if r["id"] == published)
    columns = ("125", "250", "500", "1000", "2000", "4000", "8000")
    figures = [float(row[c] or row["4000"]) for c in columns]
    assert list(Catalogue.shipped().finish(product).absorption) == figures


def test_what_is_invented_says_so_and_lies_between_published_rows() -> None:
    shipped = Catalogue.shipped()
    raft = next(t for t in shipped.treatments if t.id == "ceiling-raft-40")
    assert raft.finish.source.startswith("invented")
    low = shipped.finish("rockwool-50mm-40kgm3").absorption
    high = shipped.finish("ceiling-fibre-absorber").absorption
    for value, one, other in zip(raft.finish.absorption, low, high, strict=True):
        assert min(one, other) - 0.011 <= value <= max(one, other)


def test_every_product_is_a_finish_of_its_id_and_warns_of_fire() -> None:
    shipped = Catalogue.shipped()
    for one in shipped.treatments:
        assert shipped.finish(one.id) is one.finish
        assert one.fire
        assert one.installed(2 * one.area) == pytest.approx(2 * (one.price + one.labour))


def test_a_word_that_no_column_has_is_refused_with_its_line() -> None:
    table = tables.load("treatments")
    wrong = tables.Table(
        table.name, table.columns, ({**table.rows[0], "on": "roof"},), table.provenance
    )
    with pytest.raises(CatalogError, match=r"treatments\.csv:2: wall-panel-50: on: 'roof'"):
        from_table(wrong)
