"""The page about the catalogue says what the catalogue says."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

import pytest

from wellheard import tables
from wellheard.catalog import reading
from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.power import power_classes
from wellheard.catalog.products import Microphone

PAGE = (Path(__file__).parents[2] / "docs" / "catalogue.md").read_text(encoding="utf-8")
SHIPPED = Catalogue.shipped()


PRODUCT_TABLES = [field.name for field in dataclasses.fields(reading.ProductTables)]
TABLES = [*PRODUCT_TABLES, "poe_classes", "finishes"]
ROW = re.compile(r"^\| `(\w+)` \| (.*) \|$", re.MULTILINE)


def columns_under(heading: str) -> dict[str, str]:
    section = PAGE.split(f"\n### {heading}\n")[1].split("\n## ")[0].split("\n### ")[0]
    return dict(ROW.findall(section))


EVERY = columns_under("In every table of products")
OVERHEAD = columns_under("In `microphones.csv` and `loudspeakers.csv`, for what hangs")


def test_every_product_and_every_table_is_on_the_page() -> None:
    for entry in (*SHIPPED.products, *SHIPPED.cables):
        assert f"`{entry.id}`" in PAGE
    for name in TABLES:
        assert f"`{name}.csv`" in PAGE
        assert tables.load(name).rows


@pytest.mark.parametrize("name", TABLES)
def test_every_column_is_on_the_page_as_its_table_says_it(name: str) -> None:
    shared: dict[str, str] = {}
    if name in {f"{product.kind}s".replace("switchs", "switches") for product in SHIPPED.products}:
        shared |= EVERY
    if name in ("microphones", "loudspeakers"):
        shared |= OVERHEAD
    on_page = {**shared, **columns_under(f"`{name}.csv`")}
    assert on_page == tables.load(name).provenance["columns"]


@pytest.mark.parametrize("number", range(1, 9))
def test_power_by_class_on_the_page_is_that_of_the_table(number: int) -> None:
    rated = power_classes()[number]
    assert f"| {number} | {rated.supplied_w:g} | {rated.device_w:g} |" in PAGE


def test_what_is_not_current_is_said_on_the_page() -> None:
    for product in SHIPPED.products:
        row = next(line for line in PAGE.splitlines() if line.startswith(f"| `{product.id}` |"))
        for status in ("last orders", "discontinued"):
            assert (status in row) == (product.status == status)


@pytest.mark.parametrize("one", SHIPPED.microphones, ids=lambda one: one.id)
def test_the_figures_of_a_microphone_on_the_page_are_its_own(one: Microphone) -> None:
    row = next(line for line in PAGE.splitlines() if line.startswith(f"| `{one.id}`"))
    _, _, _, efficiency, index, rated, mounting, _ = (cell.strip() for cell in row.split("|"))
    if efficiency != "by octave":
        decimals = len(efficiency.partition(".")[2])
        assert float(efficiency) == pytest.approx(
            one.random_energy_efficiency()[3], abs=0.5 * 10**-decimals
        )
    assert float(index.removesuffix(" dB")) == pytest.approx(
        one.directivity_index_db()[3], abs=0.05
    )
    stated = tuple(float(number) for number in re.findall(r"[\d.]+", rated))
    assert stated == one.rated_distances
    assert mounting.removesuffix(", flush") == ", ".join(one.mountings)


def test_the_example_of_a_users_own_table_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "my-finishes.csv").write_text(
        "id,name,125,250,500,1000,2000,4000,8000,source\n"
        "my-felt,Felt,0.1,0.2,0.4,0.6,0.7,0.7,,my data sheet\n"
        "my-slip,Slip,0.1,0.2,0.4,6,0.7,0.7,,my data sheet\n",
        encoding="utf-8",
    )
    monkeypatch.chdir(tmp_path)
    example = PAGE.split("```python\n")[1].split("```")[0]
    exec(compile(example, "docs/catalogue.md", "exec"), {})
    assert capsys.readouterr().out == "my-slip: absorption 6 is outside 0 to 1.25\n"
